"""Whom a chord chart is written for: players who read other notes than those that sound."""

import re

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.model import Song
from groove.chart.transpose import sounding_song, transpose_song, without_lines
from groove.theory.keys import Key

CAPO_FRETS = range(1, 12)
"""A capo at the twelfth fret would move no chord."""
_READERS = {"bb": ("B♭", 2), "eb": ("E♭", -3)}
"""What is read lies above what sounds: a tone for clarinet, trumpet and tenor saxophone in B flat,
a sixth for the alto saxophone in E flat, whose chords are those a minor third lower (W. Piston,
*Orchestration*, 1955, on transposing instruments; from memory)."""
PLAYERS_EXPECTED = f"Bb, Eb or capo {CAPO_FRETS.start} to capo {CAPO_FRETS.stop - 1}"


class WrittenFor(Struct, frozen=True):
    """A player: ``words`` as the page has them, ``semitones`` from what sounds to what is read."""

    words: str
    semitones: int

    def told(self, key: Key) -> str:
        """Return what the page says; ``key`` is the one that sounds."""
        return f"{self.words}, sounds in {key.pretty}"


def parse_written_for(text: str) -> WrittenFor | None:
    """Return whom ``Bb``, ``Eb`` or ``capo 3`` means, None where it means nobody.

    With a capo at the third fret a guitar sounds three half steps above the chords that are held.
    """
    folded = " ".join(text.casefold().replace("♭", "b").replace("flat", "b").split())
    if found := _READERS.get(folded.replace(" ", "")):
        name, semitones = found
        return WrittenFor(f"for {name} instruments", semitones)
    match = re.fullmatch(r"capo ?([0-9]{1,2})", folded)
    if not match or int(match[1]) not in CAPO_FRETS:
        return None
    return WrittenFor(f"capo {int(match[1])}", -int(match[1]))


def song_written_for(song: Song, whom: WrittenFor, key: Key) -> Song:
    """Return a song's chords as a player reads them, spelled in the key that comes of it.

    ``key`` is the song's as it sounds, which a chart need not state.  What is written for the bass
    is left out.
    """
    sounding = without_lines(sounding_song(song))
    stated = replace(sounding.settings, key=sounding.settings.key or key)
    return transpose_song(replace(sounding, settings=stated), whom.semitones)
