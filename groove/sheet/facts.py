"""What stands under the title of a sheet: the part, its key, its tempo and its feel, in words."""

from dataclasses import dataclass

from groove.sheet.score import Score
from groove.sheet.signs import BEAT_UNITS

FACT_GAP = "   ·   "


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """The facts one by one, each empty where there is none.

    A tempo has the sign of the note that is counted, and how many of them a minute has.
    """

    part: str = ""
    key: str = ""
    note_sign: str = ""
    per_minute: str = ""
    feel: str = ""

    @property
    def tempo(self) -> str:
        """The tempo as it is printed: ``♩ = 84``."""
        return f"{self.note_sign} = {self.per_minute}" if self.note_sign else ""

    @property
    def line(self) -> str:
        """All of them."""
        return FACT_GAP.join(filter(None, (self.part, self.key, self.tempo, self.feel)))

    @property
    def untimed(self) -> str:
        """All but the tempo, for where that has a mark of its own."""
        return FACT_GAP.join(filter(None, (self.part, self.key, self.feel)))


NO_FACTS = SheetFacts()


def sheet_facts(score: Score, *, key: str, feel: str, is_chart: bool) -> SheetFacts:
    """Return the facts of a part, or of a chart of the whole band."""
    tempi = [tempo for measure in score.measures[:2] for tempo in measure.tempi]
    return SheetFacts(
        part="" if is_chart else score.part.value,
        key=key,
        note_sign=BEAT_UNITS[tempi[0].unit].sign if tempi else "",
        per_minute=str(tempi[0].per_minute) if tempi else "",
        feel=feel,
    )
