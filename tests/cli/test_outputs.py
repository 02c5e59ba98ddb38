"""No output is written over a file that the call reads, nor over another output.

Files are one file if they have one device and one file number (IEEE Std 1003.1, 4.12 and
``<sys/stat.h>``), whatever they are called.
"""

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.command import Command
from tests.click_font import click_font

CHART = "title: Same\nkey: D\nfeel: sixteenths\nverse:\n| D | G |\n"


def other_spelling(folder: Path, of: str, name: str) -> str:
    """The same path through the folder above."""
    return f"../{folder.name}/{of}"


def symbolic_link(folder: Path, of: str, name: str) -> str:
    (folder / name).symlink_to(of)
    return name


def hard_link(folder: Path, of: str, name: str) -> str:
    os.link(folder / of, folder / name)
    return name


def linked_folder(folder: Path, of: str, name: str) -> str:
    """The same file in a folder that has two names."""
    (folder / "again").symlink_to(folder, target_is_directory=True)
    return f"again/{of}"


COMMANDS = {
    "render": ("render", ".mid"),
    "sheet": ("sheet", ".musicxml"),
    "tab": ("tab", ".txt"),
    "card": ("card", ".txt"),
    "neck": ("neck", ".svg"),
    "page": ("page", ".html"),
}
WAYS: tuple[Callable[[Path, str, str], str], ...] = (
    other_spelling,
    symbolic_link,
    hard_link,
    linked_folder,
)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_chart_is_never_written_over(
    groove: Command, command: str, way: Callable[[Path, str, str], str]
) -> None:
    verb, suffix = COMMANDS[command]
    groove.write("chart" + suffix, CHART)  # a chart of any suffix that is not a score's
    chart = "chart" + suffix
    if suffix == ".musicxml":
        assert groove("sheet", str(groove.write("first.txt", CHART)), "-o", chart).code == 0
    before = (groove.folder / chart).read_bytes()
    output = way(groove.folder, chart, "other" + suffix)
    said = groove(verb, chart, "-o", output)
    assert said.code == 2
    assert f"{output} would be written over a chart" in said.err
    assert (groove.folder / chart).read_bytes() == before


@pytest.mark.parametrize("way", [symbolic_link, hard_link])
@pytest.mark.parametrize(
    ("read", "what", "arguments"),
    [
        ("font.sf2", "the soundfont", ("--soundfont", "font.sf2")),
        ("mine/bass/own.toml", "a file of patterns", ("--patterns", "mine")),
        ("no-config/groove/config.toml", "the configuration", ()),
    ],
)
def test_other_files_that_are_read_are_not_written_over(
    groove: Command,
    read: str,
    what: str,
    arguments: tuple[str, ...],
    way: Callable[[Path, str, str], str],
) -> None:
    groove.write("song.txt", CHART)
    file = groove.folder / read
    file.parent.mkdir(parents=True, exist_ok=True)
    cell = Path(__file__).resolve().parents[2] / "patterns" / "bass" / "two-beat.toml"
    texts = {".sf2": click_font(), ".toml": b"format = 1\n"}
    file.write_bytes(cell.read_bytes() if "mine" in read else texts[file.suffix])
    before = file.read_bytes()
    output = way(groove.folder, read, "song.wav")
    said = groove("render", "song.txt", "-o", output, *arguments)
    assert said.code == 2, said.err
    assert f"{output} would be written over {what}" in said.err
    assert file.read_bytes() == before


