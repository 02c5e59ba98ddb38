"""The form, unrolled: every bar as it is played, knowing its section, its pass and its number.

Nothing is unrolled before its length is known to be within the limit.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from msgspec import Struct, structs

from groove.chart.model import (
    DEFAULT_METER,
    DEFAULT_TEMPO_BPM,
    ChordSpan,
    FormEntry,
    Pickup,
    PickupUnit,
    Section,
    Settings,
    Song,
    TabLine,
    Tempo,
    TokenLine,
)
from groove.chart.repeats import play_order, played_length
from groove.chart.transpose import transposed_key, transposition_fifths
from groove.chart.written import moved_line
from groove.errors import ChartError, SourcePlace
from groove.events import NO_CHORD, BandWord, BarRef, FormPlace, SectionKind
from groove.theory.keys import Key
from groove.timing import (
    Meter,
    TempoChange,
    TempoMap,
    qpm_to_microseconds,
    quarters_to_ticks,
)

MOST_PLAYED_BARS = 20_000
MOST_TIMES_OVER = 200
"""How often a piece of a song is played over at most."""
PICKUP_SECTION = "pickup"
PICKUP_UNITS = {PickupUnit.BEATS: 1, PickupUnit.EIGHTHS: 8, PickupUnit.SIXTEENTHS: 16}
"""The shortest note value a pickup can need, as the lower number of its meter."""


USUAL_NAMES = frozenset(SectionKind) - {SectionKind.OTHER}


class PlayedBar(Struct, frozen=True, kw_only=True):
    """One bar of the song as played.

    ``start_quarters`` counts from the first played bar; ``chords`` sound as the section's
    transposition asks; ``settings`` are the section's over the song's; ``occurrence_bars`` is how
    many bars this occurrence of the section has; ``line`` is what the player wrote under the bar.
    """

    ref: BarRef
    meter: Meter
    start_quarters: Fraction
    chords: tuple[ChordSpan, ...]
    settings: Settings
    key: Key | None
    occurrence_bars: int
    place: FormPlace = FormPlace()
    word: BandWord | None = None
    line: TabLine | TokenLine | None = None

    @property
    def length_quarters(self) -> Fraction:
        """Length in quarters."""
        return self.meter.bar_quarters

    @property
    def is_section_start(self) -> bool:
        """Whether an occurrence of a section begins here."""
        return self.ref.bar_in_section == 1

    @property
    def is_section_end(self) -> bool:
        """Whether an occurrence of a section ends here."""
        return self.ref.bar_in_section == self.occurrence_bars

    @property
    def is_pickup(self) -> bool:
        """Whether this is the short bar before bar 1."""
        return self.ref.is_pickup


@lru_cache(maxsize=1024)
def section_kind(name: str) -> SectionKind:
    """Return what a section is by a usual name that its own begins or ends with: ``chorus 2``."""
    words = name.casefold().replace("prechorus", "pre-chorus").split()
    return next((SectionKind(word) for word in words if word in USUAL_NAMES), SectionKind.OTHER)


def song_form(song: Song) -> tuple[FormEntry, ...]:
    """Return the order of sections: as the form says, else as written."""
    return song.form or tuple(FormEntry(section=section.name) for section in song.sections)


def check_length(song: Song, place: SourcePlace | None = None) -> None:
    """Refuse a form that is too long to be a song, before it is unrolled.

    ``place`` is where the form stands; where it is not given, the first section.
    """
    lengths = {section.name: played_length(section.bars) for section in song.sections}
    total = sum(lengths[entry.section] * entry.times for entry in song_form(song))
    if total > MOST_PLAYED_BARS:
        raise ChartError(
            f"the song has {total} bars when played",
            place=place or song.sections[0].place,
            hint=f"expected at most {MOST_PLAYED_BARS}: shorten the form or its repeats",
        )


def unroll(song: Song) -> tuple[PlayedBar, ...]:
    """Return the bars of a song in the order in which they are played.

    Raises ChartError where there are more than 20,000 of them.
    """
    check_length(song)
    start = Fraction(0)
    bars: list[PlayedBar] = []
    if song.pickup:
        bars.append(pickup_bar(song, song.pickup))
        start = bars[0].length_quarters
    scores = {section.name: Score.of(song, section) for section in song.sections}
    names = [entry.section for entry in song_form(song) for _ in range(entry.times)]
    number = 1
    for name, place in zip(names, form_places(names), strict=True):
        score = scores[name]
        bars += score.play(place, start, number)
        start = bars[-1].start_quarters + bars[-1].length_quarters
        number += len(score.order)
    return tuple(bars)


def form_places(names: Sequence[str]) -> Iterator[FormPlace]:
    """Yield where each section of a form stands, given by name in the order played."""
    kinds = [section_kind(name) for name in names]
    groups = [
        name if kind is SectionKind.OTHER else kind for name, kind in zip(names, kinds, strict=True)
    ]
    times, kind_times = Counter(names), Counter(groups)
    time: Counter[str] = Counter()
    kind_time: Counter[str] = Counter()
    following = [*kinds[1:], None]
    for name, kind, group, after in zip(names, kinds, groups, following, strict=True):
        time[name] += 1
        kind_time[group] += 1
        yield FormPlace(
            kind=kind,
            time=time[name],
            times=times[name],
            kind_time=kind_time[group],
            kind_times=kind_times[group],
            next_kind=after,
        )


class Score(Struct, frozen=True, kw_only=True):
    """A section ready to be played: its order of bars, its chords transposed, its settings."""

    section: Section
    settings: Settings
    key: Key | None
    order: tuple[tuple[int, int], ...]
    chords: tuple[tuple[ChordSpan, ...], ...]
    lines: tuple[TabLine | TokenLine | None, ...]

    @classmethod
    def of(cls, song: Song, section: Section) -> "Score":
        """Return the score of a section; its own settings stand over the song's."""
        settings = section.settings.over(song.settings)
        semitones = settings.transpose or 0
        fifths = transposition_fifths(settings.key, semitones)
        return cls(
            section=section,
            settings=settings,
            key=transposed_key(settings.key, semitones),
            order=tuple(play_order(section.bars)),
            chords=tuple(
                tuple(transposed_span(span, fifths) for span in bar.chords) for bar in section.bars
            ),
            lines=tuple(moved_line(bar.line, semitones) for bar in section.bars),
        )

    def play(self, place: FormPlace, start: Fraction, number: int) -> Iterator[PlayedBar]:
        """Yield the bars of one occurrence; ``number`` is the first one's played bar."""
        for count, (index, pass_number) in enumerate(self.order):
            written = self.section.bars[index]
            bar = PlayedBar(
                ref=BarRef(
                    section=self.section.name,
                    occurrence=place.time,
                    pass_number=pass_number,
                    bar_in_section=count + 1,
                    written_bar=written.number,
                    played_bar=number + count,
                ),
                meter=written.meter,
                start_quarters=start,
                chords=self.chords[index],
                settings=self.settings,
                key=self.key,
                occurrence_bars=len(self.order),
                place=structs.replace(place, bars_to_next=len(self.order) - count),
                word=written.word,
                line=self.lines[index],
            )
            start += bar.length_quarters
            yield bar


