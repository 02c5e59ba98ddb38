"""What of a song is worth a loop of its own: hard moves of the hand, ends of sections, sections.

How hard something is, is told by how fast the hand moves and how many notes come in a second: an
order among the places of one song, not a measure of a player.
"""

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum

from msgspec import Struct

from groove.cut import choose_bars
from groove.events import Bar, Note, Part, Performance
from groove.neck.fingering import FingeredLine, Shift
from groove.neck.line_figures import UNHURRIED_MS

MOST_SHORT_LOOPS = 3
"""How many shifts, and how many ends of sections, a plan has by itself."""
SHORT_TIMES, LONG_TIMES = 4, 2
"""How often two bars and longer pieces are played at one tempo; all three are common practice,
no source."""


class ExerciseKind(StrEnum):
    """What an exercise is for."""

    SHIFT = "shift"
    FILL = "fill"
    LOOP = "loop"
    SECTION = "section"
    SONG = "song"


class Exercise(Struct, frozen=True, kw_only=True):
    """Some bars of a performance, by their indices there, and why they are played.

    ``first_bar`` and ``last_bar`` are the chart's numbers; ``shift`` is the move that the loop is
    about, ``into`` the section that a fill leads to; both empty for other kinds.
    """

    kind: ExerciseKind
    bars: tuple[int, ...]
    first_bar: int
    last_bar: int
    sections: tuple[str, ...]
    shift: Shift | None = None
    into: str = ""

    @property
    def is_one_run(self) -> bool:
        """Whether its bars stand one after the other in the chart, and none comes twice."""
        return self.last_bar - self.first_bar + 1 == len(self.bars)

    @property
    def usual_times(self) -> int:
        """How often it is played at one tempo where no number is asked for."""
        if self.kind is ExerciseKind.SONG:
            return 1
        return SHORT_TIMES if len(self.bars) <= 2 else LONG_TIMES


def _exercise(
    kind: ExerciseKind,
    performance: Performance,
    bars: Sequence[int],
    *,
    shift: Shift | None = None,
    into: str = "",
) -> Exercise:
    refs = [performance.bars[index].ref for index in bars]
    return Exercise(
        kind=kind,
        bars=tuple(bars),
        first_bar=refs[0].written_bar,
        last_bar=refs[-1].written_bar,
        sections=tuple(dict.fromkeys(ref.section for ref in refs)),
        shift=shift,
        into=into,
    )


def chosen_loop(performance: Performance, sections: Sequence[str], bars: range | None) -> Exercise:
    """Return the bars that a player asks for (see ``choose_bars``) as one exercise."""
    return _exercise(ExerciseKind.LOOP, performance, choose_bars(performance, sections, bars))


def whole_song(performance: Performance) -> Exercise:
    """Return the song from its first bar to its last."""
    return _exercise(ExerciseKind.SONG, performance, range(len(performance.bars)))


def section_loops(performance: Performance, line: FingeredLine) -> list[Exercise]:
    """Return every section once, as it is played first, the hardest first.

    A ``verse 2`` that is written ``as: verse`` is the verse.  Hardest is where the hand goes the
    farthest in a second, then where the most notes come.
    """
    names: dict[str, str] = {}
    for bar in performance.bars:
        if bar.ref.is_written:
            names.setdefault(bar.place.like or bar.ref.section, bar.ref.section)
    loops = [
        _exercise(ExerciseKind.SECTION, performance, choose_bars(performance, (name,)))
        for name in names.values()
    ]
    return sorted(loops, key=lambda loop: _section_ease(performance, line, loop.bars))


def _section_ease(
    performance: Performance, line: FingeredLine, bars: Sequence[int]
) -> tuple[float, float]:
    """Return minus the way of the hand in mm a second, and minus the notes a second."""
    played = {performance.bars[index].ref.played_bar for index in bars}
    second = performance.tempo_map.tick_to_sec
    ends = ((performance.bars[n].start_tick, performance.bars[n].end_tick) for n in bars)
    sec = sum(second(end) - second(start) for start, end in ends)
    travel = sum(
        shift.travel_mm
        for shift in line.shifts
        if line.notes[shift.note_index].origin.bar.played_bar in played
    )
    notes = sum(note.origin.bar.played_bar in played for note in line.notes)
    return -travel / sec, -notes / sec


