"""How long fingering takes: 120 bars of sixteenths, and ten and a hundred times as many.

Run with ``python -m tests.benchmarks.bench_neck [--smoke]``; prints one JSON object.
"""

import json
import sys
import time
from itertools import cycle, islice
from statistics import median

from groove.neck.fingering import finger_line
from groove.text.tab import tab_text
from groove.timing import Meter
from tests.neck.neck_lines import ROOT_PITCHES, as_performance, cell_line, tempo

CELL = "R x R R 5 R 5 8 R x R 5 8 5 x 8"


def seconds_for(bars: int, repeats: int) -> tuple[int, float]:
    """Return the number of notes and the median time to finger a line of that many bars."""
    notes = cell_line(list(islice(cycle(ROOT_PITCHES), bars)), CELL)
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        finger_line(notes, tempo_map=tempo(92))
        taken.append(time.perf_counter() - start)
    return len(notes), median(taken)


def tab_seconds(bars: int) -> float:
    """Return the time to set a placed line as tab."""
    notes = cell_line(list(islice(cycle(ROOT_PITCHES), bars)), CELL)
    line = finger_line(notes, tempo_map=tempo(92))
    performance = as_performance(line.notes, Meter(4, 4))
    start = time.perf_counter()
    tab_text(performance)
    return time.perf_counter() - start


def main() -> None:
    rows = []
    sizes = ((12, 1),) if "--smoke" in sys.argv else ((120, 5), (1200, 3), (12000, 1))
    for bars, repeats in sizes:
        notes, sec = seconds_for(bars, repeats)
        rows.append(
            {
                "bars": bars,
                "notes": notes,
                "sec": round(sec, 3),
                "us_per_note": round(1e6 * sec / notes, 1),
            }
        )
    print(json.dumps({"fingering": rows, "tab_120_bars_sec": round(tab_seconds(120), 3)}))


if __name__ == "__main__":
    main()
