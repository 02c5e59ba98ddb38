"""The deviations of a take over its bars, drawn: early below, late above, the band shaded.

Drawn by matplotlib, which is loaded when a picture is asked for.
"""

import re
from io import BytesIO
from typing import TYPE_CHECKING

from groove.take.judgement import TakeReport
from groove.verdict import limit, tight_limit_ms

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIZE_INCHES = (9.0, 3.6)
DOTS_PER_INCH = 150
LEAST_SHOWN_MS = 60.0
_TIGHT, _HEARD, _NOTES, _MEANS, _WRONG = "#cfe8d5", "#eef3dd", "#1f4e79", "#b3541e", "#a3123a"
MOST_TICKS = 24
_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)


def plot_png(report: TakeReport) -> bytes:
    """Return the picture as PNG, 1350 by 540 pixels; the same report gives the same bytes."""
    out = BytesIO()
    _figure(report).savefig(out, format="png", dpi=DOTS_PER_INCH, metadata={"Software": None})
    return out.getvalue()


def plot_svg(report: TakeReport) -> str:
    """Return the picture as an SVG element, its letters as outlines."""
    import matplotlib

    out = BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "groove", "svg.fonttype": "path"}):
        nothing = {"Date": None, "Creator": None}
        _figure(report).savefig(out, format="svg", metadata=nothing)
    text = out.getvalue().decode()
    return _METADATA.sub("", text[text.index("<svg") :])


def _figure(report: TakeReport) -> "Figure":
    """Return the figure: a point a note, a line through the means of bars."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE_INCHES, layout="constrained")
    axes = figure.add_subplot()
    places, deviations = _points(report)
    _shade(axes, report)
    axes.plot(places, deviations, "o", markersize=3.2, color=_NOTES, alpha=0.75, label="a note")
    _mark_wrong(axes, report, places, deviations)
    centres, means = _bar_means(places, deviations)
    axes.plot(centres, means, "-", linewidth=1.4, color=_MEANS, label="mean of a bar")
    axes.axhline(0, linewidth=0.8, color="black")
    _label(axes, report)
    most = max(LEAST_SHOWN_MS, *(1.1 * abs(each) for each in deviations))
    axes.set_ylim(-most, most)
    axes.legend(loc="lower right", bbox_to_anchor=(1, 1), fontsize=7, ncols=5, frameon=False)
    return figure


def _mark_wrong(
    axes: "Axes", report: TakeReport, places: list[float], deviations: list[float]
) -> None:
    """Cross the notes in whose place another pitch was heard."""
    wrong = set(report.wrong)
    at = [n for n, pair in enumerate(report.alignment.pairs) if pair.expected in wrong]
    if at:
        crosses = [places[n] for n in at], [deviations[n] for n in at]
        axes.plot(*crosses, "x", markersize=6, color=_WRONG, label="at another pitch")


def _points(report: TakeReport) -> tuple[list[float], list[float]]:
    """Return where in the bars each note lies, counted from 0 as played, and its deviation."""
    reference = report.reference
    places = []
    for pair in report.alignment.pairs:
        note = reference.notes[pair.expected]
        bar = reference.bars[note.bar]
        beats = float(bar.meter.bar_quarters / bar.meter.beat_quarters)
        places.append(note.bar + (note.beat - 1) / beats)
    return places, list(report.figures.deviations_ms)


def _bar_means(places: list[float], deviations: list[float]) -> tuple[list[float], list[float]]:
    """Return the middle of each bar that has notes, and their mean."""
    by_bar: dict[int, list[float]] = {}
    for place, deviation in zip(places, deviations, strict=True):
        by_bar.setdefault(int(place), []).append(deviation)
    return [bar + 0.5 for bar in by_bar], [sum(each) / len(each) for each in by_bar.values()]


def _shade(axes: "Axes", report: TakeReport) -> None:
    """Shade what no listener hears, and what most would not hear on a bass."""
    tight = tight_limit_ms(report.figures.interval_ms)
    heard = limit("heard_ms")
    axes.axhspan(-heard, heard, color=_HEARD, label=f"most do not hear it (±{heard:.0f} ms)")
    axes.axhspan(-tight, tight, color=_TIGHT, label=f"tight (±{tight:.0f} ms)")


def _label(axes: "Axes", report: TakeReport) -> None:
    """Name the bars by the chart's numbers, and the two sides."""
    bars = report.reference.bars
    step = max(1, -(-len(bars) // MOST_TICKS))
    shown = range(0, len(bars), step)
    axes.set_xticks(list(shown), [str(bars[at].number) for at in shown], fontsize=8)
    axes.set_xlim(0, len(bars))
    axes.grid(axis="x", linewidth=0.4, alpha=0.5)
    axes.set_xlabel("bar", fontsize=9)
    axes.set_ylabel("ms: early below, late above", fontsize=9)
    axes.tick_params(axis="y", labelsize=8)
