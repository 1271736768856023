"""The rule graph of one position to look at: its touches, what may follow each, and how much each rule forbids.

As text or in the DOT language of graph drawing programs. A position is the fret under the index finger.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import networkx as nx

from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.touches import BEND_KINDS, GRACES, NO_BEND, NO_GRACE, PLUCK, WAYS, Touch
from lickwright.solver.moves import JudgedMoves, rule_graph, touches_in
from lickwright.theory.harmony import DEGREES, Key

_SIZE_NAMES = {quarters: name for name, quarters in BEND_SIZES.items()}


@dataclass(frozen=True)
class PositionGraph:
    """The graph of a position (see ``RuleGraph.multigraph``) beside what it was pruned from.

    ``candidates`` are the touches that were put to the touch rules, ``asked`` the moves among the touches left that were
    put to the move rules; ``forbidden_touches`` and ``forbidden_moves`` say by rule how many of those it forbids, whatever
    the others say, the most first, rules that forbid none left out.
    """

    position: int
    key: Key
    graph: nx.MultiDiGraph
    candidates: int
    asked: int
    forbidden_touches: tuple[tuple[str, int], ...]
    forbidden_moves: tuple[tuple[str, int], ...]


def position_graph(lead: Lead, position: int) -> PositionGraph:
    """The rule graph of a position. Cost: O(N^2 x rules) for N touches."""
    graph = rule_graph(lead, (position,))
    candidates = touches_in(lead, (position,), ())
    judged = JudgedMoves.of(lead, graph.table)
    touches = {rule.name: int((~rule.allows(candidates)).sum()) for rule in lead.touch_rules}
    moves = {name: int((~allowed).sum()) for name, allowed in judged.allows.items()}
    return PositionGraph(
        position,
        lead.key,
        graph.multigraph,
        len(candidates),
        len(judged.source),
        _most_first(touches),
        _most_first(moves),
    )


def _most_first(counts: dict[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(((name, n) for name, n in counts.items() if n), key=lambda x: (-x[1], x[0])))


def touch_text(touch: Touch, key: Key) -> str:
    """A touch as string/fret, finger and degree of the key, with its second voice, bend or grace.

    >>> touch_text(Touch(2, 8, 3, 5, 67, bend=4, kind=1), Key("A"))
    '2/8 finger 3 (b7) bend whole'
    """
    text = f"{touch.string}/{touch.fret} finger {touch.finger} ({_degree(touch.pitch, key)})"
    if touch.mate_string:
        mate = f"{touch.mate_string}/{touch.mate_fret} finger {touch.mate_finger}"
        text += f" with {mate} ({_degree(touch.mate_pitch, key)})"
    if touch.kind != NO_BEND:
        text += f" {BEND_KINDS[touch.kind].value} {_SIZE_NAMES[touch.bend]}"
    if touch.grace != NO_GRACE:
        text += f" with a grace note, {GRACES[touch.grace].value}"
    return text


def _degree(pitch: int, key: Key) -> str:
    return DEGREES[(pitch - key.pitch_class) % 12]


def listed(view: PositionGraph) -> Iterator[str]:
    """The graph as lines of text: totals, what each rule forbids, each touch with what may follow it.

    Touches that may be plucked next are counted, those reached by legato are named.
    """
    graph = view.graph
    yield f"position {view.position}, key of {view.key.name}"
    yield f"{len(graph)} touches of {view.candidates:,} that were asked about; of the others"
    yield from (f"  {name} forbids {count:,}" for name, count in view.forbidden_touches)
    yield f"{graph.number_of_edges():,} moves of {view.asked:,} that were asked about; of the others"
    yield from (f"  {name} forbids {count:,}" for name, count in view.forbidden_moves)
    for node, touch in graph.nodes(data="touch"):
        ways: dict[int, list[int]] = {}
        for _, target, way in graph.out_edges(node, keys=True):
            ways.setdefault(way, []).append(target)
        yield f"{touch_text(touch, view.key)}: {len(ways.get(PLUCK, []))} may be plucked next"
        for way, targets in sorted(ways.items()):
            if way != PLUCK:
                named = (touch_text(graph.nodes[target]["touch"], view.key) for target in targets)
                yield f"  {WAYS[way].value} to {'; '.join(named)}"


def dot(view: PositionGraph) -> Iterator[str]:
    """The graph in DOT, a line each: nodes are touches, edges moves; what is not plucked has its way as a label.

    The language is that of the Graphviz manual, "The DOT Language" [from memory].
    """
    yield f'digraph "position {view.position}, key of {view.key.name}" {{'
    for node, touch in view.graph.nodes(data="touch"):
        yield f'  {node} [label="{touch_text(touch, view.key)}"];'
    for source, target, way in view.graph.edges(keys=True):
        label = "" if way == PLUCK else f' [label="{WAYS[way].value}"]'
        yield f"  {source} -> {target}{label};"
    yield "}"
