"""What players name in a section: forms of the blues, ii–V–I's, turnarounds, lines of the bass.

Each name has one row in ``RULES``: its definition in words, and the function that finds it.  All
are common practice, no source, but for the twelve bars of R. Hutchinson, *Music Theory for the
21st-Century Classroom*, 12.4.  Nothing is named on half a match: a form has all of its bars, a loop
all of its chords, a run ends where the next chord does not go on with it.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby, pairwise
from typing import Any

from msgspec import Struct

from groove.harmony.changes import Function
from groove.harmony.evidence import MAJORS, ChordClass, is_half_diminished, kind_of
from groove.harmony.passages import Fit, HeardChord, Passage, RootStep, fits_place, row_fits
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

_HANDBOOK = "R. Hutchinson, Music Theory for the 21st-Century Classroom, 12.4"
_COMMON = "common practice, no source"
_RISING_FOURTH, _TRITONE = 5, 6
_FEWEST_FIFTHS, _FEWEST_BASS_NOTES, _FEWEST_OVER_PEDAL = 4, 4, 3
_MINORS = (ChordClass.MINOR, ChordClass.MINOR_SEVENTH)
_DOMINANT = ChordClass.DOMINANT


class BluesForm(Struct, frozen=True):
    """A form of the blues: its name, its mode, the chord that opens each bar."""

    name: str
    mode: Mode
    bars: str
    wants_seventh: bool = True
    """Whether I or IV must be a dominant seventh somewhere, for it to be a blues."""


BLUES_FORMS = (
    BluesForm(
        "twelve-bar blues, slow change", Mode.MAJOR, "I I I I IV IV|♯iv° I I V IV|V I *", False
    ),
    BluesForm(
        "twelve-bar blues, quick change", Mode.MAJOR, "I IV I I IV IV|♯iv° I I V IV|V I *", False
    ),
    BluesForm("jazz blues", Mode.MAJOR, "I IV|I I * IV IV|♯iv° I * ii V I|iii *"),
    BluesForm("minor blues", Mode.MINOR, "i i|iv i i|I7 iv iv i i V|VI|ii° V|iv i *", False),
    BluesForm("eight-bar blues", Mode.MAJOR, "I V IV IV|iv I V I *"),
    BluesForm("eight-bar blues", Mode.MAJOR, "I I IV IV|iv|♯iv° I V|II7 I *"),
    BluesForm("eight-bar blues", Mode.MAJOR, "I I IV IV|iv|♯iv° I VI7 II7|ii V"),
    BluesForm("sixteen-bar blues", Mode.MAJOR, "I I I I I I I I IV IV I I V IV|V I *"),
    BluesForm("sixteen-bar blues", Mode.MAJOR, "I I I I IV IV I I V IV V IV V IV I *"),
)

TURNAROUNDS = {
    Mode.MAJOR: (
        "I vi ii V", "I VI7 ii V", "I VI7 II7 V", "iii vi ii V", "iii VI7 ii V", "iii VI7 II7 V",
        "I ♯i° ii V", "I ♭iii° ii V", "I ♭III ♭VI ♭II", "I IV I V",
    ),
    Mode.MINOR: ("i VI ii° V", "i ♯vi° ii° V", "i iv i V"),
}  # fmt: skip
"""The usual turnarounds of four chords."""

LOOPS = {
    Mode.MAJOR: (
        "I V vi IV", "V vi IV I", "vi IV I V", "IV I V vi", "I vi IV V", "I vi ii V", "I IV V IV",
        "I IV I V", "I IV vi V", "I iii IV V", "IV V iii vi", "I ♭VII IV I", "I ♭III IV I",
        "I V IV V", "I ii IV V", "IV V vi I",
    ),
    Mode.MINOR: (
        "i VII VI VII", "i VI III VII", "VI III VII i", "i VII VI V", "i VI VII i", "i iv v i",
        "i iv V i", "i VI iv V", "i VII iv VI",
    ),
}  # fmt: skip
"""Common loops of four chords, by their numerals."""


class Naming(Struct, frozen=True, order=True):
    """Something named: what, of which kind or key, and its bars in the section (from 1)."""

    first_bar: int
    last_bar: int
    name: str
    detail: str = ""


class Rule(Struct, frozen=True):
    """A name: what it means in words, where the meaning is from, and what finds it."""

    name: str
    definition: str
    source: str
    find: Callable[[Passage], Iterator[Naming]]


def _runs(items: Sequence[Any], goes_on: Callable[[Any, Any], bool]) -> Iterator[list[Any]]:
    """Yield the longest runs in which each item goes on from the one before."""
    run: list[Any] = list(items[:1])
    for before, item in pairwise(items):
        if goes_on(before, item):
            run.append(item)
        else:
            yield run
            run = [item]
    if run:
        yield run


def _blues(passage: Passage) -> Iterator[Naming]:
    """Find sections that are choruses of the blues, of one length, and name each of them."""
    own = [form for form in BLUES_FORMS if (form.mode is Mode.MINOR) is passage.key.is_minor]
    count = len(passage.bars)
    for length in sorted({len(form.bars.split()) for form in own}):
        if count % length:
            continue
        choruses = [range(start, start + length) for start in range(0, count, length)]
        forms = [_form_of(passage, chorus, own) for chorus in choruses]
        if all(forms):
            for chorus, form in zip(choruses, forms, strict=True):
                yield Naming(chorus.start + 1, chorus.stop, form)


def _form_of(passage: Passage, chorus: range, forms: Sequence[BluesForm]) -> str:
    """Return the name of the form that some bars have, empty where they have none."""
    for form in forms:
        row = row_fits(form.bars, form.mode)
        matches = len(row) == len(chorus) and all(
            _opens(passage, bar, fit) for bar, fit in zip(chorus, row, strict=True)
        )
        if matches and (not form.wants_seventh or _has_seventh(passage, chorus)):
            return form.name
    return ""


def _opens(passage: Passage, bar: int, fit: Sequence[Fit]) -> bool:
    """Return whether the chord that opens a bar fits there."""
    chord = passage.opening(bar)
    if chord is None:
        return False
    return fits_place(fit, _above_tonic(chord.root, passage.key), kind_of(chord))


def _above_tonic(pitch: SpelledPitch, key: Key) -> int:
    """Return how far a pitch lies above the tonic, 0-11."""
    return (pitch.pitch_class - key.tonic.pitch_class) % 12


def _has_seventh(passage: Passage, bars: range) -> bool:
    """Return whether I or IV is a dominant seventh in some bars."""
    chords = [each.chord for bar in bars for each in passage.bars[bar] if each.chord]
    return any(
        kind_of(chord) is _DOMINANT and _above_tonic(chord.root, passage.key) in (0, 5)
        for chord in chords
    )


def _two_five_ones(passage: Passage) -> Iterator[Naming]:
    """Find ii–V–I's, each with the key of its I."""
    for steps in passage.steps:
        for two, five, one in zip(steps, steps[1:], steps[2:], strict=False):
            if not (_falls(two, five) and _falls(five, one)):
                continue
            first_bar = _minor_from(two)
            if first_bar and _is_five_one(five, one):
                home = one.chords[0]
                mode = Mode.MINOR if kind_of(home) in _MINORS else Mode.MAJOR
                name = "ii–V–i" if mode is Mode.MINOR else "ii–V–I"
                detail = f"in {Key(home.root, mode).respelled().pretty}"
                yield Naming(first_bar, one.first_bar, name, detail)


