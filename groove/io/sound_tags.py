"""Title and sections in the files of sound, as their open standards have them.

WAV: chunks ``cue `` and ``LIST adtl`` with a ``labl`` a section (*Multimedia Programming Interface
and Data Specifications 1.0*, IBM and Microsoft, 1991, chapter 3).  MP3: an ID3v2.4 tag at the head
(id3.org, *ID3 tag version 2.4.0*, 2000) with frames ``CHAP`` and ``CTOC`` (*ID3v2 Chapter Frame
Addendum 1.0*, 2005).  FLAC and Ogg have no marker that players agree on: they carry the title.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass

_UTF8 = b"\x03"
_TOP_AND_ORDERED = 0b11
_NO_OFFSET = 0xFFFFFFFF
_MOST_CHAPTERS = 255  # CTOC counts its entries in a byte


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundMarker:
    """Where a section begins in a file of sound."""

    name: str
    sec: float


def wav_markers(wav: bytes, markers: Sequence[SoundMarker], sample_rate: int) -> bytes:
    """Return a WAV file with the markers after its samples; ``sample_rate`` is in Hz."""
    if not markers:
        return wav
    points, labels = [], []
    for number, marker in enumerate(markers, 1):
        frame = round(marker.sec * sample_rate)
        points.append(struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame))
        text = struct.pack("<I", number) + marker.name.encode() + b"\0"
        labels.append(_riff_chunk(b"labl", text))
    cue = _riff_chunk(b"cue ", struct.pack("<I", len(points)) + b"".join(points))
    whole = wav[8:] + b"\0" * (len(wav) % 2) + cue
    whole += _riff_chunk(b"LIST", b"adtl" + b"".join(labels))
    return b"RIFF" + struct.pack("<I", len(whole)) + whole


def _riff_chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def id3_tag(title: str, markers: Sequence[SoundMarker], length_sec: float) -> bytes:
    """Return the tag that goes before the frames of an MP3 file; the last section ends with it."""
    marked = markers[:_MOST_CHAPTERS]
    ends = [*(marker.sec for marker in marked[1:]), length_sec]
    names = [f"s{number}".encode() + b"\0" for number in range(len(marked))]
    chapters = [
        _id3_frame(b"CHAP", name + _span(marker.sec, end) + _text_frame(b"TIT2", marker.name))
        for name, marker, end in zip(names, marked, ends, strict=False)
    ]
    contents = b"toc\0" + bytes((_TOP_AND_ORDERED, len(names))) + b"".join(names)
    listed = [_id3_frame(b"CTOC", contents)] if names else []
    frames = b"".join([_text_frame(b"TIT2", title), *listed, *chapters])
    return b"ID3\x04\0\0" + _synchsafe(len(frames)) + frames


def _span(start_sec: float, end_sec: float) -> bytes:
    """Return the times of a chapter in milliseconds, its places in bytes left open."""
    times = (round(start_sec * 1000), round(end_sec * 1000))
    return struct.pack(">IIII", *times, _NO_OFFSET, _NO_OFFSET)


def _text_frame(name: bytes, text: str) -> bytes:
    return _id3_frame(name, _UTF8 + text.encode())


def _id3_frame(name: bytes, data: bytes) -> bytes:
    return name + _synchsafe(len(data)) + b"\0\0" + data


def _synchsafe(number: int) -> bytes:
    """Return 28 bits in four bytes whose highest bit is 0, so that none looks like a frame."""
    return bytes(number >> shift & 0x7F for shift in (21, 14, 7, 0))
