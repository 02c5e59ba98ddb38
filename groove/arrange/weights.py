"""What the notes and moves of a bass line cost: one table, read by the makers and the search.

Costs are in units of the move of a fifth that nobody wrote.  All of it is common practice without a
published source; a row at 0 changes a line of ``tests/arrange/test_weights.py``.
"""

from msgspec import Struct


class Weights(Struct, frozen=True, kw_only=True):
    """One row a rule.  A move that a cell writes inside its chord costs nothing, whatever it is."""

    skip: float = 0.4
    """A move of a third or a fourth."""
    fifth: float = 1.0
    """A move of a fifth, or of a tritone inside the chord."""
    sixth: float = 4.3
    """A move of a sixth."""
    seventh: float = 5.0
    """A move of a seventh."""
    octave: float = 3.0
    """A move of an octave."""
    over_octave: float = 50.0
    """A move of more than an octave, whoever wrote it."""
    tritone: float = 3.0
    """A tritone that has a note outside the chord, over and above the move."""
    repeat: float = 8.0
    """The same note twice in a walk, in a fill, or on the way into a root."""
    same_degree: float = 1.2
    """The same note twice where a cell asks for another degree."""
    root_again: float = 0.2
    """An approach that is the root which sounds already."""
    run_from_root: float = 0.6
    """A run that begins on it, over and above that."""
    lowered: float = 0.65
    """A degree an octave lower than the cell has it."""
    lowered_octave: float = 2.9
    """The octave on its root instead, which it was to lift, but right before a step to the next
    root: only a seventh is worse."""
    replaced: float = 1.9
    """The root or the fifth in place of another degree."""
    far_from_slash: float = 2.5
    """Over a slash chord a degree a sixth or a seventh above the bass: it is nearer below."""
    arrives_early: float = 2.0
    """The next root in place of another degree, shortly before it."""
    wrong_third: float = 20.0
    """The third that the chord has not: it is heard as another chord."""
    outside: float = 1.2
    """A note on the way that neither chord nor key has."""
    clash: float = 1.0
    """Such a note a half step over a tone of the chord."""
    last_outside: float = 0.5
    """The note beside the goal, where the line chose it and neither chord nor key has it."""
    whole_step: float = 0.2
    """An approach by a whole step where the line may choose."""
    not_written: float = 0.6
    """Another note on the way to a root than the cell writes."""
    other_side: float = 1.0
    """An approach from the side to which the line does not move."""
    passing_leap: float = 20.0
    """Walking: a leap to or from a note that is no tone of the chord."""
    unanswered: float = 1.5
    """Walking: a skip of more than a fourth that no step back answers."""
    turning_back: float = 2.75
    """Walking: root or first note again on the second strong beat, or the goal too early."""
    past_goal: float = 20.0
    """Walking: a step to the goal from its other side than the line, which would pass it."""
    away_from_goal: float = 20.0
    """A step away from the goal after the one beside it."""
    enclosure: float = 1.0
    """Enclosing the goal by half steps, the second outside; in a walk no tone of the chord."""
    led_by_fifth: float = 0.75
    """Walking: the fifth of the next root before it, in place of a step."""
    stretch: float = 3.0
    """A fill: each fret that the hand has to reach beyond four."""
    to_own_root: float = 2.0
    """A fill: a figure, where a run leads to the root that it stands on."""

    def intervals(self) -> tuple[float, ...]:
        """Return what a move of 0 to 12 semitones costs by its size."""
        step, skip, fifth = 0.0, self.skip, self.fifth
        return (
            *(self.repeat, step, step, skip, skip, skip, fifth, fifth),
            *(self.sixth, self.sixth, self.seventh, self.seventh, self.octave),
        )


WEIGHTS = Weights()
