"""The drummer on a pushed chord: kick and cymbal with the bass, set up an eighth before.

In feels without a crash, and at p or softer, the kick is feathered under the ride or the side
stick.  Common practice, no source.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from groove.arrange.draws import draw_for, weighted_choice
from groove.arrange.drum_strokes import (
    CRASHES,
    HAND_COUNT,
    KICKS,
    ON_FEET,
    STICK,
    STRONG_LEVEL,
    Stroke,
    hands_at,
    is_soft,
    plays_key,
    plays_time,
)
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.bar_place import SectionKind
from groove.events import Role
from groove.timing import EIGHTH_TICKS

_KICK_LEVEL, _CYMBAL_LEVEL, _SETUP_LEVEL = 9, 8, 5
_SOFT_LEVEL, _SOFT_SETUP_LEVEL = 6, 3
_FEATHERED_LEVELS = {True: 3, False: 2}
"""Level of a kick that is only felt, where the band is soft anyhow and where it is not."""
_SOFT_VELOCITY = -10
_CHOICES = {
    True: (("crash", 0.7), ("open_hat", 0.15), ("snare", 0.15)),
    False: (("crash", 0.35), ("open_hat", 0.35), ("snare", 0.3)),
}
"""What the hands strike with the kick in loud feels, in a chorus and elsewhere."""


def with_struck_pushes(
    bars: Sequence[Sequence[Stroke]], plan: Plan, spans: Sequence[Span]
) -> list[list[Stroke]]:
    """Return the strokes of every bar with each pushed chord struck, without what that replaces."""
    found = [list(bar) for bar in bars]
    since = 0
    for span in spans:
        index = _bar_of(span, plan)
        if not span.is_pushed or span.chord is None or not plan.bars[index].has_drummer:
            continue
        if index == span.bar and plan.bars[index].has_hits:
            continue
        near = range(max(0, index - 1), min(index + 2, len(found)))
        strokes = [stroke for at in near for stroke in found[at]]
        for at in near:
            found[at] = []
        for stroke in _with_push(strokes, plan, span, index, since):
            found[stroke.bar].append(stroke)
        since = span.start_tick
    return found


def _bar_of(span: Span, plan: Plan) -> int:
    """Return the index of the bar in which a chord is heard to come in."""
    return span.bar if span.start_tick >= plan.bars[span.bar].start_tick else span.bar - 1


def _with_push(
    strokes: list[Stroke], plan: Plan, span: Span, index: int, since: int
) -> list[Stroke]:
    """Return the strokes around a pushed chord with it; the one before was struck at ``since``."""
    bar = plan.bars[index]
    kept = [stroke for stroke in strokes if not _is_replaced(stroke, span)]
    there = [stroke for stroke in kept if stroke.tick == span.start_tick]
    push = _soft_push if is_soft(bar) else _loud_push
    struck = push(bar, index, span, there)
    kept = [stroke for stroke in kept if stroke not in there]
    return _with_setup([*kept, *struck], plan, span, index, since)


def _is_replaced(stroke: Stroke, span: Span) -> bool:
    """Return whether a stroke gives way: the backbeat and the time between stay."""
    early, grid = span.start_tick, span.grid_tick
    if not early <= stroke.tick <= grid:
        return False
    if stroke.role is Role.FILL or stroke.key in KICKS | CRASHES:
        return True
    if stroke.key in STICK:
        # A stick that has just been on the crash is not back for a sixteenth.
        return stroke.tick == grid and grid - early < EIGHTH_TICKS
    return early < stroke.tick and stroke.key not in ON_FEET and stroke.level < STRONG_LEVEL


def _loud_push(bar: BarPlan, index: int, span: Span, there: Sequence[Stroke]) -> list[Stroke]:
    """Return all strokes of the moment: the kick, and a cymbal or the snare."""
    hand = _drawn_hand(bar, span)
    has_hat = bar.drums is not None and plays_key(bar.drums, "hat", "open_hat")
    if (hand == "open_hat" and not has_hat) or any(stroke.key == hand for stroke in there):
        hand = "crash"
    kept = [stroke for stroke in there if hand == "snare" or stroke.key not in STICK]
    struck = [_push_stroke(span, index, "kick", _KICK_LEVEL)]
    if hands_at(kept) < HAND_COUNT:
        struck.append(_push_stroke(span, index, hand, _CYMBAL_LEVEL))
    return [*kept, *struck]


def _drawn_hand(bar: BarPlan, span: Span) -> str:
    """Return what the hand strikes: the crash where a section begins, else by draw."""
    if span.begins_section:
        return "crash"
    ref = bar.bar.ref
    purpose = f"push {span.start_tick - bar.start_tick}"
    draw = draw_for(bar.seed, "drums", purpose, bar.bar.stem, ref.bar_in_section, None)
    return weighted_choice(draw, _CHOICES[bar.bar.place.kind is SectionKind.CHORUS])


def _soft_push(bar: BarPlan, index: int, span: Span, there: Sequence[Stroke]) -> list[Stroke]:
    """Return all strokes of the moment: a kick that is only felt, ride or side stick."""
    softer = bar.velocity_offset - bar.feel.softer_by <= _SOFT_VELOCITY
    feathered = _push_stroke(span, index, "kick", _FEATHERED_LEVELS[softer])
    own = next((stroke for stroke in there if stroke.key in ("ride", "side_stick")), None)
    kept = [stroke for stroke in there if stroke is not own]
    if own is not None:
        return [feathered, replace(own, level=max(own.level, _SOFT_LEVEL)), *kept]
    rides = bar.drums is not None and plays_key(bar.drums, "ride")
    if rides or hands_at(kept) >= HAND_COUNT:
        # The stick leaves the hat for the ride; where both hands are on drums the softer one comes.
        softest = min((s for s in kept if s.key not in ON_FEET), key=_softness, default=None)
        kept = [stroke for stroke in kept if stroke is not softest]
    hand = "ride" if rides else "side_stick"
    return [feathered, *kept, _push_stroke(span, index, hand, _SOFT_LEVEL)]


def _softness(stroke: Stroke) -> tuple[bool, int]:
    """Return the order in which hands are free for another stroke: the stick on time first."""
    return (stroke.key not in STICK, stroke.level)


def _push_stroke(span: Span, index: int, key: str, level: int) -> Stroke:
    pushed = span.onset.pushed_ticks
    return Stroke(span.start_tick, index, key, level, pushed_ticks=pushed)


def _with_setup(
    strokes: list[Stroke], plan: Plan, span: Span, index: int, since: int
) -> list[Stroke]:
    """Return the strokes with a push set up by the snare an eighth before, where there is room."""
    bar = plan.bars[index]
    tick = span.start_tick - _eighth_before(bar, span.start_tick - bar.start_tick)
    if tick < bar.start_tick:
        index -= 1
    if index < 0 or tick <= since:
        return strokes
    home = plan.bars[index]
    there = [stroke for stroke in strokes if stroke.tick == tick]
    if not plays_time(home) or any(stroke.role is Role.FILL for stroke in there):
        return strokes
    level = _SOFT_SETUP_LEVEL if is_soft(home) else _SETUP_LEVEL
    snares = [stroke for stroke in there if stroke.key in ("snare", "side_stick")]
    if snares:
        louder = [replace(s, level=max(s.level, level)) if s in snares else s for s in there]
        return [*(stroke for stroke in strokes if stroke.tick != tick), *louder]
    if hands_at(there) >= HAND_COUNT:
        return strokes
    return [*strokes, Stroke(tick, index, "snare", level)]


def _eighth_before(bar: BarPlan, offset: int) -> int:
    """Return how far the eighth before a place in a bar is; in triplet feels the long one."""
    if bar.bar.meter.is_compound or not bar.in_triplets:
        return EIGHTH_TICKS
    pulse = bar.bar.meter.pulse_ticks
    third = pulse // 3
    return 2 * third if offset % pulse == 2 * third else third
