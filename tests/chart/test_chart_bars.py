"""Bars, pushes, repeats, form, numbers and moves of a chart, sentence by sentence (design, 3)."""

from fractions import Fraction

import pytest

from groove.bar_place import BandWord
from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.chart.tempo_map import song_tempo_map
from groove.chart.transpose import semitones_between, transpose_song, transposed_key
from groove.chart.write import write_chart
from groove.theory.keys import parse_key
from groove.timing import Meter
from tests.chart.reading import Share, beats, one_section, played, symbols

# Bars.


def test_bar_lines_parted_by_white_space_and_line_breaks_are_one() -> None:
    assert symbols("| D | A |\n\n  # a remark\n  | G |\n  | D") == [["D"], ["A"], ["G"], ["D"]]
    assert symbols("|D|A|") == [["D"], ["A"]]
    assert symbols("| D | A\n| G |") == [["D"], ["A"], ["G"]]
    assert symbols("|: D | A | :| G ||\n|| D |") == [["D"], ["A"], ["G"], ["D"]]


@pytest.mark.parametrize(
    ("bar", "meter", "expected"),
    [
        ("D", "4/4", [("D", 0, 4)]),
        ("D A", "4/4", [("D", 0, 2), ("A", 2, 2)]),
        ("D A G E", "4/4", [("D", 0, 1), ("A", 1, 1), ("G", 2, 1), ("E", 3, 1)]),
        ("D A G", "3/4", [("D", 0, 1), ("A", 1, 1), ("G", 2, 1)]),
        ("D A", "6/8", [("D", 0, 1), ("A", 1, 1)]),
        ("D A", "12/8", [("D", 0, 2), ("A", 2, 2)]),
        ("D A", "2/2", [("D", 0, 1), ("A", 1, 1)]),
        ("D / / A", "4/4", [("D", 0, 3), ("A", 3, 1)]),
        ("D / A /", "4/4", [("D", 0, 2), ("A", 2, 2)]),
        ("D / / /", "4/4", [("D", 0, 4)]),
        ("D / A", "3/4", [("D", 0, 2), ("A", 2, 1)]),
        ("D / / / A / /", "7/8", [("D", 0, 4), ("A", 4, 3)]),
        ("D / / A /", "5/4", [("D", 0, 3), ("A", 3, 2)]),
        ("N.C. / / A", "4/4", [("N.C.", 0, 3), ("A", 3, 1)]),
    ],
)
def test_chords_share_a_bar(bar: str, meter: str, expected: list[Share]) -> None:
    assert beats(f"| {bar} |", f"meter: {meter}") == [expected]


def test_a_slash_at_a_bars_head_holds_the_chord_before() -> None:
    held: list[Share] = [("A/C#", 0, 2), ("G", 2, 2)]
    assert beats("| D A/C# | / / G / |")[1] == held
    whole: list[Share] = [("D", 0, 4)]
    assert beats("| <D | / / / / |")[1] == whole


def test_a_percent_sign_repeats_the_bar_before_with_its_pushes_not_its_meter() -> None:
    first, second, third, fourth = one_section("| D <A | % | (3/4) % | (4/4) % |").sections[0].bars
    assert [span.push_sign for span in second.chords] == ["", "<"]
    assert [(s.symbol, s.start_quarters, s.length_quarters) for s in second.chords] == [
        (s.symbol, s.start_quarters, s.length_quarters) for s in first.chords
    ]
    assert [s.symbol for s in (*third.chords, *fourth.chords)] == ["D", "A"] * 2
    assert [int(s.length_quarters) for s in (*third.chords, *fourth.chords)] == [2, 1, 2, 2]
    assert [bar.meter for bar in (first, second, third)] == [Meter(4, 4), Meter(4, 4), Meter(3, 4)]


def test_no_chord_is_written_in_any_case() -> None:
    assert symbols("| N.C. | n.c. | NC | N.C |") == [["N.C."]] * 4


