"""Chance, by name: the same seed and the same bar give the same draw on every machine.

Only ``random()`` of ``random.Random`` is used, because Python promises the same sequence for it
across versions.
"""

import threading
from collections.abc import Sequence
from functools import lru_cache
from random import Random
from typing import TypeVar

_Choice = TypeVar("_Choice")


def draw_for(
    seed: int, part: str, purpose: str, section: str, bar_in_section: int, occurrence: int | None
) -> Random:
    """Return the generator for one purpose in one bar."""
    return Random(draw_name(seed, part, purpose, section, bar_in_section, occurrence))


class _OwnGenerator(threading.local):
    """A generator of each thread's own: to make one takes as long as to sow it."""

    def __init__(self) -> None:
        """Begin anyhow: it is sown before every draw."""
        self.random = Random(0)


_OWN = _OwnGenerator()
_MOST_KEPT = 4096
"""How many draws a process keeps: a song has some hundreds."""


@lru_cache(maxsize=_MOST_KEPT)
def first_draw(
    seed: int, part: str, purpose: str, section: str, bar_in_section: int, occurrence: int | None
) -> float:
    """Return the first number (0 to 1) of ``draw_for``: most things take one alone.

    It is kept, for every later time of a section asks what the first one drew.
    """
    _OWN.random.seed(draw_name(seed, part, purpose, section, bar_in_section, occurrence))
    return _OWN.random.random()


def draw_name(
    seed: int, part: str, purpose: str, section: str, bar_in_section: int, occurrence: int | None
) -> str:
    """Return what the generator for one purpose in one bar is sown with.

    ``occurrence`` is None for what a section has the first time, which later times vary from.
    """
    return f"{seed}:{part}:{purpose}:{section}:{occurrence or '*'}:{bar_in_section}"


def weighted_choice(random: Random, choices: Sequence[tuple[_Choice, float]]) -> _Choice:
    """Return one choice by its weight (> 0)."""
    point = random.random() * sum(weight for _, weight in choices)
    for choice, weight in choices:
        point -= weight
        if point < 0:
            return choice
    return choices[-1][0]


@lru_cache(maxsize=_MOST_KEPT)
def first_bell(
    seed: int, part: str, purpose: str, section: str, bar_in_section: int, occurrence: int
) -> float:
    """Return the first draw from a bell (``bell``) of ``draw_for``.

    It is kept, for a bar begins where the one before it ended.
    """
    _OWN.random.seed(draw_name(seed, part, purpose, section, bar_in_section, occurrence))
    return bell(_OWN.random)


def bell(random: Random) -> float:
    """Return a draw from a bell about 0 with a standard deviation of 1, within -3 to 3."""
    return (random.random() + random.random() + random.random() - 1.5) * 2
