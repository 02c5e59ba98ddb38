"""What a line is made of, as plain data: numbers of bars are the chart's, beats count from 1."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from msgspec import to_builtins

from groove.study.hearing_report import hearing_data
from groove.study.line_cells import StudyCell, steps_row
from groove.study.nearest import Near
from groove.study.note_kinds import NoteKind
from groove.study.result import Study, departures
from groove.study.worth import worth_practising

Data = dict[str, object]


def study_data(study: Study) -> Data:
    """Return the report as data; shares and confidences lie between 0 and 1."""
    return {
        "title": study.title,
        "part": study.part,
        "bars": len(study.bars),
        "swing_ratio": swing_ratio(study),
        "chords": _chords(study),
        "shares": _shares(study.shares),
        "beat_shares": {str(beat): _shares(own) for beat, own in study.beat_shares.items()},
        "cells": [_cell(cell, near) for cell, near in zip(study.cells, study.near, strict=True)],
        "feels": [
            {"feel": feel.name, "distance": feel.distance, "is_at_tempo": feel.is_at_tempo}
            for feel in study.feels
        ],
        "ghosts": [{"bar": e.bar.frame.number, "beat": beat_number(e.beat)} for e in study.ghosts],
        **_movement(study),
        **_sound(study),
        "hearing": hearing_data(study.hearing, study.bars) if study.hearing else None,
        "practise": [
            {"bars": list(each.bars), "why": each.why} for each in worth_practising(study)
        ],
    }


def _chords(study: Study) -> list[Data]:
    return [
        {
            "bar": bar.frame.number,
            "beat": beat_number(each.start_quarters / bar.frame.meter.beat_quarters + 1),
            "symbol": each.chord.symbol if each.chord else None,
            "confidence": each.confidence,
        }
        for bar in study.bars
        for each in bar.frame.chords
    ]


def _shares(shares: Mapping[NoteKind, float]) -> Data:
    return {kind.value: round(share, 4) for kind, share in shares.items()}


def _cell(cell: StudyCell, nearest: Sequence[Near]) -> Data:
    return {
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


def _movement(study: Study) -> Data:
    """Return where the line departs from its cells, and how it aims at the next chord."""
    return {
        "once": [bar.frame.number for bar in departures(study)],
        "approaches": [
            {"bar": e.bar, "beat": beat_number(e.beat), "semitones": e.semitones, "to": e.to}
            for e in study.approaches
        ],
        "runs": [
            {
                "bar": run.bar,
                "beat": beat_number(run.beat),
                "notes": run.notes,
                "rises": run.rises,
                "to": run.to,
            }
            for run in study.runs
        ],
    }


def _sound(study: Study) -> Data:
    """Return lengths, loudness, register and hand; None where there is nothing to tell."""
    lengths = study.lengths
    pitches = study.pitches
    return {
        "lengths": None
        if lengths is None
        else {"held": round(lengths.held, 4), "short": round(lengths.short, 4)},
        "levels": {str(level): round(share, 4) for level, share in study.levels.items()},
        "register": None if not pitches else {"lowest": pitches[0], "highest": pitches[-1]},
        "hand": None if study.hand is None else to_builtins(study.hand),
    }


def beat_number(beat: Fraction) -> float:
    """Return a beat as data has it."""
    return round(float(beat), 4)


def swing_ratio(study: Study) -> float:
    """Return the long share of a pair to the short one: 1 even, 2 triplets."""
    percent = study.swing.percent if study.swing and study.swing.percent else 50.0
    return round(percent / (100 - percent), 3)
