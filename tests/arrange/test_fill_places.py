"""Which fill stands where: its size by the place in the form, its notes by the key and the hand.

Common practice, no source; scales are printed ones.
"""

from itertools import groupby
from random import Random

import pytest

from groove.arrange.degree_tones import wrong_third
from groove.events import Note, Performance, Role
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key
from tests.arrange.random_songs import KEYS, progression, root_class
from tests.arrange.songs import bass, chart, play_bass
from tests.arrange.test_fills import fits_a_hand

FEELS = ("straight eighths", "half-time", "sixteenths", "soul", "two-beat", "octaves")
E_MINOR = {4, 6, 7, 9, 11, 0, 2}


def fills_of(performance: Performance) -> list[tuple[Note, list[Note]]]:
    """Return every fill of the bass with the note before it."""
    line = bass(performance)
    found = []
    start = 0
    for is_fill, group in groupby(line, lambda note: note.origin.role is Role.FILL):
        notes = list(group)
        if is_fill and start:
            found.append((line[start - 1], notes))
        start += len(notes)
    return found


def test_fills_are_small_inside_a_section_and_large_before_a_chorus() -> None:
    inside: list[int] = []
    before_chorus: list[int] = []
    for seed in range(24):
        random = Random(f"sizes {seed}")
        bars = [progression(random, 8) for _ in range(2)]
        text = chart(
            {"verse": bars[0], "chorus": bars[1], "end": ["C", "C"]},
            feel=FEELS[seed % len(FEELS)],
            fills="many",
            # With a drummer, it is the drums that lead into a chorus.
            head=f"seed: {seed}\ndrums: out\nform: verse, chorus, verse, chorus, end",
        )
        for _, notes in fills_of(play_bass(text)):
            bar = notes[0].origin.bar
            if bar.bar_in_section == 4:
                inside.append(len(notes))
            elif bar.section == "verse":
                before_chorus.append(len(notes))
    assert len(inside) >= 20 and len(before_chorus) >= 10
    # A beat of eighths; before a chorus half a bar of them or more, where there is room.
    assert set(inside) == {2}
    assert sum(count >= 4 for count in before_chorus) >= 0.7 * len(before_chorus)
    assert max(before_chorus) == 6


@pytest.mark.parametrize("feel", FEELS)
def test_over_chords_without_a_third_fills_and_steps_keep_to_the_key(feel: str) -> None:
    """No G sharp over D5 or E5 in E minor: the ear hears the key's own third.

    Into the open E string from its own fifth the half step above it stays: there is no other.
    """
    rows = (["E5", "D5", "C5", "D5"], ["E5", "G5", "A5", "D5"], ["C5", "D5", "Esus4", "E5"],
            ["A5", "C5", "D5", "B5"], ["G5", "Dsus2", "E5", "D5"])  # fmt: skip
    compared = 0
    for seed in range(3):
        sections = {f"part {number}": row for number, row in enumerate(rows)}
        text = chart(sections, feel=feel, fills="many", head=f"seed: {seed}")
        for note in bass(play_bass(text.replace("key: D", "key: E minor"))):
            assert note.pitch % 12 != 8, (feel, note)
            if note.origin.role is Role.FILL or note.origin.target_pitch not in (None, 28):
                assert note.pitch % 12 in E_MINOR, (feel, note)
                compared += 1
    assert compared >= 22


@pytest.mark.parametrize(
    ("symbol", "key", "wrong"),
    [
        # E minor: E F# G A B C D, and D# that leads to E.
        ("E5", "E minor", 8), ("D5", "E minor", 5), ("Esus4", "E minor", 8),
        ("B5", "E minor", None),
        ("Bsus4", "E minor", None), ("E5", "A major", 7), ("Em", "A major", 8), ("E", "E minor", 7),
        ("Bb5", "C major", 1), ("Db5", "C major", None),
        ("E7#9", "A minor", None), ("E5", "E dorian", 8),
    ],
)  # fmt: skip
def test_the_third_that_a_chord_has_not(symbol: str, key: str, wrong: int | None) -> None:
    """Its own says so, else the key's, as printed scales have it; a chord with both has no wrong.

    Both B and D# belong to E minor's dominant; E and F of C major are both thirds of D flat.
    """
    assert wrong_third(parse_chord(symbol), parse_key(key)) == wrong


def test_fills_lie_under_one_hand_at_any_tempo() -> None:
    """With the root that each leads to; one finger a fret, or an open string."""
    compared = 0
    for seed in range(24):
        random = Random(f"hand {seed}")
        text = chart(
            {"verse": progression(random, 8), "chorus": progression(random, 8), "end": ["C"]},
            feel=FEELS[seed % len(FEELS)],
            fills="many",
            head=f"seed: {seed}\nform: verse, chorus, verse, chorus, end",
        )
        key = random.choice(KEYS)
        for _, notes in fills_of(play_bass(text.replace("key: D", f"key: {key}"))):
            target = notes[0].origin.target_pitch
            assert target is not None
            assert fits_a_hand([*(note.pitch for note in notes), target]), (seed, notes)
            compared += 1
    assert compared >= 48


@pytest.mark.parametrize(
    ("feel", "meter"), [("waltz", "3/4"), ("shuffle", "4/4"), ("octaves", "4/4")]
)
def test_the_largest_fill_leaves_beat_1_to_the_line(feel: str, meter: str) -> None:
    """In three too; six notes at most, in triplets as in eighths."""
    compared = 0
    for seed in range(8):
        random = Random(f"largest {seed}")
        text = chart(
            {"verse": progression(random, 8), "chorus": progression(random, 8), "end": ["C"]},
            feel=feel,
            fills="few",
            head=f"seed: {seed}\nmeter: {meter}\ndrums: out\nform: verse, chorus x2, end",
        )
        song = play_bass(text)
        for _, notes in fills_of(song):
            bar = song.bars[notes[0].origin.bar.played_bar - 1]
            assert notes[0].grid_tick >= bar.start_tick + bar.meter.pulse_ticks
            assert len(notes) <= 6
            compared += 1
    assert compared >= 6


def test_a_small_fill_begins_on_the_fifth_or_the_third_whichever_leads_better() -> None:
    """Each over a chord and its third by mir_eval."""
    begins = {"fifth": 0, "third": 0}
    for seed in range(24):
        random = Random(f"small {seed}")
        text = chart(
            {"verse": progression(random, 8, qualities=("", "m", "7", "m7")), "end": ["C"]},
            feel=FEELS[seed % len(FEELS)],
            fills="many",
            head=f"seed: {seed}\ndrums: out",
        )
        for _, notes in fills_of(play_bass(text)):
            symbol = notes[0].origin.symbol
            above = (notes[0].pitch - root_class(symbol)) % 12
            if "/" not in symbol and notes[0].origin.bar.bar_in_section == 4:
                begins["fifth"] += above == 7
                begins["third"] += above in (3, 4)
                assert above in (3, 4, 7), (symbol, notes)
    assert min(begins.values()) >= 3, begins
