"""One changed bar changes no other but the one before it, which leads to it, in every feel."""

from random import Random

import pytest

from groove.events import Part
from tests.arrange.random_songs import KEYS, progression, root_class, symbol
from tests.arrange.songs import LIBRARY, chart, play

METERS = {
    **{"slow twelve-eight": "12/8", "waltz": "3/4", "six-eight": "6/8"},
    **{"five-four": "5/4", "seven-eight": "7/8"},
}
BARS, SONGS = 8, 4
Seen = tuple[int, int, str, str]


def bars_of(bars: list[str], feel: str, key: str) -> list[list[Seen]]:
    """Return what bass and drums play in each bar: (tick, pitch, role, touch)."""
    head = f"meter: {METERS.get(feel, '4/4')}"
    text = chart({"verse": bars, "end": ["C", "C"]}, feel=feel, fills="many", head=head)
    performance = play(text.replace("key: D", f"key: {key}"))
    found: list[list[Seen]] = [[] for _ in performance.bars]
    for note in performance.notes:
        if note.part is not Part.KEYS:
            bar = note.origin.bar.played_bar - 1
            found[bar].append((note.grid_tick, note.pitch, note.origin.role, note.touch))
    return [sorted(bar) for bar in found]


def ends_on(bar: str) -> int:
    """Return the pitch class of the root, or slash note, of a bar's last chord."""
    return root_class(bar.split()[-1])


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_one_changed_bar_changes_no_other_but_what_leads_to_it(feel: str) -> None:
    compared = 0
    for seed in range(SONGS):
        random = Random(f"locality {feel} {seed}")
        key = random.choice(KEYS)
        two = METERS.get(feel, "4/4") in ("4/4", "12/8", "6/8")
        bars = progression(random, BARS, two_a_bar=two)
        plain = bars_of(bars, feel, key)
        for changed in range(BARS):
            other = [*bars]
            other[changed] = symbol(random)
            # A root that stays the same across a bar line is no new chord to lead to or to strike.
            after = (*bars, "C")[changed + 1]
            if root_class(after.split()[0]) in map(ends_on, (bars[changed], other[changed])):
                continue
            played = bars_of(other, feel, key)
            differing = {i for i, bar in enumerate(plain) if played[i] != bar}
            assert differing <= {changed - 1, changed}, (seed, changed, bars, other[changed])
            compared += len(plain) - 2
    assert compared > SONGS * BARS * 5
