"""A recorded take is read as mono samples at the working rate, a few seconds at a time.

Whatever the sound library reads: WAV, FLAC, MP3, OGG, of any rate, depth and number of channels.
Memory does not grow with the length of the recording.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from groove.errors import RecordingError
from groove.take.working_rate import at_working_rate

if TYPE_CHECKING:
    from numpy import float32
    from numpy.typing import NDArray

    Samples = NDArray[float32]

LOWEST_RATE_HZ = 4000
"""Below, the overtones by which a small microphone hears a low string are gone."""

_BLOCK_FRAMES = 65_536
_SILENT_PEAK = 1e-4  # -80 dB under full scale: nothing that was meant to be heard
_ANY_TAKE = "record as WAV or FLAC; MP3 and OGG are read too"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """A sound file that can be listened to, as often as is needed.

    ``sample_rate_hz``, ``channels`` and ``length_sec`` are the file's own; ``coding`` names its
    form in words, as ``WAV, Signed 16 bit PCM``.
    """

    path: Path
    sample_rate_hz: int
    channels: int
    length_sec: float
    coding: str

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
        head = soundfile.info(str(path))
    except (RuntimeError, TypeError, OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    if head.frames <= 0:
        raise RecordingError(f"{path} has no sound in it: 0 samples", hint="record it again")
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
        coding=f"{head.format}, {head.subtype_info}",
    )


def _refuse_no_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise RecordingError(f"no recording: {path} is a folder", hint=_ANY_TAKE)
        if not path.exists():
            raise RecordingError(f"no recording: {path} does not exist", hint=_ANY_TAKE)
        if not path.is_file():  # a pipe or a device would never end
            raise RecordingError(f"no recording: {path} is not a file", hint=_ANY_TAKE)
        if path.stat().st_size == 0:
            raise RecordingError(f"{path} is empty: 0 bytes", hint="record it again")
    except (OSError, ValueError) as error:
        raise RecordingError(f"cannot read {path}: {error}", hint=_ANY_TAKE) from None


def _unreadable(path: Path, error: Exception) -> RecordingError:
    reason = str(getattr(error, "error_string", error)).strip().rstrip(".")
    return RecordingError(f"{path} is no sound that can be read: {reason}", hint=_ANY_TAKE)


def _mono_blocks(path: Path) -> "Iterator[Samples]":
    """Yield the file's own samples, its channels averaged."""
    import numpy
    import soundfile

    peak = 0.0
    try:
        with soundfile.SoundFile(str(path)) as file:
            # The package seeks to where it stands after every read, which loses the place in MP3.
            file.seekable = lambda: False
            while len(block := file.read(_BLOCK_FRAMES, dtype="float32", always_2d=True)):
                mono: Samples = block.mean(axis=1, dtype=numpy.float32)
                loudest = float(abs(mono).max())
                if not numpy.isfinite(loudest):
                    raise RecordingError(
                        f"{path} has samples that are no numbers",
                        hint="write it again as 16-bit or 24-bit WAV",
                    )
                peak = max(peak, loudest)
                yield mono
    except (RuntimeError, TypeError, OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    if peak < _SILENT_PEAK:
        raise RecordingError(
            f"{path} is silent: nothing in it is louder than -80 dB under full scale",
            hint="check that the right input was recorded",
        )
