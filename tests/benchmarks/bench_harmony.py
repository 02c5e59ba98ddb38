"""How long it takes to know a song: a hundred made-up charts, parsed, analysed, set as JSON.

Run with ``python -m tests.benchmarks.bench_harmony [--smoke]``; prints one JSON object.  The first
run pays for the tables, so the run is measured in a fresh process with nothing warmed up.
"""

import json
import sys
import time

from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.analysis_data import harmony_summary
from tests.harmony.progressions import made_chart, made_songs

CHARTS, SMOKE_CHARTS = 100, 2


def main() -> None:
    count = SMOKE_CHARTS if "--smoke" in sys.argv else CHARTS
    charts = [made_chart(song) for song in made_songs("bench", count)]
    start = time.perf_counter()
    bars = 0
    for chart in charts:
        summary = harmony_summary(analyse(parse_chart(chart)))
        json.dumps(summary)
        bars += sum(section["bars"] for section in summary["sections"])
    taken = time.perf_counter() - start
    print(json.dumps({"charts": count, "bars": bars, "sec": round(taken, 3)}))


if __name__ == "__main__":
    main()
