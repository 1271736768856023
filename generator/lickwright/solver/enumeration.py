"""The k best licks of a lattice, cheapest first, by best-first search with the exact cost to go as its bound.

Either every path of edges is a lick, or every melody is one, with the cheapest way to finger and sound it. Both are
generators: only what is asked for is worked out, and memory grows with the number of licks taken.

References: V. M. Jimenez, A. Marzal, Computing the K Shortest Paths, LNCS 1668:15-29, 1999, on taking the
siblings of a choice only when the choice itself has been taken; E. L. Lawler, Management Science
18(7):401-405, 1972 [both from memory].
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lickwright.rulebook.touches import IntArray
from lickwright.solver.lattice import FAR, Lattice

Path: TypeAlias = tuple[int, ...]
#: What the heard note of a node is: the melody's pitch and that of the voice below it (0 for none).
Heard: TypeAlias = tuple[int, int]


@dataclass(frozen=True, order=True)
class LickPath:
    """A lick: its cost with leaving it, its nodes, and the edges between them (numbers in ``graph.edges``)."""

    cost: int
    nodes: Path
    edges: Path


#: A way on from a node and state: what it costs more than the best one, target, edge, state reached.
_Choice: TypeAlias = tuple[int, int, int, int]


def _choices(lattice: Lattice, rows: list[IntArray]) -> Callable[[int, int, int], list[_Choice]]:
    """A function of (onset, node, state) that gives the ways on, the best first; each is worked out once."""
    known: dict[tuple[int, int, int], list[_Choice]] = {}
    compiled = lattice.compiled

    def choices(i: int, node: int, state: int) -> list[_Choice]:
        key = i, node, state
        if key not in known:
            layer = lattice.layers[i]
            low, high = np.searchsorted(layer.source, [node, node + 1])
            label, target = layer.label[low:high], layer.target[low:high]
            reached = compiled.delta[label, state]
            cost = layer.cost[low:high] + compiled.cost[label, state] + rows[i + 1][target, reached]
            cost -= rows[i][node, state]
            live = cost < FAR
            columns = (cost, target, layer.edge[low:high], reached)
            known[key] = sorted(zip(*(c[live].tolist() for c in columns), strict=True))
        return known[key]

    return choices


def _begins(lattice: Lattice, rows: list[IntArray]) -> list[tuple[int, int, int]]:
    """(cost of the whole lick, first node, state) for every node with which a lick may begin, best first."""
    total = lattice.start_costs(rows[0])
    live = np.flatnonzero(total < FAR)
    state = lattice.compiled.delta[lattice.compiled.first[live], 0]
    return sorted(zip(total[live].tolist(), live.tolist(), state.tolist(), strict=True))


def best_lick(lattice: Lattice, leave: IntArray | None = None) -> LickPath | None:
    """The cheapest lick, or None when the rules allow none."""
    return next(k_best_licks(lattice, leave, fingerings=True), None)


def k_best_licks(
    lattice: Lattice, leave: IntArray | None = None, *, fingerings: bool = False
) -> Iterator[LickPath]:
    """Licks, cheapest first, worked out as they are asked for; the caller takes as many as it wants.

    ``leave`` (N) is what leaving the lick from each node costs, nothing by default. The ways of fingering and
    sounding the same notes count as one lick, the cheapest of them, unless ``fingerings`` are asked for: then
    every path of edges is a lick of its own. Ties come in the order of their notes, nodes and edges.
    """
    rows = lattice.values(np.zeros(len(lattice.graph.table), np.int64) if leave is None else leave)
    return paths(lattice, rows) if fingerings else melodies(lattice, rows)


def paths(lattice: Lattice, rows: list[IntArray]) -> Iterator[LickPath]:
    """Every path of edges, cheapest first, ties in the order of nodes and edges.

    A heap holds prefixes that end in a choice; taking one puts its own best continuation and its next
    sibling there. O(n log k) heap steps a lick.
    """
    begins = _begins(lattice, rows)
    choices = _choices(lattice, rows)
    if not begins:
        return
    # (cost, nodes, edges, state, which choice the last one was, the state before it)
    heap: list[tuple[int, Path, Path, int, int, int]] = [
        (begins[0][0], (begins[0][1],), (), begins[0][2], 0, 0)
    ]
    while heap:
        cost, nodes, edges, state, taken, before = heapq.heappop(heap)
        if not edges:
            if taken + 1 < len(begins):
                total, node, q = begins[taken + 1]
                heapq.heappush(heap, (total, (node,), (), q, taken + 1, 0))
        else:
            options = choices(len(edges) - 1, nodes[-2], before)
            if taken + 1 < len(options):
                more, node, edge, q = options[taken + 1]
                sibling = cost - options[taken][0] + more
                heapq.heappush(
                    heap, (sibling, (*nodes[:-1], node), (*edges[:-1], edge), q, taken + 1, before)
                )
        if len(nodes) == lattice.onsets:
            yield LickPath(cost, nodes, edges)
            continue
        more, node, edge, q = choices(len(edges), nodes[-1], state)[0]
        heapq.heappush(heap, (cost + more, (*nodes, node), (*edges, edge), q, 0, state))


def melodies(lattice: Lattice, rows: list[IntArray]) -> Iterator[LickPath]:
    """Every melody once, cheapest first, with the cheapest of its fingerings and techniques.

    A prefix is the notes so far with, for each node and state they can end in, the best path there: the
    automaton made deterministic over what is heard, as far as it is asked for.
    """
    table = lattice.graph.table
    heard: list[Heard] = list(zip(table.enter.tolist(), table.mate_pitch.tolist(), strict=True))
    choices = _choices(lattice, rows)
    # the ends of a prefix: node and state to the best (cost of the whole lick, nodes, edges)
    ends: dict[tuple[int, int], LickPath]
    heap: list[tuple[int, tuple[Heard, ...], dict[tuple[int, int], LickPath]]] = []

    def put(notes: tuple[Heard, ...], ends: dict[tuple[int, int], LickPath]) -> None:
        heapq.heappush(heap, (min(f.cost for f in ends.values()), notes, ends))

    grouped: dict[Heard, dict[tuple[int, int], LickPath]] = {}
    for total, node, state in _begins(lattice, rows):
        grouped.setdefault(heard[node], {})[node, state] = LickPath(total, (node,), ())
    for note, ends in grouped.items():
        put((note,), ends)
    while heap:
        _, notes, ends = heapq.heappop(heap)
        i = len(notes) - 1
        if i == lattice.onsets - 1:
            yield min(ends.values())
            continue
        grouped = {}
        for (node, state), so_far in ends.items():
            for more, target, edge, reached in choices(i, node, state):
                found = LickPath(so_far.cost + more, (*so_far.nodes, target), (*so_far.edges, edge))
                group = grouped.setdefault(heard[target], {})
                known = group.get((target, reached))
                if known is None or found < known:
                    group[target, reached] = found
        for note, following in grouped.items():
            put((*notes, note), following)
