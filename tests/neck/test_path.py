"""The cheapest path against every path, tried one by one or sampled."""

from collections.abc import Sequence
from itertools import product
from math import inf
from random import Random

import pytest

from groove.events import FretPlace, Touch
from groove.neck.fingering import finger_line
from groove.neck.hand import FrettingHand, Grip, Transition, make_hand, move_facts
from groove.neck.instrument import STANDARD, Tuning
from groove.neck.options import HandSpan, HandWeights, NeckOptions
from groove.neck.path import GripTables, cheapest_grips
from groove.neck.shapes import HandTask, Shape, hand_tasks
from groove.search import exact
from tests.neck.brute_hand import OPENED, WIDE, all_grips, brute_cost, move_cost
from tests.neck.neck_lines import SIXTEENTHS, cell_line, plain_line, tempo

TWO_STRINGS = Tuning("two", (28, 33))
SMALL = make_hand(TWO_STRINGS, NeckOptions(max_fret=7))
STEP = Transition(False, 4, 6)


def plain(pitch: int) -> HandTask:
    return HandTask(pitch, Touch.PLAIN, True, None, None)


@pytest.mark.parametrize("length", [1, 2, 3])
def test_equals_brute_force_on_all_short_lines(length: int) -> None:
    lines = list(product(range(28, 41), repeat=length))
    assert len(lines) == 13**length
    tables = GripTables(SMALL)
    for pitches in lines:
        asked = [plain(pitch) for pitch in pitches]
        steps = [STEP] * length
        expected = brute_cost(SMALL, asked, steps)
        # Told apart from the assertion: a failing one would print all that the tables know.
        cost = cheapest_grips(tables, asked, steps).cost
        assert cost == pytest.approx(expected, abs=1e-9), pitches


def random_asked(rng: Random, hand: FrettingHand) -> HandTask:
    pitch = 28 + int(rng.random() * (hand.options.last_fret + 6))
    touch = (Touch.PLAIN, Touch.PLAIN, Touch.PLAIN, Touch.GHOST, Touch.SLIDE)[int(rng.random() * 5)]
    above = (None, 0, 5, 7)[int(rng.random() * 4)]
    shape = None if above is None else Shape(pitch - above, (0, 5, 7), rng.random() < 0.5)
    return HandTask(pitch, touch, rng.random() < 0.7, shape, above)


def random_step(rng: Random) -> Transition:
    haste = 1 + int(rng.random() * 8)
    return Transition(rng.random() < 0.5, haste, max(haste, 6))


def test_equals_brute_force_on_seeded_lines() -> None:
    rng = Random("neck: brute force")
    compared = finite = 0
    for number in range(300):
        open_strings = ("free", "yes")[number % 2]
        frame = (None, 4, 3)[number % 3]
        options = NeckOptions(max_fret=6, open_strings=open_strings, span=frame)  # type: ignore[arg-type]
        hand = make_hand(TWO_STRINGS, options)
        length = 4 + number % 3
        asked = [random_asked(rng, hand) for _ in range(length)]
        steps = [random_step(rng) for _ in range(length)]
        expected = brute_cost(hand, asked, steps)
        path = cheapest_grips(GripTables(hand), asked, steps)
        assert path.cost == pytest.approx(expected, abs=1e-9)
        finite += path.dead_end is None
        compared += 1
    assert compared == 300
    assert finite > 250


def test_tables_kept_for_several_lines_price_each_as_brute_force_does() -> None:
    # The hand goes from the seventh fret to the first while an open string rings, or does not.
    asked = [plain(40), plain(28), plain(29)]
    tables = GripTables(SMALL)
    costs = []
    for after in (4, 5, 6, 7, 8):
        steps = [STEP, Transition(False, 4, after), Transition(False, 0, after)]
        known = [one._replace(known=(2, after - 4, 1)) for one in asked]
        for line in (asked, known):
            cost = cheapest_grips(tables, line, steps).cost
            assert cost == pytest.approx(brute_cost(SMALL, line, steps), abs=1e-9)
            costs.append(cost)
    assert len(costs) == 10
    assert len(set(costs[::2])) == 5


def test_a_step_is_priced_move_by_move() -> None:
    # The hand that tables price in bulk, grips without their position taken together.
    rng = Random("neck: steps")
    hand = make_hand(STANDARD, NeckOptions())
    tables = GripTables(hand)
    compared = barred = 0
    pairs = [(random_asked(rng, hand), random_asked(rng, hand)) for _ in range(60)]
    # Written places are reached at any speed; the third of an open A lies on the A string whether
    # its root is thought there or on the E string.
    quick = [(plain(29), plain(48))] * 4
    pairs += quick + [(low, high._replace(fixed=FretPlace(1, 5))) for low, high in quick]
    major = Shape(33, (0, 4, 7))
    pairs += [
        (HandTask(37, Touch.PLAIN, True, major, 4), HandTask(33, Touch.PLAIN, True, major, 0))
    ]
    for number, (before, after) in enumerate(pairs):
        step = random_step(rng)._replace(same_run=number % 2 == 0)
        olds, news = tables.layer(before), tables.layer(after)
        facts = move_facts(before, after)
        assert news.costs == list(map(exact, news.costs))
        moves = tables.stage(olds, news, step).moves
        for new, row in zip(news.grips, moves, strict=True):
            wanted = [move_cost(hand, facts, old, new, step) for old in olds.grips]
            assert row == pytest.approx(wanted, abs=1e-9)
            assert row == list(map(exact, row))
            compared += len(row)
            barred += row.count(inf)
    assert compared > 2000
    assert barred > 20


