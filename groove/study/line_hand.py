"""What a studied line asks of the fretting hand, by our own fingering."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from groove.bar_place import BarRef
from groove.errors import NeckError
from groove.events import Note
from groove.neck.fingering import finger_line
from groove.neck.instrument import HIGHEST_FRET, STANDARD, tunings_with
from groove.neck.line_places import hand_note
from groove.study.note_kinds import PlacedNote
from groove.timing import TempoChange, TempoMap, qpm_to_microseconds, quarters_to_ticks


class HandShift(Struct, frozen=True, kw_only=True):
    """A move of the fretting hand: the bar of the note that it is made for, and its frets.

    ``time_ms`` is the time that there is for it; ``is_hard`` as ``neck.fingering.Shift`` has it.
    """

    bar: int
    from_fret: int
    to_fret: int
    time_ms: float
    is_hard: bool


class HandWork(Struct, frozen=True, kw_only=True):
    """The tuning that a line is fingered on, the shifts of the hand, the highest fret."""

    tuning: str
    shifts: tuple[HandShift, ...]
    top_fret: int


def hand_work(notes: Sequence[PlacedNote], qpm: Fraction) -> HandWork | None:
    """Return what the plain notes ask of the hand, None where no bass has them, or no hand can.

    The standard four strings are taken where they have all notes, else the first tuning that does.
    """
    plain = [each for each in notes if each.kind]
    having = tunings_with(sorted({each.note.pitch for each in plain}), HIGHEST_FRET)
    if not plain or not having:
        return None
    tuning = STANDARD if STANDARD in having else having[0]
    tempo_map = TempoMap((TempoChange(0, qpm_to_microseconds(qpm)),))
    starts = dict.fromkeys(each.bar.frame.start_quarters for each in plain)
    numbers = {start: number for number, start in enumerate(starts, start=1)}
    asked = [_hand_note(each, numbers[each.bar.frame.start_quarters]) for each in plain]
    try:
        line = finger_line(asked, tempo_map=tempo_map, tuning=tuning)
    except NeckError:
        return None
    return HandWork(
        tuning=tuning.name,
        shifts=tuple(
            HandShift(
                bar=plain[shift.note_index].bar.frame.number,
                from_fret=shift.from_fret,
                to_fret=shift.to_fret,
                time_ms=shift.time_ms,
                is_hard=shift.is_hard,
            )
            for shift in line.shifts
        ),
        top_fret=max(place.fret for place in line.places),
    )


def _hand_note(each: PlacedNote, number: int) -> Note:
    frame, length = each.bar.frame, each.note.slots * each.bar.slot_quarters
    ref = BarRef(section=frame.section or "line", written_bar=frame.number, played_bar=number)
    tick = quarters_to_ticks(each.start_quarters)
    return hand_note(ref, tick, length, each.note.pitch, each.note.velocity)
