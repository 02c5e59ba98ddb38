"""Roman numerals as analysts write them, read into chords.

Beyond what a chart may say: augmented sixth chords (the lead sheet's seventh chord on ♭VI), the
diminished chord on the raised sixth degree of minor keys, ``/o`` for half-diminished, and remarks
in square brackets, which change no bass note.  The conventions are those of the analyses that come
with music21 (RomanText).
"""

import re

from groove.chart.degrees import parse_degree_chord
from groove.theory.chords import Chord
from groove.theory.keys import Key

HALF_STEP = 7
"""A half step on the same letter, in fifths."""
AUGMENTED_SIXTHS = {"It": "bVI7(no5)", "Ger": "bVI7", "Fr": "bVI7b5"}
AUGMENTED_SIXTH = re.compile(r"(It|Ger|Fr)(?:6|65|6/5|43|4/3)?")
REMARK = re.compile(r"\[[^\]]*\]")
RAISED_SIXTH = re.compile(r"vi(?:°|o|ø)")


def analysed_chord(text: str, key: Key) -> Chord:
    """Return the chord of an analyst's numeral in a key.  Raises ValueError."""
    plain = REMARK.sub("", text).replace("/o", "ø")
    sixth = AUGMENTED_SIXTH.fullmatch(plain)
    if sixth:
        return parse_degree_chord(AUGMENTED_SIXTHS[sixth[1]], key)
    chord = parse_degree_chord(plain, key)
    is_low = key.is_minor and chord.root == key.degree(6)
    return chord.transposed(HALF_STEP) if is_low and RAISED_SIXTH.match(plain) else chord
