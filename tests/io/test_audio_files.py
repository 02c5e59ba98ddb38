"""Audio files as an independent reader finds them, and files that appear whole or not at all.

Judges: the standard library's wave module for WAV; soundfile's reader and the containers' own
magic numbers for the rest (RFC 9639 fLaC, RFC 3533 OggS, MPEG frame sync or an ID3 tag).
"""

import io
import os
import stat
import sys
import time
import wave
from pathlib import Path
from subprocess import run

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from groove.errors import OutputError
from groove.io.audio import AUDIO_FORMATS, audio_bytes
from groove.io.files import write_whole

RATE = 44_100
MAGIC = {".wav": (b"RIFF",), ".flac": (b"fLaC",), ".ogg": (b"OggS",), ".mp3": (b"\xff\xfb", b"ID3")}


def tones(seconds: float) -> NDArray[np.float32]:
    """Two tones, left and right, in the memory order in which the synthesizer gives its samples."""
    at = np.arange(int(seconds * RATE)) / RATE
    planes = np.array([np.sin(2 * np.pi * 220 * at), np.sin(2 * np.pi * 330 * at)])
    return (0.4 * planes).astype(np.float32).T


def test_wav_holds_the_samples_in_16_bits() -> None:
    samples = tones(3.0)  # more than one block of 65,536 frames
    with wave.open(io.BytesIO(audio_bytes(samples, RATE, suffix=".wav", factor=0.5))) as file:
        form = (file.getframerate(), file.getnchannels(), file.getsampwidth())
        frames = file.readframes(file.getnframes())
    assert form == (RATE, 2, 2)
    read = np.frombuffer(frames, "<i2").reshape(-1, 2)
    assert read.shape == samples.shape
    assert np.abs(read - 0.5 * samples * 32_767).max() <= 0.51  # nearest, and a float's own error


def test_values_over_full_scale_are_clipped_not_wrapped() -> None:
    samples = np.array([[2.0, -2.0]] * 8, np.float32)
    with wave.open(io.BytesIO(audio_bytes(samples, RATE, suffix=".wav"))) as file:
        read = np.frombuffer(file.readframes(8), "<i2").reshape(-1, 2)
    assert (read == [32_767, -32_767]).all()


@pytest.mark.parametrize("suffix", AUDIO_FORMATS)
def test_every_format_reads_back(suffix: str) -> None:
    samples = tones(2.0)
    data = audio_bytes(samples, RATE, suffix=suffix)
    assert data.startswith(MAGIC[suffix])
    read, rate = soundfile.read(io.BytesIO(data), always_2d=True)
    assert rate == RATE
    assert abs(len(read) - len(samples)) <= 2_500  # MP3 frames add a delay and padding
    middle = slice(RATE // 2, RATE)
    for channel in (0, 1):
        spectrum = np.abs(np.fft.rfft(read[middle, channel]))
        assert np.argmax(spectrum) * 2 == pytest.approx((220, 330)[channel], abs=2)
        assert np.sqrt((read[middle, channel] ** 2).mean()) == pytest.approx(0.4 / 2**0.5, rel=0.02)


def test_the_formats_are_four() -> None:
    assert set(AUDIO_FORMATS) == set(MAGIC) == {".wav", ".flac", ".ogg", ".mp3"}


def test_a_long_ogg_is_written() -> None:
    """One write of over 45 s would crash the process: one of 50 s does, seen with 1.2.2.

    Of silence too, which is coded in a tenth of the time.
    """
    data = audio_bytes(np.zeros((50 * RATE, 2), np.float32), RATE, suffix=".ogg")
    assert soundfile.info(io.BytesIO(data)).frames == 50 * RATE


@pytest.mark.parametrize("suffix", AUDIO_FORMATS)
def test_the_same_samples_give_the_same_bytes(suffix: str) -> None:
    """In another second: libsndfile draws the serial number of an Ogg stream from the clock."""
    first = audio_bytes(tones(0.5), RATE, suffix=suffix)
    second = int(time.time())
    while int(time.time()) == second:
        time.sleep(0.01)
    assert audio_bytes(tones(0.5), RATE, suffix=suffix) == first


def test_pages_of_an_ogg_carry_the_serial_and_a_right_checksum() -> None:
    """RFC 3533, section 6: polynomial 0x04c11db7, no reflection, no inversion, bit by bit here."""
    data = audio_bytes(tones(1.0), RATE, suffix=".ogg")
    at, pages = 0, 0
    while at < len(data):
        lengths = data[at + 27 : at + 27 + data[at + 26]]
        end = at + 27 + len(lengths) + sum(lengths)
        page = data[at : at + 22] + bytes(4) + data[at + 26 : end]
        crc = 0
        for byte in page:
            crc ^= byte << 24
            for _ in range(8):
                crc = (crc << 1 ^ (0x04C11DB7 if crc & 0x80000000 else 0)) & 0xFFFFFFFF
        assert data[at : at + 4] == b"OggS"
        assert int.from_bytes(data[at + 14 : at + 18], "little") == 1
        assert int.from_bytes(data[at + 22 : at + 26], "little") == crc
        at, pages = end, pages + 1
    assert pages == 3


def test_a_file_is_written_and_replaced(tmp_path: Path) -> None:
    path = tmp_path / "song.wav"
    write_whole(path, b"first")
    path.chmod(0o640)
    write_whole(path, b"second")
    assert path.read_bytes() == b"second"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_new_file_has_the_permissions_of_the_umask(tmp_path: Path) -> None:
    code = (
        "import os, sys, pathlib; os.umask(0o027)\n"
        "from groove.io.files import write_whole\n"
        "write_whole(pathlib.Path(sys.argv[1]), b'x')"
    )
    path = tmp_path / "song.mid"
    run([sys.executable, "-c", code, str(path)], check=True)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_symbolic_link_keeps_pointing(tmp_path: Path) -> None:
    target, link = tmp_path / "target.wav", tmp_path / "link.wav"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("", "it is a folder"),
        ("none/song.wav", "there is no folder"),
        ("file/song.wav", "there is no folder"),
        ("a" * 300 + ".wav", "File name too long"),
        ("a\0b.wav", "null"),
        ("pipe", "it is not a regular file"),
        ("circle", "cannot write"),
    ],
)
def test_what_cannot_be_written_is_one_error(tmp_path: Path, name: str, found: str) -> None:
    (tmp_path / "file").write_bytes(b"here")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(OutputError, match=found) as caught:
        write_whole(tmp_path / name, b"data")
    assert caught.value.hint
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("failure", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: BaseException
) -> None:
    path = tmp_path / "song.wav"
    path.write_bytes(b"old")

    def fail(_descriptor: int) -> None:
        raise failure

    monkeypatch.setattr(os, "fsync", fail)
    expected = OutputError if isinstance(failure, OSError) else KeyboardInterrupt
    with pytest.raises(expected):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]
