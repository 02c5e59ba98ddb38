"""A judged take as plain data: every figure and every note, for ``--json``."""

from collections.abc import Mapping

from groove.take.heard import HeardNote
from groove.take.judgement import TakeReport
from groove.take.statistics import TakeFigures
from groove.take.wrong_pitches import wrong_data


def report_data(report: TakeReport) -> Mapping[str, object]:
    """Return a judged take as plain data, in ms, seconds and beats a minute."""
    figures = report.figures
    return {
        "mean_ms": round(figures.mean_ms, 3),
        "mean_interval_ms": _rounded(figures.mean_interval_ms),
        "sd_ms": None if figures.sd_ms is None else round(figures.sd_ms, 3),
        "drift_bpm_per_min": None
        if figures.drift_bpm_per_min is None
        else round(figures.drift_bpm_per_min, 4),
        "drift_interval": _rounded(figures.drift_interval),
        "tempo_bpm": round(figures.tempo_bpm, 3),
        "offset_s": round(figures.offset_sec, 6),
        "slot_bias_ms": {
            f"{slot:g}": round(each.mean_ms, 3) for slot, each in figures.slot_bias_ms.items()
        },
        "missed": list(report.missed),
        "extra": [round(report.take.notes[index].sec, 6) for index in report.extra],
        "wrong_pitch": list(report.wrong),
        "wrong_pitches": wrong_data(report),
        "notes": _notes_data(report),
        "tuning_semitones": round(report.take.tuning_semitones, 2),
        "measured_against": str(figures.measure),
        "lateness_known_by": str(figures.known_by),
        "is_ambiguous": report.alignment.is_ambiguous,
        "verdict": {
            "steadiness": str(report.steadiness) if report.steadiness else None,
            "tempo": str(report.trend),
            "lateness": str(report.lean),
            "lengths": str(report.length),
            "loudness": str(report.loudness) if report.loudness else None,
        },
        **_touch_data(figures),
        "bars_left_out": list(report.left_out),
        "bars_again": list(report.again),
        "passes": [
            {"mean_ms": round(each.mean_ms, 3), "root_ms": round(each.root_ms, 3)}
            for each in figures.passes
        ],
    }


def _notes_data(report: TakeReport) -> list[dict[str, object]]:
    """Return the notes that were heard where one was due."""
    reference, pairs = report.reference, report.alignment.pairs
    return [
        {
            "expected": pair.expected,
            "onset_s": round(report.take.notes[pair.heard].sec, 6),
            "deviation_ms": round(deviation, 3),
            "bar": reference.bars[reference.notes[pair.expected].bar].number,
            "beat": round(reference.notes[pair.expected].beat, 4),
            **_manner_data(report.take.notes[pair.heard]),
        }
        for pair, deviation in zip(pairs, report.figures.deviations_ms, strict=True)
    ]


def _touch_data(figures: TakeFigures) -> dict[str, object]:
    """Return how long and how loud notes are held and struck, None where a grid alone is due."""
    lengths, loudness = figures.lengths, figures.loudness
    return {
        "length_share": lengths and round(lengths.share, 3),
        "length_interval": lengths and _rounded(lengths.interval),
        "loudness_sd_db": loudness and round(loudness.sd_db, 2),
        "loudness_change_db": loudness and round(loudness.change_db, 2),
        "loudness_change_interval": loudness and _rounded(loudness.change_interval_db),
    }


def _manner_data(note: HeardNote) -> dict[str, float | None]:
    """Return how long and how loud a note was heard; None where its end is not known."""
    return {
        "length_s": None if note.end_sec is None else round(note.end_sec - note.sec, 4),
        "level_db": round(note.level_db, 2),
    }


def _rounded(interval: tuple[float, float] | None) -> list[float] | None:
    return None if interval is None else [round(each, 4) for each in interval]
