"""A pushed chord: how early it arrives, and the sign that a chart has for it."""

from enum import StrEnum
from fractions import Fraction


class Push(StrEnum):
    """How early a chord arrives, by the value that a chart writes before its sign."""

    EIGHTH = "8"
    SIXTEENTH = "16"
    DOTTED_EIGHTH = "8."
    QUARTER = "4"

    @property
    def quarters(self) -> Fraction:
        """How early, in quarters; an eighth is a triplet's last one where the beat is in three."""
        return _QUARTERS[self]

    @property
    def sign(self) -> str:
        """Return the sign as a chart has it: ``<`` for an eighth, ``16<``."""
        return "<" if self is Push.EIGHTH else f"{self.value}<"


_QUARTERS = {
    Push.EIGHTH: Fraction(1, 2),
    Push.SIXTEENTH: Fraction(1, 4),
    Push.DOTTED_EIGHTH: Fraction(3, 4),
    Push.QUARTER: Fraction(1),
}
