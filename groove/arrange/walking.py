"""A walking line: one note a pulse, made by search over the notes that may follow.

Rules (common practice, no source): the root on the change; chord tones on strong pulses; between
them chord tones, or notes of the scale that a step leads to and a step leaves; a half step, a whole
step of the scale or the fifth into the next root on the last pulse, never from beyond it; no note
twice in a row; a skip is answered by a step back.  A chord of two pulses whose root lies a half
step from the next has no room between them: another of its tones leads on, or the half step beyond.
"""

from collections.abc import Sequence
from random import Random

from groove.arrange.draws import draw_for
from groove.arrange.fills import FillNote
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span
from groove.arrange.tones import contradicts, scale_classes
from groove.events import Role
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name

HIGHEST_ABOVE_LOWEST = 24
LEVEL_ON_CHANGE = 7
LEVEL_BETWEEN = 6
DROP_LEVEL = 3
DROP_CHANCE = 0.12
STEP = 2
SMALL_SKIP = 5
TRITONE, FIFTH, OCTAVE = 6, 7, 12
WIDEST_TO_GOAL = 8
"""Widest leap from a chord tone to a goal beside which the line stood, in semitones."""
MOVE_COSTS = ((STEP, 0.0), (SMALL_SKIP, 0.5), (7, 1.5), (12, 4.0))
"""Cost of a move up to so many semitones."""
FORBIDDEN_COST = 50.0
BEYOND_COST = 20.0
"""Cost of an approach from the other side of the goal than the line: it would pass the goal.

As dear is a whole step from the goal after the half step beside it: it would turn away.
"""
ENCLOSED_COST = 1.0
"""Cost of enclosing the goal by a half step that is no tone of the chord."""
UNANSWERED_COST = 1.5
RETURN_COST = 2.0
DRAW_WEIGHT = 0.75
"""How much chance may cost against a rule, so that two bars on one chord differ."""


def walking_bar(
    plan: BarPlan,
    spans: Sequence[Span],
    following: Sequence[Span],
    key: Key,
    tuning: Tuning,
) -> list[FillNote]:
    """Return the notes of one bar; ``following`` are the chords of the next bar."""
    ref = plan.bar.ref
    draw = draw_for(plan.seed, "bass", "walk", ref.section, ref.bar_in_section, None)
    notes: list[FillNote] = []
    pulse = plan.bar.meter.pulse_ticks
    for index, span in enumerate(spans):
        if span.chord is None:
            continue
        after = spans[index + 1] if index + 1 < len(spans) else None
        after = after or (following[0] if following else None)
        start, end = max(span.grid_tick, plan.start_tick), min(span.end_tick, plan.end_tick)
        pulses = max(1, round((end - start) / pulse))
        root = root_pitch(span.chord.bass_note.pitch_class, tuning)
        goal_chord = after.chord if after else None
        goal = root_pitch(goal_chord.bass_note.pitch_class, tuning) if goal_chord else None
        pitches = walk(draw, span.chord, root, goal, pulses, key, tuning)
        on_change = Role.SLASH if span.chord.bass else Role.ROOT
        notes += walk_notes(pitches, on_change, start, end, pulse, goal)
    return with_drop(draw, notes, pulse)


def walk(
    draw: Random,
    chord: Chord,
    root: int,
    goal: int | None,
    pulses: int,
    key: Key,
    tuning: Tuning,
) -> tuple[int, ...]:
    """Return the pitches over one chord, the first its root, the last leading to the goal."""
    if pulses == 1:
        return (root,)
    lowest = tuning.lowest_pitch
    reach = range(max(lowest, root - 7), min(lowest + HIGHEST_ABOVE_LOWEST, root + 16) + 1)
    scale = scale_classes(chord, key)
    classes = chord.pitch_classes | {chord.bass_note.pitch_class}
    tones = [pitch for pitch in reach if pitch % 12 in classes]
    between = [pitch for pitch in reach if pitch % 12 in scale]
    head: tuple[int, ...] = (root,)
    # Long chords are walked four pulses at a time, so that the search stays small.
    while pulses - len(head) > 4:
        head += best_walk(draw, head[-1], [between, tones], None, classes)
    left = pulses - len(head)
    if left == 0:
        return head
    layers = [tones if (len(head) + i) % 2 == 0 else between for i in range(left - 1)]
    if goal is None:
        layers.append(tones)
    elif left == 1 and abs(root - goal) == 1:
        layers.append(notes_round(goal, root, tones, chord, lowest))
    else:
        layers.append(leading_notes(goal, chord, scale, lowest))
    return head + best_walk(draw, head[-1], layers, goal, classes)


def leading_notes(goal: int, chord: Chord, scale: frozenset[int], lowest: int) -> list[int]:
    """Return the notes that lead to a goal: half steps, the scale's steps, and its fifth.

    Never the third that the chord has not: a pulse is long enough to hear it.
    """
    wholes = [step for step in (-2, 2) if (goal + step) % OCTAVE in scale]
    notes = [goal + step for step in (-1, 1, *wholes, 7, -5) if goal + step >= lowest]
    return [note for note in notes if not contradicts(note, chord)]


def notes_round(goal: int, root: int, tones: Sequence[int], chord: Chord, lowest: int) -> list[int]:
    """Return the notes that lead from a root to a goal beside it.

    Other tones of the chord near both, and the half step on the goal's other side.  None a tritone
    from the goal, but where the instrument's lowest string leaves nothing else.
    """
    near = [
        tone
        for tone in tones
        if tone % OCTAVE not in (root % OCTAVE, goal % OCTAVE)
        and abs(tone - root) <= FIFTH
        and abs(tone - goal) <= WIDEST_TO_GOAL
    ]
    across = 2 * goal - root
    if across >= lowest and across not in near and not contradicts(across, chord):
        near.append(across)
    return [note for note in near if abs(note - goal) != TRITONE] or near


