"""How chords are reached: a half step where there is one, and a push that takes its place alone.

Rules: common practice, no source.  Steps of the major scale are 2 2 1 2 2 2 1 semitones.
"""

from collections.abc import Iterator
from itertools import accumulate, pairwise
from math import gcd

import pytest
from hypothesis import given

from groove.events import Note, Performance, Role
from tests.arrange.songs import IN_THREES, LIBRARY, METERS, bass, chart, charts, play_bass, struck

C_MAJOR = {0, *accumulate((2, 2, 1, 2, 2, 2))}
TRIADS = ("C", "Dm", "Em", "F", "G", "Am")
"""Triads of C major, so that the chord's scale is the key's."""
GOALS = ("Db", "Eb", "Gb", "Ab", "Bb")
"""Roots outside it: only these have a half and a whole step of the scale on one side."""
TRITONE, FIFTH = 6, 7


def led_alone(performance: Performance, chord: str) -> Iterator[tuple[Note, Note]]:
    """Yield (note before, approach) of every approach over a chord that is no part of a run."""
    for before, note in pairwise(struck(performance)):
        roles = (before.origin.role, note.origin.role)
        alone = roles[0] is not Role.APPROACH and roles[1] is Role.APPROACH
        if alone and note.origin.symbol == chord:
            yield before, note


def test_of_two_steps_into_a_root_the_half_step_is_played() -> None:
    """But the scale's own way goes on by step, D C Bb, and no sixth is leapt for a half step."""
    compared = 0
    for feel in ("ballad", "five-four", "six-eight"):
        for chord in TRIADS:
            bars = [bar for goal in GOALS for bar in (chord, chord, goal, chord)]
            text = chart({"verse": [*bars, chord]}, feel=feel, head=f"meter: {METERS[feel]}")
            for before, note in led_alone(play_bass(text.replace("key: D", "key: C")), chord):
                assert note.origin.target_pitch is not None
                root = note.origin.target_pitch
                side = 1 if note.pitch > root else -1
                half, whole = root + side, root + 2 * side
                free = half != before.pitch and abs(half - before.pitch) % 12 != TRITONE
                goes_on = abs(whole - before.pitch) in (1, 2)
                free = free and not goes_on and abs(half - before.pitch) <= FIFTH
                if free and {half % 12, whole % 12} <= C_MAJOR:
                    assert note.pitch == half, (feel, chord, root)
                    compared += 1
    assert compared >= 15


