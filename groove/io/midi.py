"""MIDI out: performances as Standard MIDI Files.

Files are of format 1 at 960 ticks a quarter: a conductor track (title, tempo, meter, key
signatures, section markers), then one named track a part.  Text is UTF-8.  Layouts are those of
*Standard MIDI Files 1.0* (MIDI Manufacturers Association, RP-001).

No library writes the bytes: one for it takes a sixth of the time of a whole command to load, and
four times as long for the notes.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from operator import attrgetter, itemgetter
from typing import Any, Final

from msgspec import Struct

from groove.articulation import Gesture, gestures, set_range, slurs
from groove.errors import OutputError
from groove.events import Bar, Marker, Note, Part, Performance
from groove.io.midi_contents import (
    ControlChange,
    KeySignature,
    MeterChange,
    MidiContents,
    MidiEvent,
    NoteOff,
    NoteOn,
    ProgramChange,
    TextEvent,
    TrackEnd,
    TrackName,
    read_midi,
)
from groove.mixing import PART_MIX
from groove.theory.general_midi import DRUM_CHANNEL
from groove.timing import TICKS_PER_QUARTER, Meter, TempoChange, quarters_to_ticks

__all__ = [
    "PART_CHANNELS",
    "MidiContents",
    "midi_bytes",
    "read_midi",
    "write_midi",
]

CLOCKS_PER_QUARTER: Final = 24
LARGEST_QUANTITY: Final = 0x0FFFFFFF
"""The most ticks between two events: four bytes of seven bits."""
DEFAULT_RELEASE_VELOCITY: Final = 64
NOTE_ON: Final = 0x90
NOTE_OFF: Final = 0x80
CONTROL_CHANGE: Final = 0xB0
PITCH_BEND: Final = 0xE0
ENDS, BETWEEN, STARTS = range(3)
"""What comes first of what stands at one tick."""
PROGRAM_CHANGE: Final = 0xC0
_META: Final = 0xFF
"""What an event begins with that is no message to an instrument: this, its type and its length."""
_TEXT, _TRACK_NAME, _MARKER = 0x01, 0x03, 0x06
_SET_TEMPO, _TIME_SIGNATURE, _KEY_SIGNATURE = 0x51, 0x58, 0x59
END_OF_TRACK: Final = b"\xff\x2f\x00"
VOLUME_CONTROLLER: Final = 7
PAN_CONTROLLER: Final = 10

PART_CHANNELS: Final = {
    Part.BASS: 2,
    Part.DRUMS: DRUM_CHANNEL,
    Part.KEYS: 3,
    Part.CLICK: DRUM_CHANNEL,
}
"""Channel (1-16) of each part in a file; the click shares the drums', so that it sounds as one."""


# From a performance to bytes.


def midi_bytes(
    performance: Performance, *, parts: Collection[Part] | None = None, remark: str = ""
) -> bytes:
    """Return a performance, or some parts of it, as a Standard MIDI File of format 1.

    Parts without notes get no track.  In one channel no two notes of one pitch overlap: the
    earlier is cut where the later begins, and of two that begin together the louder stays.  Every
    track ends with the last bar, or with the last note if that rings on.  The same performance
    gives the same bytes.  ``remark`` is a text that the file begins with.  Raises
    OutputError for more than 268,435,455 ticks.
    """
    written = [part for part in performance.parts if parts is None or part in parts]
    strokes = _strokes(performance.notes, written)
    conductor = _conductor_events(performance, remark)
    ends = [performance.end_tick, *(event.tick for event in conductor)]
    end_tick = max(ends + [stroke.end_tick for track in strokes for stroke in track])
    if end_tick > LARGEST_QUANTITY:
        raise OutputError(
            f"a song of {end_tick:,} ticks is too long for a MIDI file",
            hint=f"at most {LARGEST_QUANTITY:,} ticks, {TICKS_PER_QUARTER} a quarter, can be held",
        )
    programs = dict(performance.programs)
    tracks = [_track_data([*conductor, TrackEnd(end_tick)])]
    for part, own in zip(written, strokes, strict=True):
        told = _part_gestures(performance, part)
        notes = _note_bytes(own, PART_CHANNELS[part], end_tick, told)
        tracks.append(_track_data(_head_events(part, written, programs)) + notes)
    return _file_bytes(1, TICKS_PER_QUARTER, tracks)


