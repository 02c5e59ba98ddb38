"""What the player wrote under a bar or in a riff, moved to another key."""

from dataclasses import replace

from msgspec import structs

from groove.cells.model import AimKind
from groove.cells.tokens import is_struck, parse_token, token_text
from groove.chart.model import Riff, Slot, TabLine, TokenLine, WrittenNote
from groove.errors import ChartError
from groove.neck.instrument import Tuning, tunings_with
from groove.theory.pitch import pitch_name

HIGHEST_FRET = 24


def moved_line(line: TabLine | TokenLine | None, semitones: int) -> TabLine | TokenLine | None:
    """Return what is written under a bar, moved: by pitch, on the same strings where they reach.

    Raises ChartError for a note that would lie off the neck.
    """
    if line is None or not semitones:
        return line
    if isinstance(line, TokenLine):
        return replace(line, slots=tuple(moved_slot(slot, semitones) for slot in line.slots))
    tuning = Tuning("", line.open_pitches)
    notes = tuple(moved_note(note, semitones, tuning) for note in line.notes)
    return replace(line, notes=notes)


def moved_note(note: WrittenNote, semitones: int, tuning: Tuning) -> WrittenNote:
    """Return a note moved: fretted where it was a harmonic; a ghost stays with the hand."""
    if note.pitch is None:
        return note
    pitch = note.pitch + semitones
    places = tuning.places(pitch, HIGHEST_FRET - note.bend_semitones)
    if not places:
        raise off_neck(note, pitch)
    string, fret = min(places, key=lambda place: (abs(place[0] - note.string), place[1]))
    return replace(note, pitch=pitch, string=string, fret=fret, is_harmonic=False)


def off_neck(note: WrittenNote, pitch: int) -> ChartError:
    """Return the error for a written note that the neck has not in another key."""
    having = [tuning.name for tuning in tunings_with([pitch], HIGHEST_FRET)]
    other = f", or a tuning that has it: {', '.join(having)}" if having else ""
    return ChartError(
        f"this note moves to {pitch_name(pitch)}, which is not on the neck",
        place=note.place,
        hint=f"expected another key{other}",
    )


def moved_slot(slot: Slot, semitones: int) -> Slot:
    """Return a slot with its fixed note moved; what follows the chord moves by itself."""
    aim = parse_token(slot.token) if is_struck(slot.token) else None
    if aim is None or aim.kind is not AimKind.FIXED:
        return slot
    pitch = aim.pitch + semitones
    if not 0 <= pitch <= 127:
        hint = "expected another key, or a note between"
        raise ChartError("this note leaves MIDI's range", place=slot.place, hint=hint)
    return replace(slot, token=token_text(structs.replace(aim, pitch=pitch)))


def moved_riff(riff: Riff, semitones: int) -> Riff:
    """Return a riff with its fixed notes moved."""
    rows = tuple(
        replace(
            row,
            bars=tuple(tuple(moved_slot(slot, semitones) for slot in bar) for bar in row.bars),
        )
        for row in riff.rows
    )
    return replace(riff, rows=rows)
