"""Conflicts: the published budget example, and every answer against trying all subsets."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.solver.explain.conflict import NoConflict, quickxplain, smallest_conflict

Places = frozenset[int]


def all_minimal(bad: list[Places], n: int) -> set[Places]:
    """The minimal sets among the places 0..n-1 that contain a bad one, by trying every set."""
    found: list[Places] = []
    for size in range(n + 1):
        for chosen in map(frozenset, combinations(range(n), size)):
            if any(b <= chosen for b in bad) and not any(f <= chosen for f in found):
                found.append(chosen)
    return set(found)


def together(bad: list[Places]):  # type: ignore[no-untyped-def]
    return lambda chosen: not any(b <= set(chosen) for b in bad)


PROBLEMS = st.lists(st.frozensets(st.integers(0, 6), min_size=1, max_size=4), min_size=1, max_size=6)


@given(PROBLEMS)
def test_a_conflict_is_minimal(bad: list[Places]) -> None:
    found = quickxplain(together(bad), [], range(7))
    assert frozenset(found) in all_minimal(bad, 7)
    assert list(found) == sorted(found)


@given(PROBLEMS)
def test_the_smallest_conflict_has_the_fewest_items(bad: list[Places]) -> None:
    found = smallest_conflict(together(bad), [], range(7))
    assert found.smallest
    assert frozenset(found.items) in all_minimal(bad, 7)
    assert len(found.items) == min(len(c) for c in all_minimal(bad, 7))


@given(PROBLEMS)
def test_where_there_is_a_choice_the_last_items_are_not_named(bad: list[Places]) -> None:
    found = quickxplain(together(bad), [], range(7))
    assert max(found) == min(max(c) for c in all_minimal(bad, 7))


def test_the_background_counts_but_is_never_named() -> None:
    assert quickxplain(lambda x: sum(x) <= 10, [6], [1, 2, 5]) == (5,)


def test_a_background_that_cannot_hold_needs_no_items() -> None:
    assert quickxplain(lambda x: sum(x) <= 10, [11], [1, 2]) == ()
    assert smallest_conflict(lambda x: sum(x) <= 10, [11], [1, 2]).items == ()


def test_what_holds_together_has_no_conflict() -> None:
    for ask in (quickxplain, smallest_conflict):
        with pytest.raises(NoConflict, match="holds together"):
            ask(lambda x: True, [], [1, 2])


def test_a_bound_on_the_checks_gives_a_minimal_conflict_and_says_so() -> None:
    bad = [frozenset({0, 1, 2, 3}), frozenset({4, 5, 6})]
    found = smallest_conflict(together(bad), [], range(7), most_checks=1)
    assert not found.smallest
    assert frozenset(found.items) in bad


def test_equal_items_are_told_apart() -> None:
    assert quickxplain(lambda x: x.count("a") < 2, [], ["a", "b", "a"]) == ("a", "a")


@pytest.mark.parametrize("n", [8, 64, 512])
def test_few_questions_are_asked(n: int) -> None:
    """Junker's bound for a conflict of k items among n: 2 k log2(n / k) + 2 k questions (AAAI 2004)."""
    asked = 0

    def holds(chosen):  # type: ignore[no-untyped-def]
        nonlocal asked
        asked += 1
        return not {1, n // 2, n - 2} <= set(chosen)

    assert quickxplain(holds, [], range(n)) == (1, n // 2, n - 2)
    log = (n // 3).bit_length()
    assert asked <= 2 * 3 * log + 2 * 3 + 2
