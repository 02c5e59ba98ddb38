"""Commands of every kind killed at random moments, and what is left judged by outside readers.

    python -m tests.benchmarks.kills [--count 400] [--seed 1] [--longest 1.0]

``--longest`` is the latest moment, in seconds after the start; about what a sheet takes here.
"""

import argparse
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.kills import random_kills


def main() -> None:
    """Kill, judge, print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--longest", type=float, default=1.0)
    asked = parser.parse_args()
    seen: Counter[tuple[str, str]] = Counter()
    faults = 0
    with TemporaryDirectory() as folder:
        for kill in random_kills(Path(folder), asked.count, asked.seed, asked.longest):
            ended = "finished" if kill.code == 0 else "stopped"
            seen[kill.signal.name, ended] += 1
            for fault in kill.faults():
                faults += 1
                print(f"{' '.join(kill.command)}, {kill.signal.name} {kill.after_sec:.3f}: {fault}")
    for (name, ended), times in sorted(seen.items()):
        print(f"{name:<8} {ended:<9} {times:>4}")
    print(f"{asked.count} kills, {faults} faults")
    raise SystemExit(bool(faults))


if __name__ == "__main__":
    main()
