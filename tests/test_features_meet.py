"""Where two features of a chart meet: short pickups and pushes, endings and ``/``, names and roles.

What is expected follows from the grammar of a chart, worked out by hand beside each case.
"""

import pytest

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.cut import choose_bars, with_click
from groove.errors import CellError, OptionError
from groove.events import Part
from groove.harmony.analysis import analyse
from groove.io.library import ShippedPatterns, patterns_root
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions
from groove.sheet.build import build_score
from groove.text.chart import chart_text
from groove.text.notices import notice_texts
from groove.text.tab import tab_text
from groove.theory.keys import parse_key
from tests.arrange.songs import bass, play


def test_a_pushed_chord_may_take_all_of_a_short_pickup() -> None:
    song = play("feel: straight eighths\nkey: D\npickup: 1 eighth\nverse:\n| <D | A |\n")
    assert [[(onset.tick, onset.symbol) for onset in bar.chords] for bar in song.bars] == [
        [(0, "N.C.")],
        [(0, "D")],
        [(0, "A")],
    ]
    assert bass(song)[0].grid_tick == 0 and bass(song)[0].pitch % 12 == 2


def test_a_chord_that_a_push_displaces_stays_on_the_page_and_is_told() -> None:
    # In 7/8 a / is an eighth, and < is an eighth early: nothing of the A is left.
    song = play("feel: seven-eight\nkey: D\nmeter: 7/8\nverse:\n| D / A <G / / / |\n")
    assert [onset.symbol for onset in song.bars[0].chords] == ["D", "A", "G"]
    assert any("bar 1: A is not heard" in notice for notice in notice_texts(song.notices))


def test_a_slash_in_a_later_ending_holds_what_is_played_before_it() -> None:
    bars = unroll(parse_chart("verse:\n|: D | A |1. G :|2. / / E / | % ||\n"))
    played = [[chord.symbol for chord in bar.chords] for bar in bars]
    assert played == [["D"], ["A"], ["G"], ["D"], ["A"], ["A", "E"], ["A", "E"]]
    again = unroll(parse_chart("verse:\n|: D | A |1. G :|2. % | E ||\n"))
    assert [bar.chords[0].symbol for bar in again] == ["D", "A", "G", "D", "A", "A", "E"]


def test_the_songs_tempo_is_that_of_its_first_section_where_it_gives_none() -> None:
    text = "feel: straight eighths\nkey: D\nverse:\ntempo: 60\n| D | A |\n"
    assert parse_chart(text).tempo.bpm == 60
    # Two bars of 4/4 at 60 last eight seconds, at 120 four.
    assert play(text).length_sec == pytest.approx(8, abs=1e-6)
    twice = PerformOptions(tempo_bpm=parse_chart("tempo: 120\na:\n| D |").tempo.bpm)
    assert play(text, twice).length_sec == pytest.approx(4, abs=1e-6)


def test_a_chart_that_is_transposed_has_the_key_it_sounds_in() -> None:
    # Written in D, played a tone up: E, so that "--key E" moves nothing.
    text = "title: T\nkey: D\ntranspose: 2\nverse:\n| D | A | G | D |\n"
    known = analyse(parse_chart(text))
    assert known.key_given and known.key_given.name == "E major" and known.contradiction is None
    in_e = PerformOptions(key=parse_key("E"))
    assert [note.pitch for note in bass(play(text, in_e))] == [n.pitch for n in bass(play(text))]
    assert "D major (sounding E major)" in chart_text(parse_chart(text), known.bars, 1.0)


def test_a_section_may_be_called_count_in() -> None:
    song = play("key: D\nfeel: soul\nthe count-in:\n| D | D |\nverse:\n| G |\n")
    clicks = [note for note in with_click(song).notes if note.part is Part.CLICK]
    assert len(clicks) == 3 * 4


def test_a_walking_drop_wants_a_note_to_shorten() -> None:
    # % fits a bar of 3/8 to 5/4: some chords last less than a third of a beat.
    for seed in range(40):
        text = f"feel: walking\nseed: {seed}\nkey: D\nverse:\n| (3/8) D A <<G | (5/4) % |\n| D |\n"
        assert min(note.written_ticks for note in bass(play(text))) > 0


def test_bars_that_the_form_leaves_out_are_not_offered() -> None:
    song = play("key: D\nverse:\n| D | A |\nchorus:\n| G |\nform: chorus\n")
    with pytest.raises(OptionError) as refused:
        choose_bars(song, (), range(1, 3))
    assert "from 3 to 3" in refused.value.hint


def test_no_name_is_too_long_for_the_library() -> None:
    feels = ShippedPatterns("feels", patterns_root())
    for name in ("語" * 120, "a" * 5000, "..", "/", "\0"):
        assert name not in feels
    one = feels["octaves"]
    assert list(feels) and feels["octaves"] is one
    with pytest.raises((KeyError, CellError)):
        feels["語" * 120]


@pytest.mark.parametrize(("meter", "ticks"), [("1/8", 480), ("1/16", 240), ("1/4", 960)])
def test_the_shortest_bars_are_on_every_page(meter: str, ticks: int) -> None:
    text = f"key: D\nfeel: straight eighths\nverse:\n| D | ({meter}) A | (4/4) D |\n"
    placed, _ = finger_performance(play(text), tuning=STANDARD)
    assert placed.bars[1].length_ticks == ticks
    assert "bar 1" in tab_text(placed)
    for part in (Part.BASS, Part.DRUMS):
        score = build_score(placed, parse_chart(text), tuning=STANDARD, part=part)
        assert len(score.measures) == 3
        short = [value for voice in score.measures[1].voices for value in voice.events]
        assert short
