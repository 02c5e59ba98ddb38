"""A page that is written in typst's markup, set as PDF bytes.

The only module that speaks to typst.  The page lies in a folder of its own and sees the files that
were handed over and no others, the machine's fonts left out: text is set in the fonts that come
with typst.  A PDF names groove as its author, and as its date the one that SOURCE_DATE_EPOCH
states, else none, so that the same page gives the same bytes (typst 0.15, tried).
"""

import os
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from groove.errors import OptionError, OutputError
from groove.io.files import scratch_folder

MAIN = "main.typ"
AUTHOR = "groove"
DATE = "SOURCE_DATE_EPOCH"
"""The variable of the environment that states the date of what is made, in seconds since 1970
(reproducible-builds.org/specs/source-date-epoch)."""
_INSTALL_HINT = "pip install typst"


def pdf_bytes(source: str, files: Mapping[str, bytes] | None = None) -> bytes:
    """Return a PDF of a page in typst's markup.

    ``files`` are what the page names, as pictures (``page-1.svg``).  Raises OutputError where typst
    is missing or cannot set the page, OptionError for a date that is none; a name that leaves the
    page's own folder is a ValueError.
    """
    stated = f'#set document(author: "{AUTHOR}", date: {_date_markup()})\n'
    pages = typeset(stated + source, files or {}, format="pdf")
    if not isinstance(pages, bytes):
        raise AssertionError("a PDF is one file")
    return pages


def _date_markup() -> str:
    """Return the date that the environment states in typst's markup, ``none`` where it does not."""
    text = os.environ.get(DATE, "")
    if not text:
        return "none"
    try:
        when = datetime.fromtimestamp(int(text), UTC)
    except (ValueError, OverflowError, OSError):
        message = f"the variable {DATE} states no date: {text[:40]!r}"
        raise OptionError(message, hint="expected seconds since 1970, as in 1700000000") from None
    return (
        f"datetime(year: {when.year}, month: {when.month}, day: {when.day}, "
        f"hour: {when.hour}, minute: {when.minute}, second: {when.second})"
    )


def typeset(source: str, files: Mapping[str, bytes], **output: Any) -> bytes | list[bytes]:
    """Return what typst makes of a page; ``output`` is its ``format`` and what belongs to that.

    Raises OutputError and ValueError as ``pdf_bytes`` does.
    """
    try:
        import typst
    except ImportError:
        raise OutputError("typst is missing, which sets the page", hint=_INSTALL_HINT) from None
    with scratch_folder() as folder:
        root, packages = folder / "page", folder / "packages"
        main = _write_page(root, {**files, MAIN: source.encode()})
        packages.mkdir()
        try:
            pages: bytes | list[bytes] = typst.compile(
                str(main),
                root=str(root),
                ignore_system_fonts=True,
                package_path=str(packages),
                package_cache_path=str(packages),
                **output,
            )
        except typst.TypstError as error:
            raise OutputError(f"typst cannot set the page: {error.message}") from None
    return pages


def _write_page(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write the files of a page into a folder of their own; return where the main one lies."""
    folder.mkdir()
    for name, data in files.items():
        path = folder / name
        if not path.resolve().is_relative_to(folder.resolve()):
            raise ValueError(f"outside the page's folder: {name!r}")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return folder / MAIN
