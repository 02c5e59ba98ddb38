"""Charts from ABC 2.1, judged by music21 10.5.1, the standard's text, and Debian's examples."""

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21
import pytest

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.chart.pickup import Pickup
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.io.abc import song_from_abc
from groove.text.notices import notice_texts

TUNES = re.split(
    r"(?m)^(?=X:)",
    (Path(music21.__file__).parent / "corpus" / "nottingham-dataset" / "reelsa-c.abc").read_text(),
)[1:]
EXAMPLES = tuple(sorted(Path("/usr/share/doc/abcmidi/examples").glob("*.abc")))


def struck(song: Song) -> list[tuple[int, int]]:
    """Return (root, bass) of every chord where it changes, in written order."""
    spans = [s for section in song.sections for bar in section.bars for s in bar.chords]
    chords = [s.chord for i, s in enumerate(spans) if i == 0 or s.chord != spans[i - 1].chord]
    return [(c.root.pitch_class, c.bass_note.pitch_class) for c in chords if c]


def judged(tune: str) -> list[tuple[int, int]]:
    """Return the same as music21 has it; it keeps a small bass letter out of its figures."""
    score: Any = music21.converter.parseData(tune, format="abc")
    chords = list(score.recurse().getElementsByClass("ChordSymbol"))
    found = [(c.root().pitchClass, c.bass().pitchClass) for c in chords]
    return [
        pair for i, pair in enumerate(found) if i == 0 or chords[i - 1].figure != chords[i].figure
    ]


def test_the_corpus_has_two_tunes_with_46_chords() -> None:
    """music21's ``nottingham-dataset``: two tunes, 46 symbols."""
    assert len(TUNES) == 2
    assert sum(len(re.findall(r'"[A-G][^"]*"', tune)) for tune in TUNES) == 46


@pytest.mark.parametrize("tune", TUNES, ids=["reel", "dance"])
def test_tunes_have_the_chords_that_music21_reads(tune: str) -> None:
    found, wanted = struck(song_from_abc(tune)), judged(tune)
    assert [root for root, _ in found] == [root for root, _ in wanted]
    assert len(wanted) >= 18


def test_slash_chords_with_small_letters_keep_their_bass() -> None:
    """The second tune has Am/c, Am/e, G7/b, Am/g and D/f+ (by eye; ``+`` is a sharp there)."""
    found = struck(song_from_abc(TUNES[1]))
    slashes = {(root, bass) for root, bass in found if root != bass}
    assert slashes == {(9, 0), (9, 4), (7, 11), (9, 7), (2, 6)}


def test_debians_examples_are_there() -> None:
    """The files of Debian's package abcmidi, which ``.ci/run`` installs with them."""
    assert len(EXAMPLES) >= 10


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_debians_examples_are_read(path: Path) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")
    assert unroll(song_from_abc(text, path.name))


HEAD = "X:1\nT:Hill\nM:{meter}\nL:{unit}\nK:{key}\n"


def tune(music: str, *, meter: str = "4/4", unit: str = "1/4", key: str = "D") -> Song:
    return song_from_abc(HEAD.format(meter=meter, unit=unit, key=key) + music)


def starts(song: Song) -> list[list[tuple[str, Fraction]]]:
    return [
        [(s.written, s.start_quarters) for s in bar.chords]
        for section in song.sections
        for bar in section.bars
    ]


@pytest.mark.parametrize(
    ("music", "wanted"),
    [
        ('"D"A2"G"B2|', [("D", 0), ("G", 2)]),
        ('"D"A/B/c "A7"d>e f/|', [("D", 0), ("A7", 2)]),
        ('"D"A/B/c/d/ "A7"e>f|', [("D", 0), ("A7", 2)]),
        ('"D"(3ABc "G"d2|', [("D", 0), ("G", 2)]),
        ('"D"[FA]2 "G"z2|', [("D", 0), ("G", 2)]),
        ('"D"{c}A2 !trill!"G"B2|', [("D", 0), ("G", 2)]),
        ('"D"A//B// c/ d "G"e2|', [("D", 0), ("G", 2)]),
        ('"D"A<B "G"cd|', [("D", 0), ("G", 2)]),
    ],
)
def test_lengths_are_those_of_the_standard(music: str, wanted: list[tuple[str, int]]) -> None:
    """ABC 2.1, 4.3 note lengths, 4.4 broken rhythm, 4.13 tuplets, 4.17 chords, 4.12 graces."""
    assert starts(tune(music)) == [[(symbol, Fraction(at)) for symbol, at in wanted]]


