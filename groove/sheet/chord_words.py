"""Chords as a page says them: in the chart's own notation, in letters, and by their numerals."""

import re
from collections.abc import Mapping

from groove.chart.degrees import raised_number
from groove.chart.model import ChordSpan, Notation
from groove.chart.transpose import sounding_song
from groove.harmony.analysis import Analysis
from groove.harmony.numerals import numeral
from groove.sheet.kinds import printed_chord
from groove.text.moves import pretty

Numerals = Mapping[int, tuple[str, ...]]
"""The numerals of each written bar's chords, by the bar's number."""


def written_chord(span: ChordSpan, notation: Notation) -> str:
    """Return a chord as its chart writes it: in letters, or as the number that stands there."""
    if notation is Notation.NUMBERS:
        return pretty(_FLAT_NUMERAL.sub("♭", raised_number(span.written)))
    return printed_chord(span.chord)


_FLAT_NUMERAL = re.compile("b(?=b*[IViv])")
"""A flat before a Roman numeral."""


def chart_numerals(analysis: Analysis) -> Numerals:
    """Return the numerals of all written bars, each in the key of its section as first played.

    A section that the form leaves out is counted from its own key, else from the song's.
    """
    found: dict[int, list[str]] = {}
    first_played: dict[int, int] = {}
    for placed in analysis.changes:
        ref = placed.bar.ref
        if first_played.setdefault(ref.written_bar, ref.played_bar) == ref.played_bar:
            found.setdefault(ref.written_bar, []).append(pretty(placed.change.numeral))
    for section in sounding_song(analysis.song).sections:
        key = section.settings.key or analysis.key
        for bar in section.bars:
            spans = bar.chords
            unplayed = [numeral(s.chord, key) if s.chord else s.symbol for s in spans]
            found.setdefault(bar.number, unplayed)
    return {number: tuple(names) for number, names in found.items()}
