"""The README's commands run, and print what it shows."""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.command import Command
from tests.conftest import ROOT

README = ROOT / "README.md"
FENCE = re.compile(r"^```(\w+)(?: ([\w-]+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
TYPO = "verse:\n| D | Gmja7 | A |\n"


@dataclass(frozen=True)
class Block:
    """A fenced block of the README: its language, its label, its text."""

    language: str
    label: str
    text: str


def blocks() -> list[Block]:
    """Return the blocks of the README in order."""
    found = FENCE.findall(README.read_text(encoding="utf-8"))
    return [Block(language, label, text) for language, label, text in found]


def commands() -> Iterator[tuple[str, str, str | None]]:
    """Yield (command, label, shown output) of every command that groove runs."""
    every = blocks()
    for block, after in zip(every, [*every[1:], None], strict=True):
        if block.language != "sh" or block.label.startswith("fresh"):
            continue
        shown = after.text if after and after.language == "text" else None
        for line in block.text.splitlines():
            yield line, block.label, shown


@pytest.fixture
def in_readme_folder(groove: Command) -> Command:
    """A folder with the charts that the README speaks of."""
    (chart,) = [block for block in blocks() if block.language == "chart"]
    groove.write("pear-ladder.txt", chart.text)
    groove.write("typo.txt", TYPO)
    shutil.copytree(ROOT / "shared" / "charts", groove.folder / "shared" / "charts")
    return groove


def test_the_readme_opens_with_the_job_and_a_song_of_ten_lines() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.index("```chart") < text.index("```sh")
    assert len(blocks()[0].text.splitlines()) == 10
    assert len(text[: text.index("```chart")].splitlines()) <= 12


def test_there_are_enough_commands() -> None:
    assert len(list(commands())) >= 14
    assert [block.label for block in blocks() if block.label.startswith("fresh")] == [
        "fresh-render",
        "fresh-tests",
    ]


@pytest.mark.parametrize(("line", "label", "shown"), list(commands()), ids=lambda v: str(v)[:50])
def test_a_command_runs_and_prints_what_is_shown(
    in_readme_folder: Command, line: str, label: str, shown: str | None
) -> None:
    program, *arguments = line.split()
    assert program == "groove"
    said = in_readme_folder(*arguments)
    assert said.code == (2 if label == "fails" else 0), said.err
    if shown is not None:
        assert (said.err if label == "fails" else said.out) == shown


def test_the_python_example_runs(in_readme_folder: Command) -> None:
    (example,) = [block for block in blocks() if block.language == "python"]
    ran = subprocess.run(
        [sys.executable, "-c", example.text],
        cwd=in_readme_folder.folder,
        capture_output=True,
        text=True,
        check=True,
    )
    assert re.fullmatch(r"16 bars, [1-9]\d* bass notes\n", ran.stdout)
    assert (Path(in_readme_folder.folder) / "band.mid").read_bytes()[:4] == b"MThd"
