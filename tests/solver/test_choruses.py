"""All choruses of a plan as one graph: its optimum, its k best and its counts, held against the chain and by hand."""

from __future__ import annotations

from itertools import product

import networkx as nx
import numpy as np
import pytest
from lickwright.compose import write as compose
from lickwright.compose.setting import random_state, setting_for
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.solver.chain import Chain, CompSlot, LickSlot
from lickwright.solver.chorus import Chorus
from lickwright.solver.choruses import best, by_positions, chorus_graph, count, hand_costs, k_best
from lickwright.solver.enumeration import best_lick, k_best_licks
from lickwright.solver.lattice import Lattice
from lickwright.solver.plan.cells import make_plan
from lickwright.study.model import Brief


def a_chain(seed: int, slots: int | None = None) -> Chain:
    """The plain chain of the plan of a seed, or its first slots."""
    given = setting_for(Brief("slow-shuffle", "A", seed))
    rng = random_state(given, 0)
    tables = compose.Tables(given)
    plan = make_plan(given.rules, given.key, given.neck, given.tempo_bpm, rng, tables.playable)
    chain = Chorus(given.lead, plan, given.tempo_bpm, rng, tables.maker, tables.strokes).plain_chain()
    return (
        chain if slots is None else Chain(given.lead, given.tempo_bpm, chain.temperature, chain.slots[:slots])
    )


def least_through(slot: LickSlot | CompSlot) -> dict[tuple[int, int], int]:
    """The least cost from each position to each, by the slot's own sweep."""
    found: dict[tuple[int, int], int] = {}
    if isinstance(slot, LickSlot):
        for come, leave, lattice in by_positions(slot):
            cheapest = best_lick(lattice)
            if cheapest is not None:
                found[come, leave] = min(found.get((come, leave), FORBIDDEN), cheapest.cost)
        return found
    for first, start in enumerate(slot.options[0]):
        row = {first: int(slot.node_cost[0][first])}
        for links, node_cost in zip(slot.links, slot.node_cost[1:], strict=True):
            following: dict[int, int] = {}
            for a, cost in row.items():
                for b in np.flatnonzero(links[a] < FORBIDDEN // 2):
                    total = cost + int(links[a, b]) + int(node_cost[b])
                    following[int(b)] = min(total, following.get(int(b), FORBIDDEN))
            row = following
        for last, cost in row.items():
            key = start.position, slot.options[-1][last].position
            found[key] = min(found.get(key, FORBIDDEN), cost)
    return found


def least_by_tables(chain: Chain) -> int:
    """The optimum by a table of costs from place to place for each slot, without any graph."""
    reach = {place: 0 for place, _ in least_through(chain.slots[0])}
    for k, slot in enumerate(chain.slots):
        after: dict[int, int] = {}
        for (come, leave), cost in least_through(slot).items():
            if come in reach:
                after[leave] = min(after.get(leave, FORBIDDEN), reach[come] + cost)
        if k + 1 == len(chain.slots):
            return min(after.values())
        costs = hand_costs(chain, k)
        reach = {}
        for leave, so_far in after.items():
            for place in np.flatnonzero(costs[leave] < FORBIDDEN):
                total = so_far + int(costs[leave, place])
                reach[int(place)] = min(total, reach.get(int(place), FORBIDDEN))
    raise AssertionError("a chain has slots")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_optimum_is_that_of_tables_from_place_to_place(seed: int) -> None:
    chain = a_chain(seed)
    found = best(chain)
    assert found is not None
    assert found.cost == least_by_tables(chain)


def test_the_optimum_is_the_mean_cost_of_choruses_drawn_ever_colder() -> None:
    chain = a_chain(4)
    found = best(chain)
    assert found is not None
    assert chain.mean_cost(0.5) == pytest.approx(found.cost, abs=1.5)


def test_the_k_best_come_in_order_and_begin_with_the_optimum() -> None:
    chain = a_chain(5, 4)
    costs = [found.cost for found in k_best(chain, 25)]
    first = best(chain)
    assert first is not None
    assert costs[0] == first.cost
    assert costs == sorted(costs)
    assert len(costs) == 25


def test_the_k_best_of_a_short_chain_are_those_of_all_pairs() -> None:
    chain = a_chain(6, 2)
    lick = next(slot for slot in chain.slots if isinstance(slot, LickSlot))
    alone = Chain(chain.lead, chain.tempo_bpm, chain.temperature, [lick, lick])
    alone.slots[1] = LickSlot(lick.first_tick + 96, lick.last_tick + 96, lick.last_duration, lick.lattices)
    graph, _ = chorus_graph(alone, 8)
    assert nx.is_directed_acyclic_graph(graph)
    costs = hand_costs(alone, 0)
    cheap = [
        (come, leave, found.cost)
        for come, leave, lattice in by_positions(lick)
        for found, _ in zip(k_best_licks(lattice), range(8), strict=False)
    ]
    pairs = sorted(
        a[2] + b[2] + int(costs[a[1], b[0]])
        for a, b in product(cheap, cheap)
        if costs[a[1], b[0]] < FORBIDDEN
    )
    assert [found.cost for found in k_best(alone, 8)] == pairs[:8]


def test_a_count_is_the_product_of_its_slots_where_the_hand_is_free() -> None:
    chain = a_chain(7)
    lick = next(slot for slot in chain.slots if isinstance(slot, LickSlot))
    far = LickSlot(lick.first_tick + 480, lick.last_tick + 480, lick.last_duration, lick.lattices)
    twice = Chain(chain.lead, chain.tempo_bpm, chain.temperature, [lick, far])
    licks = sum(lattice.count() for lattice in lick.lattices)
    assert count(twice) == licks**2
    assert count(Chain(chain.lead, chain.tempo_bpm, chain.temperature, [lick])) == licks


def test_strokes_are_counted_by_every_way_from_option_to_option() -> None:
    slot = next(s for s in a_chain(8).slots if isinstance(s, CompSlot) and len(s.hits) > 2)
    chain = a_chain(8)
    ways = np.ones(len(slot.options[-1]), dtype=object)
    for links in reversed(slot.links):
        ways = (links < FORBIDDEN // 2).astype(object) @ ways
    assert count(Chain(chain.lead, chain.tempo_bpm, chain.temperature, [slot])) == int(ways.sum())


def test_a_chain_without_a_way_has_no_chorus() -> None:
    chain = a_chain(9)
    lick = next(slot for slot in chain.slots if isinstance(slot, LickSlot))

    def nowhere(lattice: Lattice) -> Lattice:
        from dataclasses import replace

        return replace(lattice, node_cost=np.full_like(lattice.node_cost, FORBIDDEN))

    dead = LickSlot(lick.first_tick, lick.last_tick, lick.last_duration, tuple(map(nowhere, lick.lattices)))
    none = Chain(chain.lead, chain.tempo_bpm, chain.temperature, [dead])
    assert best(none) is None
    assert count(none) == 0