def lead_alone_after_a_degree() -> Iterator[tuple[list[int], int]]:
    """Yield the last two pitches before every root of another chord, and that root.

    One approach leads into it: chords from every root to every other, major and minor, round by
    one interval after the other, in one of two feels in turn.
    """
    roots = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
    rounds = [(q, step, start) for q in ("", "m") for step in range(1, 12)
              for start in range(gcd(step, 12))]  # fmt: skip
    for number, (quality, step, start) in enumerate(rounds):
        feel = ("straight eighths", "ballad")[number % 2]
        places = range(start, start + 12 * step // gcd(step, 12) + 1, step)
        bars = [f"{roots[place % 12]}{quality}" for place in places for _ in range(4)]
        line = struck(play_bass(chart({"verse": bars}, feel=feel)))
        by_tick = {note.grid_tick: number for number, note in enumerate(line)}
        for change in range(1, len(places)):
            first = by_tick[change * 4 * 3840]
            yield [note.pitch for note in line[first - 2 : first]], line[first].pitch


def test_two_notes_do_not_walk_away_from_the_root_that_they_lead_to() -> None:
    """From the fifth a half step below Eb not to Db: from C by step, D, Eb."""
    compared = 0
    for pitches, goal in lead_alone_after_a_degree():
        before, last = (pitch - goal for pitch in pitches)
        assert 1 <= abs(last) <= 2
        assert not (before * last > 0 and abs(before) < abs(last)), (pitches, goal)
        assert before != last, (pitches, goal)
        compared += 1
    assert compared == 12 * 2 * 11


@pytest.mark.parametrize("feel", ["straight eighths", "ballad"])
@pytest.mark.parametrize(
    ("key", "chord", "goal", "steps"),
    [
        ("Bb", "Gm7", "Eb", [36, 38, 39]),
        ("G", "Em", "C", [33, 35, 36]),
        ("C", "Em7", "C", [33, 35, 36]),
        ("D", "F#m", "D", [35, 37, 38]),
        ("C", "G", "Eb", [36, 38, 39]),
    ],
)
def test_a_major_third_down_is_led_into_by_the_keys_steps(
    feel: str, key: str, chord: str, goal: str, steps: list[int]
) -> None:
    """The fifth of the chord lies a half step below the goal: C D Eb (36 38 39), A B C (33 ...)."""
    text = chart({"verse": [chord] * 4 + [goal] * 4}, feel=feel).replace("key: D", f"key: {key}")
    line = struck(play_bass(text))
    first = next(n for n, note in enumerate(line) if note.grid_tick == 4 * 3840)
    assert [note.pitch for note in line[first - 2 : first + 1]] == steps


def overlaps(performance: Performance) -> list[tuple[Note, Note]]:
    """Return the strokes of the bass that are still held when the next one begins."""
    return [
        (held, after)
        for held, after in pairwise(bass(performance))
        if held.grid_tick + held.written_ticks > after.grid_tick
    ]


@given(charts())
def test_the_part_has_one_note_at_a_time(text: str) -> None:
    performance = play_bass(text)
    assert len(bass(performance)) >= 3
    assert overlaps(performance) == []


PUSHES = [
    (feel, push)
    for feel in sorted(LIBRARY.feels)
    for push in ("<", "16<")
    if push == "<" or feel not in IN_THREES
]


@pytest.mark.parametrize(("feel", "push"), PUSHES)
def test_a_pushed_note_ends_where_the_next_stroke_begins(feel: str, push: str) -> None:
    head = f"meter: {METERS.get(feel, '4/4')}"
    performance = play_bass(
        chart({"verse": ["D", *[f"{push}G", f"{push}D"] * 4]}, feel=feel, head=head)
    )
    pushed = [note for note in bass(performance) if note.origin.pushed_ticks]
    assert len(pushed) == 8
    assert overlaps(performance) == []


def test_over_a_slash_chord_its_own_notes_alone_lead_on() -> None:
    """E B G# over E major, and the slash note under them: no step of a scale in a note's place."""
    slashes = {"E/G#": {4, 8, 11}, "C/E": {0, 4, 7}, "Gm/Bb": {7, 10, 2}, "F/A": {5, 9, 0}}
    compared = 0
    for feel in ("straight eighths", "ballad"):
        for chord, tones in slashes.items():
            for goal in ("C", "Db", "D", "Eb", "F", "Gb", "G", "Ab", "A", "B"):
                line = struck(play_bass(chart({"verse": [chord] * 4 + [goal] * 4}, feel=feel)))
                own = [note for note in line if note.grid_tick < 4 * 3840]
                own = [note for note in own if note.origin.role is not Role.APPROACH]
                assert {note.pitch % 12 for note in own} <= tones
                compared += len(own)
    assert compared > 1000


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_a_chord_that_gives_way_to_a_push_leaves_its_bar_to_it(feel: str) -> None:
    """In bars of one quarter a chord pushed by a quarter takes the whole bar before it."""
    text = "tempo: 100\nkey: D\nmeter: 1/4\nfeel: " + feel
    performance = play_bass(text + "\nintro:\n| G | G |\nverse:\n| 4<A | D | D |\n")
    if performance.bars[0].feel == feel:
        struck_at = {note.grid_tick: note.origin.symbol for note in struck(performance)}
        assert struck_at[960] == "A"


def test_a_push_over_a_rest_ends_where_the_riff_begins() -> None:
    # One voice (common practice, no source): an eighth before the bar line, a sixteenth after it.
    riff = "riff late:\n  . R . . 5 . . . R . . . 5 . . .\n"
    performance = play_bass(f"{riff}feel: straight eighths\nverse:\nbass: late\n| D | <G |\n")
    [pushed] = [note for note in bass(performance) if note.origin.pushed_ticks]
    assert (pushed.grid_tick, pushed.written_ticks) == (4 * 960 - 480, 480 + 240)
    assert overlaps(performance) == []
