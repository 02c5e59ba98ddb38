"""What long songs cost: each command in a fresh process, on songs that repeat and that do not.

Run: ``python -m tests.benchmarks.bench_long [--bars N] [--smoke]``.  Seconds are of the processor,
the user's and the system's together, so that other work counts less; memory is the most that the
process held (``resource``).  ``--smoke`` has 4 bars
shown and rendered, to show that the script runs.
"""

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from random import Random

CHORDS = ["D", "Em7", "F#m7", "G", "A7", "Bm", "A/C#", "D/F#", "Gmaj7", "Em", "C", "Bb"]
SECTION_BARS = 100
OUTPUTS = (
    ("show", "--harmony"),
    ("render", "-o", "long.mid"),
    ("tab", "-o", "tab.txt"),
    ("sheet", "-o", "long.musicxml"),
    ("sheet", "-o", "long.pdf"),
    ("page", "-o", "long.html"),
)
LIMIT = "a page of 2,000 bars that repeat: 10 s"


def repeating(bars: int) -> Iterator[str]:
    """Yield the lines of a song that has the same four bars all the time."""
    for number in range(bars // 4):
        if number % (SECTION_BARS // 4) == 0:
            yield f"part {number} on:"
        yield "| D | A/C# | Bm7 | G |"


def wandering(bars: int) -> Iterator[str]:
    """Yield the lines of a song whose chords are drawn bar by bar."""
    random = Random("long")
    for number in range(bars // 4):
        if number % (SECTION_BARS // 4) == 0:
            yield f"part {number} on:"
        drawn = (CHORDS[int(random.random() * len(CHORDS))] for _ in range(4))
        yield f"| {' | '.join(drawn)} |"


def cost(folder: Path, words: tuple[str, ...]) -> tuple[float, float]:
    """Return the seconds and the MB that a command takes on the chart in a folder."""
    command, *rest = words
    arguments = [sys.executable, "-m", "groove", command, "song.txt", *rest]
    child = os.fork()
    if child == 0:
        os.chdir(folder)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.execv(sys.executable, arguments)
    _, status, used = os.wait4(child, 0)
    if status:
        raise SystemExit(
            f"{' '.join(arguments[2:])} ended with {os.waitstatus_to_exitcode(status)}"
        )
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--bars", type=int, default=2_000)
    parser.add_argument("--smoke", action="store_true")
    asked = parser.parse_args()
    bars, kinds = (4, (repeating,)) if asked.smoke else (asked.bars, (repeating, wandering))
    outputs = OUTPUTS[:2] if asked.smoke else OUTPUTS
    print(f"{bars} bars ({LIMIT})")
    print(f"{'':28}{'repeating':>18}{'wandering':>18}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for words in outputs:
            figures = ""
            for lines in kinds:
                head = ["key: D", "tempo: 110", "feel: sixteenths"]
                (folder / "song.txt").write_text("\n".join([*head, *lines(bars)]) + "\n")
                sec, mb = cost(folder, words)
                figures += f"{sec:>9.1f} s {mb:>4.0f} MB"
            print(f"{' '.join(words):28}{figures}")


if __name__ == "__main__":
    main()
