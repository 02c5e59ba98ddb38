"""The figures of a bass fill: runs, steps from a chord tone, ninths and turnarounds.

Each leads to the next root on time, by moves that can be sung (common practice, no source).
"""

from collections.abc import Iterator
from itertools import pairwise

from msgspec import Struct

from groove.arrange.candidates import Candidate, Context, StrokeTask, candidates
from groove.arrange.degree_tones import degree_offset, fifth_offset, served_number
from groove.arrange.drafts import STEP_AIM
from groove.arrange.pitches import interval_cost, move_cost
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span
from groove.events import PitchRule, Reason, Role
from groove.harmony.tones import chord_tones_in
from groove.theory.pitch import OCTAVE

_SHORTEST_RUN = 3


class FillPlace(Struct, frozen=True, kw_only=True):
    """Where a bass fill stands: its bar and chord, and the root that it leads to.

    ``step_ticks`` is its note value, ``longest`` how many of them there is time for, ``least`` how
    many it should have, ``change_tick`` where its chord begins.
    """

    index: int
    plan: BarPlan
    span: Span
    context: Context
    target: int
    step_ticks: int
    longest: int
    least: int
    change_tick: int


class Figure(Struct, frozen=True, gc=False):
    """The pitches of a fill, why it has them, and what speaks against it."""

    pitches: tuple[int, ...]
    reason: Reason
    cost: float = 0.0


def start_of(figure: Figure, place: FillPlace) -> int:
    """Return where a figure begins: it ends with its bar."""
    return place.plan.end_tick - len(figure.pitches) * place.step_ticks


def is_playable(figure: Figure, place: FillPlace) -> bool:
    """Return whether a figure has time, moves on well, fits its chord, and states a new one.

    It moves by what can be sung: nothing dearer than an octave.
    """
    context, pitches = place.context, figure.pitches
    moves = pairwise([*pitches, place.target])
    on_root = (pitches[0] - context.root) % OCTAVE == 0
    return (
        len(pitches) <= place.longest
        and min(pitches) >= context.lowest
        and all(interval_cost(context, *move) <= context.weights.octave for move in moves)
        and context.wrong_third not in {pitch % OCTAVE for pitch in pitches}
        and (on_root or start_of(figure, place) > place.change_tick)
    )


def _runs(place: FillPlace) -> Iterator[Figure]:
    """Yield runs of the key in one direction from a chord tone to the next root.

    From the line's own side first, the longest first.
    """
    context, target = place.context, place.target
    side = context.side(context.root) if target != context.root else -1
    for direction in (side, -side):
        for count in range(place.longest, _SHORTEST_RUN - 1, -1):
            pitches = _run_towards(target, direction, count, context.scale)
            if pitches[0] % OCTAVE in context.chord.pitch_classes:
                yield Figure(pitches, Reason(PitchRule.SCALE_RUN, pitches[-1] - target))


def _run_towards(target: int, side: int, count: int, scale: frozenset[int]) -> tuple[int, ...]:
    """Return ``count`` scale notes that lead to a target from below (-1) or above (1)."""
    pitches: list[int] = []
    pitch = target
    while len(pitches) < count:
        pitch += side
        if pitch % OCTAVE in scale:
            pitches.insert(0, pitch)
    return tuple(pitches)


def _tones_and_steps(place: FillPlace) -> Iterator[Figure]:
    """Yield the fifth or the third and a step to the next root, where that changes.

    Each low where it is nearer to the step; what leads best comes first.
    """
    context, target = place.context, place.target
    if context.root == target:
        return
    task = StrokeTask(STEP_AIM)
    offsets = (fifth_offset(context.chord), degree_offset(3, context.chord, context.key))
    priced = []
    for offset in dict.fromkeys(offset for offset in offsets if offset):
        heights = (context.root + offset, context.root + offset - OCTAVE)
        priced += [
            (
                step.cost + move_cost(task, context, Candidate(first, Role.FILL), step),
                first,
                step.pitch,
            )
            for first in heights
            if first >= context.lowest
            for step in candidates(task, context)
        ]
    best: dict[int, int] = {}
    for _, first, step in sorted(priced):
        best.setdefault(first, step)
    for first, last in best.items():
        yield Figure((first, last), Reason(PitchRule.TONE_AND_STEP, last - target))


def _chord_figures(place: FillPlace) -> Iterator[Figure]:
    """Yield root, fifth, ninth, octave, which falls to the next root, where the ninth belongs."""
    context = place.context
    ninth = chord_tones_in(context.chord, context.key, None).ninth
    if ninth is None or context.chord.bass:
        return
    above = (ninth.pitch_class - context.chord.root.pitch_class) % OCTAVE
    offsets = (0, fifth_offset(context.chord), OCTAVE + above, OCTAVE)
    roles = (Role.ROOT, Role.FIFTH, Role.NINTH, Role.OCTAVE)
    reason = Reason(PitchRule.CHORD_FIGURE, figure=roles)
    cost = context.weights.to_own_root * (place.target == context.root)
    yield Figure(tuple(context.root + offset for offset in offsets), reason, cost)


def _turnarounds(place: FillPlace) -> Iterator[Figure]:
    """Yield octave, seventh (or sixth), fifth and a step down that turn round to the next root."""
    context, target = place.context, place.target
    colour = served_number(7, context.chord, context.key)
    if context.root == target or colour not in (6, 7):
        return
    upper = [context.root + degree_offset(n, context.chord, context.key) for n in (8, colour, 5)]
    steps = [step for step in (1, 2) if (target + step) % OCTAVE in context.scale]
    if context.has_third:
        steps.append(1)
    lasts = [target + step for step in steps if target + step < upper[-1]]
    if lasts:
        roles = (Role.OCTAVE, Role.SEVENTH if colour == 7 else Role.SIXTH, Role.FIFTH)
        reason = Reason(PitchRule.TURNAROUND, lasts[0] - target, roles)
        yield Figure((*upper, lasts[0]), reason)


FILL_FIGURES = ((_runs, 3.0), (_tones_and_steps, 2.0), (_chord_figures, 2.0), (_turnarounds, 2.0))
"""Every kind of figure, and its share where chance may take several."""
