"""The bars of a chart as they are played, with the chords that sound in them."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction

from groove.chart.form import PlayedBar
from groove.harmony.analysis import Analysis
from groove.study.studied_line import BarFrame, StudyChord
from groove.theory.chords import Chord


def chart_frames(
    analysis: Analysis, sure: Sequence[tuple[Fraction, float]] = ()
) -> tuple[BarFrame, ...]:
    """Return every played bar with the chords that sound in it, a pushed one from where it sounds.

    ``sure`` are, in quarters, the places from which chords were found, and how surely; without
    them every chord is the player's own and so is sure.
    """
    onsets = sorted(_onsets(analysis.bars), key=_place)
    found = []
    for bar, key in zip(analysis.bars, analysis.bar_keys, strict=True):
        start, end = bar.start_quarters, bar.end_quarters
        first, after = (
            bisect_right(onsets, start, key=_place),
            bisect_left(onsets, end, key=_place),
        )
        inside = onsets[first:after]
        chords = [(start, onsets[first - 1][1]), *inside] if first else inside
        found.append(
            BarFrame(
                number=bar.ref.written_bar,
                section=bar.ref.section,
                start_quarters=start,
                meter=bar.meter,
                key=key,
                chords=tuple(
                    StudyChord(
                        chord=chord,
                        start_quarters=at - start,
                        confidence=_confidence(at, sure),
                    )
                    for at, chord in chords
                ),
            )
        )
    return tuple(found)


def _onsets(bars: Sequence[PlayedBar]) -> Iterator[tuple[Fraction, Chord | None]]:
    """Yield each chord with where it sounds."""
    for bar in bars:
        for span in bar.chords:
            early = span.push.quarters if span.push else Fraction(0)
            yield max(Fraction(0), bar.start_quarters + span.start_quarters - early), span.chord


def _place(onset: tuple[Fraction, object]) -> Fraction:
    return onset[0]


def _confidence(at: Fraction, sure: Sequence[tuple[Fraction, float]]) -> float:
    """Return how sure the chord is that sounds at a place."""
    index = bisect_right(sure, at, key=_place)
    return sure[index - 1][1] if index else 1.0
