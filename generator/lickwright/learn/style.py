"""Licks to a style: weights and rhythms learned over a base style, how well they tell new licks, as a rule file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from lickwright.guitar.neck import Neck
from lickwright.learn.examples import Example, moves_text
from lickwright.learn.fit import Fit, fit
from lickwright.learn.rhythms import counted
from lickwright.learn.sites import Site, Surveyor
from lickwright.learn.weights import Path, Weights, learnable, widened, with_values
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book
from lickwright.rulebook.touches import FloatArray
from lickwright.solver.licks import LickMaker
from lickwright.theory.harmony import Key

#: Licks are held out in this many parts, each in turn.
FOLDS = 5


@dataclass(frozen=True)
class Learned:
    """What licks taught: ``data`` is the base's rule data with the licks' degrees let in, ``values`` the weights
    in whole points (K), ``counts`` how often each was charged, ``unusable`` notes that the base's rules forbid.
    """

    weights: Weights
    fit: Fit
    values: tuple[int, ...]
    counts: tuple[int, ...]
    notes: int
    unusable: int
    examples: tuple[Example, ...]

    @property
    def data(self) -> dict[str, Any]:
        """The rule data with the learned weights."""
        return with_values(self.weights.data, dict(zip(self.weights.paths, self.values, strict=True)))

    @property
    def base(self) -> tuple[int, ...]:
        """The base file's points."""
        return tuple(int(v) for v in self.weights.values)

    @cached_property
    def rhythms(self) -> tuple[Counter[str], Counter[str]]:
        """Figures and ways home with how often they were heard."""
        return counted(self.examples)

    @property
    def lines(self) -> tuple[str, ...]:
        """The licks' lines, each once, for the rule against copying."""
        return tuple(dict.fromkeys(moves_text(e) for e in self.examples))


def learn(examples: Sequence[Example], book: Book, neck: Neck) -> Learned:
    """Learns from licks over a base style's rule data. O(notes x alternatives), a millisecond or two a note."""
    data = widened(book.data, examples)
    paths = learnable(data, examples)
    base = Weights(data, book, examples[0].key if examples else Key("A"), neck, paths)
    sites: list[Site] = []
    counts = np.zeros(len(paths))
    unusable = 0
    surveyors: dict[Key, Surveyor] = {}
    for example in examples:
        if example.key not in surveyors:
            surveyors[example.key] = Surveyor(base.at(example.key, neck))
        surveyor = surveyors[example.key]
        for site in surveyor.sites(example):
            if isinstance(site, Site):
                sites.append(site)
            else:
                unusable += 1
        counts += surveyor.counts(example)
    found = fit(sites, base.values, base.own.rules.lead.adventure)
    values = _levelled(paths, found.values, base.values)
    notes = sum(len(e.touches) for e in examples)
    return Learned(base, found, values, tuple(int(c) for c in counts), notes, unusable, tuple(examples))


def _levelled(paths: Sequence[Path], values: FloatArray, base: FloatArray) -> tuple[int, ...]:
    """Whole points; the cheapest entry of a table of degrees costs what the base's cheapest does."""
    made = values.copy()
    for table in {p[:-1] for p in paths if p[1] in ("palette", "landing")}:
        mine = [k for k, p in enumerate(paths) if p[:-1] == table]
        made[mine] += base[mine].min() - values[mine].min()
    return tuple(int(v) for v in np.clip(np.rint(made), -1000, 1000))


@dataclass(frozen=True)
class Prediction:
    """Bits a note by which held-out licks are told by the base file's weights and by the learned ones; over
    ``licks`` licks, ``left_out`` of which no rule file of these allows.
    """

    base: float
    learned: float
    licks: int
    left_out: int


def predicted(examples: Sequence[Example], book: Book, neck: Neck) -> Prediction:
    """Learns from four fifths of the licks and tells the other fifth, each in turn.

    A lick's probability is exp(-cost / temperature) over the sum of that for all licks of its rhythm and position,
    exactly, from the lattice; both files get the degrees of the learned ones let in, so that both can play them.
    """
    totals, notes, licks, out = np.zeros(2), 0, 0, 0
    for part in range(FOLDS):
        rest = [e for k, e in enumerate(examples) if k % FOLDS != part]
        held = [e for k, e in enumerate(examples) if k % FOLDS == part]
        if not rest or not held:
            continue
        learned = learn(rest, book, neck)
        scored = [Scorer(learned.weights.data, learned.weights), Scorer(learned.data, learned.weights)]
        for example in held:
            found = [scorer.bits(example) for scorer in scored]
            if None in found:
                out += 1
                continue
            totals += np.array(found, float)
            notes += len(example.touches)
            licks += 1
    told = totals / notes if notes else np.full(2, np.nan)
    return Prediction(float(told[0]), float(told[1]), licks, out)


class Scorer:
    """Says how many bits a lick takes under rule data."""

    def __init__(self, data: dict[str, Any], weights: Weights):
        self.weights = Weights(data, weights.book, weights.key, weights.neck, ())
        self._leads: dict[Key, Lead] = {}
        self._makers: dict[tuple[Key, int, tuple[str, ...]], LickMaker] = {}

    def bits(self, example: Example) -> float | None:
        """The bits of a whole lick; None when the rules forbid it."""
        if example.key not in self._leads:
            self._leads[example.key] = self.weights.at(example.key, self.weights.neck).own
        lead = self._leads[example.key]
        name = example.key, example.tempo_bpm, tuple(s.roman for s in example.form)
        if name not in self._makers:
            self._makers[name] = LickMaker(lead, example.form, example.tempo_bpm)
        lattice = self._makers[name].lattice(example.plan, example.position)
        node_of = {t: n for n, t in enumerate(lattice.graph.touches)}
        source, target, way, _, _ = lattice.graph.edges
        nodes = [node_of.get(t, -1) for t in example.touches]
        if min(nodes) < 0:
            return None
        edges = []
        for k, (a, b, how) in enumerate(zip(nodes, nodes[1:], example.ways, strict=False)):
            low, high = np.searchsorted(source, [a, a + 1])
            there = [e for e in range(low, high) if target[e] == b and way[e] == how]
            in_time = lattice.in_time(k)
            edges += [e for e in there if in_time[e]][:1]
        if len(edges) < len(nodes) - 1:
            return None
        temperature = lead.rules.lead.adventure
        rows, scale = lattice.weights(np.zeros(len(lattice.graph.table)), temperature)
        every = lattice.start_log(rows[0], scale, temperature)
        whole = float(np.logaddexp.reduce(every[np.isfinite(every)])) if np.isfinite(every).any() else -np.inf
        cost = int(lattice.cost_of(np.array([nodes]), np.array([edges], np.int64).reshape(1, -1))[0])
        bits = (cost / temperature + whole) / np.log(2)
        return float(bits) if np.isfinite(bits) and self._accepted(lattice, nodes, edges) else None

    def _accepted(self, lattice: Any, nodes: list[int], edges: list[int]) -> bool:
        compiled = lattice.compiled
        if any(lattice.node_cost[i][n] >= 1 << 27 for i, n in enumerate(nodes)):
            return False
        state = int(compiled.delta[compiled.first[nodes[0]], 0])
        for edge in edges:
            if state < 0:
                return False
            state = int(compiled.delta[compiled.move[edge], state])
        return state >= 0 and bool(compiled.accept[state])
