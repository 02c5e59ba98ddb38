"""From a block of a chart to the cell that it is in a meter."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import lru_cache
from math import lcm

from groove.cells.conditions import CONDITIONS
from groove.cells.model import (
    BassBar,
    BassCell,
    Cell,
    DrumCell,
    DrumStroke,
    KeysCell,
    KeysStroke,
)
from groove.cells.read import SLOTS_PER_BEAT, bass_bar
from groove.cells.tokens import held_slots, is_struck, parse_token
from groove.chart.model import DEFAULT_METER, Named, Riff, RiffRow, Slot, Song
from groove.errors import ChartError
from groove.events import Part
from groove.naming import fold_name
from groove.notices import Notice, NoticeKind, make_notice
from groove.timing import Meter

GHOST_LEVEL = 3
LEVEL_RULE = (("the first beat", Fraction(0), 9), ("a beat", Fraction(1), 8),
              ("half a beat", Fraction(1, 2), 7))  # fmt: skip
OTHER_LEVEL = 6
"""How loud a stroke is where no level is written, by where it falls.

Common practice, no source.
"""


def riffs_by_name(song: Song) -> Mapping[tuple[Part, str], Riff]:
    """Return the song's own cells by part and folded name."""
    return {(riff.part, fold_name(riff.name)): riff for riff in song.riffs}


def check_riffs(song: Song) -> list[Notice]:
    """Refuse a block that does not fit the meter of a section that plays it.

    Returns a notice for each block that nobody plays.
    """
    known = riffs_by_name(song)
    played = set()
    for section in song.sections:
        settings = section.settings.over(song.settings)
        for part in (Part.BASS, Part.DRUMS, Part.KEYS):
            named: Named | None = getattr(settings, part)
            key = (part, fold_name(named.name) if named else "")
            if key in known:
                riff_cell(known[key], settings.meter or DEFAULT_METER)
                played.add(key)
    return [_unplayed_notice(riff) for key, riff in known.items() if key not in played]


def _unplayed_notice(riff: Riff) -> Notice:
    kind, line = NoticeKind.UNPLAYED_RIFF, riff.place.line
    return make_notice(kind, name=riff.name, line=line, part=riff.part.value)


@lru_cache(maxsize=1024)
def riff_cell(riff: Riff, meter: Meter) -> Cell:
    """Return the cell that a block is in a meter.

    Raises ChartError where a bar of it has no whole number of slots to each beat.
    """
    grids = [slots_per_beat(riff, bar, meter) for row in riff.rows for bar in row.bars]
    grid = lcm(*grids)
    if grid not in SLOTS_PER_BEAT:
        raise ChartError(
            f"the bars of {riff.name} have no common grid",
            place=riff.place,
            hint=f"expected at most {SLOTS_PER_BEAT[-1]} slots a beat that serve all its bars",
        )
    makers: dict[Part, Callable[[Riff, Meter, int], Cell]] = {
        Part.BASS: _bass_cell,
        Part.DRUMS: _drum_cell,
        Part.KEYS: _keys_cell,
    }
    return makers[riff.part](riff, meter, grid)


def slots_per_beat(riff: Riff, bar: tuple[Slot, ...], meter: Meter) -> int:
    """Return how many slots each beat of a bar has.  Raises ChartError where it is no number."""
    beats = meter.pulse_count
    count, rest = divmod(len(bar), beats)
    if rest or count not in SLOTS_PER_BEAT:
        usual = [beats * slots for slots in (1, 2, 3, 4)]
        raise ChartError(
            f"found {len(bar)} slots in a bar of {riff.name}, played in {meter}: "
            f"{meter.pulse_words}",
            place=bar[0].place,
            hint="expected a whole number to each: "
            + ", ".join(map(str, usual[:-1]))
            + f" or {usual[-1]} slots; or the meter that it is in",
        )
    return count


def _stroke_level(slot: Slot, beats: Fraction) -> int:
    """Return how loud a slot is struck: as written, else by where it falls."""
    if slot.level is not None:
        return slot.level
    return GHOST_LEVEL if slot.token.casefold() == "x" else place_level(beats)


