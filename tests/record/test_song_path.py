"""The cheapest way through a song, held against all ways, one after the other."""

from collections.abc import Iterator

import numpy
import pytest

from groove.record.song_path import NO_PLACE, Doors, Edits, PathCosts, SongMap, song_path

SIZE = 8
STARTS, ENDS = numpy.array([0, 2, 4, 6]), numpy.array([1, 3, 5, 7])
SONG = SongMap(
    bar_starts=STARTS,
    bar_ends=ENDS,
    ins=Doors(places=numpy.array([0, 4]), costs=numpy.zeros(2)),
    outs=Doors(places=numpy.array([3, 7]), costs=numpy.zeros(2)),
)
# After each bar it may come again, for .2; after the first bar the third may come, for .35.
OPEN_SONG = SongMap(
    bar_starts=STARTS,
    bar_ends=ENDS,
    ins=Doors(places=STARTS, costs=numpy.array([0.0, 0.25, 0.0, 0.15])),
    outs=Doors(places=ENDS, costs=numpy.array([0.3, 0.0, 0.1, 0.0])),
    edits=Edits(
        sources=numpy.array([ENDS, [0, 0, 1, 0]]),
        costs=numpy.array([[0.2] * 4, [numpy.inf, numpy.inf, 0.35, numpy.inf]]),
    ),
)
PRICES = PathCosts(bent=0.1, jump=0.6, elsewhere=0.5, cut=0.9)
EASY = PathCosts(bent=0.1, jump=0.3, elsewhere=0.5, cut=0.9)


Cells = list[list[float]]
Offers = Iterator[tuple[int, int, float]]
BEFORE, BETWEEN, AFTER = -1, -2, -3


def cheapest(song: SongMap, cells: Cells, begins_at: int | None) -> float:
    """Return what the cheapest way costs, by Bellman's equation over every state and move."""
    steps = len(cells)
    best: dict[tuple[int, int], float] = {(0, BEFORE): 0.0}
    for step in range(steps):
        for (done, place), cost in list(best.items()):
            if done == step:
                for taken, to, more in moves(song, cells, step, place, begins_at):
                    key = (step + taken, to)
                    best[key] = min(best.get(key, numpy.inf), cost + more)
    finals = [best.get((steps, AFTER), numpy.inf)]
    for end in song.bar_ends.tolist():
        finals.append(best.get((steps, end), numpy.inf) + cut_off(end))
    return min(finals)


def cut_off(place: int) -> float:
    """Return what it costs to break off after a place."""
    return 0.0 if place == SIZE - 1 else PRICES.cut


def moves(song: SongMap, cells: Cells, step: int, place: int, begins_at: int | None) -> Offers:
    """Yield how many steps a move takes, where to, and for how much."""
    if place >= 0:
        yield from moves_inside(song, cells, step, place)
        return
    yield 1, place, PRICES.elsewhere
    if place == BETWEEN:
        for at, more in doors(song.ins).items():
            yield 1, at, PRICES.jump + more + cells[step][at]
    if place == BEFORE and begins_at in (None, step):
        starts = [0] if begins_at is not None else song.bar_starts.tolist()
        yield from ((1, at, cells[step][at] + (PRICES.cut if at else 0)) for at in starts)


def doors(of: Doors) -> dict[int, float]:
    """Return what each door costs."""
    return dict(zip(of.places.tolist(), of.costs.tolist(), strict=True))


