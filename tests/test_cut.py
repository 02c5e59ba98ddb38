"""A piece of a performance sounds as in the song; a count-in and a click are added outside it."""

import pytest

from groove.cut import choose_bars, cut_bars, only_parts, runs, with_click, with_count_in
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.pipeline import PerformOptions
from groove.text.notices import notice_texts
from tests.arrange.songs import bass, chart, play

TEXT = chart({"verse": ["D", "G", "<A", "D"], "chorus": ["G", "A", "Bm", "D"]}) + (
    "form: verse, chorus, verse, chorus\n"
)


def whole() -> Performance:
    """Return the song that is cut."""
    return play(TEXT)


def test_bars_are_written_bars_the_first_time_they_are_played() -> None:
    assert choose_bars(whole(), (), range(5, 7)) == (4, 5)
    assert choose_bars(whole(), ("Chorus",)) == (4, 5, 6, 7)
    assert choose_bars(whole(), ("verse",), range(4, 9)) == (3,)


def test_a_number_after_a_sections_name_picks_a_time() -> None:
    assert choose_bars(whole(), ("Chorus 2",)) == (12, 13, 14, 15)
    assert choose_bars(whole(), ("verse  2",), range(3, 9)) == (10, 11)
    assert choose_bars(whole(), ("verse", "verse 2"), None) == (0, 1, 2, 3, 8, 9, 10, 11)
    for wrong in ("chorus 3", "chorus 0", "verse 99"):
        with pytest.raises(OptionError, match="no such time") as refused:
            choose_bars(whole(), (wrong,))
        assert refused.value.hint == "it is played 2 times"
    with pytest.raises(OptionError, match="no such section"):
        choose_bars(whole(), ("chorus two",))


def test_bars_of_another_section_are_told_with_the_sections_own() -> None:
    with pytest.raises(OptionError) as refused:
        choose_bars(whole(), ("chorus",), range(2, 4))
    assert refused.value.message == "bars 2-3 are in verse; chorus is bars 5-8"
    assert refused.value.hint == (
        "expected bars of chorus, e.g. --bars 5-8, or --bars without --sections"
    )
    with pytest.raises(OptionError, match="bar 1 is in verse; chorus is bars 5-8"):
        choose_bars(whole(), ("chorus",), range(1, 2))


@pytest.mark.parametrize(("head", "first"), [("", 1), ("pickup: 1\n", 0)])
def test_the_bars_that_there_are_begin_with_the_pickup(head: str, first: int) -> None:
    song = play(f"key: D\n{head}a:\n| D | D |\n")
    with pytest.raises(OptionError, match="no such bars are played in this song: 9") as refused:
        choose_bars(song, (), range(9, 10))
    assert refused.value.hint == f"expected bars from {first} to 2"


def test_a_section_whose_name_ends_in_a_number_is_meant_before_a_time() -> None:
    song = play("key: D\na:\n| D | D |\na 2:\n| G |\nform: a, a, a 2\n")
    assert choose_bars(song, ("a 2",)) == (4,)
    assert choose_bars(song, ("a 1",)) == (0, 1)


def test_a_bar_is_chosen_once_and_a_section_with_its_repeats() -> None:
    song = play("key: D\na:\n|: D | G |1. A :|2. Em | D ||\nb:\n| G | A |\nform: a x2, b\n")
    # As played: D G A, D G Em D, again, then G A.
    assert choose_bars(song, (), range(1, 2)) == (0,)
    assert choose_bars(song, (), range(2, 6)) == (1, 2, 5, 6)
    assert choose_bars(song, ("a",)) == (0, 1, 2, 3, 4, 5, 6)
    assert choose_bars(song, ("b",), range(5, 8)) == (14, 15)


def test_a_time_that_a_record_has_twice_is_one_loop() -> None:
    """The record goes on after its second chorus with the first verse and chorus again."""
    again = cut_bars(whole(), (*range(16), *range(8)))
    assert choose_bars(again, ("chorus",)) == (4, 5, 6, 7)
    assert choose_bars(again, ("chorus 2",)) == (12, 13, 14, 15)


def test_runs_of_neighbours() -> None:
    assert list(runs((1, 2, 3, 7, 9, 10))) == [(1, 3), (7, 7), (9, 10)]


def test_a_cut_has_the_notes_of_the_song_and_its_length_times_over() -> None:
    song = whole()
    piece = cut_bars(song, (4, 5), times=3)
    assert len(piece.bars) == 6
    assert piece.end_tick == 6 * 3840
    own = [n for n in bass(song) if n.origin.bar.played_bar in (5, 6)]
    assert [n.pitch for n in bass(piece)] == [n.pitch for n in own] * 3
    first = [n.grid_tick for n in bass(piece)][: len(own)]
    assert first == [n.grid_tick - 4 * 3840 for n in own]
    assert [marker.text for marker in piece.markers] == ["chorus"] * 3


def test_a_note_tied_over_from_before_the_cut_is_struck_at_the_cut() -> None:
    # Bar 3's A is pushed into bar 2; a loop of bar 3 alone must still begin with it.
    piece = cut_bars(whole(), (2,), times=2)
    firsts = [note for note in bass(piece) if note.grid_tick in (0, 3840)]
    assert [note.pitch % 12 for note in firsts] == [9, 9]
    assert all(note.end_tick <= 2 * 3840 for note in bass(piece))


