"""Lines written by hand as MIDI files, and lines studied: what several tests here begin with."""

from collections.abc import Sequence
from pathlib import Path

import mido

from groove.io.library import load_library
from groove.io.studied import read_line
from groove.study.result import Study, study_line

LIBRARY = load_library(None)
C2, E2, G2, C3, G1, B1, FS1 = 36, 40, 43, 48, 31, 35, 30


def studied(file: Path, chart: Path | None) -> Study:
    line = read_line(str(file), str(chart) if chart else None, lambda _: None)
    return study_line(
        line.notes,
        line.frames,
        LIBRARY.bass,
        title=line.title,
        part=line.part,
        feels=LIBRARY.feels.values(),
    )


def midi_file(folder: Path, notes: Sequence[tuple[float, float, int, int]], meter: int = 4) -> Path:
    """Write a bass track by mido: start and length in quarters, pitch, velocity."""
    song = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track.append(mido.MetaMessage("track_name", name="Two Chairs", time=0))
    track.append(mido.MetaMessage("time_signature", numerator=meter, denominator=4, time=0))
    track.append(mido.Message("program_change", program=33, time=0))
    events = []
    for start, length, pitch, velocity in notes:
        events.append((round(start * 480), "note_on", pitch, velocity))
        events.append((round((start + length) * 480), "note_off", pitch, 0))
    now = 0
    for tick, kind, pitch, velocity in sorted(events, key=lambda event: (event[0], event[1])):
        track.append(mido.Message(kind, note=pitch, velocity=velocity, time=tick - now))
        now = tick
    file = folder / "line.mid"
    song.save(file)
    return file
