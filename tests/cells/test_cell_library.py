"""Names, folders laid over one another, and the feel that a meter gets."""

from typing import Any

import pytest

from groove.cells.fit import Family, is_triplet_grid, meter_family, serves
from groove.cells.library import (
    default_feel,
    feel_serves,
    find_cell,
    find_feel,
    library_from,
    nearest_feel_for,
    nearest_name,
)
from groove.cells.model import Library
from groove.errors import CellError
from groove.timing import Meter
from tests.cells.cell_lines import BASS, DRUMS, FEEL, FILES

ALL_METERS = [Meter(count, unit) for unit in (1, 2, 4, 8, 16) for count in range(1, 25)]


def with_feel(**change: Any) -> tuple[Any, ...]:
    """Return the small library's files with one feel changed."""
    return (*FILES[:3], ("feels", "feels/plain.toml", {**FEEL, **change}))


def test_names_are_folded() -> None:
    library = library_from(FILES)
    for name in ("plain feel", "PLAIN FEEL", "  Plain\tfeel ", "plain-feel"):
        found = find_feel(library, name)
        assert found is not None and found.source == "feels/plain.toml"
    for kind in ("bass", "drums", "keys"):
        name = FEEL[kind].upper()
        assert find_cell(library, kind, name) is not None
    assert find_feel(library, "plainfeel") is None
    assert find_cell(library, "drums", "two") is None


def test_a_name_twice_in_one_folder_is_refused() -> None:
    again: Any = ("bass", "bass/again.toml", {**BASS, "name": "TWO"})
    with pytest.raises(CellError) as caught:
        library_from([*FILES, again])
    assert (caught.value.source, caught.value.path) == ("bass/again.toml", "name")
    assert "bass/two.toml" in caught.value.message


def test_the_same_name_in_two_kinds_is_no_clash() -> None:
    library = library_from([*FILES, ("drums", "drums/two.toml", {**DRUMS, "name": "two"})])
    assert (len(library.bass), len(library.drums)) == (1, 2)


def test_an_own_cell_takes_the_place_of_a_shipped_one_in_shipped_feels() -> None:
    shipped = library_from(FILES)
    own = library_from([("bass", "own/bass/mine.toml", {**BASS, "name": "Two"})], under=shipped)
    feel = find_feel(own, "plain feel")
    assert feel is not None
    cell = find_cell(own, "bass", feel.bass)
    assert cell is not None and cell.source == "own/bass/mine.toml"
    assert shipped.bass["two"].source == "bass/two.toml"
    assert (len(own.bass), len(own.feels)) == (1, 1)


@pytest.mark.parametrize(
    ("change", "path", "hint"),
    [
        ({"bass": "too"}, "bass", "nearest: two"),
        ({"drums": "plane"}, "drums", "nearest: plain"),
        ({"keys": "chord"}, "keys", "nearest: chords"),
        ({"keys": "zzzzzzzz"}, "keys", "expected the name of a file in keys/"),
        ({"fast": {"above": 100, "drums": "plan"}}, "fast.drums", "nearest: plain"),
    ],
)
def test_a_feel_whose_cell_is_missing(change: dict[str, Any], path: str, hint: str) -> None:
    with pytest.raises(CellError) as caught:
        library_from(with_feel(**change))
    assert (caught.value.source, caught.value.path) == ("feels/plain.toml", path)
    assert caught.value.hint == hint


@pytest.mark.parametrize("meter", ["6/8", "7/8", "any"])
def test_a_feel_whose_cells_cannot_be_played_in_its_meter(meter: str) -> None:
    with pytest.raises(CellError) as caught:
        library_from(with_feel(meter=meter))
    assert caught.value.path == "bass"
    assert "found 'two' in 4/4 (bass/two.toml)" in caught.value.message


def test_an_own_cell_in_another_meter_under_a_shipped_feel_is_named() -> None:
    shipped = library_from(FILES)
    six = {**BASS, "meter": "6/8", "steps": "R 5", "levels": "9 7"}
    with pytest.raises(CellError, match="own/bass/two"):
        library_from([("bass", "own/bass/two.toml", six)], under=shipped)


