"""The example charts: between them they use the whole grammar, and each makes a song."""

from fractions import Fraction
from itertools import pairwise

import pytest

from groove.bar_place import BandWord
from groove.chart.form import unroll
from groove.chart.model import Notation, Song
from groove.chart.parse import parse_chart
from groove.chart.pickup import Pickup
from groove.chart.tempo_map import song_tempo_map
from tests.cells.cell_lines import FEELS
from tests.strategies_chart import example_charts

SONGS = {song.title: song for song in map(parse_chart, example_charts())}


def named_feels(song: Song) -> set[str]:
    settings = [song.settings, *(section.settings for section in song.sections)]
    return {own.feel.name for own in settings if own.feel}


def test_there_are_songs_in_four_six_twelve_and_three() -> None:
    assert len(SONGS) == len(example_charts()) >= 7
    assert {str(song.meter) for song in SONGS.values()} == {"4/4", "6/8", "12/8", "3/4"}
    assert all(song.form and song.settings.tempo and song.settings.key for song in SONGS.values())


def test_every_feel_is_a_shipped_one() -> None:
    used = set().union(*map(named_feels, SONGS.values()))
    assert used <= set(FEELS)
    assert len(used) >= 8


def test_lantern_row_is_the_demo() -> None:
    song = SONGS["Lantern Row"]
    assert 100 <= len(unroll(song)) <= 120
    assert song.settings.feel and song.settings.feel.name == "sixteenths"
    names = {section.name for section in song.sections}
    assert {"intro", "verse", "chorus", "bridge", "ending"} <= names
    intro = song.section("intro").settings
    assert intro.bass and intro.bass.name == "long notes"


def test_a_song_changes_its_meter_and_its_tempo_on_the_way() -> None:
    song = SONGS["Two Clocks"]
    bars = unroll(song)
    assert {str(bar.meter) for bar in bars} >= {"4/4", "2/4", "3/4", "7/8"}
    assert len(song_tempo_map(song, bars, scale=Fraction(1)).changes) > 3
    assert any(section.settings.tempo for section in song.sections)


def test_a_song_has_everything_that_can_stand_in_a_bar() -> None:
    song = SONGS["Button Drawer"]
    bars = [bar for section in song.sections for bar in section.bars]
    spans = [span for bar in bars for span in bar.chords]
    assert song.pickup == Pickup(1)
    assert any(bar.opens_repeat for bar in bars) and any(bar.closes_repeat for bar in bars)
    assert {bar.endings for bar in bars} == {(), (1,), (2,)}
    assert {span.push_sign for span in spans} == {"", "<", "16<"}
    assert any(span.chord is None for span in spans)
    assert any(span.chord and span.chord.bass for span in spans)
    assert {bar.word for bar in bars} == {None, BandWord.HOLD, BandWord.STOP}


def test_a_song_is_in_numbers_and_one_in_numerals() -> None:
    written = {
        title: "".join(s.written for x in song.sections for bar in x.bars for s in bar.chords)
        for title, song in SONGS.items()
        if song.notation is Notation.NUMBERS
    }
    assert len(written) == 2
    assert sum("V" in text for text in written.values()) == 1
    assert any("/" in text and "-" in text and "V" not in text for text in written.values())


@pytest.mark.parametrize("title", SONGS)
def test_no_song_is_a_chain_of_rising_fifths_and_falling_tones(title: str) -> None:
    chords = [span.chord for bar in unroll(SONGS[title]) for span in bar.chords]
    roots = [chord.root.pitch_class for chord in chords if chord]
    moves = [(after - before) % 12 for before, after in pairwise(roots)]
    moves = [move for move in moves if move]
    assert len(moves) >= 20
    assert (7, 10, 7, 10) not in {tuple(moves[n : n + 4]) for n in range(len(moves) - 3)}
