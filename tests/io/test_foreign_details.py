"""What is kept of scores that others wrote, and what is told: one thing each.

Judges: music21 10.5.1, the texts of MusicXML 4.0 and ABC 2.1; where none is named, common
practice, no source.
"""

import io
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21
import pytest

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.chart.push import Push
from groove.errors import ChartError, OptionError
from groove.io.abc import song_from_abc
from groove.io.abc_music import abc_symbol, part_order
from groove.io.charts import every_tune, read_song
from groove.io.musicxml import song_from_musicxml
from groove.text.notices import notice_texts
from tests.io.hostile_scores import CHORD, NOTE, score, zipped

HEAD = "X:1\nT:{title}\nM:{meter}\nL:1/8\nK:C\n"


def tune(music: str, *, meter: str = "4/4", title: str = "Hill") -> Song:
    return song_from_abc(HEAD.format(meter=meter, title=title) + music, "hill.abc")


def by_music21(text: str) -> Any:
    """Return music21's part of a score, which it wants to be listed."""
    part_list = '<part-list><score-part id="P1"><part-name>x</part-name></score-part></part-list>'
    listed = text.replace("<score-partwise>", f"<score-partwise>{part_list}", 1)
    found: Any = music21.converter.parseData(listed, format="musicxml")
    return found.parts[0]


def struck(song: Song) -> list[tuple[str, Fraction]]:
    """Return chords where they change, with the quarters from the first bar, pushes undone."""
    early = {None: Fraction(0), Push.EIGHTH: Fraction(1, 2), Push.SIXTEENTH: Fraction(1, 4)}
    found: list[tuple[str, Fraction]] = []
    for bar in unroll(song):
        for span in bar.chords:
            if not found or found[-1][0] != span.symbol:
                at = bar.start_quarters + span.start_quarters - early[span.push]
                found.append((span.symbol, at))
    return found


@pytest.mark.parametrize(
    ("meter", "music", "quarters"),
    [
        ("4/4", '"C"C3"F"F"G"G4|', [0, Fraction(3, 2), 2]),
        ("4/4", '"C"C"F"F"G"G"A"A4z|', [0, Fraction(1, 2), 1, Fraction(3, 2)]),
        ("6/8", '"C"C2"F"F"G"G3|', [0, 1, Fraction(3, 2)]),
        ("6/8", '"C"C"F"F2"G"G"A"A2|', [0, Fraction(1, 2), Fraction(3, 2), 2]),
        ("C|", '"C"C2"F"F2"G"G2"A"A2|', [0, 1, 2, 3]),
        ("3/4", '"C"C/"F"F/"G"G3"A"A2|', [0, Fraction(1, 4), Fraction(1, 2), 2]),
        ("12/8", '"C"C2"F"F"G"G3"A"A6|', [0, 1, Fraction(3, 2), 3]),
    ],
)
def test_chords_between_beats_keep_their_place(
    meter: str, music: str, quarters: list[Fraction]
) -> None:
    """Places are those of ABC 2.1's lengths (4.3); a bar is counted in smaller notes for them."""
    song = tune(music + '"C"C8|', meter=meter)
    assert [at for _, at in struck(song)][: len(quarters)] == quarters


def test_a_chord_that_no_beat_can_hold_is_told_with_its_bar() -> None:
    song = tune('"C"C8|(3"C"C2"F"F2"G"G2 "A"A4|')
    assert any(n.startswith("bar 2 (line 6): ") and "F" in n for n in notice_texts(song.notices))


def test_a_triplet_after_a_blank_is_seen() -> None:
    """ABC 2.1, 4.13: three eighths in the time of two."""
    song = tune('"C"C2 (3DEF "G"G4|')
    assert struck(song) == [("C", Fraction(0)), ("G", Fraction(2))]


@pytest.mark.parametrize(
    ("text", "symbol"),
    [
        ("Dm(maj7)", "Dm(maj7)"), ("G(Em)", "G"), ("(Em)", "Em"), ("C7(b9)", "C7(b9)"),
        ("G/b", "G/B"), ("D/f+", "D/F#"), ("NC", "N.C."), ("slow", None), ("C | D", None),
        ("", None),
    ],
)  # fmt: skip
def test_chords_keep_what_stands_in_brackets(text: str, symbol: str | None) -> None:
    """ABC 2.1, 4.18: chord types, a slash note, another chord in brackets."""
    assert abc_symbol(text) == symbol


