"""What a line is made of, in words for 80 columns and as plain data."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from textwrap import wrap

from groove.articulation import GHOST_SEC, GHOST_VELOCITY_SHARE
from groove.study.line_cells import StudyCell, steps_row
from groove.study.nearest import Near
from groove.study.note_kinds import NoteKind
from groove.study.result import Study, departures
from groove.theory.pitch import pitch_name

MOST_CELLS = 8
MOST_PLACES = 8


def study_text(study: Study) -> str:
    """Return the report for a terminal."""
    blocks = [_head(study), _shares(study), _cells(study), _aims(study), _sound(study)]
    return "\n\n".join("\n".join(_folded(block)) for block in blocks if block) + "\n"


def _folded(lines: Sequence[str]) -> Iterator[str]:
    """Yield lines of at most 80 columns; what goes on stands further in than its beginning."""
    for line in lines:
        inside = " " * (len(line) - len(line.lstrip()) + 2)
        yield from wrap(line, 80, subsequent_indent=inside, drop_whitespace=True) or [line]


def _head(study: Study) -> list[str]:
    """Return what was read, and how it is swung."""
    bars = len(study.bars)
    lines = [f"{study.title}: {bars} bars, {len(study.notes)} notes", study.part]
    if study.swing:
        lines.append(f"swing {study.swing}, the middle of {study.pairs} pairs")
    else:
        lines.append(f"even: {study.pairs} pairs of eighths or sixteenths, no swing heard")
    return lines


def _shares(study: Study) -> list[str]:
    """Return what the plain notes are in their chords, in all and by beat."""
    kinds = [kind for kind in NoteKind if study.shares[kind]]
    if not kinds:
        return []
    columns = ["all", *(f"beat {beat}" for beat in study.beat_shares)]
    rows = ["notes by chord      " + "".join(f"{name:>8}" for name in columns)]
    for kind in kinds:
        values = [study.shares[kind], *(found[kind] for found in study.beat_shares.values())]
        rows.append(f"  {kind:<18}" + "".join(f"{_percent(value):>8}" for value in values))
    return rows


def _percent(share: float) -> str:
    return f"{100 * share:.0f}%" if share else "."


def _cells(study: Study) -> list[str]:
    """Return the cells that are played most, and what each is near to."""
    lines = [f"cells: {len(study.cells)} different"]
    shown = list(zip(study.cells, study.near, strict=True))[:MOST_CELLS]
    for number, (cell, near) in enumerate(shown, 1):
        lines.append(f"  {number}. {_times(cell)}: {_numbers(cell.bars)}")
        lines += [f"     {row}" for row in steps_row(cell).split(" | ")]
        lines += [f"     {text}" for text in _near_words(near)]
    if len(study.cells) > MOST_CELLS:
        lines.append(f"  and {len(study.cells) - MOST_CELLS} more, in --json")
    return lines if study.cells else []


def _times(cell: StudyCell) -> str:
    bars = f"{len(cell.patterns)} bars" if len(cell.patterns) > 1 else "a bar"
    return f"{bars}, {cell.times} time{'s' if cell.times > 1 else ''}"


def _numbers(bars: Sequence[int]) -> str:
    """Return bar numbers, the first of many."""
    numbers = list(dict.fromkeys(bars))
    shown = ", ".join(map(str, numbers[:MOST_PLACES]))
    return f"bar{'s' if len(numbers) > 1 else ''} {shown}" + (
        " ..." if len(numbers) > MOST_PLACES else ""
    )


def _near_words(near: Sequence[Near]) -> Iterator[str]:
    """Yield what the nearest known cell is and in what it differs."""
    for found in near[:1]:
        where = f", {found.condition}" if found.condition else ""
        if not found.distance:
            yield f"as the cell {found.name}{where}"
            continue
        yield f"near the cell {found.name}{where} (distance {found.distance:.2f})"
        for words, places in (
            ("which strikes also on", found.more),
            ("which is silent on", found.less),
            ("which has another note on", found.other),
        ):
            if places:
                yield f"  {words} {_beats(places)}"


def _beats(places: Sequence[tuple[int, Fraction]]) -> str:
    """Return places in bars: ``2.5, 4``; the second bar's as ``2:1``."""
    shown = [f"{bar}:{float(at):g}" if bar > 1 else f"{float(at):g}" for bar, at in places]
    return ", ".join(shown[:MOST_PLACES]) + (" ..." if len(shown) > MOST_PLACES else "")


