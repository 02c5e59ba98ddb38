"""Takes and references from files: MIDI by its events, sound by what is heard in it."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from math import log10
from pathlib import Path

from groove.articulation import GHOST_SEC, GHOST_VELOCITY_SHARE
from groove.io.midi_contents import (
    NoteOn,
    TrackName,
)
from groove.io.midi_song import MidiBar, MidiClock, MidiSong, read_midi_song
from groove.take.heard import HeardNote, HeardTake, in_time
from groove.take.reference import (
    ExpectedBar,
    ExpectedNote,
    TakeReference,
    slot_place,
    together,
)
from groove.theory.general_midi import DRUM_CHANNEL

_EARLY = Fraction(1, 16)
"""A note this little before a bar line, in quarters, is the next bar's: a hand is no machine."""
_REPORT = Callable[[str], None]


def read_midi_take(name: str, report: _REPORT) -> HeardTake:
    """Return what a MIDI file's bass track plays.  Raises MidiError, OptionError."""
    file = read_midi_song(name, report)
    clock = file.clock
    notes = []
    for note in file.track.notes:
        sec, end = clock.sec(note.start), clock.sec(note.end)
        notes.append(
            HeardNote(
                sec=sec,
                end_sec=end,
                level_db=40 * log10(note.velocity / 127),
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
        length_sec=clock.sec(file.track.end),
        click_secs=tuple(clicks),
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
    file = read_midi_song(name, report)
    spans = list(file.bars())
    first = spans[0].meter
    qpm = file.clock.qpm(Fraction(0))
    named = (event.text for event in file.contents.tracks[0] if isinstance(event, TrackName))
    return TakeReference(
        title=next(named, "") or Path(name).stem,
        notes=tuple(together(_expected_notes(file, spans))),
        bars=tuple(_expected_bars(spans, file.clock)),
        tempo_bpm=qpm / float(first.tempo_unit_quarters),
        beat_sec=60 / qpm * float(first.beat_quarters),
    )


def _expected_bars(spans: Sequence[MidiBar], clock: MidiClock) -> Iterator[ExpectedBar]:
    for number, bar in enumerate(spans, 1):
        yield ExpectedBar(
            number=number,
            section=bar.section,
            time=1,
            start_sec=clock.sec(bar.start),
            end_sec=clock.sec(bar.start + bar.meter.bar_quarters),
            meter=bar.meter,
        )


def _expected_notes(file: MidiSong, spans: Sequence[MidiBar]) -> list[ExpectedNote]:
    loud = sorted(note.velocity for note in file.track.notes)
    ghost_velocity = GHOST_VELOCITY_SHARE * loud[len(loud) // 2]
    notes = []
    at = 0
    for note in file.track.notes:
        while at + 1 < len(spans) and note.start + _EARLY >= spans[at + 1].start:
            at += 1
        sec, end = file.clock.sec(note.start), file.clock.sec(note.end)
        slot = slot_place(max(Fraction(0), note.start - spans[at].start) * 4)
        notes.append(
            ExpectedNote(
                sec=sec,
                length_sec=end - sec,
                pitches=(note.pitch,),
                bar=at,
                beat=1 + slot / 4 / float(spans[at].meter.beat_quarters),
                slot=slot,
                velocity=note.velocity,
                is_ghost=end - sec <= GHOST_SEC and note.velocity <= ghost_velocity,
            )
        )
    return notes
