"""Small things that a drummer does: the marks of phrases, touches from time to time, comments.

Every phrase ends on something: the cell's own phrase end, an open hat, one more kick, a ghost
before the bar line.  From a section's second time on another of them stands there, and now and then
one in a bar between.  Common practice, no source.
"""

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from groove.arrange.arrangement import MARKED_PHRASE_BARS
from groove.arrange.draws import first_draw
from groove.arrange.drum_strokes import (
    HAND_COUNT,
    KICKS,
    STICK,
    STRONG_LEVEL,
    Stroke,
    hands_at,
    is_soft,
    plays_key,
)
from groove.arrange.plan import BarPlan
from groove.cells.model import DrumCell, DrumStroke
from groove.chart.model import Vary
from groove.timing import TICKS_PER_QUARTER, SwingUnit

_Variation = Callable[[Sequence[Stroke], BarPlan, DrumCell], list[Stroke] | None]
"""Returns a bar's strokes with one small thing in them, None where it cannot be played there."""

_KICK_LEVEL, _GHOST_LEVEL, _LOUDER_BY = 6, 3, 3
_TOUCH_CHANCE = {Vary.NONE: 0.0, Vary.SOME: 1 / 16, Vary.MUCH: 1 / 4}
"""How often a bar inside a phrase is touched from a section's second time on."""
_COMMENT_CHANCES = (0.15, 0.3, 0.45)
"""How often the drummer comments on a bar, in the first, second and later times through."""


def ends_phrase(bar: BarPlan) -> bool:
    """Return whether a drummer marks the end of a phrase in a bar, of four bars at the most."""
    phrase_bars = min(bar.feel.phrase_bars, MARKED_PHRASE_BARS)
    return bar.bar.ref.bar_in_section % phrase_bars == 0 or bar.bar.is_section_end


def with_mark(
    strokes: Sequence[Stroke], plain: Sequence[Stroke], bar: BarPlan, cell: DrumCell
) -> list[Stroke]:
    """Return the strokes of a bar that ends a phrase, marked.

    ``strokes`` are the cell's own for the end of a phrase, ``plain`` those of the bar between.
    The first time the mark is drawn; later times have another.
    """
    made = [change(plain, bar, cell) for change in _CHANGES]
    every = _distinct(
        [list(plain), list(strokes), *(variation for variation in made if variation is not None)]
    )
    variations = every[1:] or every
    first = int(_drawn(bar, "mark", first_time=True) * len(variations))
    if bar.arrangement.draw_time is None or len(variations) == 1:
        return variations[first]
    others = [
        variation for variation in variations if _places(variation) != _places(variations[first])
    ]
    others = others or [variation for number, variation in enumerate(variations) if number != first]
    return others[int(_drawn(bar, "mark") * len(others))]


def with_touch(strokes: Sequence[Stroke], bar: BarPlan, cell: DrumCell) -> list[Stroke]:
    """Return the strokes of a bar inside a phrase, touched now and then from the second time on."""
    chance = _TOUCH_CHANCE[bar.arrangement.vary]
    if bar.arrangement.draw_time is None:
        return list(strokes)
    drawn = _drawn(bar, "touch")
    if drawn >= chance:
        return list(strokes)
    made = [change(strokes, bar, cell) for change in _CHANGES]
    variations = [variation for variation in made if variation is not None]
    return variations[int(drawn / chance * len(variations))] if variations else list(strokes)


def _distinct(variations: Sequence[list[Stroke]]) -> list[list[Stroke]]:
    """Return ways to play a bar, those that sound alike once."""
    return list(
        {
            frozenset((s.tick, s.key, s.level) for s in variation): variation
            for variation in variations
        }.values()
    )


def _places(strokes: Sequence[Stroke]) -> frozenset[tuple[int, str]]:
    """Return which drums are struck when, however loud."""
    return frozenset((stroke.tick, stroke.key) for stroke in strokes)


def _drawn(bar: BarPlan, purpose: str, *, first_time: bool = False) -> float:
    """Return a draw of one bar, by its time unless it is the first one's."""
    time = None if first_time else bar.arrangement.draw_time
    ref = bar.bar.ref
    return first_draw(bar.seed, "drums", purpose, bar.bar.stem, ref.bar_in_section, time)


