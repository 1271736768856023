"""Automata: the builders against brute force over all words, products and minimisation against plain runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product as words_of

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.rulebook import automata
from lickwright.rulebook.automata import FIRST, LEAP
from lickwright.rulebook.rule import Automaton
from lickwright.solver.automaton import language, minimise, product

from tests.solver.instances import an_automaton, run, style
from tests.solver.line_automata import forbid_ngrams

Word = tuple[int, ...]


def words(symbols: int, longest: int = 6) -> Iterator[Word]:
    for length in range(longest + 1):
        yield from words_of(range(symbols), repeat=length)


def accepts_just(automaton: Automaton, meant: Callable[[Word], bool], symbols: int = 3) -> None:
    for word in words(symbols):
        assert run(automaton, word)[0] == meant(word), word


def contains(word: Word, part: Word) -> bool:
    return any(word[k : k + len(part)] == part for k in range(len(word) - len(part) + 1))


@given(st.lists(st.lists(st.integers(0, 2), min_size=1, max_size=4).map(tuple), max_size=6))
@settings(max_examples=25, deadline=None)
def test_no_forbidden_ngram_is_in_an_accepted_word(ngrams: list[Word]) -> None:
    automaton = forbid_ngrams(ngrams, 3)
    for word in words(3, 5):
        assert run(automaton, word)[0] == (not any(contains(word, g) for g in ngrams))


def test_the_empty_word_cannot_be_forbidden() -> None:
    with pytest.raises(ValueError, match="empty word"):
        forbid_ngrams([()], 3)


@pytest.mark.parametrize("n", [0, 1, 2, 4])
@pytest.mark.parametrize("these", [{0}, {1, 2}, set()])
def test_counts_of_symbols(n: int, these: set[int]) -> None:
    def count(word: Word) -> int:
        return sum(s in these for s in word)

    accepts_just(automata.at_most(n, 3, these), lambda w: count(w) <= n)
    accepts_just(automata.at_least(n, 3, these), lambda w: count(w) >= n)
    accepts_just(automata.counted(3, these, 1, n), lambda w: 1 <= count(w) <= n)


# ---------------------------------------------------------------------- product and minimisation


@pytest.mark.parametrize("seed", range(10))
def test_the_product_runs_all_side_by_side(seed: int) -> None:
    rng = np.random.default_rng(seed)
    three = tuple(an_automaton(rng, int(rng.integers(1, 5)), 3) for _ in range(3))
    labels = rng.integers(0, 3, (4, 3))
    both = product(three, labels)
    for word in words(4, 5):
        apart = [run(a, tuple(int(labels[x, k]) for x in word)) for k, a in enumerate(three)]
        alive = all(accepted for accepted, _ in apart)
        accepted, cost = run(both, word)
        assert accepted == alive
        if accepted:
            assert cost == sum(c for _, c in apart)


def some_automata() -> list[Automaton]:
    made = [an_automaton(np.random.default_rng(s), 2 + s % 7, 3, costs=s % 2 == 0) for s in range(16)]
    for s in range(4):
        random = an_automaton(np.random.default_rng(90 + s), 6, 3, costs=False)
        made.append(Automaton(random.delta, random.cost, np.ones(6, bool)))
    made += [forbid_ngrams([(0, 1), (1, 2, 0)], 3), automata.at_most(2, 3, {1})]
    return made


@pytest.mark.parametrize("automaton", some_automata())
def test_the_minimised_automaton_reads_and_charges_the_same(automaton: Automaton) -> None:
    small = minimise(automaton)
    assert small.states <= automaton.states
    for word in words(3):
        assert run(small, word) == run(automaton, word)


@pytest.mark.parametrize("automaton", some_automata())
def test_no_two_states_of_the_minimised_automaton_are_equivalent(automaton: Automaton) -> None:
    """Two states are told apart by a word no longer than there are states: by acceptance or by a charge."""
    small = minimise(automaton)
    told = small.accept[:, None] != small.accept[None, :]
    alive = small.delta >= 0
    told |= ((alive[:, None] != alive[None, :]) | (small.cost[:, None] != small.cost[None, :])).any(2)
    for _ in range(small.states):
        wide = np.pad(told, (0, 1))
        told |= wide[small.delta[:, None], small.delta[None, :]].any(2)
    assert (told | np.eye(small.states, dtype=bool)).all()


@pytest.mark.parametrize("automaton", some_automata())
def test_every_state_of_the_minimised_automaton_is_of_use(automaton: Automaton) -> None:
    small = minimise(automaton)
    reached, leads_on = {0}, {int(q) for q in np.flatnonzero(small.accept)}
    for _ in range(small.states):
        reached |= {int(r) for q in reached for r in small.delta[q] if r >= 0}
        leads_on |= {q for q in range(small.states) if leads_on & set(small.delta[q].tolist())}
    assert reached == set(range(small.states))
    assert leads_on == reached or small.states == 1


def test_an_automaton_that_accepts_everywhere_keeps_its_states() -> None:
    """All states accept, so that only what they forbid next tells them apart."""
    two = automata.at_most(2, 2, {1})
    assert minimise(two).states == 3


def test_the_style_s_rules_compile_to_a_small_automaton() -> None:
    rules = style().lead.lick_rules
    apart = np.prod([rule.automaton.states for rule in rules])
    assert 0 < language(rules).states <= apart


# ---------------------------------------------------------------------- the line


def plain_line(intervals: Word, most_run: int, most_repeats: int) -> bool:
    """The melody rules in a few words: runs, repeats, answered leaps, no trill."""
    run_length, repeats = 0, 1
    for k, step in enumerate(intervals):
        repeats = repeats + 1 if step == 0 else 1
        if repeats > most_repeats:
            return False
        before = intervals[k - 1] if k else 0
        run_length = run_length + 1 if step and step * before > 0 else (1 if step else 0)
        if run_length > most_run:
            return False
        if abs(before) >= LEAP and (abs(step) >= LEAP or (step * before > 0 and abs(step) >= 3)):
            return False
        if k >= 2 and step and step == -before == intervals[k - 2]:
            return False
    return True


@given(st.lists(st.integers(-LEAP, LEAP), min_size=0, max_size=8).map(tuple))
@settings(max_examples=400, deadline=None)
def test_what_the_line_automaton_accepts_keeps_the_plain_rules(intervals: Word) -> None:
    lead = style().rules.lead
    automaton = automata.line(lead.shape, lead.melody)
    accepted, _ = run(automaton, (FIRST, *(LEAP + i for i in intervals)))
    if accepted:
        assert plain_line(intervals, lead.shape.most_run, lead.shape.most_repeats)
