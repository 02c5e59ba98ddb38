"""MIDI out: performances as Standard MIDI Files.

The one module that speaks to mido.  Files are of format 1 at 960 ticks a quarter: a conductor
track (title, tempo, meter, key signatures, section markers), then one named track a part.  Text is
UTF-8.  Layouts are those of *Standard MIDI Files 1.0* (MIDI Manufacturers Association, RP-001).
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from io import BytesIO
from itertools import pairwise
from operator import attrgetter, itemgetter
from typing import Any, Final

from mido import Message, MetaMessage, MidiFile, MidiTrack
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
from groove.theory.pitch import SpelledPitch
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
TRACK: Final = b"MTrk"
CHUNK_HEAD: Final = 8
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
    heads = [(*_head_events(part, written, programs), TrackEnd(0)) for part in written]
    without_notes = MidiContents(
        format=1,
        ticks_per_quarter=TICKS_PER_QUARTER,
        tracks=((*conductor, TrackEnd(end_tick)), *heads),
    )
    notes = [
        _note_bytes(own, PART_CHANNELS[part], end_tick, _part_gestures(performance, part))
        for part, own in zip(written, strokes, strict=True)
    ]
    return _with_notes(write_midi(without_notes), notes)


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


class _TrackNote(Struct, gc=False):
    """A note on its way into a track; its end may still be cut."""

    onset_tick: int
    end_tick: int
    pitch: int
    velocity: int
    track: int


def _strokes(notes: Iterable[Note], written: list[Part]) -> list[list[_TrackNote]]:
    """Return the notes of each written part, no two of one pitch overlapping in a channel."""
    tracks = {part: (index, PART_CHANNELS[part]) for index, part in enumerate(written)}
    bass = [note for note in notes if note.part is Part.BASS]
    # Legato is a note that begins before the one before it has ended.
    overlapping = {id(bass[slur.before]) for slur in slurs(bass)}
    lanes: dict[tuple[int, int], list[_TrackNote]] = {}
    for note in notes:
        if note.part in tracks:
            track, channel = tracks[note.part]
            lane = lanes.setdefault((channel, note.pitch), [])
            _add_stroke(lane, note, track, id(note) in overlapping)
    strokes: list[list[_TrackNote]] = [[] for _ in written]
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


def _add_stroke(lane: list[_TrackNote], note: Note, track: int, overlap_ticks: int) -> None:
    """Add a note to those of its pitch; of two that begin together the louder stays."""
    onset_tick = note.grid_tick + note.shift_ticks
    if lane and lane[-1].onset_tick == onset_tick:
        if note.velocity <= lane[-1].velocity:
            return
        lane.pop()
    end_tick = onset_tick + note.length_ticks + overlap_ticks
    lane.append(_TrackNote(onset_tick, end_tick, note.pitch, note.velocity, track))


def _note_bytes(
    strokes: list[_TrackNote], channel: int, end_tick: int, told: Sequence[Gesture]
) -> bytes:
    """Return the notes of one part and the end of its track, as they stand in a file.

    At equal ticks ends come before what is ``told``, and that before starts, low before high.  A
    status byte that is the last one again is left out (running status).  These few bytes are ours
    and not mido's, because there are thousands of them a song: mido takes four times as long.
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


def _with_notes(file: bytes, notes: Iterable[bytes]) -> bytes:
    """Return a file with the notes of each part in the place of the end of its track.

    The first track is the conductor's and stays as it is.
    """
    head, *tracks = _chunks(file)
    end = _quantity(0) + END_OF_TRACK
    whole = [tracks[0]]
    for track, own in zip(tracks[1:], notes, strict=True):
        data = track[CHUNK_HEAD:].removesuffix(end) + own
        whole.append(TRACK + len(data).to_bytes(4, "big") + data)
    return b"".join([head, *whole])


def _chunks(file: bytes) -> Iterator[bytes]:
    """Yield the chunks of a file: four letters, the length of what follows, and that."""
    at = 0
    while at < len(file):
        end = at + CHUNK_HEAD + int.from_bytes(file[at + 4 : at + CHUNK_HEAD], "big")
        yield file[at:end]
        at = end


# From contents to bytes.


def write_midi(contents: MidiContents) -> bytes:
    """Return contents as a Standard MIDI File; ``read_midi`` gives the same contents back.

    Events of a track must be in order of time and end with ``TrackEnd``.  Raises ValueError for
    what no file can hold.
    """
    tracks = [_track(events) for events in contents.tracks]
    file = MidiFile(type=contents.format, ticks_per_beat=contents.ticks_per_quarter, tracks=tracks)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def _track(events: Iterable[MidiEvent]) -> MidiTrack:
    """Return events at absolute ticks as messages at relative ones."""
    track = MidiTrack()
    now = 0
    for event in events:
        if event.tick - now > LARGEST_QUANTITY:
            raise ValueError(f"more than {LARGEST_QUANTITY:,} ticks before {event}")
        message = _ENCODERS[type(event)](event)
        message.time = event.tick - now
        track.append(message)
        now = event.tick
    return track


def _text(text: str) -> str:
    """Return text so that mido writes it as UTF-8.

    mido encodes in Latin-1, one character a byte, unless told otherwise through a variable that
    all threads share.
    """
    return text.encode("utf-8", "replace").decode("latin-1")


def _key_name(key: KeySignature) -> str:
    """Return mido's name of a key: its tonic, with ``m`` for minor."""
    tonic = SpelledPitch(key.fifths + (3 if key.is_minor else 0)).name
    return tonic + ("m" if key.is_minor else "")


def _note_off(event: NoteOff) -> Message:
    """Return a note-off; without a release velocity as a note-on of velocity 0.

    So runs of notes keep one status byte, as in the standard's own example.
    """
    kind = "note_off" if event.velocity else "note_on"
    return Message(kind, channel=event.channel - 1, note=event.pitch, velocity=event.velocity)


def _meter_message(event: MeterChange) -> MetaMessage:
    return MetaMessage(
        "time_signature",
        numerator=event.meter.count,
        denominator=event.meter.unit,
        clocks_per_click=event.clocks_per_click,
        notated_32nd_notes_per_beat=event.thirty_seconds,
    )


_ENCODERS: Final[dict[type, Callable[[Any], Any]]] = {
    NoteOn: lambda event: Message(
        "note_on", channel=event.channel - 1, note=event.pitch, velocity=event.velocity
    ),
    NoteOff: _note_off,
    ProgramChange: lambda event: Message(
        "program_change", channel=event.channel - 1, program=event.program
    ),
    ControlChange: lambda event: Message(
        "control_change", channel=event.channel - 1, control=event.controller, value=event.value
    ),
    TempoChange: lambda event: MetaMessage("set_tempo", tempo=event.microseconds),
    MeterChange: _meter_message,
    KeySignature: lambda event: MetaMessage("key_signature", key=_key_name(event)),
    Marker: lambda event: MetaMessage("marker", text=_text(event.text)),
    TrackName: lambda event: MetaMessage("track_name", name=_text(event.text)),
    TextEvent: lambda event: MetaMessage("text", text=_text(event.text)),
    TrackEnd: lambda event: MetaMessage("end_of_track"),
}
