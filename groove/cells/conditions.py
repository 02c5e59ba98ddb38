"""When a bar of a cell is played in place of its plain ones: one table of conditions.

Cells, the rows of a chart's own blocks, drawings and errors use its names; a new condition is a row
here.  A phrase is as long as its feel says, four bars as a rule.
"""

from collections.abc import Callable, Sequence
from typing import TypeVar

from msgspec import Struct

from groove.bar_place import FormPlace, SectionKind

_LEAST_TURNED_BARS, _TURNAROUND_BARS = 8, 2
_Bar = TypeVar("_Bar")
When = tuple[tuple[str, tuple[_Bar, ...]], ...]
"""Bars by the condition under which they are played."""


class BarFacts(Struct, frozen=True, kw_only=True, gc=False):
    """What conditions ask of a bar: its number in its section and where that stands in the form.

    ``turn`` is which of a cell's bars is due, from 1, going round.
    ``chord_holds`` is whether the bar begins with the chord that the bar before ended on;
    ``builds`` and ``is_thin`` whether the band plays thicker or thinner, by a word or by section.
    ``figure`` is which of its figures a blues plays, from 1; ``is_touched`` whether the line is
    changed a little here.
    """

    bar_in_section: int
    turn: int
    phrase_bars: int
    place: FormPlace
    chord_holds: bool
    builds: bool
    is_thin: bool
    figure: int = 1
    is_touched: bool = False


def _bar_turn(bar: BarFacts) -> int:
    """Return which bar of a cell is due, from 1: the cell goes round with the section's bars."""
    return bar.turn


class Condition(Struct, frozen=True, kw_only=True):
    """One condition: when it holds, and its words for a drawing's legend.

    ``of_one_bar`` is whether it picks one bar of a phrase, which is all that may be written then;
    ``turn`` which of several bars is due, from 1 going round.  ``ends_phrase`` is whether its bars
    are for the end of any phrase, ``is_untouched`` whether they are no hook that a touch changes.
    """

    holds: Callable[[BarFacts], bool]
    words: str
    of_one_bar: bool = False
    turn: Callable[[BarFacts], int] = _bar_turn
    ends_phrase: bool = False
    is_untouched: bool = False


def _in_section(kind: SectionKind) -> Callable[[BarFacts], bool]:
    return lambda bar: bar.place.kind is kind


def _ends_phrase(bar: BarFacts) -> bool:
    return bar.bar_in_section % bar.phrase_bars == 0


def _leads_to_chorus(bar: BarFacts) -> bool:
    return bar.place.bars_to_next == 1 and bar.place.next_kind is SectionKind.CHORUS


def _is_turnaround(bar: BarFacts) -> bool:
    """Return whether it is one of the last two bars of a section of eight or more."""
    to_next = bar.place.bars_to_next
    is_long = bar.bar_in_section + to_next > _LEAST_TURNED_BARS
    return to_next <= _TURNAROUND_BARS and is_long and bar.place.next_kind is not None


def _figure(number: int) -> Callable[[BarFacts], bool]:
    """Return whether a blues plays its figure of a number."""
    return lambda bar: bar.figure == number


CONDITIONS = {
    "before a chorus": Condition(
        holds=_leads_to_chorus,
        words="in the bar that leads to a chorus",
        of_one_bar=True,
        is_untouched=True,
    ),
    "turnaround": Condition(
        holds=_is_turnaround,
        words="in the last two bars of a section of eight or more that leads on",
        turn=lambda bar: 1 - bar.place.bars_to_next,
        is_untouched=True,
    ),
    "touch": Condition(
        holds=lambda bar: bar.is_touched,
        words="now and then in the last bar of a phrase, from a section's second time on",
        turn=lambda bar: bar.place.time - 1,
        ends_phrase=True,
        is_untouched=True,
    ),
    "second figure": Condition(
        holds=_figure(2),
        words="in a blues: in every chorus that has its second figure",
        is_untouched=True,
    ),
    "third figure": Condition(
        holds=_figure(3),
        words="in a blues: in every chorus that has its third figure",
        is_untouched=True,
    ),
    "chorus end": Condition(
        holds=lambda bar: _ends_phrase(bar) and bar.place.kind is SectionKind.CHORUS,
        words="in the last bar of a chorus's phrase",
        of_one_bar=True,
    ),
    "phrase end": Condition(
        holds=_ends_phrase,
        words="in the last bar of a phrase",
        of_one_bar=True,
        ends_phrase=True,
    ),
    "answer": Condition(
        holds=lambda bar: (bar.bar_in_section - 1) % bar.phrase_bars % 2 == 1,
        words="in the second and fourth bar of a phrase",
        of_one_bar=True,
    ),
    "held chord": Condition(
        holds=lambda bar: bar.chord_holds, words="while the chord of the bar before holds"
    ),
    "last chorus": Condition(
        holds=lambda bar: bar.place.is_last_chorus, words="in the last of several choruses"
    ),
    "chorus": Condition(holds=_in_section(SectionKind.CHORUS), words="in a chorus"),
    "build": Condition(
        holds=lambda bar: bar.builds, words="in a pre-chorus, which builds up, and after (build)"
    ),
    "thin": Condition(holds=lambda bar: bar.is_thin, words="in a breakdown, and after (thin)"),
    "intro": Condition(holds=_in_section(SectionKind.INTRO), words="in an intro"),
    "last time": Condition(
        holds=lambda bar: bar.place.times > 1 and bar.place.is_last_time,
        words="when a section is played for the last time",
    ),
    "second time": Condition(
        holds=lambda bar: bar.place.time > 1, words="from a section's second time on"
    ),
}
"""The most particular first: where several hold, the first that a cell has bars for wins.

What picks a bar of a phrase stands above what holds for a whole section; a figure of the blues has
the ends of its phrases itself.
"""


def bar_of(bars: Sequence[_Bar], when: When[_Bar], facts: BarFacts) -> _Bar:
    """Return the bar of a cell that a played bar takes: the one whose turn it is.

    ``when`` are the bars that take the place of ``bars`` under a condition.
    """
    name = condition_of(when, facts)
    if name is None:
        return bars[(facts.turn - 1) % len(bars)]
    own = dict(when)[name]
    return own[(CONDITIONS[name].turn(facts) - 1) % len(own)]


def condition_of(when: When[_Bar], facts: BarFacts) -> str | None:
    """Return the condition by which a cell's bar is chosen, None where its plain one is."""
    if not when:
        return None
    named = {name for name, _ in when}
    holding = (name for name, row in CONDITIONS.items() if name in named and row.holds(facts))
    return next(holding, None)


def takes_touch(name: str | None) -> bool:
    """Return whether a bar that a condition chose, or none did, is one that a touch changes."""
    return name is None or not CONDITIONS[name].is_untouched
