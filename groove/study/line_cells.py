"""The cells that a line is made of: its different bars, in ones and twos, and their places."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from math import lcm
from statistics import median_low

from msgspec import Struct

from groove.arrange.levels import LEVEL_VELOCITIES
from groove.cells.model import FORMAT, BassBar, BassCell
from groove.cells.read import bass_bar
from groove.cells.tokens import HOLD, REST, is_struck, parse_token, token_text
from groove.study.note_kinds import PlacedNote
from groove.study.studied_line import StudyBar
from groove.timing import Meter

_MOST_NAMED = 6

Steps = tuple[str, ...]
"""The slots of a bar as a cell file has them."""


class BarPattern(Struct, frozen=True, kw_only=True):
    """A bar as a cell has it: meter, grid, and what is struck, held and left out on each slot."""

    meter: Meter
    slots_per_beat: int
    steps: Steps

    @property
    def strikes(self) -> tuple[tuple[Fraction, str], ...]:
        """What is struck where, in beats from the bar line: two bars with the same are one cell."""
        return tuple(
            (Fraction(slot, self.slots_per_beat), step)
            for slot, step in enumerate(self.steps)
            if is_struck(step)
        )

    def on_grid(self, slots_per_beat: int) -> Steps:
        """Return the steps on a grid that is a whole number of times finer."""
        times = slots_per_beat // self.slots_per_beat
        return tuple(part for step in self.steps for part in (step, *[_after(step)] * (times - 1)))


class StudyCell(Struct, frozen=True, kw_only=True):
    """A cell of one or two bars that a line plays.

    ``bars`` are the numbers of the bars where it begins; ``levels`` has for each bar of the
    pattern the level (1 to 9) of each slot that is struck, 0 elsewhere: the middle one of all
    times that it is played.
    """

    patterns: tuple[BarPattern, ...]
    levels: tuple[tuple[int, ...], ...]
    bars: tuple[int, ...]

    @property
    def times(self) -> int:
        """How often it is played."""
        return len(self.bars)


def bar_patterns(notes: Sequence[PlacedNote], bars: Sequence[StudyBar]) -> list[BarPattern]:
    """Return each bar as a cell has it; a note over a bar line is held at the next head."""
    own = {
        number: tuple(group)
        for number, group in groupby(notes, key=lambda each: each.bar.frame.start_quarters)
    }
    found: list[BarPattern] = []
    over = Fraction(0)
    for bar in bars:
        steps = [REST] * bar.slot_count
        head = min(int(over / bar.slot_quarters), bar.slot_count)
        steps[:head] = [HOLD] * head
        over = max(Fraction(0), over - bar.frame.meter.bar_quarters)
        for each in own.get(bar.frame.start_quarters, ()):
            slot, end = each.note.slot, each.note.slot + each.note.slots
            inside = min(end, bar.slot_count)
            steps[slot:inside] = [token_text(each.aim), *[HOLD] * (inside - slot - 1)]
            over = max(0, end - bar.slot_count) * bar.slot_quarters
        found.append(_pattern(bar, steps))
    return found


def _pattern(bar: StudyBar, steps: list[str]) -> BarPattern:
    """Return a bar's pattern on a grid of whole slots a beat, as a cell file asks for."""
    per_beat = bar.slots_per_beat
    finer = per_beat.denominator
    spread = tuple(part for step in steps for part in (step, *[_after(step)] * (finer - 1)))
    return BarPattern(meter=bar.frame.meter, slots_per_beat=int(per_beat * finer), steps=spread)


def _after(step: str) -> str:
    """Return what stands behind a step where the grid is made finer."""
    return REST if step == REST else HOLD


# --- which bars make a cell ------------------------------------------------------------------


def distinct_cells(
    patterns: Sequence[BarPattern], notes: Sequence[PlacedNote], bars: Sequence[StudyBar]
) -> tuple[StudyCell, ...]:
    """Return the different cells of a line, the most played first; empty bars are none.

    Two bars that follow each other are one cell where they come together at least twice, and
    neither comes as often without the other.
    """
    spans = list(_spans([pattern.strikes for pattern in patterns]))
    levels = _levels(notes)
    found: dict[tuple[object, ...], list[range]] = {}
    for span in spans:
        key = tuple((patterns[index].meter, patterns[index].strikes) for index in span)
        found.setdefault(key, []).append(span)
    cells = [_cell(spans, patterns, levels, bars) for spans in found.values()]
    return tuple(sorted(cells, key=lambda cell: -cell.times * len(cell.patterns)))


_Strikes = tuple[tuple[Fraction, str], ...]


def _spans(strikes: Sequence[_Strikes]) -> Iterator[range]:
    """Yield the bars of each cell that is played, in order."""
    single = Counter(strikes)
    pairs = Counter(pair for pair in pairwise(strikes) if pair[0] != pair[1] and all(pair))
    index = 0
    while index < len(strikes):
        pair = tuple(strikes[index : index + 2])
        together = pairs[pair] if len(pair) == 2 else 0
        is_cell = together >= 2 and 2 * together > max(single[bar] for bar in pair)
        length = 2 if is_cell else 1
        if strikes[index]:
            yield range(index, index + length)
        index += length


