"""Short ways to read a chart in tests."""

from fractions import Fraction

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.chart.parse import parse_chart

Share = tuple[str, Fraction | int, Fraction | int]
"""A chord's symbol, its first beat from 0, its beats."""


def one_section(bars: str, head: str = "") -> Song:
    """Return a song of one section."""
    return parse_chart(f"{head}\nverse:\n  {bars}\n")


def symbols(bars: str, head: str = "") -> list[list[str]]:
    """Return the symbols of every written bar."""
    return [[s.symbol for s in bar.chords] for bar in one_section(bars, head).sections[0].bars]


def beats(bars: str, head: str = "") -> list[list[Share]]:
    """Return (symbol, first beat from 0, beats) of every chord of every written bar."""
    found: list[list[Share]] = []
    for bar in one_section(bars, head).sections[0].bars:
        beat = bar.meter.beat_quarters
        found.append(
            [(s.symbol, s.start_quarters / beat, s.length_quarters / beat) for s in bar.chords]
        )
    return found


def played(bars: str) -> str:
    """Return the chords of a section as played, in one line."""
    return " ".join(span.symbol for bar in unroll(one_section(bars)) for span in bar.chords)
