"""The index of a gig's folder: what stands in it is text, and its links lead to the files.

Read with the parser of the standard library; percent signs are those of RFC 3986, 2.1.
"""

from html.parser import HTMLParser
from urllib.parse import unquote

from msgspec.structs import replace

from groove.gig.index_page import index_html
from groove.gig.running_order import GigRow, RunningOrder, SongRecord

RECORD = SongRecord(
    fingerprint="", title="A <B>", key="D", tempo="", sec=61, files={"a b#1?.mid": ""}
)


class Page(HTMLParser):
    """Collects tags, links and texts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.links: list[str] = []
        self.texts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.links += [str(value) for name, value in attrs if name == "href"]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_links_are_words_where_the_songs_files_share_its_name() -> None:
    names = ["wren.mid", "wren-without-bass.mid", "wren.html", "wren-sheet.pdf", "wren-card.pdf"]
    record = replace(RECORD, files=dict.fromkeys(names, ""))
    rows = (GigRow(number=1, name="Wren", sec=61, record=record),)
    page = Page(index_html(RunningOrder(title="s", rows=rows), book=""))
    assert page.links == names
    words = {"MIDI", "MIDI without bass", "practice page", "sheet", "card"}
    assert words <= set(page.texts) and not set(names) & set(page.texts)


def test_links_lead_to_files_of_any_name_and_nothing_is_markup() -> None:
    rows = (
        GigRow(number=1, name=RECORD.title, sec=61, record=RECORD),
        GigRow(number=2, name="<i>.txt", sec=0, error="cannot read '<u>'"),
    )
    page = Page(index_html(RunningOrder(title="<s>", rows=rows), book=""))
    assert [unquote(link) for link in page.links] == ["a b#1?.mid"]
    assert page.links[0].count("#") == page.links[0].count("?") == page.links[0].count(" ") == 0
    assert page.tags.isdisjoint({"b", "i", "u", "s"})
    assert {"A <B>", "<s>", "a b#1?.mid"} <= set(page.texts)
    assert "<i>.txt: not made. cannot read '<u>'" in page.texts
