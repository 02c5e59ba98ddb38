"""Plans: rests by the published rule, minutes that are kept, the sum of the tracks.

The rule: alone, five minutes of rest after twenty-five of playing (G. Klickstein, *The Musician's
Way*, p. 75, and its site, 2011).
"""

from fractions import Fraction

import pytest
from msgspec.structs import replace

from groove.errors import OptionError
from groove.practice.exercises import chosen_loop
from groove.practice.ladder import Ladder
from groove.practice.plan_html import plan_html
from groove.practice.plan_text import plan_data, plan_rows, plan_text
from groove.practice.practice_plan import PracticePlan, Rest, exercise_tracks, fitted, with_rests
from groove.practice.track import PracticeTrack, tracks_performance
from tests.practice.practising import EVERYTHING, TWO_TEMPI, played_at, tracks_of

EMPTY = PracticePlan(title="Two Tempi", song_bpm=Fraction(120), tempo_symbol="♩", steps=())


def minutes_track(count: int) -> PracticeTrack:
    """Return a track of some minutes: a pass of the verse at half its tempo lasts 12 s."""
    loop = chosen_loop(played_at(TWO_TEMPI)(Fraction(100)), ("verse",), None)
    ladder = Ladder(bottom=Fraction(50), top=Fraction(50), times=5)
    (track,) = tracks_of(TWO_TEMPI, loop, ladder, bpm=120)
    assert track.sec == 60
    return replace(track, passes=track.passes[:1] * (5 * count))


def lengths(steps: tuple[PracticeTrack | Rest, ...]) -> list[str | int]:
    """Return a plan's steps in minutes, a rest as its own letter."""
    return ["r" if isinstance(step, Rest) else round(step.sec / 60) for step in steps]


def test_rests_by_the_rule() -> None:
    tracks = [minutes_track(n) for n in (10, 10, 5, 1, 20, 6, 25)]
    # 10 + 10 + 5 are just twenty-five; 1 + 20 + 6 would be more.
    assert lengths(with_rests(tracks)) == [10, 10, 5, "r", 1, 20, "r", 6, "r", 25]
    assert [step.sec for step in with_rests(tracks) if isinstance(step, Rest)] == [300] * 3
    assert with_rests([]) == ()


def test_a_tempo_that_takes_too_long_is_parted_between_its_passes() -> None:
    """Twelve seconds a pass: 125 of them are twenty-five minutes."""
    loop = chosen_loop(played_at(TWO_TEMPI)(Fraction(100)), ("verse",), None)
    ladder = Ladder(bottom=Fraction(50), top=Fraction(50), times=300)
    tracks = tracks_of(TWO_TEMPI, loop, ladder, bpm=120)
    parted = [(len(track.passes), track.first_pass) for track in tracks]
    assert parted == [(125, 1), (125, 126), (50, 251)]
    assert lengths(with_rests(tracks)) == [25, "r", 25, "r", 10]
    assert sum(len(track.passes) for track in tracks) == 300 == tracks[0].times
    other = chosen_loop(played_at(TWO_TEMPI)(Fraction(100)), ("chorus",), None)
    more = tracks_of(TWO_TEMPI, other, Ladder(bottom=Fraction(80), times=1), bpm=120)
    rows = plan_rows(replace(EMPTY, steps=with_rests([*tracks, *more])))
    # One exercise keeps its number over its rests; its tracks have numbers of their own.
    assert [row.number for row in rows] == [1, 0, 1, 0, 1, 2]
    assert [list(row.tracks) for row in rows] == [[1], [], [2], [], [3], [4, 5, 6]]
    last = tracks_performance([replace(tracks[2], passes=tracks[2].passes[:2])], ["verse"])
    assert [marker.text for marker in last.markers] == ["verse, 251 of 300", "verse, 252 of 300"]


def test_what_fits_comes_in_order_and_the_rest_is_told() -> None:
    ladders = [[minutes_track(n)] for n in (8, 15, 3, 1)]
    plan = fitted(EMPTY, ladders, 12)
    assert lengths(plan.steps) == [8, 3, 1]
    assert plan.total_sec == plan.playing_sec == sum(t.sec for t in plan.tracks) == 12 * 60
    assert [sec for _, sec in plan.left_out] == [15 * 60]
    # With a rest: 8 + 15 and 3 would be 26 minutes, so 31 with the rest before the last.
    assert lengths(fitted(EMPTY, ladders, 30).steps) == [8, 15, 1]
    plan = fitted(EMPTY, ladders, 32)
    assert lengths(plan.steps) == [8, 15, "r", 3, 1]
    assert (plan.playing_sec, plan.rest_sec, plan.left_out) == (27 * 60, 300, ())
    assert lengths(fitted(EMPTY, ladders, None).steps) == [8, 15, "r", 3, 1]


def test_where_nothing_fits_the_shortest_is_named() -> None:
    with pytest.raises(OptionError, match="nothing fits into 2 minutes") as refused:
        fitted(EMPTY, [[minutes_track(8)], [minutes_track(3)]], 2)
    assert refused.value.hint.startswith("the shortest takes 3.0: more --minutes")


def test_text_html_and_data_say_the_same() -> None:
    loop = chosen_loop(played_at(TWO_TEMPI)(Fraction(100)), ("verse",), None)
    other = chosen_loop(played_at(TWO_TEMPI)(Fraction(100)), ("chorus",), None)
    ladder = Ladder(bottom=Fraction(50), step=Fraction(25), times=2)
    ladders = [
        exercise_tracks(one, ladder, Fraction(120), played_at(TWO_TEMPI), EVERYTHING)
        for one in (loop, other)
    ]
    # By hand: 24 + 16 + 12 s; the chorus 2 × 12 beats of 2, 4/3 and 1 s: 48 + 32 + 24.
    plan = fitted(replace(EMPTY, title="<Two> Tempi"), ladders, 1)
    assert plan_text(plan) == (
        "<Two> Tempi: 0:52 of 1 minute\n"
        "\n"
        " 1   0:52  bars 1-2, verse\n"
        "           twice each at ♩ = 60, 90, 120\n"
        "\n"
        "left out, for want of time:\n"
        "     1:44  bars 3-5, chorus\n"
    )
    html = plan_html(plan, caution="stop at pain", files={})
    assert "<h1>&lt;Two&gt; Tempi</h1>" in html and "stop at pain" in html
    assert "<td>twice each at ♩ = 60, 90, 120</td><td>0:52</td>" in html
    assert "<li>bars 3-5, chorus: 1:44</li>" in html
    data = plan_data(plan)
    assert (data["playing_sec"], data["total_sec"], data["minutes"]) == (52, 52, 1)
    steps = data["steps"]
    assert isinstance(steps, list)
    assert [(s["tempo_bpm"], s["passes"], s["sec"]) for s in steps] == [
        (60, 2, 24),
        (90, 2, 16),
        (120, 2, 12),
    ]
