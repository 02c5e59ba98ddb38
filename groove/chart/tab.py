"""Tab under a bar: from the signs on its strings to notes with their string, fret and time.

A bar's columns divide evenly into a whole number of slots a beat; where that fails and the first
column says nothing, it is margin.  Two columns are a slot where every sign starts on such a pair,
else one; where a sign is wider, a slot may be as wide as the widest and a dash.  A column is as
wide as its longest number.  A row of beats under the strings stands above all this.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import lcm
from operator import itemgetter

from msgspec import Struct

from groove.chart.lines import Line
from groove.chart.model import Slur, TabLine, WrittenNote
from groove.errors import ChartError, SourcePlace
from groove.neck.instrument import HIGHEST_FRET, Tuning
from groove.timing import Meter

MOST_SLOTS_A_BEAT = 96
_HOLD, SILENCE, MARGIN = "=", "-", "-=hp/\\"
_SLURS = {"h": Slur.HAMMER_ON, "p": Slur.PULL_OFF, "/": Slur.SLIDE, "\\": Slur.SLIDE}
SIGN = re.compile(
    r"(?P<fret>[0-9]+)(?:b(?P<bend>[0-9]+))?(?P<shake>~*)|(?P<ghost>x)"
    r"|<(?P<node>[0-9]+)>(?P<rings>~*)"
)
SOUNDED = re.compile(f"[^{SILENCE}]")
HARMONICS = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28}
"""Semitones above the open string at the nodes of a string's first modes.

A string touched at 1/2, 1/3, 1/4 or 1/5 of its length gives that many times its frequency.
"""
SIGNS_EXPECTED = (
    "frets, - silence, = held, x ghost, 5h7 5p3 5/7 7\\5 slurs, 7b9 a bend, 7~ vibrato, <12> a "
    "harmonic"
)


class Cells(Struct, frozen=True):
    """One string's columns of one bar as typed, and where each stands in its line, from 1."""

    text: str
    row: Line
    columns: Sequence[int]
    end_column: int

    def place(self, column: int, length: int = 1) -> SourcePlace:
        """Return the place of a column of this bar."""
        if column >= len(self.columns):
            return self.row.place(self.end_column)
        first = self.columns[column]
        last = self.columns[min(column + length, len(self.columns)) - 1]
        return self.row.place(first, max(1, last - first + 1))


class _Sign(Struct, frozen=True, kw_only=True):
    """What is struck on a string: its columns, what it holds to, and what it says.

    ``match`` is None for what is no sign, which is the last that was read.
    """

    start: int
    end: int
    held_to: int
    match: re.Match[str] | None
    slur: Slur | None

    @property
    def number_width(self) -> int:
        """How many columns its number or harmonic takes, which count as one."""
        match = self.match
        assert match is not None
        return len(match["fret"] or "") or (len(match[0]) if match["node"] else 1)


