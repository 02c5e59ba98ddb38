"""What a chart says should sound: our own rendering as it is heard, and the chords as they stand.

A band of ours plays the chords in its own rhythm, the record's band in another; a chord that is
held from where it comes in says which moments are its own, whoever strikes it when.  Half of the
one and half of the other find bar lines in records of other feels (tried on made records).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from groove.events import Performance
from groove.record.heard_tones import TONE_STEP_SEC, chroma
from groove.record.listened import Listened

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats, Places

HELD_SHARE = 0.5
BASS_SHARE = 0.4
_SMOOTH = 3
_QUIET_SHARE = 0.05
_LEAST = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class DueSound:
    """What should sound of a song as the chart has it, from its first played bar on.

    ``harmony`` has a row every ``TONE_STEP_SEC`` (see ``heard_harmony``), ``rises`` one every
    ``RISE_STEP_SEC``.  ``line_secs`` are the bar lines, the end of the last bar among them;
    ``first_bars`` and ``last_bars`` the indices of the bars with which sections begin and end.
    """

    harmony: "Floats"
    rises: "Floats"
    line_secs: "Doubles"
    first_bars: "Places"
    last_bars: "Places"


def heard_harmony(listened: Listened, tuning_cents: float | None = None) -> "Floats":
    """Return what is heard of bass and chords, shape (moments, 24), rows of length 1 or less.

    The product of two rows is how alike they sound: 1 the same, 0 as chance has it.  Where no
    tuning is given it is the recording's.
    """
    cents = listened.tuning_cents if tuning_cents is None else tuning_cents
    low, high = chroma(listened.tones, cents)
    return _joined(_directions(smoothed(low, _SMOOTH)), _directions(smoothed(high, _SMOOTH)))


def due_sound(performance: Performance, rendered: Listened) -> DueSound:
    """Return what should sound of a performance; ``rendered`` is our rendering of it, as heard."""
    import numpy

    low, high = chroma(rendered.tones, rendered.tuning_cents)
    held_low, held_high = _held(performance, len(low))

    def mixed(own: "Floats", held: "Floats") -> "Floats":
        own = _directions(smoothed(own, _SMOOTH)) * (1 - HELD_SHARE)
        return _directions(own + _directions(held) * HELD_SHARE)

    second = performance.tempo_map.tick_to_sec
    bars = performance.bars
    lines = [second(bar.start_tick) for bar in bars] + [second(bars[-1].end_tick)]
    firsts = [index for index, bar in enumerate(bars) if index == 0 or bar.ref.bar_in_section == 1]
    lasts = [index - 1 for index in firsts[1:] if not bars[index - 1].ref.is_pickup]
    return DueSound(
        harmony=_joined(mixed(low, held_low), mixed(high, held_high)),
        rises=rendered.rises,
        line_secs=numpy.array(lines),
        first_bars=numpy.array(firsts, numpy.intp),
        last_bars=numpy.array([*lasts, len(bars) - 1], numpy.intp),
    )


def at_other_steps(harmony: "Floats", every: float, count: int) -> "Floats":
    """Return ``count`` rows that stand ``every`` rows apart, each the mean of those about it."""
    import numpy

    width = 2 * max(1, round(every)) - 1
    places = numpy.rint(numpy.arange(count) * every).astype(int).clip(0, len(harmony) - 1)
    rows = smoothed(harmony, width)[places]
    return _joined(
        _directions(rows[:, :12], centred=False), _directions(rows[:, 12:], centred=False)
    )


def smoothed(rows: "Floats", width: int) -> "Floats":
    """Return rows with each the mean of those about it, the nearest the most."""
    import numpy

    if width <= 1:
        return rows
    kernel = numpy.hanning(width + 2)[1:-1]
    kernel = (kernel / kernel.sum()).astype(numpy.float32)
    half = width // 2
    padded = numpy.pad(rows, ((half, half), (0, 0)), mode="edge")
    out = numpy.zeros_like(rows)
    for place, weight in enumerate(kernel):
        out += padded[place : place + len(rows)] * weight
    return out


def _directions(rows: "Floats", *, centred: bool = True) -> "Floats":
    """Return rows of length about 1, a quiet one shorter, what sounds in all classes taken off."""
    import numpy

    if centred:
        rows = rows - rows.mean(axis=1, keepdims=True)
    lengths = numpy.linalg.norm(rows, axis=1, keepdims=True)
    quiet = _QUIET_SHARE * float(numpy.median(lengths)) + _LEAST
    directions: Floats = (rows / (lengths + quiet)).astype(numpy.float32)
    return directions


def _joined(low: "Floats", high: "Floats") -> "Floats":
    """Return both ranges as one row, the bass by its share."""
    import numpy

    parts = [low * BASS_SHARE**0.5, high * (1 - BASS_SHARE) ** 0.5]
    return numpy.concatenate(parts, axis=1)


def _held(performance: Performance, count: int) -> "tuple[Floats, Floats]":
    """Return bass notes and chord tones as held from where each chord sounds to the next."""
    import numpy

    second = performance.tempo_map.tick_to_sec
    low = numpy.zeros((count, 12), numpy.float32)
    high = numpy.zeros((count, 12), numpy.float32)
    onsets = [
        (second(max(0, bar.start_tick + onset.sounding_tick)), onset.chord)
        for bar in performance.bars
        for onset in bar.chords
    ]
    ends = [sec for sec, _ in onsets[1:]] + [second(performance.end_tick)]
    for (sec, chord), end in zip(onsets, ends, strict=False):
        if chord is None:
            continue
        span = slice(round(sec / TONE_STEP_SEC), round(end / TONE_STEP_SEC))
        high[span, sorted(chord.pitch_classes)] = 1
        low[span, chord.bass_note.pitch_class] = 1
    return low, high
