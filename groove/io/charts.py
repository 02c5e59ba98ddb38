"""Charts from files and from standard input: our own, MusicXML and ABC, by the file's suffix."""

import errno
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from msgspec.structs import replace

from groove.chart.lines import LONGEST_CHART_BYTES
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.errors import ChartError, OptionError, SourcePlace, joined_hints, nearest_hint
from groove.io.abc_tunes import ABC_SUFFIX, read_book, split_name, tune_names

STANDARD_INPUT = "-"
MUSICXML_SUFFIXES = (".musicxml", ".mxl")
SUFFIXES = (".txt", ABC_SUFFIX, *MUSICXML_SUFFIXES)
_MOST_SHOWN = 12
SIGNATURES = {
    b"%PDF": "a PDF",
    b"MThd": "a MIDI file",
    b"PK": "a zip file",
    b"RIFF": "a RIFF file",
    b"\x89PNG": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"\xff\xfe": "a text in UTF-16",
    b"\xfe\xff": "a text in UTF-16",
}
"""How files begin that are no text and yet are given as charts."""
TEXT_SIGNATURES = {
    "<!doctype html": "a web page (HTML)",
    "<html": "a web page (HTML)",
    "<?xml": "an XML file",
    "<svg": "a drawing (SVG)",
    "{\\rtf": "a formatted text (RTF)",
}
"""How texts begin, in small letters, that are no charts; MusicXML is read by its suffix."""
LONGEST_HEAD = 40
_NEAR_NAME = 0.75
"""How like a file must be named to be the one that was meant; its suffix alone is no likeness."""
_EXPECTED = "expected a chart's file, or - for standard input"
LARGEST_SCORE_BYTES = 32 * 1_048_576


def read_song(name: str, line: str = "") -> Song:
    """Return the song of a file, ``-`` for a chart on standard input.

    ``line`` is the part of a score that is the bass line, by number or name, ``none`` for none,
    empty to choose it.  The suffix decides: ``.musicxml`` and ``.mxl``, ``.abc``, else a chart of
    ours.  Raises OptionError where there is no such file, ChartError for one that cannot be read.
    """
    suffix = Path(name).suffix.casefold()
    if suffix in MUSICXML_SUFFIXES:
        from groove.io.musicxml import song_from_musicxml

        return song_from_musicxml(read_limited(name, LARGEST_SCORE_BYTES), name, line)
    file, tune = split_name(name)
    if Path(file).suffix.casefold() == ABC_SUFFIX:
        from groove.io.abc import song_from_abc

        return song_from_abc(_abc_text(file), file, tune, line)
    if line:
        raise OptionError(
            f"{name} is no score and has no part for --line {line[:LONGEST_HEAD]!r}",
            hint="expected a MIDI file, e.g. --line bass.mid",
        )
    return parse_chart(read_text(name), source=name)


def read_chart(name: str) -> tuple[str, Song]:
    """Return the text of a chart and its song; of a score of others, the chart that it makes.

    Raises as ``read_song`` does.
    """
    suffix = Path(split_name(name)[0]).suffix.casefold()
    is_score = suffix in (ABC_SUFFIX, *MUSICXML_SUFFIXES)
    if not is_score:
        text = read_text(name)
        return text, parse_chart(text, source=name)
    return as_chart(read_song(name), name)


def as_chart(song: Song, name: str) -> tuple[str, Song]:
    """Return the text of a song as a chart, and the song that reads from it.

    What was told of the song is told of that one.
    """
    from groove.chart.write import write_chart

    text = write_chart(song)
    return text, replace(parse_chart(text, source=name), notices=song.notices)


def read_text(name: str) -> str:
    """Return the text of a chart of ours.  Raises OptionError, ChartError."""
    text = _decoded(name, read_limited(name, LONGEST_CHART_BYTES))
    _refuse_markup(name, text)
    return text


