"""Who plays what in each bar: feel, cells, loudness, swing, and words to the band."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import cast

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.arrangement import Arrangement, Form, arrangement_of, form_of
from groove.arrange.dynamics import SectionLoudness
from groove.arrange.names import NO_RIFFS, Resolver, WantedCell
from groove.bar_place import BandWord, SectionKind
from groove.cells.conditions import BarFacts
from groove.cells.fit import is_triplet_grid
from groove.cells.library import CellKind
from groove.cells.model import BassCell, Cell, DrumCell, Feel, KeysCell, Library, LineKind
from groove.cells.tokens import is_struck
from groove.chart.form import PlayedBar
from groove.chart.model import (
    DEFAULT_METER,
    Density,
    Fills,
    Named,
    Riff,
    Settings,
    TabLine,
    Vary,
)
from groove.events import Part
from groove.notices import Notice, NoticeKind
from groove.timing import (
    TRIPLET_SWING,
    Meter,
    Swing,
    TempoMap,
    microseconds_to_qpm,
    span_ticks,
)

DEFAULT_SEED = 1


class BarPlan(Struct, frozen=True, kw_only=True):
    """A played bar and what the band does in it; a part that is out has no cell.

    ``chord_holds`` is whether it begins with the chord that the bar before ended on;
    ``arrangement`` how thick, high and busy the parts are in it, ``in_triplets`` whether its beat
    is felt in three.
    """

    bar: PlayedBar
    start_tick: int
    end_tick: int
    feel: Feel
    bass: BassCell | None
    drums: DrumCell | None
    keys: KeysCell | None
    velocity_offset: int
    swing: Swing | None
    word: BandWord | None
    fills: Fills
    is_last: bool
    chord_holds: bool
    seed: int
    arrangement: Arrangement
    in_triplets: bool

    def facts_for(self, cell: Cell) -> BarFacts:
        """Return what the conditions of a cell ask.

        The bars of a shipped cell are counted through a section as it is played, those of a
        player's own from each repeat sign anew.
        """
        return BarFacts(
            bar_in_section=self.bar.ref.bar_in_section,
            turn=self.bar.turn if cell.as_written else self.bar.ref.bar_in_section,
            phrase_bars=self.feel.phrase_bars,
            place=self.arrangement.place,
            chord_holds=self.chord_holds,
            builds=self.builds,
            is_thin=self.is_thin,
            figure=self.arrangement.figure,
            is_touched=self.arrangement.is_touched,
        )

    @property
    def line_draw_time(self) -> int | None:
        """What draws among ways of equal cost take in: a hook and a blues stay on their notes."""
        stays = self.feel.line is not LineKind.NEW and self.arrangement.vary is not Vary.MUCH
        return None if stays else self.arrangement.draw_time

    @property
    def lift(self) -> int:
        """How many semitones the lowest root lies above the lowest string; a player's own: none."""
        return 0 if self.has_own_line else self.arrangement.lift

    @property
    def has_drummer(self) -> bool:
        """Whether somebody plays drums here."""
        return self.drums is not None and bool(self.drums.bars)

    @property
    def builds(self) -> bool:
        """Whether the band plays thicker and thicker here: by a word, or in a pre-chorus."""
        if self.bar.density:
            return self.bar.density is Density.BUILD
        return self.bar.place.kind is SectionKind.PRE_CHORUS

    @property
    def is_thin(self) -> bool:
        """Whether the band leaves out what it can (see ``PlayedBar``)."""
        return self.bar.is_thin

    @property
    def is_counted(self) -> bool:
        """Whether the band stops time here: it holds, stops, or plays hits alone."""
        return self.word is not None or self.has_hits

    @property
    def has_hits(self) -> bool:
        """Whether all play the hits that the chart names, and nothing else."""
        return self.word is None and bool(self.bar.directions.hits)

    @property
    def has_kicks(self) -> bool:
        """Whether all catch the kicks that the chart names, while time goes on."""
        return self.word is None and bool(self.bar.directions.kicks)

    @property
    def is_written(self) -> bool:
        """Whether the player wrote the bass's notes of this bar."""
        return self.bar.line is not None

    @property
    def has_own_line(self) -> bool:
        """Whether the bass plays what the player wrote, here or as a riff: nobody mends that."""
        return self.is_written or (self.bass is not None and self.bass.as_written)

    @property
    def has_halves(self) -> bool:
        """Whether somebody plays in halves of a beat though the feel may be in triplets.

        That is what a player writes, and a bass cell of another feel.
        """
        if self.is_written or any(cell and cell.as_written for cell in (self.drums, self.keys)):
            return True
        return self.bass is not None and self.bass.generator != "long" and not _in_threes(self.bass)


