"""When a copyist folds, shortens and abbreviates, and when not: rules by hand, bars by number.

Common practice, no source: an ending is at most a quarter of its section, there are at most four;
a section is told by the bars that differ where these are at most half of it; a sign stands for bars
that a player has just read.  What a page would show of a bar is given here, so that every case is.
"""

import random
from collections.abc import Hashable, Sequence
from functools import lru_cache
from typing import Any

import pytest
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.abridging import abridged
from groove.sheet.build import build_score
from groove.sheet.folding import Fold, fold_bars
from groove.sheet.score import Ending
from groove.sheet.shorthand import with_shorthand
from groove.sheet.signs import Joint, JumpSign

HEAD = "title: Rule Gate\ntempo: 100\nkey: D\nvary: none\nfills: none\n"
EIGHT = "  | D | D | D | D | D | D | D | D |\n"
RIFF = "bass: four\nriff four:\n  R - 5 - 8 - 5 -\n"


@lru_cache(maxsize=32)
def performed(chart: str) -> tuple[Any, Performance]:
    song = parse_chart(HEAD + chart, source="rules")
    tight = PerformOptions(tight=True)
    return song, finger_performance(perform_song(song, load_library(), tight))[0]


def folded(chart: str, contents: Sequence[Hashable]) -> tuple[Fold, ...]:
    song, performance = performed(RIFF + chart)
    assert len(contents) == len(performance.bars)
    return fold_bars(performance, song, contents, [False] * len(contents), written_out=False)


def unfolded(folds: Sequence[Fold]) -> list[int]:
    """Return the bars in the order in which signs and endings have them played.

    A closing sign sends back as often as it says, less one; an ending's as often as it is played.
    """
    found: list[int] = []
    at = 0
    while at < len(folds):
        if not folds[at].opens_repeat:
            found += folds[at].played
            at += 1
            continue
        stop = at + 1
        while stop < len(folds) and not folds[stop - 1].passes:
            stop += 1
        while stop < len(folds) and folds[stop].ending and folds[stop - 1].ending:
            stop += 1
        group = folds[at:stop]
        closing = [fold for fold in group if fold.passes]
        back = sum(fold.passes - 1 for fold in closing)
        for number in range(1, back + 2):
            for fold in group:
                if fold.ending is None:
                    found.append(fold.played[number - 1])
                elif number in fold.ending.passes:
                    found.append(fold.played[fold.ending.passes.index(number)])
        at = stop
    return found


@pytest.mark.parametrize("seed", range(8))
def test_signs_are_played_out_to_every_bar_in_order(seed: int) -> None:
    """Sections of eight bars of which the last ones are drawn; each bar is printed once a pass."""
    draws = random.Random(seed)
    order = [draws.choice("aab") for _ in range(7)]
    chart = "a:\n" + EIGHT + "b:\n" + EIGHT + f"form: {', '.join(order)}\n"
    contents = [
        (name, bar if bar < 6 else (bar, draws.randrange(3))) for name in order for bar in range(8)
    ]
    folds = folded(chart, contents)
    assert unfolded(folds) == list(range(56))
    for fold in folds:
        assert len({contents[index] for index in fold.played}) == 1


def test_some_of_them_are_folded() -> None:
    contents = [*range(8)] * 3
    folds = folded("a:\n" + EIGHT + "form: a x3\n", contents)
    assert len(folds) == 8 and folds[-1].passes == 3 and unfolded(folds) == list(range(24))


@pytest.mark.parametrize(("differing", "printed"), [(1, 9), (2, 10), (3, 16)])
def test_an_ending_is_at_most_a_quarter_of_its_section(differing: int, printed: int) -> None:
    contents = [*range(8), *range(8 - differing), *range(100, 100 + differing)]
    assert len(folded("a:\n" + EIGHT + "form: a x2\n", contents)) == printed


