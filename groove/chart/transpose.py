"""A song in another key."""

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from groove.chart.model import ChordSpan, Notation, Section, Song, WrittenBar
from groove.chart.written import moved_line, moved_riff, retuned_line
from groove.neck.instrument import Tuning
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch, semitones_to_fifths


def sounding_key(song: Song) -> Key | None:
    """Return the key that a song sounds in as its chart states it, None where it states none.

    The chords are written in the chart's ``key``, its ``transpose`` moves both.
    """
    return transposed_key(song.settings.key, song.settings.transpose or 0)


def sounding_song(song: Song) -> Song:
    """Return the song with all keys and chords as they sound: no ``transpose`` is left in it."""
    key = sounding_key(song)
    first = song.first_section.settings.over(song.settings)
    return replace(
        song,
        settings=replace(song.settings, key=key, transpose=None),
        sections=tuple(_sounding_section(song, section, key) for section in song.sections),
        pickup_bar=_moved_pickup(song, first.transpose or 0),
    )


def _sounding_section(song: Song, section: Section, song_key: Key | None) -> Section:
    """Return a section as it sounds; it states its key where that is not ``song_key``."""
    settings = section.settings.over(song.settings)
    semitones = settings.transpose or 0
    moved = _transpose_section(song, section, semitones) if semitones else section
    key = transposed_key(settings.key, semitones)
    own = key if section.settings.key or key != song_key else None
    return replace(moved, settings=replace(moved.settings, key=own, transpose=None))


def transposed_key(key: Key | None, semitones: int) -> Key | None:
    """Return a key moved by semitones, None for none."""
    return key.moved(semitones) if key else None


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


def song_in_key(song: Song, own: Key, wanted: Key) -> Song:
    """Return a song in ``own`` moved to the tonic of ``wanted``, and spelled as that is.

    The smaller move is made.  A key of a section that is another one has its plainest spelling.
    """
    semitones = semitones_between(own, wanted)
    moved = transpose_song(song, semitones)
    made = transposition_fifths(song.settings.key, semitones)
    apart = wanted.tonic.fifths - own.tonic.fifths - made
    goal = Key(wanted.tonic, own.mode)
    if not apart or song.settings.transpose or goal != goal.respelled():
        return moved
    turn = _count_from(goal) if song.notation is Notation.NUMBERS else _by_fifths(apart)
    return replace(
        moved,
        settings=replace(moved.settings, key=goal if song.settings.key else None),
        sections=tuple(
            section if section.settings.key else replace(section, bars=_turned(section.bars, turn))
            for section in moved.sections
        ),
        pickup_bar=_turned((moved.pickup_bar,), turn)[0] if moved.pickup_bar else None,
    )


def _turned(
    bars: Sequence[WrittenBar], turn: Callable[[ChordSpan], ChordSpan]
) -> tuple[WrittenBar, ...]:
    return tuple(replace(bar, chords=tuple(turn(span) for span in bar.chords)) for bar in bars)


def transpose_song(song: Song, semitones: int) -> Song:
    """Return the song with its key and every chord moved by semitones.

    A chart in numbers keeps its numbers: only the key they count from moves.
    """
    if not semitones:
        return song
    settings = replace(song.settings, key=transposed_key(song.settings.key, semitones))
    sections = tuple(_transpose_section(song, section, semitones) for section in song.sections)
    riffs = tuple(moved_riff(riff, semitones) for riff in song.riffs)
    return replace(
        song,
        settings=settings,
        sections=sections,
        pickup_bar=_moved_pickup(song, semitones),
        riffs=riffs,
    )


def without_lines(song: Song) -> Song:
    """Return the song without what the player wrote for the bass: its chords are left."""
    return replace(
        song,
        sections=tuple(
            replace(section, bars=tuple(replace(bar, line=None) for bar in section.bars))
            for section in song.sections
        ),
        pickup_bar=replace(song.pickup_bar, line=None) if song.pickup_bar else None,
        riffs=(),
    )


