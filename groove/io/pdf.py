"""A page that is written in typst's markup, set as PDF bytes.

The only module that speaks to typst.  The page lies in a folder of its own and sees the files that
were handed over and no others, the machine's fonts left out: text is set in the fonts that come
with typst, and in those handed over.  The date in the PDF is fixed, so that the same page gives the
same bytes (typst 0.15, tried).
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from groove.errors import OutputError
from groove.io.files import scratch_folder

MAIN = "main.typ"
FIXED_DATE = 0
"""Seconds since 1970 that the PDF names as its date."""
_INSTALL_HINT = "pip install typst"


def pdf_bytes(
    source: str, files: Mapping[str, bytes] | None = None, *, font_files: Sequence[bytes] = ()
) -> bytes:
    """Return a PDF of a page in typst's markup.

    ``files`` are what the page names, as pictures (``page-1.svg``); ``font_files`` the contents of
    TTF or OTF fonts that it is set in.  Raises OutputError where typst is missing or cannot set
    the page; a name that leaves the page's own folder is a ValueError.
    """
    pages = typeset(source, files or {}, font_files, format="pdf", timestamp=FIXED_DATE)
    if not isinstance(pages, bytes):
        raise AssertionError("a PDF is one file")
    return pages


def typeset(
    source: str, files: Mapping[str, bytes], font_files: Sequence[bytes], **output: Any
) -> bytes | list[bytes]:
    """Return what typst makes of a page; ``output`` is its ``format`` and what belongs to that.

    Raises OutputError and ValueError as ``pdf_bytes`` does.
    """
    try:
        import typst
    except ImportError:
        raise OutputError("typst is missing, which sets the page", hint=_INSTALL_HINT) from None
    with scratch_folder() as folder:
        root, fonts = folder / "page", folder / "fonts"
        main = _write_page(root, {**files, MAIN: source.encode()})
        _write_page(fonts, {f"{number}.ttf": data for number, data in enumerate(font_files)})
        try:
            pages: bytes | list[bytes] = typst.compile(
                str(main),
                root=str(root),
                font_paths=[str(fonts)],
                ignore_system_fonts=True,
                package_path=str(fonts),
                package_cache_path=str(fonts),
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
