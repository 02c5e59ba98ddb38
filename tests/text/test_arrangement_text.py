"""How a song grows in words and as data: what stands where is counted by hand.

The words are the project's own, of the trade (common practice, no source).
"""

import pytest

from groove.cells.conditions import CONDITIONS
from groove.cells.library import library_from
from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.neck.instrument import STANDARD
from groove.pipeline import analyse_song, plan_analysis
from groove.text.arrangement import (
    OF_BARS,
    OF_SECTIONS,
    arrangement_data,
    arrangement_text,
)
from tests.arrange.songs import LIBRARY
from tests.cells.cell_lines import BASS
from tests.cli.command import Command

BLUES = "A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7"


def told(chart: str, library: Library = LIBRARY) -> dict[str, str]:
    """Return what is told of each time of each section, by its title."""
    plan = plan_analysis(analyse_song(parse_chart(chart)), library)
    rows = (line.split(":", 1) for line in arrangement_text(plan, STANDARD).splitlines())
    return {title: words.strip() for title, words in rows}


def test_every_condition_is_of_bars_or_of_sections_or_left_out() -> None:
    left_out = {"phrase end", "chorus end", "held chord"}  # these come and go all the time
    lists = (OF_BARS, OF_SECTIONS, left_out)
    assert set().union(*lists) == set(CONDITIONS)
    assert sum(map(len, lists)) == len(CONDITIONS)


def test_verse_and_chorus_are_told_apart() -> None:
    bars = "| C | F | G | C | C | F | G | C |"
    song = told(
        f"feel: straight eighths\nverse:\n{bars}\nchorus:\n{bars}\n"
        "form: verse, chorus, verse, chorus\n"
    )
    assert list(song) == ["verse 1", "chorus 1", "verse 2", "chorus 2"]
    assert "closed hat; sparse keys; a fill of a bar" in song["verse 1"]
    assert "closed hat; usual keys; a fill of a bar" in song["verse 2"]
    assert "; ride; full keys; a fill of half a bar" in song["chorus 1"]
    assert song["chorus 2"].endswith("ride bell; full keys")
    assert "a touch" not in song["verse 1"] + song["chorus 1"]
    assert "a touch in bar 4" in song["verse 2"] or "a touch in bar 8" in song["verse 2"]


def test_a_hooks_second_bar_is_told_as_its_answer() -> None:
    """The second and sixth bar; the fourth and eighth end a phrase, one's own riff has none."""
    bars = "| C | F | G | C | C | F | G | C |"
    song = told(f"feel: straight eighths\nverse:\n{bars}\nend:\n| C |\n")
    assert "an answer in bars 2 and 6" in song["verse"]
    own = told(
        f"feel: straight eighths\nbass: mine\nriff mine:\nR - 5 - | R - 8 -\nverse:\n{bars}\n"
    )
    assert "answer" not in own["verse"]


def test_the_bar_that_leads_to_a_chorus_is_not_touched() -> None:
    lead = {"steps": "R 3 5 6", "levels": "9 7 8 7"}
    cell = {**BASS, "name": "leading", "when": {"before a chorus": lead}}
    library = library_from([("bass", "own/leading.toml", cell)], LIBRARY)
    bars = "| C | F | G | C | C | F | G | C |"
    song = told(
        f"vary: much\nbass: leading\nverse:\n{bars}\nchorus:\n| C |\nform: verse x2, chorus\n",
        library,
    )
    assert "leading on in bar 8" in song["verse 2"]
    assert "a touch in bar 4" in song["verse 2"]


def test_a_touched_answer_is_told_as_touched() -> None:
    """Of a cell of two bars that has no bar of its own for a touch: much varies every phrase."""
    cell = {**BASS, "name": "pairs", "steps": "R - 5 - | R - 8 -", "levels": "9 . 7 . | 9 . 7 ."}
    library = library_from([("bass", "own/pairs.toml", cell)], LIBRARY)
    bars = "| C | F | G | C | C | F | G | C |"
    song = told(
        f"vary: much\nbass: pairs\nverse:\n{bars}\nend:\n| C |\nform: verse x2, end\n", library
    )
    assert "an answer in bars 2, 4, 6 and 8" in song["verse 1"]
    assert "a touch in bars 4 and 8" in song["verse 2"]
    assert "an answer in bars 2 and 6" in song["verse 2"]


def test_walking_and_blues_tell_their_way_of_growing() -> None:
    form = "form: solo x4\nsolo:\n| " + BLUES + " |\n"
    walk = told("key: A\nfeel: walking\n" + form)
    assert [words.split(";")[0] for words in walk.values()] == ["in two", *["in four"] * 3]
    # Five semitones over the open E string.
    assert [name for name, words in walk.items() if "roots from A1" in words] == [
        "solo 3",
        "solo 4",
    ]
    named = told("key: A\nfeel: walking\nbass: walking\n" + form)
    assert [words.split(";")[0] for words in named.values()] == ["in four"] * 4
    blues = told("key: A\nfeel: shuffle\n" + form)
    assert [name for name, words in blues.items() if "stop-time in bars 1, 2 and 3" in words] == [
        "solo 3"
    ]


def test_parts_that_are_out_are_not_told_of() -> None:
    song = told("bass: out\ndrums: out\nkeys: out\nverse:\n| C |\n")
    assert song == {"verse": ""}


def test_the_same_is_told_as_data() -> None:
    chart = f"key: A\nfeel: walking\nvary: much\nsolo:\n| {BLUES} |\nform: solo x3\n"
    plan = plan_analysis(analyse_song(parse_chart(chart)), LIBRARY)
    data = arrangement_data(plan)
    assert [(one["section"], one["time"], one["times"], one["chorus"]) for one in data] == [
        ("solo", time, 3, time) for time in (1, 2, 3)
    ]
    assert [one["in_two"] for one in data] == [True, False, False]
    assert [one["lift_semitones"] for one in data] == [0, 0, 5]
    assert [one["first_played_bar"] for one in data] == [1, 13, 25]
    assert {(one["line"], one["vary"], one["feel"]) for one in data} == {("new", "much", "walking")}
    assert [one["fill"] for one in data] == ["half a bar", "half a bar", None]


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_show_tells_it(groove: Command, words: tuple[str, ...]) -> None:
    groove.write("song.txt", "verse:\n| C | F |\nchorus:\n| G | C |\n")
    said = groove("show", "song.txt", "--arrangement", *words)
    assert said.code == 0
    assert ('"arrangement": [{"section"' if words else "a fill of") in said.out
