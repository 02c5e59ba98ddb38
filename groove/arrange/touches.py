"""A touch for cells that have no bar of their own for it: the end of a bar goes another way.

Its last stroke leads to the next chord, or one before it is the octave (common practice, no
source).  The rhythm stays, but where a long note gives its last half beat to what leads.
"""

from collections.abc import Iterator
from fractions import Fraction
from random import Random

from msgspec.structs import replace

from groove.arrange.drafts import STEP_AIM
from groove.cells.model import Aim, AimKind, BassBar, BassStroke

_OCTAVE_AIM = Aim(kind=AimKind.DEGREE, number=8)
_LEADING_BEATS = Fraction(1, 2)
_LOUDEST_LEADING = 7


def touched(bar: BassBar, pulses: int, draw: Random) -> BassBar:
    """Return a bar of so many pulses with a touch that chance takes, the bar where none fits."""
    variations = [*_octaves(bar), *_leading(bar, pulses)]
    return variations[int(draw.random() * len(variations))] if variations else bar


def _octaves(bar: BassBar) -> Iterator[BassBar]:
    """Yield the bar with an octave for the last root or fifth that another stroke follows."""
    strokes = bar.strokes
    for number in range(len(strokes) - 2, 0, -1):
        beside = (strokes[number - 1].aim, strokes[number + 1].aim)
        if _is_plain(strokes[number].aim) and _OCTAVE_AIM not in beside:
            octave = replace(strokes[number], aim=_OCTAVE_AIM)
            yield replace(bar, strokes=(*strokes[:number], octave, *strokes[number + 1 :]))
            return


def _leading(bar: BassBar, pulses: int) -> Iterator[BassBar]:
    """Yield the bar with its last note, or the end of it, as a step into the next chord."""
    if len(bar.strokes) < 2 or bar.strokes[-1].aim.kind is not AimKind.DEGREE:
        return
    *others, last = bar.strokes
    if last.length_beats <= _LEADING_BEATS:
        yield replace(bar, strokes=(*others, replace(last, aim=STEP_AIM)))
    elif last.start_beats + last.length_beats == pulses:
        held = replace(last, length_beats=last.length_beats - _LEADING_BEATS)
        leading = BassStroke(
            step=last.step,
            start_beats=pulses - _LEADING_BEATS,
            length_beats=_LEADING_BEATS,
            level=min(last.level, _LOUDEST_LEADING),
            aim=STEP_AIM,
        )
        yield replace(bar, strokes=(*others, held, leading))


def _is_plain(aim: Aim) -> bool:
    """Return whether a stroke is a root or a fifth, for which an octave may stand."""
    return aim.kind is AimKind.DEGREE and aim.number in (1, 5) and not aim.is_altered
