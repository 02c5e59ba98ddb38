"""How long a sheet takes: 120 bars of sixteenths, both staves, on one core.

Run with ``python -m tests.benchmarks.bench_sheet``; prints one JSON object.
"""

import json
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import verovio

from groove.chart.parse import parse_chart
from groove.io.engrave import drawn, layout, sheet_pdf, sheet_svg
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.pipeline import perform_song
from groove.sheet.build import build_score
from groove.sheet.mei import mei_text
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Size

CHART = "title: Long\ntempo: 90\nkey: D\nfeel: sixteenths\nfills: none\nverse:\n" + (
    "  | D | A/C# | Bm7 | G |\n" * 30
)


def seconds(work: Callable[[], Any], times: int = 5) -> float:
    """Return the median time of a piece of work."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return median(taken)


def verovio_seconds(mei: str, settings: dict[str, Any]) -> float:
    """Return what verovio alone takes for the same MEI."""

    def work() -> None:
        toolkit = verovio.toolkit()
        toolkit.setOptions(settings)
        toolkit.loadData(mei)
        for number in range(1, toolkit.getPageCount() + 1):
            toolkit.renderToSVG(number)

    return seconds(work)


def figures() -> dict[str, float]:
    """Return all figures."""
    song = parse_chart(CHART)
    performance, _ = finger_performance(perform_song(song, load_library()))
    options = SheetOptions(size=Size.LANDSCAPE)
    score = build_score(performance, song)
    settings = layout(options, for_print=False)
    units = (settings["pageWidth"] - settings["pageMarginLeft"] * 2) / options.paper.unit
    mei = mei_text(score, options, line_units=units, title=True)
    drawn(mei, settings, score)
    return {
        "bars": len(score.measures),
        "notes": sum(1 for _ in score.heads()),
        "musicxml_sec": seconds(lambda: musicxml_text(build_score(performance, song), song)),
        "verovio_sec": verovio_seconds(mei, settings),
        "svg_from_mei_sec": seconds(lambda: drawn(mei, settings, score)),
        "svg_sec": seconds(lambda: sheet_svg(performance, song, options)),
        "pdf_sec": seconds(lambda: sheet_pdf(performance, song, options)),
    }


if __name__ == "__main__":
    print(json.dumps({name: round(value, 4) for name, value in figures().items()}))
