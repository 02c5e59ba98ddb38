"""How a song grows: how thick, how high and how busy each part plays at each place of its form.

One plan, which bass, drums and keys read; the words at a bar's head and a section's settings stand
above it.  A hook stays and is touched a little from its second time on, a walking line is new each
chorus, the blues keeps one figure for a chorus and takes another for the next.  All of it is common
practice without a published source.  Loudness is no part of it.
"""

from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate, cycle, takewhile

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.draws import first_draw
from groove.bar_place import FormPlace, SectionKind
from groove.cells.model import Feel, LineKind
from groove.chart.form import PlayedBar
from groove.chart.model import Density, Fills, Vary

THINNEST, PLAIN, FULLER, THICK, THICKEST = range(1, 6)
_SECTION_THICKNESS = {
    SectionKind.INTRO: PLAIN,
    SectionKind.VERSE: PLAIN,
    SectionKind.PRE_CHORUS: FULLER,
    SectionKind.CHORUS: THICK,
    SectionKind.BREAKDOWN: THINNEST,
    SectionKind.OTHER: FULLER,
}
_SUNG = (SectionKind.INTRO, SectionKind.VERSE, SectionKind.PRE_CHORUS, SectionKind.BREAKDOWN)
"""Sections under whose singer, or before whom, the figure of a blues stays."""
FIGURES = 3
"""How many figures a blues goes round."""
_CHORUS_BARS = 12
"""A section as long as this is a chorus by itself, where the form does not come again."""
_STOP_TIME_TIME, _STOP_TIME_BARS = 3, 3
"""In which time of a section a blues has its stop-time, and for how many bars."""
MARKED_PHRASE_BARS, _LONG_PHRASE_BARS = 4, 8
_SOFT_LEVEL, _LOUDEST_LEVEL = 1, 5
_HIGH_FROM_CHORUS = {LineKind.HOOK: 2, LineKind.NEW: 3}
"""From which chorus on a line goes up the neck, where its feel does."""


class Cymbal(StrEnum):
    """What the drummer's time is kept on."""

    CLOSED_HAT = "closed hat"
    HALF_OPEN_HAT = "half-open hat"
    RIDE = "ride"
    BELL = "ride bell"


class FillSize(StrEnum):
    """How much of a bar a fill takes, the smallest first."""

    HALF_BEAT = "half a beat"
    BEAT = "a beat"
    HALF_BAR = "half a bar"
    BAR = "a bar"


class Comping(StrEnum):
    """How many of its strokes the keyboard plays."""

    SPARSE = "sparse"
    USUAL = "usual"
    FULL = "full"


class Arrangement(Struct, frozen=True, kw_only=True, gc=False):
    """What the plan has for one bar.

    ``place`` is where the bar stands as far as the playing goes: with ``vary: none`` every time is
    the first.  ``draw_time`` is what draws of later times take in, None where they are the first
    one's.  ``chorus`` counts the times through the form.  ``thickness`` runs from 1 (one voice,
    long notes) to 5 (the last chorus).  ``lift`` is how many semitones the lowest root lies above
    the lowest string.  ``fill`` is how large a fill may be that leads on from this bar, None where
    none does.  ``figure`` is which of its figures a blues plays, ``is_touched`` whether a hook is
    changed a little here, ``is_in_two`` whether a walk goes in half notes, ``has_stop_time``
    whether the band strikes beat 1 alone.
    """

    place: FormPlace
    vary: Vary
    draw_time: int | None
    chorus: int
    thickness: int
    cymbal: Cymbal
    comping: Comping
    fill: FillSize | None
    lift: int = 0
    figure: int = 1
    is_touched: bool = False
    is_in_two: bool = False
    has_stop_time: bool = False


class Form(Struct, frozen=True):
    """What is counted over a whole song: choruses by occurrence, and figures by section.

    ``choruses`` is the number of each occurrence, by section and which time it is;
    ``figures`` is the figure that a blues has for each occurrence of a section that nobody sings
    over: round all but the verse's, where there is one, in the order of playing.
    """

    choruses: dict[tuple[str, int], int]
    chorus_count: int
    figures: dict[tuple[str, int], int]