def test_repeats_and_endings_are_played_in_order() -> None:
    """ABC 2.1, 4.8 and 4.9: `|:`, `:|`, `|1`, `:|2`, `::`."""
    song = tune('|:"D"A4|"G"B4|1"A"c4:|2"D"d4||"Em"e4::"Bm"f4:|')
    assert [bar.chords[0].written for bar in unroll(song)] == [
        "D", "G", "A", "D", "G", "D", "Em", "Em", "Bm", "Bm",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("field", "name"),
    [
        ("A", "A major"),
        ("Amaj", "A major"),
        ("Am", "A minor"),
        ("A min", "A minor"),
        ("AIonian", "A ionian"),
        ("A dorian", "A dorian"),
        ("APhr", "A phrygian"),
        ("A LYD", "A lydian"),
        ("AMix", "A mixolydian"),
        ("A aeo", "A aeolian"),
        ("ALoc", "A locrian"),
    ],
)
def test_every_mode_of_a_tune_is_read(field: str, name: str) -> None:
    """ABC 2.1, 3.1.14: three letters count, in any case."""
    song = song_from_abc(f'X:1\nL:1/8\nK:{field}\n"A"A8|\n')
    assert song.settings.key and song.settings.key.name == name


def test_fields_are_read() -> None:
    """ABC 2.1, 3.1: M:C|, K: with a mode, Q:, P: in the body, and fields inside a line."""
    song = song_from_abc(
        'X:1\nT:Hill\nM:C|\nL:1/8\nQ:1/4=120\nK:E dor\nP:A\n"Em"e8|\nP:B\n[M:3/4]"A"c6|\n'
    )
    assert [section.name for section in song.sections] == ["A", "B"]
    assert str(song.meter) == "2/2"
    assert song.settings.key and song.settings.key.name == "E dorian"
    assert song.tempo.bpm == 60
    assert str(song.sections[1].bars[0].meter) == "3/4"


@pytest.mark.parametrize(
    ("text", "line"),
    [("", 1), ("X:1\nK:C\n", 1), ("\n\nX:1\nK:C\n% nothing\n", 3)],
)
def test_what_cannot_be_read_has_a_place(text: str, line: int) -> None:
    with pytest.raises(ChartError) as caught:
        song_from_abc(text, "hill.abc")
    assert caught.value.place.line == line


@pytest.mark.parametrize(
    ("text", "notice"),
    [
        ('X:1\nM:5/99\nK:C\n"C"A8|\n', "line 2: the meter '5/99' is left out"),
        ('X:1\nK:C\n"C"A4§A4|\n', "line 3: '§' is no ABC music and is passed over"),
        ('X:1\nQ:1/4=9000\nK:C\n"C"A8|\n', "line 2: a tempo of 9000 quarters a minute is left"),
        ('X:1\nQ:fast\nK:C\n"C"A8|\n', "line 2: the tempo 'fast' is left out"),
        ('X:1\nK:C\n"C"A8|Z99999999|\n', "bar 2 (line 3): bars of rest '99999999' cannot be"),
        ("X:1\nT:" + "n" * 300 + '\nK:C\n"C"A8|\n', "the title is cut to 200 letters"),
    ],
    ids=["meter", "letter", "tempo", "words", "rest", "title"],
)
def test_one_odd_thing_is_told_and_the_rest_is_read(text: str, notice: str) -> None:
    """A notice with its place, no refusal of the whole: common practice, no source."""
    song = song_from_abc(text, "hill.abc")
    assert [found for found in notice_texts(song.notices) if found.startswith(notice)] != []
    assert roots(song)[0] == "C"


def roots(song: Song) -> list[str]:
    return [span.symbol for bar in unroll(song) for span in bar.chords]


