"""How sure a recording was heard, in words for a terminal and as plain data."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction

from groove.study.heard_line import Hearing, Unsure
from groove.study.studied_line import StudyBar

HALF_SURE = 0.5
"""What is less sure than this is called unsure."""
FEW_CLEAR = 0.75
"""The share of clear strokes under which something else sounds too: of a bass alone 90 % are."""
_MOST_PLACES = 8


def hearing_lines(hearing: Hearing, bars: Sequence[StudyBar]) -> list[str]:
    """Return what was heard and what is unsure of it, a line each."""
    beat = hearing.meter.tempo_symbol
    tempo = f"tempo {beat} = {hearing.tempo_bpm:g}"
    if hearing.other_bpm is not None:
        tempo += _sure(hearing.tempo_confidence, f"it may be {hearing.other_bpm:g}")
    lines = [
        tempo,
        f"meter {hearing.meter}{_sure(hearing.meter_confidence)}",
        f"bar 1 at {round(hearing.first_bar_sec, 2) + 0.0:.2f} s{_sure(hearing.place_confidence)}",
    ]
    if hearing.semitones:
        way = "higher" if hearing.semitones > 0 else "lower"
        steps = (
            "a half tone" if abs(hearing.semitones) == 1 else f"{abs(hearing.semitones)} half tones"
        )
        lines.append(f"it sounds {steps} {way} than the chart, which is taken off its notes")
    if hearing.beyond:
        lines.append(f"{hearing.beyond} strokes lie before or behind the chart's bars")
    if _is_doubtful(hearing):
        lines.append("this hardly sounds like a bass alone: what follows is unsure")
    return lines + list(_unsure_lines(hearing, bars))


def _sure(confidence: float, otherwise: str = "") -> str:
    """Return how sure something is, in brackets, and what else it may be where that is little."""
    words = f"{100 * confidence:.0f}% sure"
    if confidence < HALF_SURE:
        words = f"unsure, {words}" + (f"; {otherwise}" if otherwise else "")
    return f" ({words})"


def _is_doubtful(hearing: Hearing) -> bool:
    """Return whether too few strokes have a pitch, a beat in common, or are struck clearly."""
    clear_share = 1 - len(hearing.unsure) / max(1, hearing.strokes)
    return (
        min(hearing.pitched_share, hearing.beat_confidence) < HALF_SURE or clear_share < FEW_CLEAR
    )


def _unsure_lines(hearing: Hearing, bars: Sequence[StudyBar]) -> Iterator[str]:
    """Yield, for each reason to be unsure of strokes, how many there are and in which bars."""
    for why in dict.fromkeys(each.why for each in hearing.unsure):
        own = [each for each in hearing.unsure if each.why == why]
        numbers = list(dict.fromkeys(n for each in own if (n := _bar(each, bars)) is not None))
        shown = ", ".join(map(str, numbers[:_MOST_PLACES]))
        more = " ..." if len(numbers) > _MOST_PLACES else ""
        places = f": bar{'s' if len(numbers) > 1 else ''} {shown}{more}" if numbers else ""
        out = ", left out" if own[0].is_left_out else ""
        strokes = "1 stroke" if len(own) == 1 else f"{len(own)} strokes"
        yield f"unsure: {strokes} ({why}){out}{places}"


def _at(unsure: Unsure, bars: Sequence[StudyBar]) -> StudyBar | None:
    """Return the bar that a stroke lies in, None outside of all."""
    index = bisect_right(bars, unsure.start_quarters, key=_start)
    if not index:
        return None
    bar = bars[index - 1]
    inside = unsure.start_quarters - _start(bar)
    return bar if inside < bar.frame.meter.bar_quarters else None


def _bar(unsure: Unsure, bars: Sequence[StudyBar]) -> int | None:
    bar = _at(unsure, bars)
    return bar.frame.number if bar else None


def _start(bar: StudyBar) -> Fraction:
    return bar.frame.start_quarters


def hearing_data(hearing: Hearing, bars: Sequence[StudyBar]) -> dict[str, object]:
    """Return the same as data; bars are the chart's numbers, beats count from 1."""
    return {
        "length_sec": round(hearing.length_sec, 3),
        "strokes": hearing.strokes,
        "meter": str(hearing.meter),
        "meter_confidence": hearing.meter_confidence,
        "tempo_bpm": hearing.tempo_bpm,
        "tempo_confidence": hearing.tempo_confidence,
        "other_tempo_bpm": hearing.other_bpm,
        "beat_confidence": hearing.beat_confidence,
        "first_bar_sec": hearing.first_bar_sec,
        "first_bar_confidence": hearing.place_confidence,
        "pitched_share": hearing.pitched_share,
        "semitones": hearing.semitones,
        "outside_chart": hearing.beyond,
        "is_bass_alone": not _is_doubtful(hearing),
        "unsure": [
            {
                "sec": round(each.sec, 3),
                "bar": _bar(each, bars),
                "beat": _beat(each, bars),
                "why": each.why,
                "left_out": each.is_left_out,
            }
            for each in hearing.unsure
        ],
    }


def _beat(unsure: Unsure, bars: Sequence[StudyBar]) -> float | None:
    bar = _at(unsure, bars)
    if bar is None:
        return None
    inside = (unsure.start_quarters - _start(bar)) / bar.frame.meter.beat_quarters
    return round(float(inside) + 1, 2)
