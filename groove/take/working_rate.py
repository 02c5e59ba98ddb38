"""Samples of any rate become samples of the one rate at which takes are listened to.

In blocks, so that a recording of hours needs no more memory than one of a minute.  A block is a
whole number of seconds, in which both rates have a whole number of samples: its spectrum is cut or
padded, which delays nothing.  Blocks overlap, and what lies near their ends is thrown away, for a
spectrum's block bites its own tail.
"""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from groove.arrays import Samples

WORKING_RATE_HZ = 22_050
"""Keeps what tells a stroke from a drum: cymbals stand alone above 7 kHz."""

_BLOCK_SEC = 12
_MARGIN_SEC = 1
_ROLL_OFF = 0.08  # the share of the band over which it fades out


def at_working_rate(blocks: "Iterable[Samples]", sample_rate_hz: int) -> "Iterator[Samples]":
    """Yield mono samples at ``WORKING_RATE_HZ``, in blocks, from blocks at any whole rate.

    Sample 0 of both is the same moment.  All of them together last as long as what was given, to
    within a sample.
    """
    import numpy

    if sample_rate_hz == WORKING_RATE_HZ:
        yield from blocks
        return
    size, margin = _BLOCK_SEC * sample_rate_hz, _MARGIN_SEC * sample_rate_hz
    kept = size - 2 * margin
    held = numpy.zeros(margin, numpy.float32)
    given = 0
    told = 0
    for block in blocks:
        given += len(block)
        held = numpy.concatenate([held, block])
        while len(held) >= size:
            out = _converted(held[:size], sample_rate_hz)
            told += len(out)
            yield out
            held = held[kept:]
    whole = given * WORKING_RATE_HZ // sample_rate_hz
    while told < whole:
        last = numpy.zeros(size, numpy.float32)
        last[: min(len(held), size)] = held[:size]
        out = _converted(last, sample_rate_hz)[: whole - told]
        told += len(out)
        yield out
        held = held[kept:]


def _converted(block: "Samples", sample_rate_hz: int) -> "Samples":
    """Return the middle of a block at the working rate: all but the margins."""
    import numpy

    size = _BLOCK_SEC * WORKING_RATE_HZ
    spectrum = numpy.fft.rfft(block)
    out = numpy.zeros(size // 2 + 1, spectrum.dtype)
    bins = min(len(spectrum), len(out))
    out[:bins] = spectrum[:bins]
    fade = int(bins * _ROLL_OFF)
    out[bins - fade : bins] *= numpy.cos(numpy.linspace(0, numpy.pi / 2, fade)) ** 2
    whole = numpy.fft.irfft(out, size) * (WORKING_RATE_HZ / sample_rate_hz)
    margin = _MARGIN_SEC * WORKING_RATE_HZ
    kept: Samples = whole[margin : size - margin].astype(numpy.float32)
    return kept
