"""Notes in whose place another pitch was heard: what it was, bar by bar, in words and as data."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from msgspec import Struct

from groove.take.judgement import TakeReport
from groove.take.tuned import SURE_PITCH
from groove.text.counts import counted
from groove.text.times import ordinal
from groove.theory.keys import Key, near_key

LEAST_NOTES, LEAST_PITCHES = 4, 2
"""So many notes, of so many pitches, are a bar on another root (common practice, no source)."""
_MINOR_FIFTHS = 3  # a minor key's chromatic notes are those of its parallel major


class WrongPitch(Struct, frozen=True, kw_only=True):
    """A note that is due, by its index, and what was heard in its place.

    Pitches are MIDI numbers, of what was heard with half tones parted; ``confidence`` (0 to 1) is
    how sure that is.
    """

    expected: int
    written: int
    heard: float
    confidence: float

    @property
    def apart(self) -> int:
        """How many semitones it is higher than written, octaves apart."""
        return round(self.heard - self.written) % 12


def wrong_pitches(report: TakeReport) -> list[WrongPitch]:
    """Return what was heard in place of each note of ``TakeReport.wrong``."""
    wrong = set(report.wrong)
    return [each for each in _surely_heard(report) if each.expected in wrong]


def wrong_words(report: TakeReport) -> list[str]:
    """Return what was heard where, by bars: ``bar 12, each time: B♭ where D stands, 6 notes``.

    A bar of which every note is as far from its own is told as such: as on another root.
    """
    other_roots = dict(_on_other_roots(report))
    groups: dict[tuple[int, int, int], list[WrongPitch]] = defaultdict(list)
    told: dict[int, list[WrongPitch]] = defaultdict(list)
    for each in wrong_pitches(report):
        number = _bar_number(report, each)
        if number in other_roots:
            told[number].append(each)
        else:
            groups[number, round(each.heard) % 12, each.written % 12].append(each)
    words = [
        (number, -len(own), f"{_where(report, own)}: every note {other_roots[number]}")
        for number, own in told.items()
    ]
    for (number, heard, written), own in groups.items():
        key = report.reference.bars[report.reference.notes[own[0].expected].bar].key
        octave = " in another octave" if heard == written else ""
        name = f"{_name(heard, key)}{octave} where {_name(written, key)} stands"
        count = f", {counted(len(own), 'note')}" if len(own) > 1 else ""
        words.append((number, -len(own), f"{_where(report, own)}: {name}{count}"))
    return [text for _, _, text in sorted(words)]


def wrong_data(report: TakeReport) -> list[dict[str, object]]:
    """Return each note heard at another pitch, with what is written and what was heard."""
    reference = report.reference
    return [
        {
            "expected": each.expected,
            "bar": _bar_number(report, each),
            "time": reference.bars[reference.notes[each.expected].bar].time,
            "beat": round(reference.notes[each.expected].beat, 4),
            "written_pitch": each.written,
            "heard_pitch": round(each.heard, 2),
            "pitch_confidence": round(each.confidence, 2),
        }
        for each in wrong_pitches(report)
    ]


def _surely_heard(report: TakeReport) -> Iterator[WrongPitch]:
    """Yield every note whose pitch is sure, the right ones too, beside the nearest that is due."""
    for pair in report.alignment.pairs:
        note, sounded = report.reference.notes[pair.expected], report.take.notes[pair.heard]
        if note.is_ghost or not note.pitches or sounded.pitch is None:
            continue
        if sounded.pitch_confidence >= SURE_PITCH:
            heard = sounded.pitch
            yield WrongPitch(
                expected=pair.expected,
                written=min(note.pitches, key=lambda pitch: abs(heard - pitch)),
                heard=heard,
                confidence=sounded.pitch_confidence,
            )


def _on_other_roots(report: TakeReport) -> Iterator[tuple[int, str]]:
    """Yield bars in which every sure note is as far from its own, and how far."""
    by_bar: dict[int, list[WrongPitch]] = defaultdict(list)
    for each in _surely_heard(report):
        by_bar[_bar_number(report, each)].append(each)
    for number, own in by_bar.items():
        [apart, *others] = {each.apart for each in own}
        pitches = {each.written % 12 for each in own}
        if not others and apart and len(own) >= LEAST_NOTES and len(pitches) >= LEAST_PITCHES:
            way, size = ("higher", apart) if apart <= 6 else ("lower", 12 - apart)
            note = report.reference.notes[own[0].expected]
            bar = report.reference.bars[note.bar]
            root = next((each[0] for _, each in bar.chord_pitch_classes if each), None)
            as_on = ""
            if root is not None and len({each for _, each in bar.chord_pitch_classes}) == 1:
                own_root, other = _name(root, bar.key), _name((root + apart) % 12, bar.key)
                as_on = f", as on {other} in place of {own_root}"
            yield number, f"{counted(size, 'half tone')} {way}{as_on}"


def _bar_number(report: TakeReport, each: WrongPitch) -> int:
    reference = report.reference
    return reference.bars[reference.notes[each.expected].bar].number


def _where(report: TakeReport, own: Sequence[WrongPitch]) -> str:
    """Return which bar, which time, and of a single note which beat."""
    reference = report.reference
    if len(own) == 1:
        return reference.place_words(own[0].expected)
    number = _bar_number(report, own[0])
    bars = [reference.bars[reference.notes[pair.expected].bar] for pair in report.alignment.pairs]
    played = {bar.time for bar in bars if bar.number == number}
    times = sorted({reference.bars[reference.notes[each.expected].bar].time for each in own})
    if len(played) == 1 and times == [1]:
        return f"bar {number}"
    if len(times) == len(played):
        return f"bar {number}, each time"
    return f"bar {number}, {' and '.join(ordinal(time) for time in times)} time"


def _name(pitch_class: int, key: Key) -> str:
    fifths = key.signature_fifths + (_MINOR_FIFTHS if key.is_minor else 0)
    return near_key(pitch_class, fifths).pretty
