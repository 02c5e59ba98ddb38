"""A MIDI file as a song: its bass track, its clock, and its bars by the meters that it states."""

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from typing import TypeVar

from msgspec import Struct

from groove.events import Marker
from groove.io.charts import read_limited
from groove.io.lined import MIDI_FILE
from groove.io.midi_contents import (
    LARGEST_MIDI_BYTES,
    MeterChange,
    MidiContents,
    TrackEnd,
    read_midi,
)
from groove.io.midi_track import Track, bass_track, taken_words
from groove.timing import Meter, TempoChange

_FOUR_FOUR = Meter(4, 4)
_USUAL_MICROSECONDS = 500_000
"""A file without a tempo is played at 120 quarters a minute (Standard MIDI Files 1.0)."""
_Change = TypeVar("_Change")


class MidiClock:
    """From quarters to seconds by the tempo changes of all tracks."""

    def __init__(self, contents: MidiContents) -> None:
        """``contents`` is the file; its tempo changes lie in any track."""
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
        return max(0, bisect_right(self.places, quarters) - 1)

    def sec(self, quarters: Fraction) -> float:
        """Return the time of a place in seconds."""
        at = self.index(quarters)
        return self.sums[at] + float(quarters - self.places[at]) * self.microseconds[at] / 1e6

    def qpm(self, quarters: Fraction) -> float:
        """Return the quarters a minute at a place."""
        return 60e6 / self.microseconds[self.index(quarters)]


class MidiSong(Struct, frozen=True, kw_only=True):
    """A MIDI file, read: what it holds, its clock and its bass track."""

    contents: MidiContents
    clock: MidiClock
    track: Track

    def bars(self) -> Iterator["MidiBar"]:
        """Yield each bar up to the end of the file."""
        events = [event for track in self.contents.tracks for event in track]
        meters = self._in_order((e.tick, e.meter) for e in events if isinstance(e, MeterChange))
        sections = self._in_order((e.tick, e.text) for e in events if isinstance(e, Marker))
        ends = [event.tick for event in events if isinstance(event, TrackEnd)]
        last = max(self.track.end, *(self._quarters(tick) for tick in ends))
        at = Fraction(0)
        while at < last or at == 0:
            meter = _in_force(meters, at, _FOUR_FOUR)
            yield MidiBar(start=at, meter=meter, section=_in_force(sections, at, ""))
            at += meter.bar_quarters

    def _quarters(self, tick: int) -> Fraction:
        return Fraction(tick, self.contents.ticks_per_quarter)

    def _in_order(self, changes: Iterable[tuple[int, _Change]]) -> list[tuple[Fraction, _Change]]:
        """Return changes by place, of those at one place the last."""
        return sorted({self._quarters(tick): what for tick, what in changes}.items(), key=_place)


class MidiBar(Struct, frozen=True, kw_only=True):
    """A bar of a file: where it starts in quarters, its meter, the marker that it lies under."""

    start: Fraction
    meter: Meter
    section: str


def _place(change: tuple[Fraction, _Change]) -> Fraction:
    return change[0]


def _in_force(
    changes: Sequence[tuple[Fraction, _Change]], at: Fraction, before: _Change
) -> _Change:
    """Return the last change up to a place, else what holds before the first."""
    index = bisect_right(changes, at, key=_place)
    return changes[index - 1][1] if index else before


def is_midi(name: str) -> bool:
    """Return whether a file is named as a MIDI file, with or without a track of it."""
    return MIDI_FILE.fullmatch(name) is not None and re.search(r"\.midi?(:|$)", name) is not None


def read_midi_song(name: str, report: Callable[[str], None], part: str | None = None) -> MidiSong:
    """Return a MIDI file with its bass track.

    ``part`` is the number or the name of a track, empty to choose it; None takes both out of the
    name: ``song.mid``, ``song.mid:2``.  Where another track would do as well, that is told.
    Raises MidiError, OptionError.
    """
    found = MIDI_FILE.fullmatch(name) if part is None else None
    file, wanted = (found["file"], found["track"] or "") if found else (name, part or "")
    data = read_limited(file, LARGEST_MIDI_BYTES, "expected a MIDI file's name")
    contents = read_midi(data, file)
    track, others = bass_track(contents, wanted, file)
    if others:
        report(taken_words(track, others, file, f"{file}:N" if part is None else "--part N"))
    return MidiSong(contents=contents, clock=MidiClock(contents), track=track)
