"""Cells as plain lists of strokes, and cell files as mappings, for the tests of cells."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from groove.cells.model import AimKind, BassBar, BassCell, DrumCell, DrumStroke, Feel, Library

DrumBar = tuple[DrumStroke, ...]

# The thirty-one feels, from rock to odd meters.
FEELS = (
    *("straight eighths", "driving eighths", "half-time", "half-time shuffle", "ska"),
    *("sixteenths", "broken sixteenths", "laid-back sixteenths", "one-chord funk", "octaves"),
    *("soul", "second line", "gospel twelve-eight", "long notes", "ballad", "shuffle"),
    *("slow twelve-eight", "walking", "swing in two", "jazz waltz", "one drop", "bossa"),
    *("samba", "bolero", "cha-cha", "tumbao", "two-beat", "waltz", "six-eight"),
    *("five-four", "seven-eight"),
)
FEET = {"kick", "low_kick", "pedal_hat"}
STICK = {"hat", "open_hat", "ride", "ride_bell"}

BASS: dict[str, Any] = {
    "format": 1,
    "name": "two",
    "summary": "root and fifth",
    "meter": "4/4",
    "slots_per_beat": 1,
    "steps": "R - 5 .",
    "levels": "9 . 7 .",
}
DRUMS: dict[str, Any] = {
    "format": 1,
    "name": "plain",
    "summary": "kick and snare",
    "meter": "4/4",
    "slots_per_beat": 1,
    "kick": "9 . 8 .",
    "snare": ". 9 . 9",
    "fill": {"beats": 1, "slots_per_beat": 2, "snare": "7 8"},
}
KEYS: dict[str, Any] = {
    "format": 1,
    "name": "chords",
    "summary": "one chord and two voices",
    "meter": "4/4",
    "slots_per_beat": 1,
    "steps": "V - 13 2o",
    "levels": "6 . 5 5",
}
FEEL: dict[str, Any] = {
    "format": 1,
    "name": "plain feel",
    "summary": "all three",
    "meter": "4/4",
    "tempo": [80, 120],
    "bass": "two",
    "drums": "plain",
    "keys": "chords",
    "length_percent": 85,
}
FILES: tuple[tuple[Any, str, dict[str, Any]], ...] = (
    ("bass", "bass/two.toml", BASS),
    ("drums", "drums/plain.toml", DRUMS),
    ("keys", "keys/chords.toml", KEYS),
    ("feels", "feels/plain.toml", FEEL),
)


def bass_bars(cell: BassCell) -> Iterator[BassBar]:
    """Yield all bars of a bass cell, those under a condition last."""
    yield from cell.bars
    for _, bars in cell.when:
        yield from bars


def drum_bars(cell: DrumCell) -> Iterator[DrumBar]:
    """Yield all bars of a drum cell, those under a condition last."""
    yield from cell.bars
    for _, bars in cell.when:
        yield from bars


def phrase_end(cell: BassCell | DrumCell) -> tuple[Any, ...]:
    """Return the bar of a cell that ends a phrase, empty where it has none."""
    bars: tuple[Any, ...] = dict(cell.when).get("phrase end", ())
    return bars


def starts(strokes: DrumBar, *keys: str) -> set[Fraction]:
    """Return where the strokes of some drums begin, in beats."""
    return {stroke.start_beats for stroke in strokes if stroke.key in keys}


def sounding_starts(bar: BassBar) -> set[Fraction]:
    """Return where a bar's strokes begin that are no ghosts, in beats."""
    return {s.start_beats for s in bar.strokes if s.aim.kind is not AimKind.GHOST}


def beat_sec(feel: Feel, tempo_bpm: int) -> float:
    """Return how long a pulse of a feel's cells lasts at a tempo of the meter's tempo unit."""
    assert feel.meter is not None
    return float(feel.meter.pulse_quarters / feel.meter.tempo_unit_quarters) * 60 / tempo_bpm


def feel_drums(library: Library, feel: Feel) -> list[tuple[DrumCell, int]]:
    """Return the drum cells of a feel with the fastest tempo that each is played at."""
    fastest = feel.tempo_beats[1]
    cell = library.drums[feel.drums]
    if feel.fast is None:
        return [(cell, fastest)]
    above, fast = feel.fast
    return [(cell, above), (library.drums[fast], fastest)]


def sounding_feels(library: Library) -> list[Feel]:
    """Return the feels that have a drummer: all but long notes."""
    feels = [library.feels[name] for name in FEELS if name != "long notes"]
    assert len(feels) == 30
    return feels


def time_drums(library: Library) -> list[DrumCell]:
    """Return the drum cells that keep time: one a feel with a drummer, two where one is fast."""
    cells = [cell for cell in library.drums.values() if cell.bars]
    assert len(cells) == 31
    return cells
