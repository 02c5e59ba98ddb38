"""A song, known: its keys, its chords named, its form, its progressions and how roots move."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import log
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.form import PlayedBar, played_anew, unroll
from groove.chart.model import ChordSpan, Song
from groove.chart.tempo_map import song_tempo_map
from groove.chart.transpose import (
    sounding_key,
    sounding_song,
    transpose_song,
    without_lines,
)
from groove.harmony.changes import LOOK_AHEAD, Change, Function, Surroundings, change
from groove.harmony.evidence import ChordClass, kind_of
from groove.harmony.key import NO_KEY, KeyReading, bar_scores, read_scores, shares, sounded
from groove.harmony.sections import (
    BarContent,
    Occurrence,
    SongForm,
    bar_chords,
    bar_pushes,
    find_form,
)
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:  # what is told of a song, and a band that plays it does not ask for
    from groove.harmony.modulation import ModulationMeans
    from groove.harmony.moves import Description
    from groove.harmony.named import Naming
    from groove.harmony.passages import Passage

SONG_PULL = 1.5
"""How much a section's key leans on the song's: log odds for each log odd of the song's reading."""
SHARE_FLOOR = 0.01
SURE_ENOUGH = 0.5
"""From this confidence on a contradiction with the chart's key is mentioned."""
_NO_CHORD = Change("N.C.", "N.C.", Function.NONE)


class PlacedChange(Struct, frozen=True):
    """A chord where it is played: its bar, its beat there (from 1), and what it is in its key."""

    bar: PlayedBar
    beat: Fraction
    span: ChordSpan
    key: Key
    change: Change


class Progression(Struct, frozen=True):
    """One of the song's different progressions, as its first section plays it.

    ``loop_bars`` is the shortest run of bars that gives the whole by repetition; ``description`` is
    None without chords.
    """

    number: int
    first: Occurrence
    occurrences: tuple[Occurrence, ...]
    changes: tuple[tuple[PlacedChange, ...], ...]
    loop_bars: int
    description: "Description | None"

    @property
    def shown_bars(self) -> int:
        """How many bars tell all of it: one loop, where its chords are pushed alike each time."""
        pushes = [bar_pushes(bar) for bar in self.first.bars]
        alike = pushes[self.loop_bars :] == pushes[: len(pushes) - self.loop_bars]
        return self.loop_bars if alike else len(pushes)

    @property
    def loop_description(self) -> "Description | None":
        """The shortest description of one loop; None without chords."""
        if self.loop_bars == len(self.changes):
            return self.description
        return _described(self.first.bars[: self.loop_bars])


