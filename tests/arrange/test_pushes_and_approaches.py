"""How chords are reached: a half step where there is one, and a push that takes its place alone.

Rules: common practice, no source.  Steps of the major scale are 2 2 1 2 2 2 1 semitones.
"""

from collections.abc import Iterator
from itertools import accumulate, pairwise

import pytest
from hypothesis import given

from groove.events import Note, Performance, Role
from tests.arrange.songs import LIBRARY, METERS, bass, chart, charts, play, struck

C_MAJOR = {0, *accumulate((2, 2, 1, 2, 2, 2))}
TRIADS = ("C", "Dm", "Em", "F", "G", "Am")
"""Triads of C major, so that the chord's scale is the key's."""
GOALS = ("Db", "Eb", "Gb", "Ab", "Bb")
"""Roots outside it: only these have a half and a whole step of the scale on one side."""
TRITONE = 6


def led_alone(performance: Performance, chord: str) -> Iterator[tuple[Note, Note]]:
    """Yield (note before, approach) of every approach over a chord that is no part of a run."""
    for before, note in pairwise(struck(performance)):
        roles = (before.origin.role, note.origin.role)
        alone = roles[0] is not Role.APPROACH and roles[1] is Role.APPROACH
        if alone and note.origin.symbol == chord:
            yield before, note


def test_of_two_steps_into_a_root_the_half_step_is_played() -> None:
    compared = 0
    for feel in ("ballad", "five-four", "six-eight"):
        for chord in TRIADS:
            for goal in GOALS:
                head = f"meter: {METERS.get(feel, '4/4')}"
                text = chart({"verse": [chord, chord, chord, goal, chord]}, feel=feel, head=head)
                for before, note in led_alone(play(text.replace("key: D", "key: C")), chord):
                    assert note.origin.target_pitch is not None
                    root = note.origin.target_pitch
                    side = 1 if note.pitch > root else -1
                    half, whole = root + side, root + 2 * side
                    free = half != before.pitch and abs(half - before.pitch) % 12 != TRITONE
                    if free and {half % 12, whole % 12} <= C_MAJOR:
                        assert note.pitch == half, (feel, chord, goal)
                        compared += 1
    assert compared >= 20


def overlaps(performance: Performance) -> list[tuple[Note, Note]]:
    """Return the strokes of the bass that are still held when the next one begins."""
    return [
        (held, after)
        for held, after in pairwise(bass(performance))
        if held.grid_tick + held.written_ticks > after.grid_tick
    ]


@given(charts())
def test_the_part_has_one_note_at_a_time(text: str) -> None:
    performance = play(text)
    assert len(bass(performance)) >= 3
    assert overlaps(performance) == []


IN_THREES = ("shuffle", "six-eight", "slow twelve-eight")
"""Feels whose beat is felt in three: it has no sixteenth to push by."""
PUSHES = [
    (feel, push)
    for feel in sorted(LIBRARY.feels)
    for push in ("<", "16<")
    if push == "<" or feel not in IN_THREES
]


@pytest.mark.parametrize(("feel", "push"), PUSHES)
def test_a_pushed_note_ends_where_the_next_stroke_begins(feel: str, push: str) -> None:
    head = f"meter: {METERS.get(feel, '4/4')}"
    performance = play(chart({"verse": ["D", *[f"{push}G", f"{push}D"] * 4]}, feel=feel, head=head))
    pushed = [note for note in bass(performance) if note.origin.pushed_ticks]
    assert len(pushed) == 8
    assert overlaps(performance) == []
