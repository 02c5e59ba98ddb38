"""What a stroke between two anchors may play: one small maker for each kind of aim.

A maker gives pitches with their role and own cost; the moves between them are priced in
``pitches``.  The rules are common practice, no source; what each deviation costs stands in
``weights``.
"""

from collections.abc import Iterable, Iterator
from functools import cached_property

from msgspec import Struct

from groove.arrange.degree_tones import (
    PERFECT_FIFTH,
    aim_role,
    aim_semitones,
    clashes,
    fifth_offset,
    heard_role,
    scale_classes,
    wrong_third,
)
from groove.arrange.weights import Weights
from groove.cells.model import Aim, AimKind
from groove.events import PitchRule, Role
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import OCTAVE

_WHOLE_STEP = 2
LONGEST_RUN = 4
"""Of more strokes that lead to a root the last four are a run; those before go round the goal."""
WALK_BELOW, WALK_ABOVE, WALK_HIGHEST = 7, 16, 24
"""How far a walk goes below and above its root, and above the lowest string, in semitones."""


class Candidate(Struct, frozen=True, gc=False):
    """One note that a stroke may play, and what it costs there.

    ``figure`` is the pitch as the cell writes it, None where no cell does; ``offset`` the semitones
    from the goal in a run to it, else 0; ``skip`` the direction (-1, 1) of the skip by which a walk
    comes to it, else 0; ``rule`` is why it stands there in place of what the cell writes.
    """

    pitch: int
    role: Role
    cost: float = 0.0
    figure: int | None = None
    offset: int = 0
    skip: int = 0
    rule: PitchRule | None = None


class StrokeTask(Struct, frozen=True, gc=False):
    """What a stroke asks for, and where it stands among those that ask for the same.

    ``left`` is how many strokes that lead to the next root follow it without a break, ``goal`` the
    pitch of that root where a degree has one alone after it, ``leads`` whether any follows,
    ``next_root`` its pitch where it comes right after a short degree.  ``is_run`` is whether there
    is another stroke that leads before or after one.  ``again`` is whether the stroke before asks
    for the same.  In a walk ``beat`` counts the strokes from its anchor (1 the first after it),
    ``left`` those up to the next, and ``head`` is the pitch of its anchor.
    """

    aim: Aim
    left: int = 0
    is_run: bool = False
    again: bool = False
    goal: int | None = None
    next_root: int | None = None
    leads: bool = False
    beat: int = 0
    is_strong: bool = False
    head: int | None = None


class Context(Struct, frozen=True, kw_only=True, dict=True):
    """What the strokes between two anchors stand on: chord, key, where they lead, the instrument.

    ``target`` is the pitch of the next chord's root where it is another one, else None; ``lift``
    how far up the neck the chord's own root is taken, in semitones.
    """

    chord: Chord
    key: Key
    target: int | None
    tuning: Tuning
    weights: Weights
    lift: int = 0

    @cached_property
    def root(self) -> int:
        """The pitch of the chord's root, or slash note, in its register."""
        return root_pitch(self.chord.bass_note.pitch_class, self.tuning, self.lift)

    @cached_property
    def root_role(self) -> Role:
        """What that note is called."""
        return Role.SLASH if self.chord.bass else Role.ROOT

    @cached_property
    def tones(self) -> frozenset[int]:
        """The pitch classes of the chord and its slash note."""
        return self.chord.all_pitch_classes

    @cached_property
    def scale(self) -> frozenset[int]:
        """The pitch classes that a run over the chord draws from."""
        return scale_classes(self.chord, self.key)

    @cached_property
    def wrong_third(self) -> int | None:
        """The pitch class of the third that the chord has not, if one would be heard as such."""
        return wrong_third(self.chord, self.key)

    @cached_property
    def has_third(self) -> bool:
        """Whether the chord states its third."""
        return self.chord.degree(3) is not None

    @cached_property
    def intervals(self) -> tuple[float, ...]:
        """What moves of 0 to 12 semitones cost."""
        return self.weights.intervals()

    @property
    def lowest(self) -> int:
        """The lowest pitch of the instrument."""
        return self.tuning.lowest_pitch

    def side(self, before: int) -> int:
        """Return from where a line that comes from a pitch leads to its target: -1 from below.

        The root says so; from an octave above it, or higher, the line falls.
        """
        assert self.target is not None
        start = before if before - self.root >= OCTAVE else self.root
        return -1 if self.target > start else 1


def candidates(task: StrokeTask, context: Context) -> list[Candidate]:
    """Return what a stroke may play; the first is what the cell writes, where it writes a note."""
    return list(_MAKERS[task.aim.kind](task, context))


def written(task: StrokeTask, context: Context) -> Candidate:
    """Return what the cell writes for a degree."""
    return next(_degrees(task, context))


def _degrees(task: StrokeTask, context: Context) -> Iterator[Candidate]:
    """Yield a degree of the chord, the same an octave lower, and root and fifth in its place."""
    figure = context.root + aim_semitones(task.aim, context.chord, context.key)
    figure += OCTAVE * (figure < context.lowest)
    role = aim_role(task.aim, context.chord, context.key)
    # A note struck twice is changed once.
    weights, once = context.weights, not task.again
    is_early = task.next_root is not None and (task.next_root - figure) % OCTAVE == 0
    early = weights.arrives_early * is_early
    is_far = context.chord.bass is not None and PERFECT_FIFTH < figure - context.root < OCTAVE
    far = weights.far_from_slash * is_far * once
    yield Candidate(figure, role, early + far, figure=figure)
    if figure == context.root:
        return
    is_octave = task.aim.number == 8
    lower = figure - OCTAVE
    if lower >= context.lowest:
        lifts = is_octave and not task.leads
        cost = once * (weights.lowered_octave if lifts else weights.lowered)
        yield Candidate(lower, role, cost + early, figure, rule=PitchRule.OCTAVE_LOWER)
    if is_octave:
        return
    fifth = context.root + fifth_offset(context.chord)
    for pitch in (context.root, fifth, fifth - OCTAVE):
        if pitch not in (figure, lower) and pitch >= context.lowest:
            other = context.root_role if pitch == context.root else Role.FIFTH
            cost = weights.replaced * once
            yield Candidate(pitch, other, cost, figure, rule=PitchRule.BACK_IN_CHORD)
    if is_early:
        yield from _steps_beside(task, context)
    goal = None if context.chord.bass else task.goal
    if goal is not None and 0 < goal - figure <= _WHOLE_STEP:
        yield from _step_below(figure, context)


