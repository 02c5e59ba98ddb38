"""The sounds of a practice page: rendered once, cut at their attacks, packed a row a part.

A row is one MP3 file with a marker click at its head: a decoder may leave its own delay in front,
and the page finds the marker and shifts every place by what it is off.
"""

import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from groove.errors import OutputError
from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.io.synth import audio_samples
from groove.page.sounds import Sound, needed_sounds, sounds_in_a_row
from groove.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from groove.arrays import Samples

MARKER_SEC = 0.02
"""Where the marker stands in the row; the first sound follows well behind it."""
HEAD_SEC = 0.1
BETWEEN_SEC = 0.06
"""Silence between two sounds: longer than the pre-echo of the coder."""
_ATTACK_SHARE = 0.05
_SEARCH_SEC = 0.25
_BEFORE_SEC = 0.0005
_FADE_SEC = 0.03
_SILENT_SHARE = 0.001
_PEAK = 0.9
_WRITE_FRAMES = 2**20  # in few calls: each has to wait for Python, which is busy elsewhere
_QUALITY = 0.6
_INFO_TAGS = (b"Info", b"Xing")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSound:
    """Where a sound lies in its row, and what left and right are of it: a row is mono."""

    pitch: int
    velocity: int
    offset_sec: float
    length_sec: float
    left: float
    right: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleRow:
    """The sounds of one part: ``gain`` is what brings the row back to its level in the mix."""

    part: Part
    mp3: bytes
    gain: float
    sounds: tuple[PlacedSound, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleSet:
    """The rows of all parts, and who made the sound."""

    rows: tuple[SampleRow, ...]
    synthesizer: str
    notice: str


def sample_set(performance: Performance, *, font: Path) -> SampleSet:
    """Return every distinct sound of a performance, rendered with a soundfont.

    Raises SoundError as ``audio_samples`` does, OutputError where no MP3 can be made.
    """
    sounds = needed_sounds(performance)
    layout = sounds_in_a_row(sounds, performance)
    rendered = audio_samples(
        layout,
        font=font,
        part_midi=lambda part: midi_bytes(layout, parts=(part,)),
        with_mix=False,
    )
    loudest = max(float(abs(stem).max()) for stem in rendered.stems.values())

    def row(part: Part) -> SampleRow:
        own = [sound for sound in sounds if sound.part is part]
        starts = [note.onset_tick / TICKS_PER_QUARTER for note in layout.part_notes(part)]
        return _part_row(own, starts, rendered.stems[part], rendered.sample_rate, loudest)

    longest_first = sorted(
        layout.parts, key=lambda part: -sum(s.length_sec for s in sounds if s.part is part)
    )
    with ThreadPoolExecutor() as pool:  # the coder lets other threads run
        made = dict(zip(longest_first, pool.map(row, longest_first), strict=True))
    rows = tuple(made[part] for part in layout.parts)
    return SampleSet(rows=rows, synthesizer=rendered.synthesizer, notice=rendered.notice)


def _part_row(
    sounds: Sequence[Sound],
    starts_sec: Sequence[float],
    samples: "Samples",
    sample_rate: int,
    loudest: float,
) -> SampleRow:
    """Return the row of one part: marker, then every sound from its attack on."""
    import numpy

    marker = numpy.zeros(int(HEAD_SEC * sample_rate), numpy.float32)
    marker[round(MARKER_SEC * sample_rate)] = _PEAK
    mono = samples.mean(axis=1)
    peak = float(abs(mono).max())
    between = numpy.zeros(int(BETWEEN_SEC * sample_rate), numpy.float32)
    pieces, placed = [marker], []
    frames = len(marker)
    for sound, start_sec in zip(sounds, starts_sec, strict=True):
        first, cut = _cut_sound(mono, sample_rate, start_sec, sound.length_sec)
        left, right = _sides(samples[first : first + len(cut)])
        cut *= _PEAK / peak
        placed.append(
            PlacedSound(
                pitch=sound.pitch,
                velocity=sound.velocity,
                offset_sec=frames / sample_rate,
                length_sec=len(cut) / sample_rate,
                left=left,
                right=right,
            )
        )
        pieces += [cut, between]
        frames += len(cut) + len(between)
    return SampleRow(
        part=sounds[0].part,
        mp3=_mp3_bytes(numpy.concatenate(pieces), sample_rate),
        gain=peak / loudest,
        sounds=tuple(placed),
    )


def _sides(samples: "Samples") -> tuple[float, float]:
    """Return how much louder left and right are than their mean, by the power of each."""
    import numpy

    power = numpy.square(samples, dtype=numpy.float64).sum(axis=0)
    mean = float(numpy.square(samples.mean(axis=1), dtype=numpy.float64).sum())
    if mean <= 0:
        return 1.0, 1.0
    left, right = (float(each) for each in numpy.sqrt(power / mean))
    return left, right


def _cut_sound(
    samples: "Samples", sample_rate: int, start_sec: float, length_sec: float
) -> "tuple[int, Samples]":
    """Return a sound from just before its attack to its end, and the frame where it begins.

    Its end is where nothing is left of it.

    The attack is where the first twentieth of the peak is reached (common practice, no source).
    """
    import numpy

    first = int(start_sec * sample_rate)
    whole = samples[first : first + int((length_sec + _SEARCH_SEC) * sample_rate)]
    level = abs(whole)
    peak = level.max()
    attack = int(numpy.argmax(level[: int(_SEARCH_SEC * sample_rate)] >= _ATTACK_SHARE * peak))
    begin = max(0, attack - int(_BEFORE_SEC * sample_rate))
    cut = whole[begin : begin + int(length_sec * sample_rate)].copy()
    heard = numpy.nonzero(abs(cut) > _SILENT_SHARE * peak)[0]
    fade = int(_FADE_SEC * sample_rate)
    cut = cut[: max(int(heard[-1]) + fade if len(heard) else 0, 2 * fade)]
    cut[-fade:] *= numpy.linspace(1, 0, fade, dtype=numpy.float32)
    return first + begin, cut


def _mp3_bytes(samples: "Samples", sample_rate: int) -> bytes:
    """Return mono samples as an MP3 file of variable rate.

    Raises OutputError where the coder refuses, or leaves out the tag by which decoders know how
    much of the beginning is its own.
    """
    import soundfile

    try:
        # A file of the system's: one of Python's would be called for every few milliseconds of
        # sound, and be waited for while the sheets are drawn.
        with tempfile.TemporaryFile() as whole:
            with soundfile.SoundFile(
                whole.fileno(),
                "w",
                sample_rate,
                1,
                format="MP3",
                subtype="MPEG_LAYER_III",
                compression_level=_QUALITY,
                bitrate_mode="VARIABLE",
                closefd=False,
            ) as file:
                for start in range(0, len(samples), _WRITE_FRAMES):
                    file.write(samples[start : start + _WRITE_FRAMES])
            whole.seek(0)
            data = whole.read()
    except (OSError, RuntimeError, ValueError, TypeError) as error:
        raise OutputError(
            f"cannot make the sounds of the page: {error}", hint="pip install -U soundfile"
        ) from None
    if not any(tag in data[:200] for tag in _INFO_TAGS):
        raise OutputError(
            "the sounds of the page have no head that tells their delay",
            hint="pip install -U soundfile",
        )
    return data
