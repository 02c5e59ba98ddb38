"""The patterns on disk: what is shipped is found, and a player's own folder comes first."""

import tomllib
from pathlib import Path

import pytest

import groove
from groove.cells.library import check_feel, find_cell, find_feel
from groove.cells.model import Cell, Feel, Library
from groove.errors import CellError
from groove.io.library import ShippedPatterns, load_library, patterns_root

MINE = """format = 1
name = "{name}"
summary = "one long note"
meter = "4/4"
steps  = "R - - -"
levels = "9 . . ."
"""


def own_cell(folder: Path, name: str, text: str = MINE) -> Path:
    """Write a bass cell of one's own and return its folder of patterns."""
    (folder / "bass").mkdir(parents=True, exist_ok=True)
    (folder / "bass" / "mine.toml").write_text(text.format(name=name), encoding="utf-8")
    return folder


def test_the_cells_found_are_the_files_of_the_checkout(root: Path, library: Library) -> None:
    """What is loaded is what lies there: no file is passed over, none comes from elsewhere."""
    files = {f"patterns/{f.relative_to(root / 'patterns').as_posix()}" for f in toml_files(root)}
    values: list[Cell | Feel] = [
        *library.bass.values(),
        *library.drums.values(),
        *library.keys.values(),
        *library.feels.values(),
    ]
    assert len(files) == len(values) >= 19 * 4
    assert {value.source for value in values} == files


def toml_files(root: Path) -> list[Path]:
    """Return every pattern file of the checkout."""
    return sorted((root / "patterns").rglob("*.toml"))


def test_files_are_called_as_their_cells_with_hyphens(root: Path) -> None:
    files = toml_files(root)
    assert len(files) > 80
    off = []
    for file in files:
        name = tomllib.loads(file.read_text(encoding="utf-8"))["name"]
        if file.stem != name.replace(",", "").replace(" ", "-"):
            off.append(file.name)
    assert off == []


def test_patterns_hold_data_only_and_are_not_doubled(root: Path) -> None:
    """A folder groove/patterns would hide the one beside the package."""
    found = [file for file in (root / "patterns").rglob("*") if file.is_file()]
    assert {file.suffix for file in found} == {".toml"}
    assert not (root / "groove" / "patterns").exists()


def test_patterns_are_found_beside_the_package(root: Path) -> None:
    assert Path(groove.__file__).parent.parent == root
    assert patterns_root() == root / "patterns"


def test_the_shipped_library_is_read_once() -> None:
    assert load_library() is load_library()


def test_a_shipped_pattern_is_read_when_it_is_asked_for() -> None:
    patterns = ShippedPatterns("bass", patterns_root())
    assert patterns["two-beat"].name == "two-beat" and set(patterns.read) == {"two beat"}
    assert "../feels/ballad" not in patterns and "no such" not in patterns
    assert list(patterns) == sorted(load_library().bass, key=lambda name: name.replace("-", " "))


def test_the_cells_of_shipped_feels_are_there_and_fit(library: Library) -> None:
    for feel in library.feels.values():
        check_feel(library, feel)
    assert len(library.feels) == 31


def test_an_own_cell_is_added(tmp_path: Path, library: Library) -> None:
    own = load_library(own_cell(tmp_path, "my long one"))
    found = find_cell(own, "bass", "My Long One")
    assert found is not None and found.source == f"{tmp_path}/bass/mine.toml"
    assert len(own.bass) == len(library.bass) + 1
    assert find_cell(load_library(), "bass", "my long one") is None


def test_an_own_cell_hides_the_shipped_one_of_its_name(tmp_path: Path, library: Library) -> None:
    own = load_library(own_cell(tmp_path, "Sixteenths"))
    feel = find_feel(own, "sixteenths")
    assert feel is not None and feel.source == "patterns/feels/sixteenths.toml"
    cell = find_cell(own, "bass", feel.bass)
    assert cell is not None and cell.summary == "one long note"
    assert len(own.bass) == len(library.bass)
    assert load_library().bass["sixteenths"].summary != "one long note"


def test_an_own_folder_is_read_anew_each_time(tmp_path: Path) -> None:
    own_cell(tmp_path, "first name")
    assert find_cell(load_library(tmp_path), "bass", "first name") is not None
    own_cell(tmp_path, "second name")
    library = load_library(tmp_path)
    assert find_cell(library, "bass", "first name") is None
    assert find_cell(library, "bass", "second name") is not None


def test_other_files_of_an_own_folder_are_left_alone(tmp_path: Path, library: Library) -> None:
    own_cell(tmp_path, "mine")
    (tmp_path / "bass" / "notes.txt").write_text("not a cell", encoding="utf-8")
    (tmp_path / "bass" / "folder.toml").mkdir()
    assert len(load_library(tmp_path).bass) == len(library.bass) + 1


def refused(folder: Path) -> CellError:
    """Return the error that a folder gives."""
    with pytest.raises(CellError) as caught:
        load_library(folder)
    return caught.value


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    error = refused(tmp_path / "gone")
    assert error.source == str(tmp_path / "gone")
    assert error.message.startswith("found nothing, expected a folder of patterns")


def test_a_file_in_place_of_a_folder(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(MINE, encoding="utf-8")
    assert refused(file).message.startswith("found a file, expected a folder of patterns")


def test_a_folder_without_patterns(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(MINE, encoding="utf-8")
    error = refused(tmp_path)
    assert error.message == "found none of the folders bass, drums, keys, feels"
    assert "bass/NAME.toml" in error.hint


def test_a_bad_cell_is_told_with_file_and_path(tmp_path: Path) -> None:
    error = refused(own_cell(tmp_path, "mine", MINE.replace("R - - -", "R - 4 -")))
    assert error.report().split("\n")[0] == (
        f"{tmp_path}/bass/mine.toml: levels: bar 1, slot 3: "
        "found '.' under '4', expected a level from 1 to 9"
    )


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    own_cell(tmp_path, "mine", MINE + "#\n" * 140_000)
    assert "expected at most 256 KiB" in refused(tmp_path).message


def test_a_file_that_cannot_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A planted refusal, since the tests may run as a user who may read everything."""
    own_cell(tmp_path, "mine")
    load_library()

    def no_access(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", no_access)
    error = refused(tmp_path)
    assert error.message == "cannot be read: Permission denied"
    assert error.source == f"{tmp_path}/bass/mine.toml"
