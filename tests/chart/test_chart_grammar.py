"""The grammar of charts, sentence by sentence (design, section 3)."""

from fractions import Fraction

import pytest

from groove.bar_place import BandWord
from groove.chart.form import PlayedBar, unroll
from groove.chart.model import Dynamics, Fills, FormEntry, Loudness, Notation, Tempo
from groove.chart.parse import parse_chart
from groove.chart.pickup import Pickup
from groove.chart.tempo_map import song_tempo_map
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.text.notices import notice_texts
from groove.theory.keys import parse_key
from groove.timing import Meter, Swing, SwingUnit, microseconds_to_qpm
from tests.chart.reading import one_section, symbols

SAMPLE = """
title: Lantern Row
tempo: 84
meter: 4/4
key: D major            # optional
feel: sixteenths
fills: few

intro:
  bass: long notes
  | D  | A/C# | Bm7 | G |

verse:
  | D  | %  | Em7 / A7 / | D |
  |: G | D/F# |1. Em7 | A7 :|2. Em7 A7 | (stop) D |

form: intro, verse x2, intro
"""


def test_the_sample_of_the_design_is_read() -> None:
    song = parse_chart(SAMPLE)
    assert (song.title, song.meter, song.tempo) == ("Lantern Row", Meter(4, 4), Tempo(Fraction(84)))
    assert song.settings.key == parse_key("D")
    assert song.settings.feel and song.settings.feel.name == "sixteenths"
    assert song.settings.fills is Fills.FEW
    intro, verse = song.sections
    assert intro.settings.bass and intro.settings.bass.name == "long notes"
    assert [bar.number for bar in (*intro.bars, *verse.bars)] == list(range(1, 15))
    assert song.form == (
        FormEntry(section="intro"),
        FormEntry(section="verse", times=2),
        FormEntry(section="intro"),
    )
    once = "D D Em7 A7 D G D/F# Em7 A7 G D/F# Em7 A7 D"
    heard = " ".join(span.symbol for bar in unroll(song) for span in bar.chords)
    assert heard == " ".join(["D A/C# Bm7 G", once, once, "D A/C# Bm7 G"])
    assert verse.bars[-1].word is BandWord.STOP


# Settings.


def test_every_setting_is_read_for_the_song_and_for_a_section() -> None:
    lines = """
tempo: 84 to 60.5
meter: 6/8
key: F# minor
feel: ballad
bass: long notes
drums: out
keys: out
fills: many
swing: 58% eighths
loudness: ff
transpose: -2
tuning: drop D
seed: 7
"""
    # One instrument plays the whole song, so a tuning in a section is refused.
    in_section = lines.replace("tuning: drop D\n", "")
    with pytest.raises(ChartError, match="tuning stands in a section"):
        parse_chart("verse:\n" + lines + "| D |")
    # A tempo moves in a section: at the head it would in every one.
    of_the_song = lines.replace(" to 60.5", "")
    for text in (of_the_song + "verse:\n| D |", "tuning: drop D\nverse:\n" + in_section + "| D |"):
        song = parse_chart(text)
        own = song.settings if text.startswith("\ntempo") else song.sections[0].settings
        assert own.tempo == Tempo(Fraction(84), None if own is song.settings else Fraction(121, 2))
        assert own.meter == Meter(6, 8)
        assert own.key == parse_key("F# minor")
        assert own.feel and own.bass and own.drums and own.keys and song.settings.tuning
        strung = song.settings.tuning.name
        names = [own.feel.name, own.bass.name, own.drums.name, own.keys.name, strung]
        assert names == ["ballad", "long notes", "out", "out", "drop D"]
        assert own.fills is Fills.MANY
        assert own.swing == Swing(58.0, SwingUnit.EIGHTHS)
        assert (own.dynamics, own.transpose, own.seed) == (Dynamics(Loudness.FF), -2, 7)


def test_settings_of_the_song_stand_anywhere() -> None:
    song = parse_chart(
        "verse:\nkey: D\n| 1 |\ntitle: Late\nform: verse x3\nchords: numbers\npickup: 1"
    )
    assert (song.title, song.notation, song.pickup) == ("Late", Notation.NUMBERS, Pickup(1))
    assert song.form == (FormEntry(section="verse", times=3),)
    assert song.sections[0].settings.key == parse_key("D")


