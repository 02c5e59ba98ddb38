"""Bars of a foreign score as a chart has them: whole bars, chords on their beats.

Parts of a bar round a repeat sign are joined in the order in which they are played.  A chord an
eighth or a sixteenth before a beat is a push; chords that stand closer, or between two beats, make
the bar counted in smaller notes where a meter has them.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Protocol

from msgspec import Struct
from msgspec.structs import replace

from groove.bar_place import BandWord
from groove.chart.bars import MOST_CHORDS_IN_BAR
from groove.chart.push import Push
from groove.events import NO_CHORD
from groove.io.gate import Gate, Where, length_meter
from groove.timing import METER_COUNTS, METER_UNITS, Meter

Chords = list[tuple[Fraction, str]]
READ_PUSHES = (Push.EIGHTH, Push.SIXTEENTH)
SIXTEENTH = Fraction(1, 4)


class Struck(Struct, frozen=True):
    """A chord on a beat (counted from 0), and how it arrives early."""

    beat: int
    symbol: str
    push: Push | None = None


class ForeignPart(Protocol):
    """What is asked of a bar of the file; see ``ForeignBar``."""

    where: Where
    meter: Meter
    chords: Chords
    length_quarters: Fraction | None
    section: str
    word: BandWord | None
    key: str
    qpm: Fraction | None
    swing: str
    endings: tuple[int, ...]

    @property
    def is_short(self) -> bool: ...  # noqa: D102


class _BarHeading(Struct, frozen=True, kw_only=True):
    """What is said of a bar as it is played.

    ``usual`` is the meter that the file states, ``meter`` the one that its length asks for;
    ``section`` is the name of its section, which began at the bar ``section_start`` of the file.
    """

    where: Where
    usual: Meter
    meter: Meter
    word: BandWord | None
    key: str
    qpm: Fraction | None
    swing: str
    section: str
    section_start: int


class JoinedBar(_BarHeading, frozen=True, kw_only=True):
    """A bar of one or more parts (their indices in the file).

    ``held`` is the chord that sounds when it begins.
    """

    indices: tuple[int, ...]
    length_quarters: Fraction
    chords: tuple[tuple[Fraction, str], ...]
    held: str

    @property
    def is_short(self) -> bool:
        """Whether it is shorter than a bar of the meter that the file states."""
        return self.length_quarters < self.usual.bar_quarters


class BeatBar(_BarHeading, frozen=True, kw_only=True):
    """A bar as a chart says it; ``anchor`` is the longest of its parts in the file."""

    anchor: int
    struck: tuple[Struck, ...]

    @property
    def said(self) -> tuple[object, ...]:
        """Meter, chords as (quarters, symbol, push) and word: what is heard of it."""
        beat = self.meter.beat_quarters
        spans = tuple((chord.beat * beat, chord.symbol, chord.push) for chord in self.struck)
        return self.meter, spans, self.word

    def parts(self, before: "BeatBar") -> bool:
        """Return whether a section of the chart begins here, after a bar."""
        here = (self.section_start, self.key, self.qpm, self.swing)
        return here != (before.section_start, before.key, before.qpm, before.swing)


# --- whole bars -------------------------------------------------------------------------------


def joined_bars(bars: Sequence[ForeignPart], order: Sequence[int]) -> list[JoinedBar]:
    """Return the bars in an order of play, parts of one bar that follow each other joined."""
    held = _held_chords(bars)
    starts = _section_starts(bars)
    joined: list[JoinedBar] = []
    position = 0
    while position < len(order):
        count = _joined_count(bars, order, position)
        run = tuple(order[position : position + count])
        position += count
        is_rounded = position == len(order) and (not joined or joined[0].is_short)
        joined.append(_joined_bar(bars, run, held, starts, is_whole=is_rounded))
    return joined


def _joined_count(bars: Sequence[ForeignPart], order: Sequence[int], position: int) -> int:
    """Return how many parts from a position on make one whole bar, 1 where none do."""
    first = bars[order[position]]
    total = Fraction(0)
    for count, index in enumerate(order[position:], start=1):
        bar = bars[index]
        if not bar.is_short or bar.meter != first.meter or bar.length_quarters is None:
            return 1
        total += bar.length_quarters
        if total >= first.meter.bar_quarters:
            return count if total == first.meter.bar_quarters else 1
    return 1


def _joined_bar(
    bars: Sequence[ForeignPart],
    run: tuple[int, ...],
    held: Sequence[str],
    starts: Sequence[int],
    *,
    is_whole: bool,
) -> JoinedBar:
    """Return one bar as it is played; ``is_whole`` is for the last bar, which a pickup fills."""
    first = bars[run[0]]
    usual = first.meter
    chords: list[tuple[Fraction, str]] = []
    length = Fraction(0)
    for index in run:
        chords += [(length + at, symbol) for at, symbol in bars[index].chords]
        own = bars[index].length_quarters
        length += usual.bar_quarters if own is None else own
    if is_whole and length < usual.bar_quarters:
        length = usual.bar_quarters
    start = starts[run[0]]
    return JoinedBar(
        indices=run,
        where=first.where,
        usual=usual,
        meter=_said_meter(length, usual),
        length_quarters=length,
        chords=tuple(sorted(chords, key=lambda pair: pair[0])),
        held=held[run[0]],
        word=first.word,
        key=first.key,
        qpm=first.qpm,
        swing=first.swing,
        section=bars[start].section,
        section_start=start,
    )


def _said_meter(length: Fraction, usual: Meter) -> Meter:
    """Return the meter of a bar's length, to the nearest sixteenth; the usual one for none."""
    if length == usual.bar_quarters:
        return usual
    rounded = max(1, round(length / SIXTEENTH)) * SIXTEENTH
    return length_meter(length, usual) or length_meter(rounded, usual) or usual