class Plan(Struct, frozen=True, kw_only=True):
    """All bars of a song, planned; ``notices`` say what was decided for the player."""

    bars: tuple[BarPlan, ...]
    notices: tuple[Notice, ...]


def plan_song(
    bars: tuple[PlayedBar, ...],
    library: Library,
    tempo_map: TempoMap,
    *,
    seed: int | None = None,
    feel_option: str | None = None,
    vary: Vary | None = None,
    riffs: Mapping[tuple[Part, str], Riff] = NO_RIFFS,
    tempo_scale: Fraction = Fraction(1),
) -> Plan:
    """Return the plan of a song.  ``seed``, ``feel_option`` and ``vary`` stand above the chart's.

    ``tempo_scale`` is how many times as fast as the chart states ``tempo_map`` is.  Raises
    ChartError with a place for a name that the library does not have.
    """
    resolver = Resolver(library, feel_option, riffs)
    planner = _Planner(
        bars=bars,
        form=form_of(bars),
        casting=_Casting(resolver, tempo_scale),
        loudness=SectionLoudness(),
        tempo_map=tempo_map,
        seed=seed,
        vary=vary,
    )
    plans = [planner.plan(index) for index in range(len(bars))]
    notices = (*resolver.notices, *planner.loudness.notices)
    return Plan(bars=tuple(_with_halves_swung(plans)), notices=notices)


def _with_halves_swung(plans: Sequence[BarPlan]) -> Iterator[BarPlan]:
    """Yield the bars, halves of a beat as triplets where the band is in triplets.

    In all such bars of a song that has halves somewhere, so that a page says it once.
    """
    bars = [plan.bar for plan in plans]
    in_triplets = [
        plan.in_triplets and not _felt_meter(bars, index).is_compound
        for index, plan in enumerate(plans)
    ]
    swings = any(plan.has_halves for plan, are in zip(plans, in_triplets, strict=True) if are)
    for plan, are in zip(plans, in_triplets, strict=True):
        yield replace(plan, swing=TRIPLET_SWING) if swings and are else plan


def _in_threes(cell: BassCell) -> bool:
    return is_triplet_grid(cell.meter, cell.slots_per_beat)


class _Players(Struct, frozen=True):
    """Who plays in bars of the same settings, meter and tempo."""

    feel: Feel
    bass: BassCell | None
    drums: DrumCell | None
    keys: KeysCell | None
    in_triplets: bool


class _Casting:
    """Finds who plays in a bar, once for bars that are alike: a section's mostly are."""

    def __init__(self, resolver: Resolver, tempo_scale: Fraction) -> None:
        """``tempo_scale`` is how many times as fast as the chart states the song is played."""
        self.resolver = resolver
        self.tempo_scale = float(tempo_scale)
        self.known: dict[tuple[int, Meter, int], _Players] = {}

    def players(self, settings: Settings, meter: Meter, microseconds: int) -> _Players:
        """Return who plays at a tempo in microseconds a quarter."""
        # By identity: the bars of a section share their settings.
        key = (id(settings), meter, microseconds)
        if key not in self.known:
            self.known[key] = self._cast(settings, meter, microseconds)
        return self.known[key]

    def _cast(self, settings: Settings, meter: Meter, microseconds: int) -> _Players:
        """Return who plays, as the resolver finds it."""
        bpm = microseconds_to_qpm(microseconds) / float(meter.pulse_quarters)
        feel = self.resolver.feel_for(settings, meter, bpm / self.tempo_scale)
        own = settings.meter or DEFAULT_METER
        drums_name = feel.fast[1] if feel.fast and bpm > feel.fast[0] else feel.drums

        def cell(kind: CellKind, named: Named | None, usual: str) -> Cell | None:
            return self.resolver.cell(WantedCell(kind, named, usual, meter, own))

        bass = cast(BassCell | None, cell("bass", settings.bass, feel.bass))
        usual = cast(BassCell | None, cell("bass", None, feel.bass))
        return _Players(
            feel,
            bass,
            cast(DrumCell | None, cell("drums", settings.drums, drums_name)),
            cast(KeysCell | None, cell("keys", settings.keys, feel.keys)),
            meter.is_compound or any(each and _in_threes(each) for each in (bass, usual)),
        )


