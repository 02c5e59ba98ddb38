"""What is believed because of what is due: weak onsets where a note is and none was heard.

None is made up.  And the end of a note is no stroke: an onset that is far softer than its
neighbours and not clear is none where a plain note is due.

How weak is too weak depends on the recording: in a quiet one hardly anything stirs between notes,
among drums something stirs everywhere.  So a weak onset counts only where as strong ones are rare
enough beside the places of notes that it is there by chance in few windows out of a hundred.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from groove.take.alignment import Alignment, due_range
from groove.take.heard import HeardNote, in_time
from groove.take.jumped import HALF_A_TONE
from groove.take.reference import ExpectedNote, TakeReference
from groove.take.tuned import SURE_PITCH

DUE_SEC = 0.05
"""How far around its place a note that was not heard may have begun."""
CLEAR_STROKE = 0.8
"""How strong an onset must be that is far softer than its neighbours where a plain note is due.

In made takes the ends of notes reach 0.75, soft strokes begin at 0.85: no source.
"""
BY_CHANCE = 0.1
"""How likely, at most, an onset as strong is to be found in a window by chance alone."""


def with_due(
    notes: Sequence[HeardNote],
    weak: Sequence[HeardNote],
    reference: TakeReference,
    alignment: Alignment,
) -> tuple[HeardNote, ...]:
    """Return what was heard, with the weak onsets that stand for notes that were not.

    ``notes`` and ``weak`` rise in time, ``alignment`` is of ``notes``.  Ends of notes that were
    taken for strokes are left out.
    """
    ends = _ends_of_notes(notes, reference, alignment)
    places = [note.sec for note in notes]
    free = [note for note in weak if _distance(places, note.sec) > DUE_SEC / 2]
    moments = [note.sec for note in free]
    due = dict(_unheard(reference, alignment))
    least = _least_strength(free, alignment)
    found: dict[float, HeardNote] = {}
    for index, sec in due.items():
        near = free[bisect_left(moments, sec - DUE_SEC) : bisect_right(moments, sec + DUE_SEC)]
        note = reference.notes[index]
        able = [each for each in near if each.strength >= least and _may_be(each, note)]
        if able:
            best = max(able, key=lambda each: each.strength)
            found[best.sec] = best
    kept = [note for index, note in enumerate(notes) if index not in ends]
    return _cut_short(in_time([*kept, *found.values()]))


def _ends_of_notes(
    notes: Sequence[HeardNote], reference: TakeReference, alignment: Alignment
) -> set[int]:
    """Return which onsets stand for plain notes but are too soft, and too unclear, for a stroke."""
    found = set()
    for pair in alignment.pairs:
        heard, due = notes[pair.heard], reference.notes[pair.expected]
        is_soft = heard.is_ghost and heard.strength < CLEAR_STROKE
        if is_soft and not due.is_ghost and not due.is_slurred:
            found.add(pair.heard)
    return found


def _unheard(reference: TakeReference, alignment: Alignment) -> Iterator[tuple[int, float]]:
    """Yield the notes that were not heard while the player played, and where they were due."""
    paired = {pair.expected for pair in alignment.pairs}
    for index in due_range(reference, alignment):
        if index not in paired and alignment.pieces[index] >= 0:
            yield index, alignment.predicted_secs[index]


def _least_strength(free: Sequence[HeardNote], alignment: Alignment) -> float:
    """Return how strong a weak onset must be not to be there by chance.

    As many as there are where no note is due, a second, are taken to be everywhere.
    """
    due = sorted(alignment.predicted_secs)
    begin, end = (alignment.predicted_secs[at] for at in (alignment.first, alignment.last))
    idle = sorted(
        (
            note.strength
            for note in free
            if begin < note.sec < end and _distance(due, note.sec) > DUE_SEC
        ),
        reverse=True,
    )
    within = [sec for sec in due if begin <= sec <= end]
    idle_sec = max(1.0, end - begin - 2 * DUE_SEC * len(within))
    most = int(BY_CHANCE * idle_sec / (2 * DUE_SEC))
    return idle[most] if most < len(idle) else 0.0


def _may_be(heard: HeardNote, due: ExpectedNote) -> bool:
    """Return whether an onset has the pitch and the loudness of a note.

    What is far softer than its neighbours is a ghost, the end of a note or an echo.  A ghost has
    no pitch of its own: what is heard there is what sounds on, or the hum of the mains.
    """
    return due.is_ghost or (not heard.is_ghost and not _is_other(heard, due.pitches))


def _is_other(note: HeardNote, pitches: Sequence[int]) -> bool:
    """Return whether a note surely has another pitch than is due: another one rings on."""
    if note.pitch is None or note.pitch_confidence < SURE_PITCH or not pitches:
        return False
    return min(abs(note.pitch - pitch) for pitch in pitches) > HALF_A_TONE


def _distance(places: Sequence[float], sec: float) -> float:
    """Return how far the nearest of some rising places is."""
    at = bisect_left(places, sec)
    return min((abs(place - sec) for place in places[max(0, at - 1) : at + 1]), default=1e9)


def _cut_short(notes: Sequence[HeardNote]) -> tuple[HeardNote, ...]:
    """Return notes of which none sounds into the next one: it is one string after the other."""
    following = [*(note.sec for note in notes[1:]), float("inf")]
    return tuple(
        note if note.end_sec is None or note.end_sec <= after else replace(note, end_sec=after)
        for note, after in zip(notes, following, strict=True)
    )
