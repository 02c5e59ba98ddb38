"""A song in another key."""

from dataclasses import replace

from groove.chart.model import Notation, Section, Song, WrittenBar
from groove.theory.keys import Key
from groove.theory.pitch import semitones_to_fifths


def transposed_key(key: Key | None, semitones: int) -> Key | None:
    """Return a key moved by semitones, spelled with the fewest accidentals that it can have."""
    if key is None or not semitones:
        return key
    return key.transposed(semitones_to_fifths(semitones))


def transposition_fifths(key: Key | None, semitones: int) -> int:
    """Return the interval for a transposition, in fifths, so that chords are spelled in the key."""
    moved = transposed_key(key, semitones)
    if key is None or moved is None:
        return semitones_to_fifths(semitones)
    return moved.tonic.fifths - key.tonic.fifths


def semitones_between(key: Key, wanted: Key) -> int:
    """Return the smaller move from one tonic to another, -5 to 6 semitones."""
    semitones = (wanted.tonic.pitch_class - key.tonic.pitch_class) % 12
    return semitones - 12 if semitones > 6 else semitones


def transpose_song(song: Song, semitones: int) -> Song:
    """Return the song with its key and every chord moved by semitones.

    A chart in numbers keeps its numbers: only the key they count from moves.
    """
    if semitones % 12 == 0:
        return song
    fifths = transposition_fifths(song.settings.key, semitones)
    settings = replace(song.settings, key=transposed_key(song.settings.key, semitones))
    letters = song.notation is Notation.LETTERS
    sections = tuple(
        transpose_section(section, semitones, fifths, letters=letters) for section in song.sections
    )
    return replace(song, settings=settings, sections=sections)


def transpose_section(section: Section, semitones: int, fifths: int, *, letters: bool) -> Section:
    """Return a section moved; its own key, where it has one, decides its spelling."""
    own = section.settings.key
    if own:
        fifths = transposition_fifths(own, semitones)
    settings = replace(section.settings, key=transposed_key(own, semitones))
    bars = tuple(transpose_bar(bar, fifths, letters=letters) for bar in section.bars)
    return replace(section, settings=settings, bars=bars)


def transpose_bar(bar: WrittenBar, fifths: int, *, letters: bool) -> WrittenBar:
    """Return a bar with its chords moved."""
    chords = []
    for span in bar.chords:
        chord = span.chord.transposed(fifths) if span.chord else None
        written = chord.symbol if chord and letters else span.written
        chords.append(replace(span, chord=chord, written=written))
    return replace(bar, chords=tuple(chords))
