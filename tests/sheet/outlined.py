"""Outlines of the text font as typst 0.15 draws it, with which the drawings' letters are compared.

``python -m tests.sheet.outlined`` writes the table of the drawings anew.
"""

import re
from pathlib import Path
from textwrap import wrap
from xml.etree import ElementTree

import typst

import groove.sheet.outlines
from groove.sheet.print_pages import TEXT_FONT

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
SIGNS = "♭♯♮°ø△‹♩⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻"
LETTERS = "ABCDEFGIMNV" + "abdeghijlmnoprstuvx" + "0123456789" + "()+-/.,#<" + SIGNS
"""What the names and numerals of chords are made of, and the note of a tempo."""
_PAGE = """#set page(width: 90000pt, height: 1500pt, margin: 0pt)
#set text(font: "%s", size: 1000pt, fallback: false, kerning: false, ligatures: false)
#text("%s")"""
WIDTH = 96


def typst_outlines(letters: str, folder: Path) -> dict[str, tuple[int, str]]:
    """Return each letter's width and outline in thousandths of its size, y growing upwards."""
    end = "|"
    page = folder / "letters.typ"
    page.write_text(_PAGE % (TEXT_FONT, letters + end), encoding="utf-8")
    drawing = typst.compile(str(page), format="svg", ignore_system_fonts=True)
    assert isinstance(drawing, bytes)
    root = ElementTree.fromstring(drawing)
    paths = {sign.get("id", ""): sign[0].get("d", "") for sign in root.iter(f"{SVG}symbol")}
    placed: list[tuple[float, str]] = []
    for line in root.iter(f"{SVG}g"):
        (start,) = re.findall(r"matrix\(1 0 0 -1 (\S+) ", line.get("transform", ""))
        for use in line.findall(f"{SVG}use"):
            placed.append((float(start) + float(use.get("x", 0)), paths[use.get(HREF, "")[1:]]))
    placed.sort()
    assert len(placed) == len(letters) + 1
    following = zip(letters, placed, placed[1:], strict=False)
    return {sign: (round(end - at), _packed(path)) for sign, (at, path), (end, _) in following}


def _packed(path: str) -> str:
    """Return a path without the point that it begins at and without idle blanks."""
    path = path.removeprefix("M 0 0")
    return re.sub(r" ?([a-zA-Z]) ?| (?=-)", r"\1", path).strip()


def main() -> None:
    """Write the table that the drawings use."""
    path = Path(groove.sheet.outlines.__file__)
    head, mark, _ = path.read_text(encoding="utf-8").partition('TABLE = """\n')
    lines = []
    for sign, (width, outline) in typst_outlines(LETTERS, Path("/tmp")).items():
        lines += [f"@{sign} {width}", *wrap(outline, WIDTH, break_on_hyphens=False)]
    path.write_text(head + mark + "\n".join(lines) + '\n"""\n', encoding="utf-8")


if __name__ == "__main__":
    main()
