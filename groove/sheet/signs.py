"""The signs of a page, a row each: what MusicXML 4.0 and MEI 5 call a sign.

What a page shows is decided once, in the score (``groove.sheet.score``); here stands how the two
formats say it, and nowhere else.  A new sign is a row here, a field of the score and a line in
each writer.
"""

from dataclasses import dataclass
from enum import Enum, StrEnum
from fractions import Fraction

from groove.chart.model import Swell
from groove.sheet.outlines import HALF_NOTE, QUARTER_NOTE


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign's name in either format."""

    musicxml: str
    mei: str


class Clef(Enum):
    """A clef, and the line that it stands on, counted from the lowest."""

    TREBLE = Sign("G", "G"), 2
    BASS = Sign("F", "F"), 4
    PERCUSSION = Sign("percussion", "perc"), 3
    TAB = Sign("TAB", "TAB"), 5

    def __init__(self, sign: Sign, line: int) -> None:
        """Take a row."""
        self.sign = sign
        self.line = line


class Notehead(Enum):
    """The shape of a note's head (MusicXML's ``notehead-value``, MEI's ``data.HEADSHAPE``).

    verovio has no triangle; it is drawn over the head that it has in its place.
    """

    NORMAL = Sign("normal", "")
    X = Sign("x", "x")
    DIAMOND = Sign("diamond", "diamond")
    TRIANGLE = Sign("triangle", "+")


class Articulation(Enum):
    """What stands over a note; ``group`` is the element of MusicXML's notations that has it."""

    OPEN = Sign("open", "open"), "technical"
    ACCENT = Sign("accent", "acc"), "articulations"

    def __init__(self, sign: Sign, group: str) -> None:
        """Take a row."""
        self.sign = sign
        self.group = group


class BarLineSign(Enum):
    """A bar line (MusicXML's ``bar-style``, MEI's ``data.BARRENDITION``)."""

    PLAIN = Sign("regular", "single")
    DOUBLE = Sign("light-light", "dbl")
    FINAL = Sign("light-heavy", "end")
    REPEAT_OPENS = Sign("heavy-light", "rptstart")
    REPEAT_CLOSES = Sign("light-heavy", "rptend")


class Joint(Enum):
    """What leads from one note to another."""

    SLIDE = Sign("slide", "gliss")
    HAMMER_ON = Sign("hammer-on", "slur")
    PULL_OFF = Sign("pull-off", "slur")


class JumpSign(StrEnum):
    """A sign of a jump that a measure has, at its head (segno, coda) or at its end."""

    SEGNO = "Segno"
    CODA = "Coda"
    TO_CODA = "To Coda"
    FINE = "Fine"
    DS_AL_CODA = "D.S. al Coda"
    DS_AL_FINE = "D.S. al Fine"
    DC_AL_CODA = "D.C. al Coda"
    DC_AL_FINE = "D.C. al Fine"

    @property
    def stands_at_head(self) -> bool:
        """Whether it is over the head of its measure."""
        return self in (JumpSign.SEGNO, JumpSign.CODA)

    @property
    def is_dal_segno(self) -> bool:
        """Whether it leads back to the segno."""
        return self in (JumpSign.DS_AL_CODA, JumpSign.DS_AL_FINE)


@dataclass(frozen=True, slots=True)
class BeatUnit:
    """The note that a tempo counts, as MusicXML has it and as a page does."""

    musicxml: str
    dots: int
    sign: str


FERMATA = Sign("fermata", "fermata")
CAESURA = Sign("caesura", "caesura")
HAIRPINS = {
    Swell.CRESCENDO: Sign("crescendo", "cres"),
    Swell.DIMINUENDO: Sign("diminuendo", "dim"),
}
ACCIDENTALS = {
    -2: Sign("flat-flat", "ff"),
    -1: Sign("flat", "f"),
    0: Sign("natural", "n"),
    1: Sign("sharp", "s"),
    2: Sign("double-sharp", "x"),
}
"""By the half steps that they alter."""
VALUES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
"""MusicXML's names of note values; MEI has the number."""
BEAT_UNITS = {
    Fraction(1): BeatUnit("quarter", 0, QUARTER_NOTE),
    Fraction(3, 2): BeatUnit("quarter", 1, QUARTER_NOTE + "."),
    Fraction(2): BeatUnit("half", 0, HALF_NOTE),
}
"""By their length in quarters."""
