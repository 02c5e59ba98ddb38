"""Who fills where, and what the bass plays there.

A fill stands at the end of a section; with ``many``, at every fourth bar too, though not in the
first four of a section that is softer than usual, nor shortly before its end. Bass and drums never
fill the same bar: they take turns, one fills, the other keeps time. A bass fill starts from a chord
tone near the line before it, keeps its direction and arrives on the next root on time (common
practice, no source).
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from msgspec import Struct

from groove.arrange.draws import draw_for, weighted_choice
from groove.arrange.leads import Way, approach_words, step_to
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.rhythm import bass_bar, lay_strokes
from groove.arrange.spans import Span, spans_by_bar
from groove.arrange.tones import (
    contradicts,
    degree_offset,
    degree_pitch,
    scale_classes,
    served_number,
)
from groove.cells.fit import Family, meter_family
from groove.cells.model import AimKind
from groove.chart.model import Fills
from groove.events import Role
from groove.harmony.tones import chord_tones_in
from groove.neck.instrument import Tuning, hand_frets, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name

FILL_BARS = 4
FIRST_BARS = 4
BARS_BEFORE_END = 2
FILL_PULSES = 2
FILL_UNITS = 3
"""Length of a fill where the pulse is the eighth, as in 7/8: its last group of three."""
FOURTH, TRITONE, FIFTH, OCTAVE = 5, 6, 7, 12
HAND = 4
"""Frets that a hand covers, one finger a fret."""
LEVELS = (6, 6, 7, 7)


class FillNote(Struct, frozen=True, kw_only=True):
    """One note whose pitch is given: start and end in ticks, level 1-9, and its reason."""

    start_tick: int
    end_tick: int
    pitch: int
    level: int
    role: Role = Role.FILL
    detail: str = ""
    target_pitch: int | None = None


class BassFill(Struct, frozen=True, kw_only=True):
    """A bass fill from ``start_tick`` to its bar's end, leading to ``target_pitch``."""

    start_tick: int
    notes: tuple[FillNote, ...]
    target_pitch: int
    detail: str


class FillPlan(Struct, frozen=True, kw_only=True):
    """The bass's fills by the index of their bar, and the bars that the drums fill."""

    bass: dict[int, BassFill]
    drums: frozenset[int]


class Ground(Struct, frozen=True, kw_only=True):
    """What a bass fill stands on: its bar, its chord, the next root, the key, the instrument.

    ``line`` is what the cell plays in the bar, as (tick, pitch), as far as the cell tells it.
    ``step_ticks`` is the fill's note value, ``longest`` how many of them there is time for,
    ``from_change`` whether its chord begins with it.
    """

    plan: BarPlan
    chord: Chord
    root: int
    line: tuple[tuple[int, int], ...]
    target: int
    key: Key
    tuning: Tuning
    step_ticks: int
    longest: int
    from_change: bool


def plan_fills(plan: Plan, spans: Sequence[Span], keys: Sequence[Key], tuning: Tuning) -> FillPlan:
    """Return who fills in which bars of a song."""
    bass: dict[int, BassFill] = {}
    drums = set()
    by_bar = spans_by_bar(spans)
    sections = list(dict.fromkeys(bar.bar.ref.section for bar in plan.bars))
    for index in fill_bars(plan):
        bar = plan.bars[index]
        ref = bar.bar.ref
        draw = draw_for(bar.seed, "band", "fill", ref.section, ref.bar_in_section, None)
        drummer = bar.drums is not None and bool(bar.drums.fill)
        wants_bass = not drummer or is_turn_of_bass(bar, sections.index(ref.section))
        ground = fill_ground(plan, index, by_bar, keys, tuning) if wants_bass else None
        shapes = within_reach(list(bass_shapes(ground)), ground) if ground else []
        if ground and shapes:
            bass[index] = weighted_choice(draw, from_the_line(shapes, ground))
        elif drummer:
            drums.add(index)
    return FillPlan(bass=bass, drums=frozenset(drums))


