"""A scheduler with two workers in a process of its own; ends when its standard input does.

For every line there, an address and seconds, it prints what ``groove --cluster`` is told.
"""

import os
import sys

from distributed import LocalCluster

from groove.cli.cluster import print_answer


def main() -> None:
    """Print the address once the workers are there, and answer."""
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address=None,
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        setattr(os, "_exit", lambda code: None)  # noqa: B010  # as a process of its own, it ends
        for line in sys.stdin:
            sys.argv[1:] = line.split()
            print_answer()


if __name__ == "__main__":
    main()