@pytest.mark.parametrize(("times", "printed"), [(4, 11), (5, 7 + 4 + 8)])
def test_there_are_at_most_four_endings(times: int, printed: int) -> None:
    """Of five times four are folded, and the fifth is written out."""
    contents = [bar if bar < 7 else 100 + time for time in range(times) for bar in range(8)]
    assert len(folded("a:\n" + EIGHT + f"form: a x{times}\n", contents)) == printed


def test_passes_that_share_an_ending_send_back_as_often_as_they_play_it() -> None:
    """First and second alike, the third of its own; and where the last is as the first, three."""
    chart = "a:\n" + EIGHT + "form: a x3\n"
    alike = [bar if bar < 7 or time < 2 else 100 for time in range(3) for bar in range(8)]
    endings = [(f.ending.passes, f.passes) for f in folded(chart, alike) if f.ending]
    assert endings == [((1, 2), 3), ((3,), 0)]
    back = [bar if bar < 7 or time != 1 else 100 for time in range(3) for bar in range(8)]
    endings = [(f.ending.passes, f.passes) for f in folded(chart, back) if f.ending]
    assert endings == [((1,), 2), ((2,), 2), ((3,), 0)]


def test_repeats_are_not_nested() -> None:
    """A A B A A B: each A twice by signs of its own, and no sign round them."""
    contents = [(name, bar) for name in "aabaab" for bar in range(8)]
    folds = folded("a:\n" + EIGHT + "b:\n" + EIGHT + "form: a x2, b, a x2, b\n", contents)
    assert len(folds) == 32 and unfolded(folds) == list(range(48))
    assert [fold.passes for fold in folds if fold.passes] == [2, 2]


# --- "as the first time, but:" ------------------------------------------------------------------


def shortened(bars: str, form: str, contents: Sequence[Hashable]) -> list[Any]:
    """Return the words, and the numbers of the bars, that are printed of a part."""
    song, performance = performed(f"{RIFF}a:\n{bars}b:\n{EIGHT}form: {form}\n")
    measures = build_score(performance, song, written_out=True).measures
    found = abridged(measures, performance, contents)
    return [each.as_before[1] if each.as_before else each.written_bar for each in found]


def differing(places: Sequence[int], count: int = 8) -> list[Hashable]:
    """Return what is seen of a, b and a again, whose bars at places are others."""
    again = [("again" if bar in places else "a", bar) for bar in range(count)]
    return [*(("a", bar) for bar in range(count)), *(("b", bar) for bar in range(8)), *again]


@pytest.mark.parametrize("places", [(), (7,), (1, 6), (0, 3, 4, 7)])
def test_up_to_half_of_a_section_is_told_by_its_bars(places: tuple[int, ...]) -> None:
    but = ", but:" if places else ""
    found = shortened(EIGHT, "a, b, a", differing(places))
    assert found[16:] == [f"as the first time, bars 1–8{but}", *(place + 1 for place in places)]


def test_more_than_half_of_it_is_printed_and_so_is_a_line_that_differs() -> None:
    assert shortened(EIGHT, "a, b, a", differing((0, 1, 2, 3, 4)))[16:] == [*range(1, 9)]
    four = "  | D | D | D | D |\n"
    assert shortened(four, "a, b, a", differing((3,), 4))[12:] == [1, 2, 3, 4]
    assert shortened(four, "a, b, a", differing((), 4))[12:] == ["as the first time, bars 1–4"]


def test_the_time_that_is_most_like_it_is_named() -> None:
    """The second differs in five bars and is printed, the third from it in none."""
    first = [("a", bar) for bar in range(8)]
    second = [("again" if bar < 5 else "a", bar) for bar in range(8)]
    rest = [("b", bar) for bar in range(8)]
    found = shortened(EIGHT, "a, b, a, b, a", [*first, *rest, *second, *rest, *second])
    assert found[-1] == "as the second time, bars 1–8"


def printed(chart: str) -> list[Any]:
    song, performance = performed("feel: octaves\n" + chart)
    measures = build_score(performance, song, on_paper=True).measures
    return [each.as_before[:2] if each.as_before else each.written_bar for each in measures]


