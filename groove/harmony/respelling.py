"""A song whose chords speak for a key that has no signature, spelled the other way.

No signature has more than seven sharps or flats, on paper as in a MIDI file (*Standard MIDI Files
1.0*: sf is −7 to 7), so a chart without a key in F♭ major is a song in E.
"""

from msgspec.structs import replace

from groove.chart.form import unroll
from groove.chart.model import Section, Song
from groove.chart.transpose import respelled_bars, sounding_song
from groove.harmony.key import read_key
from groove.notices import NoticeKind, make_notice

PLAIN_TONICS = range(-4, 8)
"""On the line of fifths the tonics, A flat to C sharp, whose keys in every mode found by chords
(major, minor, mixolydian, dorian) have at most seven accidentals."""


def respelled_song(song: Song) -> Song:
    """Return the song with its chords in the key's plainer spelling, and a notice of it.

    Where the chart states its key its chords are already spelled in it, and nothing changes.
    """
    moves = any(section.settings.over(song.settings).transpose for section in song.sections)
    if song.settings.key or not (moves or any(map(_has_remote_root, song.sections))):
        return song
    written = read_key(unroll(song)).written
    if written is None or written == written.respelled():
        return song
    # What is read is what sounds: a transposition is carried out before it is spelled anew.
    song = sounding_song(song) if moves else song
    sections = tuple(
        section
        if section.settings.key
        else replace(section, bars=respelled_bars(section.bars, written))
        for section in song.sections
    )
    pickup_bar = song.pickup_bar
    if pickup_bar and not song.first_section.settings.key:
        (pickup_bar,) = respelled_bars((pickup_bar,), written)
    kind, better = NoticeKind.CHORDS_SPEAK_FOR, written.respelled().name
    notice = make_notice(kind, key=written.name, better=better)
    return replace(song, sections=sections, pickup_bar=pickup_bar, notices=(*song.notices, notice))


def _has_remote_root(section: Section) -> bool:
    """Return whether a root of a section may be the tonic of a key that has no signature.

    Most songs have none, and need no search for their key.
    """
    return any(
        span.chord.root.fifths not in PLAIN_TONICS
        for bar in section.bars
        for span in bar.chords
        if span.chord
    )
