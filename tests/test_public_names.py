"""The public names are a list, each is there and says what it is, and values fit a line.

What a notebook asks of names and values: common practice, no source.
"""

import ast
import inspect
import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError
from typing import Any
from unittest.mock import patch

import pytest

import groove
from tests.conftest import ROOT

CHARTS = ("number-nine-bus.txt", "turnip-field-waltz.txt", "two-clocks.txt")
"""One of numbers, one in three without a drum solo, one whose meter and tempo change."""
WIDEST_LINE = 100


def test_the_public_names_are_one_list() -> None:
    tree = ast.parse((ROOT / "groove" / "__init__.py").read_text(encoding="utf-8"))
    typed = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("groove.")
        for alias in node.names
    }
    loaded = " ".join(groove._HOMES.values()).split()
    assert len(loaded) == len(set(loaded)) == len(groove.__all__)
    assert set(loaded) == typed == set(groove.__all__) == set(dir(groove))
    for name in groove.__all__:
        assert getattr(groove, name) is not None


def test_every_public_name_says_what_it_is() -> None:
    told = 0
    for name in groove.__all__:
        value = getattr(groove, name)
        if callable(value):
            assert len(inspect.getdoc(value) or "") >= 10, name
            told += 1
    assert told == len(groove.__all__) - 1  # all but the count of ticks


def test_the_version_is_that_of_the_package() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert groove.__version__ in (project["version"], "0+checkout")
    with patch("importlib.metadata.version", side_effect=PackageNotFoundError):
        assert groove.__version__ == "0+checkout"


def test_another_name_is_an_attribute_error() -> None:
    assert not hasattr(groove, "no_such_name")


def test_importing_the_package_loads_nothing_of_it() -> None:
    from tests.cli.test_other_commands import python

    code = "import sys, groove; print([n for n in sys.modules if n.startswith('groove.')])"
    assert python(code) == "[]\n"


@cache
def band(name: str) -> groove.Performance:
    return groove.perform_song(groove.read_song(str(ROOT / "shared" / "charts" / name)))


def values(name: str) -> Iterator[Any]:
    """Yield values of every kind that a song of ours goes through."""
    song = groove.read_song(str(ROOT / "shared" / "charts" / name))
    played, line = groove.finger_performance(band(name))
    yield from (song, *song.sections, played, line, groove.analyse(song), groove.load_library())
    yield from (bar for section in song.sections for bar in section.bars)
    yield from played.bars
    yield from (played.tempo_map, groove.PerformOptions(), groove.make_sheet(song))
    for bar in played.bars:
        yield from (bar.ref, bar.meter, bar.key, *bar.chords)
        yield from (onset.chord for onset in bar.chords if onset.chord)
    for note in played.notes:
        yield from (note, note.origin)
        if note.place:
            yield note.place


@pytest.mark.parametrize("name", CHARTS)
def test_values_fit_a_line(name: str) -> None:
    seen = set()
    judged = 0
    for value in values(name):
        text = repr(value)
        assert len(text) <= WIDEST_LINE and "\n" not in text, text
        seen.add(type(value).__name__)
        judged += 1
    assert judged > 300
    assert len(seen) >= 18, seen


def test_values_of_long_names_fit_a_line() -> None:
    text = f"title: {'A' * 90}\n{'verse ' * 9}:\n| {'Cmaj7#11/F# ' * 4}|\n"
    song = groove.parse_chart(text)
    played = groove.perform_song(song)
    for value in (song, song.sections[0], song.sections[0].bars[0], played, played.bars[0]):
        assert len(repr(value)) <= WIDEST_LINE, repr(value)


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (lambda played: played, ["Number Nine Bus", "56 bars"]),
        (lambda played: played.bars[0].key, [" minor", " major"]),
        (lambda played: played.bars[0].ref, ["bar 1"]),
        (lambda played: played.part_notes(groove.Part.BASS)[0], ["bass", "root", "bar 1", "ticks"]),
        (lambda played: played.part_notes(groove.Part.BASS)[0].origin, ["root of ", "bar 1"]),
    ],
)
def test_a_value_tells_what_it_is(
    value: Callable[[groove.Performance], object], told: list[str]
) -> None:
    text = repr(value(band(CHARTS[0])))
    assert any(words in text for words in told[:2])
    assert all(words in text for words in told[2:])
