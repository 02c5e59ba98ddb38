"""The form, unrolled: every bar as it is played, knowing its section, its pass and its number.

Nothing is unrolled before its length is known to be within the limit.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from groove.bar_place import BandWord, BarRef, FormPlace, SectionKind
from groove.chart.in_force import in_force, section_levels
from groove.chart.model import (
    NO_DIRECTIONS,
    ChordSpan,
    Density,
    Directions,
    Named,
    Section,
    Settings,
    Song,
    TabLine,
    TokenLine,
)
from groove.chart.order import Step, most_bars, visits
from groove.chart.pickup import Pickup
from groove.chart.repeats import turns
from groove.chart.transpose import transposed_key, transposition_fifths
from groove.chart.written import moved_line
from groove.errors import ChartError, SourcePlace
from groove.events import NO_CHORD
from groove.theory.keys import Key
from groove.timing import (
    Meter,
)

MOST_PLAYED_BARS = 20_000
MOST_TIMES_OVER = 200
"""How often a piece of a song is played over at most."""
PICKUP_SECTION = "pickup"


_NUMBER = re.compile(r"\s+[0-9]+$")
USUAL_NAMES = frozenset(SectionKind) - {SectionKind.OTHER}


class PlayedBar(Struct, frozen=True, kw_only=True):
    """One bar of the song as played.

    ``start_quarters`` counts from the first played bar; ``chords`` sound as the section's
    transposition asks; ``settings`` are the section's over the song's; ``occurrence_bars`` is how
    many bars this occurrence of the section has; ``line`` is what the player wrote under the bar.
    ``turn`` is which bar it is, from 1, counted anew from where a repeat begins.
    ``directions`` are the bar's own, those of the end only where the song ends; ``level`` counts
    dynamics from pp (0) to ff (5), None where the chart says none.
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
    turn: int = 1
    directions: Directions = NO_DIRECTIONS
    level: Fraction | None = None
    density: Density | None = None
    cues: tuple[str, ...] = ()

    @property
    def length_quarters(self) -> Fraction:
        """Length in quarters."""
        return self.meter.bar_quarters

    @property
    def end_quarters(self) -> Fraction:
        """Where it ends, counted as ``start_quarters``."""
        return self.start_quarters + self.meter.bar_quarters

    @property
    def stem(self) -> str:
        """The section of which it is a time: ``verse`` for ``verse 2``, ``as: verse``, too."""
        return self.place.like or self.ref.section

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

    @property
    def is_thin(self) -> bool:
        """Whether the band leaves out what it can: by a word in the chart, or in a breakdown."""
        if self.density:
            return self.density is Density.THIN
        return self.place.kind is SectionKind.BREAKDOWN


@lru_cache(maxsize=1024)
def _section_kind(name: str) -> SectionKind:
    """Return what a section is by a usual name that its own begins or ends with: ``chorus 2``."""
    words = re.sub(r"\bpre ?chorus\b", "pre-chorus", name.casefold()).split()
    return next((SectionKind(word) for word in words if word in USUAL_NAMES), SectionKind.OTHER)


def check_length(song: Song, place: SourcePlace | None = None) -> None:
    """Refuse a form that is too long to be a song, before it is unrolled.

    ``place`` is where the form stands; where it is not given, the first section.
    """
    total = most_bars(song)
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
    scores = {section.name: PlayableSection.of(song, section) for section in song.sections}
    order = visits(song)
    played = [scores[visit.section].section for visit in order]
    number = 1
    for visit, place in zip(order, form_places(played), strict=True):
        bars += scores[visit.section].play(visit.steps, place, start, number)
        start = bars[-1].end_quarters
        number += len(visit.steps)
    return tuple(bars)


def played_anew(bars: Sequence[PlayedBar], song: Song) -> tuple[PlayedBar, ...]:
    """Return played bars with the chords, keys and settings of a song of the same form."""
    scores = {section.name: PlayableSection.of(song, section) for section in song.sections}
    return tuple(
        pickup_bar(song, song.pickup)
        if bar.is_pickup and song.pickup
        else scores[bar.ref.section].played_anew(bar)
        for bar in bars
    )


def form_places(sections: Sequence[Section]) -> Iterator[FormPlace]:
    """Yield where each section of a form stands, given in the order played."""
    names = [section.name for section in sections]
    stems = [_stem(section) for section in sections]
    kinds = [_section_kind(name) for name in names]
    groups = [
        stem if kind is SectionKind.OTHER else kind for stem, kind in zip(stems, kinds, strict=True)
    ]
    counted = zip(_counts(names), _counts(groups), _counts(stems), strict=True)
    following = [*kinds[1:], None]
    for stem, kind, after, (own, of_kind, alike) in zip(
        stems, kinds, following, counted, strict=True
    ):
        yield FormPlace(
            kind=kind,
            time=own[0],
            times=own[1],
            kind_time=of_kind[0],
            kind_times=of_kind[1],
            like=stem,
            like_time=alike[0],
            like_times=alike[1],
            next_kind=after,
        )


def unnumbered(name: str) -> str:
    """Return a section's name without the number at its end: ``verse`` of ``verse 2``."""
    return _NUMBER.sub("", name)