def transposed_span(span: ChordSpan, fifths: int) -> ChordSpan:
    """Return a chord span an interval higher, given in fifths."""
    if not fifths or span.chord is None:
        return span
    return replace(span, chord=span.chord.transposed(fifths))


def pickup_bar(song: Song, pickup: Pickup) -> PlayedBar:
    """Return the short bar before bar 1, in which the band waits."""
    first = song.section(song_form(song)[0].section)
    settings = first.settings.over(song.settings)
    full = first.bars[0].meter
    unit = max(full.unit, PICKUP_UNITS[pickup.unit])
    meter = Meter(int(pickup.quarters(full) * unit / 4), unit)
    silence = ChordSpan(
        chord=None,
        written=NO_CHORD,
        start_quarters=Fraction(0),
        length_quarters=meter.bar_quarters,
        place=first.place,
    )
    ref = BarRef(
        section=PICKUP_SECTION,
        occurrence=1,
        pass_number=1,
        bar_in_section=1,
        written_bar=0,
        played_bar=0,
    )
    return PlayedBar(
        ref=ref,
        meter=meter,
        start_quarters=Fraction(0),
        chords=(silence,),
        settings=settings,
        key=transposed_key(settings.key, settings.transpose or 0),
        occurrence_bars=1,
        place=FormPlace(next_kind=section_kind(first.name)),
    )


def section_tempo_qpm(song: Song, section: Section) -> tuple[Fraction, Fraction | None]:
    """Return a section's tempo in quarters per minute, and where it moves to.

    A section's own tempo counts the beat of its own meter, the song's that of the song's: at a
    change of meter without a tempo the quarter stays.
    """
    own = section.settings.tempo
    tempo = own or song.settings.tempo or Tempo(DEFAULT_TEMPO_BPM)
    own_meter = section.settings.meter if own else None
    meter = own_meter or song.settings.meter or DEFAULT_METER
    unit = meter.tempo_unit_quarters
    return tempo.bpm * unit, tempo.end_bpm * unit if tempo.end_bpm else None


def song_tempo_map(song: Song, bars: tuple[PlayedBar, ...], *, scale: Fraction) -> TempoMap:
    """Return the tempo of the whole song; ``scale`` multiplies every tempo (1 as written)."""
    changes: list[TempoChange] = []
    sections = {section.name: section for section in song.sections}
    for start, stop in occurrence_spans(bars):
        section = sections[bars[max(start, first_sounding(bars))].ref.section]
        low, high = section_tempo_qpm(song, section)
        for quarters, qpm in tempo_steps(bars[start:stop], low, high):
            microseconds = qpm_to_microseconds(qpm * scale)
            if not changes or changes[-1].microseconds != microseconds:
                changes.append(TempoChange(quarters_to_ticks(quarters), microseconds))
    return TempoMap(tuple(changes))


def first_sounding(bars: tuple[PlayedBar, ...]) -> int:
    """Return the index of the first bar that is no pickup."""
    return 1 if bars[0].is_pickup else 0


def occurrence_spans(bars: tuple[PlayedBar, ...]) -> Iterator[tuple[int, int]]:
    """Yield (first, one past last) for every occurrence; a pickup belongs to the first one."""
    starts = [index for index, bar in enumerate(bars) if bar.is_section_start]
    if bars[0].is_pickup:
        del starts[1]
    yield from zip(starts, [*starts[1:], len(bars)], strict=True)


def tempo_steps(
    bars: tuple[PlayedBar, ...], qpm: Fraction, end_qpm: Fraction | None
) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield (quarters, quarters per minute): one step, or one a beat where the tempo moves."""
    begin = bars[0].start_quarters
    if end_qpm is None:
        yield begin, qpm
        return
    end = bars[-1].start_quarters + bars[-1].length_quarters
    for bar in bars:
        for beat in range(bar.meter.beats_per_bar):
            at = bar.start_quarters + beat * bar.meter.beat_quarters
            yield at, qpm + (end_qpm - qpm) * (at - begin) / (end - begin)
