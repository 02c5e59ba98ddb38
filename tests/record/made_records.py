"""Records of our charts whose every bar line is known: another band, room, noise, tuning and tempo.

A record is a performance of the chart in another feel, laid on a tempo that drifts, rendered by a
soundfont, with a melody that the chart knows nothing of, a room, noise, and sound before and after.
The truth is the tempo map that it was rendered by.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import groupby
from pathlib import Path

import numpy
from msgspec.structs import replace
from numpy.typing import NDArray

from groove.chart.parse import parse_chart
from groove.cut import cut_bars, joined
from groove.events import Part, Performance
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.io.soundfont import choose_soundfont
from groove.io.synth import audio_samples
from groove.pipeline import PerformOptions, perform_song
from groove.timing import TempoChange, TempoMap
from tests.kept import kept

Samples = NDArray[numpy.float32]

RATE_HZ = 22_050
FOREIGN = -1
_MELODY_DB = -8.0
_OVERTONES = 6
_WHOLE_FRAMES = 50_000
"""A room is added in multiples of it: twos and fives, which a Fourier transform is quick with."""


@dataclass(frozen=True, kw_only=True)
class Studio:
    """How a record is made; every draw is from ``seed``.

    ``drift`` is how far the tempo strays, as a share; ``cents`` how far the record is tuned up, as
    a tape that runs faster; ``lead_in_sec`` and ``after_sec`` are noise and claps around the song;
    levels are in dB under the song's RMS, None for none.  ``order`` are the played bars, by index,
    that the record has one after the other, ``FOREIGN`` for a bar that the chart has not.
    """

    seed: int = 0
    feel: str | None = None
    tempo_percent: int = 100
    transpose: int = 0
    font: Path | None = None
    drift: float = 0.03
    cents: float = 0.0
    lead_in_sec: float = 0.0
    after_sec: float = 0.0
    room_sec: float | None = 0.6
    noise_db: float | None = -35.0
    has_melody: bool = True
    order: tuple[int, ...] | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class MadeRecord:
    """A mono recording at ``RATE_HZ``, and where its bars begin; ``end_sec`` is the song's end."""

    samples: Samples
    performance: Performance
    bar_secs: tuple[float, ...]
    end_sec: float


@cache
def made_record(chart: str, studio: Studio) -> MadeRecord:
    """Return a record of a chart's text, made once a run."""
    return kept(("record", chart, studio), lambda: _made(chart, studio))


def _made(chart: str, studio: Studio) -> MadeRecord:
    rng = numpy.random.default_rng(studio.seed)
    performance = perform_song(
        parse_chart(chart, source="made"),
        load_library(),
        PerformOptions(
            feel=studio.feel,
            seed=100 + studio.seed,
            transpose=studio.transpose,
            tempo_percent=Fraction(studio.tempo_percent),
        ),
    )
    if studio.order is not None:
        performance = _in_order(performance, studio.order)
    performance = replace(performance, tempo_map=_drifting(performance, studio, rng))
    font = studio.font or choose_soundfont(None, {}, None).path
    rendered = audio_samples(
        performance,
        font=font,
        part_midi=lambda part: midi_bytes(performance, parts=(part,)),
        sample_rate=RATE_HZ,
        with_stems=False,
    )
    song: Samples = rendered.mix.mean(axis=1)
    level = float(numpy.sqrt(numpy.square(song).mean()))
    if studio.has_melody:
        song = song + _melody(performance, len(song), level, rng)
    if studio.room_sec:
        song = _in_room(song, studio.room_sec, rng)
    before = _crowd(studio.lead_in_sec, level, rng)
    after = _crowd(studio.after_sec, level, rng)
    whole = numpy.concatenate([before, song, after]).astype(numpy.float32)
    if studio.noise_db is not None:
        noise = rng.standard_normal(len(whole)).astype(numpy.float32)
        whole += noise * level * 10 ** (studio.noise_db / 20)
    speed = 2 ** (studio.cents / 1200)
    whole = _faster(whole, speed)
    whole *= 0.5 / abs(whole).max()
    at = performance.tempo_map.tick_to_sec
    lead = len(before) / RATE_HZ
    return MadeRecord(
        samples=whole,
        performance=performance,
        bar_secs=tuple((at(bar.start_tick) + lead) / speed for bar in performance.bars),
        end_sec=(at(performance.end_tick) + lead) / speed,
    )


def _in_order(performance: Performance, order: tuple[int, ...]) -> Performance:
    """Return the bars in another order; a foreign one is one from the end, a tritone away."""
    pieces = []
    strange = iter(reversed(range(len(performance.bars))))
    for is_foreign, run in groupby(order, lambda index: index == FOREIGN):
        if is_foreign:
            pieces += [_tritone_away(cut_bars(performance, [next(strange)])) for _ in run]
        else:
            pieces.append(cut_bars(performance, list(run)))
    return joined(pieces)


