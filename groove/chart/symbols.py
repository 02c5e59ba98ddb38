"""Chord symbols as a chart writes them, by letter or by degree, and what to say of wrong ones."""

import re
from functools import lru_cache

from msgspec import Struct

from groove.errors import joined_hints, nearest_hint
from groove.theory.chords import QUALITIES, Chord, parse_chord
from groove.theory.keys import Key
from groove.theory.pitch import NOTE_PATTERN, parse_note

LONGEST_WORD = 40
STRAY_ENDING = re.compile(r"[0-9]{1,2}(?:,[0-9]{1,2})*\.?,?")
MINOR = re.compile(r"^(?:min|m(?!a))")
REPEAT_COUNT = re.compile(r"[x×][0-9]+", re.IGNORECASE)


class Symbols(Struct, frozen=True):
    """Reads the chord symbols of a section: by letter, or in a key where there is one."""

    key: Key | None = None

    def read(self, text: str) -> Chord:
        """Return the chord.  Raises ValueError."""
        if self.key is None:
            return parse_chord(text)
        from groove.chart.degrees import parse_degree_chord

        return parse_degree_chord(text, self.key)

    def hint(self, text: str, error: ValueError, before: str = "") -> str:
        """Return what was expected in place of a chord, and the nearest one.

        ``before`` is the word before it in its bar, which it may have been meant to end.
        """
        word = text[:LONGEST_WORD]
        if before and self.can_read(before + word):
            return f"write {before + word} as one word"
        if word.endswith("/") and self.can_read(word.removesuffix("/")):
            return "a bass note stands right after its slash; a / that holds a chord stands alone"
        if (german := re.fullmatch(r"(.+/)[Hh]", word)) and self.can_read(f"{german[1]}B"):
            return f"the note H is written B: {german[1]}B"
        near = self.nearest_number(word) if self.key else _nearest_chord(word)
        return joined_hints(str(error)[:120], near, _misplaced(word, self.key))

    def can_read(self, text: str) -> bool:
        """Return whether a text is a chord."""
        try:
            self.read(text)
        except ValueError:
            return False
        return True

    def nearest_number(self, text: str) -> str:
        """Return the number of a chord that is written by letter in a number chart."""
        from groove.chart.degrees import number_of

        assert self.key
        try:
            chord = parse_chord(_capital(text))
        except ValueError:
            return ""
        bass = f"/{number_of(chord.bass, self.key)}" if chord.bass else ""
        quality = MINOR.sub("-", chord.suffix)
        return f"nearest: {number_of(chord.root, self.key)}{quality}{bass}"


def _capital(text: str) -> str:
    """Return a symbol with a capital first letter."""
    return text[:1].upper() + text[1:]


@lru_cache(maxsize=64)
def _spelled_chords(root: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the symbols on a root as we write them, and in every spelling."""
    usual = tuple(root + quality.spellings[0] for quality in QUALITIES)
    every = tuple(root + spelling for quality in QUALITIES for spelling in quality.spellings)
    return usual, every


def _nearest_chord(text: str) -> str:
    """Return the chord most like a symbol that cannot be read, its slash note kept."""
    match = re.match(NOTE_PATTERN, _capital(text))
    if not match:
        return ""
    head, slash, bass = _capital(text).rpartition("/")
    if slash and re.fullmatch(NOTE_PATTERN, _capital(bass)):
        near = _nearest_in(head, match[0])
        return f"{near}/{parse_note(_capital(bass)).name}" if near else ""
    return _nearest_in(_capital(text), match[0])


def _nearest_in(text: str, root: str) -> str:
    """Return the symbol most like a text among those on its root: itself if it is one."""
    usual, every = _spelled_chords(root)
    return nearest_hint(text, usual) or nearest_hint(text, every)


def _misplaced(text: str, key: Key | None) -> str:
    """Return what a word probably is that is no chord: in the wrong place or chart."""
    if text.startswith("("):
        return "a word in brackets stands at the bar's head, as (stop) D"
    if REPEAT_COUNT.fullmatch(text):
        return "a number of passes stands after the end of a repeat, as :| x3"
    if text[:1].isdigit() and "." in text and STRAY_ENDING.match(text):
        return "an ending's number stands right after its bar line, as |1."
    if key is None and re.match(r"[b#♭♯]?(?:[1-7]|[IViv]+)(?![a-z])", text):
        return "for a chart in numbers write  chords: numbers  above the sections"
    return ""
