"""Taps from a file: seconds, one a line, as a program that counts taps saves them."""

from math import isfinite
from pathlib import Path

from groove.errors import OptionError

_MOST_BYTES = 1_000_000
_EXPECTED = "expected seconds, one a line, e.g. 12.31"


def read_taps(path: Path) -> tuple[float, ...]:
    """Return the seconds in a file, in its order; what follows a ``#`` is a remark.

    Raises OptionError, with the line, for what is no file of seconds.
    """
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
        if len(data) > _MOST_BYTES:
            raise OptionError(f"--taps {path} is larger than a megabyte", hint=_EXPECTED)
        lines = data.decode("utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise OptionError(f"cannot read the taps in {path}: {reason}", hint=_EXPECTED) from None
    taps: list[float] = []
    for number, line in enumerate(lines, 1):
        for word in line.partition("#")[0].split():
            taps.append(_second(word, path, number))
    return tuple(taps)


def _second(word: str, path: Path, line: int) -> float:
    try:
        second = float(word)
    except ValueError:
        second = -1.0
    if not isfinite(second) or second < 0:
        raise OptionError(f"{path}:{line}: no second: {word[:40]!r}", hint=_EXPECTED)
    return second