def _tritone_away(piece: Performance) -> Performance:
    """Return what is no chord of the song: the same, six semitones from where it was."""
    notes = tuple(
        note if note.part is Part.DRUMS else replace(note, pitch=note.pitch + 6)
        for note in piece.notes
    )
    return replace(piece, notes=notes)


def _drifting(performance: Performance, studio: Studio, rng: numpy.random.Generator) -> TempoMap:
    """Return the tempo with a slow swing and a wandering on it, each bar at its own."""
    count = len(performance.bars)
    phase = rng.uniform(0, 2 * numpy.pi)
    slow = numpy.sin(numpy.arange(count) / max(count, 1) * 2 * numpy.pi + phase)
    walk = numpy.cumsum(rng.standard_normal(count)) * 0.15
    share = studio.drift * numpy.clip(0.7 * slow + 0.5 * (walk - walk.mean()), -1, 1)
    old = performance.tempo_map
    factors = dict(zip([bar.start_tick for bar in performance.bars], share, strict=True))
    ticks = sorted({change.tick for change in old.changes} | set(factors))
    changes, factor = [], 0.0
    for tick in ticks:
        factor = factors.get(tick, factor)
        changes.append(TempoChange(tick, round(old.microseconds_at(tick) / (1 + factor))))
    return TempoMap(tuple(changes))


def _melody(
    performance: Performance, frames: int, level: float, rng: numpy.random.Generator
) -> Samples:
    """Return a voice that wanders over the key's scale, with vibrato, and rests now and then."""
    key = performance.bars[-1].key
    steps = [0, 2, 4, 5, 7, 9, 11] if not key.name.endswith("minor") else [0, 2, 3, 5, 7, 8, 10]
    scale = [60 + (key.tonic.pitch_class + step) % 12 + 12 * up for step in steps for up in (0, 1)]
    scale.sort()
    out = numpy.zeros(frames, numpy.float32)
    place, at = len(scale) // 2, 0.0
    while at < frames / RATE_HZ - 2:
        length = float(rng.choice([0.3, 0.45, 0.6, 0.9, 1.4]))
        place = int(numpy.clip(place + rng.integers(-2, 3), 0, len(scale) - 1))
        if rng.random() < 0.8:
            first = int(at * RATE_HZ)
            time = numpy.arange(int(length * RATE_HZ)) / RATE_HZ
            hz = 440 * 2 ** ((scale[place] - 69) / 12)
            phase = 2 * numpy.pi * hz * (time + 0.0007 * numpy.sin(2 * numpy.pi * 5.5 * time))
            tone = sum(numpy.sin(n * phase) / n**1.5 for n in range(1, _OVERTONES + 1))
            shape = numpy.minimum(1, time / 0.05) * numpy.minimum(1, (length - time) / 0.08)
            out[first : first + len(time)] += (tone * shape).astype(numpy.float32)
        at += length
    power = float(numpy.sqrt(numpy.square(out).mean())) or 1.0
    return (out * (level / power) * 10 ** (_MELODY_DB / 20)).astype(numpy.float32)


def _in_room(song: Samples, room_sec: float, rng: numpy.random.Generator) -> Samples:
    """Return the song with a room's tail: noise that falls by 60 dB in ``room_sec``."""
    time = numpy.arange(int(room_sec * RATE_HZ)) / RATE_HZ
    tail = (rng.standard_normal(len(time)) * 10 ** (-3 * time / room_sec)).astype(numpy.float32)
    tail *= 0.5 / numpy.sqrt(numpy.square(tail).sum())
    tail[0] = 1.0
    size = -(-(len(song) + len(tail)) // _WHOLE_FRAMES) * _WHOLE_FRAMES
    wet = numpy.fft.irfft(numpy.fft.rfft(song, size) * numpy.fft.rfft(tail, size), size)
    return wet[: len(song)].astype(numpy.float32)


def _crowd(seconds: float, level: float, rng: numpy.random.Generator) -> Samples:
    """Return bursts of noise, as of talk and claps."""
    frames = int(seconds * RATE_HZ)
    noise = rng.standard_normal(frames) * level * 0.2
    time = numpy.arange(frames) / RATE_HZ
    return (noise * (0.5 + 0.5 * numpy.sin(2 * numpy.pi * 2.3 * time) ** 2)).astype(numpy.float32)


def _faster(samples: Samples, speed: float) -> Samples:
    """Return samples played faster, and so higher."""
    places = numpy.arange(int(len(samples) / speed)) * speed
    found: Samples = numpy.interp(places, numpy.arange(len(samples)), samples).astype(numpy.float32)
    return found
