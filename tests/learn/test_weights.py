"""Learning from licks: the features add up to the cost, drawn licks give their weights back, rhythms are heard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from lickwright.learn.examples import examples_of
from lickwright.learn.fit import fit
from lickwright.learn.rhythms import cells_of, counted, grade_of
from lickwright.learn.rule_file import report
from lickwright.learn.sites import Site, Surveyor
from lickwright.learn.style import Scorer, learn, predicted
from lickwright.learn.weights import value_at, widened, with_values
from lickwright.rulebook.touches import Touch
from lickwright.solver.fixed import plan_of
from lickwright.solver.licks import LickMaker
from lickwright.theory.rhythm import Onset, parse_cell

from tests.learn.draws import TEMPO, book_of, drawn, lead_of, weights_for
from tests.studies import tour

STYLE = "slow-shuffle"


def sites_of(surveyor, examples):
    return [s for e in examples for s in surveyor.sites(e) if isinstance(s, Site)]


def test_the_features_of_an_exchanged_note_add_up_to_the_cost_of_the_lattice():
    """For every alternative of a site: weights times features and fixed points differ as the lattice's costs do."""
    lead = lead_of(book_of(STYLE).data)
    example = drawn(lead, 6, 1, plans=6)[2]
    weights = weights_for(book_of(STYLE).data, [example])
    surveyor = Surveyor(weights)
    lattice = LickMaker(weights.own, example.form, TEMPO).lattice(example.plan, example.position)
    nodes = {t: n for n, t in enumerate(lattice.graph.touches)}
    path = [nodes[t] for t in example.touches]
    edges = {key: n for n, key in enumerate(zip(*(c.tolist() for c in lattice.graph.edges[:3]), strict=True))}
    moves = [edges[a, b, w] for a, b, w in zip(path, path[1:], example.ways, strict=False)]
    own = int(lattice.cost_of(np.array([path]), np.array([moves]))[0])
    source, target, way = lattice.graph.edges[:3]
    for i, site in enumerate(surveyor.sites(example)):
        assert isinstance(site, Site)
        points = site.features @ weights.values + site.fixed
        if 0 < i < len(path) - 1:
            found = set()
            for n in range(len(nodes)):
                for first in range(4):
                    for second in range(4):
                        a, b = edges.get((path[i - 1], n, first)), edges.get((n, path[i + 1], second))
                        if a is None or b is None:
                            continue
                        changed = [*path[:i], n, *path[i + 1 :]]
                        taken = [*moves[: i - 1], a, b, *moves[i + 1 :]]
                        found.add(int(lattice.cost_of(np.array([changed]), np.array([taken]))[0]) - own)
            here = {round(float(p - points[site.chosen])) for p in points}
            assert here <= found
    assert len(source) == len(target) == len(way)


def test_a_fit_without_licks_is_the_base_file():
    base = np.array([3.0, 5.0])
    assert fit([], base, 12.0).values.tolist() == [3.0, 5.0]


def test_a_fit_of_two_choices_is_the_log_odds():
    """One weight on one of two alternatives, taken in 30 of 100 cases: T ln(70 / 30) by hand."""
    taken = [Site(np.array([[1.0], [0.0]]), np.zeros(2), 0)] * 30
    other = [Site(np.array([[1.0], [0.0]]), np.zeros(2), 1)] * 70
    found = fit([*taken, *other], np.array([0.0]), 12.0, prior=1e6)
    assert found.values[0] == pytest.approx(12 * np.log(70 / 30), rel=1e-4)
    error = 12 / np.sqrt(100 * 0.3 * 0.7)
    assert found.error[0] == pytest.approx(error, rel=1e-3)


def test_few_licks_stay_near_the_base_file_and_many_do_not():
    choice = [Site(np.array([[1.0], [0.0]]), np.zeros(2), 0)]
    few, many = fit(choice, np.array([20.0]), 12.0), fit(choice * 300, np.array([20.0]), 12.0)
    assert 5 < few.values[0] < 20
    assert many.values[0] < -20


