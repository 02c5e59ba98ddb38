"""What a song's chords say about its key: views of the same chords, each a table of amounts.

A view sums what was heard by root (0-11) and kind of chord; ``groove.harmony.key`` reads each view
once for every tonic, the roots then counted from that tonic.
"""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

from msgspec import Struct

from groove.chart.form import PlayedBar
from groove.theory.chords import Chord

_PHRASE_BARS = 4
_RESOLVING = (5, 11)
"""How far above a dominant the root of its goal lies: a fifth or a half step down."""
DOMINANT_GOAL = "7"
"""What stands beside a goal that is a dominant seventh itself."""
FULLY_KNOWN_SHARE = 0.06
"""From this share of the song on, a chord belongs to the song and is no visitor."""


class ChordClass(StrEnum):
    """Kinds of chord as far as the key is concerned."""

    MAJOR = "major"
    DOMINANT = "dominant"
    MAJOR_SEVENTH = "major seventh"
    MINOR = "minor"
    MINOR_SEVENTH = "minor seventh"
    DIMINISHED = "diminished"
    OPEN = "open"


MAJORS = (ChordClass.MAJOR, ChordClass.MAJOR_SEVENTH)

_COLOURS = {
    ChordClass.MINOR: "m",
    ChordClass.MINOR_SEVENTH: "m",
    ChordClass.DIMINISHED: "d",
    ChordClass.OPEN: "o",
}
"""The colour of a kind; M where it is not in the table."""


class View(StrEnum):
    """Ways to look at the chords."""

    SHARE = "share"
    KNOWN = "known"
    FIRST = "first"
    LAST = "last"
    STARTS = "starts"
    ENDS = "ends"
    STRONG = "strong"
    BASS = "bass"
    MOVES = "moves"
    ARRIVALS = "arrivals"
    RESOLUTIONS = "resolutions"


Amounts = dict[tuple[int, int | str], float]
"""Amount by root and by what stands beside it: a kind, a colour, or the root that follows."""


class Moment(Struct, frozen=True):
    """A chord as it is heard: root and bass (0-11), kind, quarters; where it lies in its section.

    ``bar`` counts the section's bars from 0; ``section`` its occurrences in the song from 0.
    """

    root: int
    bass: int
    kind: ChordClass
    quarters: float
    bar: int
    section: int
    opens_bar: bool

    @property
    def colour(self) -> str:
        """Major, minor, diminished or open."""
        return _COLOURS.get(self.kind, "M")


@lru_cache(maxsize=2048)
def chord_class(degrees: frozenset[int]) -> ChordClass:
    """Return the kind of a chord from its semitones above the root."""
    if 4 not in degrees and 3 in degrees:
        if 6 in degrees and 7 not in degrees:
            return ChordClass.DIMINISHED
        return ChordClass.MINOR_SEVENTH if 10 in degrees else ChordClass.MINOR
    if 10 in degrees:
        return ChordClass.DOMINANT
    if 4 not in degrees:
        return ChordClass.OPEN
    return ChordClass.MAJOR_SEVENTH if 11 in degrees else ChordClass.MAJOR


@lru_cache(maxsize=4096)
def kind_of(chord: Chord) -> ChordClass:
    """Return the kind of a chord."""
    return chord_class(frozenset(degree.semitones % 12 for degree in chord.degrees))


def is_half_diminished(chord: Chord) -> bool:
    """Return whether a chord is diminished with a minor seventh."""
    seventh = chord.degree(7)
    return kind_of(chord) is ChordClass.DIMINISHED and seventh is not None and seventh.alter == -1


def heard_moments(bars: Iterable[PlayedBar]) -> list[Moment]:
    """Return the chords of played bars in order, no chord left out."""
    moments: list[Moment] = []
    section = -1
    for bar in bars:
        section += bar.is_section_start or section < 0
        for span in bar.chords:
            if span.chord:
                moments.append(
                    Moment(
                        span.chord.root.pitch_class,
                        span.chord.bass_note.pitch_class,
                        kind_of(span.chord),
                        float(span.length_quarters),
                        bar.ref.bar_in_section - 1,
                        section,
                        span.start_quarters == 0,
                    )
                )
    return moments


def evidence(moments: Sequence[Moment]) -> dict[View, Amounts]:
    """Return every view of a song; all are empty without chords."""
    views: dict[View, Amounts] = {view: {} for view in View}
    if not moments:
        return views
    total = sum(moment.quarters for moment in moments)
    for moment in moments:
        _add_amount(views[View.SHARE], moment.root, moment.kind, moment.quarters / total)
        _add_amount(views[View.BASS], moment.bass, "", moment.quarters / total)
    for key, share in views[View.SHARE].items():
        views[View.KNOWN][key] = min(1.0, share / FULLY_KNOWN_SHARE)
    _add_amount(views[View.FIRST], moments[0].root, moments[0].colour, 1)
    _add_amount(views[View.LAST], moments[-1].root, moments[-1].colour, 1)
    _add_places(views, moments)
    _add_moves(views[View.MOVES], moments)
    _add_arrivals(views[View.ARRIVALS], moments)
    _add_resolutions(views[View.RESOLUTIONS], moments)
    return views


def _add_amount(amounts: Amounts, root: int, beside: int | str, amount: float) -> None:
    amounts[root, beside] = amounts.get((root, beside), 0.0) + amount


def _add_places(views: dict[View, Amounts], moments: Sequence[Moment]) -> None:
    """Fill the views of where in a section a chord stands."""
    sections = moments[-1].section - moments[0].section + 1
    edges = [(a, b) for a, b in pairwise(moments) if a.section != b.section]
    for moment in (moments[0], *(after for _, after in edges)):
        _add_amount(views[View.STARTS], moment.root, moment.colour, 1 / sections)
    for moment in (*(before for before, _ in edges), moments[-1]):
        _add_amount(views[View.ENDS], moment.root, moment.colour, 1 / sections)
    strong = [m for m in moments if m.opens_bar and m.bar % _PHRASE_BARS == 0]
    for moment in strong:
        _add_amount(views[View.STRONG], moment.root, moment.colour, 1 / len(strong))


def _add_moves(amounts: Amounts, moments: Sequence[Moment]) -> None:
    """Fill the view of root to root: the share of each of all changes."""
    changes = [(a.root, b.root) for a, b in pairwise(moments) if a.root != b.root]
    for before, after in changes:
        _add_amount(amounts, after, before, 1 / len(changes))


def _add_arrivals(amounts: Amounts, moments: Sequence[Moment]) -> None:
    """Fill the view of root to root where a phrase begins: the share of each of such changes."""
    changes = [
        (a.root, b.root)
        for a, b in pairwise(moments)
        if a.root != b.root and b.opens_bar and b.bar % _PHRASE_BARS == 0
    ]
    for before, after in changes:
        _add_amount(amounts, after, before, 1 / len(changes))


def _add_resolutions(amounts: Amounts, moments: Sequence[Moment]) -> None:
    """Fill the view of what dominant sevenths resolve to, down a fifth or a half step."""
    goals = [
        b
        for a, b in pairwise(moments)
        if a.kind is ChordClass.DOMINANT and (b.root - a.root) % 12 in _RESOLVING
    ]
    for goal in goals:
        is_seventh = goal.kind is ChordClass.DOMINANT
        beside = DOMINANT_GOAL if is_seventh else goal.colour
        _add_amount(amounts, goal.root, beside, 1 / len(goals))