def test_a_bar_is_printed_with_the_one_that_ties_into_it() -> None:
    """Bar 8 differs, where it leads; it is pushed, so that its tie begins in bar 7."""
    chart = "a:\n  | D | G | Em7 | A7 | D | F#m7 | G | <A7 |\nb:\n  | Bm | G | Bm | G |\n"
    chart += "c:\n  | Em7 | G | Em7 | G |\nform: a, b, a, c\n"
    found = printed(chart)
    words = next(index for index, each in enumerate(found) if isinstance(each, tuple))
    assert found[words : words + 4] == [
        ("a, second time", "as the first time, bars 1–8, but:"), 7, 8, 13,
    ]  # fmt: skip


def test_a_section_that_ties_into_the_next_has_its_last_bar() -> None:
    """The first chord of c is pushed into b, whose last bar, 12 of the chart, has the tie."""
    chart = "a:\n  | D | G | Em7 | A7 |\nb:\n  | Bm | G | Bm | G | Bm | G | Bm | G |\n"
    chart += "c:\n  | <D | G | Em7 | A7 | D | G | Em7 | A7 |\nform: b, c, a, b, c\n"
    song, performance = performed(RIFF + chart)
    measures = build_score(performance, song, on_paper=True).measures
    found = [each.as_before[1] if each.as_before else each.written_bar for each in measures]
    assert found == [
        *range(5, 21), *range(1, 5),
        "as the first time, bars 5–12, but:", 12, "as the first time, bars 13–20",
    ]  # fmt: skip


def test_a_first_bar_that_is_tied_into_is_not_told_by_its_number() -> None:
    """Its tie begins in the section before, where nobody looks for it."""
    pushed = EIGHT.replace("| D", "| <D", 1)
    first = [*range(16), *range(8), 100, *range(9, 16)]
    assert shortened(pushed, "b, a, b, a", first)[-8:] == [*range(1, 9)]
    assert shortened(EIGHT, "b, a, b, a", first)[-2:] == ["as the first time, bars 1–8, but:", 1]


def test_a_bar_that_is_played_twice_within_its_section_is_not_told_by_its_number() -> None:
    bars = "  |: D | D :| D | D | D | D |\n"
    assert shortened(bars, "a, b, a", differing((2,)))[-8:] == [1, 2, 1, 2, 3, 4, 5, 6]
    assert shortened(bars, "a, b, a", differing((4,)))[-1:] == [3]


# --- signs for bars as before -------------------------------------------------------------------


def alike(count: int = 6, riff: str = "R - 5 - 8 - 5 -", **changes: Any) -> list[int]:
    """Return which of bars that are all alike a sign may stand for; changes are of the fourth."""
    bars = "| D " * count + "|\n"
    song, performance = performed(f"bass: four\nriff four:\n  {riff}\na:\n{bars}")
    measures = list(build_score(performance, song, written_out=True).measures)
    measures = [replace(m, ends_song=False, ends_section=False) for m in measures]
    if changes:
        measures[3] = replace(measures[3], **changes)
    return [measure.like_before for measure in with_shorthand(measures)]


def test_a_sign_stands_for_a_bar_that_was_just_read() -> None:
    assert alike() == [0, 1, 1, 1, 1, 1]
    assert alike(opens_repeat=True) == [0, 1, 1, 0, 1, 1]
    assert alike(heading="b") == [0, 1, 1, 0, 1, 1]
    assert alike(shows_number=True) == [0, 1, 1, 0, 1, 1]
    # After a sign that sends back, the bar before is another for who comes a second time.
    assert alike(passes=2) == [0, 1, 1, 1, 0, 1]


def test_two_strokes_are_read_as_fast_as_a_sign() -> None:
    assert alike(riff="R - - - 5 - - -") == [0] * 6
    # Three are plucked by the fingers in turn, so that every other bar begins with another.
    assert alike(riff="R - 5 - 8 - - -") == [0, 1, 1, 1, 1, 1]


