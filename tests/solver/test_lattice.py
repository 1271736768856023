"""The lattice against everything slower: brute force, networkx, CP-SAT and a plain constraint solver."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import constraint
import numpy as np
import pytest
from lickwright.rulebook.automata import LINE_SYMBOLS, at_most, counted
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.solver.automaton import compile_rules
from lickwright.solver.enumeration import best_lick, k_best_licks
from lickwright.solver.lattice import Lattice

from tests.solver.instances import (
    LIMIT,
    a_graph,
    a_lick,
    all_paths,
    by_cp_sat,
    moves,
    reads,
    run,
    shortest,
    simple_paths,
    some_lattice,
    starts,
)
from tests.solver.line_automata import CONTOURS, contour, forbid_ngrams
from tests.sweeps import reach, some

SEEDS = range(40)
#: Instances that CP-SAT proves in less than a second, one of them without a lick; the others are long.
QUICK = (0, 1, 2, 3, 5)
SLOW = (4, 7, *some((seed for seed in range(40) if seed not in (*QUICK, 4, 7)), 3))


def a_leave(seed: int, nodes: int) -> np.ndarray:
    rng = np.random.default_rng(1000 + seed)
    leave = rng.integers(-2, 8, nodes)
    leave[rng.random(nodes) < 0.2] = FORBIDDEN
    return leave


def heard(lattice: Lattice, nodes: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    table = lattice.graph.table
    return tuple((int(table.enter[n]), int(table.mate_pitch[n])) for n in nodes)


# ---------------------------------------------------------------------- brute force


def test_half_of_the_small_lattices_have_licks() -> None:
    sizes = [len(all_paths(some_lattice(seed))) for seed in SEEDS]
    assert sum(size > 0 for size in sizes) >= 20
    assert max(sizes) > 100


@pytest.mark.parametrize("seed", SEEDS)
def test_all_paths_come_once_each_and_best_first_ties_by_nodes_and_edges(seed: int) -> None:
    lattice = some_lattice(seed)
    leave = a_leave(seed, 4)
    found = [(f.cost, f.nodes, f.edges) for f in k_best_licks(lattice, leave, fingerings=True)]
    assert found == all_paths(lattice, leave)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_best_is_the_least_and_none_when_nothing_is_left(seed: int) -> None:
    lattice = some_lattice(seed, nodes=3, onsets=5)
    every = all_paths(lattice)
    best = best_lick(lattice)
    assert (best is None) == (not every)
    if best:
        assert (best.cost, best.nodes, best.edges) == every[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_count_is_the_number_of_paths(seed: int) -> None:
    lattice = some_lattice(seed, nodes=4, onsets=5)
    assert lattice.count() == len(all_paths(lattice))


@pytest.mark.parametrize("seed", SEEDS)
def test_values_are_the_least_costs_from_every_first_node(seed: int) -> None:
    lattice = some_lattice(seed)
    leave = a_leave(seed, 4)
    least = dict.fromkeys(range(4), FORBIDDEN)
    for cost, nodes, _ in all_paths(lattice, leave):
        least[nodes[0]] = min(least[nodes[0]], cost)
    start_costs = lattice.start_costs(lattice.values(leave)[0])
    for node, cost in least.items():
        assert start_costs[node] == cost or min(start_costs[node], cost) >= LIMIT


@pytest.mark.parametrize("seed", SEEDS)
def test_a_path_costs_what_it_was_found_for(seed: int) -> None:
    lattice = some_lattice(seed)
    found = list(k_best_licks(lattice, fingerings=True))
    if found:
        nodes, edges = np.array([f.nodes for f in found]), np.array([f.edges for f in found])
        assert lattice.cost_of(nodes, edges).tolist() == [f.cost for f in found]


def coarse(lattice: Lattice) -> Lattice:
    """The lattice with its nodes heard as two pitches only, so that fingerings collapse."""
    table = lattice.graph.table
    halved = replace(table, pitch=60 + table.pitch % 2)
    return replace(lattice, graph=replace(lattice.graph, table=halved))


@pytest.mark.parametrize("seed", SEEDS)
def test_fingerings_of_the_same_notes_collapse_to_the_cheapest(seed: int) -> None:
    lattice = coarse(some_lattice(seed))
    best: dict[tuple, tuple] = {}
    for path in all_paths(lattice):
        best.setdefault(heard(lattice, path[1]), path)
    found = list(k_best_licks(lattice))
    assert {heard(lattice, f.nodes): (f.cost, f.nodes, f.edges) for f in found} == best
    assert [(f.cost, heard(lattice, f.nodes)) for f in found] == sorted(
        (path[0], notes) for notes, path in best.items()
    )


def test_a_lick_of_one_onset_is_a_touch() -> None:
    lattice = some_lattice(3, onsets=1)
    assert [(f.cost, f.nodes, f.edges) for f in k_best_licks(lattice, fingerings=True)] == all_paths(lattice)
    assert lattice.count() == len(all_paths(lattice))


def test_nothing_is_left_when_an_onset_is_barred() -> None:
    lattice = some_lattice(1)
    rows = lattice.node_cost.copy()
    rows[2] = FORBIDDEN
    barred = replace(lattice, node_cost=rows)
    assert best_lick(barred) is None
    assert barred.count() == 0
    assert list(k_best_licks(barred)) == []


@pytest.mark.parametrize("n", [8, 40, 53, 54, 80, 200])
def test_counts_stay_exact_far_beyond_what_a_float_holds(n: int) -> None:
    """Every word over three ways, with the first way at most twice: a sum of binomials, exactly."""
    graph = a_graph(1, [(0, 0, way, 0, 0.0) for way in range(3)])
    rule = replace(
        reads(at_most(2, 2, {1}), np.zeros(1, int), np.zeros((1, 1), int)),
        move=lambda a, b, how: (how == 0).astype(int),
    )
    lattice = Lattice(
        graph, compile_rules((rule,), graph), np.zeros((n, 1), int), np.ones(n - 1), np.ones(n - 1, bool),
        (None,) * (n - 1),
    )  # fmt: skip
    m = n - 1
    assert lattice.count() == 2**m + m * 2 ** (m - 1) + m * (m - 1) // 2 * 2 ** (m - 2)


def test_the_count_of_a_long_lick_is_the_sum_of_its_parts() -> None:
    """Barring all first nodes but one at a time splits the licks of a position into parts."""
    lattice = a_lick(14)
    parts = 0
    for node in np.flatnonzero(lattice.node_cost[0] < LIMIT):
        rows = lattice.node_cost.copy()
        rows[0] = FORBIDDEN
        rows[0, node] = 0
        parts += replace(lattice, node_cost=rows).count()
    assert parts == lattice.count() > 2**53


# ---------------------------------------------------------------------- networkx


@pytest.mark.parametrize("seed", range(12))
def test_k_best_agree_with_simple_paths_of_the_product_graph(seed: int) -> None:
    lattice = some_lattice(100 + seed, nodes=4, onsets=5)
    ours = list(islice(k_best_licks(lattice, fingerings=True), 40))
    theirs = list(islice(simple_paths(lattice), 40))
    assert [f.cost for f in ours] == [cost for cost, _ in theirs]
    assert {f.edges for f in ours if f.cost < ours[-1].cost} == {
        edges for cost, edges in theirs if cost < ours[-1].cost
    }


@pytest.mark.parametrize("positions", [(5,), pytest.param((5, 8), marks=pytest.mark.long)])
def test_a_position_has_the_optimum_that_dijkstra_finds(positions: tuple[int, ...]) -> None:
    lattice = a_lick(6, positions)
    best = best_lick(lattice)
    assert best is not None
    assert best.cost == shortest(lattice)


@pytest.mark.long
def test_the_first_licks_of_a_position_cost_what_simple_paths_cost() -> None:
    lattice = a_lick(6)
    ours = [f.cost for f in islice(k_best_licks(lattice, fingerings=True), 15)]
    assert ours == [cost for cost, _ in islice(simple_paths(lattice), 15)]


# ---------------------------------------------------------------------- CP-SAT


def drawn_lick(seed: int) -> Lattice:
    """A lick in a random position, thinned and charged at random; now and then nothing is left of it."""
    rng = np.random.default_rng(seed)
    position = int(rng.integers(2, 12))
    n = int(rng.integers(6, 13))
    role = str(rng.choice(["question", "answer"]))
    lattice = a_lick(n, (position,), start=48 * int(rng.integers(0, 4)), role=role)
    rows = lattice.node_cost + rng.integers(0, 30, lattice.node_cost.shape)
    rows[rng.random(rows.shape) < rng.choice([0.3, 0.5, 0.8])] = FORBIDDEN
    count = len(lattice.graph.edges.source)
    extra = tuple(
        np.where(rng.random(count) < 0.1, FORBIDDEN, rng.integers(-5, 20, count))
        if rng.random() < 0.5
        else None
        for _ in range(n - 1)
    )
    return replace(lattice, node_cost=np.minimum(rows, FORBIDDEN), edge_cost=extra)


def with_small_rules(lattice: Lattice, seed: int) -> Lattice:
    """Random rules of few states in place of the style's own, which take CP-SAT half a minute a lick."""
    rng = np.random.default_rng(500 + seed)
    line, bends = lattice.graph.lead.lick_rules
    three = [tuple(rng.integers(3, 8, 2).tolist()) for _ in range(6)]
    melody = (
        contour(str(rng.choice(list(CONTOURS))), int(rng.integers(0, 3))),
        forbid_ngrams(three, LINE_SYMBOLS),
    )
    bent = int(rng.integers(0, 2))
    rules = (
        replace(line, automaton=melody[seed % 2]),
        replace(bends, automaton=counted(2, {1}, bent, bent)),
    )
    return replace(lattice, compiled=compile_rules(rules, lattice.graph))


