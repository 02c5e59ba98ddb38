"""What a Standard MIDI File holds, as plain values, and the reader that makes them of bytes.

Times are absolute ticks, channels 1-16 as printed on instruments, text is UTF-8.  Layouts are
those of *Standard MIDI Files 1.0* (MIDI Manufacturers Association, RP-001).

The reader is ours, because a file from outside must be refused with its place, unknown chunks must
be skipped, and a length of a million bytes must not be believed; mido does none of the three.
"""

from collections.abc import Callable, Iterator
from typing import Final

from msgspec import Struct

from groove.errors import MidiError
from groove.events import Marker
from groove.timing import Meter, TempoChange

LARGEST_MIDI_BYTES: Final = 10_000_000
SHORTEST_UNIT_POWER: Final = 10
"""Meters down to 1024ths, the shortest note of MusicXML 4.0, are read."""


class NoteOn(Struct, frozen=True):
    """A key goes down: channel 1-16, pitch 0-127, velocity 1-127."""

    tick: int
    channel: int
    pitch: int
    velocity: int


class NoteOff(Struct, frozen=True):
    """A key comes up; velocity 0 is also what a file says by a note-on of velocity 0."""

    tick: int
    channel: int
    pitch: int
    velocity: int


class ProgramChange(Struct, frozen=True):
    """A channel takes a sound: program 0-127, counted from 0."""

    tick: int
    channel: int
    program: int


class ControlChange(Struct, frozen=True):
    """A channel's controller (7 volume, 10 pan, 64 sustain …) moves to a value 0-127."""

    tick: int
    channel: int
    controller: int
    value: int


class KeySignature(Struct, frozen=True):
    """From ``tick`` on: sharps (positive) or flats (negative), -7 to 7, major or minor."""

    tick: int
    fifths: int
    is_minor: bool


class MeterChange(Struct, frozen=True):
    """From ``tick`` on the meter is this; a metronome clicks every so many of 24 clocks a quarter.

    ``thirty_seconds`` is the number of notated 32nds in what MIDI takes for a quarter, 8.
    """

    tick: int
    meter: Meter
    clocks_per_click: int
    thirty_seconds: int = 8


class TrackName(Struct, frozen=True):
    """The name of a track; in the first track of a file, of the song."""

    tick: int
    text: str


class TextEvent(Struct, frozen=True):
    """Any text that describes what is in the file, as its first track may begin with."""

    tick: int
    text: str


class TrackEnd(Struct, frozen=True):
    """Where a track ends."""

    tick: int


MidiEvent = (
    NoteOn
    | NoteOff
    | ProgramChange
    | ControlChange
    | TempoChange
    | MeterChange
    | KeySignature
    | Marker
    | TrackName
    | TextEvent
    | TrackEnd
)
"""What is read of a file; all else (bends, pressure, lyrics, system exclusive) is passed over."""


class MidiContents(Struct, frozen=True, kw_only=True):
    """What a Standard MIDI File holds: format 0-2, its resolution, and events in file order."""

    format: int
    ticks_per_quarter: int
    tracks: tuple[tuple[MidiEvent, ...], ...]


def read_midi(data: bytes, source: str = "") -> MidiContents:
    """Return what a Standard MIDI File of any format holds.

    Unknown chunks are skipped and text that is not UTF-8 is taken for Latin-1.  Raises MidiError,
    with track and byte, for anything that is not such a file, for one whose time counts film
    frames, and for more than ten million bytes; ``source`` is the file's name in its message.
    """
    try:
        return _contents(data)
    except MidiError as error:
        if not source:
            raise
        raise MidiError(f"{source}: {error.message}", hint=error.hint) from None


def _contents(data: bytes) -> MidiContents:
    if len(data) > LARGEST_MIDI_BYTES:
        raise MidiError(
            f"a MIDI file of {len(data):,} bytes: at most {LARGEST_MIDI_BYTES:,} are read"
        )
    cursor = _Cursor(data, 0, len(data), "header")
    file_format, track_count, ticks_per_quarter = _read_header(cursor)
    tracks = []
    for number in range(1, track_count + 1):
        cursor.where = f"track {number} of {track_count}"
        tracks.append(tuple(_track_events(_track_cursor(cursor))))
    return MidiContents(
        format=file_format, ticks_per_quarter=ticks_per_quarter, tracks=tuple(tracks)
    )


class _Cursor:
    """A place in the bytes of a file that never runs past its end."""

    __slots__ = ("data", "end", "place", "where")

    def __init__(self, data: bytes, place: int, end: int, where: str) -> None:
        self.data, self.place, self.end, self.where = data, place, end, where

    def take(self, count: int) -> bytes:
        left = self.end - self.place
        if count > left:
            raise self.error(f"{count} bytes expected, {left} left")
        self.place += count
        return self.data[self.place - count : self.place]

    def number(self, count: int) -> int:
        return int.from_bytes(self.take(count), "big")

    def quantity(self) -> int:
        """Take a variable-length quantity: seven bits a byte, at most four bytes."""
        value = 0
        for _ in range(4):
            byte = self.number(1)
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise self.error("a time or length of more than four bytes")

    def error(self, message: str) -> MidiError:
        return MidiError(
            f"MIDI file, {self.where}, byte {self.place}: {message}",
            hint="expected a Standard MIDI File; export it again from the program that made it",
        )