def test_a_font_of_the_environment_is_not_written_over(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    groove.write("song.txt", CHART)
    (groove.folder / "song.html").write_bytes(click_font())
    monkeypatch.setenv("GROOVE_SOUNDFONT", "song.html")
    said = groove("page", "song.txt")
    assert said.code == 2
    assert "song.html would be written over the soundfont" in said.err
    assert (groove.folder / "song.html").read_bytes() == click_font()


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (("render", "song.txt", "-o", "a.mid", "-o", "sub/../a.mid"), "sub/../a.mid"),
        (("render", "song.txt", "-o", "a.mid", "-o", "A.mid"), "A.mid"),
        (("render", "song.txt", "-o", "a.mid", "-o", "a-bass.mid", "--stems"), "a-bass.mid"),
        (("render", "song.txt", "-o", "old.mid", "-o", "link.mid"), "link.mid"),
        (("render", "song.txt", "sub/SONG.txt", "-o", "out/"), "SONG.mid"),
        (("sheet", "song.txt", "sub/song.txt", "-o", "out/"), "that of song.txt"),
        (("page", "song.txt", "sub/song.txt", "-o", "out/"), "that of song.txt"),
    ],
)
def test_no_output_is_written_over_another(
    groove: Command, arguments: tuple[str, ...], found: str
) -> None:
    (groove.folder / "sub").mkdir()
    for name in ("song.txt", "sub/SONG.txt", "sub/song.txt"):
        groove.write(name, CHART)
    (groove.folder / "old.mid").write_bytes(b"old")
    (groove.folder / "link.mid").symlink_to("old.mid")
    before = groove.files()
    said = groove(*arguments)
    assert said.code == 2
    assert "would be written over" in said.err
    assert found in said.err
    assert groove.files() == before
    assert (groove.folder / "old.mid").read_bytes() == b"old"


def test_pages_of_one_sheet_are_not_written_over_another_sheet(groove: Command) -> None:
    many = CHART + "| D | G | A | G |\n" * 10
    groove.write("song.txt", many)
    groove.write("song-2.txt", CHART)
    said = groove("sheet", "song-2.txt", "song.txt", "--as", "svg", "-o", "out/", "--written-out")
    assert said.code == 1
    assert "out/song-2.svg would be written over that of song-2.txt" in said.err
    assert groove.files() == {"song.txt", "song-2.txt", "out/song-2.svg"}


def test_names_that_differ_are_other_files(groove: Command) -> None:
    groove.write("song.txt", CHART)
    shutil.copy(groove.folder / "song.txt", groove.folder / "copy.txt")
    assert groove("tab", "song.txt", "-o", "copy.txt").code == 0
    assert groove("render", "song.txt", "-o", "a.mid", "-o", "b.mid", "--stems").code == 0
    assert groove("render", "song.txt", "-o", "a.mid").code == 0  # an older output, no input
    assert (groove.folder / "song.txt").read_text(encoding="utf-8") == CHART


def test_a_chart_on_standard_input_is_not_written_over(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    groove.write("song.txt", CHART)
    with (groove.folder / "song.txt").open() as file:
        monkeypatch.setattr(sys, "stdin", file)
        said = groove("tab", "-", "-o", "song.txt")
    assert said.code == 2
    assert "song.txt would be written over a chart" in said.err
    assert (groove.folder / "song.txt").read_text(encoding="utf-8") == CHART


def test_a_sheet_is_written_to_every_output(groove: Command) -> None:
    groove.write("song.txt", CHART)
    said = groove("sheet", "song.txt", "-o", "a.svg", "-o", "b.musicxml", "-o", "c/")
    assert said.code == 0, said.err
    assert groove.files() == {"a.svg", "b.musicxml", "c/song.pdf", "song.txt"}


@pytest.mark.parametrize(
    ("verb", "name", "values"),
    [
        ("tab", "--output", ("-o", "a.txt", "--output", "b.txt")),
        ("card", "--output", ("-oa.txt", "-ob.txt")),
        ("page", "--output", ("-o", "a.html", "--output=b.html")),
        ("sheet", "--tempo", ("--tempo", "80", "--tempo", "90", "-o", "a.svg")),
    ],
)
def test_an_option_of_one_value_is_not_given_twice(
    groove: Command, verb: str, name: str, values: tuple[str, ...]
) -> None:
    """Common practice, no source: what is asked for is made or refused, never left out unsaid."""
    groove.write("song.txt", CHART)
    said = groove(verb, "song.txt", *values)
    assert said.code == 2
    assert said.err == f"{name} is given twice\n  expected one {name}\n"
    assert groove.files() == {"song.txt"}
