"""The rule graph: touches of some positions as nodes, the ways from one to the next as parallel edges.

It holds everything that does not depend on time or chord: the touch rules decide the nodes, the move rules
the edges, the move preferences their cost. Lattices sweep over it onset by onset.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import networkx as nx
import numpy as np

from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import TouchRule
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    GRACE_HAMMER,
    HAMMER,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    WAYS,
    BoolArray,
    FloatArray,
    IntArray,
    Touch,
    TouchTable,
)
from lickwright.theory.harmony import semitones

_KINDS = {"bend": BEND, "bend-release": BEND_RELEASE, "pre-bend-release": PRE_BEND_RELEASE}


def candidates(lead: Lead, position: int, *, every: bool = False) -> Iterator[Touch]:
    """Every touch that the position at a fret gives, before any rule is asked.

    Pitches outside all palettes are left out unless ``every`` one is wanted.
    """
    neck, windows = lead.neck, lead.rules.lead.windows
    palette = {
        (semitones(d) + lead.key.pitch_class) % 12 for p in lead.rules.lead.palette.values() for d in p
    }
    played = set(range(12)) if every else palette
    graced = {
        (semitones(text.split()[0]) + lead.key.pitch_class) % 12 for text in lead.rules.lead.techniques.graces
    }
    open_strings = position <= windows.open_strings_up_to
    for string in range(1, neck.strings + 1):
        frets = range(max(1, position - 1), min(neck.top_fret, position + 4) + 1)
        for fret in (*((0,) if open_strings else ()), *frets):
            pitch = neck.pitch(string, fret)
            fingers = _fingers(lead, fret, position)
            for finger in fingers:
                plain = Touch(string, fret, finger, position, pitch)
                if pitch % 12 in played:
                    yield plain
                    if pitch % 12 in graced:
                        yield from _graced(plain)
                yield from _bent(lead, plain)
            if fingers and pitch % 12 in played:
                yield from _doubled(lead, Touch(string, fret, fingers[0], position, pitch), graced)


def _fingers(lead: Lead, fret: int, position: int) -> tuple[int, ...]:
    """The fingers for a fret by the hand's shape, its own first; 0 for an open string."""
    return lead.shape.fingers(fret - position) if fret else (0,)


def _graced(touch: Touch) -> Iterator[Touch]:
    if touch.finger >= 2 and touch.fret >= 2:
        yield touch._replace(grace=GRACE_HAMMER, grace_frets=1)


def _bent(lead: Lead, touch: Touch) -> Iterator[Touch]:
    for size in lead.rules.lead.bends.sizes:
        for kind in lead.rules.lead.bends.kinds:
            if size != "quarter" or kind == "bend":
                yield touch._replace(bend=BEND_SIZES[size], kind=_KINDS[kind])


def _doubled(lead: Lead, touch: Touch, graced: set[int]) -> Iterator[Touch]:
    """The touch with each lower voice on the next string; on one fret one finger lies over both."""
    string, neck, position = touch.string + 1, lead.neck, touch.position
    if string > neck.strings:
        return
    for interval in lead.rules.lead.techniques.double_stop_intervals:
        pitch = touch.pitch - interval
        fret = pitch - neck.pitch(string, 0)
        open_string = fret == 0 and position <= lead.rules.lead.windows.open_strings_up_to
        if not open_string and not max(1, position - 1) <= fret <= position + 4:
            continue
        fingers = _fingers(lead, fret, position)
        if not fingers:
            continue
        finger = touch.finger if fret == touch.fret else fingers[0]
        doubled = touch._replace(mate_string=string, mate_fret=fret, mate_finger=finger, mate_pitch=pitch)
        yield doubled
        if pitch % 12 in graced and finger >= 2 and fret >= 2 and finger != touch.finger:
            yield doubled._replace(grace=GRACE_HAMMER, grace_frets=1)


def passes(rules: Sequence[TouchRule], table: TouchTable) -> BoolArray:
    """True for the touches that every rule allows."""
    good = np.ones(len(table), bool)
    for rule in rules:
        good &= rule.allows(table)
    return good


def touches_in(
    lead: Lead, positions: tuple[int, ...], rules: Sequence[TouchRule], *, every: bool = False
) -> TouchTable:
    """The candidates of some positions that the given touch rules allow, each once; ``every`` as in ``candidates``."""
    table = TouchTable.of(
        dict.fromkeys(t for position in positions for t in candidates(lead, position, every=every))
    )
    return table.take(passes(rules, table))


class Edges(NamedTuple):
    """The moves of a rule graph as columns of one length, sorted by source, then target, then way.

    ``source`` and ``target`` are nodes; ``way`` is PLUCK, HAMMER, PULL or SLIDE; ``cost`` is in points;
    ``needs_s`` are the seconds that must lie between the two onsets at least. An edge's number is its row.
    """

    source: IntArray
    target: IntArray
    way: IntArray
    cost: IntArray
    needs_s: FloatArray


