"""Whether a file is whole, by readers that are not ours.

They are mido, soundfile, pypdf, lxml, Pillow and the standard library's zipfile.
"""

import io
import zipfile
from pathlib import Path

import mido
import pypdf
import soundfile
from lxml import etree, html  # type: ignore[import-untyped]
from PIL import Image


def is_whole(name: str, data: bytes) -> bool:
    """Return whether an outside reader takes a file as whole, to its end."""
    read = READERS[Path(name).suffix]
    try:
        read(data)
    except Exception:  # each library has errors of its own, and all of them say that it is torn
        return False
    return True


def read_midi(data: bytes) -> None:
    assert len(list(mido.MidiFile(file=io.BytesIO(data)))) > 20


def read_audio(data: bytes) -> None:
    samples, rate = soundfile.read(io.BytesIO(data))
    assert len(samples) / rate > 5  # a bar of sticks, two bars, two seconds to ring


def read_text(data: bytes) -> None:
    assert data.decode().rstrip().endswith("= held")


def read_pdf(data: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(data), strict=True)
    assert len([page.extract_text() for page in reader.pages]) == 1
    assert data.rstrip().endswith(b"%%EOF")


def read_png(data: bytes) -> None:
    Image.open(io.BytesIO(data)).load()


def read_xml(data: bytes) -> None:
    etree.fromstring(data)


def read_mxl(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        assert len([etree.fromstring(archive.read(name)) for name in archive.namelist()]) == 2


def read_html(data: bytes) -> None:
    tree = html.fromstring(data)
    assert tree.find("body") is not None
    assert data.rstrip().endswith(b"</html>")


READERS = {
    ".mid": read_midi,
    ".wav": read_audio,
    ".flac": read_audio,
    ".ogg": read_audio,
    ".mp3": read_audio,
    ".txt": read_text,
    ".svg": read_xml,
    ".musicxml": read_xml,
    ".pdf": read_pdf,
    ".png": read_png,
    ".mxl": read_mxl,
    ".html": read_html,
}
