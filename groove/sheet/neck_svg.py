"""The roots on the neck as a drawing: frets at their true distances, the highest string on top.

Black on white, no colour carries meaning; all text is live text.  Lengths are SVG user units, one
for each 0.9 mm of a long scale, less where that would not fit the page.
"""

from collections.abc import Sequence
from xml.sax.saxutils import escape

from groove.neck.instrument import LONG_SCALE_MM, Tuning, fret_ruler
from groove.neck.report import RootPlace

BOARD_WIDTH = 700.0
STRING_GAP = 34.0
LEFT, TOP = 60.0, 50.0
DOT_RADIUS = 13.0
NARROWEST_FRET = 2 * DOT_RADIUS + 2
INLAYS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
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
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}" '
        f'width="{width:.1f}" height="{height:.1f}" font-family="sans-serif" font-size="12">',
        f"<title>{escape(title or 'Roots on the neck')}</title>",
        f'<rect width="{width:.1f}" height="{height:.1f}" fill="#fff"/>',
        _text(LEFT, 22, title, size=15, anchor="start") if title else "",
        *_board(wires, bottom),
        *_strings(wires, tuning),
        *_discs(places, wires),
        "</svg>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def _wires(last: int, scale_length_mm: float) -> list[float]:
    """Return the x of nut and fret wires, wide enough for a disc in the narrowest fret."""
    ruler_mm = fret_ruler(last, scale_length_mm)
    narrowest_mm = ruler_mm[-1] - ruler_mm[-2]
    per_mm = max(BOARD_WIDTH / ruler_mm[-1], NARROWEST_FRET / narrowest_mm)
    return [LEFT + per_mm * mm for mm in ruler_mm]


def _board(wires: Sequence[float], bottom: float) -> list[str]:
    parts = []
    for fret, x in enumerate(wires):
        stroke = 5 if fret == 0 else 2
        parts.append(_line(x, TOP, x, bottom, stroke))
        if fret in INLAYS:
            parts.append(_text(_middle(wires, fret), bottom + 34, str(fret)))
    return parts


def _strings(wires: Sequence[float], tuning: Tuning) -> list[str]:
    parts = []
    for string in tuning.strings:
        y = _string_y(string)
        parts.append(_line(wires[0], y, wires[-1], y, 0.6 + 0.5 * string))
        parts.append(_text(14, y + 4, tuning.string_name(string)))
    return parts


def _discs(places: Sequence[RootPlace], wires: Sequence[float]) -> list[str]:
    """Return a disc a place; roots that share one place share the disc."""
    together: dict[tuple[int, int], list[RootPlace]] = {}
    for place in places:
        together.setdefault((place.string, place.fret), []).append(place)
    parts = []
    for (string, fret), group in together.items():
        x, y = _middle(wires, fret), _string_y(string)
        parts.append(
            f'<circle class="root" cx="{x:.1f}" cy="{y:.1f}" r="{DOT_RADIUS}" fill="#fff" '
            'stroke="#000" stroke-width="2"/>'
        )
        parts.append(_text(x, y + 4, "/".join(dict.fromkeys(place.name for place in group))))
        numbers = ",".join(str(place.number) for place in group)
        parts.append(_text(x + DOT_RADIUS - 2, y - DOT_RADIUS + 1, numbers, size=9, anchor="start"))
    return parts


def _middle(wires: Sequence[float], fret: int) -> float:
    """Return the x at which a fret is pressed; an open string is shown before the nut."""
    return LEFT - DOT_RADIUS - 8 if fret == 0 else (wires[fret - 1] + wires[fret]) / 2


def _string_y(string: int) -> float:
    return TOP + STRING_GAP * (string - 1)


def _line(x1: float, y1: float, x2: float, y2: float, stroke: float) -> str:
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="#000" '
        f'stroke-width="{stroke:.1f}"/>'
    )


def _text(x: float, y: float, text: str, *, size: int = 12, anchor: str = "middle") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}">'
        f"{escape(text)}</text>"
    )
