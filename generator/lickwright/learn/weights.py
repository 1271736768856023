"""The costs of a rule file that can be learned, and what each of them counts in a lick.

A lick's cost is linear in the costs of the rule files. So each weight has a feature: what a touch, a move or a
symbol of the line would cost if that weight alone were one point. It is read off the preferences themselves, by
setting the weight to a thousand points and all other learned ones to nought; no preference is written twice.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np

from lickwright.guitar.neck import Neck
from lickwright.learn.examples import Example
from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book
from lickwright.rulebook.rule import At
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import FloatArray, IntArray, TouchTable
from lickwright.theory.harmony import DEGREES, Key

#: Keys down to a number of a rule file.
Path: TypeAlias = tuple[str, ...]

#: A weight is set to this many points to see what it counts.
UNIT = 1000
#: Points at first for a degree that the licks use and the rule file does not list: above its dearest one.
DEARER, DEAREST = 10, 90
#: A degree is let in when the licks use it this often.
LEAST_USES = 2

_MELODY = ("skip", "leap", "unanswered_leap", "turn", "run3", "run4", "zigzag", "repeat")
_WAYS = ("pluck", "hammer", "pull", "slide")


def widened(data: Mapping[str, Any], examples: Sequence[Example]) -> dict[str, Any]:
    """Rule data whose palette and landings list what the licks use, new degrees dearer than all listed ones."""
    wide = copy.deepcopy(dict(data))
    lead = wide["lead"]
    used: dict[tuple[str, str], int] = {}
    landed: dict[tuple[str, str, str], int] = {}
    for example in examples:
        for touch, at in zip(example.touches, example.seen, strict=True):
            root = root_numeral(at.chord.roman)
            arrives = DEGREES[(touch.pitch + touch.bend // 2 - at.key.pitch_class) % 12]
            used[root, arrives] = used.get((root, arrives), 0) + 1
            if at.last:
                landed[at.role, root, arrives] = landed.get((at.role, root, arrives), 0) + 1
    for (root, degree), count in sorted(used.items()):
        if count >= LEAST_USES and root in lead["palette"]:
            _let_in(lead["palette"][root], degree)
    for (role, root, degree), count in sorted(landed.items()):
        table = lead["landing"].get(role, {}).get(root)
        if count >= LEAST_USES and table is not None:
            _let_in(table, degree)
    return wide


def _let_in(table: dict[str, int], degree: str) -> None:
    if degree not in table:
        table[degree] = min(DEAREST, max(table.values()) + DEARER)


def learnable(data: Mapping[str, Any], examples: Iterable[Example]) -> tuple[Path, ...]:
    """The weights that licks can say something about: those of the roles and chords that they have."""
    roots, ends = set(), set()
    for example in examples:
        roots |= {root_numeral(at.chord.roman) for at in example.seen}
        ends.add((example.plan.role, root_numeral(example.seen[-1].chord.roman)))
    lead = data["lead"]
    paths: list[Path] = [
        ("lead", "palette", root, degree)
        for root in lead["palette"]
        if root in roots
        for degree in lead["palette"][root]
    ]
    paths += [
        ("lead", "landing", role, root, degree)
        for role in lead["landing"]
        for root in lead["landing"][role]
        if (role, root) in ends
        for degree in lead["landing"][role][root]
    ]
    paths += [("lead", "techniques", name) for name in (*_WAYS, "double_stop", "grace_hammer")]
    paths += [("lead", "bends", "cost", name) for name in lead["bends"]["cost"]]
    paths += [("lead", "melody", name) for name in (*_MELODY, "off_chord_strong")]
    return tuple(paths)


def value_at(data: Mapping[str, Any], path: Path) -> int:
    """The number at a path."""
    value: Any = data
    for key in path:
        value = value[key]
    return int(value)


def with_values(data: Mapping[str, Any], values: Mapping[Path, int]) -> dict[str, Any]:
    """A copy of rule data with numbers set."""
    made = copy.deepcopy(dict(data))
    for path, points in values.items():
        table: Any = made
        for key in path[:-1]:
            table = table[key]
        table[path[-1]] = int(points)
    return made


@dataclass(frozen=True)
class Weights:
    """The learnable weights of rule data for one key and neck, with leads that have one of them at a time."""

    data: dict[str, Any]
    book: Book
    key: Key
    neck: Neck
    paths: tuple[Path, ...]
    _read: dict[str, RuleFile] = field(default_factory=dict, compare=False, repr=False)

    def at(self, key: Key, neck: Neck) -> Weights:
        """The same weights for another key and neck; the rule files are not checked again."""
        return Weights(self.data, self.book, key, neck, self.paths, self._read)

    def lead(self, values: Mapping[Path, int], name: str = "") -> Lead:
        """The rules with some weights set; those of one ``name`` are read once."""
        if not name or name not in self._read:
            rules = RuleFile.model_validate(with_values(self.data, values))
            if not name:
                return Lead(rules, self.book, self.key, self.neck)
            self._read[name] = rules
        return Lead(self._read[name], self.book, self.key, self.neck)

    @property
    def values(self) -> FloatArray:
        """K: the weights as the data has them."""
        return np.array([value_at(self.data, path) for path in self.paths], float)

    @cached_property
    def own(self) -> Lead:
        """The rules as the data has them."""
        return self.lead({}, "own")

    @cached_property
    def _nought(self) -> Lead:
        return self.lead(dict.fromkeys(self.paths, 0), "nought")

    @cached_property
    def _single(self) -> tuple[Lead, ...]:
        nought = dict.fromkeys(self.paths, 0)
        return tuple(self.lead({**nought, path: UNIT}, ".".join(path)) for path in self.paths)

    @cached_property
    def moving(self) -> IntArray:
        """The numbers of the weights that a move's way is charged with."""
        return np.array(
            [k for k, p in enumerate(self.paths) if p[1] == "techniques" and p[2] in _WAYS], np.int64
        )

    @cached_property
    def lined(self) -> IntArray:
        """The numbers of the weights that the line's automaton charges."""
        return np.array(
            [k for k, p in enumerate(self.paths) if p[1] == "melody" and p[2] in _MELODY], np.int64
        )

    def of_onset(self, table: TouchTable, at: At) -> tuple[FloatArray, FloatArray]:
        """(N x K features, N points that no learned weight decides) of touches at an onset."""

        def cost(lead: Lead) -> FloatArray:
            return np.asarray(np.sum([p.cost(table, at) for p in lead.onset_preferences], axis=0), float)

        fixed = cost(self._nought)
        features = np.zeros((len(table), len(self.paths)))
        skip = {*self.moving.tolist(), *self.lined.tolist()}
        for k, lead in enumerate(self._single):
            if k not in skip:
                features[:, k] = (cost(lead) - fixed) / UNIT
        return features, fixed

    def of_moves(self, a: TouchTable, b: TouchTable, how: IntArray) -> tuple[FloatArray, FloatArray]:
        """(E x len(moving) features, E fixed points) of moves."""

        def cost(lead: Lead) -> FloatArray:
            costs = [p.cost(a, b, how) for p in lead.move_preferences]
            return np.asarray(np.sum(costs, axis=0), float)

        fixed = cost(self._nought)
        return np.stack([(cost(self._single[k]) - fixed) / UNIT for k in self.moving], axis=1), fixed

    @cached_property
    def of_line(self) -> tuple[tuple[FloatArray, FloatArray] | None, ...]:
        """For each rule of any lick (states x symbols x len(lined) features, states x symbols fixed points).

        None for a rule that charges nothing.
        """
        found: list[tuple[FloatArray, FloatArray] | None] = []
        for n, rule in enumerate(self.own.lick_rules):
            if not rule.automaton.cost.any():
                found.append(None)
                continue
            fixed = self._nought.lick_rules[n].automaton.cost.astype(float)
            single = [(self._single[k].lick_rules[n].automaton.cost - fixed) / UNIT for k in self.lined]
            found.append((np.stack(single, axis=2), fixed))
        return tuple(found)
