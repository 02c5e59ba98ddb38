"""A song, known: its keys, its chords named, its form, its progressions and how roots move."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from math import log

from msgspec import Struct

from groove.chart.form import PlayedBar, song_tempo_map, unroll
from groove.chart.model import ChordSpan, Song
from groove.chart.transpose import sounding_key
from groove.harmony.changes import Change, Function, change
from groove.harmony.key import KeyReading, bar_scores, read_scores, shares, sounded
from groove.harmony.moves import Telling, root_changes, tell
from groove.harmony.sections import BarContent, Form, Occurrence, bar_content, find_form
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch
from groove.timing import TICKS_PER_QUARTER

SONG_PULL = 1.5
"""How much a section's key leans on the song's: log odds for each log odd of the song's reading."""
SHARE_FLOOR = 0.01
SURE_ENOUGH = 0.5
"""From this confidence on a contradiction with the chart's key is mentioned."""
NO_CHORD = Change("N.C.", "N.C.", Function.NONE)
NO_KEY = KeyReading(Key(SpelledPitch(0), Mode.MAJOR), 0.0, None, 0.0)


class PlacedChange(Struct, frozen=True):
    """A chord where it is played: its bar, its beat there (from 1), and what it is in its key."""

    bar: PlayedBar
    beat: Fraction
    span: ChordSpan
    key: Key
    change: Change


class Progression(Struct, frozen=True):
    """One of the song's different progressions, as its first section plays it.

    ``loop_bars`` is the shortest run of bars that gives the whole by repetition; ``telling`` is
    None without chords.
    """

    number: int
    first: Occurrence
    occurrences: tuple[Occurrence, ...]
    changes: tuple[tuple[PlacedChange, ...], ...]
    loop_bars: int
    telling: Telling | None


class SongHarmony(Struct, frozen=True):
    """Everything that the chords of a song say.

    ``reading`` is the key by the chords alone, ``key`` the one that counts (the chart's where it
    gives one); ``section_readings`` belong to the form's occurrences; ``starts_sec`` are their
    starts, with the song's end as the last.
    """

    song: Song
    bars: tuple[PlayedBar, ...]
    reading: KeyReading
    key: Key
    form: Form
    section_readings: tuple[KeyReading, ...]
    section_keys: tuple[Key, ...]
    changes: tuple[PlacedChange, ...]
    progressions: tuple[Progression, ...]
    starts_sec: tuple[float, ...]

    @property
    def key_given(self) -> Key | None:
        """The key that the chart gives, as it sounds."""
        return sounding_key(self.song)

    @property
    def contradiction(self) -> Key | None:
        """The key that the chords say where they plainly say another tonic than the chart."""
        given = self.key_given
        if given is None or self.reading.confidence < SURE_ENOUGH:
            return None
        same = self.reading.key.tonic.pitch_class == given.tonic.pitch_class
        return None if same else self.reading.key

    @property
    def modulations(self) -> tuple[tuple[Occurrence, Key], ...]:
        """Where the tonic changes from section to section, and to which key."""
        pairs = pairwise(zip(self.form.occurrences, self.section_keys, strict=True))
        return tuple(
            (occurrence, key)
            for (_, before), (occurrence, key) in pairs
            if before.tonic.pitch_class != key.tonic.pitch_class
        )


def know_song(song: Song) -> SongHarmony:
    """Return what the chords of a song say."""
    bars = unroll(song)
    chords = sounded(bars)
    scores = bar_scores(bars, chords) if chords else {}
    reading = read_scores(scores, chords) if chords else NO_KEY
    key = sounding_key(song) or reading.key
    form = find_form(bars)
    readings = section_readings(form, shares(scores) if scores else {}, reading)
    keys = tuple(
        occurrence.bars[0].key or section_key(found, reading)
        for occurrence, found in zip(form.occurrences, readings, strict=True)
    )
    changes = placed_changes(form.occurrences, keys)
    return SongHarmony(
        song=song,
        bars=bars,
        reading=reading,
        key=key,
        form=form,
        section_readings=readings,
        section_keys=keys,
        changes=changes,
        progressions=progressions(form, changes),
        starts_sec=starts_sec(song, bars, form),
    )


