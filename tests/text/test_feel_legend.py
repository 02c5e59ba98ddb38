"""Every sign that a drawn cell has is explained under it (common practice, no source)."""

import re

import pytest

from groove.cells.library import find_cell
from groove.cells.model import Library
from groove.io.library import load_library
from groove.text.cells import cell_text, feel_text

LIBRARY = load_library(None)
GRID = re.compile(r"^  (?:level|phrase end|fill|\w*) *\|(.*)\|$")


def split_drawing(text: str) -> tuple[list[str], dict[str, str]]:
    """The rows of the grids, and the legend: sign and words."""
    grids, _, legend = text.partition("\nsigns:\n")
    rows = [re.split(r"\s{2,}", line.strip(), maxsplit=1) for line in legend.splitlines()]
    return grids.splitlines(), {sign: words for sign, words in rows}


def explained(token: str, signs: dict[str, str]) -> bool:
    """Whether a token of a grid stands in the legend."""
    bare = token.removeprefix("s") if "s" in signs else token
    if token in (".", "-", "x", ">R", ">*"):
        return token in signs
    if bare.startswith(">"):
        return ">-1 >+2" in signs or bare in signs
    if token[0].isdigit() and token.rstrip("o").isdigit() and "13" in signs:
        return True
    degree = bare.lstrip("b#").rstrip(",o")
    return (degree in signs or degree == "V") and ("," not in token or "," in signs)


@pytest.mark.parametrize("name", list(LIBRARY.feels))
def test_every_sign_of_a_feel_is_explained(name: str) -> None:
    rows, signs = split_drawing(feel_text(LIBRARY, LIBRARY.feels[name]))
    levels = 0
    part = ""
    for row in rows:
        if row.startswith(("bass:", "drums:", "keys:")):
            part = row.split(":")[0]
        grid = GRID.match(row)
        if not grid:
            continue
        label = row[2:13].strip()
        if label in ("chorus", "phrase end", "fill"):
            assert label in signs
        tokens = grid[1].replace("|", " ").split()
        if part == "drums" or label == "level":
            levels += 1
            assert not set(tokens) - set(".123456789")
        elif label not in ("chorus", "phrase end") and tokens[0] != "1":
            assert all(explained(token, signs) for token in tokens), (row, signs)
    assert bool(levels) == ("1 to 9" in signs)


def test_signs_that_do_not_occur_are_left_out() -> None:
    cell = find_cell(LIBRARY, "bass", "pedal")
    assert cell
    rows, signs = split_drawing(cell_text(cell))
    # Read off the drawing by hand: four roots, no holds, no rests.
    assert rows[2].split("|")[1].split() == ["R", "R", "R", "R"]
    assert list(signs) == ["R", "1 to 9"]


def test_the_phrase_is_counted(library: Library) -> None:
    text = feel_text(library, library.feels["sixteenths"])
    assert "the last bar of a phrase (4 bars)" in text
    assert "phrase end" in split_drawing(text)[1]