def moves_inside(song: SongMap, cells: Cells, step: int, place: int) -> Offers:
    """Yield all that can follow a place in the song."""
    row = cells[step]
    if place + 1 < SIZE:
        yield 1, place + 1, row[place + 1]
        if step + 1 < len(cells):
            yield 2, place + 1, row[place + 1] + cells[step + 1][place + 1] + PRICES.bent
    if place + 2 < SIZE:
        yield 1, place + 2, row[place + 2] + PRICES.bent
    if place in (outs := doors(song.outs)):
        yield 1, BETWEEN, outs[place] + PRICES.jump + PRICES.elsewhere
        for at, more in doors(song.ins).items():
            yield 1, at, outs[place] + PRICES.jump + more + row[at]
    if song.edits is not None:
        for kind, bar in numpy.argwhere(song.edits.sources == place):
            at = int(song.bar_starts[bar])
            yield 1, at, float(song.edits.costs[kind, bar]) + row[at]
    if place in song.bar_ends:
        yield 1, AFTER, cut_off(place) + PRICES.elsewhere


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("begins_at", [None, 2])
@pytest.mark.parametrize("song", [SONG, OPEN_SONG], ids=["sections", "edits"])
def test_no_way_is_cheaper(song: SongMap, seed: int, begins_at: int | None) -> None:
    rng = numpy.random.default_rng(seed)
    steps = 12 + seed
    cells = rng.random((steps, SIZE)).astype(numpy.float32)
    found = song_path(
        lambda first, end: cells[first:end], steps, song, SIZE, PRICES, begins_at=begins_at
    )
    assert found.cost == pytest.approx(cheapest(song, cells.tolist(), begins_at), abs=1e-4)
    if begins_at is not None:
        assert found.places[begins_at] == 0
        assert (found.places[:begins_at] == NO_PLACE).all()
    # What each step is said to cost is what is paid in all, and never less than its cell.
    cut = cut_off(int(found.places[-1])) if found.places[-1] != NO_PLACE else 0.0
    ended = found.places[found.places != NO_PLACE]
    if len(ended) and found.places[-1] == NO_PLACE:
        cut = cut_off(int(ended[-1]))
    assert found.paid.sum() + cut == pytest.approx(found.cost, abs=1e-4)
    inside = found.places != NO_PLACE
    own = cells[numpy.arange(steps)[inside], found.places[inside]]
    assert (found.paid[inside] >= own - 1e-6).all()
    assert (found.paid[~inside] == PRICES.elsewhere).all()


def test_a_record_at_half_the_tempo_stays_on_each_step() -> None:
    cells = numpy.full((2 * SIZE - 1, SIZE), 2.0, numpy.float32)
    laid = [0, *(place for place in range(1, SIZE) for _ in range(2))]
    cells[numpy.arange(len(laid)), laid] = 0.0
    found = song_path(lambda first, end: cells[first:end], len(laid), SONG, SIZE, PRICES)
    assert found.places.tolist() == laid
    assert found.cost == pytest.approx((SIZE - 1) * PRICES.bent)


def test_the_way_is_the_one_that_is_paid() -> None:
    """A way that is laid out by hand: noise, the second section, noise, both, noise."""
    laid = [None, None, 4, 5, 6, 7, None, None, None, 0, 1, 2, 3, 4, 5, 6, 7, None]
    cells = numpy.full((len(laid), SIZE), 2.0, numpy.float32)
    for step, place in enumerate(laid):
        if place is not None:
            cells[step, place] = 0.0
    found = song_path(lambda first, end: cells[first:end], len(laid), SONG, SIZE, EASY)
    assert found.places.tolist() == [NO_PLACE if place is None else place for place in laid]
    # Six steps outside the song, a beginning inside it, out of it and in again.
    assert found.cost == pytest.approx(6 * 0.5 + 0.9 + 0.3 + 0.3)
    # A move is paid where it leads to, leaving with the return.
    paid = [0.5 if place is None else 0.0 for place in laid]
    paid[2], paid[9] = 0.9, 0.6
    assert found.paid == pytest.approx(paid)


def test_a_jump_is_paid_at_both_of_its_doors() -> None:
    """The first bar, then the last one: out for .3 and in for .15, beside the jump's own .3."""
    laid = [0, 1, 6, 7]
    cells = numpy.full((4, SIZE), 2.0, numpy.float32)
    cells[numpy.arange(4), laid] = 0.0
    found = song_path(lambda first, end: cells[first:end], 4, OPEN_SONG, SIZE, EASY)
    assert found.places.tolist() == laid
    assert found.paid == pytest.approx([0.0, 0.0, 0.75, 0.0])
    assert found.cost == pytest.approx(0.75)
