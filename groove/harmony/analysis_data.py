"""What a song's harmony looks like as JSON: plain dictionaries, lists, texts and numbers."""

from collections.abc import Sequence
from typing import Any

from groove.harmony.analysis import Analysis, PlacedChange, Progression
from groove.harmony.key import KeyReading
from groove.harmony.moves import Term
from groove.harmony.sections import Occurrence, thins_out
from groove.theory.keys import Key

Json = dict[str, Any]
_FORMAT = 1


def harmony_summary(harmony: Analysis) -> Json:
    """Return title, key, sections, progressions, moves and chords.

    ``key`` is found from the chords, ``key_given`` the chart's (or None).  Bars are played bars,
    beats count from 1; progressions count from 1.
    """
    given = harmony.key_given
    return {
        "format": _FORMAT,
        "title": harmony.song.title,
        "key": _key_summary(harmony.reading),
        "key_given": given.name if given else None,
        "key_contradicts": harmony.contradiction is not None,
        "modulations": [
            {
                "bar": occurrence.bars[0].ref.played_bar,
                "key": key.name,
                "way": means.kind.value,
                "by": means.chord.symbol if means.chord else None,
            }
            for (occurrence, key), means in zip(
                harmony.modulations, harmony.means_of_modulation, strict=True
            )
        ],
        "sections": [
            _section_summary(harmony, number, occurrence)
            for number, occurrence in enumerate(harmony.form.occurrences)
        ],
        "progressions": [_progression_summary(harmony, p) for p in harmony.progressions],
        "moves": [_moves_summary(p) for p in harmony.progressions if p.description],
        "chords": [_chord_summary(placed) for placed in harmony.changes],
    }


def _key_summary(reading: KeyReading) -> Json:
    """Return a key with its confidence and its runner-up; tonic is a name, as ``Bb``."""
    other = reading.runner_up
    return {
        "tonic": reading.key.tonic.name,
        "mode": reading.key.mode.value,
        "confidence": round(reading.confidence, 3),
        "runner_up": _named_key(other, reading.runner_up_confidence) if other else None,
        "ambiguous": reading.is_ambiguous,
    }


def _named_key(key: Key, confidence: float) -> Json:
    """Return a second reading of the key."""
    tonic = key.tonic.name
    return {"tonic": tonic, "mode": key.mode.value, "confidence": round(confidence, 3)}


def _section_summary(harmony: Analysis, number: int, occurrence: Occurrence) -> Json:
    start, end = harmony.starts_sec[number : number + 2]
    key = harmony.section_keys[number]
    return {
        "name": occurrence.name,
        "occurrence": occurrence.number,
        "bar": occurrence.bars[0].ref.played_bar,
        "bars": len(occurrence.bars),
        "length_sec": round(end - start, 3),
        "key": {"tonic": key.tonic.name, "mode": key.mode.value},
        "progression": occurrence.progression + 1,
        "differs": [{"bar": d.other_bar, "progression_bar": d.bar} for d in occurrence.differs],
        "thin": thins_out(occurrence.bars),
    }


def _progression_summary(harmony: Analysis, progression: Progression) -> Json:
    """Return one progression: who plays it, its bars by symbol, numeral and number, its names."""
    rows = progression.changes
    return {
        "progression": progression.number + 1,
        "sections": [harmony.form.label(o) for o in progression.occurrences],
        "bars": len(rows),
        "loop_bars": progression.loop_bars,
        "chords": [" ".join(placed.span.symbol for placed in row) for row in rows],
        "numerals": [" ".join(placed.change.numeral for placed in row) for row in rows],
        "numbers": [" ".join(placed.change.number for placed in row) for row in rows],
        "named": [
            {
                "name": found.name,
                "detail": found.detail,
                "first_bar": found.first_bar,
                "last_bar": found.last_bar,
            }
            for found in harmony.named[progression.number]
        ],
    }


def _moves_summary(progression: Progression) -> Json:
    """Return how the roots of a progression move, in semitones up (0-11)."""
    description = progression.description
    assert description is not None
    return {
        "progression": progression.number + 1,
        "first_root": description.first,
        "parts": _parts_summary(description.parts),
        "turnaround": list(description.turnaround),
        "length": description.length,
        "listed_length": description.listed_length,
    }


def _parts_summary(parts: Sequence[Term]) -> list[Any]:
    """Return moves as numbers, repeats as objects."""
    return [
        part
        if isinstance(part, int)
        else {"unit": _parts_summary(part.unit), "shift": part.shift, "times": part.times}
        for part in parts
    ]


def _chord_summary(placed: PlacedChange) -> Json:
    beat = placed.beat
    return {
        "bar": placed.bar.ref.played_bar,
        "beat": int(beat) if beat.denominator == 1 else float(beat),
        "symbol": placed.span.symbol,
        "numeral": placed.change.numeral,
        "number": placed.change.number,
        "function": placed.change.function_text,
    }