def section_readings(
    form: Form, song_shares: dict[tuple[int, Mode], float], song: KeyReading
) -> tuple[KeyReading, ...]:
    """Return the key of each occurrence by its own chords, leaning on the song's."""
    known: dict[tuple[BarContent, ...], KeyReading] = {}
    found = []
    for occurrence in form.occurrences:
        content = tuple(map(bar_content, occurrence.bars))
        if content not in known:
            known[content] = section_reading(occurrence.bars, song_shares, song)
        found.append(known[content])
    return tuple(found)


def section_reading(
    bars: Sequence[PlayedBar], song_shares: dict[tuple[int, Mode], float], song: KeyReading
) -> KeyReading:
    """Return the key of one section."""
    chords = sounded(bars)
    if len({chord.root for chord, _ in chords}) < 2:
        return song
    own = bar_scores(bars, chords, rest=False)
    leaning = {k: v + SONG_PULL * log(song_shares[k] + SHARE_FLOOR) for k, v in own.items()}
    return read_scores(leaning, chords)


def section_key(found: KeyReading, song: KeyReading) -> Key:
    """Return a section's key: the song's own where they share tonic and third."""
    same = found.key.tonic.pitch_class == song.key.tonic.pitch_class
    return song.key if same and found.key.is_minor == song.key.is_minor else found.key


def placed_changes(
    occurrences: Iterable[Occurrence], keys: Iterable[Key]
) -> tuple[PlacedChange, ...]:
    """Return every chord of the song as played, named between its neighbours."""
    rows = [
        (bar, span, key)
        for occurrence, key in zip(occurrences, keys, strict=True)
        for bar in occurrence.bars
        for span in bar.chords
    ]
    sounding = [row[1].chord for row in rows]
    before, after = chords_before(sounding), goals(sounding)
    return tuple(
        PlacedChange(
            bar,
            1 + span.start_quarters / bar.meter.beat_quarters,
            span,
            key,
            change(span.chord, key, last, following) if span.chord else NO_CHORD,
        )
        for (bar, span, key), last, following in zip(rows, before, after, strict=True)
    )


def chords_before(chords: Sequence[Chord | None]) -> list[Chord | None]:
    """Return for each chord the last one before it that is another one."""
    found: list[Chord | None] = []
    current: Chord | None = None
    before: Chord | None = None
    for chord in chords:
        if chord is not None and chord != current:
            before, current = current, chord
        found.append(before)
    return found


def goals(chords: Sequence[Chord | None]) -> list[Chord | None]:
    """Return for each chord the first one after it on another root: D7 D7/F♯ G both lead to G."""
    found: list[Chord | None] = []
    current: Chord | None = None
    after: Chord | None = None
    for chord in reversed(chords):
        if chord is not None:
            if current is not None and chord.root.pitch_class != current.root.pitch_class:
                after = current
            current = chord
        found.append(after)
    return found[::-1]


def progressions(form: Form, changes: Sequence[PlacedChange]) -> tuple[Progression, ...]:
    """Return the song's different progressions, in the order in which they come."""
    by_bar: dict[int, list[PlacedChange]] = {}
    for placed in changes:
        by_bar.setdefault(placed.bar.ref.played_bar, []).append(placed)
    found = []
    for number, index in enumerate(form.firsts):
        first = form.occurrences[index]
        roots = [s.chord.root.pitch_class for b in first.bars for s in b.chords if s.chord]
        found.append(
            Progression(
                number=number,
                first=first,
                occurrences=tuple(o for o in form.occurrences if o.progression == number),
                changes=tuple(tuple(by_bar[bar.ref.played_bar]) for bar in first.bars),
                loop_bars=loop_length([bar_content(bar) for bar in first.bars]),
                telling=tell(root_changes(roots)) if roots else None,
            )
        )
    return tuple(found)


def loop_length(contents: Sequence[BarContent]) -> int:
    """Return the shortest run of bars that gives all of them when repeated whole."""
    count = len(contents)
    lengths = (
        n for n in range(1, count) if count % n == 0 and contents[n:] == contents[: count - n]
    )
    return next(lengths, count)


def starts_sec(song: Song, bars: Sequence[PlayedBar], form: Form) -> tuple[float, ...]:
    """Return when each occurrence starts, and the song's end, in seconds."""
    tempo_map = song_tempo_map(song, tuple(bars), scale=Fraction(1))
    starts = [occurrence.bars[0].start_quarters for occurrence in form.occurrences]
    ends = [*starts, bars[-1].start_quarters + bars[-1].length_quarters]
    return tuple(tempo_map.tick_to_sec(int(quarters * TICKS_PER_QUARTER)) for quarters in ends)
