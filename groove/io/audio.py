"""Samples become the bytes of an audio file.

WAV and FLAC hold 16-bit samples without dither: every player and phone reads them, the rounding
lies some 80 dB under a mix at -16 LUFS, and the same samples give the same bytes.  Values over
full scale are clipped, not wrapped.
"""

import io
import struct
import zlib
from types import MappingProxyType
from typing import TYPE_CHECKING

from groove.errors import OutputError

if TYPE_CHECKING:
    from numpy import float32, int16
    from numpy.typing import NDArray

AUDIO_FORMATS = MappingProxyType(
    {
        ".wav": ("WAV", "PCM_16"),
        ".flac": ("FLAC", "PCM_16"),
        ".ogg": ("OGG", "VORBIS"),
        ".mp3": ("MP3", "MPEG_LAYER_III"),
    }
)
"""Suffix of a file -> container and coding, by the names that libsndfile has for them."""

_BLOCK_FRAMES = 65_536  # one OGG write of more than about 45 s crashes the process

_FULL_SCALE = 32_767  # the largest 16-bit sample
_REVERSED_BITS = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_OGG_SERIAL, _OGG_CRC, _OGG_SEGMENTS = 14, 22, 26  # places in a page header, RFC 3533 section 6


def audio_bytes(
    samples: "NDArray[float32]", sample_rate: int, *, suffix: str, factor: float = 1.0
) -> bytes:
    """Return a whole audio file of samples of shape (frames, 2), each multiplied by ``factor``.

    ``sample_rate`` is in Hz; ``suffix`` is ``.wav``, ``.flac``, ``.ogg`` or ``.mp3`` (a key of
    ``AUDIO_FORMATS``); full scale is 1.0.  The same samples give the same bytes.  Raises
    ``OutputError`` if the coder refuses them.
    """
    import numpy
    import soundfile

    container, coding = AUDIO_FORMATS[suffix]
    scale = numpy.float32(factor)
    buffer = io.BytesIO()
    try:
        with soundfile.SoundFile(
            buffer, "w", sample_rate, samples.shape[1], format=container, subtype=coding
        ) as file:
            for start in range(0, len(samples), _BLOCK_FRAMES):
                block = samples[start : start + _BLOCK_FRAMES] * scale
                file.write(_rounded(block) if coding == "PCM_16" else block.copy(order="C"))
    except (RuntimeError, ValueError) as error:
        raise OutputError(
            f"cannot make a {suffix} file: {error}", hint="write a .wav file instead"
        ) from None
    data = buffer.getvalue()
    return _with_fixed_serial(data) if container == "OGG" else data


def _rounded(block: "NDArray[float32]") -> "NDArray[int16]":
    """Return 16-bit samples, rounded to the nearest: libsndfile's own conversion rounds down."""
    import numpy

    steps = numpy.rint(block * numpy.float32(_FULL_SCALE))
    clipped: NDArray[float32] = numpy.clip(steps, -_FULL_SCALE, _FULL_SCALE)
    return clipped.astype(numpy.int16, order="C")


def _with_fixed_serial(ogg: bytes) -> bytes:
    """Return an Ogg stream with serial number 1: libsndfile draws one from the clock.

    Pages and their checksum: RFC 3533, section 6.
    """
    pages = bytearray(ogg)
    at = 0
    while at < len(pages):
        lacing = at + _OGG_SEGMENTS + 1
        body = lacing + pages[at + _OGG_SEGMENTS]
        end = body + sum(pages[lacing:body])
        struct.pack_into("<I", pages, at + _OGG_SERIAL, 1)
        struct.pack_into("<I", pages, at + _OGG_CRC, 0)
        struct.pack_into("<I", pages, at + _OGG_CRC, _ogg_checksum(bytes(pages[at:end])))
        at = end
    return bytes(pages)


def _ogg_checksum(page: bytes) -> int:
    """Return the CRC of a page: zlib's polynomial, bits in the other order, no inversion."""
    mirrored = zlib.crc32(page.translate(_REVERSED_BITS), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)
