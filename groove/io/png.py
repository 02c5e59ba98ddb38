"""A page that is written in typst's markup, as PNG pictures: see ``groove.io.pdf``."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from groove.errors import OutputError
from groove.io.pdf import INSTALL_HINT, MAIN, write_page


def png_pages(
    source: str,
    files: Mapping[str, bytes],
    *,
    font_files: Sequence[bytes] = (),
    pixels_per_inch: float = 144,
) -> tuple[bytes, ...]:
    """Return the pages of a markup as PNG.  Raises OutputError as ``pdf_bytes`` does."""
    try:
        import typst
    except ImportError:
        raise OutputError("typst is missing, which sets the page", hint=INSTALL_HINT) from None
    with TemporaryDirectory(prefix="groove-") as folder:
        root, fonts = Path(folder) / "page", Path(folder) / "fonts"
        main = write_page(root, {**files, MAIN: source.encode()})
        write_page(fonts, {f"{number}.ttf": data for number, data in enumerate(font_files)})
        try:
            pages = typst.compile(
                str(main),
                root=str(root),
                font_paths=[str(fonts)],
                ignore_system_fonts=True,
                format="png",
                ppi=pixels_per_inch,
                package_path=str(fonts),
                package_cache_path=str(fonts),
            )
        except typst.TypstError as error:
            raise OutputError(f"typst cannot set the page: {error.message}") from None
    return tuple(pages) if isinstance(pages, list) else (pages,)
