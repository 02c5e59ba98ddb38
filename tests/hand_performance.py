"""Performances built by hand, and their MIDI by way of mido: what the sound room's tests render."""

import io
from collections.abc import Sequence
from random import Random

import mido

from groove.bar_place import BarRef
from groove.events import Note, Origin, Part, Performance, Role, note_order
from groove.timing import TempoChange, TempoMap

PROGRAMS = ((Part.BASS, 33), (Part.DRUMS, 0), (Part.KEYS, 4))
LEVELS = {Part.BASS: (104, 64), Part.DRUMS: (100, 64), Part.KEYS: (92, 52), Part.CLICK: (96, 64)}
MIDI_CHANNELS = {Part.BASS: 1, Part.KEYS: 2, Part.DRUMS: 9, Part.CLICK: 9}

_BAR = BarRef(
    section="verse", occurrence=1, pass_number=1, bar_in_section=1, written_bar=1, played_bar=1
)
_ORIGIN = Origin(bar=_BAR, cell="by hand", role=Role.STROKE)


def note(part: Part, tick: int, length: int, pitch: int, velocity: int = 100) -> Note:
    return Note(
        part=part,
        grid_tick=tick,
        length_ticks=length,
        pitch=pitch,
        velocity=velocity,
        origin=_ORIGIN,
    )


def performance(
    notes: Sequence[Note],
    *,
    end_tick: int,
    tempi: Sequence[tuple[int, int]] = ((0, 500_000),),
    programs: tuple[tuple[Part, int], ...] = PROGRAMS,
) -> Performance:
    return Performance(
        title="By Hand",
        notes=tuple(sorted(notes, key=note_order)),
        bars=(),
        tempo_map=TempoMap(tuple(TempoChange(*tempo) for tempo in tempi)),
        markers=(),
        programs=programs,
        end_tick=end_tick,
    )


def band(quarters: int, *, seed: int = 1, velocity: int = 90) -> Performance:
    """A bass in sixteenths, a kit and four-note keys: some 17 notes a second at 120 bpm."""
    draw = Random(seed)
    notes = []
    for quarter in range(quarters):
        start = quarter * 960
        for step in range(4):
            at = start + 240 * step
            if draw.random() < 0.9:
                notes.append(note(Part.BASS, at, 200, 33 + int(draw.random() * 12), velocity))
            if step % 2 == 0:
                notes.append(note(Part.DRUMS, at, 100, 42, velocity - 20))
        notes.append(note(Part.DRUMS, start, 100, 38 if quarter % 2 else 36, velocity + 10))
        if quarter % 2 == 0:
            notes += [note(Part.KEYS, start, 1800, pitch, velocity - 30) for pitch in (60, 64, 71)]
    return performance(notes, end_tick=quarters * 960)


def midi(song: Performance, parts: Sequence[Part]) -> bytes:
    """The same music as one format 0 track; every note has its own on and off."""
    events: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [
        (change.tick, 0, mido.MetaMessage("set_tempo", tempo=change.microseconds))
        for change in song.tempo_map.changes
    ]
    for part in parts:
        channel, (level, pan) = MIDI_CHANNELS[part], LEVELS[part]
        program = dict(song.programs).get(part, 0)
        events += [
            (0, 1, mido.Message("program_change", channel=channel, program=program)),
            (0, 1, mido.Message("control_change", channel=channel, control=7, value=level)),
            (0, 1, mido.Message("control_change", channel=channel, control=10, value=pan)),
        ]
        for n in song.part_notes(part):
            on = mido.Message("note_on", channel=channel, note=n.pitch, velocity=n.velocity)
            off = mido.Message("note_off", channel=channel, note=n.pitch)
            events += [(n.onset_tick, 3, on), (n.end_tick, 2, off)]
    track = mido.MidiTrack()
    before = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - before))
        before = tick
    file = mido.MidiFile(type=0, ticks_per_beat=960)
    file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()
