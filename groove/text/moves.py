"""Movement and harmony in a player's words: intervals, moves on the neck, turnarounds, pulls."""

from collections.abc import Sequence

from groove.chart.form import PlayedBar
from groove.chart.write import with_slashes
from groove.events import Place
from groove.harmony.changes import Change, Function, Pull
from groove.harmony.key import KeyReading
from groove.harmony.moves import Description, Term
from groove.neck.shapes import STRINGS_UP
from groove.text.neck import count_word, move_words
from groove.text.words import counted
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch

INTERVAL_WORDS = (
    "the same root",
    "a half step",
    "a tone",
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


def key_words(key: Key) -> str:
    """Return a key as told: ``F♯ minor``."""
    return key.pretty


def reading_words(reading: KeyReading) -> str:
    """Return a key reading as told, with both readings where it is ambiguous."""
    if not reading.confidence:
        return "no key: there are no chords"
    told = f"{key_words(reading.key)} ({reading.confidence:.0%} sure)"
    if reading.is_ambiguous and reading.runner_up:
        other = f"{key_words(reading.runner_up)} ({reading.runner_up_confidence:.0%})"
        return f"ambiguous: {told}, or {other}"
    return told


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


def _both_ways(move: int) -> tuple[int, int]:
    """Return a move between roots (1-11 semitones up) as signed intervals, the nearer way first."""
    ways = (move, move - 12)
    return ways if move < 6 else (ways[1], ways[0])


def root_move_text(move: int) -> str:
    """Return a move between roots on the neck, the nearer way and the other one."""
    if move % 12 == 0:
        return INTERVAL_WORDS[0]
    near, far = _both_ways(move % 12)
    return (
        f"{_interval_words(near)}: {neck_words(near)}; or {_interval_words(far)}: {neck_words(far)}"
    )


def _part_words(part: Term) -> str:
    """Return one part of a description: a move by its nearer way, or a repeat."""
    if isinstance(part, int):
        return _interval_words(_both_ways(part)[0] if part else 0)
    shift = _interval_words(_both_ways(part.shift)[0] if part.shift else 0)
    if not part.unit:
        return f"{shift}, {_times_words(part.times - 1)}"
    unit = ", ".join(map(_part_words, part.unit))
    between = f"{shift} between" if part.shift else "from the same root"
    return f"({unit}) {_times_words(part.times)}, {between}"


def _times_words(times: int) -> str:
    """Return how often: ``once``, ``twice``, ``four times``."""
    return TIMES_WORDS.get(times, f"{count_word(times)} times")


def description_words(description: Description, spelling: dict[int, SpelledPitch]) -> str:
    """Return a progression's shortest description; ``spelling`` names pitch classes."""
    first = spelling[description.first].pretty
    if not description.parts:
        return f"stay on {first}"
    turnaround = len(description.turnaround)
    told = description.parts[: len(description.parts) - turnaround]
    words = f"from {first}: " + "; ".join(map(_part_words, told))
    if turnaround:
        words += "; then to turn round: " + ", ".join(map(_part_words, description.turnaround))
    return words


def description_note(description: Description) -> str:
    """Return how long the description is beside listing the roots."""
    if not description.saved:
        return f"{counted(description.listed_length, 'root')}, no shorter way to tell them"
    return f"{description.length} things to know instead of {description.listed_length} roots"


def pull_words(pull: Pull, change: Change) -> str:
    """Return why a dominant pulls, and of what it is one if not of the key."""
    chord = pretty(pull.chord.symbol)
    if change.function is Function.SECONDARY:
        chord += f", {pretty(change.numeral)},"
    words = f"{chord} pulls to {pull.goal.pretty}: {pull.leading_note.pretty} leads up to it"
    if pull.seventh and pull.seventh_goal:
        words += f", {pull.seventh.pretty} falls to {pull.seventh_goal.pretty}"
    return words


def bars_words(numbers: Sequence[int], length: int) -> str:
    """Return bars of a section as told: ``last two bars``, ``bars 3, 5``."""
    count = len(numbers)
    if list(numbers) == list(range(length - count + 1, length + 1)):
        return "last bar" if count == 1 else f"last {count_word(count)} bars"
    return ("bar " if count == 1 else "bars ") + ", ".join(map(str, numbers))


def symbols_of(bar: PlayedBar) -> str:
    """Return the chords of a bar with musical signs, and where in it they stand."""
    names = (pretty(span.symbol) for span in bar.chords)
    return " ".join(with_slashes(names, bar.chords, bar.meter))
