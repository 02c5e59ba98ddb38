"""Chords in the words of MusicXML 4.0: a kind, and degrees that are added, altered or left out.

Kinds and what they hold are those of the schema (simple type ``kind-value``); an added degree is
altered "relative to a dominant chord" (element ``degree-alter``), so a plain added 7 is the minor
seventh.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from groove.events import NO_CHORD
from groove.theory.chords import (
    QUALITIES,
    Chord,
    Degree,
    parse_chord,
    parse_degrees,
    parse_suffix,
)
from groove.theory.pitch import SpelledPitch

KIND_ROWS = (
    ("major", "1 3 5"),
    ("minor", "1 b3 5"),
    ("augmented", "1 3 #5"),
    ("diminished", "1 b3 b5"),
    ("dominant", "1 3 5 b7"),
    ("major-seventh", "1 3 5 7"),
    ("minor-seventh", "1 b3 5 b7"),
    ("diminished-seventh", "1 b3 b5 bb7"),
    ("augmented-seventh", "1 3 #5 b7"),
    ("half-diminished", "1 b3 b5 b7"),
    ("major-minor", "1 b3 5 7"),
    ("major-sixth", "1 3 5 6"),
    ("minor-sixth", "1 b3 5 6"),
    ("dominant-ninth", "1 3 5 b7 9"),
    ("major-ninth", "1 3 5 7 9"),
    ("minor-ninth", "1 b3 5 b7 9"),
    ("dominant-11th", "1 3 5 b7 9 11"),
    ("major-11th", "1 3 5 7 9 11"),
    ("minor-11th", "1 b3 5 b7 9 11"),
    ("dominant-13th", "1 3 5 b7 9 11 13"),
    ("major-13th", "1 3 5 7 9 11 13"),
    ("minor-13th", "1 b3 5 b7 9 11 13"),
    ("suspended-second", "1 2 5"),
    ("suspended-fourth", "1 4 5"),
    ("pedal", "1"),
    ("power", "1 5"),
    ("Neapolitan", "1 b2 3 b5"),
    ("Italian", "1 #4 b6"),
    ("French", "1 2 #4 b6"),
    ("German", "1 b3 #4 b6"),
    ("Tristan", "1 #4 #6 #9"),
)
CHORD_KINDS = {name: parse_degrees(degrees) for name, degrees in KIND_ROWS}
"""What each kind holds, by its name in the schema; ``other`` and ``none`` hold nothing."""

WRITTEN_KINDS = tuple(name for name, _ in KIND_ROWS[:26])
"""The kinds that are written; the last five are functions, which are only read."""


@dataclass(frozen=True, slots=True)
class KindDegree:
    """One ``degree`` element: its value, its alteration as written, its type, if it is printed."""

    value: int
    alter: int
    type: str
    is_shown: bool = True


@dataclass(frozen=True, slots=True)
class WrittenKind:
    """A chord's kind and its degrees."""

    name: str
    degrees: tuple[KindDegree, ...]
    text: str = ""

    def label(self, degree: KindDegree) -> str:
        """Return what is read before a degree's number: ``no``, and ``add`` above a triad."""
        if degree.type == "subtract":
            return "no"
        is_triad = len(CHORD_KINDS.get(self.name, ())) <= 3
        plain = [each for each in self.degrees if each.type == "add" and not each.alter]
        # Two numbers behind each other would be read as one: 9 and 11 as 911.
        return "add" if degree in plain and (is_triad or len(plain) > 1) else ""


@lru_cache(maxsize=1024)
def chord_kind(chord: Chord) -> WrittenKind:
    """Return the kind that says a chord the most plainly, the first of the table.

    Its ``text`` is that of the kind alone where degrees are shown behind it: readers that show
    degrees always would say them twice.
    """
    suffix, degrees = chord.suffix, chord.degrees
    found = _plainest(WRITTEN_KINDS, degrees)
    if not found.degrees:
        return replace(found, text=suffix)
    if _is_suspended(degrees):
        return _suspended_kind(suffix, degrees) or _named_whole(found, suffix)
    head = _kind_head(suffix, CHORD_KINDS[found.name])
    if head is None or any(d.value == 3 for d in found.degrees if d.type == "alter"):
        return _named_whole(found, suffix)
    return replace(found, text=head)


def _plainest(names: Iterable[str], degrees: tuple[Degree, ...]) -> WrittenKind:
    """Return the kind that makes a chord the most plainly."""
    readings = (WrittenKind(name, _kind_degrees(CHORD_KINDS[name], degrees)) for name in names)
    return min(readings, key=lambda kind: (_kind_cost(kind), -len(CHORD_KINDS[kind.name])))


def _named_whole(kind: WrittenKind, suffix: str) -> WrittenKind:
    """Return a kind whose text is the whole name, so that no degree is to be shown behind it."""
    hidden = tuple(replace(degree, is_shown=False) for degree in kind.degrees)
    return replace(kind, text=suffix, degrees=hidden)