def test_pairs_follow_bars_that_stand_there() -> None:
    assert alike(8, "R - 5 - 8 - 5 - | R - 3 - 5 - 3 -") == [0, 0, 2, 2, 2, 2, 2, 2]


def test_rests_between_repeat_signs_keep_both() -> None:
    chart = "a:\n  bass: out\n  | D | D | D | D |\nb:\n  | D | G |\nform: a x2, b\n"
    song, performance = performed("feel: octaves\n" + chart)
    rest, *_ = build_score(performance, song, on_paper=True).measures
    assert (rest.rest_bars, rest.opens_repeat, rest.passes) == (4, True, 2)


def with_heads(measures: Sequence[Any], at: int, **changes: Any) -> list[Any]:
    """Return measures with changes of the first (0) or of the last (-1) head of each."""
    found = []
    for measure in measures:
        (voice,) = measure.voices
        events = list(voice.events)
        (head,) = events[at].heads
        events[at] = replace(events[at], heads=(replace(head, **changes),))
        found.append(replace(measure, voices=(replace(voice, events=tuple(events)),)))
    return found


def straight_bars() -> list[Any]:
    song, performance = performed("bass: four\nriff four:\n  R 5 8 5 R 5 8 9\na:\n" + EIGHT)
    measures = build_score(performance, song, written_out=True).measures
    assert [bar.like_before for bar in with_shorthand(measures)] == [0, *[1] * 7]
    return list(measures)


@pytest.mark.parametrize(
    ("at", "changes"),
    [
        (0, {"slides_in": True}),
        (0, {"slur_in": Joint.PULL_OFF}),
        (0, {"tied_in": True}),
        (-1, {"slides_out": True}),
        (-1, {"slur_out": Joint.HAMMER_ON}),
        (-1, {"tied_out": True}),
    ],
)
def test_a_bar_that_is_led_into_or_leads_on_is_written(at: int, changes: dict[str, Any]) -> None:
    """All bars alike in it, so that nothing else tells them apart."""
    measures = with_heads(straight_bars(), at, **changes)
    assert [bar.like_before for bar in with_shorthand(measures)] == [0] * 8


def test_a_jump_is_seen_beside_notes_and_so_are_the_bars_round_it() -> None:
    assert alike(jumps=(JumpSign.SEGNO,)) == [0, 1, 1, 0, 0, 1]


def test_rests_are_counted_up_to_a_dynamic() -> None:
    chart = "bass: out\na:\n  | D | D | (p) D | D | D |\n"
    song, performance = performed(chart)
    measures = build_score(performance, song, on_paper=True).measures
    assert [measure.rest_bars for measure in measures] == [2, 3]


def test_an_ending_begins_with_its_notes_and_so_does_what_follows_it() -> None:
    """Whoever comes from the first pass has not just read the bar that is printed before."""
    ending = Ending(passes=(2,), opens=True, closes=True, is_last=True)
    assert alike(ending=ending) == [0, 1, 1, 0, 0, 1]


def test_the_same_notes_elsewhere_on_the_neck_are_written() -> None:
    """D at the fifth fret of the A string and on the open D string are one pitch."""
    rows = {"G": "--------- ---------", "D": "--------- -0-0-0-0-", "A": "-5-5-5-5- ---------"}
    rows["E"] = rows["G"]
    lines = "".join(f"  {name} |{'|'.join(row.split())}|\n" for name, row in rows.items())
    song, performance = performed("a:\n  | D | D |\n" + lines)
    first, second = build_score(performance, song, on_paper=True).measures
    assert [n.pitch for n in performance.part_notes(Part.BASS)] == [38] * 8
    assert (first.like_before, second.like_before) == (0, 0)


def test_a_bar_whose_last_note_is_held_over_is_written() -> None:
    """All bars but the first are tied into, all but the last are tied on."""
    song, performance = performed(
        "bass: four\nriff four:\n  R 5 8 5 R 5 8 9\na:\n| D | <D | <D | <D |\n"
    )
    measures = build_score(performance, song, on_paper=True).measures
    assert [measure.like_before for measure in measures] == [0, 0, 0, 0]
