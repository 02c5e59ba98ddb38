"""How roots and the bass move, in words: read back by a reader of its own, and followed.

The intervals' sizes in half steps are those of every handbook.
"""

import re
from collections.abc import Iterator
from itertools import pairwise
from random import Random

import pytest

from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.moves import describe
from groove.text.harmony import harmony_text
from groove.text.moves import description_note, description_words
from groove.theory.keys import near_key

SIZES = {
    "half step": 1, "whole step": 2, "minor third": 3, "major third": 4, "fourth": 5, "tritone": 6,
    "fifth": 7, "minor sixth": 8, "major sixth": 9, "minor seventh": 10, "major seventh": 11,
}  # fmt: skip
COUNTS = {"once": 1, "twice": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}
COUNTS |= {"nine": 9, "ten": 10, "eleven": 11, "twelve": 12}
SHAPE = re.compile(r"one shape, (\w+)(?: times)?, (?:the second|each) (.+?): (.*)")
AGAIN = re.compile(r"(.*), (\w+)(?: times)?")
SPELLING = {n: near_key(n, 0) for n in range(12)}


def one_move(words: str) -> int:
    way, size = re.fullmatch(r"(up|down) an? (.+)", words).groups()  # type: ignore[union-attr]
    return SIZES[size] if way == "up" else -SIZES[size]


def followed(words: str) -> list[int]:
    """Return the moves that a row of words tells, signed as told."""
    moves: list[int] = []
    for part in (
        words.replace("; odd one out: ", "; then ")
        .replace("; odd ones out: ", "; then ")
        .split("; then ")
    ):
        moves += part_moves(part)
    return moves


def part_moves(part: str) -> list[int]:
    shape = SHAPE.fullmatch(part)
    if shape:
        times, where, inside = shape.groups()
        unit = part_moves(inside)
        if where == "from the same root":
            shift = 0
        else:
            size, way = re.fullmatch(r"an? (.+) (higher|lower)", where).groups()  # type: ignore[union-attr]
            shift = SIZES[size] if way == "higher" else -SIZES[size]
        moves = list(unit)
        for _ in range(COUNTS[times] - 1):
            moves += [shift - sum(unit), *unit]
        return moves
    again = AGAIN.fullmatch(part)
    if again and again[2] in COUNTS:
        return [one_move(again[1])] * COUNTS[again[2]]
    moves = []
    for word in part.split(", "):
        moves.append(-moves[-1] if word == "back" else one_move(word))
    return moves


def made_roots(rng: Random) -> list[int]:
    """Return a row of roots: few different moves, or one shape shifted."""
    roots = [rng.randrange(12)]
    steps = [rng.randrange(1, 12) for _ in range(rng.choice((2, 3, 12)))]
    unit = [rng.choice(steps) for _ in range(rng.randrange(1, 4))]
    shift = rng.randrange(1, 12)
    for move in (*unit, shift) * rng.randrange(1, 4) if rng.random() < 0.6 else steps:
        roots.append((roots[-1] + move) % 12)
    return roots


def test_the_words_lead_to_the_same_roots() -> None:
    rng = Random("words")
    compared = shapes = 0
    for _ in range(1500):
        roots = made_roots(rng)
        description = describe(roots)
        if any("one shape" in part for part in nested(description.parts)):
            continue
        words = description_words(description, SPELLING)
        first, _, told = words.removeprefix("from ").partition(": ")
        assert first == SPELLING[roots[0]].pretty
        moves = [move % 12 for move in followed(told)]
        assert moves == [(b - a) % 12 for a, b in pairwise(roots)], words
        compared += 1
        shapes += "one shape" in words
    assert compared >= 1000
    assert shapes >= 200


def nested(parts: object) -> Iterator[str]:
    """Yield a mark for every shape inside a shape, which the reader does not read."""
    for part in parts if isinstance(parts, tuple) else ():
        unit = getattr(part, "unit", ())
        if any(hasattr(inner, "unit") for inner in unit):
            yield "one shape"


def test_nothing_repeats_is_said_only_where_nothing_does() -> None:
    rng = Random("nothing")
    said = compared = 0
    for _ in range(800):
        roots = made_roots(rng)[: rng.randrange(2, 6)]
        moves = [(b - a) % 12 for a, b in pairwise(roots)]
        unlike = len(set(roots)) == len(roots) > 2 and len(set(moves)) == len(moves)
        assert (description_note(describe(roots)) == "nothing repeats") == unlike
        compared += 1
        said += unlike
    assert compared == 800
    assert said >= 100


def told(bars: str) -> str:
    return harmony_text(analyse(parse_chart(f"key: C\nverse:\n{bars}\n")))


def test_moves_of_the_bass_and_of_the_roots_have_their_own_lines() -> None:
    text = told("| C | F/A | G/B | C |")
    assert "  roots from C: up a fourth, up a whole step, up a fourth" in text
    assert "  bass C A B C\n" in text
    assert "    bass C to A: down a minor third: " in text
    assert "C to F" not in text
    assert "bass" not in told("| C | F | G | C |")


@pytest.mark.parametrize(
    ("roots", "words"),
    [
        ([0, 5, 0], "from C: up a fourth, back"),
        ([0, 5, 0, 5], "from C: up a fourth, back, up a fourth"),
        ([0, 9, 0, 7, 9], "from C: down a minor third, back, down a fourth, up a whole step"),
        ([0, 6, 0], "from C: down a tritone, back"),
    ],
)
def test_a_move_that_is_undone_goes_back(roots: list[int], words: str) -> None:
    assert description_words(describe(roots), SPELLING) == words


def test_a_move_is_explained_once_a_song() -> None:
    bars = "| C | F | G | C |\nchorus:\n| F | Bb | C | F |\nbridge:\n| Am | Dm | Em | Am |"
    text = told(bars)
    assert text.count(": up a fourth: same fret, next string up") == 1
    assert text.count(": up a whole step: up two frets") == 1


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ("| C | Am | F | G | C | Am | F | C |", "4 bars, twice; odd one out bar 8: C"),
        ("| C | Am | F | G | C | Em | F | G |", "4 bars, twice; odd one out bar 6: Em"),
        (
            "| C | Am | F | G | Em | Am | F | G | C | Am | F | G | Em | Am | G | C |",
            "8 bars, twice; odd ones out bar 15: G, bar 16: C",
        ),
        ("| C | Am | F | G | C | Am | F | G |", ""),
        ("| C | Am | F | G | C | Em | Dm | G |", ""),
        ("| C | G | C | Am | C | G |", ""),
    ],
)
def test_the_odd_bar_out(bars: str, words: str) -> None:
    lines = [line.strip() for line in told(bars).splitlines()]
    assert [line for line in lines if " odd " in line and "roots" not in line] == (
        [words] if words else []
    )