def test_a_word_in_brackets_at_a_bars_head_tells_the_band() -> None:
    bars = one_section("| (hold) D | (STOP) A | (3/4) (stop) D | G |").sections[0].bars
    assert [bar.word for bar in bars] == [BandWord.HOLD, BandWord.STOP, BandWord.STOP, None]
    assert [bar.meter.count for bar in bars] == [4, 4, 3, 3]


def test_brackets_of_a_chord_may_hold_a_space() -> None:
    assert symbols("| C7(b9, #11) A | D(add9) |") == [["C7(b9, #11)", "A"], ["D(add9)"]]


# Pushes.


def test_pushes_are_an_eighth_or_a_sixteenth() -> None:
    bars = one_section("| D | <G | <<A <D/F# |").sections[0].bars
    assert [[span.push_sign for span in bar.chords] for bar in bars] == [[""], ["<"], ["16<", "<"]]
    assert [[span.written for span in bar.chords] for bar in bars] == [["D"], ["G"], ["A", "D/F#"]]


# Repeats.


@pytest.mark.parametrize(
    ("bars", "expected"),
    [
        ("|: D | A :| G |", "D A D A G"),
        ("|: D | A :| x3 | G |", "D A D A D A G"),
        ("|: D | A :|x3 G |", "D A D A D A G"),
        ("|: D | A :| ×4", "D A D A D A D A"),
        ("| D | A :| G |", "D A D A G"),
        ("|: D :|: A :|", "D D A A"),
        ("|: D :| |: A :|", "D D A A"),
        ("|: D :|\n|: A :|", "D D A A"),
        ("||: D :||: A :||", "D D A A"),
        ("| D || A |", "D A"),
        ("| D |: A :|", "D A A"),
        ("|: G | D |1. Em :|2. A | D |", "G D Em G D A D"),
        ("|: G |1. Em | A :|2. D | E || C |", "G Em A G D E C"),
        ("|: G |1,2. Em :|3. A |", "G Em G Em G A"),
        ("|: G |1,3. Em :|2. A |", "G Em G A G Em"),
        ("|: G |1. Em :|2. A :|3. D |", "G Em G A G D"),
        ("|: G |1. Em |2. A :| D |", "G Em G A D"),
        ("|: G |1. Em :|2. A |: D :|", "G Em G A D D"),
        ("|: G |1. Em :| D |", "G Em G D"),
        ("| G |1. Em :|2. A ||", "G Em G A"),
    ],
)
def test_repeats_and_endings_are_played(bars: str, expected: str) -> None:
    assert played(bars) == expected


def test_every_played_bar_knows_its_pass_and_its_written_bar() -> None:
    song = parse_chart("a:\n| E |\nb:\n|: G |1. D :|2. A |\nform: b, a, b")
    refs = [bar.ref for bar in unroll(song)]
    assert [r.section for r in refs] == ["b"] * 4 + ["a"] + ["b"] * 4
    assert [r.occurrence for r in refs] == [1] * 4 + [1] + [2] * 4
    assert [r.pass_number for r in refs] == [1, 1, 2, 2, 1, 1, 1, 2, 2]
    assert [r.written_bar for r in refs] == [2, 3, 2, 4, 1, 2, 3, 2, 4]
    assert [r.bar_in_section for r in refs] == [1, 2, 3, 4, 1, 1, 2, 3, 4]
    assert [r.played_bar for r in refs] == list(range(1, 10))


def test_a_number_before_a_bar_line_is_a_chord_in_a_number_chart() -> None:
    # The point makes the ending.
    head = "chords: numbers\nkey: C"
    assert symbols("|1 4| 5 |", head) == [["C", "F"], ["G"]]
    assert [bar.endings for bar in one_section("|:4 |1. 5 :|2. 1 |", head).sections[0].bars] == [
        (),
        (1,),
        (2,),
    ]


# Form and pickup.