class Analysis(Struct, frozen=True, dict=True):
    """Everything that the chords of a song say, each thing worked out when it is first asked for.

    ``bars`` are the song as played.  A song is unrolled and analysed once; band, sheet, page and
    card take what it says from here.
    """

    song: Song
    bars: tuple[PlayedBar, ...]

    @cached_property
    def _chords(self) -> list[tuple[Chord, float]]:
        return sounded(self.bars)

    @cached_property
    def _scores(self) -> dict[tuple[int, Mode], float]:
        return bar_scores(self.bars, self._chords) if self._chords else {}

    @cached_property
    def reading(self) -> KeyReading:
        """The key by the chords alone."""
        return read_scores(self._scores, self._chords) if self._chords else NO_KEY

    @property
    def key_given(self) -> Key | None:
        """The key that the chart gives, as it sounds."""
        return sounding_key(self.song)

    @property
    def key(self) -> Key:
        """The key that counts: the chart's where it gives one, else that of the chords."""
        return self.key_given or self.reading.key

    @cached_property
    def form(self) -> SongForm:
        """The sections as played, and which of them share a progression."""
        return find_form(self.bars)

    @cached_property
    def section_readings(self) -> tuple[KeyReading, ...]:
        """The key of each of the form's occurrences by its own chords, leaning on the song's."""
        return _section_readings(
            self.form, shares(self._scores) if self._scores else {}, self.reading
        )

    @cached_property
    def section_keys(self) -> tuple[Key, ...]:
        """The key of each of the form's occurrences: the chart's where it gives one."""
        occurrences = self.form.occurrences
        given = [occurrence.bars[0].key for occurrence in occurrences]
        if all(given):
            return tuple(key for key in given if key)
        return tuple(
            key or _section_key(found, self.reading)
            for key, found in zip(given, self.section_readings, strict=True)
        )

    @cached_property
    def bar_keys(self) -> tuple[Key, ...]:
        """The key of every played bar; a pickup has that of the bar after it."""
        given = tuple(bar.key for bar in self.bars if bar.key)
        if len(given) == len(self.bars):
            return given
        occurrences = self.form.occurrences
        keys = [
            bar.key or key
            for occurrence, key in zip(occurrences, self.section_keys, strict=True)
            for bar in occurrence.bars
        ]
        return tuple([self.bars[0].key or keys[0]] * (len(self.bars) - len(keys)) + keys)

    @cached_property
    def changes(self) -> tuple[PlacedChange, ...]:
        """Every chord as played, and what it is in its key."""
        return _placed_changes(self.form.occurrences, self.section_keys)

    @cached_property
    def progressions(self) -> tuple[Progression, ...]:
        """The song's different progressions, in the order in which they come."""
        return progressions(self.form, self.changes)

    @cached_property
    def named(self) -> "tuple[tuple[Naming, ...], ...]":
        """What players name in each of the progressions, as its first section plays it."""
        from groove.harmony.named import named_in

        return tuple(named_in(_passage(progression)) for progression in self.progressions)

    @cached_property
    def starts_sec(self) -> tuple[float, ...]:
        """When each occurrence starts, and the song's end, in seconds at the chart's own tempo."""
        return starts_sec(self.song, self.bars, self.form)

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

    @property
    def means_of_modulation(self) -> "tuple[ModulationMeans, ...]":
        """How each of the modulations is reached, out of the section before it."""
        from groove.harmony.modulation import modulation_means

        pairs = pairwise(zip(self.form.occurrences, self.section_keys, strict=True))
        return tuple(
            modulation_means([chord for chord, _ in sounded(before.bars)], old, new)
            for (before, old), (_, new) in pairs
            if old.tonic.pitch_class != new.tonic.pitch_class
        )

    @cached_property
    def stated_song(self) -> Song:
        """The song as it sounds, every section stating the key that it has here."""
        found = {
            occurrence.name: key
            for occurrence, key in zip(self.form.occurrences, self.section_keys, strict=True)
        }
        sounding = sounding_song(self.song)
        sections = tuple(
            replace(
                section,
                settings=replace(
                    section.settings, key=found.get(section.name, section.settings.key)
                ),
            )
            for section in sounding.sections
        )
        settings = replace(sounding.settings, key=self.key)
        return replace(sounding, settings=settings, sections=sections)

    def transposed(self, semitones: int) -> "Analysis":
        """Return what is said of the song moved by semitones, without unrolling it again.

        What the player wrote is left out: it may leave the neck, and the chords say the same.
        """
        from groove.harmony.other_key import known_in_every_key

        song = transpose_song(without_lines(self.stated_song), semitones)
        moved = Analysis(song, played_anew(self.bars, song))
        vars(moved).update(known_in_every_key(self, moved, semitones))
        return moved

    def __repr__(self) -> str:
        """Return the song and its key on one line."""
        return f"<Analysis {self.song.title!r:.50} {self.key.name}, {len(self.bars)} bars>"


def analyse(song: Song) -> Analysis:
    """Return what the chords of a song say."""
    return Analysis(song, unroll(song))


def _section_readings(
    form: SongForm, song_shares: dict[tuple[int, Mode], float], song: KeyReading
) -> tuple[KeyReading, ...]:
    """Return the key of each occurrence by its own chords, leaning on the song's."""
    known: dict[tuple[BarContent, ...], KeyReading] = {}
    found = []
    for occurrence in form.occurrences:
        content = tuple(map(bar_chords, occurrence.bars))
        if content not in known:
            known[content] = _section_reading(occurrence.bars, song_shares, song)
        found.append(known[content])
    return tuple(found)


def _section_reading(
    bars: Sequence[PlayedBar], song_shares: dict[tuple[int, Mode], float], song: KeyReading
) -> KeyReading:
    chords = sounded(bars)
    if len({chord.root for chord, _ in chords}) < 2:
        return song
    own = bar_scores(bars, chords)
    leaning = {k: v + SONG_PULL * log(song_shares[k] + SHARE_FLOOR) for k, v in own.items()}
    return read_scores(leaning, chords)


def _section_key(found: KeyReading, song: KeyReading) -> Key:
    """Return a section's key: the song's own where they share the tonic and the third.

    A section on the song's tonic that is not sure of its third has the song's.
    """
    same = found.key.tonic.pitch_class == song.key.tonic.pitch_class
    unsure = found.confidence < SURE_ENOUGH
    return song.key if same and (unsure or found.key.is_minor == song.key.is_minor) else found.key


def _placed_changes(
    occurrences: Sequence[Occurrence], keys: Sequence[Key]
) -> tuple[PlacedChange, ...]:
    """Return every chord of the song as played, named between its neighbours."""
    homes = _seventh_homes(occurrences, keys)
    rows = [
        (bar, span, key, at_home)
        for occurrence, key, at_home in zip(occurrences, keys, homes, strict=True)
        for bar in occurrence.bars
        for span in bar.chords
    ]
    ahead = _chords_ahead([row[1].chord for row in rows])
    before = [
        chord
        for occurrence in occurrences
        for chord in _chords_before([span.chord for bar in occurrence.bars for span in bar.chords])
    ]
    return tuple(
        PlacedChange(
            bar,
            1 + span.start_quarters / bar.meter.beat_quarters,
            span,
            key,
            change(span.chord, key, Surroundings(last, following, at_home))
            if span.chord
            else _NO_CHORD,
        )
        for (bar, span, key, at_home), last, following in zip(rows, before, ahead, strict=True)
    )


