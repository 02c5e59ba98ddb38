"""The roots on the neck as a drawing: frets at their true distances, the highest string on top.

Black on white, no colour carries meaning; all text is live text.  Lengths are SVG user units, one
for each 0.9 mm of a long scale, less where that would not fit the page.
"""

from collections.abc import Sequence

from groove.neck.instrument import INLAY_FRETS, LONG_SCALE_MM, Tuning, fret_ruler
from groove.neck.line_figures import RootPlace
from groove.sheet.drawing import Drawing

BOARD_WIDTH = 700.0
STRING_GAP = 34.0
_LEFT, TOP = 60.0, 50.0
DOT_RADIUS = 13.0
NARROWEST_FRET = 2 * DOT_RADIUS + 2
FEWEST_FRETS = 5


def neck_svg(
    places: Sequence[RootPlace],
    tuning: Tuning,
    *,
    title: str = "",
    scale_length_mm: float = LONG_SCALE_MM,
) -> str:
    """Return an SVG document with a disc at each root's place: its name, its number beside it.

    The neck is drawn to the fret after the highest root, at least to the fifth.
    """
    last = max([FEWEST_FRETS, *(place.fret + 1 for place in places)])
    wires = _wires(last, scale_length_mm)
    bottom = TOP + STRING_GAP * (tuning.string_count - 1)
    width, height = wires[-1] + 30, bottom + 50
    drawing = Drawing(
        (0, 0, width, height),
        width=f"{width:.1f}",
        height=f"{height:.1f}",
        font_family="sans-serif",
        font_size="12",
    )
    drawing.title(title or "Roots on the neck")
    drawing.rectangle(width, height, fill="#fff")
    if title:
        drawing.text(_LEFT, 22, title, 15)
    _draw_board(drawing, wires, bottom)
    _draw_strings(drawing, wires, tuning)
    _draw_discs(drawing, places, wires)
    return drawing.svg()


def _wires(last: int, scale_length_mm: float) -> list[float]:
    """Return the x of nut and fret wires, wide enough for a disc in the narrowest fret."""
    ruler_mm = fret_ruler(last, scale_length_mm)
    narrowest_mm = ruler_mm[-1] - ruler_mm[-2]
    per_mm = max(BOARD_WIDTH / ruler_mm[-1], NARROWEST_FRET / narrowest_mm)
    return [_LEFT + per_mm * mm for mm in ruler_mm]


def _draw_board(drawing: Drawing, wires: Sequence[float], bottom: float) -> None:
    for fret, x in enumerate(wires):
        drawing.line(x, TOP, x, bottom, 5 if fret == 0 else 2)
        if fret in INLAY_FRETS:
            _draw_label(drawing, _middle(wires, fret), bottom + 34, str(fret))


def _draw_strings(drawing: Drawing, wires: Sequence[float], tuning: Tuning) -> None:
    for string in tuning.strings:
        y = _string_y(string)
        drawing.line(wires[0], y, wires[-1], y, 0.6 + 0.5 * string)
        _draw_label(drawing, 14, y + 4, tuning.string_name(string))


def _draw_discs(drawing: Drawing, places: Sequence[RootPlace], wires: Sequence[float]) -> None:
    """Draw a disc a place; roots that share one place share the disc."""
    together: dict[tuple[int, int], list[RootPlace]] = {}
    for place in places:
        together.setdefault((place.string, place.fret), []).append(place)
    ring = {"class": "root", "fill": "#fff", "stroke": "#000", "stroke_width": "2"}
    for (string, fret), group in together.items():
        x, y = _middle(wires, fret), _string_y(string)
        drawing.circle(x, y, DOT_RADIUS, **ring)
        names = "/".join(dict.fromkeys(place.name for place in group))
        _draw_label(drawing, x, y + 4, names)
        numbers = ",".join(str(place.number) for place in group)
        drawing.text(x + DOT_RADIUS - 2, y - DOT_RADIUS + 1, numbers, 9)


def _draw_label(drawing: Drawing, x: float, y: float, text: str) -> None:
    drawing.text(x, y, text, 12, text_anchor="middle")


def _middle(wires: Sequence[float], fret: int) -> float:
    """Return the x at which a fret is pressed; an open string is shown before the nut."""
    return _LEFT - DOT_RADIUS - 8 if fret == 0 else (wires[fret - 1] + wires[fret]) / 2


def _string_y(string: int) -> float:
    return TOP + STRING_GAP * (string - 1)
