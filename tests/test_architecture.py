"""The house: imports go one way, files are opened in io, printing is done in cli."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.conftest import ROOT

PACKAGE = ROOT / "groove"

LEVELS = {
    "errors": 0,
    "arrays": 0,
    "theory": 1,
    "timing": 1,
    "naming": 1,
    "search": 1,
    "notices": 1,
    "bar_place": 1,
    "events": 2,
    "mixing": 3,
    "articulation": 3,
    "verdict": 3,
    "cells": 3,
    "neck.instrument": 3,
    "chart": 4,
    "harmony": 5,
    "neck": 5,
    "arrange": 6,
    "perform": 7,
    "cut": 8,
    "pipeline": 9,
    "measure": 10,
    "text": 10,
    "sheet": 11,
    "page": 12,
    "practice": 12,
    "gig": 12,
    "take": 12,
    "study": 12,
    "record": 13,
    "io": 14,
    "notebook": 15,
    "cli": 15,
    "__main__": 16,
}
"""Rooms from the ground up; a module imports only from below, or from its own room."""


SHARED_NAMES = {
    "align": ["cli.align", "take.alignment"],  # a record; which onset of a take is which note
    "perform_chart": ["notebook", "pipeline"],  # the notebook's finds the shipped patterns itself
    "perform_song": ["notebook", "pipeline"],  # the same
}
"""Public names that stand in two modules, and why: every other name means one thing."""


SHARED_FILE_NAMES = {
    "arrangement": ["arrange.arrangement", "text.arrangement"],  # how a song grows: made, told
    "card": ["cli.card", "text.card"],  # the cue card: its command, its words
    "feels": ["cells.feels", "cli.feels"],  # the feels of the patterns: read, listed
    "library": ["cells.library", "io.library"],  # the patterns: as values, as they lie on disk
    "measure": ["cli.measure", "measure"],  # how a feel measures: the table, the figures
    "model": ["cells.model", "chart.model"],  # what a room's readers make, as values
    "moves": ["harmony.moves", "text.moves"],  # how roots move: found, put into words
    "musicxml": ["io.musicxml", "sheet.musicxml"],  # read as a chart, written as a part
    "neck": ["cli.neck", "text.neck"],  # where a part lies: its command, its words
    "notices": ["notices", "text.notices"],  # what was decided: as values, in words
    "options": ["cli.options", "neck.options", "sheet.options"],  # what may be chosen there
    "systems": ["io.systems", "page.systems"],  # the page's lines: engraved, as it keeps them
    "tab": ["cli.tab", "text.tab"],  # the part as text tab: its command, its text
    "written": ["arrange.written", "chart.written"],  # the player's notes: as strokes, in the chart
}
"""File names that stand in more rooms than one, and what they mean there."""


OPENERS = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir"}
PRINTERS = {"print", "exit"}


def modules() -> list[Path]:
    """Return every module of the package."""
    return sorted(PACKAGE.rglob("*.py"))


@cache
def tree(path: Path) -> ast.Module:
    """Return a module as it is parsed: once for all that is asked of it."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Return all nodes of a module, without contexts and operators, which hold no name.

    Walked once, and by the fields alone: ``ast.walk`` takes longer than the parsing.
    """
    found: list[ast.AST] = [tree(path)]
    for node in found:
        for name in node._fields:
            value = getattr(node, name, None)
            if isinstance(value, list):
                found += [each for each in value if isinstance(each, ast.AST)]
            elif isinstance(value, ast.AST) and value._fields:
                found.append(value)
    return tuple(found)


def module_name(path: Path) -> str:
    """Return a module's name without the package: ``arrange.bass``."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def room(name: str) -> str:
    """Return the row of the level table that a module belongs to."""
    return name if name in LEVELS else name.split(".")[0]


def imports(path: Path) -> Iterator[str]:
    """Yield the names of our modules that a module imports, wherever it does."""
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            if node.module == "groove":
                yield from (f"{alias.name}" for alias in node.names)
            elif node.module.startswith("groove."):
                inner = node.module.removeprefix("groove.")
                for alias in node.names:
                    deeper = PACKAGE / Path(*inner.split("."), f"{alias.name}.py")
                    yield f"{inner}.{alias.name}" if deeper.exists() else inner
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("groove"):
                    yield alias.name.removeprefix("groove").lstrip(".")


def wrong_imports(path: Path) -> list[str]:
    """Return what a module imports from its own level or above, other rooms' alone."""
    own = module_name(path)
    if own == "":
        return []
    level = LEVELS[room(own)]
    return [
        f"{own} imports {name or 'the package root'}"
        for name in imports(path)
        if name == "" or (room(name) != room(own) and LEVELS[room(name)] >= level)
    ]