def _held_chords(bars: Sequence[ForeignPart]) -> list[str]:
    """Return the chord that sounds at the head of each bar, as it is written.

    A later ending follows the bar before the first one.
    """
    found = []
    sounding = before_endings = NO_CHORD
    endings: tuple[int, ...] = ()
    for bar in bars:
        if bar.endings and not endings:
            before_endings = sounding
        elif bar.endings and bar.endings != endings:
            sounding = before_endings
        endings = bar.endings
        found.append(sounding)
        if bar.chords:
            sounding = max(bar.chords, key=lambda pair: pair[0])[1]
    return found


def _section_starts(bars: Sequence[ForeignPart]) -> list[int]:
    """Return for every bar the bar at which its section began."""
    starts = []
    start = 0
    for index, bar in enumerate(bars):
        if bar.section:
            start = index
        starts.append(start)
    return starts


# --- chords on beats --------------------------------------------------------------------------


def on_beats(bars: Sequence[JoinedBar], gate: Gate) -> list[BeatBar]:
    """Return the bars with their chords on beats; an early one may belong to the bar after."""
    found = []
    carried: Struck | None = None
    for bar, following in zip(bars, [*bars[1:], None], strict=True):
        has_room = following is not None and all(at for at, _ in following.chords)
        beats = _BarBeats(bar, carried, has_room)
        found.append(beats.beat_bar(gate))
        carried = beats.carried
    return found


class _BarBeats:
    """The chords of one bar, put on its beats."""

    def __init__(self, bar: JoinedBar, carried: Struck | None, has_room: bool) -> None:
        """``carried`` comes from the bar before; ``has_room``: one may go to the bar after."""
        self.bar = bar
        self.before = carried
        self.has_room = has_room
        self.carried: Struck | None = None

    def beat_bar(self, gate: Gate) -> BeatBar:
        """Return the bar in its own meter, else in smaller notes, else with what can be said."""
        meter = self.bar.meter
        struck = self.exactly(meter)
        if struck is None:
            for finer in _finer_meters(meter):
                struck = self.exactly(finer)
                if struck is not None:
                    message = f"counted in {finer}, for its chords change between two beats"
                    gate.report(message, self.bar.where)
                    meter = finer
                    break
            else:
                struck = self.nearly(meter, gate)
        if meter.bar_quarters != self.bar.usual.bar_quarters:
            message = f"a bar of {meter} among those of {self.bar.usual}, as long as its notes"
            gate.report(message, self.bar.where)
        if not struck or struck[0].beat:
            struck = [Struck(0, self.bar.held), *struck]
        return BeatBar(
            anchor=self.bar.indices[0],
            where=self.bar.where,
            usual=self.bar.usual,
            meter=meter,
            struck=tuple(struck),
            word=self.bar.word,
            key=self.bar.key,
            qpm=self.bar.qpm,
            swing=self.bar.swing,
            section=self.bar.section,
            section_start=self.bar.section_start,
        )

    def exactly(self, meter: Meter) -> list[Struck] | None:
        """Return the chords where each has a beat or a push of its own, else None."""
        self.carried = None
        found = {0: self.before} if self.before else {}
        for at, symbol in self.bar.chords:
            struck = _on_beat(meter, at, symbol)
            if struck and self.goes_over(struck, at, meter):
                self.carried = replace(struck, beat=0)
            elif (
                struck is None
                or struck.beat >= meter.beats_per_bar
                or found.setdefault(struck.beat, struck).symbol != symbol
            ):
                return None
        return [found[beat] for beat in sorted(found)] if len(found) <= MOST_CHORDS_IN_BAR else None

    def goes_over(self, struck: Struck, at: Fraction, meter: Meter) -> bool:
        """Return whether a chord is an early one of the bar after."""
        is_over = struck.beat >= meter.beats_per_bar and at < meter.bar_quarters
        return is_over and self.has_room and not self.carried

    def nearly(self, meter: Meter, gate: Gate) -> list[Struck]:
        """Return the chords on the nearest beats before them; what is lost is told."""
        self.carried = None
        found = {0: self.before} if self.before else {}
        last = meter.beats_per_bar - 1
        for at, symbol in self.bar.chords:
            struck = _on_beat(meter, at, symbol)
            if struck and self.goes_over(struck, at, meter):
                self.carried = replace(struck, beat=0)
                continue
            if struck is None or struck.beat > last:
                struck = Struck(min(int(at / meter.beat_quarters), last), symbol)
                gate.report(f"{symbol} is put on the beat before it", self.bar.where)
            lost = found.get(struck.beat)
            if lost and lost.symbol != symbol:
                message = f"{lost.symbol} and {symbol} on one beat, the later one is kept"
                gate.report(message, self.bar.where)
            found[struck.beat] = struck
        return [found[beat] for beat in sorted(found)]


def _on_beat(meter: Meter, at: Fraction, symbol: str) -> Struck | None:
    """Return a chord on its beat, or early before one; None between two beats."""
    beat = meter.beat_quarters
    if at % beat == 0:
        return Struck(int(at / beat), symbol)
    for push in READ_PUSHES:
        if (at + push.quarters) % beat == 0 and symbol != NO_CHORD:
            return Struck(int((at + push.quarters) / beat), symbol, push)
    return None


def _finer_meters(meter: Meter) -> Iterator[Meter]:
    """Yield meters of the same length with smaller beats, the largest first."""
    for unit in METER_UNITS:
        count = meter.bar_quarters * unit / 4
        if unit < meter.unit or count.denominator != 1 or int(count) not in METER_COUNTS:
            continue
        finer = Meter(int(count), unit)
        if finer.beat_quarters < meter.beat_quarters:
            yield finer