def _steps_beside(task: StrokeTask, context: Context) -> Iterator[Candidate]:
    """Yield steps to the next root in place of a degree that is this root before its time."""
    assert task.next_root is not None
    for offset in (-1, 1, -2, 2):
        pitch = task.next_root + offset
        if pitch >= context.lowest:
            cost = _approach_cost(task, context, pitch, offset, is_last=True)
            yield Candidate(pitch, Role.APPROACH, cost, rule=PitchRule.APPROACH)


def _step_below(figure: int, context: Context) -> Iterator[Candidate]:
    """Yield the scale's next note below a degree that lies just below the next root.

    So two notes lead up to it, where the degree left no room for a step after it.  Above the next
    root no degree lies so near: the line falls from its own root.
    """
    # The degree itself is a fifth or so above the root: what is below it is on the neck.
    steps = (figure - 1, figure - 2)
    pitch = next((step for step in steps if step % OCTAVE in context.scale), None)
    if pitch is not None:
        role = heard_role(pitch, context.chord)
        yield Candidate(pitch, role, context.weights.not_written)


def _approaches(task: StrokeTask, context: Context) -> Iterator[Candidate]:
    """Yield the notes by half and whole steps from which a run of so many gets to the target.

    A run keeps to one side of it and ends beside it.
    """
    assert context.target is not None
    in_run = task.left < LONGEST_RUN
    nearest = task.left + 1 if in_run else 1
    for distance in range(nearest, 2 * nearest + 1):
        for offset in (-distance, distance):
            pitch = context.target + offset
            if pitch >= context.lowest:
                cost = _approach_cost(task, context, pitch, offset, is_last=nearest == 1)
                yield Candidate(
                    pitch,
                    Role.APPROACH,
                    cost,
                    offset=offset if in_run else 0,
                    rule=PitchRule.APPROACH,
                )


def _approach_cost(
    task: StrokeTask, context: Context, pitch: int, offset: int, *, is_last: bool
) -> float:
    """Return what speaks against a note that leads to a root.

    Over a chord without a third the key says what is heard, up to the last note.
    """
    weights = context.weights
    written = offset == task.aim.offset
    cost = weights.wrong_third * (pitch % OCTAVE == context.wrong_third)
    if pitch % OCTAVE not in context.scale:
        above_root = pitch - context.chord.root.pitch_class
        clash = weights.clash * clashes(above_root, context.chord)
        if not (is_last and context.has_third):
            cost += weights.outside + clash
        cost += weights.last_outside * (is_last and not written)
    if task.aim.offset is None:
        return cost + weights.whole_step * (is_last and abs(offset) > 1)
    return cost + weights.not_written * (not written)


def _walks(task: StrokeTask, context: Context) -> Iterator[Candidate]:
    """Yield what a walk may play on a beat, once for each way to come to it (see ``skip``)."""
    leads = task.left == 0 and context.target is not None
    role, rule = (Role.APPROACH, PitchRule.WALKED_INTO) if leads else (Role.WALK, None)
    for pitch in _walk_pitches(task, context):
        cost = context.weights.wrong_third * (pitch % OCTAVE == context.wrong_third)
        turns = (task.beat == 2 and pitch in (context.root, task.head)) or (
            task.left == 1 and pitch == context.target
        )
        cost += context.weights.turning_back * turns
        for skip in (0, -1, 1):
            yield Candidate(pitch, role, cost, skip=skip, rule=rule)


def _walk_pitches(task: StrokeTask, context: Context) -> Iterable[int]:
    """Return the pitches for a beat of a walk.

    Chord tones on strong beats, the scale's notes between; last what leads to the target: half
    steps, the scale's steps, its fifth.  A chord of two beats whose root lies a half step from the
    next has no room between them: another of its tones leads on, or the half step beyond.
    """
    lowest = max(context.lowest, context.root - WALK_BELOW)
    highest = min(context.lowest + WALK_HIGHEST, context.root + WALK_ABOVE)
    reach = range(lowest, highest + 1)
    tones = [pitch for pitch in reach if pitch % OCTAVE in context.tones]
    target = context.target
    if task.left == 0 and target is not None:
        if task.beat == 1 and abs(context.root - target) == 1:
            known = (context.root % OCTAVE, target % OCTAVE)
            others = {pitch for pitch in tones if pitch % OCTAVE not in known}
            near = others | {2 * target - context.root}
        else:
            wholes = [step for step in (-2, 2) if (target + step) % OCTAVE in context.scale]
            near = {target + step for step in (-1, 1, *wholes, 7, -5)}
        return sorted(pitch for pitch in near if pitch >= context.lowest)
    if task.is_strong or task.left == 0:
        return tones
    return [pitch for pitch in reach if pitch % OCTAVE in context.scale]


_MAKERS = {AimKind.DEGREE: _degrees, AimKind.NEXT: _approaches, AimKind.WALK: _walks}
