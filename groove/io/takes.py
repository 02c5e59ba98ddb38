"""Takes and references from files: MIDI by its events, sound by what is heard in it."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from math import log10
from pathlib import Path
from typing import TypeVar

from msgspec import Struct

from groove.errors import MidiError
from groove.events import Marker
from groove.io.charts import read_limited
from groove.io.gate import Gate
from groove.io.lined import MIDI_FILE
from groove.io.midi_contents import (
    LARGEST_MIDI_BYTES,
    MeterChange,
    MidiContents,
    NoteOn,
    TrackEnd,
    TrackName,
    read_midi,
)
from groove.io.midi_track import FileNote, bass_track
from groove.take.heard import HeardNote, HeardTake, in_time
from groove.take.reference import (
    GHOST_SEC,
    GHOST_VELOCITY_SHARE,
    ExpectedBar,
    ExpectedNote,
    TakeReference,
    slot_place,
    together,
)
from groove.text.notices import notice_texts
from groove.theory.general_midi import DRUM_CHANNEL
from groove.timing import Meter, TempoChange

_FOUR_FOUR = Meter(4, 4)
_USUAL_MICROSECONDS = 500_000
"""A file without a tempo is played at 120 quarters a minute (Standard MIDI Files 1.0)."""
_EARLY = Fraction(1, 16)
"""A note this little before a bar line, in quarters, is the next bar's: a hand is no machine."""
_REPORT = Callable[[str], None]
_Change = TypeVar("_Change")


class _Clock:
    """From quarters to seconds by the tempo changes of all tracks."""

    def __init__(self, contents: MidiContents) -> None:
        per_quarter = contents.ticks_per_quarter
        changes = {
            Fraction(event.tick, per_quarter): event.microseconds
            for track in contents.tracks
            for event in track
            if isinstance(event, TempoChange)
        }
        changes.setdefault(Fraction(0), _USUAL_MICROSECONDS)
        self.places = sorted(changes)
        self.microseconds = [changes[place] for place in self.places]
        self.sums = [0.0]
        for index, place in enumerate(self.places[1:]):
            length = float(place - self.places[index])
            self.sums.append(self.sums[-1] + length * self.microseconds[index] / 1e6)

    def index(self, quarters: Fraction) -> int:
        """Return which tempo is in force."""
        return max(0, sum(place <= quarters for place in self.places) - 1)

    def sec(self, quarters: Fraction) -> float:
        """Return the time of a place in seconds."""
        at = self.index(quarters)
        return self.sums[at] + float(quarters - self.places[at]) * self.microseconds[at] / 1e6

    def qpm(self, quarters: Fraction) -> float:
        """Return the quarters a minute at a place."""
        return 60e6 / self.microseconds[self.index(quarters)]


class _MidiFile(Struct, frozen=True, kw_only=True):
    """A MIDI file, read: what it holds, its clock, its bass, and how hard each note is struck."""

    contents: MidiContents
    clock: _Clock
    notes: tuple[FileNote, ...]
    end: Fraction
    velocities: dict[tuple[Fraction, int], int]


def is_midi(name: str) -> bool:
    """Return whether a file is named as a MIDI file, with or without a track of it."""
    return MIDI_FILE.fullmatch(name) is not None and re.search(r"\.midi?(:|$)", name) is not None


def _read(name: str, report: _REPORT) -> _MidiFile:
    """Return a MIDI file with its bass track.  Raises MidiError, OptionError."""
    found = MIDI_FILE.fullmatch(name)
    file, wanted = (found["file"], found["track"] or "") if found else (name, "")
    data = read_limited(file, LARGEST_MIDI_BYTES, "expected a MIDI file's name")
    try:
        contents = read_midi(data)
    except MidiError as error:
        raise MidiError(f"{file}: {error.message}", hint=error.hint) from None
    gate = Gate(file)
    track = bass_track(contents, wanted, gate)
    for notice in notice_texts(gate.notices()):
        if f"{file}:N" in notice:  # another track would do as well
            report(notice)
    velocities = {
        (Fraction(event.tick, contents.ticks_per_quarter), event.pitch): event.velocity
        for events in contents.tracks
        for event in events
        if isinstance(event, NoteOn) and event.channel != DRUM_CHANNEL
    }
    return _MidiFile(
        contents=contents,
        clock=_Clock(contents),
        notes=track.notes,
        end=track.end,
        velocities=velocities,
    )