def calls(path: Path) -> Iterator[str]:
    """Yield the names of the functions and methods that a module calls."""
    for node in nodes(path):
        if isinstance(node, ast.Call):
            function = node.func
            if isinstance(function, ast.Name):
                yield function.id
            elif isinstance(function, ast.Attribute):
                yield function.attr


def test_every_module_has_a_level() -> None:
    names = [module_name(path) for path in modules()]
    assert len(names) > 40
    assert [name for name in names if name and room(name) not in LEVELS] == []


def test_imports_go_one_way() -> None:
    found = [line for path in modules() for line in wrong_imports(path)]
    assert found == []


def test_a_planted_upward_import_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    planted = tmp_path / "theory" / "pitch.py"
    planted.parent.mkdir()
    planted.write_text("from groove.chart.model import Song\n", encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    assert wrong_imports(planted) == ["theory.pitch imports chart.model"]


def test_only_io_opens_files() -> None:
    outside = [
        f"{module_name(path)} calls {name}"
        for path in modules()
        if room(module_name(path)) != "io"
        for name in calls(path)
        if name in OPENERS
    ]
    assert outside == []


def test_only_cli_prints_or_exits() -> None:
    outside = [
        f"{module_name(path)} calls {name}"
        for path in modules()
        if room(module_name(path)) not in ("cli", "__main__")
        for name in calls(path)
        if name in PRINTERS
    ]
    assert outside == []


def test_patterns_hold_data_only() -> None:
    assert list((ROOT / "patterns").rglob("*.py")) == []
    assert not (PACKAGE / "patterns").exists()


def shared_file_names(paths: list[Path]) -> dict[str, list[str]]:
    """Return the names of modules that more than one room has, each with its modules."""
    homes: dict[str, list[str]] = {}
    for path in paths:
        if path.stem not in ("__init__", "__main__"):
            homes.setdefault(path.stem, []).append(module_name(path))
    return {name: found for name, found in homes.items() if len(found) > 1}


def test_a_file_name_means_one_thing() -> None:
    found = shared_file_names(modules())
    assert {name: sorted(homes) for name, homes in found.items()} == SHARED_FILE_NAMES


def test_a_planted_second_file_of_a_name_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    planted = [tmp_path / name for name in ("cut.py", "chart/cut.py", "io/cuts.py")]
    assert shared_file_names(planted) == {"cut": ["cut", "chart.cut"]}


def defined_names(path: Path) -> set[str]:
    """Return the public names that a module defines at its top."""
    found = set()
    for node in tree(path).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                found |= {each.id for each in ast.walk(target) if isinstance(each, ast.Name)}
    return {name for name in found if not name.startswith("_")}


def shared_names(paths: list[Path]) -> dict[str, list[str]]:
    """Return the public names that more than one module defines, each with its modules."""
    homes: dict[str, list[str]] = {}
    for path in paths:
        for name in defined_names(path):
            homes.setdefault(name, []).append(module_name(path))
    return {name: found for name, found in homes.items() if len(found) > 1}


def test_a_public_name_means_one_thing() -> None:
    assert sum(len(defined_names(path)) for path in modules()) > 1000
    found = shared_names(modules())
    assert {name: sorted(homes) for name, homes in found.items()} == SHARED_NAMES


def test_a_planted_second_meaning_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, text in {
        "one": "Bar = 1\n_OCTAVE = 12\n",
        "two": "LIMIT: int = 2\n\n\nclass Bar:\n    LIMIT = 3\n",
        "three": "def LIMIT() -> None: ...\n\n\n_OCTAVE = 12\n",
    }.items():
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    found = shared_names(sorted(tmp_path.rglob("*.py")))
    assert found == {"Bar": ["one", "two"], "LIMIT": ["three", "two"]}


def class_names(paths: list[Path]) -> dict[str, list[str]]:
    """Return the classes of a name that more than one module has, its own use or for others."""
    homes: dict[str, list[str]] = {}
    for path in paths:
        for node in tree(path).body:
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name.lstrip("_"), []).append(module_name(path))
    return {name: found for name, found in homes.items() if len(found) > 1}


def test_a_class_means_one_thing_even_where_it_is_private() -> None:
    assert class_names(modules()) == {}


def test_a_planted_private_class_of_a_known_name_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, text in {"one": "class Bar: ...\n", "two": "class _Bar: ...\n"}.items():
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    assert class_names(sorted(tmp_path.rglob("*.py"))) == {"Bar": ["one", "two"]}