def is_turn_of_bass(plan: BarPlan, section_index: int) -> bool:
    """Return whether it is the bass that fills: it and the drums take turns.

    From phrase to phrase and from section to section, so that neither has all of them; a section
    that comes again has its fills again.
    """
    phrases = plan.bar.ref.bar_in_section // FILL_BARS
    return (section_index + phrases + plan.seed) % 2 == 0


def fill_bars(plan: Plan) -> Iterator[int]:
    """Yield the indices of the bars that somebody fills."""
    for index, bar in enumerate(plan.bars[:-1]):
        if bar.word or bar.bar.is_pickup or bar.is_thin or plan.bars[index + 1].word:
            continue
        at_end = bar.bar.is_section_end and bar.fills is not Fills.NONE
        if at_end or (bar.fills is Fills.MANY and fills_within(plan, index)):
            yield index


def fills_within(plan: Plan, index: int) -> bool:
    """Return whether many fills have one inside a section here: in its every fourth bar."""
    bar = plan.bars[index]
    number = bar.bar.ref.bar_in_section
    soon = plan.bars[index + 1 : index + 1 + BARS_BEFORE_END]
    is_early = number <= FIRST_BARS and bar.velocity_offset < 0
    ends_soon = any(after.bar.is_section_end for after in soon)
    return number % FILL_BARS == 0 and not is_early and not ends_soon


def fill_ground(
    plan: Plan,
    index: int,
    by_bar: dict[int, list[Span]],
    keys: Sequence[Key],
    tuning: Tuning,
) -> Ground | None:
    """Return what a bass fill would stand on, None where the bass had better keep time.

    It needs a cell that can be left, one chord under the fill, and a next bar whose first stroke
    is on its head and not pushed.
    """
    bar, after = plan.bars[index], plan.bars[index + 1]
    own, following = by_bar.get(index, []), by_bar.get(index + 1, [])
    if not own or not following or not steps_of(bar) or not strikes_head(after):
        return None
    last, goal, key = own[-1], following[0], keys[index]
    step, longest = fill_steps(bar)
    start = bar.end_tick - longest * step
    crowded = last.start_tick > start or start < bar.start_tick
    if crowded or last.chord is None or goal.chord is None or goal.is_pushed:
        return None
    return Ground(
        plan=bar,
        chord=last.chord,
        root=root_pitch(last.chord.bass_note.pitch_class, tuning),
        line=tuple(cell_line(bar, own, key, tuning)),
        target=root_pitch(goal.chord.bass_note.pitch_class, tuning),
        key=key,
        tuning=tuning,
        step_ticks=step,
        longest=longest,
        from_change=last.start_tick == start,
    )


def cell_line(
    plan: BarPlan, spans: Sequence[Span], key: Key, tuning: Tuning
) -> Iterator[tuple[int, int]]:
    """Yield (tick, pitch) for what a bar's cell plays of its chords."""
    cell = plan.bass
    assert cell is not None and cell.meter is not None, "only a row of steps is left for a fill"
    bar = bass_bar(cell, plan, lambda: not spans[0].is_change)
    for start, _, stroke in lay_strokes(bar.strokes, cell.meter, plan.bar.meter):
        tick = plan.start_tick + start
        chord = next((span.chord for span in reversed(spans) if span.start_tick <= tick), None)
        if chord and stroke.aim.kind is AimKind.DEGREE:
            yield tick, degree_pitch(stroke.aim, chord, key, tuning)


def fill_steps(plan: BarPlan) -> tuple[int, int]:
    """Return the note value of a bass fill in ticks, and how many of them it has at most."""
    pulse = plan.bar.meter.pulse_ticks
    if meter_family(plan.bar.meter) is Family.UNITS:
        return pulse, FILL_UNITS
    parts = 3 if plan.in_triplets else 2
    return pulse // parts, FILL_PULSES * parts


def steps_of(plan: BarPlan) -> bool:
    """Return whether a bar's bass plays a row of steps."""
    return plan.bass is not None and bool(plan.bass.bars)


