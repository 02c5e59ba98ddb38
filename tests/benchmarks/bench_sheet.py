"""How long a sheet takes: 120 bars of sixteenths, both staves, on one core, in seconds of CPU.

Run with ``python -m tests.benchmarks.bench_sheet``, ``--smoke`` for 4 bars only; prints one JSON
object: the figures, and those that have a limit beside it.
"""

import json
import sys
import time
from collections.abc import Callable
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
from groove.sheet.options import SheetOptions, Size, Staves

HEAD = "title: Long\ntempo: 90\nkey: D\nfeel: sixteenths\nfills: none\nverse:\n"
ROW = "  | D | A/C# | Bm7 | G |\n"
LIMITS = {"svg_of_engraver": 1.1, "pdf_more_sec": 0.5, "musicxml_sec": 0.15}
"""SVG against verovio alone for the same MEI, PDF against SVG, and a file as it is usual."""


def least_seconds(works: dict[str, Callable[[], Any]], times: int) -> dict[str, float]:
    """Return the least CPU time of each piece of work, all of them in turn."""
    taken = dict.fromkeys(works, float("inf"))
    for _ in range(times):
        for name, work in works.items():
            start = time.process_time()
            work()
            taken[name] = min(taken[name], time.process_time() - start)
    return taken


def engraver(mei: str, settings: dict[str, Any]) -> None:
    """Have verovio alone draw every page of a file."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(settings)
    toolkit.loadData(mei)
    for number in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(number)


def figures(times: int, rows: int) -> dict[str, Any]:
    """Return all figures of a song of so many rows of four bars."""
    song = parse_chart(HEAD + ROW * rows)
    performance, _ = finger_performance(perform_song(song, load_library()))
    options = SheetOptions(size=Size.LANDSCAPE)
    score = build_score(performance, song)
    settings = layout(options, for_print=False)
    units = (settings["pageWidth"] - settings["pageMarginLeft"] * 2) / options.paper.unit
    mei = mei_text(score, options, line_units=units, title=True)
    found: dict[str, Any] = {
        "bars": len(score.measures),
        "notes": sum(1 for _ in score.heads()),
        **least_seconds(
            {
                "musicxml_sec": lambda: musicxml_text(
                    build_score(performance, song), song, staves=Staves.NOTATION
                ),
                "engraver_sec": lambda: engraver(mei, settings),
                "svg_from_mei_sec": lambda: drawn(mei, settings, score),
                "svg_sec": lambda: sheet_svg(performance, song, options),
                "pdf_sec": lambda: sheet_pdf(performance, song, options),
            },
            times,
        ),
    }
    found["svg_of_engraver"] = found["svg_from_mei_sec"] / found["engraver_sec"]
    found["pdf_more_sec"] = found["pdf_sec"] - found["svg_sec"]
    return {name: round(value, 4) for name, value in found.items()} | {"limits": LIMITS}


if __name__ == "__main__":
    print(json.dumps(figures(1, 1) if "--smoke" in sys.argv else figures(7, 30)))
