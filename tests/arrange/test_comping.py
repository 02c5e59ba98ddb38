"""The keys' voicings: least movement against every way there is, range, what is left out."""

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.arrange.voicings import CENTRE, chord_voicings, least_movement
from groove.events import Part, Performance
from groove.theory.chords import parse_chord
from tests.arrange.songs import LIBRARY, METERS, ODD, PLAIN, chart, play_keys

C3, C5 = 48, 72  # scientific names, C4 = 60


def size(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    """Return the least movement between two voicings, written for the test: recursion, no table."""

    def least(i: int, j: int) -> int:
        here = abs(first[i] - second[j])
        if i == 0 and j == 0:
            return here
        before = [(i - 1, j), (i, j - 1), (i - 1, j - 1)]
        return here + min(least(a, b) for a, b in before if a >= 0 and b >= 0)

    if len(first) == len(second):
        return sum(abs(a - b) for a, b in zip(first, second, strict=True))
    return least(len(first) - 1, len(second) - 1)


def cost(path: tuple[tuple[int, ...], ...], symbols: list[str]) -> float:
    """Return the cost of a path as stated: half the distance from C4, then every move.

    Two octaves where one voicing stands under two chords, as D and D/F#.
    """
    start = sum(abs(pitch - CENTRE) for pitch in path[0]) / 2
    alike = sum(
        24 for (a, b), (one, two) in zip(pairwise(path), pairwise(symbols), strict=True)
        if a == b and one != two
    )  # fmt: skip
    return start + alike + sum(size(a, b) for a, b in pairwise(path))


@settings(max_examples=40)
@given(st.lists(st.sampled_from(PLAIN + ODD), min_size=1, max_size=3), st.sampled_from((3, 4)))
def test_least_movement_equals_brute_force(symbols: list[str], count: int) -> None:
    chords = [parse_chord(symbol) for symbol in symbols]
    options = [chord_voicings(chord, count, has_bass=True)[:14] for chord in chords]
    led = tuple(least_movement(options, chords))
    best = min(cost(path, symbols) for path in product(*options))
    assert cost(led, symbols) == best


def voicings(performance: Performance) -> dict[int, set[int]]:
    """Return the keys' pitches by their grid tick."""
    found: dict[int, set[int]] = {}
    for note in performance.notes:
        if note.part is Part.KEYS:
            found.setdefault(note.grid_tick, set()).add(note.pitch)
    return found


@given(st.lists(st.sampled_from(PLAIN + ODD), min_size=4, max_size=8))
def test_range_and_out_of_the_basss_register(progression: list[str]) -> None:
    performance = play_keys(chart({"verse": progression}))
    keys = [note.pitch for note in performance.notes if note.part is Part.KEYS]
    assert keys
    assert min(keys) >= C3
    assert max(keys) <= C5


def test_the_root_is_left_to_the_bass_and_third_and_seventh_are_kept() -> None:
    # Common practice, no source; G7 by the printed table is G B D F.
    performance = play_keys(
        chart({"verse": ["G7", "G7", "G7", "G7", "C"]}, feel="straight eighths")
    )
    assert sum(tick < 4 * 3840 for tick in voicings(performance)) >= 4
    for tick, pitches in voicings(performance).items():
        if tick < 4 * 3840:
            classes = {pitch % 12 for pitch in pitches}
            assert 7 not in classes
            assert {11, 5} <= classes


@pytest.mark.parametrize(
    ("symbol", "root", "others"),
    [("E7/G#", 4, {2, 11}), ("Cmaj7/E", 0, {11, 7}), ("D7/C", 2, {6, 9}), ("Cm7/F", 0, {3, 10})],
)
@pytest.mark.parametrize("cell", ["pad", "held"])
def test_over_another_bass_the_keys_have_the_root(
    symbol: str, root: int, others: set[int], cell: str
) -> None:
    """Without it E7/G# would be heard as G#m7b5. Common practice, no source; spelled by hand."""
    heard = voicings(play_keys(chart({"verse": [symbol] * 4}, head=f"keys: {cell}")))
    assert len(heard) >= 4
    for pitches in heard.values():
        assert {root, *others} <= {pitch % 12 for pitch in pitches}


def test_alone_the_keys_keep_the_root() -> None:
    text = chart({"verse": ["G7", "G7", "C"]}, feel="straight eighths", head="bass: out")
    found = voicings(play_keys(text))
    assert {11, 5} <= {pitch % 12 for pitch in found[0]}
    assert 7 in {pitch % 12 for pitch in found[0]}


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_no_feel_leaves_the_range_on_any_root(feel: str) -> None:
    """Octaves as in a montuno too: a note doubled above C5 is doubled below instead."""
    # Each root once, in keys three half steps apart.
    bars = ["Dm7", "G7", "Cmaj7", "A7", "Fm7", "Bb7", "Ebmaj7", "Db7", "Bm7", "E7", "Abmaj7", "F#7"]
    performance = play_keys(chart({"verse": bars}, feel=feel, head=f"meter: {METERS[feel]}"))
    pitches = [note.pitch for note in performance.notes if note.part is Part.KEYS]
    assert len(pitches) >= 36
    assert min(pitches) >= C3 and max(pitches) <= C5


@pytest.mark.parametrize(
    ("symbol", "fifth"),
    [("Caug", 8), ("C7#5", 8), ("C9#5", 8), ("C7b5", 6), ("C9b5", 6), ("Cm7b5", 6), ("Cø7", 6)],
)
@pytest.mark.parametrize("cell", ["pad", "held"])
def test_an_altered_fifth_is_heard(symbol: str, fifth: int, cell: str) -> None:
    """What makes the chord is played, with three voices and with four; # and b are a half step."""
    heard = voicings(play_keys(chart({"verse": [symbol] * 4}, head=f"keys: {cell}")))
    assert len(heard) >= 4
    for pitches in heard.values():
        assert fifth in {pitch % 12 for pitch in pitches}


def pitches_by_bar(text: str) -> list[set[int]]:
    """Return the pitches that the keys play in each bar."""
    bars: dict[int, set[int]] = {}
    for note in play_keys(text).part_notes(Part.KEYS):
        bars.setdefault(note.origin.bar.played_bar, set()).add(note.pitch)
    return [bars[number] for number in sorted(bars)]


@pytest.mark.parametrize("chords", [("Em7", "G"), ("Am7", "C"), ("Dm7", "F")])
def test_a_change_between_chords_of_the_same_notes_is_heard(chords: tuple[str, str]) -> None:
    # Em7 without its root is G: one voicing under both would be no change (common practice,
    # no source).
    first, second, *_ = pitches_by_bar(chart({"verse": list(chords) * 2}, feel="ballad"))
    assert first != second


@pytest.mark.parametrize("quality", ["", "m", "7", "maj7", "m7", "9", "maj9", "m9", "13", "m7b5"])
def test_no_second_lies_at_the_bottom_of_a_voicing(quality: str) -> None:
    # Close intervals are muddy low down (common practice, no source).
    roots = ("C", "Eb", "F#", "A", "B", "D")
    text = chart({"verse": [root + quality for root in roots]}, head="keys: pad")
    gaps = [sorted(pitches)[1] - sorted(pitches)[0] for pitches in pitches_by_bar(text)]
    assert len(gaps) == 6
    assert min(gaps) >= 3
