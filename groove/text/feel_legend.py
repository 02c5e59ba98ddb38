"""What the signs of a drawn cell mean: the tokens of bass and keys, the rows, the levels."""

import re
from collections.abc import Iterable, Iterator

from groove.cells.conditions import CONDITIONS
from groove.cells.model import Aim, AimKind, BassCell, Cell, DrumCell, KeysCell

DEGREES = {
    1: ("R", "root, or the slash note"),
    2: ("2", "second"),
    3: ("3", "third"),
    4: ("4", "fourth"),
    5: ("5", "fifth"),
    6: ("6", "sixth"),
    7: ("7", "seventh"),
    8: ("8", "octave"),
    9: ("9", "ninth"),
    10: ("10", "tenth"),
    11: ("11", "eleventh"),
    13: ("13", "thirteenth"),
}
"""The chord degrees that a bass cell asks for, by number."""


HELD_AND_REST = (("-", "the note is held"), (".", "rest"))


def bass_legend(cells: Iterable[BassCell], grids: str) -> list[tuple[str, str]]:
    """Return the signs of bass cells and what they mean; ``grids`` is the cells as drawn."""
    found = dict(sign for cell in cells for sign in _cell_signs(cell))
    return [*found.items(), *_held_and_rest(grids)]


def _held_and_rest(grids: str) -> list[tuple[str, str]]:
    tokens = set(re.split(r"[\s|]+", grids))
    return [row for row in HELD_AND_REST if row[0] in tokens]


def legend_lines(cells: Iterable[Cell], grids: str, phrase_bars: int | None = None) -> list[str]:
    """Return what every sign in the drawn cells means, a line each; none where none is drawn.

    ``grids`` is the cells as drawn; ``phrase_bars`` how many bars a phrase of the feel has, None
    where a cell stands alone.
    """
    drawn = [cell for cell in cells if cell.meter is not None and cell.bars]
    found = [line for cell in drawn for line in _cell_signs(cell)]
    if not found:
        return []
    found += _held_and_rest(grids)
    if any(not isinstance(cell, KeysCell) for cell in drawn):
        found.append(("1 to 9", "in rows of level and of drums: how loud, 9 the loudest"))
    named = {name for cell in drawn for name, _ in cell.when}
    of = f" ({phrase_bars} bars)" if phrase_bars else ""
    for name, condition in CONDITIONS.items():
        if name in named:
            phrase = of if name == "phrase end" else ""
            found.append((name, f"what is played instead {condition.words}{phrase}"))
    if any(isinstance(cell, DrumCell) and cell.fills for cell in drawn):
        found.append(("fill", "what the drums play where they fill, one of them at a time"))
    if any(isinstance(cell, DrumCell) and cell.comments for cell in drawn):
        found.append(("comment", "what the drums lay over a bar now and then"))
    width = max(len(sign) for sign, _ in found)
    return ["signs:", *(f"  {sign:<{width}}  {words}" for sign, words in dict(found).items())]


def _cell_signs(cell: Cell) -> Iterator[tuple[str, str]]:
    """Yield the signs of one cell and what they mean."""
    if isinstance(cell, BassCell):
        bars = [*cell.bars, *(bar for _, own in cell.when for bar in own)]
        aims = [stroke.aim for bar in bars for stroke in bar.strokes]
        yield from _bass_signs(aims)
    elif isinstance(cell, KeysCell):
        strokes = [stroke for bar in cell.bars for stroke in bar]
        if any(not stroke.voices for stroke in strokes):
            yield ("V", "the whole voicing")
        if any(stroke.voices for stroke in strokes):
            yield ("13", "keys: the first and the third voice from below")
        if any(stroke.octaves for stroke in strokes):
            yield ("o", "keys: in octaves")


def _bass_signs(aims: list[Aim]) -> Iterator[tuple[str, str]]:
    """Yield the signs of bass strokes and what they mean."""
    degrees = {aim.number for aim in aims if aim.kind is AimKind.DEGREE}
    yield from (row for number, row in DEGREES.items() if number in degrees)
    if any(aim.is_altered and aim.alter for aim in aims):
        yield ("b #", "before a degree: a half step lower, higher")
    if any(aim.octaves for aim in aims):
        yield (",", "after a degree: an octave lower")
    if any(aim.kind is AimKind.GHOST for aim in aims):
        yield ("x", "ghost: a muted stroke")
    if any(aim.kind is AimKind.FIXED for aim in aims):
        yield ("@", "before a note: this very one, whatever the chord")
    offsets = {aim.offset for aim in aims if aim.kind is AimKind.NEXT}
    if 0 in offsets:
        yield (">R", "the next chord's root")
    if offsets - {0, None}:
        yield (">-1 >+2", "so many half steps below or above the next root, where it fits")
    if None in offsets:
        yield (">*", "an approach to the next root, chosen by the line")
    if any(aim.slide for aim in aims):
        yield ("s", "before a degree: slide into it")
