"""``groove card`` and ``groove sheet``: which files come, and what is refused."""

import io
import shutil
import xml.etree.ElementTree as ElementTree
import zipfile

import pytest

from groove.chart.parse import parse_chart
from tests.cli.command import Command
from tests.conftest import ROOT

SONG = """title: Small Song
tempo: 84
key: D
feel: sixteenths
verse:
| D | A/C# | <G | A7 |
chorus:
|: G | A | D | D :|
form: verse x2, chorus
"""


def test_the_card_as_text_and_files(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("card", "song.txt")
    assert said.code == 0
    assert said.out.startswith("Small Song\n")
    for expected in ("D major", "verse", "chorus", "V7"):
        assert expected in said.out
    for name in ("card.pdf", "card.html", "card.txt"):
        assert groove("card", "song.txt", "-o", name).code == 0
    assert (groove.folder / "card.pdf").read_bytes()[:5] == b"%PDF-"
    assert "<html" in (groove.folder / "card.html").read_text(encoding="utf-8")
    assert (groove.folder / "card.txt").read_text(encoding="utf-8") == said.out


def test_a_test_card_hides_the_chords_until_the_answers(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("card", "song.txt", "--test").out
    questions, answers = said.split("(answers)")
    assert "A/C#" not in questions
    assert "A/C♯" in answers


def test_the_analysis_as_json_has_the_stated_names(groove: Command) -> None:
    groove.write("song.txt", SONG)
    for command in ("card", "show"):
        (data,) = groove(command, "song.txt", "--json").json
        assert data["format"] == 1
        assert next(iter(data)) == "format"
        assert {"title", "key", "key_given", "sections", "progressions", "moves", "chords"} <= set(
            data
        )
        assert {"tonic", "mode", "confidence", "runner_up"} <= set(data["key"])
        assert (data["key"]["tonic"], data["key"]["mode"]) == ("D", "major")
        first = data["chords"][0]
        assert {"bar", "beat", "symbol", "numeral", "number", "function"} <= set(first)
        assert (first["bar"], first["beat"], first["symbol"], first["numeral"]) == (1, 1, "D", "I")


def test_numerals_and_numbers_stand_under_the_bars(groove: Command) -> None:
    groove.write("song.txt", SONG)
    lines = [
        " ".join(line.split()) for line in groove("show", "song.txt", "--numerals").out.splitlines()
    ]
    assert "I V6 IV V7" in lines  # Open Music Theory: first inversion is 6
    lines = [
        " ".join(line.split()) for line in groove("show", "song.txt", "--numbers").out.splitlines()
    ]
    assert "1 5/7 4 5⁷" in lines  # the number system: after the slash the bass, a quality raised
    assert "Progression 1" in groove("show", "song.txt", "--harmony").out


@pytest.mark.parametrize("kind", ["pdf", "svg", "png", "musicxml", "mxl"])
def test_a_sheet_of_every_kind(groove: Command, kind: str) -> None:
    groove.write("song.txt", SONG)
    assert groove("sheet", "song.txt", "-o", f"part.{kind}", "--bars", "1-4").code == 0
    data = (groove.folder / f"part.{kind}").read_bytes()
    starts = {
        "pdf": b"%PDF-",
        "svg": b"<svg",
        "png": b"\x89PNG",
        "musicxml": b"<?xml",
        "mxl": b"PK",
    }
    assert data.lstrip()[:5].startswith(starts[kind])
    if kind == "mxl":
        assert "META-INF/container.xml" in zipfile.ZipFile(io.BytesIO(data)).namelist()


def test_a_sheet_beside_the_chart_and_in_a_folder(groove: Command) -> None:
    for name in ("song", "other"):
        groove.write(f"{name}.txt", "key: D\nverse:\n| D | A |\n")
    assert groove("sheet", "song.txt").code == 0
    several = ("song.txt", "other.txt", "-o", "out/", "--as", "svg")
    (row, _) = groove("sheet", *several, "--json").json
    assert row["files"] == ["out/song.svg"]
    assert groove.files() == {"song.txt", "other.txt", "song.pdf", "out/song.svg", "out/other.svg"}


def test_pages_of_pictures_are_numbered(groove: Command) -> None:
    groove.write("song.txt", SONG.replace("form: verse x2, chorus", "form: verse x4, chorus x2"))
    (row,) = groove("sheet", "song.txt", "-o", "a.svg", "--written-out", "--json").json
    assert row["files"][:2] == ["a-1.svg", "a-2.svg"]
    assert set(row["files"]) == groove.files() - {"song.txt"}


def test_a_chord_chart_and_other_parts(groove: Command) -> None:
    groove.write("song.txt", SONG)
    assert groove("sheet", "song.txt", "--chart", "--numerals", "-o", "lead.svg").code == 0
    assert "A7" in (groove.folder / "lead.svg").read_text(encoding="utf-8")
    for part in ("drums", "keys"):
        assert groove("sheet", "song.txt", "--part", part, "-o", f"{part}.musicxml").code == 0
        root = ElementTree.fromstring((groove.folder / f"{part}.musicxml").read_bytes())
        assert len(root.findall(".//note")) > 20


def test_musicxml_comes_back_as_the_same_chart_in_every_command(groove: Command) -> None:
    groove.write("song.txt", SONG)
    groove("sheet", "song.txt", "-o", "song.musicxml")
    groove("sheet", "song.txt", "-o", "song.mxl")
    for name in ("song.musicxml", "song.mxl"):
        said = groove("show", name, "--chart")
        assert parse_chart(said.out) == parse_chart(SONG)
    assert groove("render", "song.mxl", "-o", "again.mid").code == 0
    groove("render", "song.txt", "-o", "first.mid")
    files = [(groove.folder / name).read_bytes() for name in ("again.mid", "first.mid")]
    assert files[0] == files[1]


def test_abc_is_read(groove: Command) -> None:
    groove.write("tune.abc", 'X:1\nT:Small Tune\nM:3/4\nL:1/4\nK:G\n"G"G2 B|"D7"A2 F|"G"G3|]\n')
    assert "Small Tune" in groove("show", "tune.abc").out
    assert groove("tab", "tune.abc").code == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("sheet", "song.txt", "-o", "part.doc"), "cannot write a .doc: part.doc"),
        (("sheet", "song.txt", "--size", "a5"), "nearest: a4"),
        (("sheet", "song.txt", "--part", "base"), "nearest: bass"),
        (("sheet", "song.txt", "--staves", "tabs"), "nearest: tab"),
        (("sheet", "song.txt", "--chart", "-o", "lead.mxl"), "leave --chart out"),
        (("sheet", "song.txt", "song.txt", "-o", "a.pdf"), "for 2 charts"),
        (("card", "song.txt", "-o", "card.doc"), "expected one of: .pdf, .html, .txt, or a folder"),
        (("show", "none.musicxml"), "cannot read none.musicxml"),
    ],
)
def test_bad_page_requests(groove: Command, arguments: tuple[str, ...], message: str) -> None:
    groove.write("song.txt", SONG)
    said = groove(*arguments)
    assert said.code == 2
    assert message in said.err
    assert groove.files() == {"song.txt"}


