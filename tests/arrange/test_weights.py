"""Every row of the table of weights decides something.

At 0 it changes the pitches of some line over random songs.  The rules are common practice, no
source.
"""

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from random import Random
from typing import NamedTuple

import pytest
from msgspec.structs import fields, replace

from groove.arrange.bass import arrange_bass
from groove.arrange.fills import plan_fills
from groove.arrange.plan import Plan, plan_song
from groove.arrange.spans import Span, chord_onsets, chord_spans
from groove.arrange.weights import WEIGHTS, Weights
from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.chart.tempo_map import song_tempo_map
from groove.neck.instrument import STANDARD
from groove.theory.keys import Key
from tests.arrange.random_songs import KEYS, progression
from tests.arrange.songs import LIBRARY, chart

METERS = {"slow twelve-eight": "12/8", "six-eight": "6/8", "seven-eight": "7/8"}
FEELS = (
    *("walking", "shuffle", "soul", "slow twelve-eight", "two-beat", "six-eight", "sixteenths"),
    *("broken sixteenths", "straight eighths", "seven-eight", "half-time", "bossa"),
)
SONGS = 372
STRETCHED = 135
"""A song that the weight of a stretch decides, which decides few: it is tried first."""


class Planned(NamedTuple):
    """A song up to where its bass is made."""

    plan: Plan
    spans: tuple[Span, ...]
    keys: list[Key]

    def line(self, weights: Weights) -> list[int]:
        """Return the pitches of its bass."""
        bars = plan_fills(self.plan).bass
        bass = arrange_bass(self.plan, self.spans, bars, self.keys, STANDARD, weights)
        return [note.pitch for note in bass.notes]


@cache
def planned(number: int) -> Planned:
    """Return one of the random songs: eight bars and an ending in one feel and any key."""
    random = Random(f"weights {number}")
    feel = FEELS[number % len(FEELS)]
    bars = progression(random, 8, two_a_bar=feel != "seven-eight")
    text = chart(
        # The bridge begins on the chord that the verse ends on, and leads to the end.
        {"verse": bars, "bridge": bars[:3:-1], "end": ["C", "C"]},
        feel=feel,
        fills=("none", "many")[number // len(FEELS) % 2],
        # With an even seed the bass fills the end of the verse, with an odd one its middle.
        head=f"meter: {METERS.get(feel, '4/4')}\nseed: {number // (2 * len(FEELS)) % 2 + 1}",
    )
    song = parse_chart(text.replace("key: D", f"key: {random.choice(KEYS)}"))
    played = unroll(song)
    plan = plan_song(played, LIBRARY, song_tempo_map(song, played, scale=Fraction(1)))
    return Planned(
        plan,
        chord_spans(plan.bars, chord_onsets(plan.bars)),
        [bar.key for bar in played if bar.key],
    )


@cache
def usual_line(number: int) -> list[int]:
    """Return the bass of one of the songs with the weights as they are."""
    return planned(number).line(WEIGHTS)


def changed_songs(weights: Weights, count: int = SONGS) -> Iterator[int]:
    """Yield the songs, of the first so many, whose bass other weights change."""
    for number in (STRETCHED, *range(count)):
        if planned(number).line(weights) != usual_line(number):
            yield number


def test_the_table_has_a_reason_for_every_row() -> None:
    names = [field.name for field in fields(Weights)]
    assert len(names) == len(set(names)) > 25
    assert [name for name in names if getattr(WEIGHTS, name) <= 0] == []


@pytest.mark.parametrize("name", [field.name for field in fields(Weights)])
def test_a_weight_at_0_changes_a_line(name: str) -> None:
    assert next(changed_songs(replace(WEIGHTS, **{name: 0.0})), None) is not None


def test_the_same_weights_change_nothing() -> None:
    assert list(changed_songs(replace(WEIGHTS), SONGS // 12)) == []