@pytest.mark.parametrize(
    "seed",
    [*QUICK, *(pytest.param(s, marks=pytest.mark.long) for s in SLOW)],
)
def test_optimum_and_feasibility_are_those_that_cp_sat_proves(seed: int) -> None:
    lattice = with_small_rules(drawn_lick(seed), seed)
    best = best_lick(lattice)
    assert (None if best is None else best.cost) == by_cp_sat(lattice)


def test_the_instances_for_cp_sat_are_of_both_kinds() -> None:
    answers = [best_lick(with_small_rules(drawn_lick(seed), seed)) is None for seed in range(40)]
    assert 3 <= sum(answers) <= 30


@pytest.mark.long
@pytest.mark.parametrize("seed", range(reach(8, 3)))
def test_cp_sat_proves_the_optimum_under_the_style_s_own_rules(seed: int) -> None:
    lattice = drawn_lick(seed)
    best = best_lick(lattice)
    assert (None if best is None else best.cost) == by_cp_sat(lattice)


# ---------------------------------------------------------------------- a plain constraint solver


@pytest.mark.parametrize("seed", range(8))
def test_a_plain_constraint_solver_finds_the_same_licks(seed: int) -> None:
    lattice = some_lattice(200 + seed, nodes=3, onsets=4)
    every = [{m.edge: m for m in moves(lattice, i)} for i in range(3)]
    begins = {node: state for node, state, _ in starts(lattice)}
    problem = constraint.Problem()
    if not begins or not all(every):
        assert lattice.count() == 0
        return
    problem.addVariable("first", list(begins))
    for i, step in enumerate(every):
        problem.addVariable(i, list(step))

    def follows(first: int, *edges: int) -> bool:
        node, state = first, begins[first]
        for step, edge in zip(every, edges, strict=True):
            if step[edge].source != node:
                return False
            node, state = step[edge].target, int(lattice.compiled.delta[step[edge].label, state])
            if state < 0:
                return False
        return bool(lattice.compiled.accept[state])

    problem.addConstraint(follows, ["first", 0, 1, 2])
    theirs = {(s["first"], s[0], s[1], s[2]) for s in problem.getSolutions()}
    assert theirs == {(f.nodes[0], *f.edges) for f in k_best_licks(lattice, fingerings=True)}
    assert len(theirs) == lattice.count()


