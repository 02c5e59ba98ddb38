"""How a sheet is set: paper, which staves, which extras."""

from dataclasses import dataclass
from enum import StrEnum

from groove.chart.written_for import WrittenFor
from groove.events import Part


class Size(StrEnum):
    """The paper, or the screen."""

    A4 = "a4"
    LETTER = "letter"
    LANDSCAPE = "landscape"
    STAND = "stand"
    PHONE = "phone"


class Staves(StrEnum):
    """Which staves of the bass part are drawn."""

    BOTH = "both"
    NOTATION = "notation"
    TAB = "tab"


@dataclass(frozen=True, slots=True)
class Paper:
    """A page in mm, and half the distance of two staff lines in tenths of a mm.

    ``is_endless`` is one page as long as it needs to be.  Staves of parts are 6 to 8 mm high
    (E. Gould, *Behind Bars*, 2011, "Staff size"); a stand in poor light asks for more.
    """

    width_mm: float
    height_mm: float
    unit: float
    is_endless: bool = False


PAPERS = {
    Size.A4: Paper(210, 297, 8),
    Size.LETTER: Paper(215.9, 279.4, 8),
    Size.LANDSCAPE: Paper(297, 210, 7.5),
    Size.STAND: Paper(210, 297, 11.5),
    Size.PHONE: Paper(100, 6000, 9, is_endless=True),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOptions:
    """What a player asks of a sheet.

    ``chart`` is the chord chart in place of the part, ``written_for`` whom its chords are moved
    for; ``fingers`` and ``pluck`` add the letters of both hands; ``numerals`` (chord chart) the
    numerals under the chords; ``letters`` puts a letter beside the name of each section,
    ``sim`` slashes in the place of a cell that stays, ``jumps`` a D.S. or D.C. in that of what
    comes again;
    ``written_out`` writes every repeat out.  ``staves`` left out draws both, and writes MusicXML of
    the staff alone, which has strings and frets at its notes: many programs would sound a note on
    each staff.
    """

    size: Size = Size.A4
    staves: Staves | None = None
    part: Part = Part.BASS
    chart: bool = False
    written_for: WrittenFor | None = None
    fingers: bool = False
    pluck: bool = False
    numerals: bool = False
    letters: bool = False
    sim: bool = False
    jumps: bool = False
    written_out: bool = False

    @property
    def paper(self) -> Paper:
        """The page that is asked for."""
        return PAPERS[self.size]


DEFAULT_SHEET = SheetOptions()