def test_a_setting_before_the_sections_is_the_songs_and_after_one_its_own() -> None:
    song = parse_chart("feel: ballad\na:\n| D |\nb:\nfeel: waltz\n| D |")
    assert song.settings.feel and song.settings.feel.name == "ballad"
    assert song.sections[0].settings.feel is None
    own = song.sections[1].settings.feel
    assert own is not None
    assert (own.name, own.place.line, own.place.column) == ("waltz", 5, 7)


def test_case_indentation_and_blank_lines_mean_nothing() -> None:
    head = "TITLE: x\n\n   Tempo:90\n\tKey : d MAJOR\n\n"
    song = parse_chart(head + "VERSE:\n\n | D |\n  |A|\n\nForm: Verse X2, vErSe")
    assert song.tempo == Tempo(Fraction(90))
    assert song.settings.key == parse_key("D")
    assert song.form == (FormEntry(section="VERSE", times=2), FormEntry(section="VERSE"))


def test_any_line_end_and_a_mark_at_the_texts_start_will_do() -> None:
    for end in ("\n", "\r\n", "\r"):
        text = "\ufeff" + end.join(["title: One", "verse:", "| D | A |"])
        assert len(parse_chart(text).sections[0].bars) == 2
        assert parse_chart(text).title == "One"


# Comments.


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("| D | A |  # the hook", [["D"], ["A"]]),
        ("| D | F#m7 | # G |", [["D"], ["F#m7"]]),
        ("| D | A | #", [["D"], ["A"]]),
        ("| F# | C#/E# |", [["F#"], ["C#/E#"]]),
    ],
)
def test_a_comment_is_a_sharp_with_space_round_it(line: str, expected: list[list[str]]) -> None:
    assert symbols(line) == expected


def test_a_sharp_before_a_number_is_a_chord() -> None:
    assert symbols("| 1 | #4° |", "chords: numbers\nkey: C") == [["C"], ["F#°"]]


def test_a_comment_may_begin_at_the_colon() -> None:
    song = parse_chart("verse:# the first\n| D |\n")
    assert [section.name for section in song.sections] == ["verse"]
    assert parse_chart(write_chart(song)) == song


def test_a_whole_line_may_be_a_comment() -> None:
    assert parse_chart("# a remark\n#\n   # more: | x |\nverse:\n| D |").title == "Untitled"


@pytest.mark.parametrize("title", ["Take # 2", "# 9", "Reel #", "a : # b", "#"])
def test_a_title_has_no_comment(title: str) -> None:
    """Titles of scores hold the sign, and a chart has no other way to write it."""
    song = parse_chart(f"Title:  {title}\nkey: D # a remark\nverse:\n| D |\n")
    assert song.title == title
    assert parse_chart(write_chart(song)) == song


# Keys.


def test_a_key_with_too_many_accidentals_is_respelled_and_said() -> None:
    song = parse_chart("key: G# major\nverse:\nkey: Fb\n| Ab |")
    assert song.settings.key == parse_key("Ab")
    assert song.sections[0].settings.key == parse_key("E")
    assert notice_texts(song.notices) == [
        "the song: G# major is read as Ab major",
        "section verse: Fb major is read as E major",
    ]
    assert notice_texts(parse_chart("key: C# major\nverse:\n| C# |").notices) == []


# Meter and tempo.


@pytest.mark.parametrize(
    ("meter", "bpm", "qpm", "beats_a_bar"),
    [
        # The unit of x/4 is the quarter, of x/2 the half, of 6/8 9/8 12/8 the dotted quarter;
        # 3/8, 5/8 and 7/8 count quarters for the tempo and eighths for a slash.
        ("4/4", 84, 84, 4),
        ("3/4", 84, 84, 3),
        ("5/4", 84, 84, 5),
        ("2/2", 60, 120, 2),
        ("3/2", 60, 120, 3),
        ("6/8", 60, 90, 2),
        ("9/8", 60, 90, 3),
        ("12/8", 60, 90, 4),
        ("3/8", 120, 120, 3),
        ("5/8", 120, 120, 5),
        ("7/8", 120, 120, 7),
    ],
)
def test_the_beat_of_a_meter(meter: str, bpm: int, qpm: int, beats_a_bar: int) -> None:
    head = f"meter: {meter}\ntempo: {bpm}"
    bar = "| D " + "/ " * (beats_a_bar - 1) + "|"
    song = one_section(bar, head)
    tempo_map = song_tempo_map(song, unroll(song), scale=Fraction(1))
    assert microseconds_to_qpm(tempo_map.microseconds_at(0)) == pytest.approx(qpm, abs=0.001)
    assert len(song.sections[0].bars) == 1


