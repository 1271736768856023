"""Licks drawn exactly from a rule file, p ~ exp(-cost / temperature), as examples to learn from."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from lickwright.learn.examples import Example
from lickwright.learn.weights import Weights, learnable, widened
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book
from lickwright.rulebook.read import read_rules
from lickwright.solver.licks import LickMaker
from lickwright.solver.plan.cells import make_plan
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Key

KEY = Key("A")
TEMPO = 58


@lru_cache(maxsize=4)
def book_of(style: str) -> Book:
    return read_rules(style)[0]


def lead_of(data: dict, style: str = "slow-shuffle") -> Lead:
    weights = Weights(data, book_of(style), KEY, read_rules(style)[1].neck.neck(), ())
    return weights.own


def drawn(lead: Lead, count: int, seed: int, plans: int = 24) -> list[Example]:
    """``count`` licks in the rhythms and places of some plans, as many of each."""
    rng = np.random.default_rng(seed)
    found: list[Example] = []
    temperature = lead.rules.lead.adventure
    licks = []
    makers: dict[tuple[ChordSpan, ...], LickMaker] = {}
    while len(licks) < plans:
        plan = make_plan(lead.rules, lead.key, lead.neck, TEMPO, rng)
        makers.setdefault(plan.form, LickMaker(lead, plan.form, TEMPO))
        licks += [(lick, plan.form) for lick in plan.licks if lick.quotes is None]
    for lick, form in licks[:plans]:
        lick = replace(lick, leads=False, figure_notes=0)
        position = lick.positions[0]
        lattice = makers[form].lattice(lick, position)
        table = lattice.graph.table
        rows, scale = lattice.weights(np.zeros(len(table)), temperature)
        log = lattice.start_log(rows[0], scale, temperature)
        if not np.isfinite(log).any():
            continue
        odds = np.exp(log - log.max())
        size = -(-count // plans)
        first = rng.choice(len(table), size=size, p=odds / odds.sum())
        nodes, edges = lattice.draw(first, rows, temperature, rng)
        ways = lattice.graph.edges.way
        every = lattice.graph.touches
        for path, moves in zip(nodes, edges, strict=True):
            found.append(
                Example("drawn", lick, tuple(every[n] for n in path), tuple(int(w) for w in ways[moves]), position,
                        form, lead.key, lead.rules.study.grid, TEMPO)
            )  # fmt: skip
    return found


def weights_for(data: dict, examples: list[Example], style: str = "slow-shuffle") -> Weights:
    wide = widened(data, examples)
    lead = lead_of(wide, style)
    return Weights(wide, book_of(style), KEY, lead.neck, learnable(wide, examples))
