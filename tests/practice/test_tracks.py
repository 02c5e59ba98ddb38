"""Tracks: their lengths against a tempo map worked by hand, and what sounds in which pass.

Ticks are 960 a quarter; a stick is General MIDI key 37, the click's blocks 76 and 77 (*General MIDI
System Level 1*, percussion key map).
"""

from fractions import Fraction

import pytest

from groove.cut import ClickUnit, joined, with_click
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.practice.exercises import chosen_loop, whole_song
from groove.practice.ladder import Ladder
from groove.practice.track import DropOut, Sounding, tracks_performance
from tests.arrange.songs import play
from tests.practice.practising import (
    CLICK_ALONE,
    EVERYTHING,
    TWO_TEMPI,
    played_at,
    ticks,
    tracks_of,
)

HALF = Ladder(bottom=Fraction(50), top=Fraction(50), times=3)
STICK, HIGH, LOW = 37, 76, 77
BAR = 4 * 960


def whole_of(text: str) -> Performance:
    """Return a chart at its own tempo."""
    return played_at(text)(Fraction(100))


def test_sticks_count_where_the_bass_that_would_is_left_out() -> None:
    """The first pass has the bass, which counts; the others are counted in by a stick."""
    text = TWO_TEMPI.replace("fills: none", "fills: none\ncount-in: bass")
    loop = chosen_loop(whole_of(text), ("verse",), None)
    (track,) = tracks_of(text, loop, HALF, bpm=120)
    for number, one in enumerate(track.passes):
        counted = {(note.part, note.pitch) for note in one.notes if note.onset_tick < BAR}
        sticks = counted == {(Part.CLICK, STICK)}
        assert sticks is bool(number) and len(counted) == 1
    assert len(track.passes) == 3


def test_lengths_by_hand() -> None:
    """At half its tempo the verse's beat lasts 1 s, the chorus's 2 s; each pass is counted in."""
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120)
    assert [len(one.bars) for one in track.passes] == [3, 3, 3]
    assert track.sec == 3 * (4 + 8)
    # The chorus: a count-in of three beats of 2 s, then three bars of three.
    loop = chosen_loop(whole_of(TWO_TEMPI), ("chorus",), None)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120)
    assert track.sec == 3 * (6 + 18)
    # Bars 2 and 3 join both tempi: 4 s of counting, 4 s, then 6 s.
    loop = chosen_loop(whole_of(TWO_TEMPI), (), range(2, 4))
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120)
    assert track.sec == 3 * (4 + 4 + 6)
    whole = tracks_performance([track], ["x"])
    changes = [(change.tick, change.microseconds) for change in whole.tempo_map.changes]
    one = 2 * BAR + 3 * 960
    assert changes == [
        (at, us)
        for start in (0, one, 2 * one)
        for at, us in ((start, 1_000_000), (start + 2 * BAR, 2_000_000))
    ]
    assert whole.length_sec == track.sec == 42


def test_a_ladder_by_hand() -> None:
    """120 beats a minute: two bars and the count-in last 24, 16 and 12 s at 50, 75 and 100 %."""
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    ladder = Ladder(bottom=Fraction(50), step=Fraction(25), times=2)
    tracks = tracks_of(TWO_TEMPI, loop, ladder, bpm=120)
    assert [track.percent for track in tracks] == [50, 75, 100]
    # 90 beats a minute are 666 666.67 microseconds, in a file whole ones (SMF 1.0, event 51).
    assert [round(track.sec, 4) for track in tracks] == [24, 16, 12]


def test_without_count_ins_only_a_new_tempo_is_counted_in() -> None:
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    sounding = Sounding(parts=frozenset(Part), counts_in=False)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120, sounding=sounding)
    assert track.sec == 4 + 3 * 8
    whole = tracks_performance([track], ["x"])
    assert ticks(whole, Part.CLICK, [STICK]) == [0, 960, 1920, 2880]


@pytest.mark.parametrize(
    ("said", "bars"), [("count-in: 2 bars", 2), ("count-in: nobody", 0), ("count-in: bass", 1)]
)
def test_the_count_in_is_the_songs(said: str, bars: int) -> None:
    """In each pass as many bars as the chart says; where the bass has left, sticks count for it."""
    text = TWO_TEMPI.replace("fills", f"{said}\nfills", 1)
    loop = chosen_loop(whole_of(text), ("verse",), None)
    (track,) = tracks_of(text, loop, HALF, bpm=120)
    assert [len(one.bars) for one in track.passes] == [2 + bars] * 3
    assert track.sec == 3 * (4 * bars + 8)
    counted = [
        [note.part for note in one.notes if note.origin.bar.played_bar < 0] for one in track.passes
    ]
    by_bass = [Part.BASS] * 4 if "bass" in said else [Part.CLICK] * 4 * bars
    assert counted == [by_bass, [Part.CLICK] * 4 * bars, [Part.CLICK] * 4 * bars]


def test_the_bass_plays_the_first_pass_and_is_gone_after() -> None:
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120)
    counts = [len(one.part_notes(Part.BASS)) for one in track.passes]
    assert counts[0] >= 4 and counts[1:] == [0, 0]
    assert all(len(one.part_notes(Part.DRUMS)) >= 8 for one in track.passes)
    always = Sounding(parts=frozenset(Part), bass_always=True)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120, sounding=always)
    assert [len(one.part_notes(Part.BASS)) for one in track.passes] == 3 * counts[:1]