# ---------------------------------------------------------------------- samples


def chi_square_limit(freedom: int, z: float = 3.09) -> float:
    """The value that one run in a thousand exceeds, after Wilson and Hilferty, PNAS 17:684-688, 1931 [memory]."""
    return freedom * (1 - 2 / (9 * freedom) + z * (2 / (9 * freedom)) ** 0.5) ** 3


@pytest.mark.parametrize(("seed", "temperature"), [(0, 3.0), (9, 6.0), (24, 1.5), (34, 8.0)])
def test_samples_have_the_frequencies_of_the_exact_distribution(seed: int, temperature: float) -> None:
    lattice = some_lattice(seed, nodes=4, onsets=4)
    leave = a_leave(seed, 4)
    every = all_paths(lattice, leave)
    weight = np.exp(-np.array([c for c, _, _ in every]) / temperature)
    rows, scale = lattice.weights(np.where(leave < LIMIT, -leave / temperature, -np.inf), temperature)
    entry = lattice.start_log(rows[0], scale, temperature)
    assert np.logaddexp.reduce(entry) == pytest.approx(np.log(weight.sum()), rel=1e-9)

    m = 20_000
    rng = np.random.default_rng(seed)
    first = np.exp(entry - np.logaddexp.reduce(entry))
    nodes, edges = lattice.draw(rng.choice(4, m, p=first / first.sum()), rows, temperature, rng)
    seen: dict[tuple, int] = {}
    for path in zip(map(tuple, nodes.tolist()), map(tuple, edges.tolist()), strict=True):
        seen[path] = seen.get(path, 0) + 1
    assert set(seen) <= {(n, e) for _, n, e in every}
    expected = m * weight / weight.sum()
    common = expected >= 5
    counts = np.array([seen.get((n, e), 0) for _, n, e in every])
    cells = [*((counts - expected) ** 2 / expected)[common]]
    if (~common).any():
        cells.append((counts[~common].sum() - expected[~common].sum()) ** 2 / expected[~common].sum())
    assert sum(cells) < chi_square_limit(len(cells) - 1)


