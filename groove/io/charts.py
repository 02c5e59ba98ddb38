"""Charts from files and from standard input."""

import sys
from pathlib import Path

from groove.chart.lines import LONGEST_CHART_BYTES
from groove.errors import ChartError, OptionError, SourcePlace

STANDARD_INPUT = "-"


def read_chart_text(name: str) -> str:
    """Return the text of a chart, ``-`` for standard input.

    Raises OptionError where there is no such file, ChartError for one that is too large or no
    UTF-8 text.
    """
    data = sys.stdin.buffer.read(LONGEST_CHART_BYTES + 1) if name == STANDARD_INPUT else read(name)
    if len(data) > LONGEST_CHART_BYTES:
        place = SourcePlace(source=name, line=1, column=1, text="")
        raise ChartError("the chart is larger than 1 MB", place=place, hint="a song has a few kB")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ChartError(
            f"found the byte {data[error.start]:#04x}, which is no UTF-8 text",
            place=byte_place(name, data, error.start),
            hint="save the chart as plain text in UTF-8",
        ) from None


def read(name: str) -> bytes:
    """Return the bytes of a chart's file, at most one more than a chart may have."""
    try:
        with Path(name).open("rb") as file:
            return file.read(LONGEST_CHART_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OptionError(
            f"cannot read {name}: {reason}", hint="expected a chart's file, or - for standard input"
        ) from None


def byte_place(name: str, data: bytes, start: int) -> SourcePlace:
    """Return the place of a byte in a text."""
    before = data[:start].decode("utf-8")
    line = before.count("\n") + 1
    head = before.rpartition("\n")[2]
    return SourcePlace(source=name, line=line, column=len(head) + 1, text=head + "�")
