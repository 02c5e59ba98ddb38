"""DEVELOPERS.md stays true: its table of feels is what the command prints, its map is the tree."""

import re

import pytest

from tests.cli.command import Command
from tests.conftest import ROOT
from tests.test_architecture import LEVELS

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DECIBELS = re.compile(r"\d+\.\d dB")


def test_the_table_of_feels_is_what_the_command_prints(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    (table,) = re.findall(r"^```measure\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    # Levels in decibels depend on the synthesiser's version and have a test of their own: here
    # nothing is rendered.
    monkeypatch.setattr("groove.cli.measure.ghosts_under_db", lambda *_: 12.0)
    printed = groove("feels", "--measure").out
    assert DECIBELS.sub("dB", table) == DECIBELS.sub("dB", printed)
    # A head and three tempi a feel; then a blank line and a line for each column but the name.
    assert len(table.splitlines()) == 1 + 3 * 31 + 1 + 7
    columns = re.split(r"\s{2,}", table.splitlines()[0])
    assert [re.split(r"\s{2,}", line)[0] for line in table.splitlines()[-7:]] == columns[1:]


def test_the_map_names_every_room_at_its_level() -> None:
    rows = re.findall(r"^\| +(\d+) \| (.+?) \|", GUIDE, re.MULTILINE)
    named = {
        name.strip("`/").replace("/", "."): int(level)
        for level, names in rows
        for name in re.findall(r"`[\w/]+`", names)
    }
    rooms = {path.stem for path in (ROOT / "groove").iterdir() if not path.name.startswith("_")}
    rooms -= {"py"}
    assert rooms <= set(named)
    for name, level in named.items():
        assert LEVELS[name] == level


def test_every_benchmark_is_named() -> None:
    benches = {path.stem for path in (ROOT / "tests" / "benchmarks").glob("bench_*.py")}
    assert benches == set(re.findall(r"bench_\w+", GUIDE))