def _abc_text(name: str) -> str:
    """Return the text of an ABC file; one that is no UTF-8 is read as Latin-1, as old ones are."""
    data = read_limited(name, LARGEST_SCORE_BYTES)
    if any(data.startswith(head) for head in SIGNATURES):
        return _decoded(name, data)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def every_tune(names: Sequence[str]) -> list[str]:
    """Return the names of charts, an ABC file of many tunes as each of its tunes."""
    found: list[str] = []
    for name in names:
        file, tune = split_name(name)
        is_book = not tune and Path(file).suffix.casefold() == ABC_SUFFIX and Path(file).is_file()
        tunes = tune_names(read_book(_abc_text(file))) if is_book else []
        found += [f"{name}:{tune}" for tune in tunes] if len(tunes) > 1 else [name]
    return found


def chart_file(name: str) -> str:
    """Return the file that a chart's name means: ``hills.abc`` for ``hills.abc:3``."""
    return split_name(name)[0]


def chart_stem(name: str) -> str:
    """Return what a chart's own files are called: ``hills-3`` for ``hills.abc:3``."""
    file, tune = split_name(name)
    return "-".join(filter(None, (Path(file).stem, re.sub(r"[^\w]+", "-", tune).strip("-"))))


def _refuse_markup(name: str, text: str) -> None:
    """Refuse a web page or an XML file given as a chart, saying what it is."""
    head = text.removeprefix("\ufeff").lstrip()[:LONGEST_HEAD].casefold()
    kind = next((kind for start, kind in TEXT_SIGNATURES.items() if head.startswith(start)), None)
    if kind:
        hint = "expected a chart as plain text, or a file named .musicxml, .mxl or .abc"
        raise OptionError(f"found {kind}, {name}", hint=hint)


def read_limited(name: str, limit: int, expected: str = "") -> bytes:
    """Return the bytes of a file; ``expected`` is said where it cannot be read.

    Raises ChartError for one that is larger than the limit.
    """
    try:
        if name == STANDARD_INPUT:
            data = sys.stdin.buffer.read(limit + 1)
        else:
            with Path(name).open("rb") as file:
                data = file.read(limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        if getattr(error, "errno", None) == errno.EBADF:
            reason = "standard input is closed"
        raise OptionError(
            f"cannot read {name}: {reason}", hint=expected or missing_hint(name)
        ) from None
    if len(data) > limit:
        place = SourcePlace(source=name, line=1, column=1, text="")
        raise ChartError(
            f"the file is larger than {limit // 1_048_576} MB",
            place=place,
            hint="a song's chart has a few kB",
        )
    return data


def missing_hint(name: str, expected: str = _EXPECTED) -> str:
    """Return what would do in place of a file that cannot be read: a file like it, if any."""
    path = Path(name)
    is_folder = False
    try:
        is_folder = path.is_dir()
        folder = path if is_folder else path.parent
        charts = [file.name for file in folder.iterdir() if file.suffix.casefold() in SUFFIXES]
    except (OSError, ValueError):
        charts = []
    if is_folder and charts:
        return f"{expected}; its charts are: {', '.join(sorted(charts)[:_MOST_SHOWN])}"
    return joined_hints(nearest_hint(path.name, charts, least=_NEAR_NAME), expected)


def _decoded(name: str, data: bytes) -> str:
    """Return bytes as text.  Raises ChartError with the place of what is no UTF-8."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        kind = next((kind for head, kind in SIGNATURES.items() if data.startswith(head)), None)
        if kind:
            raise OptionError(
                f"found {kind}, {name}",
                hint="expected a chart: plain text in UTF-8, MusicXML or ABC",
            ) from None
        raise ChartError(
            f"found the byte {data[error.start]:#04x}, which is no UTF-8 text",
            place=_byte_place(name, data, error.start),
            hint="save the chart as plain text in UTF-8",
        ) from None


def _byte_place(name: str, data: bytes, start: int) -> SourcePlace:
    """Return the place of a byte in a text."""
    before = data[:start].decode("utf-8")
    line = before.count("\n") + 1
    head = before.rpartition("\n")[2]
    return SourcePlace(source=name, line=line, column=len(head) + 1, text=head + "�")
