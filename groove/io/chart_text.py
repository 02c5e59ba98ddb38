"""The text of a chart from bars that a foreign score was found to have."""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec import Struct

from groove.chart.parse import MOST_SECTIONS
from groove.chart.pickup import pickup_of
from groove.chart.settings import MOST_TIMES, SETTING_NAMES
from groove.chart.write import number_text
from groove.io.beats import BeatBar, Struck
from groove.io.gate import Where, one_line
from groove.timing import FASTEST_QPM, SLOWEST_QPM, Meter

FIRST_SECTION = "song"
_LONGEST_NAME = 50
_BARS_A_LINE = 4


class TextBar(Struct, frozen=True, kw_only=True):
    """A bar as it stands in a chart, with the signs at its edges."""

    beat: BeatBar
    opens_repeat: bool = False
    closes_repeat: bool = False
    passes: int = 2
    endings: tuple[int, ...] = ()


class TextSection(Struct, frozen=True):
    """Bars that stand under one name."""

    bars: tuple[TextBar, ...]


class TextPickup(Struct, frozen=True):
    """What stands before bar 1: its quarters, and its chords on its beats, None without any."""

    quarters: Fraction
    where: Where
    beat: BeatBar | None = None

    def words(self, meter: Meter) -> str:
        """Return it as a chart has it before a bar of a meter: ``1``, ``2 | A7 |``."""
        length = str(pickup_of(self.quarters, meter))
        if self.beat is None:
            return length
        return f"{length} | {_chord_words(self.beat.struck, self.beat.meter.beats_per_bar)} |"


SectionOrder = Sequence[tuple[int, int]]
"""The order of sections: (its index, times in a row)."""


# --- an order of play as sections and a form --------------------------------------------------


def with_form(played: Sequence[BeatBar]) -> tuple[list[TextSection], SectionOrder]:
    """Return sections and the order in which they are played, for bars in the order of play.

    Bars that always follow each other share a section, so that each is written once.
    """
    numbers: dict[tuple[object, ...], int] = {}
    order = [numbers.setdefault(_identity(bar), len(numbers)) for bar in played]
    starts = _block_starts(played, order)
    ends = [*starts[1:], len(order)]
    sections: dict[tuple[int, ...], int] = {}
    bars: list[TextSection] = []
    form: list[tuple[int, int]] = []
    for start, end in zip(starts, ends, strict=True):
        block = tuple(order[start:end])
        if block not in sections:
            sections[block] = len(sections)
            bars.append(TextSection(tuple(TextBar(beat=bar) for bar in played[start:end])))
        index = sections[block]
        if form and form[-1][0] == index and form[-1][1] < MOST_TIMES:
            form[-1] = (index, form[-1][1] + 1)
        else:
            form.append((index, 1))
    if len(bars) > MOST_SECTIONS:
        return [TextSection(tuple(TextBar(beat=bar) for bar in played))], ()
    return bars, form


def _identity(bar: BeatBar) -> tuple[object, ...]:
    """Return what makes two played bars the same one."""
    return bar.anchor, bar.section_start, bar.key, bar.qpm, bar.swing, bar.said


def _block_starts(played: Sequence[BeatBar], order: Sequence[int]) -> list[int]:
    """Return where a new run begins: where bars do not always follow each other."""
    after: dict[int, set[int]] = {}
    before: dict[int, set[int]] = {}
    for here, following in pairwise([-1, *order, -1]):
        after.setdefault(here, set()).add(following)
        before.setdefault(following, set()).add(here)
    starts = [0]
    for position in range(1, len(order)):
        here, following = order[position - 1], order[position]
        always = len(after[here]) == 1 and len(before[following]) == 1
        if not always or played[position].parts(played[position - 1]):
            starts.append(position)
    return starts


# --- text -------------------------------------------------------------------------------------


def sections_text(
    sections: Sequence[TextSection], form: SectionOrder, pickup: TextPickup | None
) -> tuple[str, list[Where]]:
    """Return the text of a chart, and for each of its lines the place in the foreign file."""
    return _Text(sections, pickup).text(form)