def _falls(step: RootStep, after: RootStep) -> bool:
    """Return whether a root falls a fifth to the next."""
    return (after.root - step.root) % 12 == _RISING_FOURTH


def _is_five_one(five: RootStep, one: RootStep) -> bool:
    """Return whether two chords have the kinds of V and I."""
    dominant = five.last_kind is _DOMINANT or (five.last_kind is ChordClass.MAJOR and one.root == 0)
    at_home = one.first_kind is _DOMINANT and one.root in (0, _RISING_FOURTH)
    return dominant and (at_home or one.first_kind in (*MAJORS, *_MINORS))


def _minor_from(step: RootStep) -> int | None:
    """Return the bar from which a step is minor or half-diminished to its end, None if not."""
    found = None
    for chord, bar in zip(reversed(step.chords), reversed(step.bars), strict=True):
        if kind_of(chord) not in _MINORS and not is_half_diminished(chord):
            break
        found = bar
    return found


def _turnarounds(passage: Passage) -> Iterator[Naming]:
    """Find the usual turnarounds in a section's last two or four bars."""
    mode = Mode.MINOR if passage.key.is_minor else Mode.MAJOR
    count = len(passage.bars)
    for length in (2, 4):
        if passage.loop_bars <= length or count < length:
            continue
        bars = passage.bars[-length:]
        heard = [each for bar in bars for each in bar]
        steps = passage.steps_of(heard)
        row = _row_of(steps, TURNAROUNDS[mode], mode)
        if row and all(each.chord for each in heard):
            yield Naming(count - length + 1, count, "turnaround", _row_name(row))


