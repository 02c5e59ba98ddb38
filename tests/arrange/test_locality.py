"""One changed bar changes no other but the one before it, which leads to it, in every feel."""

from random import Random

import pytest

from groove.cells.library import library_from
from groove.events import Part, Performance
from groove.pipeline import perform_chart
from groove.timing import TICKS_PER_QUARTER
from tests.arrange.random_songs import KEYS, progression, root_class, symbol
from tests.arrange.songs import LIBRARY, METERS, TIGHT, chart, play_keys, play_rhythm
from tests.cells.cell_lines import BASS

BARS, CHANGED = 8, 3
Seen = tuple[int, int, str, str]


def bars_of(bars: list[str], feel: str, key: str) -> list[list[Seen]]:
    """Return what bass and drums play in each bar: (tick, pitch, role, touch)."""
    head = f"meter: {METERS[feel]}"
    text = chart({"verse": bars, "end": ["C", "C"]}, feel=feel, fills="many", head=head)
    return _seen(play_rhythm(text.replace("key: D", f"key: {key}")))


def _seen(performance: Performance) -> list[list[Seen]]:
    """Return the notes of each bar."""
    found: list[list[Seen]] = [[] for _ in performance.bars]
    for note in performance.notes:
        bar = note.origin.bar.played_bar - 1
        found[bar].append((note.grid_tick, note.pitch, note.origin.role, note.touch))
    return [sorted(bar) for bar in found]


def ends_on(bar: str) -> int:
    """Return the pitch class of the root, or slash note, of a bar's last chord."""
    return root_class(bar.split()[-1])


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_one_changed_bar_changes_no_other_but_what_leads_to_it(feel: str) -> None:
    random = Random(f"locality {feel}")
    key = random.choice(KEYS)
    bars = progression(random, BARS, two_a_bar=METERS[feel] in ("4/4", "12/8", "6/8"))
    plain = bars_of(bars, feel, key)
    changes = 0
    # In other bars from feel to feel.
    for changed in random.sample(range(BARS), BARS):
        other = [*bars]
        other[changed] = symbol(random)
        # A root that stays the same across a bar line is no new chord to lead to or to strike.
        after = (*bars, "C")[changed + 1]
        if root_class(after.split()[0]) in map(ends_on, (bars[changed], other[changed])):
            continue
        played = bars_of(other, feel, key)
        differing = {i for i, bar in enumerate(plain) if played[i] != bar}
        assert differing <= {changed - 1, changed}, (changed, bars, other[changed])
        changes += 1
        if changes == CHANGED:
            break
    assert changes == CHANGED


@pytest.mark.parametrize("vary", ["some", "much"])
@pytest.mark.parametrize("feel", ["walking", "shuffle", "sixteenths", "jazz waltz"])
def test_one_changed_bar_changes_itself_and_the_one_before_in_every_time(
    feel: str, vary: str
) -> None:
    """Four choruses: in two and in four, other heads and figures, touches, up the neck."""
    random = Random(f"times {feel}")
    bars = progression(random, 12)
    changed, new = random.randrange(1, 11), symbol(random)
    assert root_class(bars[changed + 1]) not in map(root_class, (bars[changed], new))
    other = [*bars[:changed], new, *bars[changed + 1 :]]
    plain, played = (_four_choruses(row, feel, vary) for row in (bars, other))
    differing = {i % 12 for i, bar in enumerate(plain) if played[i] != bar}
    assert differing <= {changed - 1, changed}, (changed, bars, new)
    assert len(plain) == 48


@pytest.mark.parametrize("vary", ["some", "much"])
@pytest.mark.parametrize("feel", ["walking", "one drop", "cha-cha", "soul"])
def test_one_changed_bar_leaves_the_rhythm_of_the_keys_in_every_other(feel: str, vary: str) -> None:
    """Their voicings are led through a section, and may move with it."""
    random = Random(f"keys {feel}")
    bars = progression(random, 12)
    plain = _keys_ticks(bars, feel, vary)
    for changed in (3, 10):
        other = [*bars[:changed], symbol(random), *bars[changed + 1 :]]
        differing = {
            tick // (4 * TICKS_PER_QUARTER) % 12 for tick in plain ^ _keys_ticks(other, feel, vary)
        }
        assert differing <= {changed - 1, changed}, (changed, bars, other[changed])
    assert len(plain) >= 24


def _keys_ticks(bars: list[str], feel: str, vary: str) -> set[int]:
    """Return where the keys strike in two solos."""
    song = play_keys(_solos(bars, feel, vary, times=2))
    return {note.grid_tick for note in song.part_notes(Part.KEYS)}


def _solos(bars: list[str], feel: str, vary: str, times: int) -> str:
    """Return a chart of solos and an end."""
    head = f"vary: {vary}\nmeter: {METERS[feel]}\nform: solo x{times}, end"
    return chart({"solo": bars, "end": ["C"]}, feel=feel, fills="many", head=head)


def _four_choruses(bars: list[str], feel: str, vary: str) -> list[list[Seen]]:
    """Return what bass and drums play in each bar of four solos."""
    song = play_rhythm(_solos(bars, feel, vary, times=4))
    return _seen(song)[:-1]


def test_a_held_chord_without_a_root_ends_what_leads_on_at_its_bar_line() -> None:
    """A cell of octaves alone while the chord holds: E1 after it takes them down in one bar."""
    held = {"steps": "8 - 8 -", "levels": "9 . 7 ."}
    cell = {**BASS, "name": "eights", "steps": "R - 8 -", "when": {"held chord": held}}
    library = library_from([("bass", "own/eights.toml", cell)], LIBRARY)
    lines = []
    for last in ("D", "E"):
        text = chart({"verse": ["D", "D", "D", last, "G"]}, head="bass: eights")
        bass = [n for n in perform_chart(text, library, TIGHT).notes if n.part is Part.BASS]
        lines.append([n.pitch for n in bass if n.origin.bar.played_bar <= 3])
    # D2 is 38, the octave 50: too far from E1, 28, by an octave and more.
    assert lines == [[38, 50, 50, 50, 50, 50], [38, 50, 50, 50, 50, 38]]