def _kind_head(suffix: str, degrees: tuple[Degree, ...]) -> str | None:
    """Return what a suffix begins with that says a kind; else our own word for it, None for none.

    ``7`` of ``7b9``, ``m`` of ``m(add9)``.
    """
    for end in range(len(suffix), -1, -1):
        if _reads_as(suffix[:end], degrees):
            return suffix[:end]
    return next((q.spellings[0] for q in QUALITIES if q.degrees == degrees), None)


# --- suspensions ------------------------------------------------------------------------------


def _is_suspended(degrees: tuple[Degree, ...]) -> bool:
    """Return whether a second or a fourth stands in the place of the third."""
    numbers = {degree.number for degree in degrees}
    return 3 not in numbers and bool(numbers & set(_SUSPENDED))


_SUSPENDED = {2: 9, 4: 11}
"""What a suspended tone is an octave higher, where it belongs to kinds that have a seventh."""


def _suspended_kind(suffix: str, degrees: tuple[Degree, ...]) -> WrittenKind | None:
    """Return the kind of a suspended chord that is no kind of the schema; None if none is plain.

    The schema has no suspension with a seventh, and what a seventh is that is added to one is read
    in two ways.  So ``7sus4`` is an eleventh without its third and ninth: every reader that follows
    degrees sounds it, and one that shows what is not to be shown says nothing twice.
    """
    numbers = {degree.number for degree in degrees}
    raised = {low: high for low, high in _SUSPENDED.items() if high not in numbers}
    moved = tuple(Degree(raised.get(d.number, d.number), d.alter) for d in degrees)
    high = {raised[number] for number in numbers & set(raised)}
    extended = [name for name in WRITTEN_KINDS if high <= {d.number for d in CHORD_KINDS[name]}]
    readings = [_plainest(_TRIADS, degrees)]
    if extended and high:
        readings.append(_plainest(extended, tuple(sorted(moved, key=lambda d: d.number))))
    plain = [kind for kind in readings if not {(d.type, d.value) for d in kind.degrees} & _UNCLEAR]
    if not plain:
        return None
    found = min(plain, key=_kind_cost)
    shown = tuple(
        replace(d, is_shown=d.type != "subtract" or f"no{d.value}" in suffix) for d in found.degrees
    )
    text = _suspended_head(suffix, degrees, {d.value: d.type for d in shown if d.is_shown})
    return None if text is None else replace(found, text=text, degrees=shown)


_TRIADS = ("suspended-second", "suspended-fourth")


def _suspended_head(
    suffix: str, degrees: tuple[Degree, ...], shown: Mapping[int, str]
) -> str | None:
    """Return what a suffix begins with that says all but the degrees that are shown behind it."""
    rest = {degree for degree in degrees if degree.number not in shown}
    for end in range(len(suffix), 0, -1):
        try:
            _, said = parse_suffix(suffix[:end])
        except ValueError:
            continue
        own = {degree for degree in said if degree.number not in shown}
        numbers = {degree.number for degree in said if not degree.alter}
        if own == rest and all((shown[n] != "add") == (n in numbers) for n in shown):
            return suffix[:end]
    return next((q.spellings[0] for q in QUALITIES if set(q.degrees) == rest), None)


def _kind_cost(kind: WrittenKind) -> int:
    """Return how roundabout a kind is.

    What is added is plainer than what is altered, and that than what is left out; adding a seventh
    is read in two ways, and a third that is altered makes another kind of the name.
    """
    return sum(_READ_OTHERWISE.get((d.type, d.value), _COSTS[d.type]) for d in kind.degrees)


_COSTS = {"add": 2, "alter": 3, "subtract": 5}
_READ_OTHERWISE = {("add", 7): 9, ("alter", 3): 9}
_UNCLEAR = frozenset(_READ_OTHERWISE)


def _kind_degrees(base: tuple[Degree, ...], wanted: tuple[Degree, ...]) -> tuple[KindDegree, ...]:
    """Return the degrees that make one chord of another."""
    gone = [degree for degree in base if degree not in wanted]
    new = [degree for degree in wanted if degree not in base]
    found = []
    for degree in gone:
        other = next((d for d in new if d.number == degree.number), None)
        if other:
            new.remove(other)
            found.append(KindDegree(degree.number, other.alter - degree.alter, "alter"))
        else:
            found.append(KindDegree(degree.number, 0, "subtract"))
    found += [KindDegree(d.number, d.alter + (d.number == 7), "add") for d in new]
    return tuple(found)


def _kind_chord_degrees(kind: WrittenKind) -> tuple[Degree, ...]:
    """Return the degrees above the root that a kind with its degrees means."""
    found = list(CHORD_KINDS.get(kind.name, CHORD_KINDS["major"]))
    for degree in kind.degrees:
        own = next((d for d in found if d.number == degree.value), None)
        if degree.type == "add":
            found.append(Degree(degree.value, degree.alter - (degree.value == 7)))
        elif degree.type == "subtract":
            found = [d for d in found if d.number != degree.value]
        elif own:
            found[found.index(own)] = Degree(own.number, own.alter + degree.alter)
        else:
            found.append(Degree(degree.value, degree.alter - (degree.value == 7)))
    return tuple(sorted(set(found), key=lambda d: (d.semitones, d.number)))