def _row_of(steps: Sequence[RootStep], rows: Sequence[str], mode: Mode) -> str:
    """Return the row of numerals that steps have, one a place; empty where they have none."""
    for row in rows:
        places = row_fits(row, mode)
        if len(places) == len(steps) and all(
            fits_place(fit, step.root, step.first_kind)
            for fit, step in zip(places, steps, strict=True)
        ):
            return row
    return ""


def _row_name(row: str) -> str:
    """Return a row of numerals as it is told: ``I–VI7–ii–V``."""
    return "–".join(row.split())


def _circle(passage: Passage) -> Iterator[Naming]:
    """Find runs of falling fifths."""
    middle = 8 if passage.key.is_minor else 5

    def falls(step: RootStep, after: RootStep) -> bool:
        by = (after.root - step.root) % 12
        return by == _RISING_FOURTH or (by == _TRITONE and step.root == middle)

    for steps in passage.steps:
        for run in _runs(steps, falls):
            if len(run) >= _FEWEST_FIFTHS:
                roots = " ".join(step.chords[0].root.pretty for step in run)
                yield Naming(run[0].first_bar, run[-1].first_bar, "circle of fifths", roots)


def _bass_notes(heard: Sequence[HeardChord]) -> list[tuple[SpelledPitch, int]]:
    """Return the bass notes of chords and the bars in which they come, held ones once."""
    notes = [(each.chord.bass_note, each.bar) for each in heard if each.chord]
    grouped = groupby(notes, key=lambda note: note[0].pitch_class)
    return [next(group) for _, group in grouped]


def _step_down(passage: Passage) -> Iterator[Naming]:
    """Find bass lines that step down."""

    def steps_down(note: tuple[SpelledPitch, int], after: tuple[SpelledPitch, int]) -> bool:
        return (note[0].pitch_class - after[0].pitch_class) % 12 in (1, 2)

    classes = set(passage.key.pitch_classes)
    for stretch in passage.stretches:
        for run in _runs(_bass_notes(stretch), steps_down):
            if len(run) < _FEWEST_BASS_NOTES:
                continue
            found = [note.pitch_class for note, _ in run]
            kind = ""
            if all((a - b) % 12 == 1 for a, b in pairwise(found)):
                kind = "chromatic "
            elif set(found) <= classes:
                kind = "diatonic "
            notes = " ".join(note.pretty for note, _ in run)
            yield Naming(run[0][1], run[-1][1], f"{kind}step-down bass", notes)


def _pedal(passage: Passage) -> Iterator[Naming]:
    """Find bass notes that stay under changing chords."""
    for stretch in passage.stretches:
        different = [next(group) for _, group in groupby(stretch, key=lambda each: each.chord)]
        for run in _runs(different, _share_a_bass):
            roots = {each.chord.root.pitch_class for each in run}
            if len(run) >= _FEWEST_OVER_PEDAL and len(roots) > 1:
                note = run[0].chord.bass_note.pretty
                yield Naming(run[0].bar, run[-1].bar, "pedal", f"on {note}")


def _share_a_bass(one: HeardChord, other: HeardChord) -> bool:
    notes = [each.chord.bass_note.pitch_class for each in (one, other) if each.chord]
    return notes[0] == notes[1]


def _back_door(passage: Passage) -> Iterator[Naming]:
    """Find ♭VII7 going home in a major key, with its iv where that stands before it."""
    if passage.key.is_minor:
        return
    for steps in passage.steps:
        for index, (door, home) in enumerate(pairwise(steps)):
            if (door.root, home.root) != (10, 0) or home.first_kind not in MAJORS:
                continue
            if door.last_kind is _DOMINANT:
                before = steps[index - 1] if index else None
                four = _minor_from(before) if before and before.root == _RISING_FOURTH else None
                detail = "iv–♭VII7–I" if four else "♭VII7–I"
                yield Naming(four or door.first_bar, home.first_bar, "back door", detail)


