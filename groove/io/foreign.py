"""Bars and chords that came from another notation, as a chart of ours.

Readers of MusicXML and ABC hand over what they found; here it becomes the text of a chart, which
our own parser reads.  What a chart cannot say is told in a notice: nothing is changed in silence.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from groove.chart.lines import plain_text
from groove.chart.model import Pickup, PickupUnit, Song, pickup_of
from groove.chart.parse import parse_chart
from groove.chart.settings import SETTING_NAMES
from groove.chart.write import number_text
from groove.errors import ChartError
from groove.events import BandWord
from groove.timing import Meter

NO_CHORD = "N.C."
FIRST_SECTION = "song"
LONGEST_NAME = 50
PUSH_QUARTERS = {1: Fraction(1, 2), 2: Fraction(1, 4)}
BARS_A_LINE = 4


@dataclass(slots=True, kw_only=True)
class ForeignBar:
    """One written bar: chords as (quarters from the bar line, symbol), signs at its edges.

    ``section`` is the name of a section that begins here; ``word`` is what the band is told at the
    bar's head; ``key`` and ``qpm`` (quarters a minute) are given where they change.
    """

    meter: Meter
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    section: str = ""
    word: BandWord | None = None
    key: str = ""
    qpm: float | None = None
    opens_repeat: bool = False
    closes_repeat: bool = False
    passes: int = 2
    endings: tuple[int, ...] = ()


@dataclass(slots=True, kw_only=True)
class ForeignSong:
    """Everything that a reader found; ``pickup_quarters`` is the length of a short first bar."""

    title: str = ""
    bars: list[ForeignBar] = field(default_factory=list)
    pickup_quarters: Fraction = Fraction(0)
    notices: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Struck:
    """A chord on a beat (counted from 0), and how it arrives early."""

    beat: int
    symbol: str
    pushes: int = 0


def foreign_to_song(foreign: ForeignSong, source: str) -> Song:
    """Return the song that was found.

    Repeats that a chart cannot say (one in another, an ending that is missing) are left out, with
    a notice.  Raises ChartError where there is nothing to read.
    """
    try:
        text = ChartText(foreign).text()
        song = parse_chart(text, source=source)
    except ChartError:
        plain = [
            replace(bar, opens_repeat=False, closes_repeat=False, endings=())
            for bar in foreign.bars
        ]
        foreign = replace(foreign, bars=plain)
        foreign.notices.append("the repeats cannot be said in a chart and are left out")
        song = parse_chart(ChartText(foreign).text(), source=source)
    return replace(song, notices=(*dict.fromkeys(foreign.notices), *song.notices))


class ChartText:
    """Makes the text of a chart."""

    def __init__(self, foreign: ForeignSong) -> None:
        """Work out repeats and beats."""
        self.foreign = foreign
        self.bars = with_openings(foreign.bars)
        self.struck = list(self.on_beats())
        self.names: set[str] = set()
        self.meter = self.bars[0].meter

    def text(self) -> str:
        """Return the chart."""
        lines = [f"title: {one_line(self.foreign.title)}"] if self.foreign.title.strip() else []
        lines += self.song_settings()
        for start, stop in self.sections():
            lines += ["", *self.section(start, stop)]
        return "\n".join(lines) + "\n"

    def song_settings(self) -> Iterator[str]:
        """Yield meter, key, tempo and pickup."""
        first = self.bars[0]
        yield f"meter: {first.meter}"
        if first.key:
            yield f"key: {first.key}"
        if first.qpm:
            yield f"tempo: {self.bpm(first.qpm)}"
        if self.foreign.pickup_quarters:
            yield f"pickup: {self.pickup(first.meter)}"

    def pickup(self, meter: Meter) -> Pickup:
        """Return the pickup in beats, else in eighths, else in sixteenths, at least one."""
        quarters = self.foreign.pickup_quarters
        exact = pickup_of(quarters, meter)
        if exact:
            return exact
        whole = max(1, round(quarters * 4))
        self.note(f"the pickup of {quarters} quarters is counted as {whole} sixteenths")
        return Pickup(whole, PickupUnit.SIXTEENTHS)

    def bpm(self, qpm: float) -> str:
        """Return a tempo in the song's beats."""
        return number_text(Fraction(qpm) / self.meter.tempo_unit_quarters)

    def note(self, text: str) -> None:
        """Keep a notice."""
        self.foreign.notices.append(text)

    # --- chords ---

    def on_beats(self) -> Iterator[list[Struck]]:
        """Yield the chords of each bar on its beats; early ones become pushes."""
        carried: list[Struck] = []
        for number, bar in enumerate(self.bars, start=1):
            found = {struck.beat: struck for struck in carried}
            carried = []
            for at, symbol in sorted(bar.chords, key=lambda pair: pair[0]):
                struck = self.on_beat(bar.meter, at, symbol, number)
                if struck.beat >= bar.meter.beats_per_bar:
                    carried = [replace(struck, beat=0)]
                    continue
                if struck.beat in found:
                    self.note(f"bar {number}: two chords on one beat, the later one is kept")
                found[struck.beat] = struck
            yield [found[beat] for beat in sorted(found)]

    def on_beat(self, meter: Meter, at: Fraction, symbol: str, number: int) -> Struck:
        """Return a chord on its beat."""
        beat = meter.beat_quarters
        if at % beat == 0:
            return Struck(int(at / beat), symbol)
        for pushes, early in PUSH_QUARTERS.items():
            if (at + early) % beat == 0 and symbol != NO_CHORD:
                return Struck(int((at + early) / beat), symbol, pushes)
        self.note(f"bar {number}: {symbol} stands between two beats and is put on the first")
        return Struck(int(at / beat), symbol)

    # --- sections ---

    def sections(self) -> Iterator[tuple[int, int]]:
        """Yield where sections begin and end; none begins inside a repeat."""
        inside = {
            index for start, stop in repeat_spans(self.bars) for index in range(start + 1, stop)
        }
        starts = [0]
        for index, bar in enumerate(self.bars):
            if index and bar.section:
                if index in inside:
                    self.note(f"the section {bar.section} begins inside a repeat and is not named")
                else:
                    starts.append(index)
        yield from zip(starts, [*starts[1:], len(self.bars)], strict=True)

    def section(self, start: int, stop: int) -> Iterator[str]:
        """Yield a section: name, settings, bars."""
        yield f"{self.unique_name(self.bars[start].section)}:"
        bars = self.bars[start:stop]
        if start and bars[0].key:
            yield f"  key: {bars[0].key}"
        if start and bars[0].qpm:
            yield f"  tempo: {self.bpm(bars[0].qpm)}"
        for bar in bars[1:]:
            if bar.key or bar.qpm:
                self.note("a key or tempo that changes inside a section is left out")
        meter = self.meter
        words: list[str] = []
        for index in range(start, stop):
            bar = self.bars[index]
            words.append(self.left_line(index, start))
            if bar.meter != meter:
                words.append(f"({bar.meter})")
                meter = bar.meter
            words += [f"({bar.word})"] if bar.word else []
            words.append(self.chords(index))
            words.append(right_line(bar))
            if (index - start) % BARS_A_LINE == BARS_A_LINE - 1 or index == stop - 1:
                yield "  " + " ".join(filter(None, [*words, "" if words[-1] else "|"]))
                words = []

    def left_line(self, index: int, start: int) -> str:
        """Return the line before a bar."""
        bar = self.bars[index]
        before = self.bars[index - 1] if index > start else None
        if bar.opens_repeat:
            return "|:"
        fresh = before is None or before.endings != bar.endings or before.closes_repeat
        if bar.endings and fresh:
            return "|" + ",".join(map(str, bar.endings)) + "."
        if before and before.closes_repeat and (index - start) % BARS_A_LINE:
            return ""
        if before and before.endings and not bar.endings:
            # Without it the ending would last to the section's end.
            return "||"
        return "|"

    def chords(self, index: int) -> str:
        """Return what stands in a bar; a bar without a chord holds the one before."""
        bar, struck = self.bars[index], self.struck[index]
        if not struck or struck[0].beat:
            struck = [Struck(0, self.held(index)), *struck]
        texts = ["<" * s.pushes + s.symbol for s in struck]
        ends = [s.beat for s in struck[1:]] + [bar.meter.beats_per_bar]
        lengths = [end - s.beat for s, end in zip(struck, ends, strict=True)]
        if len(set(lengths)) == 1:
            return " ".join(texts)
        return " ".join(
            " ".join([text, *["/"] * (length - 1)])
            for text, length in zip(texts, lengths, strict=True)
        )

    def held(self, index: int) -> str:
        """Return the chord that sounds at the head of a bar."""
        for struck in reversed(self.struck[:index]):
            if struck:
                return struck[-1].symbol
        return NO_CHORD

    def unique_name(self, raw: str) -> str:
        """Return a section's name that a chart may have, and none twice."""
        name = one_line(re.sub(r"[,:|#<>%()]", " ", raw))[:LONGEST_NAME] or FIRST_SECTION
        if name.casefold() in SETTING_NAMES or not name[0].isalnum():
            name = f"part {name}"
        name = re.sub(r"(?i)\b[x×](\d+)$", r"\1", name)
        found, count = name, 1
        while found.casefold() in self.names:
            count += 1
            found = f"{name} {count}"
        self.names.add(found.casefold())
        return found


def right_line(bar: ForeignBar) -> str:
    """Return the line after a bar, where it is no plain one."""
    if not bar.closes_repeat:
        return ""
    return ":|" + (f" x{bar.passes}" if bar.passes > 2 else "")


def one_line(text: str) -> str:
    """Return a text without line breaks and control characters."""
    return " ".join(plain_text(text).split())


def repeat_spans(bars: Sequence[ForeignBar]) -> list[tuple[int, int]]:
    """Return (first, one past last) of every repeated group, endings included."""
    spans = []
    start = index = 0
    while index < len(bars):
        if bars[index].opens_repeat:
            start = index
        stop = index + 1
        if bars[index].closes_repeat:
            while stop < len(bars) and bars[stop].endings and not bars[stop].opens_repeat:
                stop += 1
            spans.append((start, stop))
            start = stop
        index = stop
    return spans


def with_openings(bars: Sequence[ForeignBar]) -> list[ForeignBar]:
    """Return the bars with every repeat opened where it begins; one never closed is dropped."""
    starts = {start for start, _ in repeat_spans(bars)}
    return [replace(bar, opens_repeat=index in starts) for index, bar in enumerate(bars)]
