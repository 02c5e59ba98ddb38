"""A picture of a cell: its slots from left to right, how loud each stroke is, what it asks for."""

from groove.cells.model import Aim, AimKind
from groove.cells.tokens import held_slots, is_struck, token_text
from groove.sheet.drawing import BLACK, Drawing
from groove.study.line_cells import BarPattern, StudyCell
from groove.study.study_report import beat_marks

BAR_MM, LEVEL_MM, MARK_MM = 170.0, 1.6, 5.0
MARGIN_MM, GAP_MM = 2.0, 1.2
_LEVELS = 9
_GHOST = token_text(Aim(kind=AimKind.GHOST))
_ROW_MM = MARK_MM + _LEVELS * LEVEL_MM + MARK_MM + 2 * GAP_MM


def cell_svg(cell: StudyCell) -> str:
    """Return the drawing of a cell as SVG, a row a bar.

    A block stands where a stroke is struck, as long as it is held and as high as it is loud; a
    ghost's is hollow.  The beats are counted above, and the sign of what is asked for is below.
    """
    drawing = Drawing((0, 0, BAR_MM + 2 * MARGIN_MM, _ROW_MM * len(cell.patterns)))
    for row, (pattern, levels) in enumerate(zip(cell.patterns, cell.levels, strict=True)):
        _draw_bar(drawing, pattern, levels, row * _ROW_MM)
    return drawing.svg()


def _draw_bar(drawing: Drawing, pattern: BarPattern, levels: tuple[int, ...], top: float) -> None:
    """Draw one bar: its beats, its blocks and their signs."""
    slot = BAR_MM / len(pattern.steps)
    ground = top + MARK_MM + _LEVELS * LEVEL_MM
    right = MARGIN_MM + slot * len(pattern.steps)
    drawing.line(MARGIN_MM, ground, right, ground)
    for index, mark in enumerate(beat_marks(pattern)):
        if mark:
            left = MARGIN_MM + index * slot
            drawing.text(left, top + MARK_MM - GAP_MM, mark, MARK_MM * 0.7)
            drawing.line(left, top + MARK_MM, left, ground, 0.1)
    for index, step in enumerate(pattern.steps):
        if is_struck(step):
            left = MARGIN_MM + index * slot
            held = held_slots(pattern.steps, index)
            height = levels[index] * LEVEL_MM
            looks = {"fill": "none", "stroke": BLACK, "stroke_width": "0.3"}
            drawing.rectangle(
                held * slot - GAP_MM,
                height,
                x=f"{left + GAP_MM / 2:.2f}",
                y=f"{ground - height:.2f}",
                **(looks if step == _GHOST else {"fill": "#555"}),
            )
            size = min(MARK_MM * 0.8, slot * 0.62)
            drawing.text(left + GAP_MM / 2, ground + MARK_MM, step, size, font_weight="bold")
