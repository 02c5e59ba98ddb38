"""What a chord chart is drawn with: texts, strokes and dots in SVG, and the signs made of them.

Lengths are millimetres; y grows downwards; a row of bars begins at ``top``.
"""

from collections.abc import Iterator, Sequence

from groove.sheet.drawing import Drawing
from groove.sheet.outlines import outline_width
from groove.sheet.score import Ending
from groove.timing import Meter

WORD_SIZE = 3.6
ENDING_MM = 4.5
BAR_LINE_MM = 8.0
DIGIT_MM = 3.2
"""The width of a meter's digit in the widest serif that viewers have (DejaVu Serif Bold)."""
METER_GAP_MM = 1.0
BOLD_SHARE = 1.12
"""How much wider bold letters are than others, tried with the same."""
CHORD_SIZE = 6.2
CHORD_GAP_MM = 2.0
LEAST_SHARE = 0.85
"""How small chords may be set to stand on their beats, as a share of their usual size."""
READING_SHARE = 0.85
"""How wide a line of words is as a share of what its widest letters allow, tried with italics."""
_WIDE, _NARROW = "MWCGQOD%△ø+°ABEFHKNRmw", "iIjlt/.,1()' ♭"


def text_mm(text: str, size: float) -> float:
    """Return about how wide a text is, never less than it is (letters in three classes)."""
    widths = {mark: 0.72 for mark in _WIDE} | {mark: 0.42 for mark in _NARROW}
    return size * sum(widths.get(mark, 0.6) for mark in text)


def name_mm(text: str, size: float) -> float:
    """Return how wide the name of a chord is, in the letters that it is drawn in."""
    return size * outline_width(text) / 1000 or text_mm(text, size)


def set_names(
    texts: Sequence[str], beats: Sequence[float], end: float
) -> tuple[float, list[float]]:
    """Return the size of a bar's chords and where each begins, none after ``end``.

    They stand on their beats as large as that allows, down to ``LEAST_SHARE``; smaller only where
    there is not room for all of them side by side.  In between a name that is too long for its
    beats begins before them, or moves the next.
    """
    widths = [name_mm(text, 1.0) + CHORD_GAP_MM / CHORD_SIZE for text in texts]
    rooms = [after - at for at, after in zip(beats, [*beats[1:], end], strict=True)]
    on_beats = min(room / width for room, width in zip(rooms, widths, strict=True))
    most = (end - beats[0]) / sum(widths)
    size = min(CHORD_SIZE, max(on_beats, CHORD_SIZE * LEAST_SHARE), most)
    places = list(beats)
    for index in range(1, len(places)):
        places[index] = max(places[index], places[index - 1] + widths[index - 1] * size)
    after = end
    for index in reversed(range(len(places))):
        places[index] = after = min(places[index], after - widths[index] * size)
    return size, places


def draw_stroke(drawing: Drawing, x: float, base: float) -> None:
    """Draw the stroke of a beat on which nothing new is played."""
    drawing.line(x, base, x + 1.6, base - 3.2, 0.35)


def draw_repeat(drawing: Drawing, x: float, top: float, *, opens: bool) -> None:
    """Draw a repeat sign at a bar line."""
    side = 1 if opens else -1
    heavy = x + side * 0.4
    drawing.line(heavy, top + 1, heavy, top + 1 + BAR_LINE_MM, 0.8)
    drawing.line(heavy + side * 0.9, top + 1, heavy + side * 0.9, top + 1 + BAR_LINE_MM)
    for share in (0.36, 0.64):
        drawing.circle(heavy + side * 2.0, top + 1 + BAR_LINE_MM * share)


def draw_ending(drawing: Drawing, ending: Ending, x: float, top: float, width: float) -> None:
    """Draw an ending's bracket over a bar, its number where it begins."""
    y = top - ENDING_MM + 1.2
    left, right = (0.5 if ending.opens else 0), (0.8 if ending.closes else 0)
    drawing.line(x + left, y, x + width - right, y)
    if ending.opens:
        drawing.line(x + 0.5, y, x + 0.5, y + 3)
        drawing.text(x + 1.4, y + 3.4, ending.label, WORD_SIZE)


def draw_meter(drawing: Drawing, x: float, top: float, meter: Meter) -> None:
    """Write a meter as two numbers."""
    middle = x + _digits(meter) * DIGIT_MM / 2
    for y, number in ((4.7, meter.count), (8.7, meter.unit)):
        drawing.text(middle, top + y, str(number), 4.6, font_weight="bold", text_anchor="middle")


def meter_mm(meter: Meter) -> float:
    """Return the room that a meter needs before what follows."""
    return _digits(meter) * DIGIT_MM + METER_GAP_MM


def _digits(meter: Meter) -> int:
    """Return how many digits the longer number of a meter has."""
    return len(str(max(meter.count, meter.unit)))


def draw_simile(drawing: Drawing, x: float, top: float) -> None:
    """Draw the sign for a bar like the one before."""
    middle = top + 1 + BAR_LINE_MM / 2
    drawing.line(x - 1.8, middle + 2, x + 1.8, middle - 2, 0.8)
    drawing.circle(x - 1.6, middle - 1.2)
    drawing.circle(x + 1.6, middle + 1.2)


def wrapped(text: str, size: float, width: float) -> Iterator[str]:
    """Yield the lines of a text, broken between words so that each fits a width."""
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}".strip()
        if line and text_mm(longer, size) > width:
            yield line
            line = word
        else:
            line = longer
    yield line