def strikes_head(plan: BarPlan) -> bool:
    """Return whether a bar's bass strikes beat 1, whatever its chords are."""
    cell = plan.bass
    if cell is None:
        return False
    if not cell.bars:
        return True
    bars = (bass_bar(cell, plan, lambda: True), bass_bar(cell, plan, lambda: False))
    return all(bar.strokes and bar.strokes[0].start_beats == 0 for bar in bars)


def bass_shapes(ground: Ground) -> Iterator[tuple[BassFill, float]]:
    """Yield the fills that can be played there, each with its weight.

    To the root that it stands on a bass walks, where there is a way.
    """
    makers = ((scale_run, 3.0), (approach, 2.0), (ninth_figure, 2.0), (turnaround, 2.0))
    for make, weight in makers:
        fill = make(ground)
        if fill and is_playable(fill, ground):
            yield fill, weight
            if make is scale_run and ground.root == ground.target:
                return


def within_reach(
    shapes: Sequence[tuple[BassFill, float]], ground: Ground
) -> list[tuple[BassFill, float]]:
    """Return the fills that one hand position holds with the roots on both sides of it.

    Where there is none, those for which the hand has to reach least.  The tempo is left out of
    it, so that a song practised slowly has the line of the song.
    """
    reaches = [hand_reach(fill, ground) for fill, _ in shapes]
    widest = max(HAND, min(reaches, default=HAND))
    return [shape for shape, reach in zip(shapes, reaches, strict=True) if reach <= widest]


def from_the_line(
    shapes: Sequence[tuple[BassFill, float]], ground: Ground
) -> Sequence[tuple[BassFill, float]]:
    """Return the fills that begin near the line before them; all where none does."""
    return [shape for shape in shapes if starts_near(shape[0], ground)] or shapes


def starts_near(fill: BassFill, ground: Ground) -> bool:
    """Return whether a fill begins on its root, or a fourth at most from the note before it."""
    first = fill.notes[0].pitch
    is_root = (first - ground.root) % OCTAVE == 0
    return is_root or abs(first - line_before(fill, ground)) <= FOURTH


def line_before(fill: BassFill, ground: Ground) -> int:
    """Return the last pitch that the cell plays before a fill, its root where it tells none."""
    heard = [pitch for tick, pitch in ground.line if tick < fill.start_tick]
    return heard[-1] if heard else ground.root


def hand_reach(fill: BassFill, ground: Ground) -> int:
    """Return over how many frets a hand reaches for a fill, from its root to its target."""
    pitches = [ground.root, *(note.pitch for note in fill.notes), fill.target_pitch]
    return hand_frets(pitches, ground.tuning)


def is_playable(fill: BassFill, ground: Ground) -> bool:
    """Return whether a fill has time, moves on well, fits its chord, and states a new one."""
    pitches = [note.pitch for note in fill.notes]
    moves = pairwise([*pitches, ground.target])
    first_on_root = (pitches[0] - ground.root) % 12 == 0
    before = line_before(fill, ground)
    return (
        len(pitches) <= ground.longest
        and min(pitches) >= ground.tuning.lowest_pitch
        and (pitches[0] == before or sings(before, pitches[0], ground.chord))
        and all(sings(before, after, ground.chord) for before, after in moves)
        and not any(contradicts(pitch, ground.chord) for pitch in pitches)
        and (first_on_root or not ground.from_change)
    )


def sings(before: int, after: int, chord: Chord) -> bool:
    """Return whether a move is one to sing: no wider than a fifth but for an octave.

    A tritone is one only between tones of the chord.
    """
    size = abs(after - before)
    if size == TRITONE:
        return {before % OCTAVE, after % OCTAVE} <= chord.pitch_classes
    return 0 < size <= FIFTH or size == OCTAVE


def build_fill(ground: Ground, pitches: Sequence[int], detail: str) -> BassFill:
    """Return a fill of equal notes that ends with its bar."""
    start = ground.plan.end_tick - len(pitches) * ground.step_ticks
    notes = tuple(
        FillNote(
            start_tick=start + index * ground.step_ticks,
            end_tick=start + (index + 1) * ground.step_ticks,
            pitch=pitch,
            level=LEVELS[index % len(LEVELS)],
        )
        for index, pitch in enumerate(pitches)
    )
    return BassFill(start_tick=start, notes=notes, target_pitch=ground.target, detail=detail)


