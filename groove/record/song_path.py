"""The cheapest way through a song that a record can have gone: bar by bar, or with another form.

The record is cut into steps of equal time, the song as the chart has it into steps of about the
same.  A cell costs what is heard there less what the chart says should sound.  The way goes on
through the song at half to double its tempo; at the doors of the song (the ends of sections, and
dearer ones inside them) it may jump, or leave the song for a while; before it begins and after it
ends the record may hold anything.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import uint8
    from numpy.typing import NDArray

    from groove.arrays import Doubles, Floats, Places

    Moves = NDArray[uint8]

NO_PLACE = -1
"""Where a step of the record is no part of the song."""

_BLOCK = 256
_FAR = 1e9
_ON, _QUICK, _SLOW, _JUMPED, _RETURNED, _BEGAN, _EDITED = range(7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """Steps of the song by which a way leaves it or comes in, and what each costs, in cells."""

    places: "Places"
    costs: "Doubles"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edits:
    """Ways to go on at a bar that is not the next one, shape (kinds, bars).

    ``sources`` is the last step of the bar after which each bar may come, ``costs`` what that
    costs, in cells; infinite where there is no such way.
    """

    sources: "Places"
    costs: "Doubles"


@dataclass(frozen=True, slots=True, kw_only=True)
class SongMap:
    """Where in the song, in its own steps, a way may jump: all of them rise.

    ``bar_starts`` and ``bar_ends`` are the first and the last step of each bar that is played: a
    record may begin or break off there.
    """

    bar_starts: "Places"
    bar_ends: "Places"
    ins: Doors
    outs: Doors
    edits: Edits | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PathCosts:
    """What a way costs beside its cells, in cells.

    ``bent`` is a step at double or half the tempo, ``jump`` one out of a door and in by another,
    ``elsewhere`` each step of the record that is no part of the song, ``cut`` a beginning or an end
    inside it.
    """

    bent: float
    jump: float
    elsewhere: float
    cut: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SongPath:
    """A way: for each step of the record the step of the song, ``NO_PLACE`` for none.

    ``paid`` is what each step of the record costs, with the move that led there; ``cost`` is of
    all of it, an end inside the song too.
    """

    places: "Places"
    paid: "Doubles"
    cost: float


class _Rows:
    """What is known at a step of the record: the cheapest way to every step of the song."""

    def __init__(self, steps: int, size: int, bars: int) -> None:
        import numpy

        self.before_last = numpy.full(size, _FAR, numpy.float32)
        self.last = numpy.full(size, _FAR, numpy.float32)
        self.moves = numpy.zeros((steps, size), numpy.uint8)
        self.jumped_from = numpy.zeros(steps, numpy.intp)
        self.edited_by: list[Moves] = []
        self.left_from = numpy.full(steps, NO_PLACE, numpy.intp)
        self.ended_from = numpy.full(steps, NO_PLACE, numpy.intp)
        self.entry = numpy.empty(bars)
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

    rows = _Rows(steps, size, len(song.bar_starts))
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
    import numpy

    last, before_last = rows.last, rows.before_last
    best = numpy.empty(len(row), numpy.float32)
    best[0] = _FAR
    best[1:] = last[:-1]
    moves = rows.moves[step]
    _take(best, moves, slice(2, None), last[:-2] + numpy.float32(prices.bent), _QUICK)
    slow = before_last[:-1] + row_before[1:] + numpy.float32(prices.bent)
    _take(best, moves, slice(1, None), slow, _SLOW)
    leave = last[song.outs.places] + song.outs.costs
    door = int(leave.argmin())
    rows.jumped_from[step] = song.outs.places[door]
    left = float(leave[door]) + prices.jump
    _take_at(best, moves, song.ins.places, left + song.ins.costs, _JUMPED)
    _take_at(best, moves, song.ins.places, rows.outside + prices.jump + song.ins.costs, _RETURNED)
    if song.edits is not None:
        _edit(rows, best, moves, song.bar_starts, song.edits)
    if begins_at in (None, step):
        _begin(rows, step, best, song.bar_starts[: None if begins_at is None else 1], prices)
    best += row
    if left < rows.outside:
        rows.left_from[step] = song.outs.places[door]
    rows.outside = min(left, rows.outside) + prices.elsewhere
    _end(rows, step, song, prices)
    rows.before_last, rows.last = last, best


def _take(best: "Floats", moves: "Moves", where: slice, offered: "Floats", move: int) -> None:
    """Take what is offered along the song where it is cheaper."""
    import numpy

    own = best[where]
    numpy.putmask(moves[where], offered < own, move)
    numpy.minimum(own, offered, out=own)


def _take_at(
    best: "Floats", moves: "Moves", where: "Places", offered: "Doubles", move: int
) -> None:
    """Take what is offered at some steps of the song where it is cheaper."""
    (cheaper,) = (offered < best[where]).nonzero()
    if cheaper.size:
        taken = where[cheaper]
        best[taken] = offered[cheaper]
        moves[taken] = move


def _edit(rows: _Rows, best: "Floats", moves: "Moves", bar_starts: "Places", edits: Edits) -> None:
    """Come to bars out of their order where that is cheaper."""
    import numpy

    offered = rows.last[edits.sources] + edits.costs
    rows.edited_by.append(offered.argmin(axis=0).astype(numpy.uint8))
    _take_at(best, moves, bar_starts, numpy.minimum.reduce(offered), _EDITED)


def _begin(rows: _Rows, step: int, best: "Floats", bar_starts: "Places", prices: PathCosts) -> None:
    """Let the song begin at this step, with any of some bars."""
    entry = rows.entry[: len(bar_starts)]
    entry[1:] = step * prices.elsewhere + prices.cut
    entry[0] = step * prices.elsewhere
    _take_at(best, rows.moves[step], bar_starts, entry, _BEGAN)


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


def _last_place(
    rows: _Rows, steps: int, song: SongMap, prices: PathCosts
) -> tuple[int, int, float]:
    """Return the last step of the record in the song, its place there, and what all of it costs."""
    place, cost = _cheapest_end(rows.last, song, prices)
    if cost <= rows.ended:
        return steps - 1, place, cost
    left = _door_step(rows.ended_from, steps - 1)
    return left - 1, int(rows.ended_from[left]), rows.ended


def _traced(
    rows: _Rows,
    steps: int,
    song: SongMap,
    prices: PathCosts,
    costs: "Callable[[int, int], Floats]",
) -> SongPath:
    """Return the way back from where the record ends."""
    import numpy

    step, place, cost = _last_place(rows, steps, song, prices)
    places = numpy.full(steps, NO_PLACE, numpy.intp)
    own = numpy.zeros(steps)
    while step >= 0 and place >= 0:
        places[step] = place
        move = rows.moves[step, place]
        if move == _SLOW:
            step -= 1
            places[step] = place
        own[step] = _price(rows, step, place, int(move), song, prices)
        if move == _BEGAN:
            break
        step, place = _before(rows, step, place, int(move), song)
    paid = own + _cells(places, costs, prices.elsewhere)
    return SongPath(places=places, paid=paid, cost=cost)


def _cells(places: "Places", costs: "Callable[[int, int], Floats]", elsewhere: float) -> "Doubles":
    """Return what each step of the record costs where it is, but for its move."""
    import numpy

    steps = len(places)
    paid = numpy.full(steps, elsewhere)
    for first in range(0, steps, _BLOCK):
        block = costs(first, min(steps, first + _BLOCK))
        at = places[first : first + len(block)]
        inside = numpy.nonzero(at != NO_PLACE)[0]
        paid[first + inside] = block[inside, at[inside]]
    return paid


def _door_step(doors: "Places", step: int) -> int:
    """Return the last step, up to one, at which a way out was taken."""
    while step > 0 and doors[step] == NO_PLACE:
        step -= 1
    return step


def _before(rows: _Rows, step: int, place: int, move: int, song: SongMap) -> tuple[int, int]:
    """Return the step of the record, and of the song, from which a move came."""
    if move == _JUMPED:
        return step - 1, int(rows.jumped_from[step])
    if move == _RETURNED:
        left = _door_step(rows.left_from, step - 1)
        return left - 1, int(rows.left_from[left])
    if move == _EDITED and song.edits is not None:
        bar = int(song.bar_starts.searchsorted(place))
        return step - 1, int(song.edits.sources[rows.edited_by[step][bar], bar])
    return step - 1, place - (2 if move == _QUICK else 1)


def _price(
    rows: _Rows, step: int, place: int, move: int, song: SongMap, prices: PathCosts
) -> float:
    """Return what a move costs beside its cell; leaving the song is paid with the return."""
    if move in (_QUICK, _SLOW):
        return prices.bent
    if move == _BEGAN:
        return prices.cut if place else 0.0
    if move == _EDITED and song.edits is not None:
        bar = int(song.bar_starts.searchsorted(place))
        return float(song.edits.costs[rows.edited_by[step][bar], bar])
    if move not in (_JUMPED, _RETURNED):
        return 0.0
    _, source = _before(rows, step, place, move, song)
    doors = song.ins.costs[song.ins.places.searchsorted(place)]
    doors += song.outs.costs[song.outs.places.searchsorted(source)]
    return float(doors) + prices.jump * (2 if move == _RETURNED else 1)