class _Planner(Struct, frozen=True, kw_only=True):
    """What all bars of a song are planned by; ``seed`` and ``vary`` stand above the chart's."""

    bars: tuple[PlayedBar, ...]
    form: Form
    casting: _Casting
    loudness: SectionLoudness
    tempo_map: TempoMap
    seed: int | None
    vary: Vary | None

    def plan(self, index: int) -> BarPlan:
        bar, settings = self.bars[index], self.bars[index].settings
        start_tick, end_tick = span_ticks(bar.start_quarters, bar.length_quarters)
        tempo = self.tempo_map.microseconds_at(start_tick)
        players = self.casting.players(settings, _felt_meter(self.bars, index), tempo)
        seed = next(n for n in (self.seed, settings.seed, DEFAULT_SEED) if n is not None)
        vary = Vary(self.vary or settings.vary or Vary.SOME)
        arrangement = arrangement_of(bar, players.feel, self.form, vary, seed)
        is_last = index + 1 == len(self.bars)
        return BarPlan(
            bar=bar,
            start_tick=start_tick,
            end_tick=end_tick,
            feel=players.feel,
            bass=players.bass,
            drums=players.drums,
            keys=players.keys,
            velocity_offset=self.loudness.offset(bar),
            swing=self._swing(bar, players),
            word=_word_of(bar, players.bass, arrangement, is_last=is_last),
            fills=settings.fills or Fills.FEW,
            is_last=is_last,
            chord_holds=index > 0 and _holds_chord(self.bars[index - 1], bar),
            seed=seed,
            arrangement=arrangement,
            in_triplets=players.in_triplets,
        )

    def _swing(self, bar: PlayedBar, players: _Players) -> Swing | None:
        """Return how a bar is swung: the chart's word is left out where its beat is in three."""
        if bar.settings.swing and players.in_triplets:
            self.casting.resolver.note(NoticeKind.NO_SWING, section=bar.ref.section)
            return None
        return bar.settings.swing or players.feel.swing


def _felt_meter(bars: Sequence[PlayedBar], index: int) -> Meter:
    """Return the meter that a bar is felt in: a pickup is a part of such a bar as comes next."""
    return bars[index + bars[index].is_pickup].meter


def _word_of(
    bar: PlayedBar, bass: BassCell | None, arrangement: Arrangement, *, is_last: bool
) -> BandWord | None:
    """Return what stops the band in a bar: its word, the last hit, stop-time, or the song's end.

    The last bar of a player's own line is played out in time, unless all that it has is struck
    at its head.
    """
    if bar.word:
        return bar.word
    if bar.directions.has_hit:
        return BandWord.STOP
    if arrangement.has_stop_time and not _has_own_time(bar, bass):
        return BandWord.STOP
    if not is_last or bar.directions.hits:
        return None
    if bar.line is None:
        goes_on = bass is not None and bass.as_written
    elif isinstance(bar.line, TabLine):
        goes_on = any(note.start_quarters for note in bar.line.notes)
    else:
        goes_on = any(is_struck(slot.token) for slot in bar.line.slots[1:])
    return None if goes_on else BandWord.HOLD


def _has_own_time(bar: PlayedBar, bass: BassCell | None) -> bool:
    """Return whether a bar's strokes are said by the chart, so that no stop-time takes them."""
    is_own = bar.line is not None or (bass is not None and bass.as_written)
    return is_own or bool(bar.directions.hits or bar.directions.kicks or bar.directions.fill)


def _holds_chord(before: PlayedBar, bar: PlayedBar) -> bool:
    """Return whether a bar begins with the chord that the one before ended on.

    A section begins anew.
    """
    if bar.is_section_start or not (before.chords and bar.chords):
        return False
    return before.chords[-1].symbol == bar.chords[0].symbol