def _part_gestures(performance: Performance, part: Part) -> list[Gesture]:
    """Return what is told between the notes of a part: slurs, slides, bends, vibrato."""
    if part is not Part.BASS:
        return []
    notes = performance.part_notes(part)
    found = gestures(notes, performance.tempo_map, strikes_slurs=True)
    has_bends = any(one.controller is None for one in found)
    return [*set_range(), *found] if has_bends else found


def _conductor_events(performance: Performance, remark: str) -> list[MidiEvent]:
    """Return title, remark, meters, tempi, keys and markers, in order of time."""
    events: list[MidiEvent] = [TrackName(0, performance.title)]
    events += [TextEvent(0, remark)] if remark else []
    events += _meter_changes(performance.bars)
    events += performance.tempo_map.changes
    events += _key_signatures(performance.bars)
    events += performance.markers
    return sorted(events, key=attrgetter("tick"))


def _meter_changes(bars: Iterable[Bar]) -> Iterator[MeterChange]:
    """Yield the meter of the first bar and of each bar that differs from the one before."""
    before = None
    for bar in bars:
        clocks = int(CLOCKS_PER_QUARTER * bar.meter.tempo_unit_quarters)
        meter = _length_meter(bar)
        if (meter, clocks) != before:
            yield MeterChange(bar.start_tick, meter, clocks)
        before = (meter, clocks)


def _key_signatures(bars: Iterable[Bar]) -> Iterator[KeySignature]:
    """Yield the key signature of the first bar and of each bar that differs from the one before.

    A file knows major and minor alone (meta event 59): a mode has the nearer one.
    """
    before = None
    for bar in bars:
        key = bar.key.nearest
        if key != before:
            yield KeySignature(bar.start_tick, key.signature_fifths, key.is_minor)
        before = key


def _length_meter(bar: Bar) -> Meter:
    """Return the meter that gives a bar its length: a pickup of one beat in 4/4 is 1/4.

    So the bar lines of every program that opens the file fall where the song's are.  A length
    that no meter has keeps the bar's own.
    """
    if bar.length_ticks == quarters_to_ticks(bar.meter.bar_quarters):
        return bar.meter
    whole_notes = Fraction(bar.length_ticks, 4 * TICKS_PER_QUARTER)
    for unit in (bar.meter.unit, 4, 8, 16, 32, 64):
        count = whole_notes * unit
        if count.denominator == 1 and 0 < count < 256:
            return Meter(int(count), unit)
    return bar.meter


def _head_events(part: Part, written: list[Part], programs: dict[Part, int]) -> list[MidiEvent]:
    """Return a part's name, program, volume and pan.

    Parts that share a channel share all three, the first one's: a kit for the click would be the
    drums' kit too.
    """
    channel = PART_CHANNELS[part]
    owner = next(other for other in written if PART_CHANNELS[other] == channel)
    events: list[MidiEvent] = [TrackName(0, part.value)]
    if owner in programs:
        events.append(ProgramChange(0, channel, programs[owner]))
    mix = PART_MIX[owner]
    events.append(ControlChange(0, channel, VOLUME_CONTROLLER, mix.level))
    events.append(ControlChange(0, channel, PAN_CONTROLLER, mix.pan))
    return events


class _Stroke(Struct, gc=False):
    """A note on its way into a track; its end may still be cut."""

    onset_tick: int
    end_tick: int
    pitch: int
    velocity: int
    track: int


