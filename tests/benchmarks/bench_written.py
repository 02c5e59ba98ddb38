"""A chart of 120 bars of written sixteenths against the same bars drawn, text to performance.

    python -m tests.benchmarks.bench_written [--smoke]

The bars are drawn once by a riff of as many strokes, once by walking, which the tool makes itself.
"""

import sys
import time
from collections.abc import Callable

from groove.events import Part
from groove.io.library import load_library
from groove.pipeline import perform_chart

BARS, SLOTS, WIDTH = 120, 16, 33
CHORDS = ("D", "A/C#", "Bm7", "G")
STRINGS = "GDAE"
HEAD = "title: Bench\ntempo: 90\nkey: D\nfills: none\nfeel: sixteenths\nverse:\n"
RIFF = "riff sixteen:\n  R 5 8 5 R R 8 5 R 9 8 5 R 3 5 8\n"
LINE = "| " + " | ".join(CHORDS) + " |\n"
LIMIT = 1.0


def written_chart() -> str:
    """Return the bars with four rows of tab under each line, no two bars alike."""
    text = HEAD
    for first in range(0, BARS, len(CHORDS)):
        bars = [bar_of(first + number) for number in range(len(CHORDS))]
        text += LINE
        text += "".join(
            f"{string} |" + "|".join(bar[index] for bar in bars) + "|\n"
            for index, string in enumerate(STRINGS)
        )
    return text


def bar_of(number: int) -> list[str]:
    """Return the four strings of one bar."""
    strings = [["-"] * WIDTH for _ in STRINGS]
    for slot in range(SLOTS):
        strings[(slot + number) % len(STRINGS)][1 + 2 * slot] = str((3 * slot + number) % 8)
    return ["".join(columns) for columns in strings]


def drawn_chart(cell: str) -> str:
    """Return the bars with a bass cell or riff of that name."""
    return RIFF + HEAD + f"  bass: {cell}\n" + LINE * (BARS // len(CHORDS))


def best_ms(work: Callable[[], object], rounds: int) -> float:
    """Return the shortest of some runs in milliseconds of the processor's time."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times) * 1000


def main() -> int:
    """Print the table; return 1 where the limit is passed (never in smoke mode)."""
    smoke = "--smoke" in sys.argv
    rounds = 1 if smoke else 15
    library = load_library()
    charts = {
        "written": written_chart(),
        "riff": drawn_chart("sixteen"),
        "walking": drawn_chart("walking"),
    }
    counts = {
        name: len(perform_chart(text, library).part_notes(Part.BASS))
        for name, text in charts.items()
    }
    assert counts["written"] == counts["riff"] == BARS * SLOTS
    ms = {
        name: best_ms(lambda text=text: perform_chart(text, library), rounds)  # type: ignore[misc]
        for name, text in charts.items()
    }
    for name in ("riff", "walking"):
        ratio = ms["written"] / ms[name]
        print(f"written {ms['written']:.0f} ms / {name} {ms[name]:.0f} ms{ratio:>10.2f}")
    return 0 if smoke else int(ms["written"] / ms["riff"] > LIMIT)


if __name__ == "__main__":
    sys.exit(main())
