"""Swing in MusicXML 4.0: words and an equation for who reads, ``swing`` for what sounds.

The equation is a ``metronome`` of notes, which 3.1 has too, so that a reader which does not know
``swing`` shows the sign all the same.
"""

from fractions import Fraction
from xml.etree.ElementTree import Element

from groove.perform import swing_share
from groove.sheet.elements import add
from groove.sheet.score import Measure
from groove.sheet.swung import is_dotted
from groove.timing import BY_TEMPO, Swing, SwingUnit

MOST_PARTS = 1000
"""Of how many parts a pair is at the most, so that 66.67 percent are two of three."""
_TYPES = {SwingUnit.EIGHTHS: "eighth", SwingUnit.SIXTEENTHS: "16th"}
_LONGER = {"eighth": "quarter", "16th": "eighth"}
_SHORTER = {"eighth": "16th", "16th": "32nd"}


def swing_direction(element: Element, measure: Measure, qpm: float) -> None:
    """Add what a page says of a swing that begins with a measure, and how it sounds at a tempo."""
    swing, mark = measure.swing, measure.swing_mark
    assert swing is not None, "a swing begins here"
    if mark is None:
        swing_sound(add(element, "sound"), swing, qpm)
        return
    above = add(element, "direction", placement="above")
    add(add(above, "direction-type"), "words", mark.word)
    if mark.sign:
        _equation(add(above, "direction-type"), swing)
    if mark.share:
        add(add(above, "direction-type"), "words", mark.share)
    swing_sound(add(above, "sound"), swing, qpm)


def swing_sound(sound: Element, swing: Swing, qpm: float) -> None:
    """Add a swing as it is played: the ratio of the long note to the short one."""
    element = add(sound, "swing")
    share = Fraction(swing_share(swing, qpm)).limit_denominator(MOST_PARTS)
    if share == Fraction(1, 2):
        add(element, "straight")
        return
    add(element, "first", share.numerator)
    add(element, "second", share.denominator - share.numerator)
    add(element, "swing-type", _TYPES[swing.unit])
    if swing.percent is None:
        add(element, "swing-style", BY_TEMPO)


def _equation(parent: Element, swing: Swing) -> None:
    """Add two notes alike, and what they are played as."""
    metronome = add(parent, "metronome", parentheses="no")
    unit = _TYPES[swing.unit]
    for beam in ("begin", "end"):
        _note(metronome, unit, beam)
    add(metronome, "metronome-relation", "equals")
    if is_dotted(swing):
        _note(metronome, unit, "begin").insert(1, Element("metronome-dot"))
        _note(metronome, _SHORTER[unit], "end")
        return
    for kind, edge in ((_LONGER[unit], "start"), (unit, "stop")):
        note = add(metronome, "metronome-note")
        add(note, "metronome-type", kind)
        tuplet = add(note, "metronome-tuplet", type=edge)
        add(tuplet, "actual-notes", 3)
        add(tuplet, "normal-notes", 2)
        add(tuplet, "normal-type", unit)


def _note(metronome: Element, kind: str, beam: str) -> Element:
    """Add a note of the equation under a beam."""
    note = add(metronome, "metronome-note")
    add(note, "metronome-type", kind)
    add(note, "metronome-beam", beam, number=1)
    return note
