"""The pitches of a bass line: one search between roots.

The first stroke of every chord, a root wherever one is asked for, and notes whose pitch is given
are anchors; nothing moves them, so that one changed bar changes no other but what leads into it.
Between two anchors every stroke has candidates (``candidates``), one table prices notes and moves
(``weights``), and the cheapest path is played.  Of paths that cost the same chance takes one, by
name; a walk may cost a little more than the cheapest, so that two bars on one chord differ.
Ghosts take the pitch under the hand afterwards.
"""

from collections.abc import Iterable, Sequence
from itertools import groupby
from math import inf
from operator import add

from msgspec.structs import replace

from groove.arrange.candidates import Candidate, Context, StrokeTask, candidates, written
from groove.arrange.degree_tones import PERFECT_FIFTH, aim_semitones
from groove.arrange.drafts import Draft
from groove.arrange.draws import first_draw
from groove.arrange.plan import BarPlan
from groove.arrange.stroke_tasks import stroke_tasks
from groove.arrange.weights import Weights
from groove.cells.model import AimKind
from groove.events import PitchRule, Reason, Role
from groove.neck.instrument import Tuning, root_pitch
from groove.search import Path, near_paths
from groove.theory.keys import Key
from groove.theory.pitch import OCTAVE

STEP, FOURTH, TRITONE = 2, 5, 6
_FALLEN_SEVENTHS = (-10, -11)  # From below it leads to its root, from above up to the octave.
WALK_SLACK, WALTZ_SLACK = 0.75, 2.0
"""How much more than the cheapest a walk may cost, and one of two strokes, which has few ways."""
_WALTZ_STROKES = 2
MOST_PATHS = 64
"""Among how many paths chance takes one."""
AT_HOME = (Role.ROOT, Role.SLASH, Role.OCTAVE)
"""Roles from which a line may leap to the next chord."""

CandidatePath = tuple[Candidate, ...]