def test_degrees_that_the_licks_use_are_let_in_dearer_than_the_others():
    lead = lead_of(book_of(STYLE).data)
    examples = drawn(lead, 24, 2, plans=4)
    poor = with_values(book_of(STYLE).data, {})
    del poor["lead"]["palette"]["I"]["1"]
    wide = widened(poor, examples)
    assert wide["lead"]["palette"]["I"]["1"] == max(poor["lead"]["palette"]["I"].values()) + 10


def contrasts(paths, counts):
    """Rows over the weights: what licks can tell, for weights that were charged a hundred times or more.

    What a landing costs comes on top of its degree's cost, which is multiplied on long notes: with a few hundred
    landings the two are only told together, so landings are left out. Degrees and the ways to strike a note count
    less the mean of their table, for a constant on all of them changes no lick; the costs of the line and of
    letting a bend down count as they are.
    """
    tables = {}
    for k, path in enumerate(paths):
        struck = path[1] in ("techniques", "bends") and not path[-1].endswith("release")
        name = path[:-1] if path[1] in ("palette", "landing") else "struck" if struck else path
        tables.setdefault(name, []).append(k)
    rows = []
    for mine in tables.values():
        share = np.zeros(len(paths))
        if len(mine) > 1:
            share[mine] = counts[mine] / max(counts[mine].sum(), 1)
        for k in mine:
            if counts[k] >= 100 and paths[k][1] != "landing":
                rows.append(np.eye(len(paths))[k] - share)
    return np.array(rows)


def test_held_out_licks_are_told_by_what_the_others_taught():
    """Each lick in its turn; a lick alone leaves none to learn from, so nothing is told of it."""
    lead = lead_of(book_of(STYLE).data)
    examples = drawn(lead, 2, 1, plans=2)
    told = predicted(examples, book_of(STYLE), lead.neck)
    assert (told.licks, told.left_out) == (2, 0)
    assert 0 < told.base < 20
    assert 0 < told.learned < 20
    alone = predicted(examples[:1], book_of(STYLE), lead.neck)
    assert (alone.licks, alone.left_out) == (0, 0)
    assert np.isnan(alone.base)
    learned = learn(examples, book_of(STYLE), lead.neck)
    assert list(report(learned, alone))[-1] == "no held-out lick keeps the base's rules, so none can be told"
    *_, sentence, left = report(learned, replace(told, base=2.5, learned=2.25, left_out=3))
    assert sentence == "held-out licks (2) take 2.25 bits a note, 2.50 by the base file: 0.25 better"
    assert left == "3 held-out licks break the base's rules and are not counted"
    *_, sentence = report(learned, replace(told, base=2.5, learned=3.0))
    assert sentence.endswith("3.00 bits a note, 2.50 by the base file: 0.50 worse")


@pytest.mark.long
def test_two_thousand_drawn_licks_give_their_weights_back_within_a_tenth():
    """Licks drawn exactly from p ~ exp(-cost / T) of a rule file; the fit starts from another file.

    What can be told from licks is said in ``contrasts``. As a whole it comes back within 10 %; each weight within
    10 % or three and a half of its standard errors.
    """
    truth = book_of(STYLE).data
    examples = drawn(lead_of(truth), 2000, 1)
    elsewhere = with_values(
        truth,
        {
            ("lead", "palette", "I", "2"): 10,
            ("lead", "palette", "I", "b7"): 30,
            ("lead", "techniques", "hammer"): 20,
            ("lead", "melody", "leap"): 5,
            ("lead", "melody", "zigzag"): 5,
        },
    )
    weights = weights_for(elsewhere, examples)
    surveyor = Surveyor(weights)
    sites = sites_of(surveyor, examples)
    assert len(sites) == sum(len(e.touches) for e in examples), "every note of a drawn lick is a site"
    found = fit(sites, weights.values, 12.0)
    counts = sum(surveyor.counts(e) for e in examples)
    true = np.array([value_at(truth, p) for p in weights.paths], float)
    rows = contrasts(weights.paths, counts)
    assert len(rows) > 15
    off, wanted = rows @ (found.values - true), rows @ true
    assert np.linalg.norm(off) <= 0.1 * np.linalg.norm(wanted)
    errors = np.sqrt(np.einsum("rk,kl,rl->r", rows, found.covariance, rows))
    assert (np.abs(off) <= np.maximum(0.1 * np.abs(wanted), 3.5 * errors)).all()


