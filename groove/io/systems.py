"""The bass part engraved line by line, for the practice page."""

from groove.events import Part, Performance
from groove.io.engrave import TALLEST, drawn, layout
from groove.page.repeated_lines import part_lines
from groove.page.systems import EngravedPart, page_sheet
from groove.sheet.line_breaks import line_starts
from groove.sheet.mei import LINE_BREAK, PAGE_BREAK, line_room, mei_text
from groove.sheet.options import SheetOptions, Size
from groove.sheet.score import Score

WIDE, NARROW = 2400, 900
"""Widths in tenths of a mm: a laptop has two to four bars a line, a phone one or two."""
_MARGINS = {
    "pageMarginTop": 30,
    "pageMarginBottom": 20,
    "pageMarginLeft": 70,
    "pageMarginRight": 10,
}


def engraved_systems(performance: Performance, score: Score, width: int) -> EngravedPart:
    """Return the bass part of a performance, every repeat written out, one drawing a line.

    ``score`` is the part as it is written.  Raises OutputError where verovio is missing.
    """
    options = SheetOptions(size=Size.PHONE, written_out=True)
    room = width - _MARGINS["pageMarginLeft"] - _MARGINS["pageMarginRight"]
    line_units = room / options.paper.unit
    settings = layout(options, for_print=False) | _MARGINS
    settings |= {
        "breaks": "encoded",
        "pageWidth": width,
        "pageHeight": TALLEST,
        "adjustPageHeight": True,
        "spacingStaff": 2,
        "spacingBracketGroup": 2,
    }
    # A page a line: then every line is a drawing of its own.
    lines = part_lines(score, line_starts(score.measures, line_room(options, line_units)))
    mei = mei_text(
        score, options, line_units=line_units, title=False, only=lines.kept_measures(score)
    ).replace(LINE_BREAK, PAGE_BREAK)
    numbers = lines.drawn
    pages = dict(zip(numbers, drawn(mei, settings, score, wanted=numbers.values()), strict=True))
    ids = [
        name
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is Part.BASS
    ]
    return page_sheet(pages, lines, [measure.number for measure in score.measures], ids)
