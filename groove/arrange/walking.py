"""The strokes of a walking bass, which is new each chorus.

The first chorus of several goes in two, later ones in four; from the second on the third or the
fifth may stand at the head of a chord (common practice, no source).
"""

from collections.abc import Sequence
from random import Random

from groove.arrange.degree_tones import PERFECT_FIFTH, fifth_offset
from groove.arrange.drafts import GHOST_AIM, ROOT_AIM, STEP_AIM, WALK_AIM, Draft
from groove.arrange.draws import draw_for, first_draw, weighted_choice
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span
from groove.cells.model import Aim, AimKind, LineKind
from groove.theory.pitch import OCTAVE

_HEAD_LEVEL, _BEAT_LEVEL, _LEADING_LEVEL = 7, 6, 5
_DROP_LEVEL = 3
_DROP_CHANCE = 0.12
_SHORTEST_DROP_WALK = 4
_LEADING_CHANCE = 0.4
"""In how many bars in two an eighth leads to the next root."""
_OTHER_HEAD_CHANCE = 0.2
"""At how many chords another tone than the root may begin, from the second chorus on."""
_HEADS = ((3, 2.0), (5, 1.0))
_ANSWERS = ((5, 3.0), (3, 1.0))
"""What is played at a chord's head, and half a bar after its root in two, and how often."""
_STEPS = (1, 2)


def walking_bar(
    plan: BarPlan, index: int, cell: str, spans: Sequence[Span], after: Span | None
) -> list[Draft]:
    """Return one stroke a pulse, or every other one in two, the first of each chord its root.

    ``after`` is the first chord of the next bar.
    """
    walk = _Walk(plan, index, cell)
    # A bar whose only chord gives way to the push of the next one has none.
    for span, upcoming in zip(spans, [*spans[1:], after], strict=False):
        if span.chord is None:
            continue
        if plan.arrangement.is_in_two:
            walk.add_in_two(span, upcoming)
        else:
            walk.add_in_four(span)
    if not plan.arrangement.is_in_two:
        walk.drop()
    return walk.drafts


class _Walk:
    """The strokes of one bar as they are laid."""

    def __init__(self, plan: BarPlan, index: int, cell: str) -> None:
        self.plan = plan
        self.index = index
        self.cell = cell
        self.pulse = plan.bar.meter.pulse_ticks
        self.place = (plan.bar.stem, plan.bar.ref.bar_in_section, plan.arrangement.draw_time)
        self.drafts: list[Draft] = []

    def draw(self, purpose: str) -> Random:
        """Return the generator for one purpose in this bar at this time."""
        return draw_for(self.plan.seed, "bass", purpose, *self.place)

    def first_draw(self, purpose: str) -> float:
        """Return the first number (0 to 1) that ``draw`` gives for the purpose."""
        return first_draw(self.plan.seed, "bass", purpose, *self.place)

    def stroke(self, start: int, end: int, level: int, aim: Aim) -> Draft:
        return Draft(start=start, end=end, bar=self.index, cell=self.cell, level=level, aim=aim)

    def add_in_four(self, span: Span) -> None:
        """Lay one stroke a pulse while a chord sounds."""
        first, end, pulses = self.reach(span)
        other = self.other_head(span, pulses)
        head = self.stroke(first, min(first + self.pulse, end), _HEAD_LEVEL, other or ROOT_AIM)
        head.is_head = other is not None
        self.drafts.append(head)
        for start in range(first + self.pulse, first + pulses * self.pulse, self.pulse):
            self.drafts.append(
                self.stroke(start, min(start + self.pulse, end), _BEAT_LEVEL, WALK_AIM)
            )

    def add_in_two(self, span: Span, upcoming: Span | None) -> None:
        """Lay a half note on every other pulse: after the root a fifth, or a third.

        A pulse that is left over leads to the next chord, and now and then an eighth does.
        """
        first, end, pulses = self.reach(span)
        draw = self.draw(f"in two {first - self.plan.start_tick}")
        leads_late = pulses % 2 == 0 and _leads(span, upcoming) and draw.random() < _LEADING_CHANCE
        for number in range(0, pulses, 2):
            start = first + number * self.pulse
            is_left_over = number > 0 and number + 1 == pulses
            answer = _answer(span, draw, leads_late=leads_late)
            aim = (STEP_AIM if is_left_over else answer) if number else ROOT_AIM
            level = _BEAT_LEVEL if number else _HEAD_LEVEL
            self.drafts.append(self.stroke(start, min(start + 2 * self.pulse, end), level, aim))
        if leads_late:
            last, eighth = self.drafts[-1], self.pulse // (3 if self.plan.in_triplets else 2)
            last.end -= eighth
            self.drafts.append(self.stroke(last.end, last.end + eighth, _LEADING_LEVEL, STEP_AIM))

    def drop(self) -> None:
        """Lay, now and then, a muted stroke on the last triplet of the second pulse."""
        if len(self.drafts) < _SHORTEST_DROP_WALK or self.first_draw("drop") >= _DROP_CHANCE:
            return
        held, triplet = self.drafts[1], self.pulse // 3
        if held.end - held.start > triplet:
            held.end -= triplet
            muted = self.stroke(held.end, held.end + triplet, _DROP_LEVEL, GHOST_AIM)
            self.drafts.insert(2, muted)

    def reach(self, span: Span) -> tuple[int, int, int]:
        """Return where a chord begins and ends in this bar, and its count of pulses."""
        first = max(span.grid_tick, self.plan.start_tick)
        end = min(span.end_tick, self.plan.end_tick)
        return first, end, max(1, round((end - first) / self.pulse))

    def other_head(self, span: Span, pulses: int) -> Aim | None:
        """Return the degree at a chord's head, None for its root.

        A section begins on a root, a slash chord on its note, a chord of one beat on its root.
        """
        plan = self.plan
        is_free = plan.feel.line is LineKind.NEW and plan.arrangement.chorus > 1
        if not is_free or span.begins_section or span.is_pushed or not span.is_change:
            return None
        if pulses < 2 or span.chord is None or span.chord.bass:
            return None
        draw = self.draw(f"head {span.grid_tick - plan.start_tick}")
        if draw.random() >= _OTHER_HEAD_CHANCE:
            return None
        number = weighted_choice(draw, _HEADS)
        degree = span.chord.degree(number)
        if degree is None or (number == 5 and degree.semitones != PERFECT_FIFTH):
            return None
        return Aim(kind=AimKind.DEGREE, number=number)


def _answer(span: Span, draw: Random, *, leads_late: bool) -> Aim:
    """Return what answers the root in two: the fifth, or the third where the chord has one.

    Where an eighth leads on a third would make room for it, and be no tone of the chord any more.
    """
    has_third = span.chord is not None and span.chord.degree(3) is not None
    number = weighted_choice(draw, _ANSWERS)
    return Aim(kind=AimKind.DEGREE, number=number if has_third and not leads_late else 5)


def _leads(span: Span, upcoming: Span | None) -> bool:
    """Return whether another root comes after a chord, and its fifth leaves room for a step there.

    A fifth that lies a step below that root leads by itself.
    """
    if upcoming is None or upcoming.chord is None or span.chord is None:
        return False
    goal = upcoming.chord.bass_note.pitch_class
    fifth = span.chord.bass_note.pitch_class + fifth_offset(span.chord)
    is_other = goal != span.chord.bass_note.pitch_class
    return is_other and (goal - fifth) % OCTAVE not in (0, *_STEPS)