def _kind_suffix(kind: WrittenKind, text: str) -> str:
    """Return the suffix of a chart for a kind: the printed text where it says the same chord."""
    wanted = _kind_chord_degrees(kind)
    pitches = {degree.semitones % 12 for degree in wanted}
    plain = text.replace("♭", "b").replace("♯", "#").replace(" ", "")
    whole = [q.spellings[0] for q in QUALITIES if q.degrees == wanted]
    shown = [kind.label(d) + "b" * -d.alter + "#" * d.alter + str(d.value) for d in kind.degrees]
    for candidate in (plain, *whole, plain + "".join(shown)):
        try:
            _, degrees = parse_suffix(candidate)
        except ValueError:
            continue
        if {degree.semitones % 12 for degree in degrees} == pitches:
            return candidate
    fifths = [replace(d, type="alter") if _is_other_fifth(d, kind) else d for d in kind.degrees]
    if fifths != [*kind.degrees]:
        return _kind_suffix(replace(kind, degrees=tuple(fifths)), text)
    return _degrees_suffix(wanted)


def _is_other_fifth(degree: KindDegree, kind: WrittenKind) -> bool:
    """Return whether a fifth is added that is meant in the place of the chord's own.

    Some programs write ``m7b5`` so, music21 among them; no chord of ours has two fifths and no name
    that says so.
    """
    is_added = degree.type == "add" and degree.value == 5 and degree.alter != 0
    return is_added and Degree(5, 0) in CHORD_KINDS.get(kind.name, ())


def _degrees_suffix(wanted: tuple[Degree, ...]) -> str:
    """Return our own spelling of a set of degrees: a quality, and what differs in brackets."""
    base = max(
        (q for q in QUALITIES if set(q.degrees) <= set(wanted)),
        key=lambda quality: len(quality.degrees),
        default=None,
    )
    if base is None:
        return _bare_suffix(wanted)
    rest = [degree for degree in wanted if degree not in base.degrees]
    text = base.spellings[0] + "".join(f"({_plain_label(d)})" for d in rest)
    return text if _reads_as(text, wanted) else _bare_suffix(wanted)


def _bare_suffix(wanted: tuple[Degree, ...]) -> str:
    """Return a chord as its root and every other tone in brackets."""
    return "1" + "".join(f"(add{_plain_label(d)})" for d in wanted if d.number != 1)


def _plain_label(degree: Degree) -> str:
    """Return a degree in ASCII: ``b9``; a seventh is written as the minor one, ``maj7`` major."""
    if degree.number == 7:
        return {0: "maj7", -1: "b7"}.get(degree.alter, "6")
    return "b" * -degree.alter + "#" * degree.alter + str(degree.number)


def _reads_as(suffix: str, wanted: tuple[Degree, ...]) -> bool:
    """Return whether a suffix is read as these degrees."""
    try:
        _, degrees = parse_suffix(suffix)
    except ValueError:
        return False
    return set(degrees) == set(wanted)


def chord_symbol(
    root: SpelledPitch, kind: WrittenKind, text: str, bass: SpelledPitch | None
) -> str:
    """Return the symbol of a chart for a chord of MusicXML.  Raises ValueError if none serves."""
    symbol = root.simplified().name + _kind_suffix(kind, text)
    if bass is not None and bass != root:
        symbol += f"/{bass.simplified().name}"
    parse_chord(symbol)
    return symbol


def other_symbol(
    root: SpelledPitch, kind: WrittenKind, text: str, bass: SpelledPitch | None
) -> str:
    """Return the symbol of a chord whose kind is not in the schema's list: what its text says.

    Where that is no chord of ours it is major.  Raises ValueError as ``chord_symbol`` does.
    """
    name = root.simplified().name + text.replace("♭", "b").replace("♯", "#").replace(" ", "")
    symbol = name + (f"/{bass.simplified().name}" if bass is not None and bass != root else "")
    try:
        parse_chord(symbol)
    except ValueError:
        return chord_symbol(root, kind, text, bass)
    return symbol


def inverted_symbol(symbol: str, inversion: int) -> str:
    """Return a chord with the tone in the bass that its inversion says: 1 is the third.

    An inversion that the chord has not is left out.
    """
    chord = parse_chord(symbol)
    tones = sorted(zip(chord.degrees, chord.tones, strict=True), key=lambda pair: pair[0].number)
    if not 0 < inversion < len(tones):
        return symbol
    return f"{symbol}/{tones[inversion][1].simplified().name}"


def printed_suffix(suffix: str) -> str:
    """Return a suffix with musical signs: ``m7♭5``."""
    signs = []
    for index, mark in enumerate(suffix):
        follows = suffix[index + 1 : index + 2]
        flat = mark == "b" and follows.isdigit()
        signs.append("♭" if flat else "♯" if mark == "#" else mark)
    return "".join(signs)


def printed_chord(chord: Chord | None) -> str:
    """Return a chord's symbol as printed: ``F♯m7♭5/C``, ``N.C.``."""
    if chord is None:
        return NO_CHORD
    bass = f"/{chord.bass.pretty}" if chord.bass else ""
    return chord.root.pretty + printed_suffix(chord.suffix) + bass