class LineSearch:
    """Finds the pitches between anchors; what two places have in common is searched once."""

    def __init__(
        self,
        plans: Sequence[BarPlan],
        keys: Sequence[Key],
        tuning: Tuning,
        weights: Weights,
    ) -> None:
        """``keys`` are the keys of the bars."""
        self.plans = plans
        self.keys = keys
        self.tuning = tuning
        self.weights = weights
        self.contexts: dict[tuple[int, int, int | None, int], Context] = {}
        self.found: dict[object, list[tuple[CandidatePath, float]]] = {}

    def give_pitches(self, drafts: Sequence[Draft]) -> None:
        """Give every stroke that is neither ghost nor anchor its pitch and its reason."""
        start: Draft | None = None
        between: list[Draft] = []
        for draft in drafts:
            if not draft.sounds:
                continue
            begins_bar = bool(between) and between[-1].bar != draft.bar
            if draft.pitch is None and begins_bar and _is_degree(draft):
                # What is chosen in one bar does not reach into the one before.
                self.as_written(draft)
            if draft.pitch is None:
                between.append(draft)
                continue
            if between:
                self.lead_into(start, between, draft)
            # What is drawn leads into a written note, and goes on from none.
            start, between = None if draft.is_written else draft, []
        if between:
            self.give_path(start, between, None)

    def lead_into(self, start: Draft | None, between: Sequence[Draft], goal: Draft) -> None:
        """Give the strokes between two anchors their pitches.

        Into a written note only the last step leads; all before it is as if nothing were written,
        so that a change of the note changes no more.
        """
        chord, span = goal.chord, goal.span
        if not goal.is_written or chord is None or span is None:
            self.give_path(start, between, goal)
            return
        role = Role.SLASH if chord.bass else Role.ROOT
        pitch = span.root_pitch(self.tuning)
        head = max(span.start_tick, between[-1].end)
        root = replace(goal, pitch=pitch, role=role, start=head, written=None)
        self.give_path(start, between, root)
        last = between[-1]
        leads = last.aim is not None and last.aim.kind in (AimKind.NEXT, AimKind.WALK)
        if leads and last.target_pitch is not None and goal.start == head != last.start:
            last.target_pitch = goal.pitch
            self.give_path(between[-2] if len(between) > 1 else start, [last], goal)

    def fix_written(self, drafts: Iterable[Draft]) -> None:
        """Put the degrees and steps of a player's own line where it has them, whatever comes."""
        own = (draft for draft in drafts if draft.as_written and draft.sounds)
        for target, run in groupby(own, _written_target):
            if target is not None:
                self.steps_as_written(target, list(run))
                continue
            for draft in run:
                if draft.pitch is None and _is_degree(draft):
                    self.as_written(draft)

    def falls_below(self, draft: Draft) -> bool:
        """Return whether a degree is written below the lowest string, and so an octave higher."""
        assert draft.aim is not None and draft.chord is not None
        root = root_pitch(draft.chord.bass_note.pitch_class, self.tuning)
        above = aim_semitones(draft.aim, draft.chord, self.keys[draft.bar])
        return root + above < self.tuning.lowest_pitch

    def as_written(self, draft: Draft) -> None:
        """Put a stroke on what its cell writes."""
        assert draft.aim is not None
        chosen = written(StrokeTask(draft.aim), self.context(draft))
        draft.pitch, draft.role = chosen.pitch, chosen.role

    def steps_as_written(self, target: int, run: Sequence[Draft]) -> None:
        """Put the steps into a root on the side and at the distance that the player wrote.

        Where one would fall below the lowest string all are played an octave higher.
        """
        pitches = [target + draft.aim.offset for draft in run if draft.aim and draft.aim.offset]
        lift = OCTAVE if min(pitches) < self.tuning.lowest_pitch else 0
        for draft, pitch in zip(run, pitches, strict=True):
            draft.pitch = pitch + lift
            draft.role, draft.reason = Role.APPROACH, Reason(PitchRule.APPROACH, pitch - target)

    def give_path(self, start: Draft | None, between: Sequence[Draft], goal: Draft | None) -> None:
        """Give the strokes between two anchors the way that chance takes of the cheapest."""
        paths = self.paths(start, between, goal)
        number = self._choice(between[0], len(paths)) if len(paths) > 1 else 0
        for draft, chosen in zip(between, paths[number][0], strict=True):
            draft.pitch, draft.role = chosen.pitch, chosen.role
            draft.reason, draft.target_pitch = _reason_of(draft, chosen, goal)

    def _choice(self, draft: Draft, count: int) -> int:
        """Return which of some paths from a stroke on chance takes.

        Where the line is to change, a later time takes another than the first one, and goes round.
        """
        plan = self.plans[draft.bar]
        ref, name = plan.bar.ref, f"line {draft.start - plan.start_tick}"
        seed, section, bar = plan.seed, plan.bar.stem, ref.bar_in_section
        number = int(first_draw(seed, "bass", name, section, bar, None) * count)
        time = plan.line_draw_time
        if time is None:
            return number
        further = int(first_draw(seed, "bass", f"other {name}", section, bar, None) * count)
        return (number + 1 + (further + time) % (count - 1)) % count

    def paths(
        self, start: Draft | None, between: Sequence[Draft], goal: Draft | None
    ) -> list[tuple[CandidatePath, float]]:
        """Return the cheapest paths from anchor to anchor, and what each costs."""
        contexts = [self.context(draft) for draft in between]
        head = start.pitch if start else None
        tasks = stroke_tasks(between, head, goal)
        key = (
            first := _anchor_candidate(start, between[0]),
            *zip(tasks, map(id, contexts), strict=True),
            last := _anchor_candidate(goal, between[-1]),
        )
        if key not in self.found:
            self.found[key] = search(tasks, contexts, first, last)
        return self.found[key]

    def context(self, draft: Draft) -> Context:
        """Return what a stroke stands on."""
        chord, key = draft.chord, self.keys[draft.bar]
        assert chord is not None and draft.span is not None
        lift = draft.span.lift
        name = (id(chord), id(key), draft.target_pitch, lift)
        if name not in self.contexts:
            self.contexts[name] = Context(
                chord=chord,
                key=key,
                target=draft.target_pitch,
                tuning=self.tuning,
                weights=self.weights,
                lift=lift,
            )
        return self.contexts[name]


