"""How commands speak: data on standard output, everything else on standard error."""

import sys
from collections.abc import Callable, Iterable, Mapping

from groove.errors import ChartError, GrooveError

CAUTION = (
    "start quietly on headphones and rest hands and ears often; "
    "if anything hurts or rings, ask your teacher or a medical professional"
)
FAILED_IN_PART = 1


def printable(text: str) -> str:
    """Return a text without control characters: a chart's title must not steer a terminal."""
    return "".join(mark if mark.isprintable() or mark == "\n" else " " for mark in text)


def say(text: str) -> None:
    """Print a line for a person."""
    print(printable(text), file=sys.stderr)


def put(text: str) -> None:
    """Print data."""
    print(printable(text.removesuffix("\n")))


def put_json(value: Mapping[str, object]) -> None:
    """Print one JSON object on one line."""
    import json

    print(json.dumps(value, ensure_ascii=False))


def error_data(chart: str, error: GrooveError) -> dict[str, object]:
    """Return an error as data, with its place where it has one."""
    found: dict[str, object] = {"message": error.message, "hint": error.hint}
    if isinstance(error, ChartError):
        found |= {"line": error.place.line, "column": error.place.column}
    return {"format": 1, "chart": chart, "error": found}


def each_chart(
    charts: Iterable[str], work: Callable[[str], Mapping[str, object] | str], *, as_json: bool
) -> int:
    """Do the work for every chart, print what it returns, and return the exit code.

    A chart that fails is reported and the others go on; one alone ends with its own code.
    """
    names = list(charts)
    failures: list[GrooveError] = []
    for name in names:
        try:
            result = work(name)
        except GrooveError as error:
            failures.append(error)
            report(name, error, as_json=as_json)
            continue
        if isinstance(result, Mapping):
            put_json(result)
        elif result:
            put(result)
    return exit_code(failures, len(names))


def report(chart: str, error: GrooveError, *, as_json: bool) -> None:
    """Tell of a chart that failed: to a person always, as data where data was asked for."""
    say(error.report())
    if as_json:
        put_json(error_data(chart, error))


def exit_code(failures: list[GrooveError], charts: int) -> int:
    """Return 0, the error's own code for a chart alone, or 1 where some of many failed."""
    if not failures:
        return 0
    return failures[0].exit_code if charts == 1 else FAILED_IN_PART