def _stem(section: Section) -> str:
    """Return the section of which one is a further time: ``verse`` where ``verse 2`` is as it is.

    A solo that is written as the head is a section of its own.
    """
    like = section.like
    is_time = unnumbered(like).casefold() == unnumbered(section.name).casefold()
    return like if like and is_time else section.name


def _counts(names: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Yield of every name which time it comes, and how often in all."""
    times = Counter(names)
    time: Counter[str] = Counter()
    for name in names:
        time[name] += 1
        yield time[name], times[name]


class PlayableSection(Struct, frozen=True, kw_only=True):
    """A section ready to be played: its chords and lines transposed, its settings."""

    section: Section
    settings: Settings
    key: Key | None
    chords: tuple[tuple[ChordSpan, ...], ...]
    lines: tuple[TabLine | TokenLine | None, ...]

    @classmethod
    def of(cls, song: Song, section: Section) -> "PlayableSection":
        """Return the score of a section; its own settings stand over the song's."""
        settings = section.settings.over(song.settings)
        semitones = settings.transpose or 0
        fifths = transposition_fifths(settings.key, semitones)
        key = transposed_key(settings.key, semitones)
        return cls(
            section=section,
            settings=settings,
            key=key,
            chords=tuple(
                tuple(_transposed_span(span, fifths) for span in bar.chords) for bar in section.bars
            ),
            lines=tuple(moved_line(bar.line, semitones, key) for bar in section.bars),
        )

    def play(
        self, steps: Sequence[Step], place: FormPlace, start: Fraction, number: int
    ) -> Iterator[PlayedBar]:
        """Yield the bars of one occurrence; ``number`` is the first one's played bar."""
        is_end = place.next_kind is None
        directions = [self.section.bars[index].directions for index, _ in steps]
        forces = in_force(self.settings.dynamics, directions)
        numbers = turns(self.section.bars)
        last = {index: count for count, (index, _) in enumerate(steps)}
        for count, ((index, pass_number), force) in enumerate(zip(steps, forces, strict=True)):
            written = self.section.bars[index]
            ends = is_end and last[index] == count
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
                settings=self.settings_with(force.feel),
                key=self.key,
                occurrence_bars=len(steps),
                place=replace(place, bars_to_next=len(steps) - count),
                word=written.word,
                line=self.lines[index],
                turn=numbers[index],
                directions=written.directions if ends else without_end(written.directions),
                level=force.level,
                density=force.density,
                cues=written.cues,
            )
            start += bar.length_quarters
            yield bar

    def settings_with(self, feel: Named | None) -> Settings:
        """Return the section's settings, with the feel that a word in a bar calls for."""
        return replace(self.settings, feel=feel) if feel else self.settings

    def played_anew(self, bar: PlayedBar) -> PlayedBar:
        """Return a bar of this section, played before, with the chords and the key of this one."""
        index = bar.ref.written_bar - self.section.bars[0].number
        return replace(
            bar,
            chords=self.chords[index],
            line=self.lines[index],
            key=self.key,
            settings=self.settings_with(bar.settings.feel),
        )


def without_end(directions: Directions) -> Directions:
    """Return directions without what is said of the song's end."""
    if not (directions.has_ritard or directions.has_hit or directions.tag):
        return directions
    return replace(directions, has_ritard=False, has_hit=False, tag=0)


def _first_settings(song: Song) -> Settings:
    return song.first_section.settings.over(song.settings)


def _first_key(song: Song) -> Key | None:
    """Return the key that a song begins in, as it sounds."""
    settings = _first_settings(song)
    return transposed_key(settings.key, settings.transpose or 0)


def _transposed_span(span: ChordSpan, fifths: int) -> ChordSpan:
    """Return a chord span an interval higher, given in fifths."""
    if not fifths or span.chord is None:
        return span
    return replace(span, chord=span.chord.transposed(fifths))


def pickup_bar(song: Song, pickup: Pickup) -> PlayedBar:
    """Return the short bar before bar 1; where it has no chord the band waits in it."""
    settings = _first_settings(song)
    chords, line = _pickup_content(song, pickup)
    ref = BarRef(section=PICKUP_SECTION, written_bar=0, played_bar=0)
    return PlayedBar(
        ref=ref,
        meter=pickup.meter(song.first_section.bars[0].meter),
        start_quarters=Fraction(0),
        chords=chords,
        settings=settings,
        key=_first_key(song),
        occurrence_bars=1,
        line=line,
        level=next(section_levels(settings.dynamics, 1)),
        place=FormPlace(next_kind=_section_kind(song.first_section.name)),
    )


def _pickup_content(
    song: Song, pickup: Pickup
) -> tuple[tuple[ChordSpan, ...], TabLine | TokenLine | None]:
    """Return the chords of a pickup as they sound, and what is written under them."""
    first = song.first_section
    if song.pickup_bar is None:
        silence = ChordSpan(
            chord=None,
            written=NO_CHORD,
            start_quarters=Fraction(0),
            length_quarters=pickup.quarters(first.bars[0].meter),
            place=first.place,
        )
        return (silence,), None
    settings = _first_settings(song)
    semitones = settings.transpose or 0
    fifths = transposition_fifths(settings.key, semitones)
    chords = tuple(_transposed_span(span, fifths) for span in song.pickup_bar.chords)
    return chords, moved_line(song.pickup_bar.line, semitones, _first_key(song))