def test_tempo_and_keys_follow_the_piece() -> None:
    text = "tempo: 100\nkey: D\na:\n| D | D |\nb:\n  tempo: 50\n| G | G |\n"
    piece = cut_bars(play(text), (2, 3))
    # One bar of 4/4 at 50 lasts 4.8 s.
    assert piece.length_sec == pytest.approx(9.6, abs=1e-6)
    assert piece.tempo_map.changes[0].microseconds == 1_200_000
    assert [bar.key.name for bar in piece.bars] == ["D major", "D major"]


def test_a_count_in_is_one_bar_of_sticks_before_everything() -> None:
    led = with_count_in(whole())
    sticks = [note for note in led.notes if note.part is Part.CLICK]
    assert [note.grid_tick for note in sticks] == [0, 960, 1920, 2880]
    assert {note.pitch for note in sticks} == {37}  # General MIDI level 1: Side Stick
    assert min(n.grid_tick for n in led.notes if n.part is not Part.CLICK) == 3840
    assert led.length_sec == pytest.approx(whole().length_sec + 2.5, abs=1e-6)  # a bar at 96


@pytest.mark.parametrize(
    ("meter", "strokes"), [("4/4", 4), ("3/4", 3), ("6/8", 2), ("12/8", 4), ("7/8", 7)]
)
def test_a_count_in_counts_the_beat(meter: str, strokes: int) -> None:
    led = with_count_in(play(f"meter: {meter}\nkey: D\nverse:\n| D | D |\n"))
    assert sum(note.part is Part.CLICK for note in led.notes) == strokes


@pytest.mark.parametrize(
    ("meter", "pickup", "beats"),
    # Quarters, dotted quarters in 6/8, from the first stick to bar 1.
    [
        ("4/4", "1", 8),
        ("4/4", "3", 8),
        ("4/4", "1 eighth", 8),
        ("6/8", "1 eighth", 4),
        ("3/4", "2", 6),
    ],
)
def test_a_count_in_and_a_pickup_fill_whole_bars(meter: str, pickup: str, beats: int) -> None:
    """Common practice, no source: the band comes in on a one, so the pickup ends a counted bar."""
    led = with_count_in(play(f"meter: {meter}\nkey: D\npickup: {pickup}\na:\n| D | D |\n"))
    beat = 1440 if meter == "6/8" else 960
    one = next(bar.start_tick for bar in led.bars if bar.ref.written_bar == 1)
    assert one == beats * beat
    struck = {n.grid_tick for n in led.notes if n.grid_tick < one}
    assert struck == set(range(0, one, beat))


def test_a_click_stands_on_every_beat() -> None:
    clicked = with_click(whole())
    clicks = [note.grid_tick for note in clicked.notes if note.part is Part.CLICK]
    assert clicks == list(range(0, whole().end_tick, 960))
    assert play(TEXT, PerformOptions(tight=True, click=True)) == clicked


@pytest.mark.parametrize(
    ("meter", "pickup", "length", "beats"),
    [
        ("4/4", "1", 960, [0]),
        ("4/4", "3 eighths", 1440, [480]),  # the and of 3, then beat 4
        ("4/4", "5 sixteenths", 1200, [240]),
        ("6/8", "1 eighth", 480, []),
        ("6/8", "4 eighths", 1920, [480]),
        ("3/4", "2", 1920, [0, 960]),
    ],
)
def test_a_pickup_has_the_last_beats_of_a_bar(
    meter: str, pickup: str, length: int, beats: list[int]
) -> None:
    """Common practice, no source: a pickup is counted as the end of a bar, not as its head."""
    song = play(f"meter: {meter}\nkey: D\npickup: {pickup}\na:\n| D | D |\n")
    assert song.bars[0].length_ticks == song.bars[1].start_tick == length
    sticks = [n.grid_tick for n in song.notes if n.grid_tick < length]
    assert sticks == beats
    clicks = [n for n in with_click(song).notes if n.part is Part.CLICK and n.grid_tick < length]
    head = next(n for n in with_click(song).notes if n.part is Part.CLICK and n.grid_tick == length)
    assert [note.grid_tick for note in clicks] == beats
    assert all(note.pitch != head.pitch for note in clicks)
    assert not [
        notice for notice in notice_texts(song.notices) if f"in {song.bars[0].meter}" in notice
    ]


def test_a_pickup_is_bar_0() -> None:
    song = play("key: D\npickup: 1\na:\n| D | D |\nb:\n| G | A |\n")
    assert choose_bars(song, (), range(0, 3)) == (0, 1, 2)
    assert choose_bars(song, (), range(1, 3)) == (1, 2)
    assert choose_bars(song, ("a",), range(0, 5)) == (1, 2)
    with pytest.raises(OptionError, match="no such bars"):
        choose_bars(play("key: D\na:\n| D | D |\n"), (), range(0, 1))


def test_only_some_parts() -> None:
    assert only_parts(whole(), {Part.DRUMS}).parts == (Part.DRUMS,)


@pytest.mark.parametrize("times", [0, 201])
def test_times_have_a_limit(times: int) -> None:
    with pytest.raises(OptionError, match="cannot play it"):
        cut_bars(whole(), (0,), times=times)


def test_a_cut_has_the_same_limit_of_bars_as_a_song() -> None:
    with pytest.raises(OptionError, match="200 times are"):
        cut_bars(whole(), tuple(range(16)) * 10, times=200)


def test_unknown_sections_and_bars_are_refused() -> None:
    with pytest.raises(OptionError) as refused:
        choose_bars(whole(), ("vers",))
    assert "nearest: verse" in refused.value.hint
    with pytest.raises(OptionError) as refused:
        choose_bars(whole(), (), range(100, 101))
    assert "1 to 8" in refused.value.hint
