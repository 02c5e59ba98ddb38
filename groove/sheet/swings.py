"""The swing of each section, from its feel or from the chart, for the mark over the part."""

from fractions import Fraction

from groove.arrange.plan import plan_song
from groove.cells.model import Library
from groove.chart.form import song_tempo_map, unroll
from groove.chart.model import Song
from groove.timing import STRAIGHT, Swing


def section_swings(song: Song, library: Library, *, feel: str | None = None) -> dict[str, Swing]:
    """Return each section's swing by name, ``STRAIGHT`` where there is none.

    ``feel`` is a feel's name that stands above the chart's.  Raises ChartError for a name that the
    library does not have.
    """
    bars = unroll(song)
    tempo_map = song_tempo_map(song, bars, scale=Fraction(1))
    plan = plan_song(bars, library, tempo_map, feel_option=feel)
    return {bar.bar.ref.section: bar.swing or STRAIGHT for bar in reversed(plan.bars)}
