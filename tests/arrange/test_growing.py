"""The plan of how a song grows: which bars are touched, which figure a blues plays, vary.

What grows where is common practice, no source; forms are counted by hand.
"""

from typing import Any

import pytest

from groove.arrange.arrangement import chorus_numbers
from groove.arrange.plan import BarPlan
from groove.cells.library import library_from
from groove.chart.parse import parse_chart
from groove.events import Part, Performance, Role
from groove.pipeline import PerformOptions, analyse_song, perform_chart, plan_analysis
from tests.arrange.songs import LIBRARY, TIGHT
from tests.cells.cell_lines import BASS

MARK = {"steps": "R R R R", "levels": "9 9 9 9"}
BLUES = "A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7"


def marked(chart: str, condition: str, options: PerformOptions = TIGHT) -> Performance:
    """Return a song whose bass has four strokes in bars of a condition, else two."""
    cell: dict[str, Any] = {**BASS, "name": "marked", "when": {condition: MARK}}
    library = library_from([("bass", "own/marked.toml", cell)], LIBRARY)
    head = "key: A\nfills: none\nbass: marked\ndrums: out\nkeys: out\n"
    return perform_chart(head + chart, library, options)


def bars_of(song: Performance, count: int = 4) -> list[int]:
    """Return the played bars that have so many strokes of the bass."""
    counts = {bar.ref.played_bar: 0 for bar in song.bars}
    for note in song.part_notes(Part.BASS):
        counts[note.origin.bar.played_bar] += 1
    return [bar for bar, found in counts.items() if found == count]


