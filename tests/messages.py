"""Where groove refuses something, as its sources have it: the pieces of every message."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.conftest import ROOT

ERRORS = {"ChartError", "SymbolError", "OptionError", "CellError", "NeckError"}
ERRORS |= {"MidiError", "SoundError", "RecordingError", "OutputError"}
MAKERS = {"fail": 1, "refused": 1}
"""Functions that make an error, and which of their arguments are a place or a name."""
LEAST_WORDS = 3
_CALLED = re.compile(rf"\b(?:{'|'.join(sorted(ERRORS | MAKERS.keys()))})\(")
"""A call of one of them: a module without one is not worth parsing."""
_LITERAL = re.compile(
    r"""#[^\n]*|[rf]?(\"\"\"((?:[^\\]|\\.)*?)\"\"\"|"((?:[^"\\\n]|\\.)*)"|'((?:[^'\\\n]|\\.)*)')""",
    re.DOTALL,
)
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)


@dataclass(frozen=True)
class Refusal:
    """A place in the sources that refuses something, and the literal pieces of what it says."""

    file: str
    line: int
    pieces: tuple[str, ...]


def sources(folder: str) -> Iterator[tuple[Path, str]]:
    """Yield the modules of a folder and their texts."""
    for path in sorted((ROOT / folder).rglob("*.py")):
        yield path, path.read_text(encoding="utf-8")


def pieces_of(node: ast.AST) -> list[str]:
    """Return the literal pieces of a text, of each way that it may go."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    if isinstance(node, ast.JoinedStr):
        return [piece for value in node.values for piece in pieces_of(value)]
    if isinstance(node, ast.IfExp):
        return pieces_of(node.body) + pieces_of(node.orelse)
    if isinstance(node, ast.BinOp):
        return pieces_of(node.left) + pieces_of(node.right)
    return []


def named_texts(function: ast.FunctionDef) -> dict[str, list[str]]:
    """Return the pieces of the texts that a function gives a name before it refuses."""
    found: dict[str, list[str]] = {}
    for node in ast.walk(function):
        if not isinstance(node, ast.Assign):
            continue
        target, value = node.targets[0], node.value
        pairs = [(target, value)]
        if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
            pairs = list(zip(target.elts, value.elts, strict=True))
        for name, text in pairs:
            if isinstance(name, ast.Name):
                found.setdefault(name.id, []).extend(pieces_of(text))
    return found


def refusals() -> Iterator[Refusal]:
    """Yield every place that refuses something with words of its own."""
    for path, text in sources("groove"):
        if not _CALLED.search(text):
            continue
        for function in _functions(ast.parse(text)):
            yield from _refusals_in(function, str(path.relative_to(ROOT)))


def _functions(node: ast.Module | ast.ClassDef) -> Iterator[ast.FunctionDef]:
    """Yield functions and methods, each with those that stand inside it."""
    for statement in node.body:
        if isinstance(statement, ast.FunctionDef):
            yield statement
        elif isinstance(statement, ast.ClassDef):
            yield from _functions(statement)


def _refusals_in(function: ast.FunctionDef, file: str) -> Iterator[Refusal]:
    named: dict[str, list[str]] | None = None
    for node in ast.walk(function):
        if not isinstance(node, ast.Call):
            continue
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if called not in ERRORS and called not in MAKERS:
            continue
        if named is None:
            named = named_texts(function)
        said = node.args[MAKERS.get(called, 0) :] + [
            keyword.value for keyword in node.keywords if keyword.arg == "hint"
        ]
        pieces = [
            piece
            for argument in said
            for piece in pieces_of(argument) or named.get(getattr(argument, "id", ""), [])
        ]
        if any(word.isalpha() for piece in pieces for word in piece.split()):
            yield Refusal(file, node.lineno, tuple(pieces))


def texts_of_tests() -> str:
    """Return every text of the tests, its blanks single."""
    found = [literal for _, text in sources("tests") for literal in literals(text)]
    return "\n".join(" ".join(text.split()) for text in found)


def literals(source: str) -> Iterator[str]:
    """Yield the texts of a module as they stand there, those beside each other as one.

    They are found by their quotes: to compile all tests takes five times as long.
    """
    joined = ""
    end = 0
    for match in _LITERAL.finditer(source):
        if match[1] is None:
            continue  # a remark
        if source[end : match.start()].strip(" \n"):
            yield joined
            joined = ""
        joined += _ESCAPED.sub(_unescaped, match[2] or match[3] or match[4] or "")
        end = match.end()
    yield joined


def _unescaped(sign: re.Match[str]) -> str:
    return {"n": "\n", "\n": "", "u": sign[0]}.get(sign[1], sign[1])


def is_told(refusal: Refusal, texts: str) -> bool:
    """Return whether three words of a message, or one of its pieces whole, stand in a test."""
    for piece in refusal.pieces:
        words = piece.split()
        size = min(LEAST_WORDS, len(words))
        runs = (" ".join(words[i : i + size]) for i in range(len(words) - size + 1))
        if any(len(run) > 6 and run in texts for run in runs):
            return True
    return False
