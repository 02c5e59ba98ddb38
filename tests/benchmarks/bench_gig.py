"""A set of charts of 90 bars to MIDI, sheets, cards and the gig book: by one process, by two, and
once more with nothing changed.

Wall-clock time tells on a machine that does nothing else; beside it stands the CPU time of all
processes, and what the gain would be with two free cores.

    python -m tests.benchmarks.bench_gig [--smoke]
"""

import os
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from groove.theory.keys import parse_key

ROOT = Path(__file__).resolve().parents[2]
CHARTS, SMOKE_CHARTS = 30, 2
TWO_LIMIT_SEC, AGAIN_LIMIT_SEC, RATIO_LIMIT = 60.0, 2.0, 1.7
KEYS = ("D", "G", "A", "E", "C", "F", "Bb", "Eb", "B", "Ab")
FEELS = ("sixteenths", "straight eighths", "soul", "octaves", "walking", "shuffle")
FORM = "intro, verse, chorus, verse 2, chorus, bridge, chorus, chorus, ending"
SMOKE_FORM = "intro, verse 2"
BARS = {
    "intro": "| 1 | 4 | 1 | 5 |",
    "verse": "| 1 | 5/7 | 6- | 4 |\n| 1 | 3- | 4 5 | 1 |\n| 1 | 5/7 | 6- | 4 |\n| 2- | 5 |",
    "chorus": "| 4 | 1/3 | 2- | 5 |\n| 4 | 1/3 | 6- | 5 |\n| 4 | 1/3 | 2- | 5 |",
    "bridge": "| 6- | 2- | 5 | 1 |\n| 6- | 2- | 4 | 5 |",
    "ending": "| 4 | 5 |",
}
"""4 + 14 + 12 + 14 + 12 + 8 + 12 + 12 + 2 bars as played: 90; of a smoke 18."""


def chart(number: int, form: str) -> str:
    """Return one of the charts, each in a key, a feel and with draws of its own."""
    key, feel = KEYS[number % len(KEYS)], FEELS[number % len(FEELS)]
    head = f"title: Bench {number}\ntempo: {90 + number}\nkey: {parse_key(key).name}\n"
    head += f"chords: numbers\nfeel: {feel}\nseed: {number}\nform: {form}\n"
    sections = "".join(f"{name}:\n{bars}\n" for name, bars in BARS.items())
    return f"{head}{sections}verse 2:\nas: verse\n"


def run(folder: Path, out: str, jobs: int) -> tuple[float, float]:
    """Return the seconds that one call takes, and the CPU seconds of its processes."""
    start, before = time.perf_counter(), os.times()
    subprocess.run(
        [
            sys.executable, "-m", "groove", "gig", "set.txt", "--as", "mid,sheet,card",
            "--jobs", str(jobs), "-o", f"{out}/",
        ],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=True,
        capture_output=True,
    )  # fmt: skip
    after = os.times()
    cpu = after.children_user + after.children_system
    return (
        time.perf_counter() - start,
        cpu - before.children_user - before.children_system,
    )


def main() -> None:
    """Print the figures beside their limits; fail where a whole set misses one."""
    is_smoke = "--smoke" in sys.argv
    count, form = (SMOKE_CHARTS, SMOKE_FORM) if is_smoke else (CHARTS, FORM)
    with TemporaryDirectory() as name:
        folder = Path(name)
        for number in range(count):
            (folder / f"bench-{number}.txt").write_text(chart(number, form), encoding="utf-8")
        names = (f"bench-{number}\n" for number in range(count))
        (folder / "set.txt").write_text("".join(names), encoding="utf-8")
        two, two_cpu = run(folder, "two", 2)
        again, again_cpu = run(folder, "two", 2)
        one, one_cpu = (two, two_cpu) if is_smoke else run(folder, "one", 1)
    print(f"{f'{count} charts':<22}    limit     CPU")
    print(f"two processes   {two:6.1f} s  {TWO_LIMIT_SEC:5.0f} s  {two_cpu:5.1f} s")
    print(f"nothing changed {again:6.1f} s  {AGAIN_LIMIT_SEC:5.0f} s  {again_cpu:5.1f} s")
    if is_smoke:
        return
    print(f"one process     {one:6.1f} s           {one_cpu:5.1f} s")
    print(f"two against one {one / two:6.2f}    {RATIO_LIMIT:5.2f}    {2 * one_cpu / two_cpu:5.2f}")
    if two > TWO_LIMIT_SEC or again > AGAIN_LIMIT_SEC or one / two < RATIO_LIMIT:
        sys.exit("a set takes longer than it may")


if __name__ == "__main__":
    main()
