"""The practice page as one HTML document: data, sounds, drawings, style and script inside it.

Whatever comes from the chart is escaped, in HTML and inside JSON; the policy lets run only the
script whose hash it names, and lets nothing be fetched (Content Security Policy Level 3, W3C).
"""

import base64
import gzip
import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from html import escape

from groove.page.newest import Newest, mark_name, newest
from groove.page.record import PageRecord
from groove.page.systems import EngravedPart, glyph_definitions
from groove.text.counts import counted

IMPORT = re.compile(r"^import .*?;\n", re.M | re.S)
EXPORT = re.compile(r"^export ", re.M)
_FIELD = re.compile(r"\{(title|key|facts|count|counted|glyphs)\}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Assets:
    """The pieces that the page is made of: body, style, and modules in the order they import."""

    body: str
    style: str
    modules: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What one page holds: plain data, an MP3 a part, the sheets by width, the card by key.

    ``counted_bars`` is how many bars are counted in, 0 where nobody counts.
    """

    title: str
    key: str
    facts: str
    data: Mapping[str, object]
    counted_bars: int
    sounds: Mapping[str, bytes]
    sheets: Mapping[str, EngravedPart]
    cards: Sequence[str]
    moved: Mapping[int, Sequence[Sequence[int]]]
    """The bass line in the other keys, by semitones: see ``moved_line``."""
    record: PageRecord | None = None
    watched_as: str = ""
    """The file's own name where it looks for a newer one of itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """The text of one HTML file, and what is to lie beside it where it looks for a newer one."""

    html: str
    newest: Newest | None


def practice_document(contents: Contents, assets: Assets) -> Document:
    """Return the page, and the drawing that says that it is the newest."""
    script = _joined_script(assets.modules)
    style = assets.style
    blocks = [_body(contents, assets.body), *_data_blocks(contents)]
    mark = None
    if contents.watched_as:
        mark = newest(mark_name(contents.watched_as), [style, *blocks, script])
        blocks.append(_data_block("newest", "application/json", _json_text(asdict(mark))))
    html = "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta http-equiv="Content-Security-Policy" '
            f'content="{_policy(script, style, is_watched=mark is not None)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{escape(contents.title)}</title>",
            f"<style>{style}</style>",
            "</head>",
            "<body>",
            *blocks,
            f'<script type="module">{script}</script>',
            "</body>",
            "</html>",
            "",
        ]
    )
    return Document(html=html, newest=mark)


def _body(contents: Contents, body: str) -> str:
    """Return what is seen of the page, with what is the song's filled in."""
    fields = {
        "title": escape(contents.title),
        "key": escape(contents.key),
        "facts": escape(contents.facts),
        "counted": "checked" if contents.counted_bars else "",
        "count": counted(max(1, contents.counted_bars), "bar"),
        "glyphs": glyph_definitions(contents.sheets.values()),
    }
    # One pass, so that a chart's own braces are never filled in.
    return _FIELD.sub(lambda found: fields[found[1]], body)


def _data_blocks(contents: Contents) -> Iterator[str]:
    """Yield what the page's script unpacks: data, sounds, drawings, cards, lines, the record."""
    data = {
        **contents.data,
        "page": _page_name(contents),
        "key_fact": contents.key,
        "sheets": {n: _sheet_rows(s) for n, s in contents.sheets.items()},
    }
    if contents.record:
        data["record"] = contents.record.data()
    yield _data_block("data", "application/json", _json_text(data))
    for part, mp3 in contents.sounds.items():
        yield _data_block(f"sound-{part}", "audio/mpeg", _base64_text(mp3))
    for name, sheet in contents.sheets.items():
        yield _data_block(f"sheet-{name}", "application/gzip", _packed(_drawings(sheet)))
    yield _data_block("cards", "application/gzip", _packed(contents.cards))
    yield _data_block("moved", "application/gzip", _packed([_json_text(contents.moved)]))
    if contents.record and contents.record.sound is not None:
        sound = _base64_text(contents.record.sound)
        yield _data_block("record", "application/octet-stream", sound)


def _page_name(contents: Contents) -> str:
    """Return a name for what the page plays: settings are remembered under it.

    A page that is made again and again keeps its name, and with it what was set.
    """
    named = [contents.title, contents.watched_as] if contents.watched_as else contents.data
    return hashlib.sha256(_json_text(named).encode()).hexdigest()[:16]


@lru_cache(maxsize=1)
def _joined_script(modules: tuple[str, ...]) -> str:
    """Return modules as one: what they import stands before them; all pages have the same."""
    return "\n".join(EXPORT.sub("", IMPORT.sub("", module)) for module in modules)


def _policy(script: str, style: str, *, is_watched: bool) -> str:
    """Return a policy that allows this script and this style.

    A page that looks for a newer one of itself may show pictures from disk as well.
    """
    pictures = "img-src file:; " if is_watched else ""
    return (
        f"default-src 'none'; script-src '{_source_hash(script)}'; {pictures}"
        f"style-src '{_source_hash(style)}'; media-src blob:; base-uri 'none'; form-action 'none'"
    )


def _source_hash(text: str) -> str:
    """Return the hash by which a policy names an inline source."""
    digest = hashlib.sha256(text.encode()).digest()
    return "sha256-" + base64.b64encode(digest).decode("ascii")


def _json_text(value: object) -> str:
    """Return JSON that cannot end the block that it stands in."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _base64_text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


def _data_block(name: str, kind: str, text: str) -> str:
    """Return a block that the browser keeps and does not run."""
    return f'<script type="{kind}" id="{name}">{text}</script>'


def _packed(texts: Iterable[str]) -> str:
    """Return texts parted by zero characters, gzipped, as base64; no clock is in it."""
    return _base64_text(gzip.compress("\0".join(texts).encode(), mtime=0))


def _drawings(sheet: EngravedPart) -> Iterator[str]:
    return (system.drawing for system in sheet.systems)


def _sheet_rows(sheet: EngravedPart) -> list[list[int]]:
    """Return first bar, count of bars, height and bar lines of every line.

    Height and bar lines are in ten-thousandths of the line's width.
    """
    return [
        [s.first_bar, s.bars, *(round(10_000 * each) for each in (s.height, *s.bar_lines))]
        for s in sheet.systems
    ]