def test_the_form_names_the_order_and_left_out_sections_are_played_as_written() -> None:
    text = "a:\n| D |\nb:\n| A |\nc:\n| G |\n"
    assert [bar.ref.section for bar in unroll(parse_chart(text))] == ["a", "b", "c"]
    song = parse_chart(text + "form: c, A x2,  B×2 , a")
    assert [bar.ref.section for bar in unroll(song)] == ["c", "a", "a", "b", "b", "a"]


def test_names_that_look_like_a_number_of_times_can_be_called() -> None:
    song = parse_chart(
        "vox 2:\n| D |\nvo:\n| A |\nx:\n| G |\nform: vox 2, vo x2, x, x x2, vox 2 x2"
    )
    sections = [bar.ref.section for bar in unroll(song)]
    assert sections == ["vox 2", "vo", "vo", "x", "x", "x", "vox 2", "vox 2"]


@pytest.mark.parametrize(("meter", "quarters"), [("4/4", 1), ("6/8", Fraction(3, 2)), ("2/2", 2)])
def test_a_pickup_is_beats_of_a_bar_before_bar_one(meter: str, quarters: Fraction) -> None:
    bars = unroll(parse_chart(f"meter: {meter}\npickup: 1\na:\n| D | A |"))
    assert [bar.ref.played_bar for bar in bars] == [0, 1, 2]
    assert bars[0].is_pickup and bars[0].length_quarters == quarters
    assert [bar.start_quarters for bar in bars[:2]] == [0, quarters]
    assert bars[0].chords[0].chord is None


@pytest.mark.parametrize(
    ("meter", "pickup", "quarters", "own_meter"),
    [
        ("6/8", "1 eighth", Fraction(1, 2), "1/8"),
        ("4/4", "3 eighths", Fraction(3, 2), "3/8"),
        ("4/4", "1 sixteenth", Fraction(1, 4), "1/16"),
        ("2/2", "5 eighths", Fraction(5, 2), "5/8"),
        ("12/8", "2", Fraction(3), "6/8"),
    ],
)
def test_a_pickup_may_be_counted_in_short_notes(
    meter: str, pickup: str, quarters: Fraction, own_meter: str
) -> None:
    """Note values: an eighth is half a quarter (common practice, no source)."""
    text = f"title: a\n\npickup: {pickup}\nmeter: {meter}\n\na:\n| D |"
    bars = unroll(parse_chart(text))
    assert bars[0].is_pickup and bars[0].length_quarters == quarters
    assert str(bars[0].meter) == own_meter
    assert f"pickup: {pickup}\n" in write_chart(parse_chart(text))


# Numbers.


def test_a_section_counts_its_numbers_from_its_own_key() -> None:
    song = parse_chart("chords: numbers\nkey: D\na:\n| 1 | 5/7 |\nb:\nkey: B minor\n| 1 | 3 |")
    heard = [
        span.symbol for section in song.sections for bar in section.bars for span in bar.chords
    ]
    assert heard == ["D", "A/C#", "Bm", "D"]


# Transposition and the key asked for.


def test_a_moved_key_has_the_fewest_sharps_or_flats() -> None:
    # The circle of fifths as handbooks draw it: from twelve o'clock, both spellings at six; the
    # minor keys stand inside it, three semitones below.
    circle = ("C", "G", "D", "A", "E", "B", "F# Gb", "Db", "Ab", "Eb", "Bb", "F")
    inner = ("A", "E", "B", "F#", "C#", "G#", "D# Eb", "Bb", "F", "C", "G", "D")
    semitones = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    compared = 0
    for mode, names in (("major", circle), ("minor", inner)):
        for name in names:
            key = parse_key(f"{name.split()[0]} {mode}")
            tonic = semitones[name[0]] + name.split()[0].count("#") - name.split()[0][1:].count("b")
            for move in range(-6, 7):
                wanted = names[((tonic + move) * 7 - (9 * 7 if mode == "minor" else 0)) % 12]
                moved = transposed_key(key, move)
                assert moved and moved.tonic.name in wanted.split()
                compared += 1
    assert compared == 2 * 12 * 13


