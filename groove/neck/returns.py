"""What comes again is played where it was, as far as the hand allows: bars, and the first root.

A player learns a bar once, and who starts on the fifth fret means the position (common practice,
no source).  Bars are told apart by their names: a line is fingered whole, before it is cut.
"""

from collections.abc import Sequence

from groove.events import Note
from groove.neck.hand import Grip
from groove.neck.shapes import ROOTS, Asked


def as_the_first_time(
    notes: Sequence[Note], asked: Sequence[Asked], grips: Sequence[Grip]
) -> list[Asked]:
    """Return what is asked, with the first time's places in bars that came out differently.

    Two played bars are the same one if they stand in the same place of the chart and have the
    same notes.
    """
    returning: dict[tuple[object, ...], list[slice]] = {}
    for bar in _bar_slices(notes):
        returning.setdefault(_bar_key(notes[bar]), []).append(bar)
    places = [(grip.string, grip.fret) for grip in grips]
    known = list(asked)
    for bars in returning.values():
        model = places[bars[0]]
        if all(places[bar] == model for bar in bars):
            continue
        for bar in bars:
            pairs = zip(asked[bar], model, strict=True)
            known[bar] = [one._replace(known=place) for one, place in pairs]
    return known


def from_the_start(
    notes: Sequence[Note], asked: Sequence[Asked], first: int, place: tuple[int, int]
) -> list[Asked]:
    """Return what is asked, the first root wanted at its (string, fret) wherever it comes again.

    ``first`` is the index of that root.
    """
    return [
        one._replace(known=place)
        if note.origin.role in ROOTS and note.pitch == notes[first].pitch
        else one
        for note, one in zip(notes, asked, strict=True)
    ]


def _bar_slices(notes: Sequence[Note]) -> list[slice]:
    starts = [
        index
        for index, note in enumerate(notes)
        if not index or note.origin.bar != notes[index - 1].origin.bar
    ]
    return [slice(start, end) for start, end in zip(starts, [*starts[1:], len(notes)], strict=True)]


def _bar_key(notes: Sequence[Note]) -> tuple[object, ...]:
    bar = notes[0].origin.bar
    return (bar.section, bar.written_bar, *((note.origin.step, note.pitch) for note in notes))
