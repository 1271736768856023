"""Why no lick fits a place: the fewest rules that cannot hold together there, and the cheapest way out.

A change is tried before it is told: the licks that it would allow are counted.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import Named
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.explain.conflict import quickxplain, smallest_conflict
from lickwright.solver.explain.problem import LickProblem
from lickwright.theory.harmony import DEGREES

#: Sets of rules put to the place before the search for a smaller conflict ends.
MOST_CHECKS = 60
#: How a limit is loosened or tightened, the least first: steps of a whole number, shares of another.
_STEPS = (1, -1, 2, -2, 3, -3)
_SHARES = (1.1, 0.9, 1.25, 0.75, 1.5, 0.5, 2.0)


@dataclass(frozen=True)
class Change:
    """A change of one rule that makes a place solvable, in words, and how many licks it then allows."""

    rule: Named
    words: str
    licks: int


@dataclass(frozen=True)
class Why:
    """Rules that cannot hold together at a place. ``smallest`` when it is proved that no fewer conflict there."""

    rules: tuple[Named, ...]
    smallest: bool
    change: Change | None


def explain(place: LickProblem) -> Why | None:
    """The conflict at a place, or None when its rules leave a lick and something else stands in the way.

    The rules of a single touch, which are many and seldom at fault, are looked at last.
    """
    touch = place.lead.touch_rules
    others = [rule for rule in place.rules if rule not in touch]
    if place.holds(place.rules):
        return None
    conflicting: tuple[Named, ...]
    if not place.holds(touch):
        conflicting, proved = quickxplain(place.holds, (), touch), False
    else:
        conflict = smallest_conflict(place.holds, touch, others, MOST_CHECKS)
        conflicting, proved = conflict.items, conflict.smallest
        if place.holds(conflicting):
            conflicting = (*conflicting, *quickxplain(place.holds, conflicting, touch))
            proved = False
    return Why(conflicting, proved, _cheapest(place, conflicting))


def _cheapest(place: LickProblem, conflict: Sequence[Named]) -> Change | None:
    """The least change of a limit that frees the place, else the rule that takes the least with it when it goes."""
    fixed = {rule.name for rule in (*place.lead.touch_rules, *place.lead.move_rules, *place.lead.time_rules)}
    for rule in conflict:
        for words, lead in _loosened(place.lead, rule):
            moves = {} if rule.name in fixed else place.moves
            freed = replace(place, lead=lead, moves=moves, languages={})
            if freed.holds(freed.rules):
                return Change(rule, words, freed.count(freed.rules))
    freed_by = []
    for rule in conflict:
        others = [other for other in place.rules if other.name != rule.name]
        licks = place.count(others)
        if licks:
            freed_by.append((licks, rule.name, Change(rule, f"leave {rule.name} out", licks)))
    return min(freed_by)[2] if freed_by else None


def _loosened(lead: Lead, rule: Named) -> Iterator[tuple[str, Lead]]:
    """The rule's limit changed a little, with what was done in words; nothing when its key holds no such limit."""
    path = rule.source.key.split(".")
    value: Any = lead.book.data
    for key in path:
        value = value.get(key) if isinstance(value, dict) else None
    for words, new in _others(value):
        data = copy.deepcopy(lead.book.data)
        table: Any = data
        for key in path[:-1]:
            table = table[key]
        table[path[-1]] = new
        try:
            rules = RuleFile.model_validate(data)
        except ValidationError:
            continue
        yield f"{rule.source.key}: {words}", Lead(rules, lead.book, lead.key, lead.neck)


def _others(value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, bool):
        yield f"{str(not value).lower()} in place of {str(value).lower()}", not value
    elif isinstance(value, int):
        for step in _STEPS:
            yield f"{value + step} in place of {value}", value + step
    elif isinstance(value, float):
        for share in _SHARES:
            yield f"{value * share:g} in place of {value:g}", value * share
    elif isinstance(value, list) and value and all(item in DEGREES for item in value):
        for degree in DEGREES:
            if degree not in value:
                yield f"{degree} besides {' '.join(value)}", [*value, degree]