@pytest.mark.long
def test_learned_weights_tell_held_out_licks_better_than_the_base_file():
    accent = with_values(
        book_of(STYLE).data,
        {
            ("lead", "palette", "I", "2"): 0,
            ("lead", "palette", "I", "b7"): 50,
            ("lead", "techniques", "slide"): -10,
            ("lead", "melody", "leap"): 0,
            ("lead", "melody", "skip"): 0,
        },
    )
    examples = drawn(lead_of(accent), 120, 5, plans=12)
    told = predicted(examples, book_of(STYLE), lead_of(accent).neck)
    assert told.left_out == 0
    assert told.licks == len(examples)
    assert told.learned < told.base - 0.1


def test_the_bits_of_all_licks_of_a_rhythm_add_up_to_one():
    """Two onsets a beat apart: every lick of the lattice, told one by one."""
    lead = lead_of(book_of(STYLE).data)
    base = drawn(lead, 4, 1, plans=4)[0]
    onsets = (Onset(0, 12), Onset(12, 12))
    lattice = LickMaker(lead, base.form, TEMPO).lattice(plan_of(onsets, "answer"), base.position)
    table, (source, target, way, _, needs) = lattice.graph.touches, lattice.graph.edges
    scorer = Scorer(book_of(STYLE).data, weights_for(book_of(STYLE).data, [base]))
    total = 0.0
    for s, t, w, n in zip(source.tolist(), target.tolist(), way.tolist(), needs.tolist(), strict=True):
        if n > lattice.gap_s[0] or max(lattice.node_cost[0][s], lattice.node_cost[1][t]) > 1 << 27:
            continue
        lick = replace(base, plan=plan_of(onsets, "answer"), touches=(table[s], table[t]), ways=(w,))
        bits = scorer.bits(lick)
        total += 2**-bits if bits is not None else 0
    assert total == pytest.approx(1.0, abs=1e-6)


def test_a_lick_that_the_rules_forbid_has_no_bits():
    lead = lead_of(book_of(STYLE).data)
    base = drawn(lead, 4, 1, plans=4)[0]
    scorer = Scorer(book_of(STYLE).data, weights_for(book_of(STYLE).data, [base]))
    off = replace(base, touches=(Touch(6, 2, 2, 1, 42), *base.touches[1:]))
    assert scorer.bits(off) is None


def test_rhythms_come_back_as_the_cells_they_were_written_with():
    for text in (".xx-x-xxL---", "x2xx-x-xL--", "..2x----L", "x-x---xx-L--"):
        cell = parse_cell(text)
        example = replace(
            examples_of(tour())[0], plan=plan_of([Onset(o.tick, o.duration) for o in cell.onsets], "answer")
        )
        found = cells_of(example)
        assert found is not None
        assert "".join(found) == text
        assert len(found[0]) == 6


def test_a_rhythm_off_the_grid_has_no_cell():
    plan = plan_of([Onset(0, 3), Onset(3, 9), Onset(30, 12)], "answer")
    assert cells_of(replace(examples_of(tour())[0], plan=plan)) is None


def test_cells_are_counted_and_graded():
    examples = drawn(lead_of(book_of(STYLE).data), 12, 3, plans=6)
    figures, tails = counted(examples)
    assert sum(figures.values()) == sum(tails.values()) <= len(examples)
    assert {grade_of(cell) for cell in figures} <= {1, 2, 3}


def test_learning_twice_gives_the_same():
    examples = drawn(lead_of(book_of(STYLE).data), 12, 3, plans=4)
    neck = lead_of(book_of(STYLE).data).neck
    first, second = (learn(examples, book_of(STYLE), neck) for _ in range(2))
    assert first.values == second.values
    assert first.counts == second.counts
