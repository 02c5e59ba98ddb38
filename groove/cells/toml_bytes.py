"""From the bytes of a TOML file to its mapping, or one error with the line.

A cell is a page of text; a file of more than 256 KiB is refused unread.  The syntax is judged by
the standard library's ``tomllib`` (TOML 1.0).
"""

import re
import tomllib

from groove.errors import CellError

LARGEST_TOML_BYTES = 256 * 1024
LONGEST_LINE = 2000
_STRAIGHT = str.maketrans("“”„‘’", '"""\'\'')


def toml_mapping(data: bytes, source: str) -> dict[str, object]:
    """Return the mapping that a TOML file holds.

    ``source`` is the file's name for errors.  Raises CellError for a file that is too large, is
    no UTF-8 or no TOML; ``path`` is then the line, where it is known.
    """
    if len(data) > LARGEST_TOML_BYTES:
        found = f"found more than {LARGEST_TOML_BYTES} bytes"
        raise CellError(f"{found}, expected at most 256 KiB", source=source, path="")
    text = _decoded(data, source)
    _refuse_long_lines(text, source)
    try:
        return _loaded(text)
    except RecursionError:
        raise CellError(
            "found tables or lists too deep to read, expected a few levels", source=source, path=""
        ) from None
    except ValueError as error:
        raise _syntax_error(str(error), text, source) from None


def _loaded(text: str) -> dict[str, object]:
    """Return the mapping of a text, its quotes straightened where a phone has made them curly."""
    try:
        return tomllib.loads(text)
    except ValueError:
        straight = text.translate(_STRAIGHT)
        if straight == text:
            raise
    return tomllib.loads(straight)


def _decoded(data: bytes, source: str) -> str:
    """Return the text of a file, without the mark of byte order that some editors write."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CellError(
            f"found the byte 0x{data[error.start]:02X}, expected UTF-8 text",
            source=source,
            path=f"line {line}",
            hint="save the file as UTF-8",
        ) from None


def _refuse_long_lines(text: str, source: str) -> None:
    """Refuse a line that no row needs.

    tomllib's time for a dotted key grows with the square of its dots, and a key is one line: this
    bound keeps any file to a few seconds.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise CellError(
                f"found a line of {len(line)} characters, expected at most {LONGEST_LINE}",
                source=source,
                path=f"line {number}",
            )


def _syntax_error(message: str, text: str, source: str) -> CellError:
    """Return the error for text that is no TOML; tomllib says the line in its message."""
    place = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)", message)
    what = message if place is None else message[: place.start()]
    line = text.count("\n") + 1 if place is None or place[1] is None else int(place[1])
    return CellError(
        f"not TOML: {what[:120]}",
        source=source,
        path="" if place is None else f"line {line}",
        hint='a setting is written: name = "text", and a table begins with [name]',
    )
