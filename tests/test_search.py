"""The shortest path against every path, tried one by one."""

from itertools import pairwise, product
from math import inf
from random import Random

from groove.search import KnownStages, Stage, cheapest_path, exact, near_paths

Layers = list[list[float]]
Tables = list[list[list[float]]]


def random_trellis(rng: Random) -> tuple[Layers, Tables]:
    """Return layers of one to four choices and the moves between them, some of them barred."""
    layers = [[float(rng.randrange(5)) for _ in range(rng.randint(1, 4))] for _ in range(5)]
    tables: Tables = [[]]
    for before, after in pairwise(layers):
        tables.append(
            [[inf if rng.random() < 0.1 else rng.randrange(4) for _ in before] for _ in after]
        )
    return layers, tables


def every_path(layers: Layers, tables: Tables) -> dict[tuple[int, ...], float]:
    """Return what each path costs, those that cannot be made left out."""
    found = {}
    for choices in product(*(range(len(layer)) for layer in layers)):
        cost = sum(layer[choice] for layer, choice in zip(layers, choices, strict=True))
        cost += sum(tables[i][choices[i]][choices[i - 1]] for i in range(1, len(layers)))
        if cost < inf:
            found[choices] = cost
    return found


def test_the_cheapest_path_is_the_cheapest_of_all() -> None:
    rng = Random("search")
    ways = dead_ends = 0
    for _ in range(300):
        layers, tables = random_trellis(rng)
        costs = every_path(layers, tables)
        path = cheapest_path(layers, tables.__getitem__)
        if costs:
            assert path.cost == min(costs.values()) == costs[path.choices]
            ways += 1
        else:
            assert path.choices == () and path.cost == inf
            assert path.dead_end is not None
            dead_ends += 1
    assert (ways > 200, dead_ends > 2) == (True, True), (ways, dead_ends)


def test_near_paths_are_all_of_them_and_no_more() -> None:
    rng = Random("near")
    compared = 0
    for _ in range(300):
        layers, tables = random_trellis(rng)
        costs = every_path(layers, tables)
        for slack in (0.0, 2.0):
            found = near_paths(layers, tables.__getitem__, slack, 5000)
            bound = min(costs.values(), default=-1.0) + slack
            assert {path.choices: path.cost for path in found} == {
                choices: cost for choices, cost in costs.items() if cost <= bound
            }
            assert len(found) == len({path.choices for path in found})
            compared += len(found)
    assert compared > 2000


def test_of_equal_paths_the_first_choices_and_no_more_than_asked_for() -> None:
    layers = [[0.0, 0.0]] * 4
    moves = [[0.0, 0.0], [0.0, 0.0]]
    assert cheapest_path(layers, lambda _: moves).choices == (0, 0, 0, 0)
    assert len(near_paths(layers, lambda _: moves, 0.0, 16)) == 16
    assert len(near_paths(layers, lambda _: moves, 0.0, 7)) == 7


def test_nothing_to_choose() -> None:
    assert cheapest_path([], lambda _: []).choices == ()
    assert cheapest_path([[1.0], []], lambda _: []).dead_end == 1


def test_stages_that_come_again_lead_where_the_plain_search_leads() -> None:
    rng = Random("steps")
    known = KnownStages()
    looked_up = dead_ends = 0
    for _ in range(200):
        layers, tables = random_trellis(rng)
        steps = [Stage(tables[i], layers[i]) for i in range(1, len(layers))]
        for _ in range(2):
            plain = cheapest_path(layers, tables.__getitem__)
            assert known.cheapest_path(layers[0], steps) == plain
            looked_up += 1
        dead_ends += plain.dead_end is not None
    assert looked_up == 400
    assert dead_ends > 2
    assert known.cheapest_path([], []).dead_end == 0


def test_equal_costs_are_equal_in_whatever_order_they_are_added() -> None:
    # 0.1 + 0.2 + 0.3 is more than 0.3 + 0.2 + 0.1 in binary floating point (IEEE 754).
    assert 0.1 + 0.2 + 0.3 > 0.3 + 0.2 + 0.1
    costs = [[exact(cost), exact(0.4 - cost)] for cost in (0.1, 0.2, 0.3)]
    stay = [[0.0, inf], [inf, 0.0]]
    path = KnownStages().cheapest_path(costs[0], [Stage(stay, layer) for layer in costs[1:]])
    assert path.choices == (0, 0, 0)
    assert (exact(inf), exact(-0.25)) == (inf, -0.25)
    assert abs(exact(0.1) - 0.1) < 2**-36
