"""Movement and harmony in a player's words: intervals, moves on the neck, names, resolutions."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec.structs import replace

from groove.chart.form import PlayedBar
from groove.chart.write import with_slashes
from groove.events import Place
from groove.harmony.changes import Change, Function, Pull
from groove.harmony.key import KeyReading
from groove.harmony.modulation import ModulationKind, ModulationMeans
from groove.harmony.moves import Description, Repeat, Term, moves_of
from groove.harmony.named import Naming
from groove.harmony.sections import Echo
from groove.neck.shapes import STRINGS_UP
from groove.text.counts import counted, numbered_bars
from groove.text.neck import count_word, move_words
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch

INTERVAL_WORDS = (
    "the same root",
    "a half step",
    "a whole step",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
    "a fifth",
    "a minor sixth",
    "a major sixth",
    "a minor seventh",
    "a major seventh",
)
STRING_INTERVAL = 5
"""Semitones between neighbouring strings of a bass."""
_MIDDLE = (10, 12)
"""A string and a fret far from every edge, from which a move is counted."""
_WORTH_SHARE = Fraction(1, 3)
"""What a description must save beside listing the roots (common practice, no source)."""
TIMES_WORDS = {1: "once", 2: "twice"}


def pretty(name: str) -> str:
    """Return a name of the chart with musical signs: ``F#m7/C#`` as ``F♯m7/C♯``, ``Bb`` as ``B♭``.

    A flat is a ``b`` after a letter from A to G or before a digit.
    """
    text = name.replace("#", "♯")
    shown = []
    for index, mark in enumerate(text):
        before, after = text[index - 1 : index], text[index + 1 : index + 2]
        is_flat = mark == "b" and (before in tuple("ABCDEFG♭") or after.isdigit())
        shown.append("♭" if is_flat else mark)
        if is_flat:
            text = text[:index] + "♭" + text[index + 1 :]
    return "".join(shown)


def lettered(chord: Chord | None) -> Chord | None:
    """Return a chord that was made from a number, written in letters: ``F#-7`` as ``F#m7``.

    The dash is the numbers' sign for minor; a page of letters has one sign for one quality.
    """
    if chord is None or not chord.suffix.startswith("-"):
        return chord
    return replace(chord, suffix="m" + chord.suffix[1:])


def key_words(key: Key) -> str:
    """Return a key as told: ``F♯ minor``."""
    return key.pretty


def reading_words(reading: KeyReading) -> str:
    """Return a key reading as told, with both readings where it is ambiguous."""
    if not reading.confidence:
        return "no key: there are no chords"
    text = f"{key_words(reading.key)} ({reading.confidence:.0%} sure)"
    if reading.is_ambiguous and reading.runner_up:
        other = f"{key_words(reading.runner_up)} ({reading.runner_up_confidence:.0%})"
        return f"ambiguous: {text}, or {other}"
    return text


def modulation_words(means: ModulationMeans) -> str:
    """Return how a key is reached: ``pivot Em: iii is vi there``."""
    if means.chord is None:
        return "direct"
    chord = pretty(means.chord.symbol)
    if means.kind is ModulationKind.DOMINANT:
        return f"by its {pretty(means.new_numeral)}, {chord}"
    return f"pivot {chord}: {pretty(means.old_numeral)} is {pretty(means.new_numeral)} there"


def _interval_words(semitones: int) -> str:
    """Return a signed interval within an octave in words: -5 is ``down a fourth``."""
    if semitones % 12 == 0:
        return INTERVAL_WORDS[0]
    return f"{'up' if semitones > 0 else 'down'} {INTERVAL_WORDS[abs(semitones) % 12]}"


def neck_words(semitones: int) -> str:
    """Return a signed interval as a move on strings a fourth apart, in the usual shape."""
    strings = STRINGS_UP.get(semitones)
    if strings is None:
        strings = -STRINGS_UP[-semitones]
    frets = semitones - STRING_INTERVAL * strings
    string, fret = _MIDDLE
    old = Place(string=string, fret=fret, finger=1, pluck="i", position_fret=fret)
    new = Place(string=string - strings, fret=fret + frets, finger=1, pluck="i", position_fret=fret)
    return move_words(old, new)


def _both_directions(move: int) -> tuple[int, int]:
    """Return a move between roots (1-11 semitones up) as signed intervals, the nearer way first."""
    directions = (move, move - 12)
    return directions if move < 6 else (directions[1], directions[0])


def root_move_text(move: int) -> str:
    """Return a move between roots on the neck, the nearer way and the other one."""
    if move % 12 == 0:
        return INTERVAL_WORDS[0]
    near, far = _both_directions(move % 12)
    return (
        f"{_interval_words(near)}: {neck_words(near)}; or {_interval_words(far)}: {neck_words(far)}"
    )


def _row_words(parts: Sequence[Term]) -> str:
    """Return parts of a description one after another; a move undone at once is ``back``."""
    text = ""
    before: Term | None = None
    undone = False
    for part in parts:
        moves_on = isinstance(part, int) and isinstance(before, int)
        undone = moves_on and not undone and _adds_up(before, part)
        words = _repeat_words(part) if isinstance(part, Repeat) else _move_text(part)
        text += ("" if not text else ", " if moves_on else "; then ") + (
            "back" if undone else words
        )
        before = part
    return text


def _adds_up(move: Term | None, other: Term) -> bool:
    """Return whether one move undoes another."""
    return isinstance(move, int) and isinstance(other, int) and (move + other) % 12 == 0


def _move_text(move: int) -> str:
    """Return a move between roots by its nearer way: ``down a fourth``."""
    return _interval_words(_both_directions(move)[0] if move else 0)


def _repeat_words(repeat: Repeat) -> str:
    """Return a repeat: a move made again and again, or one shape and where it begins each time."""
    times = times_words(repeat.times)
    if not repeat.unit:
        return f"{_move_text(repeat.shift)}, {times_words(repeat.times - 1)}"
    return f"one shape, {times}{_shift_words(repeat)}: {_row_words(repeat.unit)}"


def _shift_words(repeat: Repeat) -> str:
    """Return where a shape begins each time, from where it began before."""
    shift = (sum(moves_of(repeat.unit)) + repeat.shift) % 12
    if not shift:
        return ", each from the same root"
    near = _both_directions(shift)[0]
    each = "the second" if repeat.times == 2 else "each"
    return f", {each} {INTERVAL_WORDS[abs(near)]} {'higher' if near > 0 else 'lower'}"


def times_words(times: int) -> str:
    """Return how often: ``once``, ``twice``, ``four times``."""
    return TIMES_WORDS.get(times, f"{count_word(times)} times")


def description_words(description: Description, spelling: dict[int, SpelledPitch]) -> str:
    """Return how roots move, by the shortest description; ``spelling`` names pitch classes.

    What breaks off from a repeat at the end is the odd move out.
    """
    first = spelling[description.first].pretty
    if not description.parts:
        return f"stay on {first}"
    odd = description.turnaround
    words = f"from {first}: {_row_words(description.parts[: len(description.parts) - len(odd)])}"
    if odd:
        words += f"; {'odd one' if len(odd) == 1 else 'odd ones'} out: {_row_words(odd)}"
    return words


def description_note(description: Description) -> str:
    """Return how long the description is beside listing the roots; empty where that says nothing.

    A saving is told from a third on.  Nothing repeats where no root and no move comes twice.
    """
    if description.saved:
        text = f"{description.length} things to know in place of {description.listed_length} roots"
        return text if description.saved >= _WORTH_SHARE * description.listed_length else ""
    moves = moves_of(description.parts)
    roots = [sum(moves[:count]) % 12 for count in range(len(moves) + 1)]
    unlike = len(set(moves)) == len(moves) and len(set(roots)) == len(roots)
    return "nothing repeats" if unlike and len(roots) > 2 else ""


def naming_words(named: Sequence[Naming], bars: int) -> list[str]:
    """Return what is named in a section of so many bars, each name once with all of its places."""
    found: dict[str, list[Naming]] = {}
    for each in named:
        found.setdefault(f"{each.name} {each.detail}".strip(), []).append(each)
    return [pretty(text) + _places_words(each, bars) for text, each in found.items()]


def _places_words(found: Sequence[Naming], bars: int) -> str:
    """Return the bars of what is named; nothing where it is all of the section."""
    if [(each.first_bar, each.last_bar) for each in found] == [(1, bars)]:
        return ""
    places = [
        str(each.first_bar)
        if each.first_bar == each.last_bar
        else f"{each.first_bar}–{each.last_bar}"
        for each in found
    ]
    noun = "bar" if len(places) == 1 and "–" not in places[0] else "bars"
    return f" ({noun} {', '.join(places)})"


def echo_words(echo: Echo, symbols: Sequence[str]) -> str:
    """Return a phrase that comes again but for some bars, whose chords are ``symbols``."""
    odd = ", ".join(f"bar {bar}: {text}" for bar, text in zip(echo.odd_bars, symbols, strict=True))
    times = times_words(echo.times)
    noun = "odd one out" if len(echo.odd_bars) == 1 else "odd ones out"
    return f"{counted(echo.phrase_bars, 'bar')}, {times}; {noun} {odd}"


def pull_words(pull: Pull, change: Change) -> str:
    """Return how a dominant resolves, and of what it is one if not of the key."""
    chord = pretty(pull.chord.symbol)
    if change.function is Function.SECONDARY:
        chord += f", {pretty(change.numeral)},"
    words = f"{chord} resolves to {pull.goal.pretty}: {pull.leading_note.pretty} leads up to it"
    if pull.seventh and pull.seventh_goal:
        words += f", {pull.seventh.pretty} falls to {pull.seventh_goal.pretty}"
    return words


def bars_words(numbers: Sequence[int], length: int) -> str:
    """Return bars of a section as told: ``last two bars``, ``bars 3, 5``."""
    count = len(numbers)
    if list(numbers) == list(range(length - count + 1, length + 1)):
        return "last bar" if count == 1 else f"last {count_word(count)} bars"
    return numbered_bars(numbers)


def symbols_of(bar: PlayedBar) -> str:
    """Return the chords of a bar with musical signs, and where in it they stand."""
    names = (pretty(span.symbol) for span in bar.chords)
    return " ".join(with_slashes(names, bar.chords, bar.meter))
