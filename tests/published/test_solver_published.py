"""The solver against published examples, with their figures."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from lickwright.rulebook.automata import at_most
from lickwright.rulebook.rule import Automaton
from lickwright.solver.automaton import compile_rules
from lickwright.solver.enumeration import k_best_licks
from lickwright.solver.explain.conflict import quickxplain, smallest_conflict
from lickwright.solver.lattice import Lattice

from tests.solver.instances import a_graph, reads
from tests.solver.line_automata import forbid_ngrams

# A. Papadopoulos, P. Roy, F. Pachet, Avoiding Plagiarism in Markov Sequence Generation, AAAI 2014,
# doi:10.1609/aaai.v28i1.9126: a Markov model of order 1 learned from ABRACADABRA, all of whose 4-grams are
# forbidden. The counts are derived from that example, not printed in the paper.
CORPUS = "ABRACADABRA"
LETTERS = "ABCDR"
FORBIDDEN_4_GRAMS = {"ABRA", "BRAC", "RACA", "ACAD", "CADA", "ADAB", "DABR"}
WITH_THE_RULE = {4: 12, 5: 14, 6: 16, 7: 20, 8: 24}
WITHOUT = {4: 19, 5: 33, 6: 51, 7: 85, 8: 135}


def markov_lattice(n: int, rule: Automaton) -> Lattice:
    follows = sorted({(LETTERS.index(a), LETTERS.index(b)) for a, b in pairwise(CORPUS)})
    graph = a_graph(5, [(a, b, 0, 0, 0.0) for a, b in follows])
    letter = np.arange(5)
    read = reads(rule, letter, np.tile(letter, (5, 1)))
    return Lattice(
        graph, compile_rules((read,), graph), np.zeros((n, 5), np.int64), np.ones(n - 1),
        np.ones(n - 1, bool), (None,) * (n - 1),
    )  # fmt: skip


def no_copies() -> Automaton:
    return forbid_ngrams([[LETTERS.index(c) for c in g] for g in sorted(FORBIDDEN_4_GRAMS)], 5)


def test_the_4_grams_are_those_of_the_corpus() -> None:
    assert {CORPUS[k : k + 4] for k in range(len(CORPUS) - 3)} == FORBIDDEN_4_GRAMS


@pytest.mark.parametrize("n", WITH_THE_RULE)
def test_sequences_that_copy_no_four_letters_number_as_in_the_example(n: int) -> None:
    assert markov_lattice(n, no_copies()).count() == WITH_THE_RULE[n]
    assert markov_lattice(n, at_most(0, 5, ())).count() == WITHOUT[n]


@pytest.mark.parametrize("n", [4, 5, 6])
def test_the_sequences_themselves_are_those_of_brute_force(n: int) -> None:
    pairs = {CORPUS[k : k + 2] for k in range(len(CORPUS) - 1)}
    meant = {
        word
        for word in map("".join, product(LETTERS, repeat=n))
        if all(word[k : k + 2] in pairs for k in range(n - 1))
        and not any(gram in word for gram in FORBIDDEN_4_GRAMS)
    }
    found = ["".join(LETTERS[k] for k in f.nodes) for f in k_best_licks(markov_lattice(n, no_copies()))]
    assert set(found) == meant
    assert len(found) == len(meant)


# U. Junker, QuickXplain, AAAI 2004: options that cost 500, 500, 800, 500 and 2600 against a budget of 3000
# [limit from memory; the conflicts are derived].
COSTS = {1: 500, 2: 500, 3: 800, 4: 500, 5: 2600}
CONFLICTS = {(1, 5), (2, 5), (3, 5), (4, 5)}


def within_budget(options: tuple[int, ...]) -> bool:
    return sum(COSTS[o] for o in options) <= 3000


def test_the_budget_example_has_its_four_minimal_conflicts() -> None:
    found = {quickxplain(within_budget, [], sorted(COSTS, key=(*first, *COSTS).index)) for first in CONFLICTS}
    assert found == CONFLICTS
    smallest = smallest_conflict(within_budget, [], list(COSTS))
    assert smallest.items in CONFLICTS
    assert smallest.smallest