def form_of(bars: Sequence[PlayedBar]) -> Form:
    """Return what is counted over a song's bars as they are played."""
    occurrences = [
        (bar.stem, bar.place.like_time, bar.occurrence_bars, bar.place.kind)
        for bar in bars
        if bar.is_section_start and not bar.is_pickup
    ]
    names = [name for name, *_ in occurrences]
    numbers = chorus_numbers(names, [length for _, _, length, _ in occurrences])
    choruses = {
        (name, time): number for (name, time, *_), number in zip(occurrences, numbers, strict=True)
    }
    unsung = [(name, time) for name, time, _, kind in occurrences if kind not in _SUNG]
    is_sung = any(kind is SectionKind.VERSE for *_, kind in occurrences)
    figures = dict(zip(unsung, cycle(range(1 + is_sung, FIGURES + 1)), strict=False))
    return Form(choruses, max(numbers, default=1), figures)


def chorus_numbers(names: Sequence[str], lengths: Sequence[int]) -> list[int]:
    """Return which time through the form each section belongs to, from 1.

    The form is the shortest row of sections that has them all and comes again; what is played once
    before or after it stands aside.  Where no row does, every section of twelve bars or more is a
    chorus.
    """
    played = [names.count(name) for name in names]
    before = sum(1 for _ in takewhile(lambda times: times == 1, played))
    after = sum(1 for _ in takewhile(lambda times: times == 1, reversed(played)))
    core = names[before : len(names) - after]
    period = _period(core)
    if period:
        inner = [index // period + 1 for index in range(len(core))]
    else:
        own = lengths[before : len(names) - after]
        inner = [max(1, count) for count in accumulate(length >= _CHORUS_BARS for length in own)]
    if not inner:
        return [1] * len(names)
    return [*[1] * before, *inner, *[inner[-1]] * after]


def _period(names: Sequence[str]) -> int | None:
    """Return how many sections come again as a row, None where none does."""
    for period in range(1, len(names) // 2 + 1):
        row = names[:period]
        if all(name == row[index % period] for index, name in enumerate(names)):
            return period
    return None


def arrangement_of(bar: PlayedBar, feel: Feel, form: Form, vary: Vary, seed: int) -> Arrangement:
    """Return what the plan has for a bar that is played in a feel."""
    place = _played_place(bar.place, vary)
    chorus = form.choruses.get((bar.stem, place.time), 1)
    thickness = _thickness(bar, place)
    return Arrangement(
        place=place,
        vary=vary,
        draw_time=place.time if place.time > 1 else None,
        chorus=chorus,
        thickness=thickness,
        cymbal=_cymbal(place, thickness),
        comping=_comping(thickness),
        fill=_fill_size(bar, place, thickness),
        lift=feel.climbs if _is_high(feel, place, chorus) else 0,
        figure=_figure(bar, feel, place, form),
        is_touched=_is_touched(bar, feel, place, vary, seed),
        is_in_two=_is_in_two(bar, feel, form, chorus),
        has_stop_time=_has_stop_time(bar, feel, place),
    )


def _played_place(place: FormPlace, vary: Vary) -> FormPlace:
    """Return a place as far as the playing goes: where nothing varies every time is the first.

    Times that were written into the chart as sections of their own are counted on, so that the
    song grows as it grew before.
    """
    if vary is not Vary.NONE:
        return replace(place, time=place.like_time, times=place.like_times)
    return replace(place, time=1, kind_time=1)


def is_soft_level(level: Fraction | None) -> bool:
    """Return whether a dynamic between pp (0) and ff (5) is p or softer; None is none at all."""
    return level is not None and level <= _SOFT_LEVEL


def _thickness(bar: PlayedBar, place: FormPlace) -> int:
    """Return how thick the band plays: as the chart says, else by the section and its time."""
    if bar.is_thin:
        return THINNEST
    found = _SECTION_THICKNESS[place.kind]
    grows = place.kind is SectionKind.VERSE and place.time > 1
    found += grows or place.is_last_chorus
    if bar.density is Density.BUILD:
        found = max(found, FULLER)
    if is_soft_level(bar.level):
        return min(found, PLAIN)
    if bar.level is not None and bar.level >= _LOUDEST_LEVEL:
        return max(found, THICK)
    return found


def _cymbal(place: FormPlace, thickness: int) -> Cymbal:
    """Return what the time is kept on: the verse on the closed hat, the chorus on the ride."""
    if thickness <= PLAIN:
        return Cymbal.CLOSED_HAT
    if place.kind is SectionKind.CHORUS:
        return Cymbal.BELL if thickness >= THICKEST else Cymbal.RIDE
    return Cymbal.HALF_OPEN_HAT if place.kind is SectionKind.PRE_CHORUS else Cymbal.CLOSED_HAT


def _comping(thickness: int) -> Comping:
    if thickness <= PLAIN:
        return Comping.SPARSE
    return Comping.FULL if thickness >= THICK else Comping.USUAL


def _fill_size(bar: PlayedBar, place: FormPlace, thickness: int) -> FillSize | None:
    """Return how large a fill may be here: more before a new section, most before a chorus.

    A fill that the chart asks for is half a bar at least; one under a soft or thin band is smaller
    by one size.
    """
    asked = bar.directions.fill
    if asked is False or (asked is None and bar.settings.fills is Fills.NONE):
        return None
    sizes = list(FillSize)
    if place.bars_to_next == 1:
        leads_to_chorus = place.next_kind is SectionKind.CHORUS
        size = FillSize.BAR if leads_to_chorus or place.is_last_chorus else FillSize.HALF_BAR
    elif bar.ref.bar_in_section % _LONG_PHRASE_BARS == 0:
        size = FillSize.BEAT
    elif bar.ref.bar_in_section % MARKED_PHRASE_BARS == 0:
        size = FillSize.HALF_BEAT
    elif not asked:
        return None
    else:
        size = FillSize.HALF_BAR
    is_soft = thickness == THINNEST or is_soft_level(bar.level)
    number = max(0, sizes.index(size) - is_soft)
    return sizes[max(number, sizes.index(FillSize.HALF_BAR)) if asked else number]


def _is_high(feel: Feel, place: FormPlace, chorus: int) -> bool:
    """Return whether a feel's line has gone up the neck by now, where it does at all.

    A walk does in the third time through the form, and in the third of a song's own choruses.
    """
    sung_chorus = place.kind_time if place.kind is SectionKind.CHORUS else 0
    if feel.line is LineKind.HOOK:
        return sung_chorus >= _HIGH_FROM_CHORUS[feel.line]
    return feel.line is LineKind.NEW and max(chorus, sung_chorus) >= _HIGH_FROM_CHORUS[feel.line]


def _figure(bar: PlayedBar, feel: Feel, place: FormPlace, form: Form) -> int:
    """Return which of its figures a blues plays: a new one each time, but under a singer."""
    if feel.line is not LineKind.BLUES:
        return 1
    return form.figures.get((bar.stem, place.time), 1)


def _is_touched(bar: PlayedBar, feel: Feel, place: FormPlace, vary: Vary, seed: int) -> bool:
    """Return whether a line is touched: in the end of one phrase of two, from the second time on.

    With much variation in that of every one.
    """
    ref, phrase_bars = bar.ref, feel.phrase_bars
    if place.time == 1 or feel.line not in (LineKind.HOOK, LineKind.BLUES):
        return False
    if ref.bar_in_section % phrase_bars:
        return False
    if vary is Vary.MUCH:
        return True
    phrase = ref.bar_in_section // phrase_bars - 1
    pair = phrase // 2
    drawn = first_draw(seed, "band", "touch", bar.stem, pair, place.time)
    return phrase % 2 == int(drawn * 2)


def _has_stop_time(bar: PlayedBar, feel: Feel, place: FormPlace) -> bool:
    """Return whether a blues has its stop-time here: once, at the head of a section's third time.

    Where a bar has several chords the band plays on.
    """
    return (
        feel.line is LineKind.BLUES
        and place.kind not in _SUNG
        and place.time == _STOP_TIME_TIME
        and bar.occurrence_bars >= _CHORUS_BARS
        and bar.ref.bar_in_section <= _STOP_TIME_BARS
        and len(bar.chords) == 1
        and bar.chords[0].push is None
    )


def _is_in_two(bar: PlayedBar, feel: Feel, form: Form, chorus: int) -> bool:
    """Return whether a walk goes in half notes: the first chorus of several.

    Where the chart names the cell itself it walks as it stands.
    """
    is_first = chorus == 1 and form.chorus_count > 1
    return feel.line is LineKind.NEW and is_first and bar.settings.bass is None
