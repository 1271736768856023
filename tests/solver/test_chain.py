"""The chain against brute force: entries, draws and shifts of a chorus of two or three slots."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from lickwright.guitar.hand import shift_seconds
from lickwright.rulebook.places import free_ticks
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.solver.chain import Chain, CompSlot, LickSlot, comp_slot
from lickwright.solver.comping import Hit, Stroke, Strokes, hits_of
from lickwright.solver.shifts import POSITIONS, shift_costs
from lickwright.theory.rhythm import TICKS_PER_BAR, seconds

from tests.solver.instances import LIMIT, a_lick, all_paths, some_lattice, style

TEMPERATURE = 7.0


def lead():  # type: ignore[no-untyped-def]
    return style().lead


class Few(Strokes):
    """So few options that all ways through them can be counted."""

    def options(self, hit: Hit) -> list[Stroke]:
        return super().options(hit)[:6]


def small_comp(start: int) -> CompSlot:
    """Three hits with a few options each, as the rule files make them."""
    hits = hits_of("B-C-C-", style().rules.study.grid, start, [(0, "I7"), (TICKS_PER_BAR, "IV7")])
    return comp_slot(Few(lead(), 2), hits, style().tempo_bpm)


def comp_paths(slot: CompSlot) -> list[tuple[int, tuple[int, ...]]]:
    """(cost, option of each hit) of every way through a comping slot."""
    found = []
    for chosen in product(*(range(len(o)) for o in slot.options)):
        links = [int(slot.links[k][chosen[k], chosen[k + 1]]) for k in range(len(chosen) - 1)]
        if max(links, default=0) < LIMIT:
            own = sum(int(slot.node_cost[k][c]) for k, c in enumerate(chosen))
            found.append((own + sum(links), chosen))
    return found


def weight(cost: float) -> float:
    return float(np.exp(-cost / TEMPERATURE))


def test_a_comping_slot_weighs_the_sum_of_all_its_ways() -> None:
    slot = small_comp(0)
    leave = np.linspace(0, -3, POSITIONS)
    total = np.zeros(POSITIONS)
    for cost, chosen in comp_paths(slot):
        first, last = slot.options[0][chosen[0]], slot.options[-1][chosen[-1]]
        total[first.position] += weight(cost) * np.exp(leave[last.position])
    backward_message = slot.backward_message(leave, TEMPERATURE)
    assert np.exp(backward_message) == pytest.approx(total, rel=1e-9)


@pytest.mark.parametrize("seed", [0, 9, 34])
def test_a_lick_slot_weighs_the_sum_of_all_its_licks(seed: int) -> None:
    lattice = some_lattice(seed)
    slot = LickSlot(0, 12, 4, (lattice,))
    leave = np.linspace(0, -3, POSITIONS)
    backward_message = slot.backward_message(leave, TEMPERATURE)
    position = lattice.graph.table.position
    total = np.zeros(POSITIONS)
    for cost, nodes, _ in all_paths(lattice):
        total[position[nodes[0]]] += weight(cost) * np.exp(leave[position[nodes[-1]]])
    assert np.exp(backward_message) == pytest.approx(total, rel=1e-9)


def test_several_positions_add_up() -> None:
    one, two = a_lick(5, (5,)), a_lick(5, (8,))
    flat = np.zeros(POSITIONS)
    apart = [LickSlot(0, 20, 12, (x,)).backward_message(flat, TEMPERATURE) for x in (one, two)]
    both = LickSlot(0, 20, 12, (one, two)).backward_message(flat, TEMPERATURE)
    assert both == pytest.approx(np.logaddexp(*apart))


def test_moving_costs_nothing_when_nothing_moves_and_cannot_be_without_time() -> None:
    plenty, none = shift_costs(lead(), 10.0), shift_costs(lead(), 0.0)
    assert (np.diag(plenty)[: lead().neck.top_fret + 1] == 0).all()
    off = ~np.eye(POSITIONS, dtype=bool)
    assert (none[off] == FORBIDDEN).all()
    inside = slice(0, lead().neck.top_fret + 1)
    assert (plenty[inside, inside] < FORBIDDEN).all()
    assert (plenty[:, lead().neck.top_fret + 1 :] == FORBIDDEN).all()


@pytest.mark.parametrize("free_s", [0.05, 0.15, 0.3, 1.0])
def test_a_shift_is_possible_just_when_the_hand_has_the_time(free_s: float) -> None:
    costs = shift_costs(lead(), free_s)
    for a, b in product(range(1, 15), repeat=2):
        needed = float(shift_seconds(lead().hand, lead().neck, a, b))
        assert (costs[a, b] < FORBIDDEN) == (needed <= free_s + 1e-9)


def two_slots() -> tuple[Chain, CompSlot, CompSlot]:
    first, second = small_comp(0), small_comp(48)
    chain = Chain(lead(), style().tempo_bpm, TEMPERATURE, [first, second])
    assert chain.backward_pass()
    return chain, first, second


def joint_weights() -> dict[tuple[tuple[int, ...], tuple[int, ...]], float]:
    _, first, second = two_slots()
    free = seconds(free_ticks(first.last_tick, first.last_duration, second.first_tick), style().tempo_bpm)
    shifts = shift_costs(lead(), free)
    found = {}
    for (cost_a, a), (cost_b, b) in product(comp_paths(first), comp_paths(second)):
        move = int(shifts[first.options[-1][a[-1]].position, second.options[0][b[0]].position])
        if move < FORBIDDEN:
            found[a, b] = weight(cost_a + cost_b + move)
    return found


def test_the_first_slot_is_drawn_with_the_rest_of_the_chorus_in_view() -> None:
    """The share of each of its ways is that over both slots and the shift between them."""
    chain, first, _ = two_slots()
    joint = joint_weights()
    total = sum(joint.values())
    meant: dict[tuple[int, ...], float] = {}
    for (a, _), w in joint.items():
        meant[a] = meant.get(a, 0.0) + w / total
    rng = np.random.default_rng(3)
    m, seen = 4000, dict.fromkeys(meant, 0)
    for _ in range(m):
        strokes = first.draw(chain.arrival(0, None), TEMPERATURE, rng)
        assert strokes is not None
        seen[tuple(first.options[k].index(s) for k, s in enumerate(strokes))] += 1
    off = sum(abs(seen[a] / m - p) for a, p in meant.items()) / 2
    assert off < 1.2 * (len(meant) / m) ** 0.5


def test_the_whole_chorus_weighs_the_sum_of_all_its_ways() -> None:
    chain, first, _ = two_slots()
    backward_message = first.backward_message(chain.leave_log[0], TEMPERATURE)
    assert np.exp(backward_message).sum() == pytest.approx(sum(joint_weights().values()), rel=1e-9)


def test_a_chain_that_leads_nowhere_says_so() -> None:
    lattice = some_lattice(0)
    barred = np.full_like(lattice.node_cost, FORBIDDEN)
    nothing = type(lattice)(
        lattice.graph, lattice.compiled, barred, lattice.gap_s, lattice.joined, lattice.edge_cost
    )
    chain = Chain(lead(), 60, TEMPERATURE, [small_comp(0), LickSlot(48, 60, 4, (nothing,))])
    assert not chain.backward_pass()