def _written_target(draft: Draft) -> int | None:
    """Return the pitch that a step of a written line leads to, None for any other stroke."""
    is_step = draft.pitch is None and draft.aim is not None and draft.aim.offset
    return draft.target_pitch if is_step else None


def _is_degree(draft: Draft) -> bool:
    return draft.aim is not None and draft.aim.kind is AimKind.DEGREE


def _anchor_candidate(draft: Draft | None, neighbour: Draft) -> Candidate | None:
    """Return an anchor as the search sees it; in the chord of its neighbour a figure joins them."""
    if draft is None or draft.pitch is None:
        return None
    in_chord = draft.chord == neighbour.chord and draft.role is not Role.FILL
    figure = draft.pitch if in_chord else None
    return Candidate(draft.pitch, draft.role, figure=figure)


def search(
    tasks: Sequence[StrokeTask],
    contexts: Sequence[Context],
    start: Candidate | None,
    goal: Candidate | None,
) -> list[tuple[CandidatePath, float]]:
    """Return the cheapest paths through the candidates of some strokes, and what each costs."""
    as_written = _as_written(tasks, contexts, start, goal)
    if as_written:
        return [(as_written, 0.0)]
    layers = [candidates(task, context) for task, context in zip(tasks, contexts, strict=True)]
    costs = [[candidate.cost for candidate in layer] for layer in layers]
    if start:
        first = [row[0] for row in _moves(tasks[0], contexts[0], [start], layers[0])]
        costs[0] = list(map(add, costs[0], first))
        reached = [i for i, cost in enumerate(costs[0]) if cost < inf]
        layers[0], costs[0] = [layers[0][i] for i in reached], [costs[0][i] for i in reached]
    if goal:
        last = [_goal_cost(contexts[-1], one, goal) for one in layers[-1]]
        costs[-1] = list(map(add, costs[-1], last))
    is_walk = tasks[0].aim.kind is AimKind.WALK
    slack = is_walk * (WALTZ_SLACK if len(tasks) == _WALTZ_STROKES else WALK_SLACK)

    tables: list[list[list[float]]] = [[]]
    for i in range(1, len(layers)):
        rows = _moves(tasks[i], contexts[i], layers[i - 1], layers[i])
        reached = [j for j, row in enumerate(rows) if min(row) < inf]
        layers[i], costs[i] = [layers[i][j] for j in reached], [costs[i][j] for j in reached]
        tables.append([rows[j] for j in reached])
    paths = near_paths(costs, tables.__getitem__, slack, MOST_PATHS)
    return [(_candidates_of(layers, path), path.cost) for path in paths]


def _as_written(
    tasks: Sequence[StrokeTask],
    contexts: Sequence[Context],
    start: Candidate | None,
    goal: Candidate | None,
) -> CandidatePath | None:
    """Return the strokes as the cell writes them where that costs nothing: it mostly does."""
    if any(task.aim.kind is not AimKind.DEGREE for task in tasks):
        return None
    path = tuple(map(written, tasks, contexts))
    before = [start, *path[:-1]] if start else path[:-1]
    pairs = zip(reversed(tasks), reversed(contexts), reversed(before), reversed(path), strict=False)
    ends_well = not goal or _goal_cost(contexts[-1], path[-1], goal) == 0
    is_free = ends_well and not any(one.cost for one in path)
    return path if is_free and not any(move_cost(*pair) for pair in pairs) else None


