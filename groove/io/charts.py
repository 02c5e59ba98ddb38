"""Charts from files and from standard input: our own, MusicXML and ABC, by the file's suffix."""

import sys
from pathlib import Path

from groove.chart.lines import LONGEST_CHART_BYTES
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.errors import ChartError, OptionError, SourcePlace, nearest_hint

STANDARD_INPUT = "-"
MUSICXML_SUFFIXES = (".musicxml", ".mxl")
ABC_SUFFIX = ".abc"
SUFFIXES = (".txt", ABC_SUFFIX, *MUSICXML_SUFFIXES)
MOST_SHOWN = 12
SIGNATURES = {b"%PDF": "a PDF", b"MThd": "a MIDI file", b"PK": "a zip file", b"RIFF": "a RIFF file"}
"""How files begin that are no text and yet are given as charts."""
TEXT_SIGNATURES = {
    "<!doctype html": "a web page (HTML)",
    "<html": "a web page (HTML)",
    "<?xml": "an XML file",
    "<svg": "a drawing (SVG)",
}
"""How texts begin, in small letters, that are no charts; MusicXML is read by its suffix."""
LONGEST_HEAD = 40
LARGEST_SCORE_BYTES = 32 * 1_048_576


def read_song(name: str) -> Song:
    """Return the song of a file, ``-`` for a chart on standard input.

    The suffix decides: ``.musicxml`` and ``.mxl``, ``.abc``, else a chart of ours.  Raises
    OptionError where there is no such file, ChartError for one that cannot be read.
    """
    suffix = Path(name).suffix.casefold()
    if suffix in MUSICXML_SUFFIXES:
        from groove.io.musicxml import song_from_musicxml

        return song_from_musicxml(read_limited(name, LARGEST_SCORE_BYTES), name)
    text = decoded(name, read_limited(name, LONGEST_CHART_BYTES))
    if suffix == ABC_SUFFIX:
        from groove.io.abc import song_from_abc

        return song_from_abc(text, name)
    refuse_markup(name, text)
    return parse_chart(text, source=name)


def refuse_markup(name: str, text: str) -> None:
    """Refuse a web page or an XML file given as a chart, saying what it is."""
    head = text.removeprefix("\ufeff").lstrip()[:LONGEST_HEAD].casefold()
    kind = next((kind for start, kind in TEXT_SIGNATURES.items() if head.startswith(start)), None)
    if kind:
        hint = "expected a chart as plain text, or a file named .musicxml, .mxl or .abc"
        raise OptionError(f"found {kind}, {name}", hint=hint)


def read_limited(name: str, limit: int) -> bytes:
    """Return the bytes of a file.  Raises ChartError for one that is larger than the limit."""
    try:
        if name == STANDARD_INPUT:
            data = sys.stdin.buffer.read(limit + 1)
        else:
            with Path(name).open("rb") as file:
                data = file.read(limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OptionError(f"cannot read {name}: {reason}", hint=missing_hint(name)) from None
    if len(data) > limit:
        place = SourcePlace(source=name, line=1, column=1, text="")
        raise ChartError(
            f"the file is larger than {limit // 1_048_576} MB",
            place=place,
            hint="a song's chart has a few kB",
        )
    return data


def missing_hint(name: str) -> str:
    """Return what would do in place of a file that cannot be read: a file like it, if any."""
    path = Path(name)
    is_folder = False
    try:
        is_folder = path.is_dir()
        folder = path if is_folder else path.parent
        charts = [file.name for file in folder.iterdir() if file.suffix.casefold() in SUFFIXES]
    except (OSError, ValueError):
        charts = []
    expected = "expected a chart's file, or - for standard input"
    if is_folder and charts:
        return f"{expected}; its charts are: {', '.join(sorted(charts)[:MOST_SHOWN])}"
    return "; ".join(filter(None, (nearest_hint(path.name, charts), expected)))


def decoded(name: str, data: bytes) -> str:
    """Return bytes as text.  Raises ChartError with the place of what is no UTF-8."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        kind = next((kind for head, kind in SIGNATURES.items() if data.startswith(head)), None)
        if kind:
            raise OptionError(
                f"found {kind}, {name}", hint="expected a chart: plain text, MusicXML or ABC"
            ) from None
        raise ChartError(
            f"found the byte {data[error.start]:#04x}, which is no UTF-8 text",
            place=byte_place(name, data, error.start),
            hint="save the chart as plain text in UTF-8",
        ) from None


def byte_place(name: str, data: bytes, start: int) -> SourcePlace:
    """Return the place of a byte in a text."""
    before = data[:start].decode("utf-8")
    line = before.count("\n") + 1
    head = before.rpartition("\n")[2]
    return SourcePlace(source=name, line=line, column=len(head) + 1, text=head + "�")
