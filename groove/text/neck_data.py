"""A fingered line as plain data: what ``--json`` gives of the notes under the hand."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from groove.events import Bar, Note, placed
from groove.neck.fingering import FingeredLine
from groove.neck.line_figures import bars_by_number, beat_of, fingering_figures
from groove.text.reasons import reason_text


def neck_data(line: FingeredLine, bars: Sequence[Bar]) -> dict[str, Any]:
    """Return the line as the JSON object of ``groove neck``: notes, shifts, travel, rakes."""
    numbered = bars_by_number(bars)
    return {
        "format": 1,
        "tuning": line.tuning.name,
        "open_strings": str(line.tuning).split(),
        "notes": [_note_data(note, numbered) for note in line.notes],
        "shifts": [_shift_data(line, index, numbered) for index in range(len(line.shifts))],
        "travel_mm": round(line.travel_mm, 1),
        "rakes": line.rakes,
        "same_finger_repeats": line.same_finger_repeats,
    }


def compare_data(lines: Sequence[FingeredLine]) -> dict[str, Any]:
    """Return several ways of one line as a JSON object: each way's position and its figures."""
    return {
        "format": 1,
        "ways": [
            {"position_fret": line.options.position_fret, **asdict(fingering_figures(line))}
            for line in lines
        ],
    }


def _note_data(note: Note, bars: Mapping[int, Bar]) -> dict[str, Any]:
    """Return one placed note as plain values; string 1 is the highest, beats count from 1."""
    place, origin = placed(note), note.origin
    at = origin.written_at
    return {
        "bar": origin.bar.written_bar,
        "played_bar": origin.bar.played_bar,
        "beat": beat_of(note, bars),
        "pitch": note.pitch,
        "touch": note.touch.value,
        "bend_semitones": note.bend_semitones,
        "vibrato": note.has_vibrato,
        "string": place.string,
        "fret": place.fret,
        "finger": place.finger,
        "pluck": place.pluck,
        "position_fret": place.position_fret,
        "origin": {
            "section": origin.bar.section,
            "chord": origin.symbol,
            "cell": origin.cell,
            "step": origin.step,
            "role": origin.role.value,
            "detail": reason_text(origin),
            "maker": origin.maker.value,
            "written_at": {"line": at.line, "column": at.column} if at else None,
        },
    }


def _shift_data(line: FingeredLine, index: int, bars: Mapping[int, Bar]) -> dict[str, Any]:
    """Return one shift as plain values, with the bar and beat of the note it leads to."""
    shift = line.shifts[index]
    note = line.notes[shift.note_index]
    return {
        "bar": note.origin.bar.written_bar,
        "played_bar": note.origin.bar.played_bar,
        "beat": beat_of(note, bars),
        "from_fret": shift.from_fret,
        "to_fret": shift.to_fret,
        "travel_mm": round(shift.travel_mm, 1),
        "time_ms": round(shift.time_ms, 1),
        "hard": shift.is_hard,
    }
