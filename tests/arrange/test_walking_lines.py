"""Walking lines over many random progressions.

The rules are common practice, no source; chord tones are mir_eval's.
"""

from collections.abc import Iterator
from itertools import pairwise
from random import Random
from typing import NamedTuple

import pytest

from groove.events import Role
from tests.arrange.random_songs import KEYS, chord_classes, progression, root_class, symbol
from tests.arrange.songs import chart, play_bass, struck

PROGRESSIONS, IN_TWOS = 30, 35
BARS = 12
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

    @property
    def is_beside(self) -> bool:
        """Whether the goal is a half step from the root, with one note between."""
        return len(self.pitches) == 2 and abs(self.pitches[0] - self.goal) == 1


def walked(seed: int) -> Iterator[Walk]:
    """Yield what is walked over each chord of a random progression in a random key."""
    random = Random(seed)
    yield from walks_of(progression(random, BARS, two_a_bar=True), random, seed)


def walks_of(bars: list[str], random: Random, seed: int) -> Iterator[Walk]:
    """Yield what is walked over each chord of some bars in a random key."""
    text = chart({"verse": [*bars, "C"]}, feel="walking", head=f"seed: {seed % 7}")
    performance = play_bass(text.replace("key: D", f"key: {random.choice(KEYS)}"))
    by_tick = {note.grid_tick: note for note in struck(performance)}
    spans = [
        (bar.start_tick + onset.tick, onset.symbol)
        for bar in performance.bars
        for onset in bar.chords
    ]
    for (start, name), (end, _) in pairwise(spans):
        beats = range(start, end, BEAT_TICKS)
        pitches = [by_tick[tick].pitch for tick in beats]
        yield Walk(name, pitches, by_tick[end].pitch, by_tick[start].origin.role)


@pytest.fixture(scope="module")
def walks() -> list[Walk]:
    """Return the walks over some four hundred chords."""
    found = [walk for seed in range(PROGRESSIONS) for walk in walked(seed)]
    assert len(found) > 400
    assert sum(len(walk.pitches) == 4 for walk in found) > 250
    return found


def test_each_chord_begins_on_its_root_or_slash_note(walks: list[Walk]) -> None:
    assert [w for w in walks if w.pitches[0] % 12 != root_class(w.symbol)] == []
    assert len(walks) > 400


def test_the_note_on_the_change_is_named_as_the_chart_writes_it(walks: list[Walk]) -> None:
    slashes = [w for w in walks if "/" in w.symbol]
    assert len(slashes) > 50
    assert [w for w in slashes if w.first_role is not Role.SLASH] == []
    assert [w for w in walks if "/" not in w.symbol and w.first_role is not Role.ROOT] == []


def test_strong_beats_have_chord_tones(walks: list[Walk]) -> None:
    strong = [(w, pitch) for w in walks for pitch in w.pitches[::2]]
    assert len(strong) > 660
    assert [w for w, pitch in strong if pitch % 12 not in w.tones] == []


def test_a_note_between_is_a_chord_tone_or_lies_between_two_steps(walks: list[Walk]) -> None:
    between = [
        (w, before, note, after)
        for w in walks
        for before, note, after in zip(w.pitches, w.pitches[1:], w.pitches[2:], strict=False)
    ]
    passing = [entry for entry in between if entry[2] % 12 not in entry[0].tones]
    assert len(passing) > 90
    leaps = [e for e in passing if abs(e[2] - e[1]) > 2 or abs(e[3] - e[2]) > 2]
    assert leaps == []


def test_the_last_beat_leads_by_a_step_or_from_the_fifth(walks: list[Walk]) -> None:
    steps = fifths = 0
    for walk in walks:
        distance = walk.pitches[-1] - walk.goal
        leads = abs(distance) in (1, 2) or distance in (FIFTH_BELOW, FIFTH_ABOVE)
        assert leads or (walk.is_beside and walk.pitches[-1] % 12 in walk.tones), walk
        steps += abs(distance) <= 2
        fifths += distance in (FIFTH_BELOW, FIFTH_ABOVE)
    assert steps > 4 * fifths > 0


def test_an_approach_never_passes_its_goal(walks: list[Walk]) -> None:
    stepped = [w for w in walks if abs(w.pitches[-1] - w.goal) <= 2 and not w.is_beside]
    assert len(stepped) > 260
    passed = [w for w in stepped if (w.pitches[-2] - w.goal) * (w.pitches[-1] - w.goal) < 0]
    assert passed == []


def test_a_line_beside_its_goal_does_not_step_away_from_it(walks: list[Walk]) -> None:
    beside = [w for w in walks if len(w.pitches) > 2 and abs(w.pitches[-2] - w.goal) == 1]
    # Few: a line that can comes to its last beat with room for a step.
    assert len(beside) > 0
    away = [w for w in beside if w.pitches[-1] - w.goal == 2 * (w.pitches[-2] - w.goal)]
    assert [w for w in away if w.pitches[-1] % 12 not in w.tones] == []


def two_beat_walks() -> Iterator[Walk]:
    """Yield the walks over chords of two beats, in progressions of two a bar."""
    for seed in range(IN_TWOS):
        random = Random(f"two beats {seed}")
        bars = [f"{symbol(random)} {symbol(random)}" for _ in range(BARS)]
        yield from walks_of(bars, random, seed)


def test_over_two_beats_no_note_turns_away_from_the_goal() -> None:
    moves = dict.fromkeys((-2, -1, 1, 2), 0)
    wrong = []
    for walk in two_beat_walks():
        first, second = walk.pitches
        move = walk.goal - first
        if abs(move) not in (1, 2):
            continue
        moves[move] += 1
        away = (second - walk.goal) * move < 0 and abs(second - walk.goal) > abs(move)
        is_tone = second % 12 in walk.tones
        is_fifth = second - walk.goal in (FIFTH_BELOW, FIFTH_ABOVE)
        if away and not is_tone and not (abs(move) == 2 and is_fifth):
            wrong.append(walk)
        # Enclosed by a half step, or by a tone of the chord: no other note from beyond.
        beyond = (second - walk.goal) * move > 0
        if beyond and abs(second - walk.goal) != 1 and not is_tone and not is_fifth:
            wrong.append(walk)
    assert min(moves.values()) > 30, moves
    assert wrong == []


def test_two_beats_on_e_flat_seven_enclose_d_or_go_on_in_the_chord() -> None:
    """Eb Db D, Eb Bb D or Eb G D: the E between has no place in the chord and leads away."""
    heard = set()
    for seed in range(10):
        text = chart({"verse": ["Cm7 Eb7", "D7", "G"]}, feel="walking", head=f"seed: {seed}")
        by_tick = {note.grid_tick: note.pitch for note in struck(play_bass(text))}
        heard.add(tuple(by_tick[beat * BEAT_TICKS] % 12 for beat in (2, 3, 4)))
    assert heard
    assert heard <= {(3, 1, 2), (3, 10, 2), (3, 7, 2)}


def test_no_leap_over_an_octave_and_no_note_twice_in_a_row(walks: list[Walk]) -> None:
    moves = [
        (walk, after - before)
        for walk in walks
        for before, after in pairwise([*walk.pitches, walk.goal])
    ]
    assert len(moves) > 1300
    assert [walk for walk, move in moves if not 0 < abs(move) <= 12] == []
    assert sum(abs(move) <= 2 for _, move in moves) > len(moves) / 2
