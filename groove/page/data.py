"""The data of a practice page: what is played when, in ticks, and what stands in words.

``format`` is 1.  Ticks are 1/960 of a quarter, as in the performance; the page turns them into
seconds by the tempo map.  Rows are short lists, so that the page stays small; their columns:

    tempo      tick, microseconds a quarter
    bars       start tick, length in ticks, section (index), number in the chart (0 a pickup),
               pass of its repeat, ticks a beat (of a pickup, those of the bar after it)
    sections   label, first bar (index), bars
    chords     tick, chord (index into the names)
    strings    letter, open pitch; the highest string first
    bass       grid tick, shift, length, pitch, velocity, string, fret, finger, 1 for a ghost,
               2 for a note that is slurred to
    drums, keys  grid tick, shift, length (0: it rings), pitch, velocity
"""

from collections.abc import Iterator, Sequence
from itertools import groupby

from groove.arrange.levels import level_velocity
from groove.cut import CLICK_KEYS, CLICK_LEVELS, COUNT_IN_LEVELS, count_in_sound
from groove.events import Note, Part, Performance, Touch
from groove.neck.instrument import Tuning
from groove.page.moved import MOVES, key_name, moved_name, pitch_names
from groove.theory.general_midi import DRUM_KEYS
from groove.theory.keys import Key
from groove.timing import Meter, microseconds_to_qpm
from groove.verdict import verdict_data

OPEN_HAT = DRUM_KEYS["open_hat"]
HATS = (DRUM_KEYS["hat"], DRUM_KEYS["open_hat"], DRUM_KEYS["pedal_hat"])
"""A hat that is struck or closed ends what the open one rings."""


def page_data(
    performance: Performance, key: Key, tuning: Tuning, moves: Sequence[int] = MOVES
) -> dict[str, object]:
    """Return the data of the page as plain values; the bass must have its places.

    ``key`` is the song's, as it sounds; ``moves`` are the semitones by which it can be moved.
    """
    chords = list(dict.fromkeys(onset.chord for bar in performance.bars for onset in bar.chords))
    meter = next(bar.meter for bar in performance.bars if bar.ref.is_written)
    return {
        "format": 1,
        "title": performance.title,
        "end_tick": performance.end_tick,
        "beat_symbol": meter.tempo_symbol,
        "beat_bpm": _first_bpm(performance, meter),
        "tempo": [[change.tick, change.microseconds] for change in performance.tempo_map.changes],
        "bars": list(_bar_rows(performance)),
        "sections": list(_played_section_rows(performance)),
        "chords": [
            [bar.start_tick + onset.tick, chords.index(onset.chord)]
            for bar in performance.bars
            for onset in bar.chords
        ],
        "chord_names": {
            semitones: [moved_name(chord, key, semitones) for chord in chords]
            for semitones in moves
        },
        "moves": list(moves),
        "key_names": {semitones: key_name(key, semitones) for semitones in moves},
        "pitch_names": {semitones: pitch_names(key, semitones) for semitones in moves},
        "verdict": verdict_data(),
        "strings": [[tuning.string_name(n), tuning.open_pitch(n)] for n in tuning.strings],
        "bass": [_bass_row(note) for note in grid_sorted(performance.part_notes(Part.BASS))],
        "drums": list(_drum_note_rows(performance.part_notes(Part.DRUMS))),
        "keys": [_note_row(note) for note in performance.part_notes(Part.KEYS)],
        "click": {
            "accent": [CLICK_KEYS[0], level_velocity(CLICK_LEVELS[0])],
            "other": [CLICK_KEYS[1], level_velocity(CLICK_LEVELS[1])],
            "count": _count_in_data(performance),
        },
    }


def _count_in_data(performance: Performance) -> dict[str, object]:
    """Return how the song is counted in: its part, its pitch, loud and soft velocity, its bars."""
    part, pitch = count_in_sound(performance)
    return {
        "part": part,
        "pitch": pitch,
        "velocities": list(map(level_velocity, COUNT_IN_LEVELS)),
        "bars": performance.count_in.bars,
    }


def _first_bpm(performance: Performance, meter: Meter) -> float:
    """Return the tempo at the start, in the beat that the chart counts."""
    qpm = microseconds_to_qpm(performance.tempo_map.changes[0].microseconds)
    return round(qpm / float(meter.tempo_unit_quarters), 2)


def _bar_rows(performance: Performance) -> Iterator[list[int]]:
    section = -1
    before = None
    bars = performance.bars
    for bar, after in zip(bars, [*bars[1:], bars[-1]], strict=True):
        name = (bar.ref.section, bar.ref.occurrence)
        section += name != before
        before = name
        yield [
            bar.start_tick,
            bar.length_ticks,
            section,
            bar.ref.written_bar,
            bar.ref.pass_number,
            (bar if bar.ref.is_written else after).meter.pulse_ticks,
        ]


def _played_section_rows(performance: Performance) -> Iterator[list[object]]:
    """Yield label, first bar and length of every section as played; repeated ones are counted."""
    refs = [bar.ref for bar in performance.bars]
    runs = [list(run) for _, run in groupby(refs, key=lambda ref: (ref.section, ref.occurrence))]
    names = [run[0].section for run in runs]
    first = 0
    for index, run in enumerate(runs):
        name = names[index]
        label = f"{name} {names[: index + 1].count(name)}" if names.count(name) > 1 else name
        yield [label, first, len(run)]
        first += len(run)


def grid_sorted(notes: Sequence[Note]) -> list[Note]:
    """Return notes as they stand on the page."""
    return sorted(notes, key=lambda note: note.grid_tick)


def _note_row(note: Note) -> list[int]:
    return [note.grid_tick, note.shift_ticks, note.length_ticks, note.pitch, note.velocity]


def _bass_row(note: Note) -> list[int]:
    place = note.place
    where = [place.string, place.fret, place.finger] if place else [0, 0, 0]
    touch = 1 if note.touch is Touch.GHOST else 2 * note.touch.is_slurred
    return [*_note_row(note), *where, touch]


def _drum_note_rows(notes: Sequence[Note]) -> Iterator[list[int]]:
    """Yield the rows of the drums: all ring but the open hat, which the next hat ends."""
    end_tick = 0
    rows = []
    for note in reversed(notes):
        row = _note_row(note)
        row[2] = 0
        if note.pitch == OPEN_HAT and end_tick:
            row[2] = max(1, end_tick - note.onset_tick)
        if note.pitch in HATS:
            end_tick = note.onset_tick
        rows.append(row)
    yield from reversed(rows)