def test_a_seed_always_draws_the_same_licks() -> None:
    lattice = a_lick(8)
    rows, scale = lattice.weights(np.zeros(len(lattice.graph.table)), 12.0)
    first = np.full(50, int(lattice.start_log(rows[0], scale, 12.0).argmax()))
    one, two = (lattice.draw(first, rows, 12.0, np.random.default_rng(4)) for _ in range(2))
    assert (one[0] == two[0]).all()
    assert (one[1] == two[1]).all()


def test_a_drawn_lick_is_accepted_by_the_rules_automata_run_one_by_one() -> None:
    """The compiled product against each rule's own automaton."""
    lattice = a_lick(10)
    lead, table = lattice.graph.lead, lattice.graph.table
    rows, scale = lattice.weights(np.zeros(len(table)), 12.0)
    first = np.full(40, int(lattice.start_log(rows[0], scale, 12.0).argmax()))
    nodes, edges = lattice.draw(first, rows, 12.0, np.random.default_rng(1))
    way = lattice.graph.edges.way
    for path, moved in zip(nodes, edges, strict=True):
        for rule in lead.lick_rules:
            touches = table.take(path)
            before, after = table.take(path[:-1]), table.take(path[1:])
            word = (int(rule.first(touches)[0]), *rule.move(before, after, way[moved]).tolist())
            assert run(rule.automaton, word)[0], rule.name


def test_counting_all_of_a_lattice_and_what_a_rule_takes_away() -> None:
    """A rule's share by difference: licks with at most one leap, and those with more, make up all."""
    graph = a_graph(3, [(a, b, 0, 0, 0.0) for a in range(3) for b in range(3)])
    leaps = np.abs(np.arange(3)[:, None] - np.arange(3)) == 2
    n = 7

    def count(least: int, most: int | None) -> int:
        rule = reads(counted(2, {1}, least, most), np.zeros(3, int), leaps.astype(int))
        return Lattice(
            graph, compile_rules((rule,), graph), np.zeros((n, 3), int), np.ones(n - 1),
            np.ones(n - 1, bool), (None,) * (n - 1),
        ).count()  # fmt: skip

    assert count(0, None) == 3**n
    assert count(0, 1) + count(2, None) == 3**n
