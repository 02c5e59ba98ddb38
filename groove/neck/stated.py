"""What is told of the places that a player wrote, which no fingering moves."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import attrgetter

from groove.events import Note
from groove.neck.instrument import fret_ruler
from groove.neck.options import HAND_SPAN_MM, NeckOptions
from groove.notices import Notice, NoticeKind


def stated_notices(notes: Sequence[Note], options: NeckOptions) -> Iterator[Notice]:
    """Yield what is told of written places, each kind once.

    That is the highest above the fret that was asked for, and the first two at once that one hand
    does not reach.
    """
    written = [(note.stated_place.fret, note) for note in notes if note.stated_place]
    fret, highest = max(written, key=lambda pair: pair[0], default=(0, None))
    if highest and options.max_fret is not None and fret > options.max_fret:
        yield Notice(
            kind=NoticeKind.ABOVE_FRET,
            bar=highest.origin.bar.written_bar,
            values=(("fret", options.max_fret), ("highest", fret)),
        )
    ruler_mm = fret_ruler(options.fret_count, options.scale_length_mm)
    for _, at_once in groupby((note for _, note in written), key=attrgetter("grid_tick")):
        struck = list(at_once)
        frets = [note.stated_place.fret for note in struck if note.stated_place]
        fretted = [fret for fret in frets if 0 < fret <= options.fret_count]
        if fretted and ruler_mm[max(fretted)] - ruler_mm[min(fretted)] > HAND_SPAN_MM:
            yield Notice(
                kind=NoticeKind.STRETCH,
                bar=struck[0].origin.bar.written_bar,
                values=(("low", min(fretted)), ("high", max(fretted))),
            )
            return