def used_names(path: Path) -> Iterator[tuple[str, str]]:
    """Yield every name that a module reads or imports, with the module that defines it."""
    own = module_name(path)
    for node in nodes(path):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield own, node.id
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("groove."):
            home = str(node.module).removeprefix("groove.")
            yield from ((home, alias.name) for alias in node.names)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            yield node.value.id, node.attr  # a name of a module that was imported whole


def unused_names(paths: list[Path]) -> list[str]:
    """Return what modules define at their top and none of them uses: for tests alone, or dead."""
    used = {name for path in paths for name in used_names(path)}
    found = []
    for path in paths:
        own = module_name(path)
        for node in tree(path).body:
            names = []
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                names = [node.name]
            elif isinstance(node, ast.Assign | ast.AnnAssign):
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                names = [target.id for target in targets if isinstance(target, ast.Name)]
            known = {(own, name) for name in names} | {
                (own.rpartition(".")[2], name) for name in names
            }
            is_special = any(name.startswith("__") or own == f"cli.{name}" for name in names)
            if names and not is_special and not known & used:
                found.append(f"{own}.{names[0]}")
    return found


NAMED_ELSEWHERE = {
    "cli.cluster.print_answer",  # called by the text of another process
}
"""What a module offers to who does not import it."""


def test_nothing_is_there_for_tests_alone() -> None:
    """Public names are imported by the package itself, a command is called as its module is."""
    assert set(unused_names(modules())) == NAMED_ELSEWHERE


def member_name(node: ast.stmt) -> str:
    """Return the name of a field or method of a class, ``__`` for anything else in it."""
    if isinstance(node, ast.FunctionDef):
        return node.name
    is_field = isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    return ast.unparse(node.target) if isinstance(node, ast.AnnAssign) and is_field else "__"


def unused_members(paths: list[Path]) -> list[str]:
    """Return the fields and methods of classes whose name no module reads, nor writes as a text."""
    read = set()
    for path in paths:
        for node in nodes(path):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
                read.add(node.attr)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                read.add(node.value)
    members = [
        (f"{module_name(path)}.{name}", name)
        for path in paths
        for node in nodes(path)
        if isinstance(node, ast.ClassDef)
        for name in map(member_name, node.body)
    ]
    return [told for told, name in members if not name.startswith("__") and name not in read]


READ_ELSEWHERE = {
    "arrange.names.riff_meter",  # a field of a tuple that is taken apart
    "harmony.named.definition",  # what a row finds, in words: its test reads it by brute force
    "io.fluid_synth.log_callback",  # lives as long as the library that calls it
    "io.watch.is_set",  # asked of a threading.Event
}
"""Members that no code of ours reads by name, and why they are there."""


def test_no_member_is_there_for_tests_alone() -> None:
    assert set(unused_members(modules())) == READ_ELSEWHERE


def test_a_planted_unused_name_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, text in {
        "one": "_LEFT = 1\nUSED = 2\n\n\ndef left() -> int:\n    return USED\n",
        "two": "from groove.one import USED\n\n\nclass Seen: ...\n\n\nprint(Seen, USED)\n",
    }.items():
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    assert unused_names(sorted(tmp_path.rglob("*.py"))) == ["one._LEFT", "one.left"]


def test_a_planted_unread_field_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    planted = tmp_path / "one.py"
    text = "class One:\n    left: int\n    read: int\n    def also(self): return self.read\n"
    planted.write_text(text, encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    assert unused_members([planted]) == ["one.left", "one.also"]


LONGEST_FILE, LONGEST_FUNCTION = 450, 40
"""In lines, a function's without its docstring; rules of the house, no source."""


def too_long(path: Path) -> list[str]:
    """Return a module's name if it is too long, and its functions that are."""
    own = module_name(path)
    found = [own] if len(path.read_text(encoding="utf-8").splitlines()) >= LONGEST_FILE else []
    for node in nodes(path):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first, last = node.body[0], node.body[-1]
            documented = ast.get_docstring(node, clean=False) is not None
            told = (first.end_lineno or 0) - first.lineno + 1 if documented else 0
            if (last.end_lineno or 0) - node.lineno + 1 - told >= LONGEST_FUNCTION:
                found.append(f"{own}.{node.name}")
    return found


def test_files_and_functions_are_short() -> None:
    paths = list(modules())
    assert len(paths) > 200
    assert [name for path in paths for name in too_long(path)] == []


def test_a_planted_long_function_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    planted = tmp_path / "one.py"
    lines = ["def short() -> None:", *["    print()"] * 38]
    lines += ["def long() -> None:", '    """Say nothing."""', *["    print()"] * 39]
    planted.write_text("\n".join(lines), encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path)
    assert too_long(planted) == ["one.long"]