class _Text:
    def __init__(self, sections: Sequence[TextSection], pickup: TextPickup | None) -> None:
        self.sections = sections
        self.pickup = pickup
        self.first = sections[0].bars[0].beat
        self.meter = self.first.usual
        self.lines: list[str] = []
        self.wheres: list[Where] = []
        self.taken: set[str] = set()

    def add(self, line: str, where: Where) -> None:
        self.lines.append(line)
        self.wheres.append(where)

    def text(self, form: SectionOrder) -> tuple[str, list[Where]]:
        first = self.first
        self.add(f"meter: {self.meter}", first.where)
        if first.key:
            self.add(f"key: {first.key}", first.where)
        if first.qpm:
            self.add(f"tempo: {self.bpm(first.qpm)}", first.where)
        if first.swing:
            self.add(f"swing: {first.swing}", first.where)
        if self.pickup:
            self.add(f"pickup: {self.pickup.words(first.meter)}", self.pickup.where)
        names = [self.section(section) for section in self.sections]
        if len(form) > 1 or (form and form[0][1] > 1):
            steps = (names[i] + (f" x{times}" if times > 1 else "") for i, times in form)
            self.add(f"form: {', '.join(steps)}", first.where)
        return "\n".join(self.lines) + "\n", self.wheres

    def bpm(self, qpm: Fraction) -> str:
        """Return a tempo in the song's beats, rounded to where the chart's range has it."""
        unit = self.meter.tempo_unit_quarters
        steps = round(qpm / unit * 1000)
        steps -= Fraction(steps, 1000) * unit > FASTEST_QPM
        steps += Fraction(steps, 1000) * unit < SLOWEST_QPM
        return number_text(Fraction(steps, 1000))

    def section(self, section: TextSection) -> str:
        """Add a section; return its name."""
        bars = section.bars
        head = bars[0].beat
        name = self.unique_name(head.section)
        self.add(f"{name}:", head.where)
        if head.key != self.first.key:
            self.add(f"  key: {head.key}", head.where)
        if head.qpm and head.qpm != self.first.qpm:
            self.add(f"  tempo: {self.bpm(head.qpm)}", head.where)
        if head.swing != self.first.swing:
            self.add(f"  swing: {head.swing}", head.where)
        meter = self.meter
        for start in range(0, len(bars), _BARS_A_LINE):
            words: list[str] = []
            for index in range(start, min(start + _BARS_A_LINE, len(bars))):
                found = self.bar_words(bars, index, meter, is_row_start=index == start)
                words += filter(None, found)
                meter = bars[index].beat.meter
            words += [] if bars[min(start + _BARS_A_LINE, len(bars)) - 1].closes_repeat else ["|"]
            self.add("  " + " ".join(words), bars[start].beat.where)
        return name

    def bar_words(
        self, bars: Sequence[TextBar], index: int, meter: Meter, *, is_row_start: bool
    ) -> Iterator[str]:
        """Yield a bar with the line before it, and the one after it where it closes a repeat."""
        bar = bars[index]
        yield _left_line(bar, bars[index - 1] if index else None, is_row_start=is_row_start)
        if bar.beat.meter != meter:
            yield f"({bar.beat.meter})"
        if bar.beat.word:
            yield f"({bar.beat.word})"
        yield _chord_words(bar.beat.struck, bar.beat.meter.beats_per_bar)
        if bar.closes_repeat:
            yield ":|" + (f" x{bar.passes}" if bar.passes > 2 else "")

    def unique_name(self, raw: str) -> str:
        """Return a section's name that a chart may have, and none twice."""
        name = one_line(re.sub(r"[,:|#<>%()]", " ", raw))[:_LONGEST_NAME].strip() or FIRST_SECTION
        if name.casefold() in SETTING_NAMES or not name[0].isalnum():
            name = f"part {name}"
        name = re.sub(r"(?i)(?:\b|(?<=\s))[x×]\s?([0-9]+)$", r"\1", name)
        found, count = name, 1
        while found.casefold() in self.taken:
            count += 1
            found = f"{name} {count}"
        self.taken.add(found.casefold())
        return found


def _left_line(bar: TextBar, before: TextBar | None, *, is_row_start: bool) -> str:
    """Return the line before a bar, empty where the end of a repeat stands there."""
    if bar.opens_repeat:
        return "|:"
    is_fresh = before is None or before.endings != bar.endings or before.closes_repeat
    if bar.endings and is_fresh:
        return "|" + ",".join(map(str, bar.endings)) + "."
    if before and before.closes_repeat and not is_row_start:
        return ""
    if before and before.endings and not bar.endings:
        # Without it the ending would last to the section's end.
        return "||"
    return "|"


def _chord_words(struck: Sequence[Struck], beats: int) -> str:
    """Return the chords of a bar, the first of them on its first beat."""
    texts = [(chord.push.sign if chord.push else "") + chord.symbol for chord in struck]
    ends = [chord.beat for chord in struck[1:]] + [beats]
    lengths = [end - chord.beat for chord, end in zip(struck, ends, strict=True)]
    if len(set(lengths)) == 1:
        return " ".join(texts)
    return " ".join(
        " ".join([text, *["/"] * (length - 1)]) for text, length in zip(texts, lengths, strict=True)
    )
