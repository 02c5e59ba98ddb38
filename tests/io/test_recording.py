"""Recorded takes as they are read, against what soundfile wrote and what numpy made."""

import io
import os
from collections.abc import Callable
from pathlib import Path

import numpy
import pytest
import soundfile
from numpy.typing import NDArray

from groove.errors import RecordingError
from groove.io.recording import Recording, read_recording
from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate

PURE_HZ = 440.0


def tone(rate_hz: int, length_sec: float = 4.5) -> NDArray[numpy.float32]:
    """A tone with a slow swell, so that a block out of place is seen."""
    times = numpy.arange(round(length_sec * rate_hz)) / rate_hz
    swell = 0.3 + 0.2 * numpy.sin(2 * numpy.pi * 0.31 * times)
    return (swell * numpy.sin(2 * numpy.pi * PURE_HZ * times)).astype(numpy.float32)


def whole(recording: Recording) -> NDArray[numpy.float32]:
    return numpy.concatenate(list(recording.blocks()))


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 22_050, 44_100, 48_000, 96_000, 44_101])
def test_every_rate_gives_the_same_samples(rate_hz: int) -> None:
    """A tone at the working rate is known in closed form; what is converted lies on it."""
    blocks = numpy.array_split(tone(rate_hz), 7)
    out = numpy.concatenate(list(at_working_rate(blocks, rate_hz)))
    want = tone(WORKING_RATE_HZ)
    assert abs(len(out) - len(want)) <= 1
    inner = slice(2000, min(len(out), len(want)) - 2000)
    assert abs(out[inner] - want[inner]).max() < 1e-4


@pytest.mark.parametrize(
    ("name", "coding", "channels", "most_error"),
    [
        ("a.wav", "PCM_U8", 1, 0.01),
        ("a.wav", "PCM_24", 2, 1e-4),
        ("a.wav", "FLOAT", 6, 1e-4),
        ("a.flac", "PCM_16", 2, 1e-3),
        ("a.ogg", "VORBIS", 2, 0.02),
        ("a.mp3", "MPEG_LAYER_III", 1, 0.02),
    ],
)
def test_every_form_gives_the_same_samples(
    tmp_path: Path, name: str, coding: str, channels: int, most_error: float
) -> None:
    samples = tone(44_100)
    path = tmp_path / name
    soundfile.write(path, numpy.stack([samples] * channels, axis=1), 44_100, subtype=coding)
    recording = read_recording(path)
    assert (recording.sample_rate_hz, recording.channels) == (44_100, channels)
    out, want = whole(recording), tone(WORKING_RATE_HZ)
    assert recording.length_sec == pytest.approx(4.5, abs=0.06)
    inner = slice(3000, min(len(out), len(want)) - 3000)
    assert abs(out[inner] - want[inner]).max() < most_error


def text_file(path: Path) -> None:
    path.write_text("verse:\n| D | A |\n" * 200, encoding="utf-8")


def empty_file(path: Path) -> None:
    path.write_bytes(b"")


def no_samples(path: Path) -> None:
    soundfile.write(path, numpy.zeros((0, 2), numpy.float32), 44_100)


def too_slow(path: Path) -> None:
    soundfile.write(path, tone(2000), 2000)


def silent(path: Path) -> None:
    soundfile.write(path, numpy.zeros((44_100, 2), numpy.float32), 44_100)


def not_numbers(path: Path) -> None:
    soundfile.write(path, numpy.full(44_100, numpy.nan, numpy.float32), 44_100, subtype="FLOAT")


def folder(path: Path) -> None:
    path.mkdir()


def nothing(path: Path) -> None:
    assert not path.exists()


def pipe(path: Path) -> None:
    os.mkfifo(path)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (
            text_file,
            "take.wav is no sound that can be read: it is text\n  expected a sound file: WAV",
        ),
        (empty_file, "take.wav is empty: 0 bytes\n  record it again"),
        (no_samples, "take.wav has no sound in it: 0 samples\n  record it again"),
        (too_slow, "take.wav has 2000 samples a second\n  record with 4000 or more; 44100 is us"),
        (silent, "take.wav is silent: nothing in it is louder than -80 dB under full scale\n"),
        (not_numbers, "take.wav has samples that are no numbers\n  write it again as 16-bit or 24"),
        (folder, "take.wav is a folder\n  expected a sound file: WAV, FLAC, OGG or MP3"),
        (nothing, "take.wav does not exist\n  expected a sound file"),
        (pipe, "take.wav is not a file\n"),
    ],
)
def test_what_cannot_be_heard_is_told(
    tmp_path: Path, make: Callable[[Path], None], told: str
) -> None:
    path = tmp_path / "take.wav"
    make(path)
    with pytest.raises(RecordingError) as caught:
        whole(read_recording(path))
    assert told in caught.value.report()
    assert caught.value.exit_code == 2


def a_tone(suffix: str) -> bytes:
    """Return a tone of 3 s as a file of one form."""
    file = io.BytesIO()
    soundfile.write(file, tone(44_100, 3), 44_100, format=suffix)
    return file.getvalue()


NOISE = b"\xff\xe4" + numpy.random.default_rng(1).bytes(70_000)
MADE_DAMAGE = {
    # Libraries tell of these on descriptor 2 in words of their own, and go on or not. The holes lie
    # in the second block that is read: 65,536 samples are 1.5 s.
    "begun.mp3": lambda: a_tone("MP3")[:60],
    "hole.mp3": lambda: a_tone("MP3")[:8000] + bytes(3000) + a_tone("MP3")[11000:],
    "hole.flac": lambda: a_tone("FLAC")[:30_000] + bytes(3000),
    "begun.ogg": lambda: a_tone("OGG")[:60],
    "noise.mp3": lambda: NOISE,
    "notes.mp3": lambda: "Zwölf Takte, dann die Brücke\n".encode() * 50,
    "phone.m4a": lambda: b"\0\0\0\x20ftypM4A " + NOISE,
    "part.mp3": lambda: b"MThd\0\0\0\6" + NOISE,
    "whole.mp3": lambda: a_tone("MP3"),
}


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("begun.mp3", "begun.mp3 is damaged: it begins as an MP3 file and cannot be read\n"),
        ("hole.mp3", "hole.mp3 is damaged: it cannot be read on after 1.5 s\n  record it again"),
        ("hole.flac", "hole.flac is damaged: it cannot be read on after 1.5 s\n  record it again"),
        ("begun.ogg", "begun.ogg is damaged: it begins as an OGG file and cannot be read\n"),
        ("noise.mp3", "noise.mp3 is no sound that can be read: it begins as none does\n  expected"),
        ("notes.mp3", "notes.mp3 is no sound that can be read: it is text\n  expected a sound"),
        ("phone.m4a", "phone.m4a is no sound that can be read: it is an MP4 or M4A file\n"),
        ("part.mp3", "part.mp3 is no sound that can be read: it is a MIDI file\n"),
        ("whole.mp3", ""),
    ],
)
def test_damage_is_told_by_us_alone(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str, told: str
) -> None:
    path = tmp_path / name
    path.write_bytes(MADE_DAMAGE[name]())
    report = ""
    try:
        whole(read_recording(path))
    except RecordingError as error:
        report = error.report()
    assert told in report and bool(told) == bool(report)
    os.write(2, b"heard again")
    assert capfd.readouterr() == ("", "heard again")


def test_a_file_that_was_cut_short_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, tone(44_100), 44_100)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    out = whole(read_recording(path))
    assert len(out) == pytest.approx(2.25 * WORKING_RATE_HZ, abs=20)