class _Scale(Struct, frozen=True):
    """Where the columns of a bar lie in time.

    ``columns`` counts shares of a slot from the bar line, ``size`` how many of them a slot has;
    ``slots`` is how many slots there are.
    """

    columns: Sequence[int]
    size: int
    slots: int

    def start(self, column: int) -> int:
        """Return the slot at which a column begins that a sign stands in."""
        return self.columns[column] // self.size

    def end(self, column: int) -> int:
        """Return the slot that has ended by a column (exclusive)."""
        return -(-self.columns[column] // self.size)


def read_tab_bar(
    strings: Sequence[Cells],
    meter: Meter,
    tuning: Tuning,
    before: TabLine | None,
    beats: Sequence[int] | None,
) -> TabLine:
    """Return the notes of a bar from its strings, highest first.

    ``before`` is the tab of the bar before, ``beats`` the columns of its beats where a row says
    them.  Raises ChartError for what is no tab, does not fill the bar or is not on the neck.
    """
    by_string = [_checked_signs(cells) for cells in strings]
    signs = [sign for own in by_string for sign in own]
    width = len(strings[0].text)
    has_margin = all(cells.text[:1] in MARGIN for cells in strings)
    if beats is None:
        scale = _even_scale(signs, width, meter.beats_per_bar, has_margin)
    else:
        scale = _scale_by_beats(signs, width, beats)
    if scale is None:
        raise _uneven(strings[0], width, meter)
    has_holds = any(_HOLD in cells.text for cells in strings)
    ties = [tie for string, cells in enumerate(strings, 1) for tie in _head_ties(string, cells)]
    times = _slot_times(meter.bar_quarters, scale.slots)
    tied = (_tied_note(string, cells, end, before, scale, times) for string, cells, end in ties)
    notes = [(0, note.string, note) for note in tied]
    onsets = sorted({scale.start(sign.start) for sign in signs})
    following = dict(pairwise([*onsets, scale.slots]))
    for string, (cells, own) in enumerate(zip(strings, by_string, strict=True), 1):
        for sign in own:
            start = scale.start(sign.start)
            # A wider sign on another string may take all of a note's columns as its own one.
            held = max(scale.end(sign.held_to), start + 1)
            length = times[(held if has_holds else following[start]) - start]
            note = _sign_note(sign, string, cells, tuning, times[start], length)
            notes.append((start, string, note))
    notes.sort(key=itemgetter(0, 1))
    return TabLine(
        open_pitches=tuning.open_pitches,
        notes=tuple(_slurred([note for _, _, note in notes], before)),
    )


@lru_cache(maxsize=256)
def _slot_times(bar_quarters: Fraction, slots: int) -> tuple[Fraction, ...]:
    """Return where slots of a bar begin and it ends, in quarters; also how long so many last."""
    return tuple(bar_quarters * slot / slots for slot in range(slots + 1))


def _checked_signs(cells: Cells) -> tuple[_Sign, ...]:
    """Return the signs of one string.  Raises ChartError for what is no sign."""
    signs = _read_signs(cells.text.casefold())
    if signs and signs[-1].match is None:
        fault = signs[-1]
        raise _no_sign(cells.text.casefold(), fault.start, cells, is_slur=fault.slur is not None)
    return signs


@lru_cache(maxsize=4096)
def _read_signs(text: str) -> tuple[_Sign, ...]:
    """Return the signs of one string, up to the first that is none: bars come again and again."""
    signs: list[_Sign] = []
    column = len(text) - len(text.lstrip(_HOLD))
    while found := SOUNDED.search(text, column):
        column = found.start()
        slur = _SLURS.get(text[column])
        start = column + (slur is not None)
        match = SIGN.match(text, start)
        if match is None:
            signs.append(_Sign(start=column, end=column, held_to=column, match=None, slur=slur))
            break
        end = match.end()
        held_to = end
        while held_to < len(text) and text[held_to] == _HOLD:
            held_to += 1
        signs.append(_Sign(start=start, end=end, held_to=held_to, match=match, slur=slur))
        column = held_to
    return tuple(signs)


def _no_sign(text: str, column: int, cells: Cells, *, is_slur: bool) -> ChartError:
    """Return the error for a column that says nothing where it stands."""
    if is_slur:
        return ChartError(
            f"found {text[column]!r} that leads to nothing",
            place=cells.place(column),
            hint="expected a fret right after it, as 5h7, 7p5, 5/7",
        )
    if text[column] == _HOLD:
        return ChartError(
            "found = that holds nothing",
            place=cells.place(column),
            hint="expected a fret before it, as 5==, or - for silence",
        )
    found = cells.place(column)
    return ChartError(
        f"found {text[column]!r} on a string", place=found, hint=f"expected {SIGNS_EXPECTED}"
    )


def _head_ties(string: int, cells: Cells) -> Iterator[tuple[int, Cells, int]]:
    """Yield the hold that a string begins with: string, columns, the column where it ends."""
    held = len(cells.text) - len(cells.text.lstrip(_HOLD))
    if held:
        yield string, cells, held


def _even_scale(signs: Sequence[_Sign], width: int, beats: int, has_margin: bool) -> _Scale | None:
    """Return the scale of a bar whose columns divide evenly, None where they do not."""
    widest = max((sign.end - sign.start for sign in signs), default=1)
    raw = list(range(width + 1))
    tries: list[tuple[list[int], int]] = []
    if widest > 1:
        tries.append((raw, widest + 1))
        merged = _merged_columns(signs, width)
        # What starts inside another string's number would start with it.
        if len({merged[sign.start] for sign in signs}) == len({sign.start for sign in signs}):
            tries += [(merged, 2), (merged, 1)]
    tries += [(raw, 2), (raw, 1)]
    leads = (1, 0) if has_margin and beats == 1 else (0, 1) if has_margin else (0,)
    for columns, size in tries:
        for lead in leads:
            count = columns[-1] - lead
            fits = count > 0 and count % (beats * size) == 0
            starts = [columns[sign.start] - lead for sign in signs]
            if fits and all(start >= 0 and start % size == 0 for start in starts):
                if count // (beats * size) > MOST_SLOTS_A_BEAT:
                    return None
                at = [max(0, column - lead) for column in columns]
                return _Scale(at, size, count // size)
    return None


def _merged_columns(signs: Sequence[_Sign], width: int) -> list[int]:
    """Return the number of each column where those of one number count as one."""
    inside = {
        column for sign in signs for column in range(sign.start + 1, sign.start + sign.number_width)
    }
    found = [0]
    for column in range(1, width + 1):
        found.append(found[-1] + (column not in inside))
    return found


def _scale_by_beats(signs: Sequence[_Sign], width: int, beats: Sequence[int]) -> _Scale | None:
    """Return the scale of a bar whose beats stand at known columns."""
    edges = [*beats, width]
    spans = [end - start for start, end in pairwise(edges)]
    if min(spans) < 1:
        return None
    at = [Fraction(0)] * (width + 1)
    for beat, (start, span) in enumerate(zip(beats, spans, strict=True)):
        for column in range(start, start + span + 1):
            at[column] = beat + Fraction(column - start, span)
    per_beat = _least_slots([at[sign.start] for sign in signs], spans)
    if per_beat is None or any(sign.start < beats[0] for sign in signs):
        return None
    size = lcm(*spans)
    return _Scale([int(each * per_beat * size) for each in at], size, per_beat * len(beats))


def _least_slots(starts: Sequence[Fraction], spans: Sequence[int]) -> int | None:
    """Return how many slots a beat has: half its columns where all signs fall on them."""
    columns = max(spans)
    tries = [columns // 2, columns, *range(1, MOST_SLOTS_A_BEAT + 1)]
    return next(
        (slots for slots in tries if slots and all((s * slots).denominator == 1 for s in starts)),
        None,
    )


def _uneven(cells: Cells, width: int, meter: Meter) -> ChartError:
    """Return the error for a bar whose columns make no whole slots."""
    beats = meter.beats_per_bar
    usual = [1 + beats * 2 * slots for slots in (1, 2, 4)]
    return ChartError(
        f"found {width} columns in a bar of {meter}, which are no whole slots to {beats} beats",
        place=cells.place(0, width),
        hint=f"expected one more than two a slot, as {usual[0]}, {usual[1]} or {usual[2]}; or a "
        "row of beats under the strings",
    )


def _tied_note(
    string: int,
    cells: Cells,
    end: int,
    before: TabLine | None,
    scale: _Scale,
    times: Sequence[Fraction],
) -> WrittenNote:
    """Return the note that goes on from the bar before.

    Where no tab stands under that bar it is whatever sounds there: no fret and no pitch.  Raises
    ChartError where the bar before is written and has no note on the string.
    """
    length = times[scale.end(end)]
    place = cells.place(0, end)
    if not length:
        raise ChartError(
            "found = that ends before the bar begins: its column is margin",
            place=place,
            hint="expected it over the columns that the note lasts, as ===",
        )
    if before is None:
        return WrittenNote(
            start_quarters=Fraction(0),
            length_quarters=length,
            string=string,
            fret=None,
            pitch=None,
            is_tied=True,
            place=place,
        )
    lasting = [note for note in before.notes if note.string == string]
    if not lasting:
        raise ChartError(
            "found = at the head of a bar, and no note before it on this string",
            place=place,
            hint="expected a note that lasts to the end of the bar before, or - for silence",
        )
    return replace(
        lasting[-1],
        start_quarters=Fraction(0),
        length_quarters=length,
        slur=None,
        is_tied=True,
        place=place,
    )


def _sign_note(
    sign: _Sign, string: int, cells: Cells, tuning: Tuning, start: Fraction, length: Fraction
) -> WrittenNote:
    """Return the note of a sign.  Raises ChartError for a fret that the neck has not."""
    match, place = sign.match, cells.place(sign.start, sign.end - sign.start)
    assert match is not None
    written, bend, shake, _, node_text, rings = match.groups()
    node = int(node_text) if node_text and len(node_text) < 3 else None
    if node_text and node not in HARMONICS:
        raise ChartError(
            f"found no harmonic at fret {node_text[:10]}",
            place=place,
            hint="expected <12>, <7>, <5>, <4>, <9>, <19> or <24>",
        )
    fret = node
    pitch = None
    if written:
        fret = _fret_number(written, place)
        pitch = tuning.pitch_at(string, fret)
    elif node:
        pitch = tuning.open_pitch(string) + HARMONICS[node]
    return WrittenNote(
        start_quarters=start,
        length_quarters=length,
        string=string,
        fret=fret,
        pitch=pitch,
        slur=sign.slur,
        bend_semitones=bend_semitones(match, fret, place) if bend else 0,
        is_harmonic=node is not None,
        has_vibrato=bool(shake or rings),
        place=place,
    )


def _fret_number(text: str, place: SourcePlace) -> int:
    """Return a fret's number.  Raises ChartError for one that the neck has not."""
    if len(text) > 2 or int(text) > HIGHEST_FRET:
        raise ChartError(
            f"found fret {text[:20]}",
            place=place,
            hint=f"expected 0 to {HIGHEST_FRET}; touching digits are one fret, as 1-2 are two",
        )
    return int(text)


def bend_semitones(match: re.Match[str], fret: int | None, place: SourcePlace) -> int:
    """Return how far a note is bent: ``7b9`` sounds like fret 9, two half steps up."""
    goal = int(match["bend"][:3])
    assert fret is not None
    if not fret < goal <= fret + 4:
        raise ChartError(
            f"found a bend from fret {fret} to {goal}",
            place=place,
            hint=f"expected it to end one to four frets higher, as {fret}b{fret + 2}",
        )
    return goal - fret


def _slurred(notes: Sequence[WrittenNote], before: TabLine | None) -> Iterator[WrittenNote]:
    """Yield notes, those that a slur leads on from held to where it leads.

    Raises ChartError for a hammer-on or pull-off from nothing, or in the wrong direction.
    """
    last: dict[int, int] = {}
    found = list(notes)
    for index, note in enumerate(found):
        if note.slur and note.string in last:
            at = last[note.string]
            length = note.start_quarters - found[at].start_quarters
            found[at] = replace(found[at], length_quarters=length)
        if note.slur in (Slur.HAMMER_ON, Slur.PULL_OFF):
            earlier = [n for n in before.notes if n.string == note.string] if before else []
            own = [found[last[note.string]]] if note.string in last else []
            origin = next(reversed(own or earlier), None)
            _check_slur(note, origin)
        last[note.string] = index
    yield from found


def _check_slur(note: WrittenNote, origin: WrittenNote | None) -> None:
    """Refuse a hammer-on or pull-off that has no note before it, or goes the wrong way."""
    if origin is None:
        raise ChartError(
            f"found a {note.slur} with no note before it on this string",
            place=note.place,
            hint="expected two frets, as 5h7",
        )
    if origin.fret is None or note.fret is None:
        return
    goes_up = note.fret > origin.fret
    if goes_up is not (note.slur is Slur.HAMMER_ON) or note.fret == origin.fret:
        raise ChartError(
            f"found a {note.slur} from fret {origin.fret} to {note.fret}",
            place=note.place,
            hint="expected h to a higher fret, p to a lower one",
        )
