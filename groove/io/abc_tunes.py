"""The tunes of an ABC file: how many, which one is meant, and what stands before them all.

*The ABC music standard 2.1* (December 2011), section 2: a tune begins with ``X:``, fields before
the first one are for all of them.
"""

import re
from collections.abc import Sequence

from msgspec import Struct

from groove.errors import joined_hints, nearest_hint
from groove.io.gate import Gate, Where, one_line, shortened

ABC_SUFFIX = ".abc"
NAMED_TUNE = re.compile(r"(?i)(?P<file>.*\.abc):(?P<tune>[^/\\]+)")
FIRST_LINE = re.compile(r"X:\s*([0-9]*)")
_MOST_SHOWN = 8


class Tune(Struct, frozen=True):
    """One tune: its number (``X:``), its title, and its lines with their numbers from 1."""

    number: str
    title: str
    lines: tuple[tuple[int, str], ...]


class TuneBook(Struct, frozen=True):
    """All tunes of a file, and the lines before them."""

    head: tuple[tuple[int, str], ...]
    tunes: tuple[Tune, ...]


def split_name(name: str) -> tuple[str, str]:
    """Return the file and the tune of ``hills.abc:3``; an empty tune where none is named."""
    match = NAMED_TUNE.fullmatch(name)
    return (match["file"], match["tune"].strip()) if match else (name, "")


def read_book(text: str) -> TuneBook:
    """Return the tunes of a file; a text without ``X:`` is one tune."""
    lines = list(enumerate(re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff")), start=1))
    starts = [index for index, (_, line) in enumerate(lines) if line.startswith("X:")]
    if not starts:
        return TuneBook((), (_tune(lines),))
    ends = [*starts[1:], len(lines)]
    tunes = tuple(_tune(lines[start:end]) for start, end in zip(starts, ends, strict=True))
    return TuneBook(tuple(lines[: starts[0]]), tunes)


def _tune(lines: Sequence[tuple[int, str]]) -> Tune:
    first = FIRST_LINE.match(lines[0][1])
    titles = (line[2:] for _, line in lines if line.startswith("T:"))
    return Tune(first[1] if first else "", one_line(next(titles, "")), tuple(lines))


def tune_names(book: TuneBook) -> list[str]:
    """Return what each tune can be called by: its number where it has one of its own."""
    numbers = [tune.number for tune in book.tunes]
    are_own = len(set(numbers)) == len(numbers) and all(numbers)
    return numbers if are_own else [str(count) for count in range(1, len(numbers) + 1)]


def chosen_tune(book: TuneBook, wanted: str, gate: Gate) -> Tune:
    """Return the tune that is wanted by number or title, the first one where none is.

    Raises ChartError with the nearest title.
    """
    names = tune_names(book)
    if not wanted:
        if len(names) > 1:
            gate.report(
                f"the file has {len(names)} tunes, the first one is read; "
                f"another one by its number or title, as {gate.source}:{names[1]}"
            )
        return book.tunes[0]
    folded = wanted.casefold()
    for name, tune in zip(names, book.tunes, strict=True):
        if name == wanted or tune.title.casefold() == folded:
            return tune
    begun = [tune for tune in book.tunes if tune.title.casefold().startswith(folded)]
    if len(begun) == 1:
        return begun[0]
    raise _not_found(book, wanted, begun, gate)


def _not_found(book: TuneBook, wanted: str, begun: Sequence[Tune], gate: Gate) -> Exception:
    titles = [tune.title for tune in book.tunes if tune.title]
    names = tune_names(book)
    if begun:
        return gate.error(
            f"{len(begun)} tunes begin with {shortened(wanted)!r}",
            Where("", begun[0].lines[0][0]),
            hint="expected one of: " + ", ".join(tune.title for tune in begun[:_MOST_SHOWN]),
        )
    near = nearest_hint(shortened(wanted), titles)
    expected = f"expected a number from {names[0]} to {names[-1]}, or a title"
    return gate.error(
        f"there is no tune {shortened(wanted)!r} among {len(names)}",
        hint=joined_hints(near, expected),
    )