def approach(ground: Ground) -> BassFill | None:
    """Return the fifth and a step from the next root, where the root changes."""
    if ground.root == ground.target:
        return None
    fifth = ground.root + degree_offset(5, ground.chord, ground.key)
    way = Way(
        chord=ground.chord,
        key=ground.key,
        root=ground.root,
        goal=ground.target,
        before=fifth,
        may_drop=True,
        lowest=ground.tuning.lowest_pitch,
    )
    offset = step_to(way, None)
    below = fifth - OCTAVE
    dark = abs(below - ground.target - offset) < abs(fifth - ground.target - offset)
    if dark and below >= ground.tuning.lowest_pitch:
        fifth = below
    detail = f"approach: {approach_words(offset, ground.target)}"
    return build_fill(ground, (fifth, ground.target + offset), detail)


def scale_run(ground: Ground) -> BassFill | None:
    """Return a run of the key in one direction from a chord tone to the next root.

    The longest that begins near the line before it, else the longest.
    """
    runs = list(scale_runs(ground))
    near = (run for run in runs if starts_near(run, ground))
    return next(near, runs[0] if runs else None)


def scale_runs(ground: Ground) -> Iterator[BassFill]:
    """Yield the runs there are, from the line's own side first, the longest first."""
    scale = scale_classes(ground.chord, ground.key)
    tones = ground.chord.pitch_classes
    for side in (-1, 1) if ground.target >= ground.root else (1, -1):
        for count in range(ground.longest, 2, -1):
            pitches = run_towards(ground.target, side, count, scale)
            on_neck = min(pitches) >= ground.tuning.lowest_pitch
            if on_neck and pitches[0] % 12 in tones:
                word = "up" if side < 0 else "down"
                detail = f"scale run {word} to {pitch_name(ground.target)}"
                yield build_fill(ground, pitches, detail)


def run_towards(target: int, side: int, count: int, scale: frozenset[int]) -> tuple[int, ...]:
    """Return ``count`` scale notes that lead to a target from below (-1) or above (1)."""
    pitches: list[int] = []
    pitch = target
    while len(pitches) < count:
        pitch += side
        if pitch % 12 in scale:
            pitches.insert(0, pitch)
    return tuple(pitches)


def ninth_figure(ground: Ground) -> BassFill | None:
    """Return root, fifth, ninth, octave, which falls to the next root, where the ninth belongs."""
    ninth = chord_tones_in(ground.chord, ground.key, None).ninth
    if ninth is None or ground.chord.bass:
        return None
    above = (ninth.pitch_class - ground.chord.root.pitch_class) % OCTAVE
    fifth = degree_offset(5, ground.chord, ground.key)
    pitches = [ground.root + offset for offset in (0, fifth, OCTAVE + above, OCTAVE)]
    detail = f"root, fifth, ninth, octave, to {pitch_name(ground.target)}"
    return build_fill(ground, pitches, detail)


def turnaround(ground: Ground) -> BassFill | None:
    """Return octave, seventh (or sixth), fifth and a step down that turn round to the next root."""
    colour = served_number(7, ground.chord, ground.key)
    if ground.root == ground.target or colour not in (6, 7):
        return None
    upper = [ground.root + degree_offset(n, ground.chord, ground.key) for n in (8, colour, 5)]
    scale = scale_classes(ground.chord, ground.key)
    steps = [step for step in (1, 2) if (ground.target + step) % 12 in scale]
    lasts = [ground.target + step for step in (*steps, 1) if ground.target + step < upper[-1]]
    if not lasts:
        return None
    words = f"octave, {'seventh' if colour == 7 else 'sixth'}, fifth"
    detail = f"turnaround: {words}, and down to {pitch_name(ground.target)}"
    return build_fill(ground, (*upper, lasts[0]), detail)