@pytest.mark.parametrize("title", ["Song # 2", "# 9", "Reel #", "A | B", "key: C"])
def test_a_title_is_kept_whole(title: str) -> None:
    assert tune('"C"C8|', title=title).title == title
    work = f"<work><work-title>{title}</work-title></work><part "
    data = score(CHORD + NOTE).replace(b"<part ", work.encode(), 1)
    assert song_from_musicxml(data).title == title


def test_a_score_without_chords_says_so() -> None:
    assert any("no chord symbols" in notice for notice in notice_texts(tune("C8|D8|").notices))
    assert any(
        "no chord symbols" in n for n in notice_texts(song_from_musicxml(score(NOTE)).notices)
    )
    assert not any("no chord symbols" in notice for notice in notice_texts(tune('"C"C8|').notices))


@pytest.mark.parametrize(
    ("steps", "key"),
    [((-1, -2), "Bb major"), ((-5, -9), "Eb major"), ((1, 2), "D major"), ((-4, -7), "F major")],
)
def test_a_transposing_part_sounds_as_music21_sounds_it(steps: tuple[int, int], key: str) -> None:
    """MusicXML 4.0, ``transpose``: chords and key are written, and sound that much away."""
    diatonic, chromatic = steps
    attributes = (
        "<attributes><key><fifths>0</fifths><mode>major</mode></key><time><beats>4</beats>"
        f"<beat-type>4</beat-type></time><transpose><diatonic>{diatonic}</diatonic>"
        f"<chromatic>{chromatic}</chromatic></transpose></attributes>"
    )
    other = CHORD.replace(">C<", ">E<").replace("major", "minor")
    data = score(attributes + CHORD + NOTE, other + NOTE)
    song = song_from_musicxml(data)
    note = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>4</duration></note>"
    sounded = data.decode().replace(NOTE, note.format("C"), 1).replace(NOTE, note.format("E"), 1)
    part = by_music21(sounded)
    judged = [n.pitch.pitchClass for n in part.toSoundingPitch().recurse().notes if n.isNote]
    found = [bar.chords[0].chord for bar in unroll(song)]
    assert [chord and chord.root.pitch_class for chord in found] == judged
    assert song.settings.key and song.settings.key.name == key


def test_a_short_measure_in_mid_song_keeps_its_length() -> None:
    """MusicXML 4.0, ``implicit`` measures; judged by music21's offsets."""
    short = NOTE.replace(">4<", ">2<")
    data = score(CHORD + NOTE, CHORD.replace(">C<", ">D<") + short, CHORD + NOTE, CHORD + NOTE)
    song = song_from_musicxml(data)
    part = by_music21(data.decode())
    offsets = [measure.offset for measure in part.getElementsByClass("Measure")]
    assert [bar.start_quarters for bar in unroll(song)] == offsets == [0, 4, 6, 10]
    assert any(n.startswith("measure 2: a bar of 2/4") for n in notice_texts(song.notices))


def test_a_measure_is_as_long_as_its_longest_voice() -> None:
    """A shorter voice after a backup shortens none (MusicXML 4.0, ``backup``); by music21."""
    voice = NOTE.replace("</note>", "<voice>{}</voice></note>")
    second = voice.format(2).replace(">4<", ">2<")
    bar = f"{CHORD}{voice.format(1)}<backup><duration>4</duration></backup>{second}"
    data = score(CHORD + NOTE, bar, CHORD + NOTE)
    part = by_music21(data.decode())
    offsets = [measure.offset for measure in part.getElementsByClass("Measure")]
    bars = unroll(song_from_musicxml(data))
    assert [bar.start_quarters for bar in bars] == offsets == [0, 4, 8]


# --- archives ---------------------------------------------------------------------------------

BROKEN = b'<?xml version="1.0"?><container><rootfiles><rootfile full-path="a.xml"></container>'
MUSIC = score(CHORD + NOTE)


@pytest.mark.parametrize(
    "members",
    [
        (("META-INF/container.xml", BROKEN), ("a.xml", MUSIC)),
        (("a.xml", MUSIC),),
        (("META-INF/container.xml", b"<container/>"), ("a.musicxml", MUSIC)),
        (
            ("META-INF/container.xml", b'<c><rootfile full-path="b.xml"/></c>'),
            ("__MACOSX/a.xml", b"x"),
            ("a.xml", MUSIC),
        ),
        (("META-INF/container.xml", b""), ("a.xml", MUSIC), ("a.jpg", b"x")),
    ],
    ids=["not well-formed", "missing", "names none", "names another", "empty"],
)
def test_the_one_score_of_an_archive_is_read_with_a_notice(
    members: tuple[tuple[str, bytes], ...],
) -> None:
    song = song_from_musicxml(zipped(*members), "a.mxl")
    assert [s for s, _ in struck(song)] == ["C"]
    assert "the one score in the archive is read" in notice_texts(song.notices)[0]


