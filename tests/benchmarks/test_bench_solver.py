"""The optimum of a lick, ours and others' on the same instances; every one of them proves the same cost.

Ours and the others start from the same lattice (rule graph, automaton, onset costs) and build what they need.
Run: ``pytest tests/benchmarks/test_bench_solver.py --benchmark-only`` (``-m "long or not long"`` for all sizes).
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from pathlib import Path

import constraint
import networkx as nx
import numpy as np
import pytest
import rustworkx
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.solver.enumeration import best_lick, k_best_licks
from lickwright.solver.lattice import Lattice

from tests.solver.instances import a_lick, by_cp_sat, moves, some_lattice, starts

POSITIONS = {"one position": (5,), "two positions": (5, 8), "whole neck": tuple(range(1, 16))}
SIZES = [(name, n) for name in POSITIONS for n in (8, 12, 16)]
SMALL = ("one position", 8)

long = pytest.mark.long


def instance(name: str, n: int) -> Lattice:
    return a_lick(n, POSITIONS[name])


def optimum(name: str, n: int) -> int:
    best = best_lick(instance(name, n))
    assert best is not None
    return best.cost


def only_small(sizes: list[tuple[str, int]]) -> list:
    return [size if size == SMALL else pytest.param(*size, marks=long) for size in sizes]


@pytest.mark.parametrize(("name", "n"), SIZES)
def test_ours(benchmark, name: str, n: int) -> None:
    lattice = instance(name, n)
    best_lick(lattice)
    best = benchmark.pedantic(lambda: best_lick(replace(lattice)), rounds=15, warmup_rounds=2)
    edges = sum(len(step.edge) * len(step.states) for step in lattice.layers)
    benchmark.extra_info["edges relaxed"] = edges
    assert best.cost == optimum(name, n)


def product_edges(lattice: Lattice) -> tuple[dict[tuple, int], dict[tuple[int, int], int], int]:
    """The product of onsets, nodes and states with the cheaper of parallel edges: node numbers, edges, raise."""
    compiled = lattice.compiled
    every = [moves(lattice, i) for i in range(lattice.onsets - 1)]
    begins = starts(lattice)
    low = min([c for _, _, c in begins] + [m.cost for step in every for m in step], default=0)
    number: dict[tuple, int] = {("start",): 0, ("end",): 1}
    edges: dict[tuple[int, int], int] = {}

    def at(*key: int) -> int:
        return number.setdefault(key, len(number))

    for node, state, cost in begins:
        edges[0, at(0, node, state)] = cost - low
    here = {(node, state) for node, state, _ in begins}
    for i, step in enumerate(every):
        outgoing: dict[int, list] = {}
        for m in step:
            outgoing.setdefault(m.source, []).append(m)
        following = set()
        for node, state in here:
            u = at(i, node, state)
            for m in outgoing.get(node, ()):
                reached = int(compiled.delta[m.label, state])
                if reached >= 0:
                    weight = m.cost + int(compiled.cost[m.label, state]) - low
                    edge = u, at(i + 1, m.target, reached)
                    edges[edge] = min(weight, edges.get(edge, FORBIDDEN))
                    following.add((m.target, reached))
        here = following
    for node, state in here:
        if compiled.accept[state]:
            edges[at(lattice.onsets - 1, node, state), 1] = 0
    return number, edges, low * lattice.onsets


def by_networkx(lattice: Lattice) -> int:
    _, edges, raised = product_edges(lattice)
    graph = nx.DiGraph()
    graph.add_weighted_edges_from((u, v, w) for (u, v), w in edges.items())
    return int(nx.dijkstra_path_length(graph, 0, 1)) + raised


def by_rustworkx(lattice: Lattice) -> int:
    number, edges, raised = product_edges(lattice)
    graph = rustworkx.PyDiGraph()
    graph.add_nodes_from(range(len(number)))
    graph.add_edges_from([(u, v, w) for (u, v), w in edges.items()])
    return round(rustworkx.dijkstra_shortest_path_lengths(graph, 0, float, 1)[1]) + raised


OTHERS: dict[str, Callable[[Lattice], int]] = {"networkx": by_networkx, "rustworkx": by_rustworkx}


@pytest.mark.parametrize("library", OTHERS)
@pytest.mark.parametrize(("name", "n"), only_small(SIZES[:6]))
def test_graph_libraries(benchmark, library: str, name: str, n: int) -> None:
    """The whole neck's product has some ten million edges: more than these hold in memory."""
    lattice = instance(name, n)
    assert benchmark.pedantic(OTHERS[library], (lattice,), rounds=1) == optimum(name, n)


@pytest.mark.parametrize(("name", "n"), [pytest.param(*size, marks=long) for size in SIZES[:6]])
def test_cp_sat(benchmark, name: str, n: int) -> None:
    lattice = instance(name, n)
    assert benchmark.pedantic(by_cp_sat, (lattice, 600.0), rounds=1) == optimum(name, n)


