"""Tab under a bar: from the signs on its strings to notes with their string, fret and time."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from operator import itemgetter

from msgspec.structs import replace

from groove.chart.model import Slur, TabLine, WrittenNote
from groove.chart.tab_scale import Doubt, TabScale, even_scale, scale_by_beats
from groove.chart.tab_signs import HARMONICS, HELD_COLUMN, Cells, TabSign, string_signs
from groove.errors import ChartError
from groove.neck.instrument import Tuning
from groove.timing import Meter


def read_tab_bar(
    strings: Sequence[Cells],
    meter: Meter,
    tuning: Tuning,
    before: TabLine | None,
    beats: Sequence[int] | None,
) -> tuple[TabLine, Doubt | None]:
    """Return the notes of a bar from its strings, highest first, and what is in doubt of them.

    ``before`` is the tab of the bar before, ``beats`` the columns of its beats where a row says
    them.  Raises ChartError for what is no tab, does not fill the bar or is not on the neck.
    """
    by_string = [string_signs(cells) for cells in strings]
    signs = [sign for own in by_string for sign in own]
    if beats is None:
        scale = even_scale(strings, signs, meter)
    else:
        scale = scale_by_beats(strings, signs, meter, beats)
    times = _slot_times(meter.bar_quarters, scale.slots)
    notes = [
        (0, string, _tied_note(string, cells, before, scale, times))
        for string, cells in enumerate(strings, 1)
        if cells.text[:1] == HELD_COLUMN
    ]
    following = (
        {} if any(HELD_COLUMN in cells.text for cells in strings) else _following(signs, scale)
    )
    for string, (cells, own) in enumerate(zip(strings, by_string, strict=True), 1):
        open_pitch = tuning.open_pitch(string)
        for sign in own:
            start = scale.start(sign.start)
            # A wider sign on another string may take all of a note's columns as its own one.
            end = following[start] if following else max(scale.end(sign.held_to), start + 1)
            note = _sign_note(sign, string, cells, open_pitch, times[start], times[end - start])
            notes.append((start, string, note))
    notes.sort(key=itemgetter(0, 1))
    line = [note for _, _, note in notes]
    if any(sign.slur for sign in signs):
        line = list(_slurred(line, before, has_holds=not following))
    return TabLine(open_pitches=tuning.open_pitches, notes=tuple(line)), scale.doubt


def _following(signs: Sequence[TabSign], scale: TabScale) -> dict[int, int]:
    """Return which stroke's slot follows each, the end of the bar after the last."""
    onsets = sorted({scale.start(sign.start) for sign in signs})
    return dict(pairwise([*onsets, scale.slots]))


@lru_cache(maxsize=256)
def _slot_times(bar_quarters: Fraction, slots: int) -> tuple[Fraction, ...]:
    """Return where slots of a bar begin and it ends, in quarters; also how long so many last."""
    return tuple(bar_quarters * slot / slots for slot in range(slots + 1))


def _tied_note(
    string: int, cells: Cells, before: TabLine | None, scale: TabScale, times: Sequence[Fraction]
) -> WrittenNote:
    """Return the note that goes on from the bar before, as the hold at a string's head says.

    Where no tab stands under that bar it is whatever sounds there: no fret and no pitch.  Raises
    ChartError where the bar before is written and has no note on the string.
    """
    end = len(cells.text) - len(cells.text.lstrip(HELD_COLUMN))
    length = times[scale.end(end)]
    place = cells.place(0, end)
    if not length:
        raise ChartError(
            "found = that ends before the bar begins: its column is margin",
            place=place,
            hint="expected it over the columns that the note lasts, e.g. ===",
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
    sign: TabSign, string: int, cells: Cells, open_pitch: int, start: Fraction, length: Fraction
) -> WrittenNote:
    fret = sign.fret
    above = fret if fret is None or not sign.is_harmonic else HARMONICS[fret]
    return WrittenNote(
        start_quarters=start,
        length_quarters=length,
        string=string,
        fret=fret,
        pitch=None if above is None else open_pitch + above,
        slur=sign.slur,
        bend_semitones=sign.bend_semitones,
        is_harmonic=sign.is_harmonic,
        has_vibrato=sign.has_vibrato,
        place=cells.place(sign.start, sign.end - sign.start),
    )


def _slurred(
    notes: Sequence[WrittenNote], before: TabLine | None, *, has_holds: bool
) -> Iterator[WrittenNote]:
    """Yield notes, those that a slur leads on from held to where it leads.

    A slide after a silence that ``=`` spells comes from nowhere.  Raises ChartError for a
    hammer-on or pull-off from nothing, or in the wrong direction.
    """
    last: dict[int, int] = {}
    found = list(notes)
    for index, note in enumerate(found):
        if note.slur and note.string in last:
            at = last[note.string]
            length = note.start_quarters - found[at].start_quarters
            is_apart = has_holds and found[at].length_quarters < length
            if note.slur is not Slur.SLIDE or not is_apart:
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
            hint="expected two frets, e.g. 5h7",
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
