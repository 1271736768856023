"""Instances for the solver's tests and benchmarks, and the slow plain ways of solving them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import networkx as nx
import numpy as np
from lickwright.compose.setting import Setting, setting_for
from lickwright.rulebook.rule import FORBIDDEN, Automaton, LickRule, Source
from lickwright.rulebook.touches import Touch, TouchTable
from lickwright.solver.automaton import compile_rules
from lickwright.solver.lattice import Lattice
from lickwright.solver.licks import LickMaker
from lickwright.solver.moves import Edges, RuleGraph, rule_graph
from lickwright.solver.plan.layout import LickPlan, form_spans
from lickwright.study.model import Brief
from lickwright.theory.rhythm import Onset
from ortools.sat.python import cp_model

LIMIT = FORBIDDEN // 2
LENGTHS = (4, 4, 4, 8, 4, 12, 4, 4, 4, 8, 4, 4, 8, 4, 4, 12)
NOWHERE = Source("here", "test")

# ---------------------------------------------------------------------- licks on a guitar


@lru_cache(maxsize=8)
def style(name: str = "slow-shuffle", key: str = "A") -> Setting:
    return setting_for(Brief(style=name, key=key, seed=1))


class Maker(LickMaker):
    """A lick maker whose positions may be several at once."""

    def over(self, plan: LickPlan, positions: tuple[int, ...]) -> Lattice:
        key = hash(positions)
        if key not in self._graphs:
            self._graphs[key] = rule_graph(self.lead, positions)
        return self.lattice(plan, key)


@lru_cache(maxsize=8)
def maker(name: str = "slow-shuffle", key: str = "A") -> Maker:
    given = style(name, key)
    return Maker(given.lead, form_spans(given.rules.forms[given.rules.study.form[0]].bars), given.tempo_bpm)


def a_plan(lengths: tuple[int, ...], start: int = 0, role: str = "question") -> LickPlan:
    onsets, tick = [], start
    for length in lengths:
        onsets.append(Onset(tick, length))
        tick += length
    return LickPlan(0, 0, "A", role, "", "", tuple(onsets), len(lengths) // 2, ())


def a_lick(n: int, positions: tuple[int, ...] = (5,), start: int = 0, role: str = "question") -> Lattice:
    """A lick of n onsets over the first bars of a slow shuffle in A, held at its end."""
    return maker().over(a_plan((*LENGTHS[: n - 1], 12), start, role), positions)


# ---------------------------------------------------------------------- small lattices of anything


def a_graph(n: int, edges: list[tuple[int, int, int, int, float]]) -> RuleGraph:
    """n nodes, told apart by their pitch; edges are (source, target, way, cost, seconds needed)."""
    table = TouchTable.of([Touch(1, k, 1, 1, 60 + k) for k in range(n)])
    columns = np.array(sorted(edges), float).reshape(-1, 5)
    source, target, way, cost = (columns[:, k].astype(np.int64) for k in range(4))
    return RuleGraph(style().lead, (1,), table, Edges(source, target, way, cost, columns[:, 4]))


def reads(automaton: Automaton, first: np.ndarray, move: np.ndarray, name: str = "test") -> LickRule:
    """An automaton that reads ``first[node]``, then ``move[source, target]``."""
    return LickRule(
        name,
        "",
        NOWHERE,
        automaton,
        lambda t: first[t.fret],
        lambda a, b, how: move[a.fret, b.fret],
    )


def an_automaton(rng: np.random.Generator, states: int, symbols: int, costs: bool = True) -> Automaton:
    delta = rng.integers(0, states, (states, symbols))
    delta[rng.random((states, symbols)) < 0.12] = -1
    cost = np.where(delta >= 0, rng.integers(0, 6, (states, symbols)) * costs, 0)
    return Automaton(delta, cost, rng.random(states) < 0.7)


def some_lattice(seed: int, nodes: int = 4, onsets: int = 4, sameness: int = 9) -> Lattice:
    """A small random lattice with gaps in it; costs are drawn from few values so that ties are common."""
    rng = np.random.default_rng(seed)
    edges = [
        (a, b, way, int(rng.integers(-3, sameness)), float(rng.choice([0.0, 0.2, 0.4])))
        for a in range(nodes)
        for b in range(nodes)
        for way in range(4)
        if rng.random() < (0.6 if way == 0 else 0.3)
    ]
    graph = a_graph(nodes, edges)
    rules = tuple(
        reads(an_automaton(rng, 3, 3), rng.integers(0, 3, nodes), rng.integers(0, 3, (nodes, nodes)), str(k))
        for k in range(2)
    )
    node_cost = rng.integers(-4, sameness, (onsets, nodes))
    node_cost[rng.random((onsets, nodes)) < 0.1] = FORBIDDEN
    count = len(graph.edges.source)
    edge_cost = tuple(
        None
        if rng.random() < 0.5
        else np.where(rng.random(count) < 0.1, FORBIDDEN, rng.integers(0, 5, count))
        for _ in range(onsets - 1)
    )
    return Lattice(
        graph,
        compile_rules(rules, graph),
        node_cost,
        rng.choice([0.1, 0.3, 0.5, 0.5], onsets - 1),
        rng.random(onsets - 1) < 0.7,
        edge_cost,
    )


# ---------------------------------------------------------------------- the slow ways


@dataclass(frozen=True)
class Moved:
    """An edge that may be taken in one move of a lattice, read off its definition."""

    edge: int
    source: int
    target: int
    label: int
    cost: int


def moves(lattice: Lattice, i: int) -> list[Moved]:
    """The moves between onsets i and i + 1, read edge by edge off the networkx view of the rule graph."""
    extra = lattice.edge_cost[i]
    moved = []
    for number, (source, target, way, edge) in enumerate(
        lattice.graph.multigraph.edges(keys=True, data=True)
    ):
        own = 0 if extra is None else int(extra[number])
        standing = int(lattice.node_cost[i + 1, target])
        barred = standing >= LIMIT or own >= LIMIT
        late = edge["needs_s"] > lattice.gap_s[i] + 1e-9 or (not lattice.joined[i] and way != 0)
        if not barred and not late:
            label = int(lattice.compiled.move[number])
            moved.append(Moved(number, source, target, label, edge["cost"] + standing + own))
    return moved


def starts(lattice: Lattice) -> list[tuple[int, int, int]]:
    """(node, state, cost) of every first touch that may be."""
    compiled = lattice.compiled
    found = []
    for node in range(len(lattice.graph.table)):
        label = int(compiled.first[node])
        state = int(compiled.delta[label, 0])
        if lattice.node_cost[0, node] < LIMIT and state >= 0:
            found.append((node, state, int(lattice.node_cost[0, node] + compiled.cost[label, 0])))
    return found


def all_paths(
    lattice: Lattice, leave: np.ndarray | None = None
) -> list[tuple[int, tuple[int, ...], tuple[int, ...]]]:
    """Every lick as (cost, nodes, edges), by trying everything, sorted."""
    compiled = lattice.compiled
    every = [moves(lattice, i) for i in range(lattice.onsets - 1)]
    found = []

    def go(i: int, state: int, cost: int, nodes: tuple[int, ...], edges: tuple[int, ...]) -> None:
        if i == lattice.onsets - 1:
            last = 0 if leave is None else int(leave[nodes[-1]])
            if compiled.accept[state] and last < LIMIT:
                found.append((cost + last, nodes, edges))
            return
        for m in every[i]:
            reached = int(compiled.delta[m.label, state])
            if m.source == nodes[-1] and reached >= 0:
                points = cost + m.cost + int(compiled.cost[m.label, state])
                go(i + 1, reached, points, (*nodes, m.target), (*edges, m.edge))

    for node, state, cost in starts(lattice):
        go(0, state, cost, (node,), ())
    return sorted(found)


END = "end"


def product_graph(lattice: Lattice) -> tuple[nx.DiGraph, int]:
    """The product of onsets, nodes and states as a graph from "start" to END, and what all its costs were raised by.

    Each edge of the rule graph is a node (onset, edge, state before it), so that parallel ones stay apart.
    """
    compiled = lattice.compiled
    every = [moves(lattice, i) for i in range(lattice.onsets - 1)]
    begins = starts(lattice)
    low = min([c for _, _, c in begins] + [m.cost for step in every for m in step], default=0)
    graph = nx.DiGraph()
    graph.add_nodes_from(["start", END])
    here = set()
    for node, state, cost in begins:
        graph.add_edge("start", (0, node, state), weight=cost - low)
        here.add((node, state))
    for i, step in enumerate(every):
        following = set()
        outgoing: dict[int, list[Moved]] = {}
        for m in step:
            outgoing.setdefault(m.source, []).append(m)
        for node, state in sorted(here):
            for m in outgoing.get(node, []):
                reached = int(compiled.delta[m.label, state])
                if reached >= 0:
                    points = m.cost + int(compiled.cost[m.label, state]) - low
                    graph.add_edge((i, node, state), ("edge", i, m.edge, state), weight=points)
                    graph.add_edge(("edge", i, m.edge, state), (i + 1, m.target, reached), weight=0)
                    following.add((m.target, reached))
        here = following
    for node, state in here:
        if compiled.accept[state]:
            graph.add_edge((lattice.onsets - 1, node, state), END, weight=0)
    return graph, low * lattice.onsets


def shortest(lattice: Lattice) -> int | None:
    graph, raised = product_graph(lattice)
    try:
        return int(nx.dijkstra_path_length(graph, "start", END)) + raised
    except nx.NetworkXNoPath:
        return None


def simple_paths(lattice: Lattice) -> Iterator[tuple[int, tuple[int, ...]]]:
    """(cost, edges) best first by networkx."""
    graph, raised = product_graph(lattice)
    try:
        for path in nx.shortest_simple_paths(graph, "start", END, weight="weight"):
            cost = nx.path_weight(graph, path, "weight") + raised
            yield int(cost), tuple(x[2] for x in path if x[0] == "edge")
    except nx.NetworkXNoPath:
        return


def by_cp_sat(lattice: Lattice, seconds: float = 300.0) -> int | None:
    """The proved optimum by CP-SAT, None when it proves that there is none.

    A literal for every edge of every move and for every step of the automaton; both are flows, tied together
    by the label that is read. Of the encodings tried (tables, an automaton constraint, flows) the fastest.
    """
    compiled = lattice.compiled
    model = cp_model.CpModel()
    points: list[cp_model.LinearExpr] = []

    def chosen(costs: list[int]) -> list[cp_model.IntVar]:
        """A literal for each cost, just one of them true."""
        made = [model.new_bool_var("") for _ in costs]
        model.add_exactly_one(made)
        points.append(cp_model.LinearExpr.weighted_sum(made, costs))
        return made

    def tie(before: dict[int, list], after: dict[int, list]) -> None:
        for key in before.keys() | after.keys():
            model.add(sum(before.get(key, [])) == sum(after.get(key, [])))

    def grouped(literals: list, keys: list[int]) -> dict[int, list]:
        made: dict[int, list] = {}
        for literal, key in zip(literals, keys, strict=True):
            made.setdefault(key, []).append(literal)
        return made

    begin = [k for k in range(len(lattice.graph.table)) if lattice.node_cost[0, k] < LIMIT]
    touched = chosen([int(lattice.node_cost[0, k]) for k in begin])
    at_node = grouped(touched, begin)
    by_label = grouped(touched, [int(compiled.first[k]) for k in begin])
    at_state: dict[int, list] = {0: [model.new_constant(1)]}
    for i in range(lattice.onsets):
        if i:
            step = moves(lattice, i - 1)
            taken = chosen([m.cost for m in step])
            tie(at_node, grouped(taken, [m.source for m in step]))
            at_node = grouped(taken, [m.target for m in step])
            by_label = grouped(taken, [m.label for m in step])
        read = [(q, x) for q in at_state for x in by_label if compiled.delta[x, q] >= 0]
        moved = chosen([int(compiled.cost[x, q]) for q, x in read])
        tie(at_state, grouped(moved, [q for q, _ in read]))
        tie(by_label, grouped(moved, [x for _, x in read]))
        at_state = grouped(moved, [int(compiled.delta[x, q]) for q, x in read])
    for q, literals in at_state.items():
        if not compiled.accept[q]:
            model.add(sum(literals) == 0)
    model.minimize(sum(points))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    answer = solver.solve(model)
    assert answer in (cp_model.OPTIMAL, cp_model.INFEASIBLE), "CP-SAT ran out of time"
    return round(solver.objective_value) if answer == cp_model.OPTIMAL else None


def run(automaton: Automaton, word: tuple[int, ...]) -> tuple[bool, int]:
    """Reads a word: (accepted, cost), and no cost when it is not accepted."""
    state, cost = 0, 0
    for symbol in word:
        cost += int(automaton.cost[state, symbol])
        state = int(automaton.delta[state, symbol])
        if state < 0:
            return False, 0
    return (True, cost) if automaton.accept[state] else (False, 0)