def _aims(study: Study) -> list[str]:
    """Return where the line departs from its cells, and how it aims at the next chord."""
    once = departures(study)
    lines = []
    if once and len(once) < len(study.bars):
        lines.append(f"bars that come once: {_numbers([bar.frame.number for bar in once])}")
    for semitones in (-1, 1, -2, 2):
        bars = [each.bar for each in study.approaches if each.semitones == semitones]
        if bars:
            step = "a half step" if abs(semitones) == 1 else "a whole step"
            side = "below" if semitones < 0 else "above"
            lines.append(f"the next root from {step} {side}: {_numbers(bars)}")
    return lines


def _sound(study: Study) -> list[str]:
    """Return register, ghosts and what they are judged by."""
    pitches = study.pitches
    if not pitches:
        return []
    middle = pitches[len(pitches) // 2]
    lines = [
        f"from {pitch_name(pitches[0])} to {pitch_name(pitches[-1])}, "
        f"half of it up to {pitch_name(middle)}"
    ]
    if study.ghosts:
        bars = [each.bar.frame.number for each in study.ghosts]
        lines.append(
            f"{len(study.ghosts)} ghosts (under {GHOST_SEC * 1000:.0f} ms and "
            f"{GHOST_VELOCITY_SHARE * 100:.0f}% of the notes beside them): {_numbers(bars)}"
        )
    return lines


def study_data(study: Study) -> dict[str, object]:
    """Return the report as data; bars are the chart's numbers, beats count from 1."""
    return {
        "title": study.title,
        "part": study.part,
        "bars": len(study.bars),
        "swing_ratio": _swing_ratio(study),
        "chords": [
            {
                "bar": bar.frame.number,
                "beat": _beat(each.start_quarters / bar.frame.meter.beat_quarters),
                "symbol": each.chord.symbol if each.chord else None,
                "confidence": each.confidence,
            }
            for bar in study.bars
            for each in bar.frame.chords
        ],
        "shares": {kind.value: round(share, 4) for kind, share in study.shares.items()},
        "beat_shares": {
            str(beat): {kind.value: round(share, 4) for kind, share in shares.items() if share}
            for beat, shares in study.beat_shares.items()
        },
        "cells": [
            {
                "steps": steps_row(cell),
                "slots_per_beat": cell.patterns[0].slots_per_beat,
                "levels": [list(levels) for levels in cell.levels],
                "times": cell.times,
                "bars": list(cell.bars),
                "near": [
                    {"cell": near.name, "condition": near.condition, "distance": near.distance}
                    for near in nearest
                ],
            }
            for cell, nearest in zip(study.cells, study.near, strict=True)
        ],
        "ghosts": [
            {
                "bar": each.bar.frame.number,
                "beat": _beat(
                    each.note.slot * each.bar.slot_quarters / each.bar.frame.meter.beat_quarters
                ),
            }
            for each in study.ghosts
        ],
        "approaches": [{"bar": each.bar, "semitones": each.semitones} for each in study.approaches],
    }


def _beat(beats: Fraction) -> float:
    return round(float(beats) + 1, 4)


def _swing_ratio(study: Study) -> float:
    """Return the long share of a pair to the short one: 1 even, 2 triplets."""
    percent = study.swing.percent if study.swing and study.swing.percent else 50.0
    return round(percent / (100 - percent), 3)