def is_beyond(before: int, note: int, goal: int) -> bool:
    """Return whether a step to a goal comes from the other side of it than the line."""
    return (before - goal) * (note - goal) < 0 and abs(note - goal) <= STEP


def best_walk(
    draw: Random,
    before: int,
    layers: Sequence[Sequence[int]],
    goal: int | None,
    tones: frozenset[int],
) -> tuple[int, ...]:
    """Return the cheapest way through the layers to the goal, chance included."""
    favours = [{pitch: draw.random() * DRAW_WEIGHT for pitch in layer} for layer in layers]
    return WalkSearch(favours, goal, tones).best((before,))


class WalkSearch:
    """Depth first through the layers, leaving a way as soon as it costs more than the best."""

    def __init__(
        self, favours: Sequence[dict[int, float]], goal: int | None, tones: frozenset[int]
    ) -> None:
        """``favours`` has one mapping a layer: pitch to what chance adds to its cost.

        ``tones`` are the pitch classes of the chord; with a goal, the last layer leads to it.
        """
        self.favours = favours
        self.goal = goal
        self.tones = tones
        self.leading_layer = len(favours) - 1 if goal is not None else len(favours)
        self.least = float("inf")
        self.found: tuple[int, ...] = ()

    def best(self, path: tuple[int, ...]) -> tuple[int, ...]:
        """Return the best continuation of a path of one note."""
        self.extend(path, 0.0)
        return self.found[1:]

    def extend(self, path: tuple[int, ...], cost: float) -> None:
        """Try every note that may follow, the path's cost so far given."""
        layer = len(path) - 1
        if layer == len(self.favours):
            total = cost if self.goal is None else cost + step_cost(path, self.goal)
            if total < self.least:
                self.least, self.found = total, path
            return
        for pitch, favour in self.favours[layer].items():
            longer = cost + favour + step_cost(path, pitch) + self.place_cost(path, pitch, layer)
            if longer < self.least:
                self.extend((*path, pitch), longer)

    def place_cost(self, path: tuple[int, ...], pitch: int, layer: int) -> float:
        """Return what speaks against a note where it stands, given the notes before it."""
        before = path[-1]
        leaps = abs(pitch - before) > STEP
        if leaps and layer and before % 12 not in self.tones:
            return FORBIDDEN_COST
        if layer < self.leading_layer:
            return FORBIDDEN_COST if leaps and pitch % 12 not in self.tones else 0.0
        assert self.goal is not None
        if layer == 0 and abs(before - self.goal) == 1:
            return 0.0 if pitch % OCTAVE in self.tones else ENCLOSED_COST
        turns = pitch - self.goal == 2 * (before - self.goal) and pitch % OCTAVE not in self.tones
        beyond = is_beyond(before, pitch, self.goal) or (turns and abs(before - self.goal) == 1)
        return BEYOND_COST if beyond else 0.0


def step_cost(path: tuple[int, ...], pitch: int) -> float:
    """Return what a note adds after a path: its move, an unanswered skip, a turn on the spot."""
    move = pitch - path[-1]
    cost = move_cost(move)
    if len(path) > 1:
        before = path[-1] - path[-2]
        answered = before * move < 0 and abs(move) <= STEP
        if abs(before) > SMALL_SKIP and not answered:
            cost += UNANSWERED_COST
        if pitch == path[-2]:
            cost += RETURN_COST
    return cost


def move_cost(move: int) -> float:
    """Return the cost of one move in semitones: steps are free, leaps dear, a repeat dearest."""
    size = abs(move)
    if size == 0 or size > 12:
        return FORBIDDEN_COST
    return next(cost for limit, cost in MOVE_COSTS if size <= limit)


def walk_notes(
    pitches: Sequence[int], on_change: Role, start: int, end: int, pulse: int, goal: int | None
) -> list[FillNote]:
    """Return the notes of one chord, the first there as its root or slash note."""
    notes = []
    for index, pitch in enumerate(pitches):
        leads = goal is not None and index == len(pitches) - 1 and index > 0
        words = f"into {pitch_name(goal)}" if leads and goal is not None else ""
        notes.append(
            FillNote(
                start_tick=start + index * pulse,
                end_tick=min(start + (index + 1) * pulse, end),
                pitch=pitch,
                level=LEVEL_BETWEEN if index else LEVEL_ON_CHANGE,
                role=Role.APPROACH if leads else Role.WALK if index else on_change,
                detail=words,
                target_pitch=goal if leads else None,
            )
        )
    return notes


def with_drop(draw: Random, notes: list[FillNote], pulse: int) -> list[FillNote]:
    """Return the notes, now and then with a muted stroke on the last triplet of a pulse."""
    wants = draw.random() < DROP_CHANCE
    if not wants or len(notes) < 4:
        return notes
    held = notes[1]
    start = held.end_tick - pulse // 3
    if start <= held.start_tick:
        return notes
    drop = FillNote(
        start_tick=start,
        end_tick=held.end_tick,
        pitch=held.pitch,
        level=DROP_LEVEL,
        role=Role.GHOST,
    )
    shortened = FillNote(
        start_tick=held.start_tick,
        end_tick=start,
        pitch=held.pitch,
        level=held.level,
        role=held.role,
        detail=held.detail,
        target_pitch=held.target_pitch,
    )
    return [notes[0], shortened, drop, *notes[2:]]
