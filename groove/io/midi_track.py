"""The bass track of a MIDI file: by its program, its name, and how low and how single it sounds."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from statistics import fmean

from msgspec import Struct

from groove.errors import OptionError, joined_hints, nearest_hint
from groove.io.gate import one_line, shortened
from groove.io.midi_contents import (
    MidiContents,
    MidiEvent,
    NoteOff,
    NoteOn,
    ProgramChange,
    TrackEnd,
    TrackName,
)
from groove.io.musicxml_parts import BASS_NAME, NO_BASS
from groove.theory.general_midi import BASS_PROGRAMS, DRUM_CHANNEL

_MOST_SHOWN = 12


class FileNote(Struct, frozen=True, order=True):
    """A note of a file: start and end in quarters from its beginning, pitch, velocity 1-127."""

    start: Fraction
    end: Fraction
    pitch: int
    velocity: int


class Track(Struct, frozen=True, kw_only=True):
    """The notes of one channel of one track; ``end`` is where the track ends, in quarters."""

    number: int
    name: str
    program: int
    notes: tuple[FileNote, ...]
    end: Fraction

    @property
    def words(self) -> str:
        """The track as it is named in messages: ``2 bass``."""
        return f"{self.number} {self.name}".strip()

    @property
    def is_bass(self) -> bool:
        """Whether its sound or its name says that it is a bass."""
        is_named = bool(BASS_NAME.search(self.name)) and not NO_BASS.search(self.name)
        return self.program in BASS_PROGRAMS or is_named

    @property
    def why(self) -> str:
        """What speaks for its being the bass, in words."""
        reasons = []
        if self.program in BASS_PROGRAMS:
            reasons.append(f"a bass sound (program {self.program + 1})")
        elif self.is_bass:
            reasons.append("named a bass")
        single = round(float(self.single_share) * 100)
        return ", ".join(
            [*reasons, f"{single}% of its notes alone", f"mean {round(self.mean_pitch)}"]
        )

    @property
    def single_share(self) -> Fraction:
        """The share of its notes that begin alone."""
        starts = [note.start for note in self.notes]
        return Fraction(len(set(starts)), len(starts))

    @property
    def mean_pitch(self) -> float:
        """The mean of its pitches."""
        return fmean(note.pitch for note in self.notes)


def bass_track(contents: MidiContents, wanted: str, source: str) -> tuple[Track, tuple[Track, ...]]:
    """Return the bass track of a file, and others that may be meant; the wanted one is alone.

    ``wanted`` is the number or the name of a track, empty to choose it: a program of a bass or a
    name decides, then how many notes begin alone (in tenths), then how low they lie; beside the
    only one that is plainly a bass no other is meant.  Raises OptionError where there is none.
    """
    tracks = list(tracks_of(contents))
    if not tracks:
        hint = "expected a MIDI file with a bass track"
        raise OptionError(f"{source} has no notes but drums", hint=hint)
    if wanted:
        return _wanted_track(tracks, wanted, source), ()
    taken = max(tracks, key=lambda t: (t.is_bass, int(t.single_share * 10), -t.mean_pitch))
    is_sure = sum(track.is_bass for track in tracks) == 1
    return taken, () if is_sure else tuple(track for track in tracks if track is not taken)


def taken_words(taken: Track, others: Sequence[Track], source: str, another: str) -> str:
    """Return which track is the bass line, and what would take one of the others, if any."""
    names = ", ".join([track.words for track in others][:_MOST_SHOWN])
    more = f"; {another} takes another: {names}" if others else ""
    return f"the bass line is track {taken.words} of {source}{more}"


def _wanted_track(tracks: Sequence[Track], wanted: str, source: str) -> Track:
    """Return the track of a number or a name."""
    folded = wanted.strip().casefold()
    for track in tracks:
        if folded in (str(track.number), track.name.casefold()):
            return track
    near = nearest_hint(wanted, [track.name for track in tracks])
    expected = f"expected one of: {', '.join(track.words for track in tracks[:_MOST_SHOWN])}"
    raise OptionError(
        f"{source} has no track with notes named {shortened(wanted)!r}",
        hint=joined_hints(near, expected),
    )


def tracks_of(contents: MidiContents) -> Iterator[Track]:
    """Yield the tracks with notes but drums, numbered from 1; one of two channels as two."""
    programs = {
        event.channel: event.program
        for track in reversed(contents.tracks)
        for event in reversed(track)
        if isinstance(event, ProgramChange)
    }
    number = 0
    for events in contents.tracks:
        channels = {event.channel for event in events if isinstance(event, NoteOn)}
        name = next((event.text for event in events if isinstance(event, TrackName)), "")
        last = max((event.tick for event in events if isinstance(event, TrackEnd)), default=0)
        for channel in sorted(channels - {DRUM_CHANNEL}):
            number += 1
            notes = sorted(_struck(events, channel, contents.ticks_per_quarter, last))
            end = max(Fraction(last, contents.ticks_per_quarter), *(note.end for note in notes))
            yield Track(
                number=number,
                name=shortened(one_line(name)),
                program=programs.get(channel, -1),
                notes=tuple(notes),
                end=end,
            )


def _struck(
    events: Iterable[MidiEvent], channel: int, ticks_per_quarter: int, last_tick: int
) -> Iterator[FileNote]:
    """Yield the notes of a channel; a key struck again ends the note before it."""
    down: dict[int, NoteOn] = {}

    def note(pitch: int, end: int) -> FileNote:
        struck = down.pop(pitch)
        start = Fraction(struck.tick, ticks_per_quarter)
        return FileNote(start, Fraction(end, ticks_per_quarter), pitch, struck.velocity)

    for event in events:
        if not isinstance(event, NoteOn | NoteOff) or event.channel != channel:
            continue
        if event.pitch in down and event.tick > down[event.pitch].tick:
            yield note(event.pitch, event.tick)
        if isinstance(event, NoteOn):
            down[event.pitch] = event
    for pitch in list(down):
        if last_tick > down[pitch].tick:
            yield note(pitch, last_tick)
