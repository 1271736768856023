"""What the lead's rules are made from: rule files, key, neck, and the hand and palettes that follow from them.

It knows no rule. The modules of rules take a ``Context``; ``lead.Lead`` is one that has their rules too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from numpy.typing import ArrayLike

from lickwright.guitar.hand import HAND_SHAPES, Hand, HandShape, shift_seconds
from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import StringSet
from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.load import Book
from lickwright.rulebook.rule import At, Source
from lickwright.rulebook.schema.base import Pair
from lickwright.rulebook.schema.rule_file import Palette, RuleFile
from lickwright.rulebook.touches import FloatArray
from lickwright.theory.harmony import DEGREES, Key

FINGER_PAIRS: tuple[Pair, ...] = ("12", "13", "14", "23", "24", "34")


@dataclass(frozen=True)
class Context:
    """One rule file, key and neck."""

    rules: RuleFile
    book: Book
    key: Key
    neck: Neck

    def source(self, *path: str) -> Source:
        """Where a key of the rule files was read."""
        return self.book.source(*path)

    @cached_property
    def hand(self) -> Hand:
        """The fretting hand that the rule files describe."""
        h = self.rules.hand
        mm = tuple(h.span_mm[p] for p in FINGER_PAIRS) if len(h.span_mm) == len(FINGER_PAIRS) else None
        return Hand(
            size=h.size,
            spread_deg=h.spread_deg,
            span_limit_frets=tuple(h.span_frets[p] for p in FINGER_PAIRS),  # type: ignore[arg-type]
            span_limit_mm=mm,  # type: ignore[arg-type]
            travel_mm=h.travel_mm,
            barre_strings_limit=h.barre_strings,
            bend_size_limit=h.bend_size,
            bend_wound_limit=h.bend_wound,
            bend_runs_into_limit=h.bend_runs_into,
            bend_force_limit_n=h.bend_force_n,
            helper_force_n=h.helper_force_n,
            bend_distance_limit_mm=h.bend_distance_mm,
            bend_start_s=h.bend_start_s,
            bend_speed_mm_s=h.bend_mm_per_s,
            shift_start_s=h.shift_start_s,
            shift_speed_mm_s=h.shift_mm_per_s,
            plucks_per_s=h.plucks_per_s,
            hammer_ons_per_s=h.hammer_ons_per_s,
            pull_offs_per_s=h.pull_offs_per_s,
            slides_per_s=h.slides_per_s,
            strums_per_s=h.strums_per_s,
            points=h.points.points(),
        )

    @property
    def shape(self) -> HandShape:
        """How the fingers share the frets of a position."""
        return HAND_SHAPES[self.rules.hand.shape]

    @property
    def strings(self) -> StringSet:
        """The strings on the neck."""
        return self.rules.neck.string_set()

    def shift_s(self, position_a: ArrayLike, position_b: ArrayLike) -> FloatArray:
        """The seconds a shift between two positions needs; broadcasts."""
        return shift_seconds(self.hand, self.neck, position_a, position_b)

    def palette(self, at: At) -> Palette:
        """The degrees of the key that may sound over the onset's chord, with their costs."""
        listed = self.rules.lead.palette.get(root_numeral(at.chord.roman))
        return _tones(at) if listed is None else listed

    def landing(self, at: At) -> Palette:
        """The degrees of the key on which a lick of this role may end over this chord, with their costs."""
        root = root_numeral(at.chord.roman)
        for role in (at.role, "answer"):
            listed = self.rules.lead.landing.get(role, {}).get(root)
            if listed is not None:
                return listed
        return _tones(at)


def _tones(at: At) -> Palette:
    """The tones of an onset's chord as degrees of the key, all alike."""
    return {DEGREES[(pc - at.key.pitch_class) % 12]: 0 for pc in at.chord.tones}