def read_midi_take(name: str, report: _REPORT) -> HeardTake:
    """Return what a MIDI file's bass track plays.  Raises MidiError, OptionError."""
    file = _read(name, report)
    clock = file.clock
    notes = []
    for note in file.notes:
        velocity = file.velocities.get((note.start, note.pitch), 64)
        sec, end = clock.sec(note.start), clock.sec(note.end)
        notes.append(
            HeardNote(
                sec=sec,
                end_sec=end,
                level_db=40 * log10(velocity / 127),
                pitch=float(note.pitch),
                pitch_confidence=1.0,
            )
        )
    per_quarter = file.contents.ticks_per_quarter
    clicks = sorted(
        clock.sec(Fraction(event.tick, per_quarter))
        for track in file.contents.tracks
        for event in track
        if isinstance(event, NoteOn) and event.channel == DRUM_CHANNEL
    )
    return HeardTake(
        notes=_single(in_time(notes)),
        length_sec=clock.sec(file.end),
        click_secs=tuple(clicks),
        is_exact=True,
    )


def _single(notes: Sequence[HeardNote]) -> tuple[HeardNote, ...]:
    """Return notes of which two that begin together are one, the lower."""
    kept: list[HeardNote] = []
    for note in notes:
        if kept and note.sec - kept[-1].sec < 0.008:
            if (note.pitch or 0) < (kept[-1].pitch or 0):
                kept[-1] = note
            continue
        kept.append(note)
    return tuple(kept)


def read_midi_reference(name: str, report: _REPORT) -> TakeReference:
    """Return the bass part of a MIDI file at its written tempo.  Raises MidiError, OptionError.

    Its bars are counted from 1 by the file's meters.
    """
    file = _read(name, report)
    clock = file.clock
    spans = list(_bars(file.contents, file.end))
    bars = []
    for number, (start, length, meter, section) in enumerate(spans, 1):
        bars.append(
            ExpectedBar(
                number=number,
                section=section,
                time=1,
                start_sec=clock.sec(start),
                end_sec=clock.sec(start + length),
                meter=meter,
            )
        )
    loud = sorted(file.velocities.get((note.start, note.pitch), 64) for note in file.notes)
    usual = loud[len(loud) // 2]
    notes = []
    at = 0
    for note in file.notes:
        while at + 1 < len(spans) and note.start + _EARLY >= spans[at + 1][0]:
            at += 1
        start, _, meter, _ = spans[at]
        velocity = file.velocities.get((note.start, note.pitch), 64)
        sec, end = clock.sec(note.start), clock.sec(note.end)
        slot = slot_place(max(Fraction(0), note.start - start) * 4)
        is_ghost = end - sec <= GHOST_SEC and velocity <= GHOST_VELOCITY_SHARE * usual
        notes.append(
            ExpectedNote(
                sec=sec,
                length_sec=end - sec,
                pitches=(note.pitch,),
                bar=at,
                beat=1 + slot / 4 / float(meter.beat_quarters),
                slot=slot,
                velocity=velocity,
                is_ghost=is_ghost,
            )
        )
    first = spans[0][2]
    qpm = clock.qpm(Fraction(0))
    title = next(
        (event.text for event in file.contents.tracks[0] if isinstance(event, TrackName)), ""
    )
    return TakeReference(
        title=title or Path(name).stem,
        notes=tuple(together(notes)),
        bars=tuple(bars),
        tempo_bpm=qpm / float(first.tempo_unit_quarters),
        beat_sec=60 / qpm * float(first.beat_quarters),
    )


def _bars(contents: MidiContents, end: Fraction) -> Iterator[tuple[Fraction, Fraction, Meter, str]]:
    """Yield start, length, meter and section of each bar up to the end of the track."""
    per_quarter = contents.ticks_per_quarter
    events = [event for track in contents.tracks for event in track]
    meters = {
        Fraction(event.tick, per_quarter): event.meter
        for event in events
        if isinstance(event, MeterChange)
    }
    sections = {
        Fraction(event.tick, per_quarter): event.text
        for event in events
        if isinstance(event, Marker)
    }
    ends = [event.tick for event in events if isinstance(event, TrackEnd)]
    last = max([end, *(Fraction(tick, per_quarter) for tick in ends)])
    at = Fraction(0)
    while at < last or at == 0:
        meter = _in_force(meters, at) or _FOUR_FOUR
        yield at, meter.bar_quarters, meter, _in_force(sections, at) or ""
        at += meter.bar_quarters


def _in_force(changes: Mapping[Fraction, _Change], at: Fraction) -> _Change | None:
    """Return the last change up to a place."""
    return next((changes[place] for place in sorted(changes, reverse=True) if place <= at), None)