def line_cost(
    hand: FrettingHand,
    asked: Sequence[HandTask],
    steps: Sequence[Transition],
    grips: Sequence[Grip],
) -> float:
    """Return what a whole line costs with the given grips; ``steps[0]`` is not read."""
    cost = sum(map(hand.grip_cost, asked, grips))
    for i in range(1, len(asked)):
        facts = move_facts(asked[i - 1], asked[i])
        cost += move_cost(hand, facts, grips[i - 1], grips[i], steps[i])
    return cost


def test_never_dearer_than_a_sampled_path() -> None:
    rng = Random("neck: sampled paths")
    hand = make_hand(STANDARD, NeckOptions())
    notes = cell_line(["D", "A", "Bm", "G"] * 2, SIXTEENTHS)
    asked, same = hand_tasks(notes, None)
    steps = [Transition(one, 4, 6) for one in same]
    best = cheapest_grips(GripTables(hand), asked, steps)
    assert best.cost == pytest.approx(line_cost(hand, asked, steps, best.grips))
    layers = [all_grips(hand, one) for one in asked]
    for sample in range(100):
        # Half of the samples change a few notes of the best path, which come close to it.
        grips = [layer[int(rng.random() * len(layer))] for layer in layers]
        if sample % 2:
            grips = [
                grip if rng.random() < 0.03 else old
                for old, grip in zip(best.grips, grips, strict=True)
            ]
        assert line_cost(hand, asked, steps, grips) >= best.cost - 1e-9


def frets_hand(last_fret: int) -> FrettingHand:
    """Return a hand whose costs count frets and know no places on the neck."""
    weights = HandWeights(
        twelfth_fret=0, high_position=0, open_string=0, open_muted=0, open_ghost=0, open_missed=0
    )
    even_mm = tuple(36.0 * fret for fret in range(25))
    options = NeckOptions(span=4, open_strings="no", max_fret=last_fret)
    return FrettingHand(TWO_STRINGS, options, even_mm, weights)


def test_a_line_moved_up_keeps_its_shape() -> None:
    # The invariant of fingering by frets: cost and shape depend on distances alone.
    rng = Random("neck: moved up")
    tables = GripTables(frets_hand(24))
    compared = 0
    for _ in range(20):
        # All of these pitches lie on both strings, before and after the move; near the ends of
        # the neck other grips would come and go.
        line = [38 + int(rng.random() * 6) for _ in range(12)]
        low, *moved = (
            cheapest_grips(tables, [plain(pitch + up) for pitch in line], [STEP] * 12)
            for up in range(6)
        )
        for up, high in enumerate(moved, start=1):
            assert high.cost == pytest.approx(low.cost)
            shape = [Grip(g.string, g.fret + up, g.finger, g.position + up) for g in low.grips]
            assert list(high.grips) == shape, up
            compared += 1
    assert compared == 20 * 5


def in_a_hand(grips: Sequence[Grip], ruler_mm: Sequence[float]) -> bool:
    return all(
        g.fret == 0
        or (
            (g.finger, g.fret - g.position) in (WIDE if g.position >= 5 else OPENED)
            and ruler_mm[g.fret] - ruler_mm[g.position] <= 135.0
        )
        for g in grips
    )


def test_the_span_of_the_hand_is_never_exceeded() -> None:
    rng = Random("neck: span")
    hand = make_hand(STANDARD, NeckOptions())
    tables = GripTables(hand)
    placed = 0
    for _ in range(40):
        pitches = [28 + int(rng.random() * 30) for _ in range(24)]
        line = finger_line(plain_line(pitches), tempo_map=tempo(70), tables=tables)
        grips = [Grip(p.string, p.fret, p.finger, p.position_fret) for p in line.places]
        assert in_a_hand(grips, hand.ruler_mm)
        opens = STANDARD.open_pitches[::-1]
        assert [opens[g.string - 1] + g.fret for g in grips] == pitches
        placed += len(grips)
    assert placed == 40 * 24


def test_time_buys_travel() -> None:
    # Less time never makes a line cheaper.
    line = [plain(pitch) for pitch in (30, 50, 31, 48)]
    hand = make_hand(STANDARD, NeckOptions())
    costs = [
        cheapest_grips(GripTables(hand), line, [Transition(False, h, h)] * 4).cost for h in range(8)
    ]
    assert costs == sorted(costs, reverse=True)
    assert costs[0] > costs[-1]


@pytest.mark.parametrize("frame", [None, 3, 4])
def test_the_grips_are_those_of_the_words(frame: HandSpan | None) -> None:
    hand = make_hand(STANDARD, NeckOptions(span=frame))
    compared = 0
    for pitch in range(28, 68):
        grips = hand.grips(plain(pitch))
        assert sorted(grips) == sorted(all_grips(hand, plain(pitch)))
        compared += len(grips)
    assert compared > 400
