"""What the player wrote under a bar or in a riff, moved to another key."""

from collections.abc import Sequence

from msgspec.structs import replace

from groove.cells.model import AimKind
from groove.cells.tokens import is_struck, parse_token, token_text
from groove.chart.model import Riff, Slot, TabLine, TokenLine, WrittenNote
from groove.errors import ChartError
from groove.neck.instrument import HIGHEST_FRET, Tuning, tunings_with
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name


def moved_line(
    line: TabLine | TokenLine | None, semitones: int, key: Key | None = None
) -> TabLine | TokenLine | None:
    """Return what is written under a bar, moved: by pitch, on the same strings where they reach.

    ``key`` is the one it moves to, where that is known.  Raises ChartError for a note that would
    lie off the neck, with the keys and tunings that have it.
    """
    if line is None or not semitones:
        return line
    if isinstance(line, TokenLine):
        return replace(line, slots=tuple(_moved_slot(slot, semitones) for slot in line.slots))
    tuning = Tuning("", line.open_pitches)
    notes = tuple(_moved_note(note, semitones, tuning) for note in line.notes)
    check_on_neck(notes, tuning, key)
    return replace(line, notes=notes)


def _moved_note(note: WrittenNote, semitones: int, tuning: Tuning) -> WrittenNote:
    """Return a note moved: fretted where it was a harmonic; a ghost stays with the hand."""
    if note.pitch is None:
        return note
    string, fret = _nearest_place(note, note.pitch + semitones, tuning)
    pitch = note.pitch + semitones
    return replace(note, pitch=pitch, string=string, fret=fret, is_harmonic=False)


def _nearest_place(note: WrittenNote, pitch: int, tuning: Tuning) -> tuple[int, int]:
    """Return string and fret of a pitch, on the note's own string where that has it.

    A pitch that the neck has not lies below the nut of the lowest string or beyond the last fret.
    """
    places = tuning.places(pitch, HIGHEST_FRET - note.bend_semitones)
    string = tuning.string_count if pitch < tuning.lowest_pitch else 1
    near = ((abs(place[0] - note.string), place[1], place) for place in places)
    return min(near, default=(0, 0, (string, pitch - tuning.open_pitch(string))))[2]


def retuned_line(line: TabLine | TokenLine | None, tuning: Tuning) -> TabLine | TokenLine | None:
    """Return what is written under a bar for another instrument: the same pitches.

    On the same strings where there are such; what the neck has not is left to ``check_on_neck``.
    """
    if not isinstance(line, TabLine) or line.open_pitches == tuning.open_pitches:
        return line
    written = Tuning("", line.open_pitches)
    notes = tuple(_retuned_note(note, written, tuning) for note in line.notes)
    return replace(line, open_pitches=tuning.open_pitches, notes=notes)


def _retuned_note(note: WrittenNote, written: Tuning, tuning: Tuning) -> WrittenNote:
    """Return a note on the string that is tuned as its own was, else on the nearest that has it."""
    own = written.open_pitch(note.string)
    same = next((each for each in tuning.strings if tuning.open_pitch(each) == own), None)
    if same is not None:
        return replace(note, string=same)
    if note.pitch is None:
        return replace(note, string=min(note.string, tuning.string_count))
    string, fret = _nearest_place(note, note.pitch, tuning)
    return replace(note, string=string, fret=fret, is_harmonic=False)


def check_on_neck(notes: Sequence[WrittenNote], tuning: Tuning, key: Key | None) -> None:
    """Refuse a written note that the neck has not, with the keys and tunings that have it.

    ``key`` is the key that the notes sound in, None where it is not known.
    """
    for note in notes:
        if note.pitch is not None and note.fret is not None and not 0 <= note.fret <= HIGHEST_FRET:
            sounding = [each.pitch for each in notes if each.pitch is not None]
            up = tuning.lowest_pitch - min(sounding)
            raise _off_neck(note, note.pitch, up, key)


def _off_neck(note: WrittenNote, pitch: int, up: int, key: Key | None) -> ChartError:
    """Return the error for a written note that the neck has not; ``up`` semitones higher it has."""
    having = [tuning.name for tuning in tunings_with([pitch], HIGHEST_FRET)]
    cures = [f"a tuning that has it: {', '.join(having)}"] if having else []
    if up > 0:
        steps = f"{up} half step{'s' if up > 1 else ''} higher or more"
        keys = [key.moved(semitones).name for semitones in range(up, up + 3)] if key else []
        cures.insert(0, f"a key {steps}" + (f", as {', '.join(keys)}" if keys else ""))
    return ChartError(
        f"this note comes to {pitch_name(pitch)}, which is not on the neck",
        place=note.place,
        hint="expected " + ("; or ".join(cures) or "a lower key"),
    )


def _moved_slot(slot: Slot, semitones: int) -> Slot:
    """Return a slot with its fixed note moved; what follows the chord moves by itself."""
    aim = parse_token(slot.token) if is_struck(slot.token) else None
    if aim is None or aim.kind is not AimKind.FIXED:
        return slot
    pitch = aim.pitch + semitones
    if not 0 <= pitch <= 127:
        hint = "expected another key, or a note between"
        raise ChartError("this note leaves MIDI's range", place=slot.place, hint=hint)
    return replace(slot, token=token_text(replace(aim, pitch=pitch)))


def moved_riff(riff: Riff, semitones: int) -> Riff:
    """Return a riff with its fixed notes moved."""
    rows = tuple(
        replace(
            row,
            bars=tuple(tuple(_moved_slot(slot, semitones) for slot in bar) for bar in row.bars),
        )
        for row in riff.rows
    )
    return replace(riff, rows=rows)
