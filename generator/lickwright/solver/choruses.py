"""Every chorus of a plan as the paths of one graph: licks as edges between positions, strokes as nodes.

Only a lick's cost and the positions at which it is entered and left matter to the other slots, so its lattice is contracted
to one edge for each of the k cheapest licks between two positions (or to one edge with their number). Strokes of the
comping, few for each hit, are nodes. Moves of the hand between slots are edges where there is time for them.

The graph is networkx's; costs on its edges are raised slot by slot so that none is negative, which changes all paths
alike. What a quote asks of two licks at once is no part of the graph: a chain cannot say it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice, product
from typing import Any, TypeAlias

import networkx as nx
import numpy as np

from lickwright.rulebook.places import free_ticks
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.solver.chain import Chain, CompSlot, LickSlot
from lickwright.solver.comping import Stroke
from lickwright.solver.enumeration import LickPath, k_best_licks
from lickwright.solver.kept import Kept
from lickwright.solver.lattice import FAR, Lattice
from lickwright.solver.shifts import shift_costs
from lickwright.theory.rhythm import seconds

START, END = "start", "end"
#: What a part of a chorus is: a lick of a lattice, the strokes of a comping slot, or a slot that stays.
Part: TypeAlias = tuple[Lattice, LickPath] | tuple[Stroke, ...] | Kept


@dataclass(frozen=True)
class ChorusPath:
    """A chorus: its cost in all, and its parts in order of time."""

    cost: int
    parts: tuple[Part, ...]


def chorus_graph(chain: Chain, most: int) -> tuple[nx.DiGraph, int]:
    """The graph of a chain with the ``most`` cheapest licks of each position, and what all its costs were raised by.

    Nodes are (slot, "in" or "out", position) and what stands between them; edges have ``weight`` (points) and
    nodes of licks and strokes a ``part``.
    """
    graph = nx.DiGraph()
    raised = 0
    for k, slot in enumerate(chain.slots):
        rows = list(_slot_edges(k, slot, most))
        low = min((cost for _, _, cost, _ in rows), default=0)
        steps = len(slot.hits) + 1 if isinstance(slot, CompSlot) else 2
        for a, b, cost, part in rows:
            graph.add_edge(a, b, weight=cost - low)
            if part is not None:
                graph.nodes[b]["part"] = part
        raised -= low * steps
    _link(graph, chain)
    return graph, raised


def _slot_edges(k: int, slot: Any, most: int) -> Iterator[tuple[Any, Any, int, Any]]:
    """(from, to, cost, the part that ``to`` stands for) of one slot; every way through it has as many costed edges."""
    if isinstance(slot, Kept):
        yield (k, "in", slot.events[0].hand), (k, "kept"), 0, slot
        yield (k, "kept"), (k, "out", slot.position), 0, None
    elif isinstance(slot, LickSlot):
        for w, (come, leave, lattice) in enumerate(by_positions(slot)):
            for rank, lick in enumerate(islice(k_best_licks(lattice), most)):
                node = (k, "lick", w, rank)
                yield (k, "in", come), node, lick.cost, (lattice, lick)
                yield node, (k, "out", leave), 0, None
    else:
        yield from _stroke_edges(k, slot)


def by_positions(slot: LickSlot) -> Iterator[tuple[int, int, Lattice]]:
    """A slot's lattices by the positions (come from, leave to) of their licks; each lick is in just one."""
    for lattice in slot.lattices:
        positions = lattice.graph.table.position
        here = [int(position) for position in np.unique(positions)]
        for come, leave in product(here, here):
            rows = lattice.node_cost.copy()
            rows[0][positions != come] = FORBIDDEN
            rows[-1][positions != leave] = FORBIDDEN
            yield come, leave, lattice if len(here) == 1 else replace(lattice, node_cost=rows)