def _deceptive(passage: Passage) -> Iterator[Naming]:
    """Find V7 going to the sixth degree in place of home."""
    minor = passage.key.is_minor
    root, kinds, detail = (8, MAJORS, "V7–VI") if minor else (9, _MINORS, "V7–vi")
    for steps in passage.steps:
        for five, after in pairwise(steps):
            goes = five.root == 7 and five.last_kind is _DOMINANT
            if goes and after.root == root and after.first_kind in kinds:
                yield Naming(five.last_bar, after.first_bar, "deceptive move", detail)


def _borrowed(passage: Passage) -> Iterator[Naming]:
    """Find chords of the other mode on the same tonic, those of a back door aside."""
    doors = [range(door.first_bar, door.last_bar + 1) for door in _back_door(passage)]
    for number, bar in enumerate(passage.bars, start=1):
        if any(number in bars for bars in doors):
            continue
        for each in bar:
            if each.change.function is Function.BORROWED:
                detail = f"{each.change.numeral} from {each.change.of}"
                yield Naming(each.bar, each.bar, "borrowed chord", detail)


def _loops(passage: Passage) -> Iterator[Naming]:
    """Find sections that are a common loop of four chords, played at least twice."""
    mode = Mode.MINOR if passage.key.is_minor else Mode.MAJOR
    count = len(passage.bars)
    heard = [each for bar in passage.bars[: passage.loop_bars] for each in bar]
    if 2 * passage.loop_bars > count or not all(each.chord for each in heard):
        return
    row = _row_of(passage.steps_of(heard), LOOPS[mode], mode)
    if row:
        yield Naming(1, count, "four-chord loop", _row_name(row))


RULES = (
    Rule(
        "blues",
        "the section is one chorus or more, all of one length, each a form of BLUES_FORMS: every "
        "bar opens with a chord that stands there, and where the form wants a seventh, I or IV is "
        "a dominant seventh somewhere in the chorus",
        f"{_HANDBOOK} (slow change); else {_COMMON}",
        _blues,
    ),
    Rule(
        "ii–V–I",
        "a root whose last chords are minor or half-diminished, from the first of these on; then a "
        "root a fourth up whose last chord is a dominant seventh (or a major triad, where the I is "
        "the key's own), then a root a fourth up whose first chord is major or minor (a dominant "
        "seventh on I and IV alone); named by that chord's key",
        _COMMON,
        _two_five_ones,
    ),
    Rule(
        "turnaround",
        "the last two bars of a section, or its last four, have just the four chords of a row of "
        "TURNAROUNDS, those on one root in a row being one; not where the section repeats so few "
        "bars all the way",
        _COMMON,
        _turnarounds,
    ),
    Rule(
        "circle of fifths",
        "four roots or more in a row, each a fifth below the one before, or a tritone from the "
        "fourth degree of a major key or the sixth of a minor one; the whole run",
        _COMMON,
        _circle,
    ),
    Rule(
        "step-down bass",
        "four bass notes or more in a row, each a half or a whole step below the one before; "
        "chromatic where all are half steps, else diatonic where all are the key's; the whole run",
        _COMMON,
        _step_down,
    ),
    Rule(
        "pedal",
        "three chords or more in a row, each another one than the one before, on two roots or "
        "more, over one bass note; the whole run",
        _COMMON,
        _pedal,
    ),
    Rule(
        "back door",
        "in a major key a root on the lowered seventh whose last chord is a dominant seventh, then "
        "a major I that is no dominant; from the minor or half-diminished iv on where that stands "
        "before it",
        _COMMON,
        _back_door,
    ),
    Rule(
        "deceptive move",
        "V whose last chord is a dominant seventh, then vi in a major key, VI in a minor one",
        _COMMON,
        _deceptive,
    ),
    Rule(
        "borrowed chord",
        "a chord that is of the other mode on the same tonic, and leads nowhere as a dominant; not "
        "in the bars of a back door",
        _COMMON,
        _borrowed,
    ),
    Rule(
        "four-chord loop",
        "the section repeats a run of bars at least twice and nothing else, and that has just the "
        "four chords of a row of LOOPS, those on one root in a row being one",
        _COMMON,
        _loops,
    ),
)
"""Every name, in the order in which they are told."""


def named_in(passage: Passage) -> tuple[Naming, ...]:
    """Return what is named in a section, rule by rule, in the order of its bars."""
    return tuple(found for rule in RULES for found in sorted(rule.find(passage)))
