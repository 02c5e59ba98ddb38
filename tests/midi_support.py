"""Small performances built by hand, the tables of outside values, and MIDI as mido reads it.

Nothing here calls the MIDI room: what a file should hold is worked out from the rules alone.
"""

import tomllib
from collections.abc import Collection, Iterable
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
from msgspec.structs import replace

from groove.bar_place import BarRef
from groove.events import Bar, Marker, Note, Origin, Part, Performance, Role, note_order
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch
from groove.timing import Meter, TempoChange, TempoMap

TABLES = Path(__file__).resolve().parents[1] / "shared" / "tables"

# Bass on 2 and keys on 3 are our own; percussion, the click with it, sounds on channel 10
# (*General MIDI System Level 1*).
CHANNELS = {Part.BASS: 2, Part.DRUMS: 10, Part.KEYS: 3, Part.CLICK: 10}
PROGRAMS = ((Part.BASS, 33), (Part.DRUMS, 40), (Part.KEYS, 4), (Part.CLICK, 0))

REF = BarRef(
    section="verse", occurrence=1, pass_number=1, bar_in_section=1, written_bar=1, played_bar=1
)
ORIGIN = Origin(bar=REF, cell="by hand", role=Role.ROOT)

Stroke = tuple[int, int, int, int, int]
"""channel (1-16), pitch, onset tick, end tick, velocity"""


def table(name: str) -> dict[str, Any]:
    """Return a table of outside values, which must name its source."""
    content = tomllib.loads((TABLES / f"{name}.toml").read_text(encoding="utf-8"))
    assert content["source"]
    return content


def note(part: Part, onset: int, length: int, pitch: int, velocity: int = 80) -> Note:
    return Note(
        part=part,
        grid_tick=onset,
        length_ticks=length,
        pitch=pitch,
        velocity=velocity,
        origin=ORIGIN,
    )


def bars_of(*meters: str, pickup_ticks: int = 0) -> tuple[Bar, ...]:
    """Return one bar a meter, after a pickup in the first one's meter."""
    bars = []
    tick = 0
    for index, text in enumerate([meters[0], *meters] if pickup_ticks else meters):
        count, unit = (int(number) for number in text.split("/"))
        length = pickup_ticks if pickup_ticks and index == 0 else 3840 * count // unit
        bars.append(Bar(ref=REF, start_tick=tick, length_ticks=length, meter=Meter(count, unit)))
        tick += length
    return tuple(bars)


def in_keys(bars: tuple[Bar, ...], keys: list[tuple[int, int, bool]]) -> tuple[Bar, ...]:
    """Return bars in keys that are given as (tick, sharps or flats, minor)."""
    found = []
    for bar in bars:
        own = [(fifths, is_minor) for tick, fifths, is_minor in keys if tick <= bar.start_tick]
        fifths, is_minor = own[-1] if own else (0, False)
        # The tonic of a minor key lies three fifths above that of its relative major.
        tonic = SpelledPitch(fifths + 3 * is_minor)
        key = Key(tonic, Mode.MINOR if is_minor else Mode.MAJOR)
        found.append(replace(bar, key=key))
    return tuple(found)


def performance(
    notes: Iterable[Note] = (),
    *,
    bars: tuple[Bar, ...] = (),
    tempi: Iterable[tuple[int, int]] = ((0, 500_000),),
    keys: Iterable[tuple[int, int, bool]] = (),
    markers: Iterable[tuple[int, str]] = (),
    title: str = "Lantern Row",
) -> Performance:
    bars = in_keys(bars or bars_of("4/4"), list(keys))
    return Performance(
        title=title,
        notes=tuple(sorted(notes, key=note_order)),
        bars=bars,
        tempo_map=TempoMap(tuple(TempoChange(tick, micros) for tick, micros in tempi)),
        markers=tuple(Marker(*marker) for marker in markers),
        programs=PROGRAMS,
        end_tick=bars[-1].end_tick,
    )


def expected_strokes(song: Performance, parts: Collection[Part] = tuple(Part)) -> list[Stroke]:
    """Return what a file should hold, by looking at every pair of notes.

    In one channel, of equal pitches that begin together the louder stays (the first of equals);
    an earlier one ends where a later one begins, a tick before if it stands in a later track.
    """
    order = list(Part)
    chosen = [n for n in song.notes if n.part in parts]
    kept: list[Note] = []
    for index, n in enumerate(chosen):
        rivals = [
            (-m.velocity, place)
            for place, m in enumerate(chosen)
            if (CHANNELS[m.part], m.pitch, m.onset_tick)
            == (CHANNELS[n.part], n.pitch, n.onset_tick)
        ]
        if min(rivals)[1] == index:
            kept.append(n)
    strokes = []
    for n in kept:
        ends = [n.onset_tick + n.length_ticks]
        for m in kept:
            same = (CHANNELS[m.part], m.pitch) == (CHANNELS[n.part], n.pitch)
            if same and m.onset_tick > n.onset_tick:
                ends.append(m.onset_tick - (order.index(n.part) > order.index(m.part)))
        # Only the next onset matters; a later one with a tick less cannot come before it.
        if min(ends) > n.onset_tick:
            strokes.append((CHANNELS[n.part], n.pitch, n.onset_tick, min(ends), n.velocity))
    return sorted(strokes)


def mido_file(data: bytes) -> Any:
    return mido.MidiFile(file=BytesIO(data), charset="utf-8")


def absolute(track: Iterable[Any]) -> list[tuple[int, Any]]:
    """Return mido's messages with absolute ticks."""
    now = 0
    rows = []
    for message in track:
        now += message.time
        rows.append((now, message))
    return rows


def mido_strokes(data: bytes) -> list[Stroke]:
    """Return the notes of all tracks as mido reads them; every end must have its start."""
    strokes = []
    for track in mido_file(data).tracks:
        open_notes: dict[tuple[int, int], tuple[int, int]] = {}
        for tick, message in absolute(track):
            if message.type == "note_on" and message.velocity:
                key = (message.channel + 1, message.note)
                assert key not in open_notes
                open_notes[key] = (tick, message.velocity)
            elif message.type in ("note_on", "note_off"):
                key = (message.channel + 1, message.note)
                onset, velocity = open_notes.pop(key)
                strokes.append((*key, onset, tick, velocity))
        assert not open_notes
    return sorted(strokes)


def seconds(song: Performance, tick: int) -> float:
    """Return the time of a tick, in fractions: ticks · microseconds / 960 / 1 000 000."""
    total = Fraction(0)
    changes = song.tempo_map.changes
    for change, following in zip(changes, [*changes[1:], None], strict=True):
        until = tick if following is None else min(tick, following.tick)
        if until > change.tick:
            total += Fraction((until - change.tick) * change.microseconds, 960 * 1_000_000)
    return float(total)


def shortest_tick_sec(song: Performance) -> float:
    return min(change.microseconds for change in song.tempo_map.changes) / 960e6