def _read_header(cursor: _Cursor) -> tuple[int, int, int]:
    """Return format, number of tracks and ticks per quarter."""
    if cursor.data[:4] != b"MThd":
        raise cursor.error("it does not begin with 'MThd'")
    cursor.place = 4
    body = cursor.take(cursor.number(4))
    if len(body) < 6:
        raise cursor.error(f"a header of {len(body)} bytes, 6 expected")
    file_format, count, division = (int.from_bytes(body[at : at + 2], "big") for at in (0, 2, 4))
    if file_format > 2:
        raise cursor.error(f"format {file_format}, expected 0, 1 or 2")
    if count == 0 or (file_format == 0 and count != 1):
        raise cursor.error(f"{count} tracks in format {file_format}")
    if not 0 < division < 0x8000:
        raise cursor.error(f"division {division}, expected ticks per quarter, 1 to 32767")
    return file_format, count, division


def _track_cursor(cursor: _Cursor) -> _Cursor:
    """Return a cursor over the next track's events, and step over them; skip other chunks."""
    while True:
        kind, length = cursor.take(4), cursor.number(4)
        start = cursor.place
        cursor.take(length)
        if kind == b"MTrk":
            return _Cursor(cursor.data, start, cursor.place, cursor.where)


def _track_events(cursor: _Cursor) -> Iterator[MidiEvent]:
    """Yield the events of a track, which its end-of-track event must close."""
    tick = running_status = 0
    while True:
        tick += cursor.quantity()
        status = cursor.number(1)
        if status < 0x80:
            status = running_status
            cursor.place -= 1
        event = _event(cursor, status, tick)
        if event is not None:
            yield event
        if isinstance(event, TrackEnd):
            break
        # Meta and system exclusive events cancel running status.
        running_status = status if status < 0xF0 else 0
    if cursor.place != cursor.end:
        raise cursor.error(f"{cursor.end - cursor.place} bytes after the end of the track")


def _event(cursor: _Cursor, status: int, tick: int) -> MidiEvent | None:
    """Take one event's bytes; return the event, or None where it is passed over."""
    if status == 0xFF:
        return _meta_event(cursor, tick)
    if status in (0xF0, 0xF7):
        cursor.take(cursor.quantity())
        return None
    if not 0x80 <= status < 0xF0:
        raise cursor.error(
            f"status {status:02X} cannot stand in a file" if status else "a data byte, no status"
        )
    body = cursor.take(1 if status >> 4 in (0xC, 0xD) else 2)
    if max(body) > 0x7F:
        raise cursor.error(f"data byte {max(body):02X}, expected at most 7F")
    decode = _CHANNEL_DECODERS.get(status >> 4)
    return decode(tick, (status & 0x0F) + 1, *body) if decode else None


def _note_event(tick: int, channel: int, pitch: int, velocity: int) -> NoteOn | NoteOff:
    """Return a note-on, or with velocity 0 the note-off that it stands for."""
    return (NoteOn if velocity else NoteOff)(tick, channel, pitch, velocity)


_CHANNEL_DECODERS: Final[dict[int, Callable[..., MidiEvent]]] = {
    0x8: NoteOff,
    0x9: _note_event,
    0xB: ControlChange,
    0xC: ProgramChange,
}


def _meta_event(cursor: _Cursor, tick: int) -> MidiEvent | None:
    kind = cursor.number(1)
    body = cursor.take(cursor.quantity())
    if kind not in _META_DECODERS:
        return None
    length, decode = _META_DECODERS[kind]
    event = decode(tick, body) if length in (None, len(body)) else None
    if event is None:
        raise cursor.error(f"meta event {kind:02X} cannot hold {body[:8].hex(' ') or 'nothing'}")
    return event


def _decoded_text(body: bytes) -> str:
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError:
        return body.decode("latin-1")


def _tempo_event(tick: int, body: bytes) -> TempoChange | None:
    microseconds = int.from_bytes(body, "big")
    return TempoChange(tick, microseconds) if microseconds else None


def _meter_event(tick: int, body: bytes) -> MeterChange | None:
    count, power, clocks, thirty_seconds = body
    if count == 0 or power > SHORTEST_UNIT_POWER:
        return None
    return MeterChange(tick, Meter(count, 2**power), clocks, thirty_seconds)


def _key_event(tick: int, body: bytes) -> KeySignature | None:
    fifths = int.from_bytes(body[:1], "big", signed=True)
    if not -7 <= fifths <= 7 or body[1] > 1:
        return None
    return KeySignature(tick, fifths, body[1] == 1)


_META_DECODERS: Final[dict[int, tuple[int | None, Callable[[int, bytes], MidiEvent | None]]]] = {
    0x01: (None, lambda tick, body: TextEvent(tick, _decoded_text(body))),
    0x03: (None, lambda tick, body: TrackName(tick, _decoded_text(body))),
    0x06: (None, lambda tick, body: Marker(tick, _decoded_text(body))),
    0x2F: (0, lambda tick, _: TrackEnd(tick)),
    0x51: (3, _tempo_event),
    0x58: (4, _meter_event),
    0x59: (2, _key_event),
}
"""Length of each meta event that is read (None: any), and what makes the event of its bytes."""
