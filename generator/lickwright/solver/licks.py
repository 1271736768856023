"""From a planned lick to its lattices: the rules and preferences of its onsets as costs on nodes and edges.

A peak says which onset has the one highest note, and its pitch; pitch targets draw notes towards those of another
lick. Both only add costs to nodes and edges, so the lattice stays exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Self, TypeAlias

import numpy as np
from numpy.random import Generator

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.lick_line import line_of_touches
from lickwright.rulebook.places import places
from lickwright.rulebook.rule import FORBIDDEN, At, Automaton, LickRule, Line, OnsetPreference, OnsetRule
from lickwright.rulebook.touches import NO_GRACE, BoolArray, IntArray, Touch, TouchTable
from lickwright.rulebook.written import written_lead
from lickwright.solver.automaton import Compiled, compile_rules, language
from lickwright.solver.bounds import check_size
from lickwright.solver.chain import LickSlot
from lickwright.solver.lattice import Lattice
from lickwright.solver.moves import RuleGraph, rule_graph
from lickwright.solver.plan.layout import LickPlan
from lickwright.solver.written import mask_graph, masked
from lickwright.study.model import ChordSpan
from lickwright.theory.rhythm import seconds


@dataclass(frozen=True)
class Solved:
    """A lick that was found: its touches, the ways between them (one fewer), its cost."""

    plan: LickPlan
    touches: tuple[Touch, ...]
    ways: tuple[int, ...]
    cost: int

    @property
    def pitches(self) -> tuple[int, ...]:
        """The melody as it is heard, MIDI."""
        return tuple(t.pitch + t.bend // 2 for t in self.touches)

    @property
    def landing(self) -> int:
        """The pitch on which it comes home."""
        last = self.touches[-1]
        return last.pitch + (last.bend // 2 if last.kind in (0, 1) else 0)


@dataclass(frozen=True)
class PitchTargets:
    """Pitches (MIDI) that the first onsets of a lick are drawn to, and the points for each semitone off them.

    Nothing further away than ``band`` semitones is allowed, if given; ``wrong`` are the points for a move in another
    direction than the targets', by default those of the rule files.
    """

    pitches: tuple[int, ...]
    semitone: int
    band: int | None = None
    wrong: int | None = None


#: Which touches may stand at an onset.
Mark: TypeAlias = Callable[[TouchTable], BoolArray]


def context(plan: LickPlan, form: tuple[ChordSpan, ...], lead: Lead, tempo_bpm: int) -> tuple[At, ...]:
    """The onsets of a planned lick as the rules see them."""
    grid = lead.rules.study.grid
    return places(plan.onsets, form, lead.key, grid, tempo_bpm, plan.role, plan.figure_notes)


def lattice_over(
    graph: RuleGraph,
    compiled: Compiled,
    onsets: Sequence[At],
    rules: Sequence[OnsetRule],
    preferences: Sequence[OnsetPreference] = (),
) -> Lattice:
    """The rule graph unrolled over a lick's onsets, with what the onset rules forbid and the preferences cost.

    Raises SearchTooLarge when its rows would need too much memory.
    """
    table = graph.table
    check_size(len(table), len(graph.edges.source), compiled.states, len(onsets))
    node_cost = np.zeros((len(onsets), len(table)), np.int64)
    for row, at in zip(node_cost, onsets, strict=True):
        for preference in preferences:
            row += preference.cost(table, at)
        for rule in rules:
            row[~rule.allows(table, at)] = FORBIDDEN
    gap_s = np.array([seconds(b.tick - a.tick, a.tempo_bpm) for a, b in pairwise(onsets)])
    joined = np.array([at.joined for at in onsets[:-1]], bool)
    return Lattice(graph, compiled, node_cost, gap_s, joined, (None,) * (len(onsets) - 1))


class LickMaker:
    """Builds the lattices of licks over one form of chords.

    Rule graphs and automata are worked out once for each position, and lattices once for each planned lick; makers for
    other forms (``for_form``) share them all.
    """

    def __init__(self, lead: Lead, form: tuple[ChordSpan, ...], tempo_bpm: int):
        self.lead = lead
        self.form = form
        self.tempo_bpm = tempo_bpm
        self.written = written_lead(lead)
        self._written_language = language(self.written.lick_rules)
        self._graphs: dict[int, RuleGraph] = {}
        self._languages: dict[tuple[str, ...], Automaton] = {}
        self._compiled: dict[tuple[int, tuple[str, ...]], Compiled] = {}
        self._lattices: dict[tuple[LickPlan, int, tuple[ChordSpan, ...]], Lattice] = {}
        self._possible: dict[tuple[LickPlan, int, tuple[ChordSpan, ...]], bool] = {}

    def for_form(self, form: tuple[ChordSpan, ...]) -> Self:
        """A maker for licks over another form, with the tables of this one."""
        other = copy(self)
        other.form = form
        return other

    def graph(self, position: int) -> RuleGraph:
        """The rule graph of one position."""
        if position not in self._graphs:
            self._graphs[position] = rule_graph(self.lead, (position,))
        return self._graphs[position]

    def compiled(self, position: int, rules: tuple[LickRule, ...]) -> Compiled:
        """The automaton of some lick rules over one position's graph."""
        names = tuple(rule.name for rule in rules)
        if names not in self._languages:
            self._languages[names] = language(rules)
        key = (position, names)
        if key not in self._compiled:
            self._compiled[key] = compile_rules(rules, self.graph(position), self._languages[names])
        return self._compiled[key]

    def lattice(self, plan: LickPlan, position: int) -> Lattice:
        """The lick's lattice in one position, with what the rule files say and nothing else."""
        key = plan, position, self.form
        if key not in self._lattices:
            self._lattices[key] = self._built(plan, position)
        return self._lattices[key]

    def possible(self, plan: LickPlan, position: int) -> bool:
        """True when the rules leave a lick in a position."""
        key = plan, position, self.form
        if key not in self._possible:
            self._possible[key] = self.lattice(plan, position).possible()
        return self._possible[key]

    def _built(self, plan: LickPlan, position: int) -> Lattice:
        if plan.mask is not None:
            return self._written(plan, position)
        onsets = context(plan, self.form, self.lead, self.tempo_bpm)
        compiled = self.compiled(position, self.lead.slot_rules(onsets))
        if not plan.leads:
            onsets = tuple(replace(at, in_figure=False) for at in onsets)
        rules, preferences = self.lead.onset_rules, self.lead.onset_preferences
        return lattice_over(self.graph(position), compiled, onsets, rules, preferences)

    def _written(self, plan: LickPlan, position: int) -> Lattice:
        lead = self.written
        graph = mask_graph(lead, plan, position)
        compiled = compile_rules(lead.lick_rules, graph, self._written_language)
        onsets = context(plan, self.form, lead, self.tempo_bpm)
        return masked(lattice_over(graph, compiled, onsets, lead.onset_rules), plan)

    def shaped(
        self,
        plan: LickPlan,
        position: int,
        peak: tuple[int, int] | None,
        quote: PitchTargets | None,
        follows: int | None,
        bends: bool = True,
        graces: bool = True,
    ) -> Lattice:
        """The lattice with a planned peak (onset, pitch) if any, a quote, and the landing to move away from.

        Without ``bends`` or ``graces`` the study has used up its own.
        """
        lattice = self.lattice(plan, position)
        table = lattice.graph.table
        rows = lattice.node_cost.copy()
        where, pitch = peak or (0, 0)
        for i in range(len(rows) if peak else 0):
            good = table.enter == pitch if i == where else table.enter < pitch
            rows[i][~good] = FORBIDDEN
        if not bends:
            rows[:, table.bent] = FORBIDDEN
        if not graces:
            rows[:, table.grace != NO_GRACE] = FORBIDDEN
        melody = self.lead.rules.lead.melody
        if follows is not None:
            rows[-1] += melody.same_landing * (table.leave == follows)
        edges = lattice.graph.edges
        interval = table.enter[edges.target] - table.leave[edges.source]
        edge_costs = []
        after = melody.up_after_peak[plan.role]  # type: ignore[index]
        for i in range(len(rows) - 1):
            cost = (
                np.where(interval > 0, after, 0)
                if i >= where
                else np.where(interval < 0, melody.down_before_peak, 0)
            )
            if i == len(rows) - 2:
                cost = cost + melody.landing_leap * (np.abs(interval) > melody.landing_step)
                cost = cost + melody.landing_leap * (interval == 0)
            edge_costs.append(cost)
        if quote is not None:
            self._add_targets(rows, edge_costs, lattice, quote)
        return replace(lattice, node_cost=np.minimum(rows, FORBIDDEN), edge_cost=tuple(edge_costs))

    def _add_targets(
        self, rows: IntArray, edge_costs: list[IntArray], lattice: Lattice, targets: PitchTargets
    ) -> None:
        wrong = self.lead.rules.lead.quote.wrong_direction if targets.wrong is None else targets.wrong
        table = lattice.graph.table
        edges = lattice.graph.edges
        interval = table.enter[edges.target] - table.leave[edges.source]
        for i, pitch in enumerate(targets.pitches):
            off = np.abs(table.enter - pitch)
            rows[i] += targets.semitone * off
            if targets.band is not None:
                rows[i][off > targets.band] = FORBIDDEN
            if i:
                direction = np.sign(pitch - targets.pitches[i - 1])
                edge_costs[i - 1] = edge_costs[i - 1] + wrong * (np.sign(interval) != direction)

    def drawn_to(self, lattice: Lattice, targets: PitchTargets | None) -> Lattice:
        """The lattice with costs for missing the targets; itself when there are none."""
        if targets is None:
            return lattice
        rows = lattice.node_cost.copy()
        nothing = np.zeros(len(lattice.graph.edges.source), np.int64)
        edge_costs = [nothing if costs is None else costs for costs in lattice.edge_cost]
        self._add_targets(rows, edge_costs, lattice, targets)
        return replace(lattice, node_cost=np.minimum(rows, FORBIDDEN), edge_cost=tuple(edge_costs))

    def restricted(
        self, plan: LickPlan, lattice: Lattice, marks: Mapping[int, Mark], ways: Mapping[int, int]
    ) -> Lattice:
        """The lattice with just the touches that are marked and the ways that are asked for, by tick."""
        asked = [(i, o.tick) for i, o in enumerate(plan.onsets) if o.tick in marks or o.tick in ways]
        if not asked:
            return lattice
        rows, edge_costs, way = lattice.node_cost.copy(), list(lattice.edge_cost), lattice.graph.edges.way
        for i, tick in asked:
            if tick in marks:
                rows[i][~marks[tick](lattice.graph.table)] = FORBIDDEN
            if tick in ways and i:
                before = edge_costs[i - 1]
                other = np.where(way == ways[tick], 0, FORBIDDEN)
                edge_costs[i - 1] = other if before is None else np.minimum(before + other, FORBIDDEN)
        return replace(lattice, node_cost=rows, edge_cost=tuple(edge_costs))

    def peaks(self, plan: LickPlan, position: int, home: int, rng: Generator) -> Iterator[tuple[int, int]]:
        """Peaks to try (onset, pitch), the role's wish first, in an order drawn by the seed."""
        graph = self.graph(position)
        lead = self.lead.rules.lead
        top = self.lead.neck.pitch(1, home + 3)
        low, high = lead.peaks[plan.role]  # type: ignore[index]
        reachable = sorted({int(p) for p in graph.table.enter})
        wished = [p for p in reachable if top + low <= p <= top + high]
        near = [
            p
            for p in reachable
            if top + low - lead.peak_slack <= p <= top + high + lead.peak_slack and p not in wished
        ]
        n = len(plan.onsets)
        place = lead.peak_place[plan.role]  # type: ignore[index]
        weight = np.exp(-(((np.arange(n) / max(n - 1, 1) - place) / lead.peak_spread) ** 2)) + 1e-3
        weight[-1] *= lead.peak_last
        for pool in (wished, near):
            pairs = [(i, p) for p in pool for i in range(n)]
            if not pairs:
                continue
            odds = np.array([weight[i] for i, _ in pairs])
            keys = rng.exponential(size=len(pairs)) / np.maximum(odds, 1e-9)
            for k in np.argsort(keys, kind="stable"):
                if odds[k] > 0:
                    yield pairs[k]

    def peaks_over(
        self, plan: LickPlan, position: int, marks: Mapping[int, Mark], peaks: Iterable[tuple[int, int]]
    ) -> Iterator[tuple[int, int]]:
        """Of some peaks those that can be the one highest note, given what is marked at the onsets (by tick)."""
        lattice = self.restricted(plan, self.lattice(plan, position), marks, {})
        pitches = lattice.graph.table.enter
        heights = [set(pitches[row < FORBIDDEN].tolist()) for row in lattice.node_cost]
        lowest = [min(pitches_here, default=128) for pitches_here in heights]
        for where, pitch in peaks:
            below = all(low < pitch for i, low in enumerate(lowest) if i != where)
            if below and pitch in heights[where]:
                yield where, pitch

    def slot(self, plan: LickPlan, lattices: tuple[Lattice, ...]) -> LickSlot:
        """The lick as a link of the chain."""
        return LickSlot(plan.start, plan.onsets[-1].tick, plan.onsets[-1].duration, lattices)


def line_of_lick(plan: LickPlan, touches: Sequence[Touch]) -> Line:
    """A planned lick's touches as the shape rules see them."""
    ticks, durations = [o.tick for o in plan.onsets], [o.duration for o in plan.onsets]
    return line_of_touches(touches, ticks, durations, plan.figure_notes, plan.leads)
