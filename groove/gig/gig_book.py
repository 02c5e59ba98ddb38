"""The gig book in typst's markup, for ``groove.io.pdf``: the running order, then every sheet.

Sheets go in as they were printed, page by page, each with the book's own page number.  Everything
from a chart goes in as a string literal, never as markup.
"""

import re
from collections.abc import Sequence

from msgspec import Struct

from groove.gig.running_order import GigRow, RunningOrder, length_words
from groove.sheet.card_pdf import typst_string
from groove.sheet.print_pages import half_note_rule
from groove.text.counts import clock_text

_HEAD = """#set document(title: {title})
#set page(paper: "a4", margin: (x: 18mm, y: 20mm),
  footer: context align(right, text(9pt)[#counter(page).display()]))
#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"), size: 12pt, lang: "en")
"""
_PAGE = re.compile(rb"/Type\s*/Page\b")


class BookSong(Struct, frozen=True):
    """A song's printed pages: the name of the PDF as the book knows it, and how many it has."""

    file: str
    pages: int


def pdf_page_count(data: bytes) -> int:
    """Return how many pages a PDF has that typst wrote: it keeps its page objects in the clear."""
    return len(_PAGE.findall(data))


def book_source(order: RunningOrder, songs: Sequence[BookSong | None]) -> str:
    """Return the markup of the book; ``songs`` are the pages of each song, None where it has none.

    A long running order takes more than one page, so the pages of songs are found by label.
    """
    title = typst_string(order.title)
    numbered = [row for row in order.rows if row.number]
    has_pages = {row.number: song is not None for row, song in zip(numbered, songs, strict=True)}
    cells = [cell for row in order.rows for cell in _cells(row, has_pages.get(row.number, False))]
    lines = [
        _HEAD.format(title=title) + half_note_rule(),
        f"#text(22pt, weight: 700, {title})\n",
        f"#{typst_string(length_words(order))}\n",
        "#table(columns: (auto, 1fr, auto, auto, auto, auto), stroke: none, inset: 0.35em,",
        "  align: (right, left, left, left, right, right),",
        "  table.header([], [*Song*], [*Key*], [*Tempo*], [*Time*], [*Page*]),",
        *(f"  {cell}," for cell in cells),
        ")",
    ]
    for row, song in zip(numbered, songs, strict=True):
        if song:
            lines += [_page_markup(song, page, row.number) for page in range(1, song.pages + 1)]
    return "\n".join(lines) + "\n"


def _cells(row: GigRow, has_pages: bool) -> list[str]:
    """Return one line of the running order as six cells."""
    name = typst_string(row.name)
    if not row.number:
        return ["[]", f"table.cell(colspan: 5, emph({name}))"]
    number = f"[{row.number}]"
    if row.record is None:
        return [number, f"table.cell(colspan: 5, [#{name}: not made])"]
    record = row.record
    page = f"context counter(page).at(<song-{row.number}>).first()" if has_pages else "[]"
    facts = [typst_string(text) for text in (record.key, record.tempo, clock_text(record.sec))]
    return [number, name, *facts, page]


def _page_markup(song: BookSong, page: int, number: int) -> str:
    """Return one printed page, over the whole paper, with the book's number in its corner."""
    label = f" #metadata(none) <song-{number}>" if page == 1 else ""
    corner = (
        "#place(bottom + right, dx: -9mm, dy: -5mm, text(9pt, context counter(page).display()))"
    )
    return (
        f'#page(margin: 0mm, footer: none)[{label} #place(image("{song.file}", page: {page}, '
        f'width: 100%, height: 100%, fit: "contain")) {corner}]'
    )