def test_touches_sit_in_one_phrase_end_of_two_from_the_second_time_on() -> None:
    chart = f"verse:\n{'| C | F | G | C ' * 4}|\nend:\n| C |\nform: verse x9, end\n"
    for seed in range(1, 6):
        found = bars_of(marked(chart, "touch", PerformOptions(tight=True, seed=seed)))
        assert len(found) == 8 * 2
        assert min(found) > 16
        # In every eight bars one, in the fourth or the eighth of them.
        assert [(bar - 1) // 8 for bar in found] == list(range(2, 18))
        assert {bar % 4 for bar in found} == {0}
        assert {bar % 8 for bar in found} == {0, 4}


def test_much_variation_touches_every_phrase_end_and_none_touches_none() -> None:
    chart = f"verse:\n{'| C | F | G | C ' * 2}|\nend:\n| C |\nform: verse x4, end\n"
    assert bars_of(marked("vary: much\n" + chart, "touch")) == [12, 16, 20, 24, 28, 32]
    assert bars_of(marked("vary: none\n" + chart, "touch")) == []
    asked = PerformOptions(tight=True, vary=None)
    assert bars_of(marked(chart.replace("verse:", "verse:\nvary: none", 1), "touch", asked)) == []


@pytest.mark.parametrize(
    "condition", ["second time", "last time", "last chorus", "touch", "second figure"]
)
def test_without_variation_no_condition_that_speaks_of_a_time_holds(condition: str) -> None:
    chart = f"vary: none\nfeel: shuffle\nchorus:\n| {BLUES} |\nform: chorus x4\n"
    assert bars_of(marked(chart, condition)) == []


def test_a_blues_has_a_new_figure_each_chorus_and_keeps_it_under_a_singer() -> None:
    head = f"feel: shuffle\nhead:\n| {BLUES} |\nverse:\nas: head\nsolo:\nas: head\n"
    song = f"{head}form: head, solo x3, head\n"
    # Head, three solos, head: figures 1 2 3 1 2; stop-time in the third solo, the end held.
    assert bars_of(marked(song, "second figure")) == [*range(13, 25), *range(49, 60)]
    assert bars_of(marked(song, "third figure")) == [*range(25, 37)]
    sung = f"{head}form: verse, solo, verse, solo, verse, solo, verse\n"
    assert bars_of(marked(sung, "second figure")) == [*range(13, 25), *range(64, 73)]
    assert bars_of(marked(sung, "third figure")) == [*range(37, 49)]


def test_no_two_sections_of_a_blues_that_follow_each_other_have_one_figure() -> None:
    """Two that nobody sings over take the figures in turn as they are played, by hand."""
    bars = "| A7 | D7 | A7 | E7 |"
    sections = "".join(f"{name}:\n{bars}\n" for name in ("verse", "chorus", "bridge", "end"))
    form = "form: verse, chorus, verse, chorus, bridge, chorus, end\n"
    chart = f"feel: shuffle\n{form}{sections}"
    # Choruses in bars 5, 13 and 21, the bridge in 17, the end in 25, its last bar held.
    assert bars_of(marked(chart, "second figure")) == [*range(5, 9), *range(17, 21), *range(25, 28)]
    assert bars_of(marked(chart, "third figure")) == [*range(13, 17), *range(21, 25)]


def test_numbered_solos_are_times_of_one_solo_and_have_a_figure_each() -> None:
    bars = "| A7 | D7 | A7 | E7 |"
    solos = f"solo:\n{bars}\nsolo 2:\nas: solo\nend:\n{bars}\n"
    chart = f"feel: shuffle\nverse:\n{bars}\n{solos}"
    assert bars_of(marked(chart, "second figure")) == [*range(5, 9), *range(13, 16)]
    assert bars_of(marked(chart, "third figure")) == [*range(9, 13)]


def test_a_turnaround_stands_in_the_last_two_bars_of_a_section_that_leads_on() -> None:
    chart = f"feel: shuffle\nverse:\n| {BLUES} |\ntag:\n| A7 | A7 |\nform: verse x2, tag, verse\n"
    assert bars_of(marked(chart, "turnaround")) == [11, 12, 23, 24]


def test_stop_time_comes_once_in_the_third_time_of_a_blues() -> None:
    chart = f"feel: shuffle\nsolo:\n| {BLUES} |\nform: solo x5\n"
    assert bars_of(marked(chart, "intro"), 1)[:-1] == [25, 26, 27]
    assert bars_of(marked("vary: none\n" + chart, "intro"), 1) == [60]
    sung = chart.replace("solo", "verse")
    assert bars_of(marked(sung, "intro"), 1) == [60]
    # Eight bars are no chorus of a blues.
    short = f"feel: shuffle\nsolo:\n| {' | '.join(BLUES.split(' | ')[:8])} |\nform: solo x5\n"
    assert bars_of(marked(short, "intro"), 1) == [40]


@pytest.mark.parametrize(
    ("names", "bars", "numbers"),
    [
        ("A A B A", 8, "1 1 1 1"),
        ("A A B A A A B A A A B A", 8, "1 1 1 1 2 2 2 2 3 3 3 3"),
        ("intro A A B A A A B A end", 8, "1 1 1 1 1 2 2 2 2 2"),
        ("head solo solo solo head", 12, "1 2 3 4 5"),
        ("verse chorus verse chorus", 16, "1 1 2 2"),
        ("blues blues blues", 12, "1 2 3"),
        ("song", 32, "1"),
    ],
)
def test_choruses_are_counted_by_what_comes_again_as_a_whole(
    names: str, bars: int, numbers: str
) -> None:
    row = names.split()
    assert chorus_numbers(row, [bars] * len(row)) == [int(number) for number in numbers.split()]


def planned(chart: str) -> list[BarPlan]:
    """Return the plan of every bar of a song."""
    return list(plan_analysis(analyse_song(parse_chart(chart)), LIBRARY).bars)


FULL_FORM = """intro:
| C |
verse:
| C |
pre-chorus:
| F |
chorus:
| G |
breakdown:
| C |
bridge:
| Am |
form: intro, verse, pre-chorus, chorus, verse, chorus, breakdown, bridge, chorus
"""


def test_a_section_is_as_thick_as_its_kind_and_time() -> None:
    bars = planned(FULL_FORM)
    assert [bar.arrangement.thickness for bar in bars] == [2, 2, 3, 4, 3, 4, 1, 3, 5]
    assert [str(bar.arrangement.cymbal) for bar in bars] == [
        *("closed hat", "closed hat", "half-open hat", "ride", "closed hat", "ride"),
        *("closed hat", "closed hat", "ride bell"),
    ]
    assert [str(bar.arrangement.comping) for bar in bars] == [
        *("sparse", "sparse", "usual", "full", "usual", "full", "sparse", "usual", "full"),
    ]
    plain = planned("vary: none\n" + FULL_FORM)
    assert [bar.arrangement.thickness for bar in plain] == [2, 2, 3, 4, 2, 4, 1, 3, 4]


@pytest.mark.parametrize(
    ("section", "words", "thickness"),
    [
        ("chorus", "(thin)", 1),
        ("verse", "(build)", 3),
        ("chorus", "(build)", 4),
        ("chorus", "(p)", 2),
        ("chorus", "(pp)", 2),
        ("chorus", "(mp)", 4),
        ("verse", "(f)", 2),
        ("verse", "(ff)", 4),
    ],
)
def test_words_at_a_bars_head_stand_above_the_form(
    section: str, words: str, thickness: int
) -> None:
    bars = planned(f"{section}:\n| {words} C | C | C |\n")
    assert [bar.arrangement.thickness for bar in bars] == [thickness] * 3


def sizes(chart: str) -> list[str | None]:
    """Return how large a fill may be in each bar."""
    return [bar.arrangement.fill and str(bar.arrangement.fill) for bar in planned(chart)]


def test_a_fill_is_as_large_as_what_it_leads_to() -> None:
    verse, chorus = "| C " * 12 + "|", "| F " * 4 + "|"
    song = f"verse:\n{verse}\nchorus:\n{chorus}\nform: verse, verse, chorus, verse, chorus\n"
    found = dict(enumerate(sizes(song), start=1))
    assert {bar: size for bar, size in found.items() if size} == {
        **{4: "half a beat", 8: "a beat", 12: "half a bar"},
        **{16: "half a beat", 20: "a beat", 24: "a bar", 28: "half a bar"},
        **{32: "half a beat", 36: "a beat", 40: "a bar", 44: "a bar"},
    }
    assert set(sizes("fills: none\n" + song)) == {None}


def test_a_fill_is_smaller_under_a_soft_band_and_as_the_chart_asks() -> None:
    bars = "| C | C | C | C " * 2
    form = "form: verse, verse\n"
    soft = sizes(f"verse:\ndynamics: p\n{bars}|\n{form}")
    assert [soft[3], soft[7]] == ["half a beat", "a beat"]
    asked = sizes(f"verse:\n| (fill) C | C | C | (no fill) C | C | C | C | (fill) C |\n{form}")
    assert asked[:8] == ["half a bar", *[None] * 6, "half a bar"]
    thin = sizes("verse:\n| (thin) C | (fill) C | C | C |\nchorus:\n| C |\n")
    assert thin[:4] == [None, "half a bar", None, "half a bar"]


def test_a_named_cell_walks_as_it_stands() -> None:
    song = f"feel: walking\nform: head x2\nhead:\n| {BLUES} |\n"
    assert [bar.arrangement.is_in_two for bar in planned(song)] == [True] * 12 + [False] * 12
    assert not any(bar.arrangement.is_in_two for bar in planned("bass: walking\n" + song))
    assert not any(bar.arrangement.is_in_two for bar in planned(song.replace("x2", "")))


def test_a_walk_goes_up_the_neck_in_the_third_chorus_of_a_song() -> None:
    """Where the form does not come again as a row (common practice, no source)."""
    verse, chorus, bridge = "| Cm | Fm | Bb | G7 |", "| Fm | Bb | Eb | G7 |", "| Ab | Bb |"
    sections = f"verse:\n{verse}\nchorus:\n{chorus}\nbridge:\n{bridge}\n"
    form = "form: verse, chorus, verse, chorus, bridge, chorus, verse, chorus\n"
    song = f"feel: walking\n{form}{sections}"
    lifts = [bar.lift for bar in planned(song)]
    assert lifts == [0] * 18 + [5] * 4 + [0] * 4 + [5] * 4
    assert {bar.lift for bar in planned("vary: none\n" + song)} == {0}


def test_a_line_of_the_players_own_is_not_lifted_nor_stopped() -> None:
    riff = "riff own:\n  R - R - R - R -\n"
    walk = f"feel: walking\nbass: own\nform: head x3\nhead:\n| {BLUES} |\n"
    assert {bar.lift for bar in planned(riff + walk)} == {0}
    blues = f"feel: shuffle\nbass: own\nform: head x4\nhead:\n| {BLUES} |\n"
    stopped = [bar for bar in planned(riff + blues) if bar.arrangement.has_stop_time]
    assert [bar.word for bar in stopped] == [None] * 3


def test_stop_time_needs_bars_of_one_chord() -> None:
    split = BLUES.replace("A7 | D7", "A7 D7 | <D7", 1)
    song = f"feel: shuffle\nform: solo x3\nsolo:\n| {split} |\n"
    stopped = [bar.bar.ref.bar_in_section for bar in planned(song) if bar.arrangement.has_stop_time]
    assert stopped == [3]


def test_a_draw_leaves_the_first_time_out() -> None:
    song = "verse:\n| C |\nchorus:\n| F |\nform: verse, chorus, verse, verse\n"
    assert [bar.arrangement.draw_time for bar in planned(song)] == [None, None, 2, 3]
    plain = planned("vary: none\n" + song)
    assert [bar.arrangement.draw_time for bar in plain] == [None] * 4


TWO_MARKS = {"steps": "R R R - | R R R R", "levels": "9 9 9 . | 9 9 9 9"}


def test_a_touch_of_two_bars_takes_them_in_turn_and_a_turnaround_in_order() -> None:
    cell = {**BASS, "name": "marked", "when": {"touch": TWO_MARKS, "turnaround": TWO_MARKS}}
    library = library_from([("bass", "own/marked.toml", cell)], LIBRARY)
    head = "vary: much\nfills: none\nbass: marked\n"
    verse = f"verse:\n{'| C | F | G | C ' * 2}|\nend:\n| C |\n"
    song = perform_chart(f"{head}{verse}form: verse x5, end\n", library, TIGHT)
    # Bars 7 and 8 are the turnaround, which wins; bar 4 is touched from the second time on.
    assert bars_of(song, 3) == [7, 12, 15, 23, 28, 31, 39]
    assert bars_of(song, 4) == [8, 16, 20, 24, 32, 36, 40]


def test_a_riff_is_not_touched_unless_it_says_so() -> None:
    riff = "riff own:\n  R - R - R - R -\n"
    song = perform_chart(
        f"{riff}vary: much\nfills: none\nbass: own\nverse:\n| C | C | C | C |\nform: verse x4\n",
        LIBRARY,
        TIGHT,
    )
    # C2 is 36.
    assert [note.pitch for note in song.part_notes(Part.BASS)] == [36] * 64


def climbing(bass: str, form: str, options: PerformOptions = TIGHT) -> Performance:
    """Return a song in a feel whose line goes up the neck by five semitones; nobody else fills."""
    values = {
        **{"format": 1, "name": "high", "summary": "", "meter": "4/4", "tempo": [60, 200]},
        **{"bass": bass, "drums": "silent", "keys": "held", "length_percent": 90},
        **{"line": "hook", "climbs": 5},
    }
    library = library_from([("feels", "own/high.toml", values)], LIBRARY)
    bars = "| F | G | F | G | F | G | F | G |\n"
    text = f"key: C\nfeel: high\nform: {form}\nverse:\n{bars}chorus:\n{bars}"
    return perform_chart(text, library, options)


def test_a_hook_that_climbs_goes_up_the_neck_from_its_second_chorus_on() -> None:
    song = climbing("pedal", "verse, chorus, chorus, verse, chorus")
    lowest: dict[tuple[str, int], int] = {}
    for note in song.part_notes(Part.BASS):
        bar = (note.origin.bar.section, note.origin.bar.occurrence)
        # The last bar leads to what comes next, high or low.
        if note.origin.bar.bar_in_section < 8:
            lowest[bar] = min(note.pitch, lowest.get(bar, 127))
    # F1 is 29; five semitones over E1 the lowest root is A1, 33, and F is F2, 41.
    assert {bar for bar, pitch in lowest.items() if pitch <= 31} == {
        *(("verse", 1), ("verse", 2), ("chorus", 1)),
    }
    assert min(lowest["chorus", 2], lowest["chorus", 3]) >= 33


def test_octaves_and_fills_go_up_with_the_roots() -> None:
    song = climbing("octaves", "chorus x3")
    octaves = [
        (n.origin.bar.occurrence, n.pitch)
        for n in song.part_notes(Part.BASS)
        if n.origin.role is Role.OCTAVE and n.origin.bar.bar_in_section in (1, 3)
    ]
    assert len(octaves) > 20
    # Over F1 (29) the octave is F2 (41), over F2 in later choruses F3 (53).
    assert {pitch for time, pitch in octaves if time == 1} == {41}
    assert {pitch for time, pitch in octaves if time > 1} == {53}
    highest = []
    for seed in range(1, 9):
        song = climbing("pedal", "chorus x4", PerformOptions(tight=True, seed=seed))
        second = [n for n in song.part_notes(Part.BASS) if n.origin.bar.occurrence == 2]
        highest.append(max(n.pitch for n in second if n.origin.role is Role.FILL))
    # A turnaround begins on the octave of G2, G3 (55); a run up to F2 begins on G1 and ends on E2.
    assert set(highest) == {55, 40}