def test_nearest_names() -> None:
    library = library_from(FILES)
    assert nearest_name(library, "drums", "plane") == "nearest: plain"
    assert nearest_name(library, "bass", "TWOO") == "nearest: two"
    assert nearest_name(library, "keys", "qqqqqq") == ""


def test_library_cannot_be_changed() -> None:
    library = library_from(FILES)
    with pytest.raises(TypeError):
        library.bass["x"] = library.bass["two"]  # type: ignore[index]


def test_meter_families_and_pulses() -> None:
    """The beat of 6/8, 9/8, 12/8 is the dotted quarter; 3/8, 5/8, 7/8 count eighths (by trade)."""
    expected = {
        "4/4": (Family.QUARTERS, 4),
        "3/4": (Family.QUARTERS, 3),
        "2/2": (Family.QUARTERS, 4),
        "6/8": (Family.DOTTED, 2),
        "9/8": (Family.DOTTED, 3),
        "12/8": (Family.DOTTED, 4),
        "3/8": (Family.UNITS, 3),
        "7/8": (Family.UNITS, 7),
        "9/16": (Family.UNITS, 9),
    }
    meters = {name: Meter(*map(int, name.split("/"))) for name in expected}
    assert len(meters) == 9
    found = {name: (meter_family(meter), meter.pulse_count) for name, meter in meters.items()}
    assert found == expected


@pytest.mark.parametrize(
    ("cell_meter", "slots", "meter", "fits"),
    [
        ("4/4", 4, "3/4", True),
        ("4/4", 4, "2/2", True),
        ("4/4", 4, "12/8", False),
        ("4/4", 3, "12/8", True),
        ("12/8", 3, "4/4", True),
        ("12/8", 1, "4/4", False),
        ("6/8", 3, "9/8", True),
        ("4/4", 3, "7/8", False),
        ("7/8", 3, "4/4", False),
        ("7/8", 1, "5/8", True),
    ],
)
def test_which_meters_a_cell_serves(cell_meter: str, slots: int, meter: str, fits: bool) -> None:
    """A bar of 12/8 is one of 4/4 in triplets (common practice, no source)."""
    own, other = (Meter(*map(int, text.split("/"))) for text in (cell_meter, meter))
    assert serves(own, slots, other) is fits
    assert serves(None, slots, other)
    assert is_triplet_grid(own, slots) is (slots == 3)


def test_every_meter_gets_a_feel_that_serves_it(library: Library) -> None:
    compared = 0
    for meter in ALL_METERS:
        for choose in (default_feel, nearest_feel_for):
            assert feel_serves(library, choose(library, meter), meter), meter
            compared += 1
    assert compared == 240


@pytest.mark.parametrize(
    ("meter", "feel"),
    [
        ((4, 4), "straight eighths"),
        ((2, 4), "straight eighths"),
        ((2, 2), "straight eighths"),
        ((6, 4), "straight eighths"),
        ((3, 4), "waltz"),
        ((5, 4), "five-four"),
        ((6, 8), "six-eight"),
        ((9, 8), "six-eight"),
        ((12, 8), "slow twelve-eight"),
        ((7, 8), "seven-eight"),
        ((5, 8), "seven-eight"),
        ((11, 16), "seven-eight"),
    ],
)
def test_default_feels(library: Library, meter: tuple[int, int], feel: str) -> None:
    """Common practice, no source."""
    assert default_feel(library, Meter(*meter)).name == feel
    assert nearest_feel_for(library, Meter(*meter)).name == feel


def test_a_library_of_ones_own_offers_what_it_has() -> None:
    library = library_from(FILES)
    assert default_feel(library, Meter(3, 4)).name == "plain feel"
    with pytest.raises(CellError, match="no feel for 6/8"):
        default_feel(library, Meter(6, 8))
