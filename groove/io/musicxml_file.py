"""MusicXML files, plain or compressed, as a tree of elements with their lines.

Files come from anywhere: entities and references to other files are refused (defusedxml), depth
and size are bounded, and of a compressed file only the score is unpacked, up to a limit.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from msgspec import Struct

from groove.errors import ChartError
from groove.io.gate import Gate, Where, text_lines

MOST_BYTES = 16_000_000
MOST_ELEMENTS = 200_000
MOST_DEPTH = 64
MOST_FILES = 1000
_CONTAINER = "META-INF/container.xml"
SCORE_SUFFIXES = (".musicxml", ".xml")
ZIP_MAGIC = b"PK\x03\x04"
MEGABYTE = 1_000_000


class ScoreTree(Struct, frozen=True):
    """The root of a score, the line of each element that stands in a measure, and the gate."""

    root: Element
    lines: dict[Element, int]
    gate: Gate


def read_tree(data: bytes, source: str) -> ScoreTree:
    """Return the elements of a file.  Raises ChartError for what is no MusicXML."""
    gate = Gate(source)
    if data[:4] == ZIP_MAGIC:
        data = _unpacked(data, gate)
    return ScoreTree(*_parsed(data, gate), gate)


def _parsed(data: bytes, gate: Gate) -> tuple[Element, dict[Element, int]]:
    """Return the root of an XML text, and lines.  Raises ChartError for hostile or broken XML."""
    from defusedxml import DefusedXmlException  # type: ignore[import-untyped]

    _refuse_large(data, gate)
    gate.lines = text_lines(data)
    parser = _placed_parser(gate)
    try:
        parser.feed(data)
        root: Element = parser.close()
    except DefusedXmlException as error:
        raise gate.error(
            f"the file declares entities or other files ({type(error).__name__})",
            hint="expected plain MusicXML",
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        line, column = getattr(error, "position", (1, 0))
        raise gate.error(
            f"not well-formed XML: {error}",
            Where("", line),
            column=column + 1,
            hint="expected MusicXML",
        ) from None
    return root, parser.placed


def _refuse_large(data: bytes, gate: Gate) -> None:
    """Refuse what is too large to be a lead sheet, before it is parsed."""
    if len(data) > MOST_BYTES:
        raise gate.error(
            f"the score is larger than {MOST_BYTES // MEGABYTE} MB", hint="a lead sheet has some kB"
        )
    count = data.count(b"<")
    if count > 2 * MOST_ELEMENTS:
        raise gate.error(
            f"the score has more than {MOST_ELEMENTS} elements",
            hint="expected a lead sheet, or one part with chord symbols",
        )


def _placed_parser(gate: Gate) -> Any:
    """Return a parser that keeps the line of each element and bounds the depth."""
    from defusedxml.ElementTree import DefusedXMLParser  # type: ignore[import-untyped]

    class PlacedParser(DefusedXMLParser):  # type: ignore[misc]
        def __init__(self) -> None:
            # Its own elements are Python's: those of the library in C are read in half the time.
            super().__init__(
                target=TreeBuilder(),
                forbid_dtd=False,
                forbid_entities=True,
                forbid_external=True,
            )
            self.placed: dict[Element, int] = {}
            self.depth = 0
            self.begin = self.parser.StartElementHandler
            self.finish = self.parser.EndElementHandler
            self.parser.StartElementHandler = self.start
            self.parser.EndElementHandler = self.end

        def start(self, tag: str, attributes: list[str]) -> Element:
            self.depth += 1
            if self.depth > MOST_DEPTH:
                raise gate.error(
                    f"elements stand {self.depth} deep in each other",
                    Where("", self.parser.CurrentLineNumber),
                    hint=f"expected MusicXML, at most {MOST_DEPTH} deep",
                )
            element: Element = self.begin(tag, attributes)
            if tag in PLACED:
                self.placed[element] = self.parser.CurrentLineNumber
            return element

        def end(self, tag: str) -> None:
            self.depth -= 1
            self.finish(tag)

    return PlacedParser()


PLACED = frozenset({"part", "measure"})
"""Elements whose lines are told."""


# --- compressed files -------------------------------------------------------------------------


def _unpacked(data: bytes, gate: Gate) -> bytes:
    """Return the score in a compressed file.  Nothing is written to disk."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if len(archive.infolist()) > MOST_FILES:
                raise gate.error(f"the archive has more than {MOST_FILES} files")
            return _member(archive, _score_name(archive, gate), gate)
    except (
        zipfile.BadZipFile, KeyError, RuntimeError, NotImplementedError, EOFError, OSError,
        ValueError, zlib.error,
    ) as error:  # fmt: skip
        raise gate.error(f"not a readable .mxl: {error}", hint="expected a MusicXML file") from None


def _score_name(archive: zipfile.ZipFile, gate: Gate) -> str:
    """Return the score that the container names first, else the only one that is there."""
    try:
        container = _parsed(_member(archive, _CONTAINER, gate), gate)[0]
    except KeyError:
        return _only_score(archive, f"there is no {_CONTAINER}", gate)
    except ChartError as error:
        if error.message.startswith("the file declares"):
            raise
        return _only_score(archive, f"its {_CONTAINER} is {error.message}", gate)
    for element in container.iter():
        if element.tag.endswith("rootfile"):
            name = element.get("full-path", "")
            if name.startswith(("/", "\\")) or ".." in name.split("/") or ":" in name:
                raise gate.error(f"the container points outside the archive: {name!r}")
            if name in archive.namelist():
                return name
            return _only_score(
                archive, f"its {_CONTAINER} names {name!r}, which is not there", gate
            )
    return _only_score(archive, f"its {_CONTAINER} names no score", gate)


def _only_score(archive: zipfile.ZipFile, reason: str, gate: Gate) -> str:
    """Return the one score of an archive whose container does not say; it is told."""
    names = list(scores(archive))
    if len(names) != 1:
        raise gate.error(
            f"not a readable .mxl: {reason}",
            hint=f"expected one score beside it, found {len(names)}",
        )
    gate.report(f"{reason}; the one score in the archive is read, {names[0]}")
    return names[0]


def scores(archive: zipfile.ZipFile) -> Iterator[str]:
    """Yield the files of an archive that are named as scores, folders of programs apart."""
    for name in archive.namelist():
        is_aside = re.match(r"(?i)META-INF/|__MACOSX/", name)
        if name.casefold().endswith(SCORE_SUFFIXES) and not is_aside:
            yield name


def _member(archive: zipfile.ZipFile, name: str, gate: Gate) -> bytes:
    """Return one file of an archive, never more than the limit whatever its head says."""
    with archive.open(name) as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise gate.error(f"{name} unpacks to more than {MOST_BYTES // MEGABYTE} MB")
    return data
