"""The rules of the lead, gathered from their modules and sorted by what they look at.

Every predicate is written for columns (see ``touches``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lickwright.rulebook import bends, legato, ornaments, over_chords, preferences, reach, shapes
from lickwright.rulebook.context import Context
from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.rule import (
    At,
    JoinRule,
    LickRule,
    MovePreference,
    MoveRule,
    OnsetPreference,
    OnsetRule,
    Rule,
    ShapeRule,
    TimeRule,
    TouchRule,
)
from lickwright.rulebook.touches import BEND, Touch, TouchTable


@dataclass(frozen=True)
class Lead(Context):
    """The lead's rules and preferences for one rule file, key and neck."""

    @cached_property
    def touch_rules(self) -> tuple[TouchRule, ...]:
        """Rules for a touch by itself."""
        return (*reach.touch_rules(self), *ornaments.touch_rules(self), *bends.touch_rules(self))

    @cached_property
    def onset_rules(self) -> tuple[OnsetRule, ...]:
        """Rules for a touch at its onset, over its chord."""
        return (*over_chords.onset_rules(self), *bends.onset_rules(self), *ornaments.onset_rules(self))

    @cached_property
    def move_rules(self) -> tuple[MoveRule, ...]:
        """Rules for the move from one touch of a lick to the next."""
        return (
            *legato.move_rules(self),
            *bends.move_rules(self),
            *shapes.move_rules(self),
            *reach.move_rules(self),
        )

    @cached_property
    def join_rule(self) -> JoinRule:
        """The rule for what is not struck: it sounds on from the note before."""
        return legato.join_rule(self)

    @cached_property
    def time_rules(self) -> tuple[TimeRule, ...]:
        """The time that moves need."""
        return reach.time_rules(self)

    @cached_property
    def lick_rules(self) -> tuple[LickRule, ...]:
        """Rules for the order of events in any lick, as automata."""
        return shapes.lick_rules(self)

    @cached_property
    def sounded_rules(self) -> dict[str, LickRule]:
        """What chords ask a lick over them to sound, by their roots."""
        return shapes.sounded_rules(self)

    def slot_rules(self, seen: Sequence[At]) -> tuple[LickRule, ...]:
        """The lick rules of one place: those of every lick, and degrees that its chords ask for."""
        roots = shapes.roots_under(self, seen)
        return (*self.lick_rules, *(rule for root, rule in self.sounded_rules.items() if root in roots))

    @cached_property
    def shape_rules(self) -> tuple[ShapeRule, ...]:
        """Rules for a finished lick's shape."""
        return shapes.shape_rules(self)

    @cached_property
    def all_rules(self) -> tuple[Rule, ...]:
        """Every rule of the lead."""
        return (
            *self.touch_rules,
            *self.onset_rules,
            *self.move_rules,
            self.join_rule,
            *self.time_rules,
            *self.lick_rules,
            *self.sounded_rules.values(),
            *self.shape_rules,
        )

    @cached_property
    def onset_preferences(self) -> tuple[OnsetPreference, ...]:
        """What touches cost at their onsets."""
        return preferences.onset_preferences(self)

    @cached_property
    def move_preferences(self) -> tuple[MovePreference, ...]:
        """What moves cost."""
        return preferences.move_preferences(self)

    @cached_property
    def bending_positions(self) -> frozenset[int]:
        """The positions from which some bend can be had."""
        table = self.rules.lead.bends
        sizes = [BEND_SIZES[size] for size in table.sizes]
        rows = (
            Touch(string, fret, finger, position, self.neck.pitch(string, fret), size, BEND)
            for position in range(1, self.neck.top_fret + 1)
            for string in table.strings
            if string <= self.neck.strings
            for fret in range(position, min(position + 4, self.neck.top_fret) + 1)
            for finger in (1, 2, 3, 4)
            for size in sizes
        )
        touches = TouchTable.of(rows)
        good = np.ones(len(touches), bool)
        for rule in self.touch_rules:
            good &= rule.allows(touches)
        return frozenset(int(position) for position in np.unique(touches.position[good]))
