"""A walk over four choruses: in two, in four, up the neck, each time another way.

The rules are common practice, no source; chord tones are mir_eval's.
"""

from itertools import pairwise
from random import Random
from statistics import mean

import pytest

from groove.events import Note, Performance
from tests.arrange.random_songs import chord_classes, progression, root_class
from tests.arrange.songs import play_bass, struck

SONGS, BARS, TIMES = 8, 16, 4
BEAT_TICKS = 960


@pytest.fixture(scope="module")
def songs() -> list[Performance]:
    """Return songs of four choruses."""
    found = []
    for seed in range(SONGS):
        bars = " | ".join(progression(Random(seed), BARS, two_a_bar=True))
        text = f"feel: walking\nseed: {seed}\nform: head x{TIMES}, end\nhead:\n| {bars} |\n"
        found.append(play_bass(text + "end:\n| C |\n"))
    return found


class Chord:
    """A chord as it is walked: its notes, and the first one of the next."""

    def __init__(self, song: Performance, notes: dict[int, Note], here: int, after: int) -> None:
        """Take the notes from one change up to the next; ``here`` and ``after`` are ticks."""
        self.by_tick = {tick: note for tick, note in notes.items() if here <= tick < after}
        self.first, self.goal = notes[here], notes[after]
        self.symbol = self.first.origin.symbol
        self.chorus = self.first.origin.bar.occurrence
        self.is_head = self.first.origin.bar.bar_in_section == 1
        self.here = here

    @property
    def last(self) -> Note:
        """The last note before the next chord."""
        return self.by_tick[max(self.by_tick)]


@pytest.fixture(scope="module")
def chords(songs: list[Performance]) -> list[Chord]:
    """Return every chord of every song."""
    found = []
    for song in songs:
        notes = {note.grid_tick: note for note in struck(song)}
        changes = [bar.start_tick + onset.tick for bar in song.bars for onset in bar.chords]
        found += [Chord(song, notes, here, after) for here, after in pairwise(changes)]
    assert len(found) > SONGS * BARS * TIMES
    return found


def is_root(chord: Chord) -> bool:
    """Return whether a chord begins on its root or slash note."""
    return chord.first.pitch % 12 == root_class(chord.symbol)


def test_the_first_chorus_begins_each_chord_on_its_root(chords: list[Chord]) -> None:
    first = [chord for chord in chords if chord.chorus == 1]
    assert len(first) > SONGS * BARS
    assert [chord.symbol for chord in first if not is_root(chord)] == []


def test_later_choruses_begin_a_chord_on_its_third_or_fifth_now_and_then(
    chords: list[Chord],
) -> None:
    later = [chord for chord in chords if chord.chorus > 1]
    others = [chord for chord in later if not is_root(chord)]
    assert 0.05 <= len(others) / len(later) <= 0.25
    assert not any(chord.is_head for chord in others)
    for chord in others:
        above = (chord.first.pitch - root_class(chord.symbol)) % 12
        assert above in (3, 4, 7)
        assert chord.first.pitch % 12 in chord_classes(chord.symbol)
    assert len(others) > 25


def test_strong_beats_have_chord_tones(chords: list[Chord]) -> None:
    compared = 0
    for chord in chords:
        tones = chord_classes(chord.symbol) | {root_class(chord.symbol)}
        for tick, note in chord.by_tick.items():
            if (tick - chord.here) % (2 * BEAT_TICKS) == 0:
                assert note.pitch % 12 in tones, chord.symbol
                compared += 1
    assert compared > 750


def test_the_last_note_before_a_change_is_mostly_a_step_from_it(chords: list[Chord]) -> None:
    in_four = [chord for chord in chords if chord.chorus > 1 and len(chord.by_tick) > 1]
    steps = sum(abs(chord.last.pitch - chord.goal.pitch) <= 2 for chord in in_four)
    assert len(in_four) > 250
    assert 0.6 <= steps / len(in_four) <= 0.9


def test_the_first_chorus_is_in_two_and_the_others_in_four(songs: list[Performance]) -> None:
    compared = 0
    for song in songs:
        for bar in song.bars[:-1]:
            in_bar = [n.grid_tick for n in struck(song) if n.origin.bar == bar.ref]
            beats = {(tick - bar.start_tick) / BEAT_TICKS for tick in in_bar}
            whole = {beat for beat in beats if beat == int(beat)}
            expected = {0, 2} if bar.ref.occurrence == 1 else {0, 1, 2, 3}
            assert whole == expected, bar
            # In two an eighth may lead on, just before a chord.
            assert beats - whole <= ({1.5, 3.5} if bar.ref.occurrence == 1 else set())
            compared += 1
    assert compared == SONGS * BARS * TIMES