def _strokes(notes: Iterable[Note], written: list[Part]) -> list[list[_Stroke]]:
    """Return the notes of each written part, no two of one pitch overlapping in a channel."""
    tracks = {part: (index, PART_CHANNELS[part]) for index, part in enumerate(written)}
    bass = [note for note in notes if note.part is Part.BASS]
    # Legato is a note that begins before the one before it has ended.
    overlapping = {id(bass[slur.before]) for slur in slurs(bass)}
    lanes: dict[tuple[int, int], list[_Stroke]] = {}
    for note in notes:
        if note.part in tracks:
            track, channel = tracks[note.part]
            lane = lanes.setdefault((channel, note.pitch), [])
            _add_stroke(lane, note, track, id(note) in overlapping)
    strokes: list[list[_Stroke]] = [[] for _ in written]
    for lane in lanes.values():
        for earlier, later in pairwise(lane):
            # Players merge tracks in order, so where the earlier note stands in the later track
            # its end would come after the new note's start and silence it: it ends a tick before.
            last_tick = later.onset_tick - (earlier.track > later.track)
            if earlier.end_tick > last_tick:
                earlier.end_tick = last_tick
        for stroke in lane:
            if stroke.end_tick > stroke.onset_tick:
                strokes[stroke.track].append(stroke)
    return strokes


def _add_stroke(lane: list[_Stroke], note: Note, track: int, overlap_ticks: int) -> None:
    """Add a note to those of its pitch; of two that begin together the louder stays."""
    onset_tick = note.grid_tick + note.shift_ticks
    if lane and lane[-1].onset_tick == onset_tick:
        if note.velocity <= lane[-1].velocity:
            return
        lane.pop()
    end_tick = onset_tick + note.length_ticks + overlap_ticks
    lane.append(_Stroke(onset_tick, end_tick, note.pitch, note.velocity, track))


def _note_bytes(
    strokes: list[_Stroke], channel: int, end_tick: int, told: Sequence[Gesture]
) -> bytes:
    """Return the notes of one part and the end of its track, as they stand in a file.

    At equal ticks ends come before what is ``told``, and that before starts, low before high.  A
    status byte that is the last one again is left out (running status).
    """
    release = DEFAULT_RELEASE_VELOCITY
    events = [(s.onset_tick, STARTS, s.pitch, s.velocity, NOTE_ON) for s in strokes]
    events += [(s.end_tick, ENDS, s.pitch, release, NOTE_OFF) for s in strokes]
    events.sort()
    if told:
        between = [(one.tick, BETWEEN, *_gesture_data(one)) for one in told]
        # Sorting keeps the order of what stands at one place.
        events = sorted([*events, *between], key=itemgetter(0, 1))
    data = bytearray()
    now = status = 0
    for tick, _, first, second, kind in events:
        data += _quantity(tick - now)
        now = tick
        if status != kind | channel - 1:
            status = kind | channel - 1
            data.append(status)
        data.append(first)
        data.append(second)
    return bytes(data) + _quantity(end_tick - now) + END_OF_TRACK


def _gesture_data(gesture: Gesture) -> tuple[int, int, int]:
    """Return the two data bytes of a gesture and its status without the channel."""
    if gesture.controller is None:
        return gesture.value & 0x7F, gesture.value >> 7, PITCH_BEND
    return gesture.controller, gesture.value, CONTROL_CHANGE


@lru_cache(maxsize=4096)
def _quantity(value: int) -> bytes:
    """Return a quantity of variable length: seven bits a byte, the eighth set but in the last."""
    found = [value & 0x7F]
    while value := value >> 7:
        found.append(0x80 | value & 0x7F)
    return bytes(reversed(found))


# From contents to bytes.


def write_midi(contents: MidiContents) -> bytes:
    """Return contents as a Standard MIDI File; ``read_midi`` gives the same contents back.

    Events of a track must be in order of time and end with ``TrackEnd``.  Raises ValueError for
    what no file can hold.
    """
    tracks = [_track_data(events) for events in contents.tracks]
    return _file_bytes(contents.format, contents.ticks_per_quarter, tracks)


