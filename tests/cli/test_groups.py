"""Options in groups reach a command as they were said, and one way leads to every file.

That a group's fields are the options, in order, is common practice of this house, no source; typer
itself judges what a call says.
"""

import ast
import inspect
from pathlib import Path
from typing import Annotated

import pytest
import typer
from msgspec import Struct

from groove.cli.groups import grouped
from groove.cli.main import EXAMPLES
from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font

COMMANDS = Path(inspect.getfile(grouped)).parent
LONGEST_COMMAND = 40
MOST_PARAMETERS = 8
CHART = "title: Two Bars\nkey: D\nverse:\n| D | A |\n"


class Inner(Struct, frozen=True, kw_only=True):
    second: Annotated[int, typer.Option(max=9)] = 2


class Outer(Struct, frozen=True, kw_only=True):
    first: Annotated[str | None, typer.Option("--uno")] = None
    inner: Inner
    third: Annotated[bool, typer.Option("--third")] = False


class Longer(Outer, frozen=True, kw_only=True):
    fourth: Annotated[list[str] | None, typer.Option()] = None


def said(arguments: list[str]) -> tuple[str, Longer, int]:
    """Return what a command of groups is called with by these words."""
    calls: list[tuple[str, Longer, int]] = []

    def command(
        word: Annotated[str, typer.Argument()],
        *,
        longer: Longer,
        last: Annotated[int, typer.Option()] = 5,
    ) -> None:
        """Do it."""
        calls.append((word, longer, last))

    app = typer.Typer()
    app.command()(grouped(command))
    app(arguments, standalone_mode=False)
    (call,) = calls
    return call


def test_what_is_not_said_is_as_the_groups_have_it() -> None:
    assert said(["x"]) == ("x", Longer(inner=Inner()), 5)


def test_what_is_said_lands_in_its_group() -> None:
    words = [
        "x",
        "--uno",
        "a",
        "--second",
        "7",
        "--third",
        "--fourth",
        "p",
        "--fourth",
        "q",
        "--last",
        "6",
    ]
    longer = Longer(first="a", inner=Inner(second=7), third=True, fourth=["p", "q"])
    assert said([*words, "--last", "6"]) == ("x", longer, 6)


def test_the_options_stand_in_the_order_of_the_fields() -> None:
    def command(*, longer: Longer, last: int = 5) -> None:
        """Do it."""

    run = grouped(command)
    assert list(inspect.signature(run).parameters) == ["first", "second", "third", "fourth", "last"]
    assert run.__doc__ == "Do it."


def test_a_limit_in_a_group_is_kept() -> None:
    with pytest.raises(Exception, match="10 is not in the range"):
        said(["x", "--second", "10"])


def test_commands_are_short_and_take_few_parameters() -> None:
    judged = 0
    for name in EXAMPLES:
        tree = ast.parse((COMMANDS / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef) and node.name == name:
                lines = (node.end_lineno or 0) - node.body[0].lineno
                taken = len(node.args.args) + len(node.args.kwonlyargs)
                assert lines <= LONGEST_COMMAND, f"{name}: {lines} lines"
                assert taken <= MOST_PARAMETERS, f"{name}: {taken} parameters"
                judged += 1
    assert judged == 14


KINDS = {
    "sheet": ("musicxml", ".pdf"),
    "tab": ("txt", ".txt"),
    "card": ("txt", ".pdf"),
    "neck": ("svg", ".svg"),
    "page": ("html", ".html"),
    "render": ("mid", ".mid"),
}
"""A kind of every command that writes files, and the suffix in a folder."""


@pytest.mark.usefixtures("one_key", "no_drawings")
@pytest.mark.parametrize("command", KINDS)
def test_a_folder_gets_a_file_a_chart(
    groove: Command, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("one.txt", "two.txt"):
        groove.write(name, CHART)
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    made = groove(command, "one.txt", "two.txt", "-o", "out/")
    assert made.code == 0, made.err
    suffix = KINDS[command][1]
    written = {f"out/one{suffix}", f"out/two{suffix}"}
    assert groove.files() == {"one.txt", "two.txt", "click.sf2"} | written
    assert all((groove.folder / file).stat().st_size > 100 for file in written)
    assert all(f"wrote {file}" in made.err for file in written)


@pytest.mark.parametrize("command", KINDS)
def test_one_file_is_not_for_two_charts(groove: Command, command: str) -> None:
    groove.write("one.txt", CHART)
    groove.write("two.txt", CHART)
    file = f"both.{KINDS[command][0]}"
    made = groove(command, "one.txt", "two.txt", "-o", file)
    assert made.code == 2
    assert made.err == f"one file, {file}, for 2 charts\n  expected a folder: -o songs/\n"
    mistyped = groove(command, "one.txt", "70%", "-o", file)
    assert mistyped.err.startswith("there is no chart called '70%'\n")
    assert groove.files() == {"one.txt", "two.txt"}


@pytest.mark.parametrize("command", KINDS)
def test_a_suffix_that_is_not_known_is_told_with_those_that_are(
    groove: Command, command: str
) -> None:
    groove.write("one.txt", CHART)
    made = groove(command, "one.txt", "-o", "one.xyz")
    assert made.code == 2
    assert made.err.startswith("cannot write a .xyz: one.xyz\n  ")
    assert f".{KINDS[command][0]}" in made.err
    assert "or a folder with a / at its end" in made.err


def test_a_sheet_of_two_kinds_in_a_folder(groove: Command) -> None:
    groove.write("one.txt", CHART)
    assert groove("sheet", "one.txt", "-o", "out/", "--as", "musicxml,mxl").code == 0
    assert groove.files() == {"one.txt", "out/one.musicxml", "out/one.mxl"}
    named = groove("sheet", "one.txt", "-o", "one.pdf", "--as", "mxl")
    assert named.err == "--as goes with a folder\n  the suffix of one.pdf decides\n"


def test_options_reach_the_performance(groove: Command) -> None:
    groove.write("one.txt", "key: D\nfeel: sixteenths\nverse:\n| D | A | Bm7 | G |\n")
    made = {}
    for words in ((), ("--seed", "5"), ("--tight",), ("--click",), ("--feel", "octaves")):
        assert groove("render", "one.txt", "-o", "one.mid", *words).code == 0
        made[words] = (groove.folder / "one.mid").read_bytes()
    assert len(set(made.values())) == 5


def test_a_thumb_plucks_all(groove: Command) -> None:
    groove.write("one.txt", CHART)
    for command in ("tab", "neck"):
        (data,) = groove(command, "one.txt", "--thumb", "--json").json
        assert {note["pluck"] for note in data["notes"]} == {"p"}
        (usual,) = groove(command, "one.txt", "--json").json
        assert "i" in {note["pluck"] for note in usual["notes"]}