def test_the_whole_song_is_the_players_and_at_the_top_alone() -> None:
    song = whole_song(whole_of(TWO_TEMPI))
    (track,) = tracks_of(TWO_TEMPI, song, Ladder(), bpm=120)
    assert track.percent == 100 and len(track.passes) == 1
    assert track.passes[0].part_notes(Part.BASS) == ()


def test_passes_begin_where_they_are_due_and_sound_alike() -> None:
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120, sounding=EVERYTHING)
    whole = tracks_performance([track], ["verse at 60"])
    assert [marker.tick for marker in whole.markers] == [0, 3 * BAR, 6 * BAR]
    assert [marker.text for marker in whole.markers] == [
        "verse at 60, 1 of 3",
        "verse at 60, 2 of 3",
        "verse at 60, 3 of 3",
    ]
    kicks = ticks(whole, Part.DRUMS, [35, 36])
    first = [tick for tick in kicks if tick < 3 * BAR]
    assert min(first) == BAR  # beat 1 after the count-in
    assert kicks == [tick + at for at in (0, 3 * BAR, 6 * BAR) for tick in first]
    # Passes that are alike are one value: their sound is made once.
    assert track.passes[1] is track.passes[2] is not track.passes[0]


@pytest.mark.parametrize(
    ("meter", "unit", "places"),
    [
        ("4/4", ClickUnit.BEATS, [0, 960, 1920, 2880]),
        ("4/4", ClickUnit.EIGHTHS, list(range(0, BAR, 480))),
        ("4/4", ClickUnit.TRIPLETS, list(range(0, BAR, 320))),
        ("4/4", ClickUnit.SIXTEENTHS, list(range(0, BAR, 240))),
        # Six-eight has two beats of three eighths; its triplets are these eighths.
        ("6/8", ClickUnit.BEATS, [0, 1440]),
        ("6/8", ClickUnit.EIGHTHS, list(range(0, 2880, 480))),
        ("6/8", ClickUnit.TRIPLETS, list(range(0, 2880, 480))),
        ("6/8", ClickUnit.SIXTEENTHS, list(range(0, 2880, 240))),
        # Seven-eight is counted in eighths: there is nothing between two eighths but sixteenths.
        ("7/8", ClickUnit.EIGHTHS, list(range(0, 3360, 480))),
        ("7/8", ClickUnit.SIXTEENTHS, list(range(0, 3360, 240))),
    ],
)
def test_a_click_is_divided_by_hand(meter: str, unit: ClickUnit, places: list[int]) -> None:
    song = play(f"tempo: 80\nmeter: {meter}\nverse:\n| D | G |\n")
    clicked = with_click(song, unit)
    bar = Fraction(meter) * 4 * 960
    assert ticks(clicked, Part.CLICK) == [tick + at for at in (0, int(bar)) for tick in places]
    strokes = [note for note in clicked.part_notes(Part.CLICK) if note.onset_tick < bar]
    loud = [note.velocity for note in strokes]
    # The first of a bar is high and the loudest, what lies between beats the softest.
    assert [note.pitch for note in strokes] == [HIGH] + [LOW] * (len(strokes) - 1)
    beats = {0, *range(0, int(bar), 1440 if meter == "6/8" else 960 if meter == "4/4" else 480)}
    between = [v for v, note in zip(loud, strokes, strict=True) if note.onset_tick not in beats]
    others = [v for v, n in zip(loud[1:], strokes[1:], strict=True) if n.onset_tick in beats]
    assert loud[0] > max(others)
    assert len(between) == len(places) - len(beats)
    assert not between or max(between) < min(others)


def test_the_click_is_silent_in_its_bars_and_nowhere_else() -> None:
    """Two of five bars, counted on through three passes of two bars: bars 4 and 5 of six."""
    loop = chosen_loop(whole_of(TWO_TEMPI), ("verse",), None)
    sounding = Sounding(parts=frozenset({Part.CLICK}), drop_out=DropOut(2, 5))
    (track,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120, sounding=sounding)
    whole = tracks_performance([track], ["x"])
    played = [at + BAR * n for at in (0, 3 * BAR, 6 * BAR) for n in (1, 2)]
    heard = [start for n, start in enumerate(played, start=1) if n not in (4, 5)]
    clicks = ticks(whole, Part.CLICK, [HIGH, LOW])
    assert clicks == [start + beat for start in heard for beat in (0, 960, 1920, 2880)]
    sticks = ticks(whole, Part.CLICK, [STICK])
    assert sticks == [at + beat for at in (0, 3 * BAR, 6 * BAR) for beat in (0, 960, 1920, 2880)]
    (plain,) = tracks_of(TWO_TEMPI, loop, HALF, bpm=120, sounding=CLICK_ALONE)
    assert len(plain.passes[0].notes) == 12


@pytest.mark.parametrize(("silent", "cycle"), [(4, 4), (0, 4), (5, 4), (1, 65)])
def test_a_click_that_never_or_always_sounds_is_refused(silent: int, cycle: int) -> None:
    with pytest.raises(ValueError, match=f"silent in {silent} of {cycle} bars"):
        DropOut(silent, cycle)


def test_a_track_is_no_longer_than_a_song_may_be() -> None:
    long = whole_of("tempo: 120\nverse:\n|: D | D | D | D :| x50\n")
    with pytest.raises(OptionError, match="one track of 20200 bars"):
        joined([long] * 101)
