"""A fingerprint of a part's notes in MusicXML, by which a file of ours is seen to be edited."""

from collections.abc import Iterable, Iterator
from hashlib import sha256
from xml.etree.ElementTree import Element

LINE_FIELD = "groove-line"
PRINT_LENGTH = 16
SAID = (
    "pitch/step", "pitch/alter", "pitch/octave", "duration", "notehead", "staff",
    "notations/technical/string", "notations/technical/fret",
)  # fmt: skip
"""What a note says that the line is made of."""


def line_print(measures: Iterable[Element]) -> str:
    """Return a text that changes with any note of a part: its pitch, length, place or head."""
    digest = sha256()
    for index, measure in enumerate(measures):
        digest.update((" " * bool(index) + " ".join(_note_facts(measure))).encode())
    return digest.hexdigest()[:PRINT_LENGTH]


def _note_facts(measure: Element) -> Iterator[str]:
    """Yield what a measure says of its notes."""
    yield "|"
    for element in measure:
        if element.tag == "note":
            yield "c" if element.find("chord") is not None else "n"
            texts = _texts(element)
            yield from (texts.get(path, "-") for path in SAID)
            yield from (tie.get("type", "") for tie in element.findall("tie"))
        elif element.tag in ("backup", "forward"):
            yield element.tag + element.findtext("duration", "")


def _texts(element: Element, path: str = "") -> dict[str, str]:
    """Return the first text at each path below an element that leads to what is said."""
    found: dict[str, str] = {}
    for part in element:
        place = path + part.tag
        if place in _ON_THE_WAY:
            found = _texts(part, place + "/") | found
        else:
            found.setdefault(place, part.text or "")
    return found


_ON_THE_WAY = {path.rpartition("/")[0] for path in SAID if "/" in path} | {"notations"}