def _file_bytes(file_format: int, ticks_per_quarter: int, tracks: Sequence[bytes]) -> bytes:
    """Return a file: its header, then a chunk a track."""
    header = b"".join(
        number.to_bytes(2, "big") for number in (file_format, len(tracks), ticks_per_quarter)
    )
    return _chunk(b"MThd", header) + b"".join(_chunk(b"MTrk", data) for data in tracks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return kind + len(data).to_bytes(4, "big") + data


def _track_data(events: Iterable[MidiEvent]) -> bytes:
    """Return events at absolute ticks as a file has them: each after the time since the last.

    A status byte that is the last message's again is left out, but after a meta event.
    """
    data = bytearray()
    now = status = 0
    for event in events:
        if event.tick - now > LARGEST_QUANTITY:
            raise ValueError(f"more than {LARGEST_QUANTITY:,} ticks before {event}")
        written = _ENCODERS[type(event)](event)
        data += _quantity(event.tick - now)
        data += written[1:] if written[0] == status else written
        now = event.tick
        status = 0 if written[0] == _META else written[0]
    return bytes(data)


def _message(kind: int, channel: int, *values: int) -> bytes:
    """Return a message to a channel (1-16) with its data.  Raises ValueError outside of 0-127."""
    if not 1 <= channel <= 16 or not all(0 <= value <= 127 for value in values):
        raise ValueError(f"no MIDI message: channel {channel}, data {values}")
    return bytes([kind | channel - 1, *values])


def _meta(kind: int, data: bytes) -> bytes:
    return bytes([_META, kind]) + _quantity(len(data)) + data


def _text(kind: int, text: str) -> bytes:
    """Return a text as UTF-8; what has no place there (a lone surrogate) as a question mark."""
    return _meta(kind, text.encode("utf-8", "replace"))


def _note_off(event: NoteOff) -> bytes:
    """Return a note-off; without a release velocity as a note-on of velocity 0.

    So runs of notes keep one status byte, as in the standard's own example.
    """
    kind = NOTE_OFF if event.velocity else NOTE_ON
    return _message(kind, event.channel, event.pitch, event.velocity)


def _tempo(event: TempoChange) -> bytes:
    if not 0 <= event.microseconds < 1 << 24:
        raise ValueError(f"no tempo of a MIDI file: {event}")
    return _meta(_SET_TEMPO, event.microseconds.to_bytes(3, "big"))


def _meter(event: MeterChange) -> bytes:
    """Return a meter; its unit is written as the power of two that it is."""
    unit = event.meter.unit
    if unit & (unit - 1):
        raise ValueError(f"no meter of a MIDI file: {event}")
    power = unit.bit_length() - 1
    numbers = (event.meter.count, power, event.clocks_per_click, event.thirty_seconds)
    return _meta(_TIME_SIGNATURE, bytes(numbers))


def _key(event: KeySignature) -> bytes:
    """Return a key: sharps, or flats below zero (-7 to 7), and 1 for minor."""
    if abs(event.fifths) > 7:
        raise ValueError(f"no key of a MIDI file: {event}")
    return _meta(_KEY_SIGNATURE, bytes([event.fifths % 256, event.is_minor]))


_ENCODERS: Final[dict[type, Callable[[Any], bytes]]] = {
    NoteOn: lambda event: _message(NOTE_ON, event.channel, event.pitch, event.velocity),
    NoteOff: _note_off,
    ProgramChange: lambda event: _message(PROGRAM_CHANGE, event.channel, event.program),
    ControlChange: lambda event: _message(
        CONTROL_CHANGE, event.channel, event.controller, event.value
    ),
    TempoChange: _tempo,
    MeterChange: _meter,
    KeySignature: _key,
    Marker: lambda event: _text(_MARKER, event.text),
    TrackName: lambda event: _text(_TRACK_NAME, event.text),
    TextEvent: lambda event: _text(_TEXT, event.text),
    TrackEnd: lambda event: END_OF_TRACK,
}