@pytest.mark.parametrize(
    "data", [b"", b"<x", b"PK\x03\x04junk", b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"]
)
def test_hostile_scores_are_refused(groove: Command, data: bytes) -> None:
    (groove.folder / "bad.musicxml").write_bytes(data)
    said = groove("show", "bad.musicxml")
    assert said.code == 2
    assert "Traceback" not in said.err


def test_every_example_chart_goes_through_the_commands(groove: Command) -> None:
    """Each through one, so that two charts go through each.

    All are read and played in test_golden; their sheets are made, and judged, in tests/sheet.
    """
    charts = sorted((ROOT / "shared" / "charts").glob("*.txt"))
    assert len(charts) == 8
    for number, path in enumerate(charts):
        shutil.copy(path, groove.folder)
        command = ("show", "neck", "tab", "card")[number % 4]
        assert groove(command, path.name).code == 0


def test_the_card_has_every_bar_and_starts_where_the_tab_does(groove: Command) -> None:
    groove.write("song.txt", "key: D\nfeel: sixteenths\nverse:\n| D | G/B | Em7 A7 | D |\n")
    card = groove("card", "song.txt").out
    (row,) = [line for line in card.splitlines() if line.lstrip().startswith("|")]
    assert row.split() == ["|", "D", "|", "G/B", "|", "Em7", "A7", "|", "D", "|"]
    assert " bass D B E A D " in " ".join(card.split())
    # On the tab the first D lies on the A string, fret 5.
    (note, *_) = groove("neck", "song.txt", "--json").json[0]["notes"]
    assert (note["string"], note["fret"]) == (3, 5)
    assert "A string, fret 5" in card


def test_the_notes_that_work_are_shown_on_the_neck_at_any_position(groove: Command) -> None:
    groove.write("song.txt", "key: D\nverse:\n| D | A7 | D | D |\n")
    open_neck = groove("show", "song.txt", "--notes").out
    # A7 by the printed table: A C# E G.
    assert "A7: A C♯ E G" in open_neck
    assert "A  " in open_neck
    higher = groove("show", "song.txt", "--notes", "--position", "5").out
    assert higher != open_neck
    # A string, fifth fret is D: the root ringed right after the bar at fret 5.
    row = next(line for line in higher.splitlines() if line.startswith("A  "))
    assert row.split("|")[1].strip("- ") == "◎"