def _levels(notes: Sequence[PlacedNote]) -> dict[tuple[Fraction, Fraction], int]:
    """Return the level of each note, by where its bar starts and how far into it, in quarters."""
    return {
        (each.bar.frame.start_quarters, each.note.slot * each.bar.slot_quarters): nearest_level(
            each.note.velocity
        )
        for each in notes
    }


def nearest_level(velocity: int) -> int:
    """Return the level, 1 to 9, whose velocity is nearest."""
    near = min(LEVEL_VELOCITIES, key=lambda known: abs(known - velocity))
    return LEVEL_VELOCITIES.index(near) + 1


def _cell(
    spans: Sequence[range],
    patterns: Sequence[BarPattern],
    levels: Mapping[tuple[Fraction, Fraction], int],
    bars: Sequence[StudyBar],
) -> StudyCell:
    """Return the cell that is played over spans of bars; its holds are those played most often."""
    versions = Counter(tuple(patterns[index] for index in span) for span in spans)
    chosen = max(versions, key=lambda version: (versions[version], -_grid(version)))
    grid = _grid(chosen)
    whole = tuple(
        BarPattern(meter=each.meter, slots_per_beat=grid, steps=each.on_grid(grid))
        for each in chosen
    )
    return StudyCell(
        patterns=whole,
        levels=tuple(
            _bar_levels(pattern, [bars[span[place]] for span in spans], levels)
            for place, pattern in enumerate(whole)
        ),
        bars=tuple(bars[span[0]].frame.number for span in spans),
    )


def _grid(version: Sequence[BarPattern]) -> int:
    """Return the slots a beat that serve all bars of a cell."""
    return lcm(*(pattern.slots_per_beat for pattern in version))


def _bar_levels(
    pattern: BarPattern,
    bars: Sequence[StudyBar],
    levels: Mapping[tuple[Fraction, Fraction], int],
) -> tuple[int, ...]:
    """Return the middle level of each slot that is struck, 0 elsewhere."""
    slot_quarters = pattern.meter.pulse_quarters / pattern.slots_per_beat
    return tuple(
        median_low(levels[bar.frame.start_quarters, slot * slot_quarters] for bar in bars)
        if is_struck(step)
        else 0
        for slot, step in enumerate(pattern.steps)
    )


# --- as files ---------------------------------------------------------------------------------


def bass_cell(cell: StudyCell, name: str) -> BassCell:
    """Return a studied cell as one that can be played on any song in its meter."""
    return BassCell(
        name=name,
        summary=summary(cell),
        source=name,
        meter=cell.patterns[0].meter,
        slots_per_beat=cell.patterns[0].slots_per_beat,
        bars=tuple(
            _bass_bar(pattern, levels)
            for pattern, levels in zip(cell.patterns, cell.levels, strict=True)
        ),
    )


def _bass_bar(pattern: BarPattern, levels: Sequence[int]) -> BassBar:
    struck = [slot for slot, step in enumerate(pattern.steps) if is_struck(step)]
    aims = {slot: aim for slot in struck if (aim := parse_token(pattern.steps[slot]))}
    by_slot = {slot: levels[slot] for slot in struck}
    return bass_bar(pattern.steps, aims, by_slot, pattern.slots_per_beat)


def summary(cell: StudyCell) -> str:
    """Return where a cell was found: ``studied: bars 1, 5 and 9``."""
    shown = [str(number) for number in cell.bars[:_MOST_NAMED]]
    more = len(cell.bars) - len(shown)
    return f"studied: bar{'s' if len(cell.bars) > 1 else ''} {', '.join(shown)}" + (
        f" and {more} more" if more else ""
    )


def cell_toml(cell: StudyCell, name: str) -> str:
    """Return a cell as the text of a file for ``--patterns``."""
    meter = cell.patterns[0].meter
    return (
        f"format = {FORMAT}\n"
        f'name = "{name}"\n'
        f'summary = "{summary(cell)}"\n'
        f'meter = "{meter}"\n'
        f"slots_per_beat = {cell.patterns[0].slots_per_beat}\n"
        f'steps  = "{_row(cell, _step)}"\n'
        f'levels = "{_row(cell, _level_mark)}"\n'
    )


def riff_text(cell: StudyCell, name: str) -> str:
    """Return a cell as a block for a chart."""
    return f"riff {name}:\n  {_row(cell, _step)}\n  levels: {_row(cell, _level_mark)}\n"


def steps_row(cell: StudyCell) -> str:
    """Return what is played on each slot, bars parted by a stroke, beats by a wider blank."""
    return _row(cell, _step)


def _row(cell: StudyCell, shown: Callable[[str, int], str]) -> str:
    """Return a row of a cell file, bars parted by a stroke, beats by a wider blank."""
    grid = cell.patterns[0].slots_per_beat
    bars = []
    for pattern, levels in zip(cell.patterns, cell.levels, strict=True):
        marks = [shown(step, level) for step, level in zip(pattern.steps, levels, strict=True)]
        beats = [" ".join(marks[at : at + grid]) for at in range(0, len(marks), grid)]
        bars.append("  ".join(beats))
    return " | ".join(bars)


def _step(step: str, _: int) -> str:
    return step


def _level_mark(_: str, level: int) -> str:
    return str(level or REST)