def test_two_scores_without_a_container_are_refused() -> None:
    data = zipped(("META-INF/container.xml", BROKEN), ("a.xml", MUSIC), ("b.xml", MUSIC))
    with pytest.raises(ChartError, match="not well-formed") as caught:
        song_from_musicxml(data, "a.mxl")
    assert "found 2" in caught.value.hint


def test_a_good_container_has_no_notice() -> None:
    container = b'<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("a.xml", MUSIC)
        archive.writestr("b.xml", MUSIC)
    assert notice_texts(song_from_musicxml(buffer.getvalue()).notices) == []


# --- places -----------------------------------------------------------------------------------


def test_chords_have_the_line_of_their_measure() -> None:
    text = score(CHORD + NOTE, CHORD + NOTE).decode().replace("<measure", "\n\n<measure")
    song = song_from_musicxml(text.encode(), "hill.musicxml")
    places = [bar.chords[0].place for bar in song.sections[0].bars]
    assert [(place.source, place.line) for place in places] == [
        ("hill.musicxml", 3), ("hill.musicxml", 5),
    ]  # fmt: skip
    assert all(place.text.startswith("<measure") for place in places)


def test_too_long_a_song_is_refused_at_a_place_of_its_file() -> None:
    jumps = "\n".join(['"C"C8 !D.C.!|'] * 400)
    with pytest.raises(ChartError, match="more than 20000 bars") as caught:
        tune(jumps)
    assert caught.value.place.source == "hill.abc" and caught.value.place.line == 6
    assert caught.value.place.text == '"C"C8 !D.C.!|'


# --- many tunes -------------------------------------------------------------------------------

BOOK = (
    'M:4/4\nL:1/8\n\nX:4\nT:Low Hill\nK:C\n"C"C8|\n\nX:7\nT:Green Gate\nK:D\n"D"D8|\n\n'
    'X:9\nT:Green Lane\nM:3/4\nK:G\n"G"G6|\n'
)


@pytest.mark.parametrize(
    ("wanted", "title", "told"),
    [
        ("", "Low Hill", True), ("7", "Green Gate", False), ("green lane", "Green Lane", False),
        ("Low", "Low Hill", False),
    ],
)  # fmt: skip
def test_a_tune_is_taken_by_number_or_title(wanted: str, title: str, told: bool) -> None:
    """ABC 2.1, 3.1.1: ``X:`` is a tune's number."""
    song = song_from_abc(BOOK, "book.abc", wanted)
    assert song.title == title
    assert any("the file has 3 tunes" in notice for notice in notice_texts(song.notices)) == told


@pytest.mark.parametrize(
    ("wanted", "words"), [("3", "number from 4 to 9"), ("Green", "Green Lane"), ("Hil", "Low Hill")]
)
def test_a_tune_that_is_not_there_is_told_with_what_is(wanted: str, words: str) -> None:
    with pytest.raises(ChartError) as caught:
        song_from_abc(BOOK, "book.abc", wanted)
    assert words in caught.value.hint


def test_a_book_is_named_tune_by_tune(tmp_path: Path) -> None:
    book = tmp_path / "book.abc"
    book.write_bytes(BOOK.replace("Low Hill", "Bäche").encode("latin-1"))
    names = every_tune([str(book), "other.txt"])
    assert names == [f"{book}:4", f"{book}:7", f"{book}:9", "other.txt"]
    assert [read_song(name).title for name in names[:3]] == ["Bäche", "Green Gate", "Green Lane"]
    with pytest.raises(OptionError, match="cannot read"):
        read_song(str(tmp_path / "none.abc:3"))


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("AABA", "AABA"), ("(AB)3", "ABABAB"), ("A(AB)2.C", "AABABC"), ("A3B", "AAAB"),
        ("((A2B)2C)2", "AABAABCAABAABC"), ("A B", "AB"), ("(AB", None), ("A)B", None),
        ("AZ", None), ("A-B", None), ("(A99)99", None),
    ],
)  # fmt: skip
def test_orders_of_parts_are_those_of_the_standard(text: str, order: str | None) -> None:
    """ABC 2.1, 3.1.9."""
    found = part_order(text, set("ABC"), 2000)
    assert ("".join(found) if found is not None else None) == order
