"""The conditions of a cell's bars, each in a song whose form is counted by hand.

The names and what they mean are the project's own (common practice, no source).
"""

from typing import Any

import pytest

from groove.bar_place import FormPlace, SectionKind
from groove.cells.conditions import CONDITIONS, BarFacts
from groove.cells.library import library_from
from groove.events import Part
from groove.pipeline import perform_chart
from groove.text.cells import cell_text
from tests.arrange.songs import LIBRARY, TIGHT
from tests.cells.cell_lines import BASS

# Played bars: intro 1-2, verse 3-8, pre-chorus 9-10, chorus 11-14, verse 15-20, chorus 21-24,
# breakdown 25-26, chorus 27-30, end 31-32.
FORM = """key: C
fills: none
bass: marked
drums: out
keys: out
intro:
| C | F |
verse:
| C | C | F | G | Am | G |
pre-chorus:
| F | G |
chorus:
| C | F | G | C |
breakdown:
| F | G |
end:
| C | C |
form: intro, verse, pre-chorus, chorus, verse, chorus, breakdown, chorus, end
"""
HOLDS = {
    "before a chorus": [10, 20, 26],
    "chorus end": [14, 24, 30],
    "phrase end": [6, 14, 18, 24, 30],
    "answer": [2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30],
    "held chord": [4, 16],
    "last chorus": [27, 28, 29, 30],
    "chorus": [*range(11, 15), *range(21, 25), *range(27, 31)],
    "build": [9, 10],
    "thin": [25, 26],
    "intro": [1, 2],
    "last time": [*range(15, 21), *range(27, 31)],
    "second time": [*range(15, 25), *range(27, 31)],
}
MARK = {"steps": "R R R R", "levels": "9 9 9 9"}


def marked_bars(*names: str) -> dict[int, int]:
    """Return how many notes each bar has, of a cell whose bars for these conditions have four."""
    cell: dict[str, Any] = {**BASS, "name": "marked", "when": dict.fromkeys(names, MARK)}
    library = library_from([("bass", "own/marked.toml", cell)], LIBRARY)
    counts: dict[int, int] = {}
    for note in perform_chart(FORM, library, TIGHT).notes:
        if note.part is Part.BASS:
            bar = note.origin.bar.played_bar
            counts[bar] = counts.get(bar, 0) + 1
    return counts


OF_THE_ARRANGEMENT = {"touch", "turnaround", "second figure", "third figure"}
"""Conditions that need longer songs: ``tests/arrange/test_growing.py`` counts their bars."""


def test_every_condition_is_counted() -> None:
    assert set(HOLDS) | OF_THE_ARRANGEMENT == set(CONDITIONS)


@pytest.mark.parametrize("name", HOLDS)
def test_a_condition_holds_where_its_name_says(name: str) -> None:
    counts = marked_bars(name)
    # Plain bars have two notes; the last of the song is held.
    assert set(counts) == set(range(1, 33))
    assert [bar for bar in range(1, 32) if counts[bar] == 4] == HOLDS[name]


def test_the_most_particular_wins() -> None:
    """What picks a bar of a phrase stands above a section's, a phrase's end above an answer."""
    order = list(CONDITIONS)
    pairs = [("phrase end", "answer"), ("phrase end", "chorus"), ("last chorus", "chorus")]
    pairs += [("before a chorus", "phrase end"), ("held chord", "second time")]
    assert [pair for pair in pairs if order.index(pair[0]) > order.index(pair[1])] == []
    low = {"steps": "R - - -", "levels": "9 . . ."}
    cell = {**BASS, "name": "marked", "when": {"answer": MARK, "phrase end": low}}
    library = library_from([("bass", "own/marked.toml", cell)], LIBRARY)
    notes = [n for n in perform_chart(FORM, library, TIGHT).notes if n.part is Part.BASS]
    fourth = [note for note in notes if note.origin.bar.played_bar == 14]
    assert len(fourth) == 1


@pytest.mark.parametrize("name", HOLDS)
def test_a_drawing_names_the_condition_of_every_bar(name: str) -> None:
    cell = library_from(
        [("bass", "own/marked.toml", {**BASS, "name": "marked", "when": {name: MARK}})], LIBRARY
    ).bass["marked"]
    lines = cell_text(cell).splitlines()
    grid = [line for line in lines if "|" in line]
    # A ruler, the steps and the levels, twice, all of one width.
    assert len(grid) == 6
    assert len(set(map(len, grid))) == 1
    head = next(i for i, line in enumerate(lines) if line.strip().startswith(name))
    drawn = next(line for line in lines[head:] if "R" in line)
    assert drawn.split("|")[1].split() == ["R", "R", "R", "R"]
    signs = lines[lines.index("signs:") :]
    words = CONDITIONS[name].words
    assert any(line.split() == [*name.split(), *f"what is played instead {words}".split()]
               for line in signs)  # fmt: skip


def test_a_phrase_is_as_long_as_its_feel_says() -> None:
    """In phrases of three bars the third and sixth end one, the fourth does not."""
    ends = {"phrase end": SectionKind.VERSE, "chorus end": SectionKind.CHORUS}
    for name, kind in ends.items():
        held = [
            number
            for number in range(1, 8)
            if CONDITIONS[name].holds(
                BarFacts(
                    bar_in_section=number,
                    turn=number,
                    phrase_bars=3,
                    place=FormPlace(kind=kind),
                    chord_holds=False,
                    builds=False,
                    is_thin=False,
                )
            )
        ]
        assert held == [3, 6], name