def _moves(
    task: StrokeTask, context: Context, before: Sequence[Candidate], after: Sequence[Candidate]
) -> list[list[float]]:
    """Return what the moves from one stroke's candidates to the next one's cost."""
    if task.aim.kind is AimKind.WALK:
        return _walk_moves(task, context, before, after)
    return [[move_cost(task, context, old, new) for old in before] for new in after]


def _candidates_of(layers: Sequence[Sequence[Candidate]], path: Path) -> CandidatePath:
    return tuple(layer[choice] for layer, choice in zip(layers, path.choices, strict=True))


def move_cost(task: StrokeTask, context: Context, before: Candidate, after: Candidate) -> float:
    """Return what a move to a stroke's candidate costs; ``inf`` where it cannot be made."""
    move = after.pitch - before.pitch
    if after.offset and before.offset:
        nearer = abs(before.offset) - abs(after.offset)
        one_side = before.offset * after.offset > 0
        return 0.0 if one_side and 1 <= nearer <= STEP else inf
    if abs(move) > OCTAVE:
        return context.weights.over_octave
    if task.aim.kind is AimKind.NEXT:
        return _approach_cost(task, context, before, after)
    if _is_written(before, after):
        return 0.0
    if task.again:
        # A note struck twice moves as a whole: anything else would be a new figure.
        return inf
    if move == 0:
        return context.weights.same_degree
    return interval_cost(context, before.pitch, after.pitch)


def _is_written(before: Candidate, after: Candidate) -> bool:
    """Return whether a move is one that the cell writes inside its chord: no seventh falls."""
    if before.figure is None or after.figure is None:
        return False
    move = after.pitch - before.pitch
    return move == after.figure - before.figure and move not in _FALLEN_SEVENTHS


def interval_cost(context: Context, before: int, after: int) -> float:
    """Return what a move costs by its size, and whether a tritone fits the chord."""
    size = abs(after - before)
    if size > OCTAVE:
        return context.weights.over_octave
    if size == TRITONE and not {before % OCTAVE, after % OCTAVE} <= context.tones:
        return context.intervals[size] + context.weights.tritone
    return context.intervals[size]


def _approach_cost(
    task: StrokeTask, context: Context, before: Candidate, after: Candidate
) -> float:
    """Return what a move to the first note that leads to a root costs."""
    weights = context.weights
    if before.pitch == after.pitch == context.root:
        cost = weights.root_again + weights.run_from_root * task.is_run
    else:
        cost = interval_cost(context, before.pitch, after.pitch)
    assert context.target is not None
    is_chosen = task.aim.offset is None or task.is_run
    from_side = after.pitch - context.target
    was_side = before.pitch - context.target
    if was_side * from_side > 0 and abs(was_side) < abs(from_side) <= STEP:
        cost += weights.away_from_goal
    if was_side * from_side == -1 and after.pitch % OCTAVE not in context.scale:
        cost += weights.enclosure
    return cost + weights.other_side * (is_chosen and from_side * context.side(before.pitch) < 0)


def _walk_moves(
    task: StrokeTask, context: Context, before: Sequence[Candidate], after: Sequence[Candidate]
) -> list[list[float]]:
    """Return what the moves of a walk cost; each is priced once and stands where its skip says."""
    rows = [[inf] * len(before) for _ in after]
    numbers = {(candidate.pitch, candidate.skip): i for i, candidate in enumerate(after)}
    leads = task.left == 0 and context.target is not None
    weights, intervals, tones = context.weights, context.intervals, context.tones
    pitches = dict.fromkeys(candidate.pitch for candidate in after)
    # The rows of a pitch by the skip to it: the last one is that of -1.
    goals = [
        (pitch, pitch % OCTAVE in tones, [rows[numbers[pitch, skip]] for skip in (0, 1, -1)])
        for pitch in pitches
    ]
    for i, old in enumerate(before):
        start = old.pitch
        was_tone = start % OCTAVE in tones
        for pitch, is_tone, by_skip in goals:
            move = pitch - start
            size = abs(move)
            if size > OCTAVE:
                continue
            cost = intervals[size]
            if size > STEP and not (was_tone and is_tone):
                cost += weights.tritone * (size == TRITONE)
                cost += weights.passing_leap * (not (was_tone and leads))
            if old.skip:
                cost += _unanswered(context, old, move)
            if leads:
                cost += _leading_cost(task, context, start, pitch, is_tone=is_tone)
            by_skip[0 if size <= FOURTH else 1 if move > 0 else -1][i] = cost
    return rows