def tempi(text: str) -> list[tuple[int, float]]:
    """Return (tick, quarters a minute) of every change of a song's tempo."""
    song = parse_chart(text)
    changes = song_tempo_map(song, unroll(song), scale=Fraction(1)).changes
    return [(c.tick, round(microseconds_to_qpm(c.microseconds), 2)) for c in changes]


def test_without_a_tempo_the_quarter_stays_at_a_change_of_meter() -> None:
    assert tempi("tempo: 90\na:\n| D |\nb:\nmeter: 6/8\n| D |") == [(0, 90.0)]
    assert tempi("tempo: 60\nmeter: 6/8\na:\n| D |\nb:\nmeter: 4/4\n| D |") == [(0, 90.0)]
    assert tempi("tempo: 90\na:\n| D | (6/8) D |") == [(0, 90.0)]


def test_a_tempo_of_a_section_counts_its_own_beat() -> None:
    text = "tempo: 90\na:\n| D |\nb:\nmeter: 6/8\ntempo: 50\n| D |\nform: a, b, a"
    assert tempi(text) == [(0, 90.0), (3840, 75.0), (3840 + 2880, 90.0)]


def test_a_moving_tempo_is_linear_with_an_event_a_beat() -> None:
    # 8 beats from 80 to 40: a beat at 80 - 5 n, reaching 40 where the occurrence ends.
    assert tempi("a:\ntempo: 80 to 40\n| D | D |") == [(960 * n, 80.0 - 5 * n) for n in range(8)]
    twice = tempi("a:\ntempo: 80 to 40\n| D | D |\nform: a x2")
    assert [qpm for _, qpm in twice] == [80.0 - 5 * n for n in range(8)] * 2
    # In 6/8 the beat is the dotted quarter; over a repeat the whole occurrence counts.
    six = tempi("a:\nmeter: 6/8\ntempo: 80 to 40\n|: D :|")
    assert six == [(1440 * n, 1.5 * (80 - 10 * n)) for n in range(4)]


def meters(bars: list[PlayedBar] | tuple[PlayedBar, ...]) -> str:
    return " ".join(str(bar.meter) for bar in bars)


def test_a_meter_in_a_bar_holds_to_the_next_one_or_the_sections_end() -> None:
    song = parse_chart("a:\n| D | (3/4) G | A | (2/4) D |\nb:\n| D |\nform: a, b, a")
    once = "4/4 3/4 3/4 2/4"
    assert meters(unroll(song)) == f"{once} 4/4 {once}"


def test_every_entry_and_pass_of_a_section_starts_from_its_own_settings() -> None:
    song = parse_chart("a:\nmeter: 3/4\n|: D | (2/4) G :|\nform: a x2")
    assert meters(unroll(song)) == "3/4 2/4 3/4 2/4 3/4 2/4 3/4 2/4"


# Writing.


def test_a_chart_is_written_as_a_player_would() -> None:
    assert write_chart(parse_chart(SAMPLE)) == (
        "title: Lantern Row\n"
        "tempo: 84\n"
        "meter: 4/4\n"
        "key: D major\n"
        "feel: sixteenths\n"
        "fills: few\n"
        "\n"
        "intro:\n"
        "  bass: long notes\n"
        "  | D | A/C# | Bm7 | G |\n"
        "\n"
        "verse:\n"
        "  | D | % | Em7 A7 | D |\n"
        "  |: G | D/F# |1. Em7 | A7 :|\n"
        "  |2. Em7 A7 | (stop) D |\n"
        "\n"
        "form: intro, verse x2, intro\n"
    )
