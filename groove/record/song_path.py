"""The cheapest way through a song that a record can have gone: bar by bar, or with other sections.

The record is cut into steps of equal time, the song as the chart has it into steps of about the
same.  A cell costs what is heard there less what the chart says should sound.  The way goes on
through the song at half to double its tempo; at a section's end it may jump to any section, or
leave the song for a while; before it begins and after it ends the record may hold anything.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import float32, float64, intp, uint8
    from numpy.typing import NDArray

    Floats = NDArray[float32]
    Doubles = NDArray[float64]
    Places = NDArray[intp]
    Moves = NDArray[uint8]

NO_PLACE = -1
"""Where a step of the record is no part of the song."""

_BLOCK = 256
_FAR = 1e9
_ON, _QUICK, _SLOW, _JUMPED, _RETURNED, _BEGAN = range(6)


@dataclass(frozen=True, slots=True, kw_only=True)
class SongMap:
    """Where in the song, in its own steps, a way may jump: all of them rise.

    ``starts`` and ``ends`` are the first and the last step of each section that is played,
    ``bar_starts`` and ``bar_ends`` those of each bar: a record may begin or break off there.
    """

    starts: "Places"
    ends: "Places"
    bar_starts: "Places"
    bar_ends: "Places"


@dataclass(frozen=True, slots=True, kw_only=True)
class PathCosts:
    """What a way costs beside its cells, in cells.

    ``bent`` is a step at double or half the tempo, ``jump`` one to another section, ``elsewhere``
    each step of the record that is no part of the song, ``cut`` a beginning or an end inside it.
    """

    bent: float
    jump: float
    elsewhere: float
    cut: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SongPath:
    """A way: for each step of the record the step of the song, ``NO_PLACE`` for none.

    ``cost`` is of all of it, ``cells`` that of each step of the record.
    """

    places: "Places"
    cells: "Floats"
    cost: float


class _Rows:
    """What is known at a step of the record: the cheapest way to every step of the song."""

    def __init__(self, steps: int, size: int) -> None:
        """Begin before the record."""
        import numpy

        self.before_last = numpy.full(size, _FAR, numpy.float32)
        self.last = numpy.full(size, _FAR, numpy.float32)
        self.moves = numpy.zeros((steps, size), numpy.uint8)
        self.jumped_from = numpy.zeros(steps, numpy.intp)
        self.left_from = numpy.full(steps, NO_PLACE, numpy.intp)
        self.ended_from = numpy.full(steps, NO_PLACE, numpy.intp)
        self.outside = _FAR
        self.ended = _FAR


def song_path(
    costs: "Callable[[int, int], Floats]",
    steps: int,
    song: SongMap,
    size: int,
    prices: PathCosts,
    *,
    begins_at: int | None = None,
) -> SongPath:
    """Return the cheapest way of a record of ``steps`` steps through a song of ``size``.

    ``costs(first, end)`` gives the cells of some steps of the record, shape (steps, size).  With
    ``begins_at`` the song's first step is at that step of the record.
    """
    import numpy

    rows = _Rows(steps, size)
    row_before = numpy.zeros(size, numpy.float32)
    for first in range(0, steps, _BLOCK):
        block = costs(first, min(steps, first + _BLOCK))
        for number, row in enumerate(block, first):
            _advance(rows, number, row, row_before, song, prices, begins_at)
            row_before = row
    return _traced(rows, steps, song, prices, costs)


def _advance(
    rows: _Rows,
    step: int,
    row: "Floats",
    row_before: "Floats",
    song: SongMap,
    prices: PathCosts,
    begins_at: int | None,
) -> None:
    """Go one step of the record on."""
    import numpy

    last, before_last = rows.last, rows.before_last
    best = numpy.full(len(row), _FAR, numpy.float32)
    best[1:] = last[:-1]
    moves = rows.moves[step]
    _take(best, moves, slice(2, None), last[:-2] + numpy.float32(prices.bent), _QUICK)
    slow = before_last[:-1] + row_before[1:] + numpy.float32(prices.bent)
    _take(best, moves, slice(1, None), slow, _SLOW)
    leave = last[song.ends]
    place = int(leave.argmin())
    rows.jumped_from[step] = song.ends[place]
    _take_at(best, moves, song.starts, float(leave[place] + prices.jump), _JUMPED)
    _take_at(best, moves, song.starts, rows.outside + prices.jump, _RETURNED)
    if begins_at is None:
        entry = numpy.full(len(song.bar_starts), step * prices.elsewhere + prices.cut)
        entry[0] -= prices.cut
        _take_at(best, moves, song.bar_starts, entry, _BEGAN)
    elif step == begins_at:
        _take_at(best, moves, song.starts[:1], step * prices.elsewhere, _BEGAN)
    best += row
    left = float(leave[place]) + prices.jump
    if left < rows.outside:
        rows.left_from[step] = song.ends[place]
    rows.outside = min(left, rows.outside) + prices.elsewhere
    _end(rows, step, song, prices)
    rows.before_last, rows.last = last, best


def _take(best: "Floats", moves: "Moves", where: slice, offered: "Floats", move: int) -> None:
    """Take what is offered along the song where it is cheaper."""
    import numpy

    own = best[where]
    numpy.copyto(moves[where], numpy.uint8(move), where=offered < own)
    numpy.minimum(own, offered, out=own)


def _take_at(
    best: "Floats", moves: "Moves", where: "Places", offered: "float | Doubles", move: int
) -> None:
    """Take what is offered at some steps of the song where it is cheaper."""
    import numpy

    cheaper = offered < best[where]
    if cheaper.any():
        taken = where[cheaper]
        best[taken] = numpy.broadcast_to(offered, cheaper.shape)[cheaper]
        moves[taken] = move


def _end(rows: _Rows, step: int, song: SongMap, prices: PathCosts) -> None:
    """Let the song be over from this step on, as it stood after the step before."""
    place, cost = _cheapest_end(rows.last, song, prices)
    if cost < rows.ended:
        rows.ended_from[step] = place
    rows.ended = min(cost, rows.ended) + prices.elsewhere


def _cheapest_end(row: "Floats", song: SongMap, prices: PathCosts) -> tuple[int, float]:
    """Return where the song ends most cheaply after a step, and for how much."""
    ends = row[song.bar_ends] + prices.cut
    ends[-1] -= prices.cut
    place = int(ends.argmin())
    return int(song.bar_ends[place]), float(ends[place])


def _traced(
    rows: _Rows,
    steps: int,
    song: SongMap,
    prices: PathCosts,
    costs: "Callable[[int, int], Floats]",
) -> SongPath:
    """Return the way back from where the record ends."""
    import numpy

    places = numpy.full(steps, NO_PLACE, numpy.intp)
    place, cost = _cheapest_end(rows.last, song, prices)
    step = steps - 1
    if rows.ended < cost:
        cost = rows.ended
        while step >= 0 and rows.ended_from[step] == NO_PLACE:
            step -= 1
        place = int(rows.ended_from[step])
        step -= 1
    while step >= 0 and place >= 0:
        places[step] = place
        move = rows.moves[step, place]
        if move == _BEGAN:
            break
        if move == _SLOW:
            step -= 1
            places[step] = place
        step -= 1
        if move == _JUMPED:
            place = int(rows.jumped_from[step + 1])
        elif move == _RETURNED:
            while step >= 0 and rows.left_from[step] == NO_PLACE:
                step -= 1
            place = int(rows.left_from[step])
            step -= 1
        else:
            place -= 2 if move == _QUICK else 1
    cells = numpy.full(steps, prices.elsewhere, numpy.float32)
    for first in range(0, steps, _BLOCK):
        block = costs(first, min(steps, first + _BLOCK))
        own = places[first : first + len(block)]
        inside = numpy.nonzero(own != NO_PLACE)[0]
        cells[first + inside] = block[inside, own[inside]]
    return SongPath(places=places, cells=cells, cost=cost)
