"""The song in the keys that the page can be moved to: their names, the chords, and the cards."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from groove.chart.transpose import transposed_key, transposition_fifths
from groove.harmony.analysis import Analysis
from groove.neck.instrument import Tuning
from groove.sheet.kinds import printed_chord
from groove.text.card import Card, song_card
from groove.text.card_html import page_html
from groove.text.part_facts import PartFacts
from groove.theory.chords import Chord
from groove.theory.keys import Key, near_key

_MOST_SEMITONES = 6
MOVES = range(-_MOST_SEMITONES, _MOST_SEMITONES + 1)
"""Semitones by which the page can be moved, down first."""
MOST_BARS_IN_EVERY_KEY = 1_000
"""A longer song has its own key alone: it would take a laptop half a minute to lay all twelve on
the neck, and no song that is practised is as long."""


def page_moves(bars: int) -> range:
    """Return the semitones by which the page of a song of so many played bars can be moved."""
    return MOVES if bars <= MOST_BARS_IN_EVERY_KEY else range(1)


def key_name(key: Key, semitones: int) -> str:
    """Return a key moved by semitones, in words."""
    moved = transposed_key(key, semitones) or key
    return moved.pretty


def pitch_names(key: Key, semitones: int) -> list[str]:
    """Return the names of the twelve pitch classes from C on, as they are near to the moved key."""
    moved = transposed_key(key, semitones) or key
    return [near_key(pitch_class, moved.signature_fifths).pretty for pitch_class in range(12)]


def moved_name(chord: Chord | None, key: Key, semitones: int) -> str:
    """Return a chord moved by semitones as it is printed; ``N.C.`` stays."""
    if chord is None or semitones == 0:
        return printed_chord(chord)
    return printed_chord(chord.transposed(transposition_fifths(key, semitones)))


def card_pages(
    analysis: Analysis, tuning: Tuning, part: PartFacts, moves: Iterable[int] = MOVES
) -> Iterator[str]:
    """Yield the cue card moved by each number of semitones, as HTML.

    ``part`` is what the card says of the part in its own key.
    """
    for semitones in moves:
        card = (
            _moved_card(analysis, semitones)
            if semitones
            else song_card(analysis, tuning=tuning, part=part)
        )
        yield page_html(card, "")


def _moved_card(analysis: Analysis, semitones: int) -> Card:
    """Return the card of a song moved by semitones; it says from where, the neck where to start."""
    key = analysis.key
    card = song_card(analysis.transposed(semitones))
    words = f"{key_name(key, semitones)}, moved by {semitones:+d} from {key_name(key, 0)}"
    facts = {name: text for name, text in card.facts if name != "Start"}
    facts["Key"] = words.replace("-", "−")
    return replace(card, facts=tuple(facts.items()))
