"""Title and sections in files of sound, as independent readers find them.

Judges: mutagen for MP3, FLAC and Ogg; for WAV a walk over its chunks by *Multimedia Programming
Interface and Data Specifications 1.0* (IBM and Microsoft, 1991), and soundfile for its title.
"""

import io
import struct

import mutagen.flac
import mutagen.id3
import mutagen.mp3
import mutagen.oggvorbis
import numpy
import pytest
import soundfile

from groove.errors import OptionError
from groove.io.audio import SAMPLE_FORMATS, audio_bytes, encoded_peak_dbtp, held_coding
from groove.io.loudness import true_peak_dbtp
from groove.io.sound_tags import SoundMarker, id3_tag

RATE = 44_100
TITLE = "Ça va ♭9"
SECTIONS = (
    SoundMarker(name="intro", sec=0.0),
    SoundMarker(name="été", sec=0.5),
    SoundMarker(name="last chorus", sec=1.25),
)
SAMPLES = (
    numpy.random.default_rng(3).standard_normal((2 * RATE, 2)).astype(numpy.float32) * 0.1
).clip(-1, 1)


def file_bytes(suffix: str, sample_format: str | None = None, **tags: object) -> bytes:
    given = {"title": TITLE, "markers": SECTIONS} | tags
    return audio_bytes(SAMPLES, RATE, suffix=suffix, sample_format=sample_format, **given)  # type: ignore[arg-type]


def riff_chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return the chunks of a RIFF file or list, each padded to an even length."""
    chunks = []
    while data:
        name, size = struct.unpack("<4sI", data[:8])
        chunks.append((name, data[8 : 8 + size]))
        data = data[8 + size + size % 2 :]
    return chunks


@pytest.mark.parametrize("sample_format", [None, *SAMPLE_FORMATS])
def test_a_wav_has_its_title_and_a_cue_point_a_section(sample_format: str | None) -> None:
    data = file_bytes(".wav", sample_format)
    assert data[:4] == b"RIFF"
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    chunks = dict(riff_chunks(data[12:]))
    count, *points = struct.unpack("<I" + "II4sIII" * 3, chunks[b"cue "])
    assert count == 3
    assert [points[i : i + 6] for i in (0, 6, 12)] == [
        [number, frame, b"data", 0, 0, frame]
        for number, frame in ((1, 0), (2, 22_050), (3, 55_125))
    ]
    assert chunks[b"LIST"][:4] == b"adtl"
    labels = [text for name, text in riff_chunks(chunks[b"LIST"][4:]) if name == b"labl"]
    assert [(text[0], text[4:-1].decode()) for text in labels] == [
        (1, "intro"),
        (2, "été"),
        (3, "last chorus"),
    ]
    with soundfile.SoundFile(io.BytesIO(data)) as file:
        assert file.title == TITLE
        assert file.frames == len(SAMPLES)


def test_a_wav_of_an_odd_length_is_padded_before_its_markers() -> None:
    data = audio_bytes(
        SAMPLES[:3, :1], RATE, suffix=".wav", sample_format="24", title="x", markers=SECTIONS
    )
    chunks = riff_chunks(data[12:])
    assert [name for name, _ in chunks][-3:] == [b"data", b"cue ", b"LIST"]
    assert len(dict(chunks)[b"data"]) == 9


def test_an_mp3_has_its_title_and_chapters_to_its_end() -> None:
    data = file_bytes(".mp3")
    tag = mutagen.id3.ID3(io.BytesIO(data))
    assert tag.version == (2, 4, 0)
    assert tag["TIT2"].text == [TITLE]
    (contents,) = tag.getall("CTOC")
    chapters = {chapter.element_id: chapter for chapter in tag.getall("CHAP")}
    found = [chapters[name] for name in contents.child_element_ids]
    assert [(c.start_time, c.end_time, c.sub_frames["TIT2"].text[0]) for c in found] == [
        (0, 500, "intro"),
        (500, 1250, "été"),
        (1250, 2000, "last chorus"),
    ]
    assert contents.flags == mutagen.id3.CTOCFlags.TOP_LEVEL | mutagen.id3.CTOCFlags.ORDERED
    assert mutagen.mp3.MP3(io.BytesIO(data)).info.length == pytest.approx(2.0, abs=0.1)
    assert not mutagen.id3.ParseID3v1(data[-128:])  # thirty letters of Latin-1


def test_sizes_of_an_mp3_tag_are_synchsafe() -> None:
    """ID3v2.4, section 6.2: a size of 200 is 0x0148; here of a title long enough to need it."""
    tag = mutagen.id3.ID3(io.BytesIO(id3_tag("x" * 300, (), 1.0) + bytes(64)))
    assert tag["TIT2"].text == ["x" * 300]
    assert not tag.getall("CTOC")


def test_more_sections_than_a_table_of_contents_counts_are_left_out() -> None:
    many = [SoundMarker(name=f"s{i}", sec=i) for i in range(300)]
    tag = mutagen.id3.ID3(io.BytesIO(id3_tag("long", many, 300) + bytes(64)))
    assert len(tag.getall("CHAP")) == len(tag.getall("CTOC")[0].child_element_ids) == 255


def test_flac_and_ogg_carry_the_title() -> None:
    assert mutagen.flac.FLAC(io.BytesIO(file_bytes(".flac")))["title"] == [TITLE]
    assert mutagen.oggvorbis.OggVorbis(io.BytesIO(file_bytes(".ogg")))["title"] == [TITLE]


@pytest.mark.parametrize(
    ("suffix", "sample_format", "subtype", "step"),
    [
        (".wav", "16", "PCM_16", 2**-15),
        (".wav", "24", "PCM_24", 2**-23),
        (".wav", "float", "FLOAT", 0.0),
        (".flac", "24", "PCM_24", 2**-23),
    ],
)
def test_samples_are_held_to_the_nearest_step(
    suffix: str, sample_format: str, subtype: str, step: float
) -> None:
    data = file_bytes(suffix, sample_format)
    assert soundfile.info(io.BytesIO(data)).subtype == subtype
    read, _ = soundfile.read(io.BytesIO(data))
    assert numpy.abs(read - SAMPLES).max() <= 1.1 * step


def test_24_bits_are_clipped_not_wrapped() -> None:
    loud = numpy.array([[2.0, -2.0]] * 8, numpy.float32)
    data = audio_bytes(loud, RATE, suffix=".wav", sample_format="24")
    assert (
        soundfile.read(io.BytesIO(data), dtype="int32")[0].tolist()
        == [[(2**23 - 1) << 8, -(2**23 - 1) << 8]] * 8
    )


def test_a_wav_of_floats_has_no_time_of_the_clock() -> None:
    """libsndfile's PEAK chunk: version, time stamp, then a peak a channel."""
    chunks = dict(riff_chunks(file_bytes(".wav", "float")[12:]))
    assert struct.unpack("<II", chunks[b"PEAK"][:8]) == (1, 0)


@pytest.mark.parametrize(
    ("suffix", "sample_format"), [(".mp3", "24"), (".ogg", "16"), (".flac", "float")]
)
def test_samples_that_a_format_does_not_hold_are_refused(suffix: str, sample_format: str) -> None:
    with pytest.raises(OptionError, match="--bits") as caught:
        held_coding(suffix, sample_format)
    assert caught.value.hint


def test_the_peak_of_a_coded_file_is_the_decoders() -> None:
    for suffix in (".wav", ".mp3"):
        data = file_bytes(suffix)
        read, _ = soundfile.read(io.BytesIO(data), dtype="float32")
        assert encoded_peak_dbtp(data) == true_peak_dbtp(read)