def _opened_hat(strokes: Sequence[Stroke], bar: BarPlan, _cell: DrumCell) -> list[Stroke] | None:
    """Return the bar with the last stroke of the time, between two beats, left ringing."""
    sticks = sorted((stroke for stroke in strokes if stroke.key in STICK), key=lambda s: s.tick)
    if not sticks or sticks[-1].key not in ("hat", "ride"):
        return None
    last = sticks[-1]
    if sticks[0].key == "open_hat" and sticks[0].tick == bar.start_tick:
        # Where beats are open nothing would close it.
        return None
    pulse = bar.bar.meter.pulse_ticks
    if (last.tick - bar.start_tick) % pulse == 0 or (last.key == "ride" and is_soft(bar)):
        return None
    rings = replace(last, key="open_hat" if last.key == "hat" else "ride_bell")
    return [rings if stroke is last else stroke for stroke in strokes]


def _kicked(strokes: Sequence[Stroke], bar: BarPlan, _cell: DrumCell) -> list[Stroke] | None:
    """Return the bar with a kick on its last off-beat, in feels whose kick is heard on beat 1."""
    kicks = {stroke.tick: stroke.level for stroke in strokes if stroke.key in KICKS}
    tick = bar.end_tick - _off_beat(bar)
    if tick in kicks or kicks.get(bar.start_tick, 0) < STRONG_LEVEL or is_soft(bar):
        return None
    return [*strokes, Stroke(tick, strokes[0].bar, "kick", _KICK_LEVEL)]


def _picked_up(strokes: Sequence[Stroke], bar: BarPlan, cell: DrumCell) -> list[Stroke] | None:
    """Return the bar with a ghost before its end; where the drum runs through, an accent."""
    drum = _hand_drum(strokes, cell)
    tick = bar.end_tick - _shortest(bar)
    there = [stroke for stroke in strokes if stroke.tick == tick]
    own = next((stroke for stroke in there if stroke.key == drum), None)
    if own is not None:
        louder = replace(own, level=min(STRONG_LEVEL, own.level + _LOUDER_BY))
        return [louder if stroke is own else stroke for stroke in strokes]
    if hands_at(there) >= HAND_COUNT:
        return None
    return [*strokes, Stroke(tick, strokes[0].bar, drum, _GHOST_LEVEL)]


_CHANGES: tuple[_Variation, ...] = (_opened_hat, _kicked, _picked_up)


def _hand_drum(strokes: Sequence[Stroke], cell: DrumCell) -> str:
    """Return the drum that the hands are on: the snare, else the side stick or the fills' first."""
    keys = {stroke.key for stroke in strokes}
    for drum in ("snare", "side_stick"):
        if drum in keys or (plays_key(cell, drum) and not keys & {"snare", "side_stick"}):
            return drum
    fill = cell.fills[0].strokes if cell.fills else ()
    return next((stroke.key for stroke in fill if stroke.key not in KICKS), "snare")


def _off_beat(bar: BarPlan) -> int:
    """Return how long before a bar's end its last off-beat is: an eighth, in threes a third."""
    pulse = bar.bar.meter.pulse_ticks
    if bar.in_triplets:
        return pulse // 3
    return min(pulse, TICKS_PER_QUARTER // 2)


def _shortest(bar: BarPlan) -> int:
    """Return how long before a bar's end a ghost stands: a sixteenth where eighths do not swing."""
    if bar.in_triplets or (bar.swing and bar.swing.unit is SwingUnit.EIGHTHS):
        return _off_beat(bar)
    return TICKS_PER_QUARTER // 4


def comment_of(bar: BarPlan, cell: DrumCell) -> tuple[DrumStroke, ...]:
    """Return which of a cell's comments on the soloist stands in a bar, most often none."""
    chance = _COMMENT_CHANCES[min(bar.arrangement.chorus, len(_COMMENT_CHANCES)) - 1]
    drawn = _drawn(bar, "comment") if cell.comments else chance
    return cell.comments[int(drawn / chance * len(cell.comments))] if drawn < chance else ()


def laid_over(strokes: Sequence[Stroke], comment: Sequence[Stroke]) -> list[Stroke]:
    """Return a bar with a comment in place of what it strikes."""
    own = {(stroke.tick, stroke.key) for stroke in comment}
    return [*(s for s in strokes if (s.tick, s.key) not in own), *comment]