def shift_loops(
    performance: Performance, line: FingeredLine, *, within: Sequence[int]
) -> list[Exercise]:
    """Return loops of two bars about the moves of the hand, the fastest move first.

    A loop is the bar of the move and the one before it, which leads there; no bar of the chart is
    in two, and bars with the same notes stand for all that are like them.  Moves with more than a
    second's time are no matter.
    ``within`` are the indices of the bars to look at.
    """
    index_of = {performance.bars[index].ref.played_bar: index for index in within}
    hurried = [shift for shift in line.shifts if 0 < shift.time_ms <= UNHURRIED_MS]
    loops = []
    for shift in sorted(hurried, key=lambda shift: -shift.travel_mm / shift.time_ms):
        index = index_of.get(line.notes[shift.note_index].origin.bar.played_bar)
        pair = None if index is None else _with_the_bar_before(performance.bars, index)
        if pair:
            loops.append(_exercise(ExerciseKind.SHIFT, performance, pair, shift=shift))
    return _apart(_different(performance, loops))


def _apart(loops: Iterable[Exercise]) -> list[Exercise]:
    """Return the loops without those that share a bar of the chart with one before them."""
    taken: set[int] = set()
    kept: list[Exercise] = []
    for loop in loops:
        if taken.isdisjoint((loop.first_bar, loop.last_bar)):
            taken |= {loop.first_bar, loop.last_bar}
            kept.append(loop)
    return kept


def _with_the_bar_before(bars: Sequence[Bar], index: int) -> tuple[int, ...]:
    """Return a bar and the one before it, the song's first and the one after it."""
    first = index - 1 if index and bars[index - 1].ref.is_written else index
    return tuple(range(first, min(first + 2, len(bars))))


def fill_loops(performance: Performance, *, within: Sequence[int]) -> list[Exercise]:
    """Return loops of two bars about fills and turnarounds, the busiest fill first.

    A turnaround is the last bar of a section with the first of the next; a fill stands there or
    inside a section, and leads into the bar after it.  Bars of the chart are one loop, however
    they vary, and so are bars with the same notes.
    """
    bars = performance.bars
    fill_notes: dict[int, int] = {}
    for note in performance.part_notes(Part.BASS):
        if not note.origin.time_keeping:
            number = note.origin.bar.played_bar
            fill_notes[number] = fill_notes.get(number, 0) + 1
    loops = []
    for index in within:
        if index + 1 >= len(bars) or not bars[index].ref.is_written:
            continue
        ends = bars[index].place.bars_to_next == 1
        if ends or bars[index].ref.played_bar in fill_notes:
            into = bars[index + 1].ref.section if ends else ""
            pair = (index, index + 1)
            loops.append(_exercise(ExerciseKind.FILL, performance, pair, into=into))
    busiest = sorted(loops, key=lambda loop: -fill_notes.get(bars[loop.bars[0]].ref.played_bar, 0))
    by_place: dict[tuple[int, int], Exercise] = {}
    for loop in _different(performance, busiest):
        by_place.setdefault((loop.first_bar, loop.last_bar), loop)
    return list(by_place.values())


def _different(performance: Performance, loops: Iterable[Exercise]) -> list[Exercise]:
    """Return the loops without those whose bass plays as in one before them."""
    own: dict[int, list[Note]] = {}
    for note in performance.part_notes(Part.BASS):
        own.setdefault(note.origin.bar.played_bar, []).append(note)
    kept: dict[object, Exercise] = {}
    for loop in loops:
        kept.setdefault(tuple(_line_of(performance, loop.bars, own)), loop)
    return list(kept.values())


def _line_of(
    performance: Performance, bars: Sequence[int], own: dict[int, list[Note]]
) -> Iterator[tuple[int, int, int]]:
    """Yield what the bass plays in some bars, wherever they stand: bar, tick in it, pitch."""
    for number, index in enumerate(bars):
        bar = performance.bars[index]
        for note in own.get(bar.ref.played_bar, ()):
            yield number, note.grid_tick - bar.start_tick, note.pitch


def usual_exercises(performance: Performance, line: FingeredLine) -> list[Exercise]:
    """Return what a song asks to be practised where nothing is chosen, the hardest first.

    The fastest moves of the hand, the busiest fills and turnarounds, every section, the whole.
    """
    every = range(len(performance.bars))
    return [
        *shift_loops(performance, line, within=every)[:MOST_SHORT_LOOPS],
        *fill_loops(performance, within=every)[:MOST_SHORT_LOOPS],
        *section_loops(performance, line),
        whole_song(performance),
    ]