@lru_cache(maxsize=1024)
def tick_level(tick: int, pulse_ticks: int) -> int:
    """Return how loud a stroke is by its tick from the bar line."""
    return place_level(Fraction(tick, pulse_ticks))


def place_level(beats: Fraction) -> int:
    """Return how loud a stroke is by where it falls, in beats from the bar line."""
    if beats == 0:
        return LEVEL_RULE[0][2]
    on_grid = (level for _, unit, level in LEVEL_RULE[1:] if (beats / unit).denominator == 1)
    return next(on_grid, OTHER_LEVEL)


def _bass_cell(riff: Riff, meter: Meter, grid: int) -> BassCell:
    rows = {row.name: tuple(riff_bar(bar, meter) for bar in row.bars) for row in riff.rows}
    for row in riff.rows:
        if row.name and CONDITIONS[row.name].of_one_bar and len(row.bars) > 1:
            raise ChartError(
                f"found {len(row.bars)} bars for {row.name}",
                place=row.bars[1][0].place,
                hint=f"expected one, which is played {CONDITIONS[row.name].words}",
            )
    return BassCell(
        name=riff.name,
        summary="the chart's own",
        source=riff.place.source,
        meter=meter,
        slots_per_beat=grid,
        bars=rows[""],
        when=tuple((name, bars) for name, bars in rows.items() if name),
        as_written=True,
    )


def riff_bar(bar: tuple[Slot, ...], meter: Meter) -> BassBar:
    """Return one bar of a riff; its steps count its own slots."""
    count = len(bar) // meter.pulse_count
    struck = [index for index, slot in enumerate(bar) if is_struck(slot.token)]
    aims = {index: parse_token(bar[index].token) for index in struck}
    return bass_bar(
        tuple(slot.token for slot in bar),
        {index: aim for index, aim in aims.items() if aim},
        {index: _stroke_level(bar[index], Fraction(index, count)) for index in struck},
        count,
    )


def _drum_cell(riff: Riff, meter: Meter, grid: int) -> DrumCell:
    """Return the drum cell of a block; a shorter row is played again under a longer one."""
    longest = max(len(row.bars) for row in riff.rows)
    for row in riff.rows:
        if longest % len(row.bars):
            raise ChartError(
                f"found {len(row.bars)} bars beside {longest}",
                place=row.bars[0][0].place,
                hint=f"expected as many bars as the other rows, or a divisor of {longest}",
            )
    bars = tuple(
        tuple(stroke for row in riff.rows for stroke in _drum_strokes(row, index, meter))
        for index in range(longest)
    )
    return DrumCell(
        name=riff.name,
        summary="the chart's own",
        source=riff.place.source,
        meter=meter,
        slots_per_beat=grid,
        bars=bars,
        as_written=True,
    )


def _drum_strokes(row: RiffRow, index: int, meter: Meter) -> list[DrumStroke]:
    bar = row.bars[index % len(row.bars)]
    count = len(bar) // meter.pulse_count
    return [
        DrumStroke(
            step=step, start_beats=Fraction(step, count), key=row.name, level=int(slot.token)
        )
        for step, slot in enumerate(bar)
        if is_struck(slot.token)
    ]


def _keys_cell(riff: Riff, meter: Meter, grid: int) -> KeysCell:
    """Return the keys cell of a block: the whole voicing at each level, held over its dashes."""
    return KeysCell(
        name=riff.name,
        summary="the chart's own",
        source=riff.place.source,
        meter=meter,
        slots_per_beat=grid,
        bars=tuple(_keys_strokes(bar, meter) for bar in riff.rows[0].bars),
        as_written=True,
    )


def _keys_strokes(bar: tuple[Slot, ...], meter: Meter) -> tuple[KeysStroke, ...]:
    count = len(bar) // meter.pulse_count
    tokens = tuple(slot.token for slot in bar)
    return tuple(
        KeysStroke(
            step=step,
            start_beats=Fraction(step, count),
            length_beats=Fraction(held_slots(tokens, step), count),
            level=int(token),
        )
        for step, token in enumerate(tokens)
        if is_struck(token)
    )