@pytest.mark.parametrize(
    ("music", "order"),
    [
        ('|:"D"A4|"G"B4|1,2"A"c4:|3"E"d4||"B"e4|]', "DGADGADGEB"),
        ('|:"D"A4|"G"B4|1-2"A"c4:|3"E"d4||"B"e4|]', "DGADGADGEB"),
        ('|:"D"A4|"G"B4|[1"A"c4:|[2"E"d4|]', "DGADGE"),
        ('"D"A4|"G"B4:|"E"d4|]', "DGDGE"),
        ('"D"A4|:"G"B4:|"E"d4|]', "DGGE"),
    ],
)
def test_endings_are_played_in_order(music: str, order: str) -> None:
    """ABC 2.1, 4.9 and 4.10: lists and ranges of endings; 4.8: `:|` returns to the start."""
    assert "".join(roots(tune(music))) == order


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("Bb", "Bb major"), ("F#m", "F# minor"), ("A mix", "A mixolydian"), ("Cmin", "C minor"),
        ("G Lydian", "G lydian"), ("Bphr", "B phrygian"), ("D Major", "D major"),
        ("Eb", "Eb major"),
    ],
)  # fmt: skip
def test_keys_are_those_of_the_standard(key: str, name: str) -> None:
    """ABC 2.1, 3.1.14: signs, and modes by their first three letters, whatever the case."""
    song = tune('"D"A4|', key=key)
    judged: Any = music21.converter.parseData(f"X:1\nL:1/4\nK:{key}\nA4|\n", format="abc")
    (signature,) = judged.recurse().getElementsByClass("KeySignature")[:1]
    assert song.settings.key and song.settings.key.name == name
    assert song.settings.key.signature_fifths == signature.sharps


@pytest.mark.parametrize(
    ("meter", "music"),
    [
        ("2/4", '"D"A4"G"B4|'),
        ("3/4", '"D"A2"G"B4|'),
        ("4/4", '"D"A4"G"B4|'),
        ("6/8", '"D"A3"G"B3|'),
    ],
)
def test_the_unit_length_follows_the_meter(meter: str, music: str) -> None:
    """ABC 2.1, 3.1.7: under 0.75 a sixteenth, else an eighth; each bar here is then full."""
    song = song_from_abc(f"X:1\nM:{meter}\nK:C\n{music}{music}\n")
    (first, second) = song.sections[0].bars
    halves = {"2/4": 1, "3/4": 1, "4/4": 2, "6/8": Fraction(3, 2)}
    assert [span.start_quarters for span in first.chords] == [0, halves[meter]]
    assert [span.start_quarters for span in second.chords] == [0, halves[meter]]


@pytest.mark.parametrize(
    ("music", "unit", "place"),
    [
        ('"D"(3:2:2A2B2 c/3 "G"d4/3|', "1/4", 3),
        ('"D"(5:4:5ABcde "G"f4|', "1/8", 2),
    ],
    ids=["count", "normal"],
)
def test_long_tuplets_state_their_time(music: str, unit: str, place: int) -> None:
    """ABC 2.1, 4.13: `(p:q:r`, p notes in the time of q for the next r notes."""
    chords = tune(music, unit=unit).sections[0].bars[0].chords
    assert [s.symbol for s in chords] == ["D", "G"]
    assert chords[1].start_quarters == place


def test_a_pickup_and_an_upbeat_after_a_repeat() -> None:
    """ABC 2.1, 4.8: a repeat in mid-bar; the beat before it and the one after make a bar."""
    song = tune('A|:"D"A4|"G"B3:|B|"A"c4|"E"d3|]')
    assert song.pickup == Pickup(1)
    assert roots(song) == ["N.C.", "D", "G", "D", "G", "A", "E"]
    assert [str(bar.meter) for section in song.sections for bar in section.bars] == ["4/4"] * 4


def opening(song: Song) -> list[tuple[Fraction, str]]:
    """Return the chords of a pickup and where in it they begin, in quarters."""
    spans = song.pickup_bar.chords if song.pickup_bar else ()
    return [(span.start_quarters, span.symbol) for span in spans]


