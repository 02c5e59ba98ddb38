"""Charts in the spirit of a corpus of popular songs: a thousand labels of Harte's grammar.

Labels: C. Harte et al., *Symbolic Representation of Musical Chords*, ISMIR 2005, as mir_eval
reads them; each is written as a player would, and must sound the pitch classes that mir_eval gives.
"""

from itertools import cycle, islice

import pytest

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from tests.mir_judge import chord as chord_judge

SHORTHANDS = {
    "maj": ("", "maj", "M"),
    "min": ("m", "min", "-"),
    "aug": ("+", "aug"),
    "dim": ("°", "dim", "o"),
    "sus4": ("sus4", "sus"),
    "sus2": ("sus2",),
    "7": ("7",),
    "maj7": ("maj7", "M7", "△7"),
    "min7": ("m7", "min7", "-7"),
    "minmaj7": ("mM7", "m(maj7)", "mmaj7"),
    "maj6": ("6", "maj6"),
    "min6": ("m6", "min6"),
    "dim7": ("°7", "dim7"),
    "hdim7": ("ø7", "m7b5", "ø"),
    "9": ("9",),
    "maj9": ("maj9", "M9"),
    "min9": ("m9", "-9"),
    "11": ("11",),
    "min11": ("m11",),
    "13": ("13",),
    "maj13": ("maj13",),
    "min13": ("m13",),
    "1": ("1",),
    "5": ("5",),
}
"""The shorthands of mir_eval, and how charts write them."""

ADDITIONS = ["", "2", "4", "6", "9", "11", "13", "b7", "b6", "b9", "#9", "#11", "b13", "b9,b13"]
ADDITIONS += ["b7,9", "9,11", "9,13", "#9,b13", "9,#11", "4,b7"]
BASSES = {"1": 0, "b3": 3, "3": 4, "4": 5, "5": 7, "6": 9, "b7": 10, "7": 11, "2": 2}
ROOTS = ["C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"]
NOTES = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
EXTENDED = {"9": {"9"}, "11": {"9", "11"}, "13": {"9", "11", "13"}}
METERS = ["2/4", "3/4", "4/4", "5/4", "2/2", "3/8", "5/8", "6/8", "7/8", "9/8", "12/8"]


def alters_a_tone(shorthand: str, addition: str) -> bool:
    """Return whether an addition alters an extension that the chord has: ``13(b13)``.

    mir_eval keeps both tones, the trade's symbol means the altered one alone.
    """
    own = EXTENDED.get(shorthand.removeprefix("maj").removeprefix("min"), set())
    return any(word[0] in "b#" and word.lstrip("b#") in own for word in addition.split(","))


def labels() -> list[tuple[str, str]]:
    """Return (label of Harte's grammar, symbol of a chart), every root and bass in turn."""
    pairs = []
    roots, basses = cycle(ROOTS), cycle(BASSES)
    for addition in ADDITIONS * 2:
        for shorthand, spellings in SHORTHANDS.items():
            if addition and alters_a_tone(shorthand, addition):
                continue
            for spelling in spellings:
                root, bass = next(roots), next(basses)
                tones = f"({addition})" if addition else ""
                slash = f"/{bass}" if bass != "1" else ""
                label = f"{root}:{shorthand}{tones}{slash}"
                number = chord_judge.pitch_class_to_semitone(root) + BASSES[bass]
                note = f"/{NOTES[number % 12]}" if bass != "1" else ""
                pairs.append((label, f"{root}{spelling}{tones}{note}"))
    return pairs


def judged(label: str) -> tuple[set[int], int]:
    """Return a label's pitch classes without its bass, and the pitch class of its bass."""
    upper, slash, bass = label.partition("/")
    root, bitmap, _ = chord_judge.encode(upper, reduce_extended_chords=True)
    step = chord_judge.scale_degree_to_semitone(bass) if slash else 0
    return {(root + n) % 12 for n in range(12) if bitmap[n]}, (root + step) % 12


def as_chart(symbols: list[str]) -> str:
    """Return a chart with a section a meter, and changes of meter inside each section."""
    lines = ["title: Every Label", "tempo: 96", ""]
    supply = iter(symbols)
    for number, meter in enumerate(cycle(METERS)):
        bars = list(islice(supply, 40))
        if not bars:
            return "\n".join(lines)
        lines += [f"part {number}:", f"  meter: {meter}"]
        for first in range(0, len(bars), 4):
            row = " | ".join(bars[first : first + 4])
            change = f"({METERS[(number + first) % len(METERS)]}) " if first % 12 == 8 else ""
            lines.append(f"  | {change}{row} |")
    raise AssertionError("unreachable")


def test_a_thousand_labels_sound_as_mir_eval_says() -> None:
    pairs = labels()
    song = parse_chart(as_chart([symbol for _, symbol in pairs]))
    played = [span for bar in unroll(song) for span in bar.chords]
    compared = 0
    for (label, symbol), span in zip(pairs, played, strict=True):
        assert span.chord is not None
        assert span.written == symbol
        classes, bass = judged(label)
        assert span.chord.pitch_classes == classes, (label, symbol)
        assert span.chord.bass_note.pitch_class == bass, (label, symbol)
        compared += 1
    assert compared == len(pairs)
    assert len(set(pairs)) >= 974
    assert {str(bar.meter) for bar in unroll(song)} == set(METERS)
    assert parse_chart(write_chart(song)) == song


@pytest.mark.parametrize("root", ROOTS)
def test_every_shorthand_is_read_on_every_root(root: str) -> None:
    compared = 0
    for shorthand, spellings in SHORTHANDS.items():
        for spelling in spellings:
            span = parse_chart(f"verse:\n| {root}{spelling} |").sections[0].bars[0].chords[0]
            assert span.chord is not None
            assert span.chord.pitch_classes == judged(f"{root}:{shorthand}")[0], root + spelling
            compared += 1
    assert compared == 45


def test_every_shorthand_of_mir_eval_is_here() -> None:
    assert set(SHORTHANDS) == set(chord_judge.QUALITIES) - {""}
