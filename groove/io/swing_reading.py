"""Swing read from MusicXML 4.0: the element ``swing``, in the words of a chart."""

from fractions import Fraction
from xml.etree.ElementTree import Element

from groove.io.gate import Gate, Where, one_line, shortened
from groove.timing import BY_TEMPO, STRAIGHT_WORD, SWING_PERCENT, SwingUnit

_UNITS = {"eighth": SwingUnit.EIGHTHS, "16th": SwingUnit.SIXTEENTHS}


def read_swing(swing: Element, gate: Gate, where: Where) -> str:
    """Return a swing as a chart has it, ``66.67% eighths``; empty, and told, for another."""
    if swing.find("straight") is not None:
        return STRAIGHT_WORD
    first, second = (
        gate.whole(swing.findtext(tag), "share of a swing", where) for tag in ("first", "second")
    )
    named = (swing.findtext("swing-type") or "eighth").strip()
    unit = _UNITS.get(named)
    if not first or not second or unit is None:
        gate.report(f"a swing of {shortened(one_line(named))} notes is left out", where)
        return ""
    if (swing.findtext("swing-style") or "").strip() == BY_TEMPO:
        return f"{BY_TEMPO} {unit}"
    percent = round(100 * Fraction(first, first + second), 2)
    low, high = SWING_PERCENT
    if percent == low:
        return STRAIGHT_WORD
    if not low < percent <= high:
        gate.report(f"a swing of {first} to {second} is left out", where)
        return ""
    return f"{float(percent):g}% {unit}"
