"""A studied line as bars of notes that can be laid under a chart, and what a draft says of it."""

from collections.abc import Iterator
from fractions import Fraction

from groove.errors import SourcePlace
from groove.neck.line_places import LineBar, LineNote
from groove.study.note_kinds import PlacedNote
from groove.study.result import Study, is_triplets


def line_bars(study: Study, source: str) -> Iterator[LineBar]:
    """Yield each bar of a line on its slots; what lasts over a bar line is tied to the next bar."""
    before: PlacedNote | None = None
    left = list(reversed(study.notes))
    for bar in study.bars:
        start = bar.frame.start_quarters
        end = start + bar.frame.meter.bar_quarters
        notes = []
        if before and before.end_quarters > start:
            lasts = min(before.end_quarters, end) - start
            notes.append(
                LineNote(
                    start_quarters=Fraction(0),
                    length_quarters=lasts,
                    pitch=before.note.pitch,
                    is_tied=True,
                    is_ghost=before.note.is_ghost,
                )
            )
        while left and left[-1].start_quarters < end:
            before = left.pop()
            notes.append(
                LineNote(
                    start_quarters=before.start_quarters - start,
                    length_quarters=min(before.end_quarters, end) - before.start_quarters,
                    pitch=before.note.pitch,
                    is_ghost=before.note.is_ghost,
                )
            )
        yield LineBar(
            notes=tuple(notes),
            meter=bar.frame.meter,
            name=f"bar {bar.frame.number}",
            place=SourcePlace(source=source, line=1, column=1, text=""),
        )


def with_feel(draft: str, study: Study) -> str:
    """Return a draft that states the feel which is nearest to its line, and the line's own swing.

    What it states already stays.
    """
    lines = draft.splitlines()
    stated = {line.partition(":")[0].strip() for line in lines}
    told, own = [], []
    if study.feels and "feel" not in stated:
        nearest = study.feels[0]
        told.append(f"# the feel is the nearest one, {nearest.distance:.1f} notes a bar apart")
        own.append(f"feel: {nearest.name}")
    swing = study.swing
    if swing and swing.percent and "swing" not in stated and not is_triplets(swing.percent):
        own.append(f"swing: {swing}")
    after = next((n for n, line in enumerate(lines, 1) if line.startswith("tempo:")), 0)
    return "\n".join([*told, *lines[:after], *own, *lines[after:]]) + "\n"
