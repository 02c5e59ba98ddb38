"""Control characters in a chart are blanks in every output, and that is said.

Which they are: Unicode's categories Cc, Cs, Zl and Zp (from Python's unicodedata), the
Bidi_Control characters of *UAX #9* (table 1 to 3), the 66 noncharacters of *The Unicode Standard*
(section 23.7).  What a document may hold: the production Char of XML 1.0, judged by lxml.
"""

import io
import sys
import unicodedata
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import mido
import pypdf
import pytest
from lxml import etree  # type: ignore[import-untyped]

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.harmony.analysis import analyse
from groove.io.engrave import sheet_pdf, sheet_svg
from groove.io.midi import midi_bytes
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions
from groove.text.card import song_card
from groove.text.card_html import card_html
from groove.text.notices import notice_texts
from tests.cli.command import Command

MEANT = "\t\n\r"
BIDI = [0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
NONCHARACTERS = [*range(0xFDD0, 0xFDF0)]
NONCHARACTERS += [plane * 0x10000 + low for plane in range(17) for low in (0xFFFE, 0xFFFF)]


@cache
def controls() -> list[str]:
    """Return all control characters that are not meant: looked for once, and only by a test."""
    of_unicode = map(chr, range(sys.maxunicode + 1))
    found = {c for c in of_unicode if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")}
    return sorted((found | set(map(chr, BIDI + NONCHARACTERS))) - set(MEANT))


def some_controls() -> list[str]:
    """Return all of them but the surrogates, of which there are two of either half."""
    return [
        c for c in controls() if not "\ud800" <= c <= "\udfff" or c in "\ud800\udbff\udc80\udfff"
    ]


KEPT = "Zoë 東京 ♭ 🎸 👩\u200d🎤 שלום"
"""Letters of all kinds, a joiner of emoji, right-to-left script: none of them a control."""


def chart(mark: str) -> str:
    """Return a chart with a mark in its title, a name, a comment and between chords."""
    return (
        f"title: Lan{mark}tern\nkey: D\nfeel: ballad  # a{mark}remark\n"
        f"ver{mark}se:\n| D{mark}A | G |\nform: ver se\n"
    )


def test_there_are_as_many_controls_as_unicode_has() -> None:
    # 65 Cc without the three that are meant, 2048 surrogates, 2 separators, 12 of UAX #9, 66.
    assert len(controls()) == 65 - 3 + 2048 + 2 + 12 + 66
    assert len(some_controls()) == len(controls()) - 2048 + 4


def test_every_control_is_read_as_a_blank_and_said() -> None:
    plain = parse_chart(chart(" "))
    for mark in some_controls():
        song = parse_chart(chart(mark))
        assert song == plain, repr(mark)
        assert song.title == "Lan tern"
        assert notice_texts(song.notices) == [
            "4 control characters are read as blanks, the first in line 1",
        ]
    assert notice_texts(plain.notices) == []


def test_all_surrogates_are_read_as_blanks() -> None:
    marks = "".join(map(chr, range(0xD800, 0xE000)))
    song = parse_chart(f"verse:\n| D |\nb:\n|{marks}A |")
    assert notice_texts(song.notices) == [
        "2048 control characters are read as blanks, the first in line 4",
    ]


def test_letters_that_are_no_controls_stay() -> None:
    song = parse_chart(f"title: {KEPT}\nverse:\n\t| D |\r\n")
    assert song.title == KEPT
    assert notice_texts(song.notices) == []


def test_an_error_stands_where_it_stood() -> None:
    with pytest.raises(ChartError) as caught:
        parse_chart("title: a\x00b\nverse:\n| \x1b[31m D | Cmjor7 |")
    assert (caught.value.place.line, caught.value.place.column) == (3, 4)
    assert caught.value.place.text == "|  [31m D | Cmjor7 |"


class Words(HTMLParser):
    """The words of an HTML document."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_every_output_of_such_a_chart_is_whole(library: Library) -> None:
    marks = "".join(some_controls())
    song = parse_chart(f'title: Lan{marks}tern "&<\\# {KEPT}\nver{marks}se:\n| D | G |')
    performance = perform_song(song, library, PerformOptions(tight=True))
    placed, _ = finger_performance(performance)
    title = " ".join(song.title.split())
    assert title == f'Lan tern "&<\\# {KEPT}'
    written = etree.fromstring(musicxml_text(build_score(placed, song), song).encode())
    assert " ".join(written.findtext(".//work-title").split()) == title
    for options in (SheetOptions(), SheetOptions(chart=True)):
        pages = sheet_svg(placed, song, options)
        drawn = ["".join(etree.fromstring(page.encode()).itertext()) for page in pages]
        assert "tern" in drawn[0]
    words = Words()
    words.feed(card_html(song_card(analyse(song))))
    assert any("Lan" in word and KEPT in word for word in words.words)
    midi = mido.MidiFile(file=io.BytesIO(midi_bytes(performance)), charset="utf-8")
    names = [m.name for track in midi.tracks for m in track if m.type == "track_name"]
    assert " ".join(names[0].split()) == title
    pdf = pypdf.PdfReader(io.BytesIO(sheet_pdf(placed, song)))
    assert "Lan" in pdf.pages[0].extract_text()


def test_a_title_steers_no_terminal(groove: Command) -> None:
    groove.write("song.txt", "title: a\x1b[2Jb\x9b31m\u202ec\nverse:\n| D |\n")
    said = groove("show", "song.txt")
    assert said.code == 0
    assert "a [2Jb 31m c" in said.out
    assert not set(said.out + said.err) & set(controls())
    assert said.err == "3 control characters are read as blanks, the first in line 1\n"


def test_titles_of_foreign_scores_are_read_the_same_way(groove: Command, tmp_path: Path) -> None:
    (tmp_path / "tune.abc").write_text(
        'X:1\nT:Lan\x00tern\x1b \u202eRow\nM:4/4\nL:1/4\nK:D\n"D"DDDD|"A"AAAA|\n'
    )
    said = groove("show", "tune.abc")
    assert said.code == 0
    assert said.out.splitlines()[0].startswith("Lan tern Row")
