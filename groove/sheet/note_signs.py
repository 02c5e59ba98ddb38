"""Signs of swing as outlines: two notes alike, an equals sign, and how they are played.

Drawn here of heads, stems and beams, for no text font has them.  Lengths are thousandths of the
size of the text that they stand in, y grows upwards, as in ``groove.sheet.outlines``.
"""

from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise

from groove.sheet.drawing import DRAWN_NUMBER
from groove.sheet.outlines import outline, outline_width
from groove.sheet.signs import BEAT_UNITS
from groove.sheet.swung import SWING_SIGNS
from groove.timing import SwingUnit

TEMPO_NOTES = {unit.sign for unit in BEAT_UNITS.values()}
_HEAD_Y, _STEM_TOP, _STEM, _BEAM, _BEAM_GAP = 75, 500, 26, 70, 115
_SIDE = 92
"""From the middle of a head to its stem."""
_APART, _DOTTED_APART = 270, 350
"""From note to note."""
_HALF_BEAM = 110
_BRACKET_Y, _HOOK, _LINE = 645, 60, 22
_DIGIT_SHARE = 0.4
_EQUALS_WIDTH = 230


def note_outline(sign: str) -> tuple[float, str] | None:
    """Return width and path of the note of a tempo or of a sign of swing, None for words."""
    return outline(sign) if sign in TEMPO_NOTES else swing_outline(sign)


@lru_cache(maxsize=8)
def swing_outline(sign: str) -> tuple[float, str] | None:
    """Return the width and the path of a sign of swing by its name, None for another text."""
    found = next((kind for kind, name in SWING_SIGNS.items() if name == sign), None)
    if found is None:
        return None
    unit, dotted = found
    beams = 1 if unit is SwingUnit.EIGHTHS else 2
    pieces = [*_pair(110, [beams, beams], _APART)]
    at = 110 + _APART + _SIDE + 130
    pieces += [_box(at, 150 + shift, _EQUALS_WIDTH, 34) for shift in (0, 110)]
    at += _EQUALS_WIDTH + 190
    if dotted:
        pieces += [*_pair(at, [beams, beams + 1], _DOTTED_APART), _dot(at + 130)]
        return at + _DOTTED_APART + 2 * _SIDE, "".join(pieces)
    pieces += [*_pair(at, [beams - 1, beams], _APART), *_bracket(at)]
    return at + _APART + 2 * _SIDE, "".join(pieces)


def _pair(x: float, beams: list[int], apart: float) -> Iterator[str]:
    """Yield two notes, the first in its middle at ``x``, with so many beams, or flags."""
    for number, own in enumerate(beams):
        middle = x + number * apart
        yield _head(middle)
        yield _box(middle + _SIDE - _STEM, _HEAD_Y, _STEM, _STEM_TOP - _HEAD_Y)
        if min(beams) == 0 and own:
            yield _flag(middle + _SIDE)
    left, right = x + _SIDE - _STEM, x + apart + _SIDE
    for level in range(max(beams) if min(beams) else 0):
        start = left if level < min(beams) else right - _HALF_BEAM
        yield _box(start, _STEM_TOP - _BEAM - level * _BEAM_GAP, right - start, _BEAM)


def _bracket(x: float) -> Iterator[str]:
    """Yield a bracket over two notes with the number of a triplet in it."""
    left, right = x - 60, x + _APART + _SIDE + 20
    width = _DIGIT_SHARE * outline_width("3")
    middle = (left + right) / 2
    gap = width / 2 + 25
    for start, stop in ((left, middle - gap), (middle + gap, right)):
        yield _box(start, _BRACKET_Y, stop - start, _LINE)
    for place in (left, right - _LINE):
        yield _box(place, _BRACKET_Y - _HOOK, _LINE, _HOOK)
    found = outline("3")
    assert found is not None, "the table of outlines has digits"
    path = found[1].partition("0m")[2]
    smaller = DRAWN_NUMBER.sub(lambda each: f"{float(each[0]) * _DIGIT_SHARE:g} ", path)
    yield f"M{middle - width / 2:g} {_BRACKET_Y - 120:g}m{smaller}"


def _box(x: float, y: float, width: float, height: float) -> str:
    """Return a filled box by its lower left corner."""
    return f"M{x:g} {y:g}h{width:g}v{height:g}h{-width:g}z"


def _head(x: float) -> str:
    """Return a black head around its middle: an oval that rises to the right."""
    ends = [(x - 96, _HEAD_Y - 38), (x + 96, _HEAD_Y + 38), (x - 96, _HEAD_Y - 38)]
    arcs = (f"A104 72 22 1 1 {right:g} {top:g}" for _, (right, top) in pairwise(ends))
    return f"M{ends[0][0]:g} {ends[0][1]:g}{''.join(arcs)}z"


def _dot(x: float) -> str:
    return f"M{x:g} {_HEAD_Y + 30:g}a28 28 0 1 1 56 0a28 28 0 1 1 -56 0z"


def _flag(x: float) -> str:
    """Return the flag of an eighth, from the top of its stem."""
    return f"M{x - _STEM:g} {_STEM_TOP:g}v-140c45 -20 90 -50 85 -170c55 150 -75 190 -59 310z"
