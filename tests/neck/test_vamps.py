"""Two to four chords round and round: the hand stays, open strings count as under it.

Thirty vamps in ten feels, their keys drawn.  What is asked of the hand is common practice, no
source: open strings that may ring are as near as the hand is, the little finger pumps nothing that
another finger or an open string has, and no string is left out twice in three sixteenths.
"""

from collections.abc import Iterator
from functools import cache
from itertools import groupby, pairwise
from random import Random

import pytest

from groove.events import Note, Touch
from groove.neck.fingering import FingeredLine, finger_line
from groove.neck.instrument import STANDARD
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions
from tests.arrange.songs import play_bass
from tests.neck.test_fingering import tables_for

SIXTEENTH = 240
TEMPI = {
    "sixteenths": 92, "soul": 104, "straight eighths": 120, "octaves": 118, "half-time": 140,
    "broken sixteenths": 92, "one drop": 74, "shuffle": 116, "bossa": 130, "two-beat": 108,
}  # fmt: skip
NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
VAMPS = (
    ((0, "m9"), (5, "m9")),
    ((0, "m7"), (10, "")),
    ((0, "maj7"), (5, "maj7")),
    ((0, "m7"), (5, "7")),
    ((0, ""), (10, "")),
    ((0, "7"), (5, "7")),
    ((0, "m7"), (8, "maj7"), (10, "")),
    ((0, ""), (9, "m7"), (2, "m7"), (7, "7")),
    ((0, "m7"), (3, "maj7")),
)
"""Half steps above the key's first note, and qualities."""


def chart(feel: str, chords: list[str]) -> str:
    bars = f"| {' | '.join(chords)} |\n" * 2
    head = f"tempo: {TEMPI[feel]}\nfeel: {feel}\n"
    return f"{head}verse:\n{bars}chorus:\n{bars}"


def vamps() -> Iterator[tuple[str, list[str]]]:
    draw = Random("thirty vamps")
    for number in range(30):
        key = draw.randrange(12)
        chords = VAMPS[(4 * number + number // len(VAMPS)) % len(VAMPS)]
        feel = tuple(TEMPI)[number % len(TEMPI)]
        yield feel, [NAMES[(key + above) % 12] + quality for above, quality in chords]


@cache
def lines() -> dict[tuple[str, ...], tuple[FingeredLine, FingeredLine]]:
    """Return each vamp fingered as by default, and with open strings wanted."""
    return {(feel, *chords): ways(feel, chords) for feel, chords in vamps()}


def ways(feel: str, chords: list[str]) -> tuple[FingeredLine, FingeredLine]:
    performance = play_bass(chart(feel, chords), PerformOptions())
    usual, wanted = (
        finger_line(
            performance.notes,
            tempo_map=performance.tempo_map,
            options=options,
            tables=tables_for(options),
        )
        for options in (NeckOptions(), NeckOptions(open_strings="yes"))
    )
    return usual, wanted


def rings(line: FingeredLine) -> bool:
    """Return whether open strings may ring: no ghosts, and more than roots and octaves."""
    has_ghosts = any(note.touch is Touch.GHOST for note in line.notes)
    return not has_ghosts and line.notes[0].origin.cell != "octaves"


def test_the_hand_travels_hardly_more_than_with_open_strings() -> None:
    found = lines()
    assert len(found) == 30
    both = [sum(way.travel_mm for way in each) for each in zip(*found.values(), strict=True)]
    assert both[0] <= 1.1 * both[1]
    ringing = {name: pair for name, pair in found.items() if rings(pair[0])}
    assert len(ringing) >= 15
    for name, (usual, wanted) in ringing.items():
        assert usual.travel_mm <= 1.1 * wanted.travel_mm, name


@pytest.mark.parametrize("feel", TEMPI)
def test_a_vamp_on_the_open_strings_stays_in_open_position(feel: str) -> None:
    """E and A are open strings: all their minor ninths lie below the fifth fret."""
    usual, wanted = ways(feel, ["Em9", "Am9"])
    assert usual.travel_mm <= 1.1 * wanted.travel_mm
    roots = [note for note in usual.notes if note.pitch in STANDARD.open_pitches[:2]]
    assert len(roots) >= 8
    assert all(note.place is not None and note.place.fret == 0 for note in roots)


def places(notes: tuple[Note, ...]) -> list[tuple[int, int, int]]:
    return [(note.place.string, note.place.fret, note.place.finger) for note in notes if note.place]


def test_the_little_finger_pumps_nothing() -> None:
    strokes = 0
    for name, (usual, _) in lines().items():
        for place, run in groupby(places(usual.notes)):
            count = len(list(run))
            strokes += count
            assert place[2] != 4 or count < 4, name
    assert strokes > 1500


def test_no_string_is_left_out_twice_in_three_sixteenths() -> None:
    compared = 0
    for name, (usual, _) in lines().items():
        steps = list(pairwise(usual.notes))
        for (one, two), (_, three) in pairwise(steps):
            if three.grid_tick - one.grid_tick > 2 * SIXTEENTH:
                continue
            compared += 1
            strings = [note.place.string for note in (one, two, three) if note.place]
            skips = [abs(after - before) > 1 for before, after in pairwise(strings)]
            assert not all(skips), (name, one)
    assert compared > 150
