"""A scheduler with two workers in a process of its own; ends when its standard input does."""

import sys

from distributed import LocalCluster


def main() -> None:
    """Print the address once the workers are there, and wait."""
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address=None,
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()


if __name__ == "__main__":
    main()
