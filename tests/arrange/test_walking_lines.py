"""Walking lines over hundreds of random progressions.

The rules are common practice, no source; chord tones are mir_eval's.
"""

from collections.abc import Iterator
from itertools import pairwise
from random import Random
from typing import NamedTuple

import pytest

from groove.events import Role
from tests.arrange.random_songs import KEYS, chord_classes, progression, root_class
from tests.arrange.songs import chart, play, struck

PROGRESSIONS = 520
BARS = 5
BEAT_TICKS = 960
FIFTH_BELOW, FIFTH_ABOVE = -5, 7


class Walk(NamedTuple):
    """The notes over one chord, one a beat, and the first note of the next."""

    symbol: str
    pitches: list[int]
    goal: int
    first_role: Role

    @property
    def tones(self) -> frozenset[int]:
        """The pitch classes of the chord with its slash note."""
        return chord_classes(self.symbol) | {root_class(self.symbol)}


def walked(seed: int) -> Iterator[Walk]:
    """Yield what is walked over each chord of a random progression in a random key."""
    random = Random(seed)
    bars = progression(random, BARS, two_a_bar=True)
    text = chart({"verse": [*bars, "C"]}, feel="walking", head=f"seed: {seed % 7}")
    performance = play(text.replace("key: D", f"key: {random.choice(KEYS)}"))
    by_tick = {note.grid_tick: note for note in struck(performance)}
    spans = [
        (bar.start_tick + offset, symbol)
        for bar in performance.bars
        for offset, symbol in bar.chords
    ]
    for (start, symbol), (end, _) in pairwise(spans):
        beats = range(start, end, BEAT_TICKS)
        pitches = [by_tick[tick].pitch for tick in beats]
        yield Walk(symbol, pitches, by_tick[end].pitch, by_tick[start].origin.role)


@pytest.fixture(scope="module")
def walks() -> list[Walk]:
    """Return the walks over more than three thousand chords."""
    found = [walk for seed in range(PROGRESSIONS) for walk in walked(seed)]
    assert len(found) > 3000
    assert sum(len(walk.pitches) == 4 for walk in found) > 2000
    return found


def test_each_chord_begins_on_its_root_or_slash_note(walks: list[Walk]) -> None:
    assert [w for w in walks if w.pitches[0] % 12 != root_class(w.symbol)] == []


def test_the_note_on_the_change_is_named_as_the_chart_writes_it(walks: list[Walk]) -> None:
    slashes = [w for w in walks if "/" in w.symbol]
    assert len(slashes) > 400
    assert [w for w in slashes if w.first_role is not Role.SLASH] == []
    assert [w for w in walks if "/" not in w.symbol and w.first_role is not Role.ROOT] == []


def test_strong_beats_have_chord_tones(walks: list[Walk]) -> None:
    strong = [(w, pitch) for w in walks for pitch in w.pitches[::2]]
    assert len(strong) > 5000
    assert [w for w, pitch in strong if pitch % 12 not in w.tones] == []


def test_a_note_between_is_a_chord_tone_or_lies_between_two_steps(walks: list[Walk]) -> None:
    between = [
        (w, before, note, after)
        for w in walks
        for before, note, after in zip(w.pitches, w.pitches[1:], w.pitches[2:], strict=False)
    ]
    passing = [entry for entry in between if entry[2] % 12 not in entry[0].tones]
    assert len(passing) > 700
    leaps = [e for e in passing if abs(e[2] - e[1]) > 2 or abs(e[3] - e[2]) > 2]
    assert leaps == []


def test_the_last_beat_leads_by_a_step_or_from_the_fifth(walks: list[Walk]) -> None:
    steps = fifths = 0
    for walk in walks:
        distance = walk.pitches[-1] - walk.goal
        assert abs(distance) in (1, 2) or distance in (FIFTH_BELOW, FIFTH_ABOVE), walk
        steps += abs(distance) <= 2
        fifths += abs(distance) > 2
    assert steps > 4 * fifths > 0


def test_an_approach_never_passes_its_goal(walks: list[Walk]) -> None:
    stepped = [w for w in walks if abs(w.pitches[-1] - w.goal) <= 2]
    assert len(stepped) > 2000
    passed = [w for w in stepped if (w.pitches[-2] - w.goal) * (w.pitches[-1] - w.goal) < 0]
    assert passed == []


def test_no_leap_over_an_octave_and_no_note_twice_in_a_row(walks: list[Walk]) -> None:
    moves = [
        (walk, after - before)
        for walk in walks
        for before, after in pairwise([*walk.pitches, walk.goal])
    ]
    assert len(moves) > 10000
    assert [walk for walk, move in moves if not 0 < abs(move) <= 12] == []
    assert sum(abs(move) <= 2 for _, move in moves) > len(moves) / 2
