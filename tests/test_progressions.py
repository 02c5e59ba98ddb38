"""No chart, test, table or made-up song is built of fifths that step down pair by pair.

Such a loop is tied to one record.  Rule of the house, no source; a pair is a root and the one a
fifth above it, and the circle of fifths, whose pairs fall, is everybody's.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from groove.chart.degrees import parse_degree_chord
from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.theory.chords import Chord, parse_chord
from tests.arrange.random_songs import progression
from tests.conftest import ROOT
from tests.harmony.progressions import C_MAJOR, FAMILIES, made_songs
from tests.strategies_chart import example_charts

PAIRS = 3
NO_WORD = re.compile(r"[^\w#♭♯°ø△+/<>]+")
FIFTH_UP, NEXT_PAIR_LOWER = {7}, {3, 4}
"""In semitones: from a pair's second root up to the next pair's first, a step below this one's."""

LITERAL = r'''(?:"""[\s\S]*?"""|"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*')'''
ROW_OF_LITERALS = re.compile(rf"{LITERAL}(?:[\s,+]*[rbfu]{{0,2}}{LITERAL})*")


def steps_down_in_fifths(roots: Iterable[int]) -> bool:
    """Tell whether three pairs of a root and its fifth follow each other, each a step lower."""
    moves = [(after - before) % 12 for before, after in pairwise(roots)]
    moves = [move for move in moves if move]
    shape = ([FIFTH_UP, NEXT_PAIR_LOWER] * PAIRS)[:-1]
    return any(
        all(move in wanted for move, wanted in zip(moves[at:], shape, strict=False))
        for at in range(len(moves) - len(shape) + 1)
    )


def numeral(word: str) -> Chord:
    return parse_degree_chord(word, C_MAJOR)


@cache
def root_of(word: str, read: Callable[[str], Chord]) -> int | None:
    """Return the root of a word that is a chord."""
    try:
        return read(word.strip("<>")).root.pitch_class
    except ValueError:
        return None


def roots_of(words: Iterable[str], read: Callable[[str], Chord]) -> list[int]:
    """Return the roots of those words that are chords."""
    found = (root_of(word, read) for word in words)
    return [root for root in found if root is not None]


def texts(path: Path) -> Iterator[str]:
    """Yield every text that a test or a document holds."""
    source = path.read_text(encoding="utf-8")
    yield from literals(source) if path.suffix == ".py" else [source]


def literals(source: str) -> Iterator[str]:
    """Yield the texts that a module holds; those of one list or one piece after another as one.

    By their quotes alone, for to parse all tests takes seconds.
    """
    for found in ROW_OF_LITERALS.finditer(source):
        yield found[0].replace("\\n", " ")


@pytest.mark.parametrize("home", range(12))
@pytest.mark.parametrize("step", [1, 2])
def test_such_a_chain_is_found_in_every_key(home: int, step: int) -> None:
    chain = [(home - step * pair + up) % 12 for pair in range(PAIRS) for up in (0, 7)]
    assert steps_down_in_fifths([(home + 5) % 12, *chain])
    assert not steps_down_in_fifths(chain[:-1])
    assert not steps_down_in_fifths((home + 5 * place) % 12 for place in range(12))


def module_texts() -> Iterator[str]:
    """Yield modules that hold such a chain, each in another way; it is made, not written."""
    names = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
    chain = [names[(4 - 2 * pair + up) % 12] for pair in range(PAIRS) for up in (0, 7)]
    line = " | ".join(chain)
    yield f"A = {chain!r}\n"
    yield 'A = """a song:\n| ' + line + ' |"""  # it\'s one\n'
    yield 'A = "verse:' + "\\n".join(["", *chain]) + '"\n'
    yield f'f("| {chain[0]} |"\n  f"| {" | ".join(chain[1:])} |")\n'


def test_such_a_chain_is_found_in_a_module() -> None:
    compared = 0
    for source in module_texts():
        compile(source, "module", "exec")
        found = [roots_of(re.split(NO_WORD, text), parse_chord) for text in literals(source)]
        assert any(map(steps_down_in_fifths, found)), source
        compared += 1
    assert compared == 4


def test_no_example_chart_has_it() -> None:
    compared = 0
    for text in example_charts():
        chords = [span.chord for bar in unroll(parse_chart(text)) for span in bar.chords]
        roots = [chord.root.pitch_class for chord in chords if chord]
        assert not steps_down_in_fifths(roots)
        compared += len(roots)
    assert compared >= 400


def test_no_text_of_a_test_a_table_or_a_document_has_it() -> None:
    files = [*ROOT.glob("*.md"), *ROOT.glob("shared/**/*.t*"), *ROOT.glob("tests/**/*.py")]
    compared = 0
    for path in files:
        for text in texts(path):
            words = re.split(NO_WORD, text)
            if len(words) < 2 * PAIRS:
                continue
            for read in (parse_chord, numeral):
                roots = roots_of(words, read)
                assert not steps_down_in_fifths(roots), f"{path}: {text[:60]}"
                compared += len(roots) >= 2 * PAIRS
    assert compared >= 200


def test_no_loop_of_the_table_has_it_when_it_comes_round() -> None:
    compared = 0
    for family in FAMILIES:
        for loop in (*family.verses, *family.choruses, *family.bridges, *family.cadences):
            assert not steps_down_in_fifths(roots_of(loop.split() * PAIRS, numeral)), loop
            compared += 1
    assert compared >= 250


@pytest.mark.parametrize(("seed", "count"), [("tune", 500), ("test", 150), ("bench", 100)])
def test_no_made_up_song_has_it(seed: str, count: int) -> None:
    songs = made_songs(seed, count)
    assert len(songs) == count
    for song in songs:
        chords = [chord for _, bars in song.sections for bar in bars for chord in bar]
        assert not steps_down_in_fifths(chord.root.pitch_class for chord in chords)


def test_no_random_progression_of_the_bass_tests_has_it() -> None:
    compared = 0
    for seed in range(500):
        words = " ".join(progression(Random(seed), 8, two_a_bar=True)).split()
        assert not steps_down_in_fifths(roots_of(words, parse_chord))
        compared += len(words)
    assert compared >= 4000