def _stroke_edges(k: int, slot: CompSlot) -> Iterator[tuple[Any, Any, int, Any]]:
    for j, stroke in enumerate(slot.options[0]):
        if slot.node_cost[0][j] < FAR:
            yield (k, "in", stroke.position), (k, 0, j), int(slot.node_cost[0][j]), stroke
    for i, links in enumerate(slot.links):
        costs = links + slot.node_cost[i + 1]
        for a, b in zip(*np.nonzero(costs < FAR), strict=True):
            yield (k, i, int(a)), (k, i + 1, int(b)), int(costs[a, b]), slot.options[i + 1][b]
    last = len(slot.hits) - 1
    for j, stroke in enumerate(slot.options[last]):
        yield (k, last, j), (k, "out", stroke.position), 0, None


def _link(graph: nx.DiGraph, chain: Chain) -> None:
    """Start, end, and the hand's ways from slot to slot."""
    ends = len(chain.slots) - 1
    for node in list(graph.nodes):
        if node[1] == "in" and node[0] == 0:
            graph.add_edge(START, node, weight=0)
        if node[1] == "out" and node[0] == ends:
            graph.add_edge(node, END, weight=0)
    positions: dict[tuple[int, str], list[int]] = {}
    for node in graph.nodes:
        if node[1] in ("in", "out"):
            positions.setdefault((node[0], node[1]), []).append(node[2])
    for k in range(ends):
        costs = hand_costs(chain, k)
        for a in positions.get((k, "out"), []):
            for b in positions.get((k + 1, "in"), []):
                if costs[a, b] < FORBIDDEN:
                    graph.add_edge((k, "out", a), (k + 1, "in", b), weight=int(costs[a, b]))


def hand_costs(chain: Chain, k: int) -> Any:
    """POSITIONS x POSITIONS: what the hand's way from slot k to the next costs, FORBIDDEN where there is no time for it."""
    a, b = chain.slots[k], chain.slots[k + 1]
    free = seconds(free_ticks(a.last_tick, a.last_duration, b.first_tick), chain.tempo_bpm)
    return shift_costs(chain.lead, free)


def k_best(chain: Chain, most: int) -> Iterator[ChorusPath]:
    """Choruses, the cheapest first, ``most`` at the most; found as they are asked for.

    No chorus among the k cheapest has a lick beyond the k cheapest of its positions, so the graph holds them all.
    """
    graph, raised = chorus_graph(chain, most)
    if START not in graph or END not in graph:
        return
    try:
        for path in islice(nx.shortest_simple_paths(graph, START, END, weight="weight"), most):
            cost = int(nx.path_weight(graph, path, "weight")) - raised
            yield ChorusPath(cost, _parts(graph, path))
    except nx.NetworkXNoPath:
        return


def best(chain: Chain) -> ChorusPath | None:
    """The cheapest chorus, or None when there is none."""
    return next(k_best(chain, 1), None)


def _parts(graph: nx.DiGraph, path: list[Any]) -> tuple[Part, ...]:
    by_slot: dict[int, list[Any]] = {}
    for node in path:
        part = graph.nodes[node].get("part")
        if part is not None:
            by_slot.setdefault(node[0], []).append(part)
    return tuple(
        tuple(parts) if isinstance(parts[0], Stroke) else parts[0] for _, parts in sorted(by_slot.items())
    )


def count(chain: Chain) -> int:
    """How many choruses the chain allows, exactly: licks that differ in a note, a finger or a way, and all strokes."""
    graph, _ = chorus_graph(chain, 1)
    if START not in graph or END not in graph:
        return 0
    ways: dict[Any, int] = dict.fromkeys(graph.nodes, 0)
    ways[START] = 1
    licks = {
        (k, w): lattice.count()
        for k, slot in enumerate(chain.slots)
        if isinstance(slot, LickSlot)
        for w, (_, _, lattice) in enumerate(by_positions(slot))
    }
    for node in nx.topological_sort(graph):
        paths = ways[node] * (licks[node[0], node[2]] if node[1] == "lick" else 1)
        for following in graph.successors(node):
            ways[following] += paths
    return ways[END]
