"""What every writer of a part asks of its staves: open strings by name, and if there is tab."""

from functools import lru_cache

from groove.events import Part
from groove.sheet.score import Score
from groove.theory.pitch import SpelledPitch


@lru_cache(maxsize=128)
def open_name(pitch: int) -> SpelledPitch:
    """Return an open string's name, as players of flat tunings say it."""
    fifths = pitch * 7 % 12
    return SpelledPitch(fifths - 12 if fifths > 5 else fifths)


def has_tab(score: Score) -> bool:
    """Return whether a part has a tab staff: a bass whose notes are placed."""
    heads = [head for _, _, head in score.heads()]
    return score.part is Part.BASS and all(head.note.place for head in heads)