def _leading_cost(
    task: StrokeTask, context: Context, before: int, pitch: int, *, is_tone: bool
) -> float:
    """Return what speaks against the last note of a walk before its target."""
    weights, target = context.weights, context.target
    assert target is not None
    inside, outside = before - target, pitch - target
    if abs(inside) == 1 and task.beat == 1:
        return 0.0 if is_tone else weights.enclosure
    cost = 0.0
    if abs(inside) == 1 and outside == 2 * inside and not is_tone:
        cost += weights.away_from_goal
    if inside * outside < 0 and abs(outside) <= STEP:
        cost += weights.past_goal
    return cost


def _unanswered(context: Context, before: Candidate, move: int) -> float:
    """Return what it costs where a wide skip is not answered by a step back."""
    answered = before.skip * move < 0 and abs(move) <= STEP
    return context.weights.unanswered if before.skip and not answered else 0.0


def _goal_cost(context: Context, before: Candidate, goal: Candidate) -> float:
    """Return what the move to the anchor at the end costs."""
    move = goal.pitch - before.pitch
    if abs(move) > OCTAVE:
        return context.weights.over_octave
    if _is_written(before, goal):
        return 0.0
    if before.role in (Role.APPROACH, Role.WALK) or goal.figure is not None:
        cost = interval_cost(context, before.pitch, goal.pitch)
        by_fifth = before.role is Role.APPROACH and abs(move) in (FOURTH, PERFECT_FIFTH)
        cost += context.weights.led_by_fifth * by_fifth
        return cost + _unanswered(context, before, move)
    if goal.role is Role.FILL:
        return fill_entry_cost(context, before.pitch, goal.pitch)
    leaps = PERFECT_FIFTH < abs(move) < OCTAVE and before.role not in AT_HOME
    return context.intervals[abs(move)] if leaps else 0.0


def fill_entry_cost(context: Context, before: int, first: int) -> float:
    """Return what the move to a fill's first note costs; its root is near within an octave."""
    if abs(first - before) > OCTAVE:
        return context.weights.over_octave
    if first % OCTAVE == context.root % OCTAVE or first == before:
        return 0.0
    return interval_cost(context, before, first)


def _reason_of(
    draft: Draft, chosen: Candidate, goal: Draft | None
) -> tuple[Reason | None, int | None]:
    """Return why a note has its pitch, and the pitch that it leads to."""
    rule, led_to = chosen.rule, goal.pitch if goal else None
    if rule is None:
        return None, None
    if chosen.role is Role.APPROACH:
        target = draft.target_pitch or led_to
        assert target is not None
        return Reason(rule, chosen.pitch - target), target
    return Reason(rule), led_to


def voice_ghosts(drafts: Sequence[Draft]) -> None:
    """Put every ghost on the string and fret already under the hand.

    Before the first note the hand waits where that note will be.
    """
    pitched = (d.pitch for d in drafts if d.pitch is not None and d.role is not Role.GHOST)
    under_hand = next(pitched, None)
    for draft in drafts:
        if draft.role is Role.GHOST:
            draft.pitch = under_hand
        elif draft.pitch is not None:
            under_hand = draft.pitch
