"""Attributes of MEI: lengths, ties, keys, marks of single events, what endings and slides join."""

from groove.sheet.rhythm import Value
from groove.sheet.score import Event, Head, Measure, Score


def ending_key(measure: Measure) -> tuple[str, int]:
    """Return what measures of one ending share."""
    if measure.ending is None:
        return ("", 0)
    return (measure.ending.label, 0)


def articulations(event: Event) -> str:
    """Return an accent, and the ring of an open hat, whose head is a plain cross here."""
    is_open = any(head.notehead == "circle-x" for head in event.heads)
    return "acc" * event.has_accent + "open" * is_open


def duration(value: Value) -> str:
    """Return a value's attributes."""
    return f'dur="{value.base}"' + (f' dots="{value.dots}"' if value.dots else "")


def tie_attribute(head: Head) -> str:
    """Return how a head is tied: initial, medial or terminal."""
    kind = {(False, True): "i", (True, True): "m", (True, False): "t"}
    sign = kind.get((head.tied_in, head.tied_out))
    return f' tie="{sign}"' if sign else ""


def key_attribute(fifths: int) -> str:
    """Return a key signature as MEI has it: ``2s``, ``3f``, ``0``."""
    return f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"


def slide_ends(score: Score) -> dict[str, str]:
    """Return the ids of heads that a slide leaves, each with the head that it comes to."""
    found: dict[str, str] = {}
    left = ""
    for _, _, head in score.heads():
        if head.slides_in:
            found[left] = head.id
        if head.slides_out:
            left = head.id
    return found
