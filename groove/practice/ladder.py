"""A ladder: the same bars at rising tempi.  Arithmetic alone."""

from fractions import Fraction
from math import ceil

from msgspec import Struct

from groove.errors import OptionError

USUAL_BOTTOM_PERCENT, USUAL_TOP_PERCENT, USUAL_STEP_PERCENT = 60, 100, 10
USUAL_STEP_BPM = 5
"""What a ladder is where nothing is asked for (common practice, no source)."""
MOST_RUNGS = 100


class Ladder(Struct, frozen=True, kw_only=True):
    """From which tempo to which, in steps of how much, and how often at each; None is the usual.

    The numbers are percent of the song's tempo, or its own beats a minute where ``in_bpm`` is set.
    """

    bottom: Fraction | None = None
    top: Fraction | None = None
    step: Fraction | None = None
    in_bpm: bool = False
    times: int | None = None

    def percents(self, song_bpm: Fraction) -> tuple[Fraction, ...]:
        """Return the tempi, slowest first, in percent of the song's ``song_bpm`` beats a minute.

        The last one is the top, also where the step before it is thereby smaller.  Raises
        OptionError for a ladder that goes down or has more than a hundred rungs.
        """
        one_percent = song_bpm / 100 if self.in_bpm else Fraction(1)
        bottom = self.bottom or USUAL_BOTTOM_PERCENT * one_percent
        top = self.top or USUAL_TOP_PERCENT * one_percent
        step = self.step or Fraction(USUAL_STEP_BPM if self.in_bpm else USUAL_STEP_PERCENT)
        if bottom > top:
            raise OptionError(
                f"the tempo would go down from {float(bottom):g} to {float(top):g}",
                hint="expected --from below --to; the same number in both is one tempo",
            )
        steps = ceil((top - bottom) / step)
        if steps >= MOST_RUNGS:
            raise OptionError(
                f"a ladder of {steps + 1} tempi",
                hint=f"expected at most {MOST_RUNGS}: a larger --step",
            )
        rungs = [min(top, bottom + number * step) for number in range(steps + 1)]
        return tuple(rung / one_percent for rung in rungs)
