"""How a process grows that reads thousands of charts, no two alike, one in five with a mistake.

Run: ``python -m tests.benchmarks.bench_many [--charts N] [--smoke]``.  Charts are the shared ones
with other chords, and sometimes a few wrong letters, drawn by a seed; each is read, unrolled and
looked through for its key.  MB are what the process holds (``/proc/self/status``, VmRSS);
``--smoke`` reads 20, to show that the script runs.
"""

import argparse
import re
import time
from pathlib import Path
from random import Random

from groove.chart.parse import parse_chart
from groove.errors import GrooveError
from groove.harmony.analysis import analyse

CHARTS = Path(__file__).parents[2] / "shared" / "charts"
BARS = re.compile(r"(?m)^ *\|.*$")
CHORD = re.compile(r"(?<=[| ])[A-G][#b]?(?=[ |])")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
KINDS = ("", "m", "7", "maj7", "m7", "sus4", "6", "9", "13", "m7b5", "dim", "aug", "7#9")
WRONG_EVERY = 5
STEPS = 7
LIMIT = "no growth with the number of charts, after what is remembered once"


def drawn_chart(random: Random, texts: list[str], number: int) -> str:
    """Return a chart of its own title and chords, now and then with a mistake."""
    text = f"title: Number {number}\n" + re.sub("(?m)^title:.*$", "", random.choice(texts))

    def other(_: re.Match[str]) -> str:
        return random.choice(ROOTS) + random.choice(KINDS)

    text = BARS.sub(lambda line: CHORD.sub(other, line[0]), text)
    if number % WRONG_EVERY == 0:
        at = random.randrange(len(text))
        text = text[:at] + random.choice(("|", "Zebra", ":", "\n", "(9/0)")) + text[at:]
    return text


def resident_mb() -> float:
    """Return how much memory the process holds."""
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmRSS:")[2].split()[0]) / 1024


def main() -> None:
    """Read, and print how much is held from time to time."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--charts", type=int, default=35_000)
    parser.add_argument("--smoke", action="store_true")
    asked = parser.parse_args()
    charts = 20 if asked.smoke else asked.charts
    random, read, refused = Random("many"), 0, 0
    texts = [path.read_text(encoding="utf-8") for path in sorted(CHARTS.glob("*.txt"))]
    print(f"{charts} charts ({LIMIT})\n{'read':>8}{'refused':>9}{'held':>11}{'processor':>11}")
    for number in range(1, charts + 1):
        try:
            analysis = analyse(parse_chart(drawn_chart(random, texts, number)))
            assert analysis.key
            read += 1
        except GrooveError:
            refused += 1
        if number % (charts // STEPS) == 0:
            sec = time.process_time()
            print(f"{read:>8}{refused:>9}{resident_mb():>8.0f} MB{sec:>9.0f} s", flush=True)


if __name__ == "__main__":
    main()