def test_a_song_is_transposed_with_its_key() -> None:
    song = transpose_song(parse_chart("key: D\nverse:\n| D | F#m7/C# | Bb° | F#b5 |"), 3)
    assert song.settings.key == parse_key("F")
    written = [span.written for bar in song.sections[0].bars for span in bar.chords]
    assert written == ["F", "Am7/E", "Db°", "A(b5)"]


def test_a_song_in_numbers_keeps_its_numbers() -> None:
    song = transpose_song(parse_chart("chords: numbers\nkey: D\nverse:\n| 1 | 5/7 |"), -2)
    assert song.settings.key == parse_key("C")
    spans = [span for bar in song.sections[0].bars for span in bar.chords]
    assert [(span.written, span.symbol) for span in spans] == [("1", "C"), ("5/7", "G/B")]


def test_a_section_in_its_own_key_takes_the_spelling_with_the_fewest_signs() -> None:
    # Circle of fifths: F sharp major has six sharps; a step above it G sharp major would have
    # eight, A flat major has four flats.
    text = "key: E\na:\n| E |\nb:\nkey: F#\n| F# | D#m |"
    song = transpose_song(parse_chart(text), 2)
    keys = (song.settings.key, song.sections[1].settings.key)
    assert [key.name for key in keys if key] == ["F# major", "Ab major"]
    assert [span.symbol for s in song.sections for b in s.bars for span in b.chords] == [
        "F#", "Ab", "Fm",
    ]  # fmt: skip


def test_a_setting_transposes_what_sounds() -> None:
    song = parse_chart("key: D\na:\n| D |\nb:\ntranspose: 2\n| D | A |")
    bars = unroll(song)
    assert [bar.chords[0].symbol for bar in bars] == ["D", "E", "B"]
    assert [bar.key and bar.key.name for bar in bars] == ["D major", "E major", "E major"]


def test_the_way_to_a_key_is_the_shorter_one() -> None:
    assert semitones_between(parse_key("D"), parse_key("C")) == -2
    assert semitones_between(parse_key("D"), parse_key("G")) == 5
    assert semitones_between(parse_key("C"), parse_key("F#")) == 6


@pytest.mark.parametrize(
    ("tempo", "first", "second"), [("120", 120, 120), ("120 to 60", 120, 120 - 60 / 9)]
)
def test_a_pickup_is_counted_in_the_tempo_of_what_it_leads_into(
    tempo: str, first: float, second: float
) -> None:
    """Common practice, no source; a ritardando runs over the nine beats from the pickup on."""
    song = parse_chart(
        f"tempo: 90\npickup: 1\nb:\ntempo: {tempo}\n| D | A |\na:\n| G |\nform: b, a"
    )
    bars = unroll(song)
    tempi = song_tempo_map(song, bars, scale=Fraction(1))
    found = [60_000_000 / tempi.microseconds_at(tick) for tick in (0, 960, 9 * 960)]
    assert found == pytest.approx([first, second, 90], rel=1e-5)


@pytest.mark.parametrize(
    "row",
    [
        "|: C | D :|| E |",
        "|: C |1. D :|| |2. E || F |",
        "|: |1. C :| |: |1. D :|",
        "|: C |1. D :| |: |1. E :| |2. F ||",
        "|: C |1,2. D :| x3 |3. F |",
    ],
)
def test_bar_lines_are_written_as_they_are_read(row: str) -> None:
    """A double bar at a repeat, and an ending right behind one of the same number, are kept."""
    song = parse_chart(f"verse:\n{row}\n")
    text = write_chart(song)
    assert parse_chart(text) == song
    assert row in text


@pytest.mark.parametrize("tempo", ["92", "92.5", "92.125"])
def test_a_tempo_is_written_with_the_decimals_that_it_has(tempo: str) -> None:
    song = parse_chart(f"tempo: {tempo}\nverse:\n| C | D |\n")
    assert f"tempo: {tempo}\n" in write_chart(song)
    assert parse_chart(write_chart(song)) == song
