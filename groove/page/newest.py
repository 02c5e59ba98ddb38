"""How an open page learns that it has been made again.

From disk a page may read no other file, nor should it: its policy forbids all of it.  A page made
with ``--watch`` may show a picture, and a picture's size can be asked for.  So a drawing of nothing
lies beside it whose width and height say which page is the newest (Content Security Policy Level
3, W3C, 6.1.6: ``img-src``; a drawing shown as a picture runs no script: SVG Integration, W3C, 2.2).
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

SIZES = 4096
"""How many widths there are, and how many heights: one of 16.8 million pages has the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Newest:
    """The name of the drawing beside a page, and its size in pixels."""

    file: str
    width: int
    height: int

    def drawing(self) -> str:
        """Return the drawing as SVG."""
        size = f'width="{self.width}" height="{self.height}"'
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size}/>\n'


def newest(file: str, contents: Iterable[str]) -> Newest:
    """Return the drawing that stands for a page with these contents."""
    digest = hashlib.sha256()
    for text in contents:
        digest.update(text.encode())
    number = int.from_bytes(digest.digest()[:3], "big")
    return Newest(file=file, width=1 + number // SIZES, height=1 + number % SIZES)


def mark_name(page: str) -> str:
    """Return the name of the drawing beside a page, one that folders do not show."""
    return f".{page}.svg"
