"""What a player knows is played where it was, as far as the hand allows: bars, and the position.

A player learns a bar once, and who starts on the fifth fret means the position (common practice,
no source).  Bars are told apart by their notes: a line is fingered whole, before it is cut.
"""

from collections.abc import Sequence

from groove.events import Note
from groove.neck.hand import Grip
from groove.neck.instrument import Tuning
from groove.neck.shapes import HandTask, Hold

HAND_COVERS = 5
"""Frets in reach without a shift: one finger a fret, and one more for a stretched finger."""
_OPEN_POSITIONS = 2


def as_known(
    notes: Sequence[Note], tasks: Sequence[HandTask], grips: Sequence[Grip]
) -> list[HandTask]:
    """Return what is asked, with the places that bars gave their notes where they came out unlike.

    A bar has one place for a pitch, the one that it uses most, and a bar that comes again has the
    places of the first time.  Two played bars are the same one if they have the same notes at the
    same times, wherever they stand: a section like another is played as that one is.
    """
    returning: dict[tuple[object, ...], list[slice]] = {}
    for bar in _bar_slices(notes):
        returning.setdefault(_bar_key(notes[bar]), []).append(bar)
    holds = [(grip.string, grip.fret, grip.finger) for grip in grips]
    bound = _bound(tasks)
    models = {
        key: _one_place_a_pitch(tasks[bars[0]], holds[bars[0]], bound[bars[0]])
        for key, bars in returning.items()
    }
    if all(holds[bar] == models[key] for key, bars in returning.items() for bar in bars):
        return list(tasks)
    known = list(tasks)
    for key, bars in returning.items():
        for bar in bars:
            # Bars that came out alike too, or they would move when their neighbours do.
            pairs = zip(tasks[bar], models[key], strict=True)
            known[bar] = [one._replace(known=hold) for one, hold in pairs]
    return known


def _bound(tasks: Sequence[HandTask]) -> list[bool]:
    """Return for each note whether it leads by a half step, and so lies beside the next one."""
    return [
        one.approaches and abs(after.pitch - one.pitch) == 1
        for one, after in zip(tasks, [*tasks[1:], *tasks[-1:]], strict=True)
    ]


def _one_place_a_pitch(
    tasks: Sequence[HandTask], holds: Sequence[Hold], bound: Sequence[bool]
) -> list[Hold]:
    """Return the holds of a bar with each pitch where it is played most; of equals the first."""
    used: dict[int, list[Hold]] = {}
    notes = list(zip(tasks, holds, bound, strict=True))
    for one, hold, is_bound in notes:
        if not is_bound:
            used.setdefault(one.pitch, []).append(hold)
    usual = {pitch: _most_played(found) for pitch, found in used.items()}
    return [
        hold if is_bound or hold[:2] == usual[one.pitch][:2] else usual[one.pitch]
        for one, hold, is_bound in notes
    ]


def _most_played(holds: Sequence[Hold]) -> Hold:
    """Return the first of the holds at the place that is played most."""
    places = [hold[:2] for hold in holds]
    return max(holds, key=lambda hold: places.count(hold[:2]))


def from_the_start(
    tasks: Sequence[HandTask], place: tuple[int, int], tuning: Tuning
) -> list[HandTask]:
    """Return what is asked, each note wanted in the hand that plays the first root at ``place``.

    ``place`` is that root's (string, fret).  The hand covers five frets, from the one below that
    fret: on strings a fourth apart each pitch lies there once, if at all.  A cell's notes above
    its root go where the root goes.
    """
    there = _under_hand(max(0, place[1] - 1), tuning)
    there[tuning.pitch_at(*place)] = place
    return [
        one if one.above_root else one._replace(in_position=there.get(one.pitch)) for one in tasks
    ]


def in_position(tasks: Sequence[HandTask], position: int, tuning: Tuning) -> list[HandTask]:
    """Return what is asked, each note wanted in the hand whose first finger is at a fret.

    Open strings are a part of the lowest two positions.
    """
    there = _under_hand(position, tuning)
    if position <= _OPEN_POSITIONS:
        there |= {tuning.open_pitch(string): (string, 0) for string in tuning.strings}
    return [one._replace(in_position=there.get(one.pitch)) for one in tasks]


def _under_hand(lowest: int, tuning: Tuning) -> dict[int, tuple[int, int]]:
    """Return (string, fret) of each pitch that lies under a hand, by the lowest fret it covers."""
    return {
        tuning.pitch_at(string, fret): (string, fret)
        for string in tuning.strings
        for fret in range(lowest, lowest + HAND_COVERS)
    }


def _bar_slices(notes: Sequence[Note]) -> list[slice]:
    starts = [
        index
        for index, note in enumerate(notes)
        if not index or note.origin.bar != notes[index - 1].origin.bar
    ]
    return [slice(start, end) for start, end in zip(starts, [*starts[1:], len(notes)], strict=True)]


def _bar_key(notes: Sequence[Note]) -> tuple[object, ...]:
    first = notes[0].grid_tick
    return tuple((note.grid_tick - first, note.pitch, note.touch) for note in notes)