def test_the_third_chorus_lies_higher_than_the_second(songs: list[Performance]) -> None:
    for song in songs:
        means = [
            mean(n.pitch for n in struck(song) if n.origin.bar.occurrence == chorus)
            for chorus in (2, 3)
        ]
        assert means[1] >= means[0] + 2
    assert len(songs) == SONGS


def test_no_leap_over_an_octave_and_no_note_twice_in_a_row(songs: list[Performance]) -> None:
    moves = [
        (a, b)
        for song in songs
        for a, b in pairwise(n for n in struck(song) if n.origin.bar.section == "head")
    ]
    assert len(moves) > 1000
    assert max(abs(b.pitch - a.pitch) for a, b in moves) <= 12
    # One chord's second root in a row is its own beginning anew.
    repeats = [(a, b) for a, b in moves if a.pitch == b.pitch]
    assert len(repeats) <= len(moves) / 50


def test_the_note_before_another_head_leads_to_it(chords: list[Chord]) -> None:
    others = [
        before
        for before, chord in pairwise(chords)
        if not is_root(chord) and chord.chorus > 1 and len(before.by_tick) > 1
    ]
    steps = sum(abs(chord.last.pitch - chord.goal.pitch) <= 2 for chord in others)
    assert len(others) > 25
    assert steps / len(others) >= 0.6


def test_in_two_an_eighth_leads_only_where_another_root_comes() -> None:
    leading = 0
    for seed in range(10):
        bars = "C | C | C7 | Am7 | Am | D7 | G | G7"
        song = play_bass(f"feel: walking\nseed: {seed}\nform: head x2\nhead:\n| {bars} |\n")
        for note in struck(song):
            bar = note.origin.bar
            if bar.occurrence == 1 and note.grid_tick % BEAT_TICKS:
                # Bars 3, 5 and 6 lead to another root, and 8 back to the first.
                assert bar.bar_in_section in (3, 5, 6, 8)
                leading += 1
    assert leading > 5


def test_a_walk_that_is_in_four_from_the_start_takes_other_ways_too() -> None:
    """The same changes in one register: the second chorus is not the first."""
    bars_seen = same_as_first = 0
    for seed in range(SONGS):
        row = " | ".join(progression(Random(seed), BARS))
        head = f"feel: walking\nbass: walking\nseed: {seed}\nform: head x2, end\n"
        song = play_bass(f"{head}head:\n| {row} |\nend:\n| C |\n")
        pitches: dict[tuple[int, int], list[int]] = {}
        for note in struck(song):
            bar = note.origin.bar
            pitches.setdefault((bar.occurrence, bar.bar_in_section), []).append(note.pitch)
        for number in range(2, BARS + 1):
            bars_seen += 1
            same_as_first += pitches[2, number] == pitches[1, number]
    assert bars_seen == SONGS * (BARS - 1)
    assert same_as_first <= bars_seen * 0.35


def test_a_chord_without_a_third_is_answered_by_its_fifth() -> None:
    for seed in range(12):
        song = play_bass(
            f"feel: walking\nseed: {seed}\nform: head x2\nhead:\n| F5 | G5 | F5 | A5 |\n"
        )
        answers = [n for n in struck(song) if n.grid_tick % (4 * BEAT_TICKS) == 2 * BEAT_TICKS]
        first = [n for n in answers if n.origin.bar.occurrence == 1]
        assert {(n.pitch - root_class(n.origin.symbol[:1])) % 12 for n in first} <= {0, 7}
    assert len(first) == 4


def test_a_walk_from_a_third_or_fifth_seldom_turns_back_to_it(chords: list[Chord]) -> None:
    """A line that goes to and fro between two notes stands still, whatever note it began on."""
    heads = [chord for chord in chords if len(chord.by_tick) >= 4 and not is_root(chord)]
    third = [chord.by_tick.get(chord.here + 2 * BEAT_TICKS) for chord in heads]
    turned = [
        c.symbol
        for c, note in zip(heads, third, strict=True)
        if note and note.pitch == c.first.pitch
    ]
    assert len(heads) > 15
    assert len(turned) <= len(heads) / 10
