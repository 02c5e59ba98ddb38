"""A chart of 120 bars of written sixteenths against the same bars drawn, text to performance.

    python -m tests.benchmarks.bench_written [--smoke]

The fair comparison is a riff of sixteen strokes a bar: as many notes, drawn by a cell.
Walking, which the tool makes itself, has a quarter of them and stands beside it for scale.
"""

import math
import sys
import time
from collections.abc import Callable

from groove.events import Part
from groove.io.library import load_library
from groove.pipeline import perform_chart

BARS, SMOKE_BARS, SLOTS, WIDTH = 120, 8, 16, 33
CHORDS = ("D", "A/C#", "Bm7", "G")
STRINGS = "GDAE"
HEAD = "title: Bench\ntempo: 90\nkey: D\nfills: none\nfeel: sixteenths\nverse:\n"
RIFF = "riff sixteen:\n  R 5 8 5 R R 8 5 R 9 8 5 R 3 5 8\n"
LINE = "| " + " | ".join(CHORDS) + " |\n"
LIMIT = 1.0


def written_chart(bars: int) -> str:
    """Return the bars with four rows of tab under each line, eight different bars in turn."""
    text = HEAD
    for first in range(0, bars, len(CHORDS)):
        tabs = [bar_of(first + number) for number in range(len(CHORDS))]
        text += LINE
        text += "".join(
            f"{string} |" + "|".join(bar[index] for bar in tabs) + "|\n"
            for index, string in enumerate(STRINGS)
        )
    return text


def bar_of(number: int) -> list[str]:
    """Return the four strings of one bar."""
    strings = [["-"] * WIDTH for _ in STRINGS]
    for slot in range(SLOTS):
        strings[(slot + number) % len(STRINGS)][1 + 2 * slot] = str((3 * slot + number) % 8)
    return ["".join(columns) for columns in strings]


def drawn_chart(cell: str, bars: int) -> str:
    """Return the bars with a bass cell or riff of that name."""
    return RIFF + HEAD + f"  bass: {cell}\n" + LINE * (bars // len(CHORDS))


def spent_ms(work: Callable[[], object]) -> float:
    """Return what one run takes of the processor's time, in milliseconds."""
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1000


def main() -> int:
    """Print the table; return 1 where the limit is passed (never in smoke mode)."""
    smoke = "--smoke" in sys.argv
    rounds, bars = (1, SMOKE_BARS) if smoke else (25, BARS)
    library = load_library()
    charts = {
        "written": written_chart(bars),
        "riff": drawn_chart("sixteen", bars),
        "walking": drawn_chart("walking", bars),
    }
    counts = {
        name: len(perform_chart(text, library).part_notes(Part.BASS))
        for name, text in charts.items()
    }
    assert counts["written"] == counts["riff"] == bars * SLOTS
    # In turn, so that whatever else the machine does weighs on all alike.
    ms = dict.fromkeys(charts, math.inf)
    for _ in range(rounds):
        for name, text in charts.items():
            ms[name] = min(ms[name], spent_ms(lambda text=text: perform_chart(text, library)))  # type: ignore[misc]
    for name in ("riff", "walking"):
        ratio = ms["written"] / ms[name]
        print(f"written {ms['written']:.0f} ms / {name} {ms[name]:.0f} ms{ratio:>10.2f}")
    return 0 if smoke else int(ms["written"] / ms["riff"] > LIMIT)


if __name__ == "__main__":
    sys.exit(main())