def _transpose_section(song: Song, section: Section, semitones: int) -> Section:
    """Return a section moved; its key, its own or the song's, decides its spelling."""
    settings = replace(section.settings, key=transposed_key(section.settings.key, semitones))
    bars = _moved_bars(song, section, section.bars, semitones)
    return replace(section, settings=settings, bars=bars)


def _moved_pickup(song: Song, semitones: int) -> WrittenBar | None:
    """Return the pickup's bar moved; it is in the key of the section that it leads into."""
    if song.pickup_bar is None or not semitones:
        return song.pickup_bar
    (bar,) = _moved_bars(song, song.first_section, (song.pickup_bar,), semitones)
    return bar


def _moved_bars(
    song: Song, section: Section, bars: Sequence[WrittenBar], semitones: int
) -> tuple[WrittenBar, ...]:
    """Return bars in the key of a section moved: their chords, and what is written under them."""
    key = section.settings.key or song.settings.key
    wanted = transposed_key(key, semitones)
    if song.notation is Notation.NUMBERS:
        move = _count_from(wanted)
    else:
        move = _by_fifths(transposition_fifths(key, semitones))
    return tuple(
        replace(
            bar,
            chords=tuple(move(span) for span in bar.chords),
            line=moved_line(bar.line, semitones, wanted) if bar.line else None,
        )
        for bar in bars
    )


def retune_song(song: Song, tuning: Tuning) -> Song:
    """Return the song with what is written in it as an instrument of a tuning has it."""
    sections = tuple(
        replace(
            section,
            bars=tuple(replace(bar, line=retuned_line(bar.line, tuning)) for bar in section.bars),
        )
        for section in song.sections
    )
    return replace(song, sections=sections)


def _by_fifths(fifths: int) -> Callable[[ChordSpan], ChordSpan]:
    """Return the move of a chord written by letter, its interval given in fifths."""

    def move(span: ChordSpan) -> ChordSpan:
        if span.chord is None:
            return span
        chord = span.chord.transposed(fifths)
        return replace(span, chord=chord, written=chord.symbol)

    return move


def _count_from(key: Key | None) -> Callable[[ChordSpan], ChordSpan]:
    """Return the move of a chord written by degree: the same degree, counted from another key."""
    from groove.chart.degrees import parse_degree_chord

    def move(span: ChordSpan) -> ChordSpan:
        if span.chord is None or key is None:
            return span
        return replace(span, chord=parse_degree_chord(span.written, key))

    return move


def respelled_bars(bars: tuple[WrittenBar, ...], key: Key | None) -> tuple[WrittenBar, ...]:
    """Return the bars with their chords spelled as in the key that ``key`` is respelled to.

    A chord that lies nearer to that key as it stands keeps its spelling.  Without a key, or in one
    of at most seven accidentals, nothing changes.
    """
    if key is None or key == key.respelled():
        return bars
    move = _by_key(key, key.respelled())
    return tuple(replace(bar, chords=tuple(move(span) for span in bar.chords)) for bar in bars)


def _by_key(key: Key, wanted: Key) -> Callable[[ChordSpan], ChordSpan]:
    """Return the move of a chord from the spelling of one key to that of its enharmonic one."""

    def spelled(pitch: SpelledPitch) -> SpelledPitch:
        far, near = (abs(pitch.fifths - each.tonic.fifths) for each in (key, wanted))
        fifths = wanted.tonic.fifths - key.tonic.fifths if far < near else 0
        return pitch.up(fifths).simplified()

    def move(span: ChordSpan) -> ChordSpan:
        if span.chord is None:
            return span
        bass = spelled(span.chord.bass) if span.chord.bass else None
        chord = replace(span.chord, root=spelled(span.chord.root), bass=bass)
        return span if chord == span.chord else replace(span, chord=chord, written=chord.symbol)

    return move