@pytest.mark.parametrize(
    ("music", "chords"),
    [
        ('"D7"D2|"G"G8|', [(0, "D7")]),
        ('G2"D7"D2|"G"G8|', [(0, "N.C."), (1, "D7")]),
        ('"D7"D"A"A"B"B|"G"G8|', [(0, "D7"), (Fraction(1, 2), "A"), (1, "B")]),
        ("D2|G8|", []),
    ],
)
def test_chords_of_a_pickup_stand_in_it(music: str, chords: list[tuple[Fraction, str]]) -> None:
    """Where the notes stand over which they are written (ABC 2.1, 4.18), in eighths."""
    song = tune(music, unit="1/8")
    assert opening(song) == chords
    assert opening(parse_chart(write_chart(song))) == chords
    # Its short meter is the pickup's own: it is no bar that is shorter than the others.
    told = notice_texts(song.notices)
    assert not any("pickup" in notice or "a bar of" in notice for notice in told)


def test_chords_between_the_beats_of_a_pickup_are_told() -> None:
    song = tune('"G"G"A"A|"C"C8|', unit="1/8")
    assert song.pickup == Pickup(1) and opening(song) == []
    assert [notice for notice in notice_texts(song.notices) if "pickup are left out" in notice]


def test_what_is_no_chord_and_no_music_is_left_out() -> None:
    """ABC 2.1, 4.19 annotations, 4.2 overlays, 2.2.3 comments, 7 voices, 2.2 the second tune."""
    song = song_from_abc(
        "X:1\nT:Hill\nM:4/4\nL:1/4\nK:D\nV:1\n"
        '"N.C."z4|"^E"A2"_A""D"B2 & "B"c4|% "E"\n'
        'V:2\n"A"A4|"A"A4|\n'
        'V:1\nZ2|[M:3/4]"G"A3|\nX:2\nK:C\n"C"c4|\n'
    )
    bars = song.sections[0].bars
    assert [[s.symbol for s in bar.chords] for bar in bars] == [
        ["N.C."], ["N.C.", "D"], ["D"], ["D"], ["G"],
    ]  # fmt: skip
    (notice,) = notice_texts(song.notices)
    assert notice.startswith("the file has 2 tunes, the first one is read")
    assert [str(bar.meter) for bar in bars] == ["4/4"] * 4 + ["3/4"]


@pytest.mark.parametrize(
    ("field", "quarters"), [("1/4=96", 96), ("3/8=60", 90), ("1/2=50", 100), ("1/8=160", 80)]
)
def test_tempi_count_their_unit(field: str, quarters: int) -> None:
    """ABC 2.1, 3.1.8."""
    song = song_from_abc(f'X:1\nM:4/4\nL:1/4\nQ:{field}\nK:C\n"C"c4|\n')
    assert song.tempo.bpm == quarters


def test_sums_of_meters_are_added() -> None:
    """ABC 2.1, 3.1.6: ``M:(2+3+2)/8``."""
    song = song_from_abc('X:1\nM:(2+3+2)/8\nL:1/8\nK:C\n"C"c7|"G"d7|\n')
    assert [str(bar.meter) for bar in song.sections[0].bars] == ["7/8", "7/8"]


@pytest.mark.parametrize(
    ("meter", "music", "at"),
    [
        ("4/4", '"D"A2>"G"B2|', 3),
        ("4/4", '"D"A2<"G"B2|', 1),
        ("8/4", '"D"A4>>"G"B4|', 7),
        ("8/4", '"D"A4<<"G"B4|', 1),
    ],
)
def test_broken_rhythm_lengthens_the_note_that_it_points_from(
    meter: str, music: str, at: int
) -> None:
    """ABC 2.1, 4.4: `>` is first note dotted, second halved; `>>` double dotted; `<` reversed."""
    assert starts(tune(music, meter=meter)) == [[("D", Fraction(0)), ("G", Fraction(at))]]
    text = HEAD.format(meter=meter, unit="1/4", key="D") + music
    judged: Any = music21.converter.parseData(text, format="abc")
    second = list(judged.recurse().getElementsByClass("Note"))[1]
    assert second.offset == at


def test_a_tempo_before_a_pickup_is_the_songs() -> None:
    """ABC 2.1, 3.1.8: Q: counts from the tune's first note, here an upbeat."""
    song = song_from_abc('X:1\nM:4/4\nL:1/4\nQ:1/4=96\nK:D\nA|"D"A4|"G"B4|\n')
    assert song.pickup == Pickup(1)
    assert song.tempo.bpm == 96