def _seventh_homes(occurrences: Sequence[Occurrence], keys: Sequence[Key]) -> list[bool]:
    """Return for each occurrence whether its tonic is at home as a dominant seventh.

    So it is where the song's sections in that key have it so for longer than as a plain chord, or
    where this one has both I and IV so, as a blues does in a song of another kind.
    """
    spans = [[span for bar in each.bars for span in bar.chords] for each in occurrences]
    tonics = [key.tonic.pitch_class for key in keys]
    in_key: dict[int, list[ChordSpan]] = {}
    for own, tonic in zip(spans, tonics, strict=True):
        in_key.setdefault(tonic, []).extend(own)
    homes = {tonic for tonic, every in in_key.items() if _is_seventh(every, tonic)}
    return [
        tonic in homes or (_is_seventh(own, tonic) and _is_seventh(own, (tonic + 5) % 12))
        for own, tonic in zip(spans, tonics, strict=True)
    ]


def _is_seventh(spans: Iterable[ChordSpan], root: int) -> bool:
    """Return whether the chord on a root (0-11) is a dominant seventh for longer than not."""
    longer = Fraction(0)
    for span in spans:
        if span.chord and span.chord.root.pitch_class == root:
            sign = 1 if kind_of(span.chord) is ChordClass.DOMINANT else -1
            longer += sign * span.length_quarters
    return longer > 0


def _chords_before(chords: Sequence[Chord | None]) -> list[Chord | None]:
    """Return for each chord of a section the last other one before it, whatever its bass."""
    found: list[Chord | None] = []
    current: Chord | None = None
    before: Chord | None = None
    for chord in chords:
        if chord is not None:
            if current and (chord.root, chord.degrees) != (current.root, current.degrees):
                before = current
            current = chord
        found.append(before)
    return found


def _chords_ahead(chords: Sequence[Chord | None]) -> list[tuple[Chord, ...]]:
    """Return for each chord the next ones on other roots: D7 D7/F♯ G both lead to G."""
    found: list[tuple[Chord, ...]] = []
    current: Chord | None = None
    ahead: tuple[Chord, ...] = ()
    for chord in reversed(chords):
        if chord is not None:
            if current is not None and chord.root.pitch_class != current.root.pitch_class:
                ahead = (current, *ahead[: LOOK_AHEAD - 1])
            current = chord
        found.append(ahead)
    return found[::-1]


def progressions(form: SongForm, changes: Sequence[PlacedChange]) -> tuple[Progression, ...]:
    """Return the song's different progressions, in the order in which they come."""
    by_bar: dict[int, list[PlacedChange]] = {}
    for placed in changes:
        by_bar.setdefault(placed.bar.ref.played_bar, []).append(placed)
    found = []
    for number, index in enumerate(form.firsts):
        first = form.occurrences[index]
        found.append(
            Progression(
                number=number,
                first=first,
                occurrences=tuple(o for o in form.occurrences if o.progression == number),
                changes=tuple(tuple(by_bar[bar.ref.played_bar]) for bar in first.bars),
                loop_bars=_loop_length([bar_chords(bar) for bar in first.bars]),
                description=_described(first.bars),
            )
        )
    return tuple(found)


def _described(bars: Sequence[PlayedBar]) -> "Description | None":
    """Return the shortest description of the roots of some bars; None without chords."""
    from groove.harmony.moves import describe, root_changes

    roots = [span.chord.root.pitch_class for bar in bars for span in bar.chords if span.chord]
    return describe(root_changes(roots)) if roots else None


def _passage(progression: Progression) -> "Passage":
    from groove.harmony.passages import HeardChord, Passage

    bars = [
        [HeardChord(number, placed.span.chord, placed.change) for placed in row]
        for number, row in enumerate(progression.changes, start=1)
    ]
    return Passage(progression.changes[0][0].key, bars, progression.loop_bars)


def _loop_length(contents: Sequence[BarContent]) -> int:
    """Return the shortest run of bars that gives all of them when repeated whole."""
    count = len(contents)
    lengths = (
        n for n in range(1, count) if count % n == 0 and contents[n:] == contents[: count - n]
    )
    return next(lengths, count)


def starts_sec(song: Song, bars: Sequence[PlayedBar], form: SongForm) -> tuple[float, ...]:
    """Return when each occurrence starts, and the song's end, in seconds."""
    tempo_map = song_tempo_map(song, tuple(bars), scale=Fraction(1))
    starts = [occurrence.bars[0].start_quarters for occurrence in form.occurrences]
    ends = [*starts, bars[-1].end_quarters]
    return tuple(tempo_map.tick_to_sec(int(quarters * TICKS_PER_QUARTER)) for quarters in ends)