def by_constraints(lattice: Lattice) -> int:
    """Every solution of a flat problem of one variable an onset, and the cheapest of them."""
    every = [{m.edge: m for m in moves(lattice, i)} for i in range(lattice.onsets - 1)]
    begins = {node: (state, cost) for node, state, cost in starts(lattice)}
    problem = constraint.Problem()
    problem.addVariable("first", list(begins))
    names: list = ["first"]
    for i, step in enumerate(every):
        problem.addVariable(i, list(step))
        follows = (
            (lambda a, b, s=step: s[b].source == a)
            if i == 0
            else (lambda a, b, p=every[i - 1], s=step: s[b].source == p[a].target)
        )
        problem.addConstraint(follows, [names[-1], i])
        names.append(i)
    best = FORBIDDEN
    for found in problem.getSolutionIter():
        state, cost = begins[found["first"]]
        for i, step in enumerate(every):
            m = step[found[i]]
            cost += m.cost + int(lattice.compiled.cost[m.label, state])
            state = int(lattice.compiled.delta[m.label, state])
            if state < 0:
                break
        if state >= 0 and lattice.compiled.accept[state]:
            best = min(best, cost)
    return best


@pytest.mark.parametrize("solver", ["ours", "python-constraint"])
def test_tiny(benchmark, solver: str) -> None:
    lattice = some_lattice(24, nodes=4, onsets=5)
    best = best_lick(lattice)
    assert best is not None
    if solver == "ours":
        assert benchmark(lambda: best_lick(replace(lattice))) == best
    else:
        assert benchmark.pedantic(by_constraints, (lattice,), rounds=3) == best.cost


def test_fifty_melodies_of_a_position(benchmark) -> None:
    lattice = instance("one position", 12)
    found = benchmark.pedantic(lambda: list(islice(k_best_licks(replace(lattice)), 50)), rounds=5)
    assert len({f.nodes for f in found}) == 50


def test_an_exact_count(benchmark) -> None:
    lattice = instance("one position", 16)
    assert benchmark(lambda: replace(lattice).count()) > 2**53


LOOP = """
void sweep(const long *edge_at, const int *source, const int *target, const int *label, const int *cost,
           int moves, int nodes, int states, const int *delta, const int *charge, int *rows, int none) {
  for (int i = moves - 1; i >= 0; i--) {
    const int *after = rows + (long)(i + 1) * nodes * (states + 1);
    int *before = rows + (long)i * nodes * (states + 1);
    for (long k = 0; k < (long)nodes * (states + 1); k++) before[k] = none;
    for (long e = edge_at[i]; e < edge_at[i + 1]; e++)
      for (int q = 0; q < states; q++) {
        int v = after[target[e] * (states + 1) + delta[label[e] * states + q]]
              + charge[label[e] * states + q] + cost[e];
        int *least = before + source[e] * (states + 1) + q;
        if (v < *least) *least = v;
      }
  }
}
"""


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler")
@pytest.mark.parametrize(("name", "n"), SIZES)
def test_a_plain_compiled_loop_over_the_same_rows(benchmark, tmp_path: Path, name: str, n: int) -> None:
    """What is left to gain: the sweep alone in C, its live edges given."""
    (tmp_path / "loop.c").write_text(LOOP)
    subprocess.run(
        ["cc", "-O3", "-march=native", "-shared", "-fPIC", "-o", "loop.so", "loop.c"],
        cwd=tmp_path,
        check=True,
    )
    library = ctypes.CDLL(str(tmp_path / "loop.so"))
    lattice = instance(name, n)
    compiled, steps, nodes = lattice.compiled, lattice.layers, len(lattice.graph.table)

    def joined(field: str) -> np.ndarray:
        return np.concatenate([getattr(s, field) for s in steps]).astype(np.int32)

    bounds = np.cumsum([0] + [len(s.edge) for s in steps])
    columns = [joined(f) for f in ("source", "target", "label", "cost")]
    tables = [compiled.column.astype(np.int32), compiled.charge.copy()]
    rows = np.full((n, nodes, compiled.states + 1), FORBIDDEN, np.int32)
    rows[-1, :, :-1] = np.where(compiled.accept > 0, 0, FORBIDDEN)

    def at(array: np.ndarray) -> ctypes.c_void_p:
        return ctypes.c_void_p(array.ctypes.data)

    benchmark.pedantic(
        lambda: library.sweep(
            at(bounds),
            *map(at, columns),
            n - 1,
            nodes,
            compiled.states,
            *map(at, tables),
            at(rows),
            FORBIDDEN,
        ),
        rounds=15,
    )
    assert lattice.start_costs(rows[0].astype(np.int64)).min() == optimum(name, n)
