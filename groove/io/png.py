"""A page that is written in typst's markup, as PNG pictures: see ``groove.io.pdf``."""

from collections.abc import Mapping

from groove.io.pdf import typeset


def png_pages(
    source: str,
    files: Mapping[str, bytes],
    *,
    pixels_per_inch: float = 144,
) -> tuple[bytes, ...]:
    """Return the pages of a markup as PNG.  Raises OutputError as ``pdf_bytes`` does."""
    pages = typeset(source, files, format="png", ppi=pixels_per_inch)
    return tuple(pages) if isinstance(pages, list) else (pages,)
