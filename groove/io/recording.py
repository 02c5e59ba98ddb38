"""A recorded take is read as mono samples at the working rate, a few seconds at a time.

Whatever the sound library reads: WAV, FLAC, MP3, OGG, of any rate, depth and number of channels.
Memory does not grow with the length of the recording.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from groove.errors import RecordingError
from groove.io.streams import stderr_closed
from groove.take.working_rate import at_working_rate

if TYPE_CHECKING:
    from groove.arrays import Samples

LOWEST_RATE_HZ = 4000
"""Below, the overtones by which a small microphone hears a low string are gone."""

_BLOCK_FRAMES = 65_536
_UNREADABLE = (RuntimeError, TypeError, OSError, ValueError)
"""What the library raises for a file that it cannot read."""
_AGAIN = "record it again, or make another copy of the file"
_SILENT_PEAK = 1e-4  # -80 dB under full scale: nothing that was meant to be heard
_EXPECTED = "expected a sound file: WAV, FLAC, OGG or MP3"
_HEAD_BYTES = 512
_HEADS = (
    (b"RIFF....WAVE", "a WAV file", True),
    (b"fLaC", "a FLAC file", True),
    (b"OggS", "an OGG file", True),
    (b"ID3", "an MP3 file", True),
    (b"\xff[\xe2\xe3\xf2\xf3\xfa\xfb]", "an MP3 file", True),
    (b"....ftyp", "an MP4 or M4A file", False),
    (b"MThd", "a MIDI file", False),
    (b"[\t\n\r -~\x80-\xff]*$", "text", False),
)
"""How files begin, and whether such a file can be read where it is whole.

RIFF: Microsoft and IBM, *Multimedia Programming Interface and Data Specifications 1.0*; FLAC: RFC
9639, 6; Ogg: RFC 3533, 6; MP3: ISO/IEC 11172-3, 2.4.1.3 (layer III), behind a tag of ID3v2 (its
own specification, 3.1); MP4: ISO/IEC 14496-12, 4.3; MIDI: *Standard MIDI Files 1.0*.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """A sound file that can be listened to, as often as is needed.

    ``sample_rate_hz``, ``channels`` and ``length_sec`` are the file's own.
    """

    path: Path
    sample_rate_hz: int
    channels: int
    length_sec: float

    def blocks(self) -> "Iterator[Samples]":
        """Yield the whole take in blocks: mono, float32, at ``WORKING_RATE_HZ``.

        Channels are averaged; full scale is 1.0.  Raises ``RecordingError`` where reading stops
        before the end, at samples that are no numbers, and at the end if all was silence.
        """
        return at_working_rate(_mono_blocks(self.path), self.sample_rate_hz)


def read_recording(path: Path) -> Recording:
    """Return a take's recording, its head read and its form checked; no sound is read yet.

    Raises ``RecordingError`` for what is no file, is empty, is no sound that can be read, has no
    samples, or a rate under ``LOWEST_RATE_HZ``.
    """
    import soundfile

    _refuse_no_file(path)
    try:
        with stderr_closed():
            head = soundfile.info(str(path))
    except _UNREADABLE:
        raise _unreadable(path) from None
    if head.frames <= 0:
        raise RecordingError(f"{path} has no sound in it: 0 samples", hint=_AGAIN)
    if head.samplerate < LOWEST_RATE_HZ:
        raise RecordingError(
            f"{path} has {head.samplerate} samples a second",
            hint=f"record with {LOWEST_RATE_HZ} or more; 44100 is usual",
        )
    return Recording(
        path=path,
        sample_rate_hz=head.samplerate,
        channels=head.channels,
        length_sec=head.frames / head.samplerate,
    )


def _refuse_no_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise RecordingError(f"no recording: {path} is a folder", hint=_EXPECTED)
        if not path.exists():
            raise RecordingError(f"no recording: {path} does not exist", hint=_EXPECTED)
        if not path.is_file():  # a pipe or a device would never end
            raise RecordingError(f"no recording: {path} is not a file", hint=_EXPECTED)
        if path.stat().st_size == 0:
            raise RecordingError(f"{path} is empty: 0 bytes", hint=_AGAIN)
    except (OSError, ValueError) as error:
        raise RecordingError(f"cannot read {path}: {error}", hint=_EXPECTED) from None


def _unreadable(path: Path) -> RecordingError:
    """Return the error of a file that the library refuses: by how it begins, not in its words."""
    try:
        with path.open("rb") as file:
            begin = file.read(_HEAD_BYTES)
    except OSError as error:
        return RecordingError(f"cannot read {path}: {error.strerror}", hint=_EXPECTED)
    for head, name, is_read in _HEADS:
        if re.match(head, begin, re.DOTALL):
            if is_read:
                return RecordingError(
                    f"{path} is damaged: it begins as {name} and cannot be read", hint=_AGAIN
                )
            return RecordingError(
                f"{path} is no sound that can be read: it is {name}", hint=_EXPECTED
            )
    return RecordingError(
        f"{path} is no sound that can be read: it begins as none does", hint=_EXPECTED
    )


def _mono_blocks(path: Path) -> "Iterator[Samples]":
    """Yield the file's own samples, its channels averaged."""
    import numpy

    peak = 0.0
    for block in _file_blocks(path):
        mono: Samples = block.mean(axis=1, dtype=numpy.float32)
        loudest = float(abs(mono).max())
        if not numpy.isfinite(loudest):
            raise RecordingError(
                f"{path} has samples that are no numbers",
                hint="write it again as 16-bit or 24-bit WAV",
            )
        peak = max(peak, loudest)
        yield mono
    if peak < _SILENT_PEAK:
        raise RecordingError(
            f"{path} is silent: nothing in it is louder than -80 dB under full scale",
            hint="check that the right input was recorded",
        )


def _file_blocks(path: Path) -> "Iterator[Samples]":
    """Yield a file's samples, all of its channels.

    The library tells of damage on the terminal and goes on or not; where it does not, we tell.
    """
    import soundfile

    at_sec = 0.0
    try:
        with stderr_closed():
            file = soundfile.SoundFile(str(path))
        with file:
            # The package seeks to where it stands after every read, which loses the place in MP3.
            file.seekable = lambda: False
            while True:
                with stderr_closed():
                    block = file.read(_BLOCK_FRAMES, dtype="float32", always_2d=True)
                if not len(block):
                    return
                at_sec += len(block) / file.samplerate
                yield block
    except _UNREADABLE:
        raise RecordingError(
            f"{path} is damaged: it cannot be read on after {at_sec:.1f} s", hint=_AGAIN
        ) from None
