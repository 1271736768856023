"""The rule graph: touches of some hand windows as nodes, the ways from one to the next as parallel edges.

It holds everything that does not depend on time or chord: the touch rules decide the nodes, the move rules
the edges, the move preferences their cost. Lattices sweep over it onset by onset.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

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
    PLUCK,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    BoolArray,
    FloatArray,
    IntArray,
    Touch,
    TouchTable,
)
from lickwright.theory.harmony import semitones

_KINDS = {"bend": BEND, "bend-release": BEND_RELEASE, "pre-bend-release": PRE_BEND_RELEASE}


def candidates(lead: Lead, hand: int, *, every: bool = False) -> Iterator[Touch]:
    """Every touch one might think of with the index finger at a fret, before any rule has looked at it.

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
    open_strings = hand <= windows.open_strings_up_to
    for string in range(1, neck.strings + 1):
        frets = range(max(1, hand - 1), min(neck.top_fret, hand + 4) + 1)
        for fret in (*((0,) if open_strings else ()), *frets):
            pitch = neck.pitch(string, fret)
            fingers = _fingers(lead, fret, hand)
            for finger in fingers:
                plain = Touch(string, fret, finger, hand, pitch)
                if pitch % 12 in played:
                    yield plain
                    if pitch % 12 in graced:
                        yield from _graced(plain)
                yield from _bent(lead, plain)
            if fingers and pitch % 12 in played:
                yield from _doubled(lead, Touch(string, fret, fingers[0], hand, pitch), graced)


def _fingers(lead: Lead, fret: int, hand: int) -> tuple[int, ...]:
    """The fingers for a fret by the hand's shape, its own first; 0 for an open string."""
    return lead.shape.fingers(fret - hand) if fret else (0,)


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
    string, neck, hand = touch.string + 1, lead.neck, touch.hand
    if string > neck.strings:
        return
    for interval in lead.rules.lead.techniques.double_stop_intervals:
        pitch = touch.pitch - interval
        fret = pitch - neck.pitch(string, 0)
        open_string = fret == 0 and hand <= lead.rules.lead.windows.open_strings_up_to
        if not open_string and not max(1, hand - 1) <= fret <= hand + 4:
            continue
        fingers = _fingers(lead, fret, hand)
        if not fingers:
            continue
        finger = touch.finger if fret == touch.fret else fingers[0]
        made = touch._replace(mate_string=string, mate_fret=fret, mate_finger=finger, mate_pitch=pitch)
        yield made
        if pitch % 12 in graced and finger >= 2 and fret >= 2 and finger != touch.finger:
            yield made._replace(grace=GRACE_HAMMER, grace_frets=1)


def passes(rules: tuple[TouchRule, ...], table: TouchTable) -> BoolArray:
    """True for the touches that every rule allows."""
    good = np.ones(len(table), bool)
    for rule in rules:
        good &= rule.allows(table)
    return good


Arrays: TypeAlias = tuple[IntArray, IntArray, IntArray, IntArray, FloatArray]


@dataclass(frozen=True)
class RuleGraph:
    """The rule graph of some hand windows: nodes 0..N-1 are rows of ``table``.

    ``arrays`` has the edges as columns, sorted by source: source, target, way (PLUCK, HAMMER, PULL, SLIDE),
    cost in points, seconds needed between the two onsets at least.
    """

    lead: Lead
    hands: tuple[int, ...]
    table: TouchTable
    arrays: Arrays

    @cached_property
    def touches(self) -> tuple[Touch, ...]:
        """The rows of the table, one touch a node."""
        return tuple(self.table.row(n) for n in range(len(self.table)))

    @cached_property
    def graph(self) -> nx.MultiDiGraph:
        """The same as a graph: an edge's key is the way, its attributes are ``cost`` and ``needs``."""
        made = nx.MultiDiGraph()
        made.add_nodes_from(range(len(self.table)))
        columns = (column.tolist() for column in self.arrays)
        made.add_edges_from(
            (s, t, way, {"cost": c, "needs": w}) for s, t, way, c, w in zip(*columns, strict=True)
        )
        return made


def rule_graph(lead: Lead, hands: tuple[int, ...]) -> RuleGraph:
    """Builds the graph for the windows whose index fingers lie at ``hands``."""
    found = TouchTable.of(dict.fromkeys(t for hand in hands for t in candidates(lead, hand)))
    table = found.take(passes(lead.touch_rules, found))
    parts = [_edges(lead, table, way) for way in (PLUCK, HAMMER, PULL, SLIDE)]
    source, target, way, cost = (np.concatenate([part[k] for part in parts]) for k in range(4))
    needs = np.concatenate([part[4] for part in parts])
    order = np.lexsort((way, target, source))
    return RuleGraph(
        lead, hands, table, (source[order], target[order], way[order], cost[order], needs[order])
    )


def _edges(lead: Lead, table: TouchTable, way: int) -> Arrays:
    """The moves in one way that every rule allows, as columns."""
    sources, targets = worth_asking(lead, table, way)
    a, b = table.take(sources), table.take(targets)
    how = np.full(len(sources), way, np.int64)
    allowed = np.ones(len(how), bool)
    for rule in lead.move_rules:
        allowed &= rule.allows(a, b, how)
    a, b, how = a.take(allowed), b.take(allowed), how[allowed]
    cost = sum((p.cost(a, b, how) for p in lead.move_preferences), np.zeros(len(how), np.int64))
    needs = np.zeros(len(how))
    for time_rule in lead.time_rules:
        needs = np.maximum(needs, time_rule.needs(a, b, how))
    return sources[allowed], targets[allowed], how, cost, needs


def worth_asking(lead: Lead, table: TouchTable, way: int) -> tuple[IntArray, IntArray]:
    """Pairs of touches to put to the rules: a hand that may not shift stays, and legato keeps to its string."""
    pairs = np.ones((len(table), len(table)), bool)
    if not lead.rules.lead.windows.shift_inside:
        pairs &= table.hand[:, None] == table.hand
    if way != PLUCK:
        pairs &= (table.string[:, None] == table.string) & (table.fret[:, None] != table.fret)
    sources, targets = np.nonzero(pairs)
    return sources, targets
