"""How commands speak: data on standard output, everything else on standard error."""

import codecs
import errno
import io
import shlex
import sys
from collections.abc import Mapping, Sequence

from groove.errors import ChartError, GrooveError, OutputError
from groove.io.streams import let_go
from groove.text.plain import plain_spelling

CAUTION = "start quietly on headphones, take breaks; if anything hurts, ask a doctor or teacher"
FAILED_IN_PART = 1
COMMAND_COLUMNS = 74
PLAINLY = "groove.plainly"
OWN_ERRORS = ("strict", "surrogateescape", "backslashreplace")
"""What Python does of itself with a sign that an encoding lacks."""


def _printable(text: str) -> str:
    """Return a text without control characters: a chart's title must not steer a terminal."""
    return "".join(mark if mark.isprintable() or mark == "\n" else " " for mark in text)


def spell_plainly() -> None:
    """Let what a terminal's encoding lacks be printed in plain letters from now on.

    Who asks for another way, as by ``PYTHONIOENCODING=ascii:ignore``, gets that.
    """
    codecs.register_error(PLAINLY, _plainly)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors in OWN_ERRORS:
            stream.reconfigure(errors=PLAINLY)


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Return what is printed for a sign that an encoding lacks, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain_spelling(error.object, error.start)


def say(text: str) -> None:
    """Print a line for a person; where nobody can read it, there is nobody to tell."""
    try:
        print(_printable(text), file=sys.stderr, flush=True)
    except OSError:
        let_go(sys.stderr)


def put(text: str) -> None:
    """Print data.  Raises OutputError where it cannot be written, BrokenPipeError as it comes."""
    _put_line(_printable(text.removesuffix("\n")))


def put_json(value: Mapping[str, object]) -> None:
    """Print one JSON object on one line, exactly: what the encoding lacks is escaped."""
    import json

    text = json.dumps(value, ensure_ascii=False)
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(value)
    _put_line(text)


def _put_line(text: str) -> None:
    """Print a line of data at once: a call that is stopped later has told of what it did."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise unwritten(error) from None


def unwritten(error: OSError) -> OutputError:
    """Return the error for a standard output that takes nothing, and give it up."""
    let_go(sys.stdout)
    reason = "it is closed" if error.errno == errno.EBADF else error.strerror
    return OutputError(f"cannot write to standard output: {reason}")


def _error_data(chart: str, error: GrooveError) -> dict[str, object]:
    """Return an error as data, with its place where it has one."""
    found: dict[str, object] = {"message": error.message, "hint": error.hint}
    if isinstance(error, ChartError):
        found |= {"line": error.place.line, "column": error.place.column}
    return {"format": 1, "chart": chart, "error": found}


def report(chart: str, error: GrooveError, *, as_json: bool) -> None:
    """Tell of a chart that failed: to a person always, as data where data was asked for."""
    say(error.report())
    if as_json:
        put_json(_error_data(chart, error))


def exit_code(failures: Sequence[int], charts: int) -> int:
    """Return 0, the error's own code for a chart alone, or 1 where some of many failed.

    ``failures`` are the codes of the errors.
    """
    if not failures:
        return 0
    return failures[0] if charts == 1 else FAILED_IN_PART


def command_lines(words: Sequence[str]) -> list[str]:
    """Return a command in lines that a shell reads as one; an option stays with its value."""
    units: list[str] = []
    for before, word in zip(["", *words], map(shlex.quote, words), strict=False):
        if before.startswith("-") and not word.startswith("-"):
            units[-1] += f" {word}"
        else:
            units.append(word)
    lines = [""]
    for word in units:
        if lines[-1] and len(lines[-1]) + len(word) > COMMAND_COLUMNS:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {word}"
    return [f" {line}" for line in lines]
