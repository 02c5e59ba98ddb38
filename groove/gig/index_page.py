"""The index of a gig's folder: one HTML page with the running order and a link to every file."""

from collections.abc import Collection
from html import escape
from posixpath import commonprefix
from urllib.parse import quote

from groove.gig.running_order import GigRow, RunningOrder, length_words
from groove.text.counts import clock_text
from groove.text.html_report import html_document

_STYLE = (
    "body{font:17px/1.4 system-ui,sans-serif;max-width:52rem;margin:1rem auto;padding:0 1rem;"
    "color:#111;background:#fff}table{border-collapse:collapse;width:100%}"
    "td,th{border-bottom:1px solid #767676;padding:.4rem .5rem;text-align:left;vertical-align:top}"
    "td:first-child{text-align:right}a{display:inline-block;padding:.2rem .3rem;color:#0645ad;"
    "overflow-wrap:anywhere}@media(max-width:600px){tr:first-child{display:none}"
    "tr{display:flex;flex-wrap:wrap;border-bottom:1px solid #767676}td{border:0}"
    "td:nth-child(2){flex:1 1 60%;overflow-wrap:anywhere}td:nth-child(6){flex:1 0 100%}}"
)
_SHORT = {
    ".html": "practice page",
    "-sheet.pdf": "sheet",
    "-card.pdf": "card",
    ".mid": "MIDI",
    "-without-bass.mid": "MIDI without bass",
}
"""What a link is called whose file is the song's name and this; others by their whole name."""


def index_html(order: RunningOrder, *, book: str) -> str:
    """Return the page; ``book`` is the file of the gig book, empty where there is none."""
    rows = "".join(_row_html(row) for row in order.rows)
    head = "<tr><th>No.</th><th>Song</th><th>Key</th><th>Tempo</th><th>Time</th><th>Files</th></tr>"
    link = f'<p><a href="{quote(book)}">gig book</a></p>' if book else ""
    body = (
        f"<h1>{escape(order.title)}</h1><p>{escape(length_words(order))}</p>{link}\n"
        f"<table>{head}\n{rows}</table>"
    )
    return html_document(order.title, body, _STYLE)


def _short(file: str, files: Collection[str]) -> str:
    """Return a file in a word, where the files of its song share a name; else its name."""
    stem = commonprefix([*files]).rstrip("-.")
    return _SHORT.get(file.removeprefix(stem), file)


def _row_html(row: GigRow) -> str:
    name = escape(row.name)
    if not row.number:
        return f'<tr><td></td><td colspan="5">{name}</td></tr>\n'
    if row.record is None:
        error = escape(row.error)
        return f'<tr><td>{row.number}</td><td colspan="5">{name}: not made. {error}</td></tr>\n'
    record = row.record
    links = " ".join(
        f'<a href="{quote(file)}">{escape(_short(file, record.files))}</a>' for file in record.files
    )
    notices = "".join(f"<br>{escape(notice)}" for notice in record.notices)
    return (
        f"<tr><td>{row.number}</td><td>{name}{notices}</td><td>{escape(record.key)}</td>"
        f"<td>{escape(record.tempo)}</td><td>{clock_text(record.sec)}</td><td>{links}</td></tr>\n"
    )
