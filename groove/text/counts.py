"""Counts and lengths as a person writes them."""

from collections.abc import Iterable
from itertools import starmap


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: ``1 bar``, ``8 bars``."""
    return f"{count} {noun}" + ("" if count == 1 else "s")


def clock_text(sec: float) -> str:
    """Return a length as minutes and seconds: ``3:07``."""
    whole = round(sec)
    return f"{whole // 60}:{whole % 60:02d}"


def numbered_bars(numbers: Iterable[int]) -> str:
    """Return bars by their numbers, each told: ``bar 4``, ``bars 1, 5``."""
    return spanned_bars((number, number) for number in numbers)


def spanned_bars(spans: Iterable[tuple[int, int]]) -> str:
    """Return bars by the first and last numbers of runs of them: ``bar 4``, ``bars 1, 5-8``."""
    found = list(spans)
    is_one = len(found) == 1 and found[0][0] == found[0][1]
    return f"bar{'' if is_one else 's'} {', '.join(starmap(bar_span, found))}"


def bar_span(first: int, last: int) -> str:
    """Return the numbers of a run of bars: ``5-8``, ``5`` where it is one bar."""
    return f"{first}" if first == last else f"{first}-{last}"