@dataclass(frozen=True)
class RuleGraph:
    """The rule graph of some positions: nodes 0..N-1 are the rows of ``table``, ``edges`` the moves between them."""

    lead: Lead
    positions: tuple[int, ...]
    table: TouchTable
    edges: Edges

    @cached_property
    def touches(self) -> tuple[Touch, ...]:
        """The rows of the table, one touch a node."""
        return tuple(self.table.row(n) for n in range(len(self.table)))

    @cached_property
    def multigraph(self) -> nx.MultiDiGraph:
        """The same for listings and tests: a node has its ``touch``; an edge's key is the way, its attributes ``cost``
        and ``needs_s``.

        Built when first asked for; the search never asks for it.
        """
        graph = nx.MultiDiGraph()
        graph.add_nodes_from((n, {"touch": touch}) for n, touch in enumerate(self.touches))
        columns = (column.tolist() for column in self.edges)
        graph.add_edges_from(
            (source, target, way, {"cost": cost, "needs_s": needs_s})
            for source, target, way, cost, needs_s in zip(*columns, strict=True)
        )
        return graph


def rule_graph(lead: Lead, positions: tuple[int, ...]) -> RuleGraph:
    """The graph of some positions, under all rules of the lead.

    Cost: O(N^2 x rules) for N touches.
    """
    return graph_of(lead, positions, touches_in(lead, positions, lead.touch_rules))


def graph_of(lead: Lead, positions: tuple[int, ...], table: TouchTable) -> RuleGraph:
    """The graph of those touches of a table that the lead's touch rules allow, with the moves that its move rules allow."""
    table = table.take(passes(lead.touch_rules, table))
    source, target, way = worth_asking(lead, table)
    a, b = table.take(source), table.take(target)
    allowed = np.ones(len(way), bool)
    for rule in lead.move_rules:
        allowed &= rule.allows(a, b, way)
    source, target, way, a, b = (
        source[allowed],
        target[allowed],
        way[allowed],
        a.take(allowed),
        b.take(allowed),
    )
    cost = sum((p.cost(a, b, way) for p in lead.move_preferences), np.zeros(len(way), np.int64))
    needs_s = np.zeros(len(way))
    for time_rule in lead.time_rules:
        needs_s = np.maximum(needs_s, time_rule.needs(a, b, way))
    return RuleGraph(lead, positions, table, Edges(source, target, way, cost, needs_s))


def worth_asking(lead: Lead, table: TouchTable) -> tuple[IntArray, IntArray, IntArray]:
    """Source, target and way of the moves to put to the rules, sorted in that order.

    Left out are shifts where the hand may not move inside a lick, and legato between strings or on one fret.
    """
    worth = np.ones((len(table), len(table), len(WAYS)), bool)
    if not lead.rules.lead.windows.shift_inside:
        worth &= (table.position[:, None] == table.position)[:, :, None]
    on_string = (table.string[:, None] == table.string) & (table.fret[:, None] != table.fret)
    worth[:, :, (HAMMER, PULL, SLIDE)] &= on_string[:, :, None]
    source, target, way = np.nonzero(worth)
    return source, target, way


@dataclass(frozen=True)
class JudgedMoves:
    """The moves worth asking about among some touches, and what each rule says of each, by the rule's name.

    ``rule_graph`` keeps only what all rules allow; here any of them can be left out afterwards.
    """

    table: TouchTable
    source: IntArray
    target: IntArray
    way: IntArray
    allows: dict[str, BoolArray]
    needs_s: dict[str, FloatArray]

    @classmethod
    def of(cls, lead: Lead, table: TouchTable) -> JudgedMoves:
        """The moves among the touches of a table, put to each move rule and time rule of the lead."""
        source, target, way = worth_asking(lead, table)
        a, b = table.take(source), table.take(target)
        return cls(
            table,
            source,
            target,
            way,
            {rule.name: rule.allows(a, b, way) for rule in lead.move_rules},
            {rule.name: rule.needs(a, b, way) for rule in lead.time_rules},
        )

    def edges(self, names: Collection[str]) -> Edges:
        """The moves that the rules of these names allow, without costs."""
        good = np.ones(len(self.source), bool)
        needs_s = np.zeros(len(self.source))
        for name, allowed in self.allows.items():
            if name in names:
                good &= allowed
        for name, seconds in self.needs_s.items():
            if name in names:
                needs_s = np.maximum(needs_s, seconds)
        no_cost = np.zeros(int(good.sum()), np.int64)
        return Edges(self.source[good], self.target[good], self.way[good], no_cost, needs_s[good])
