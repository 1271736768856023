"""The rules of the lead: each limit of ``[lead]`` and ``[hand]`` as one named rule or preference.

Every predicate is written for columns (see ``touches``); degrees are of the key unless "of the chord" is said.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import ArrayLike

from lickwright.guitar.hand import HAND_SHAPES, Hand, HandShape, shift_seconds, spans_ok
from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import StringSet
from lickwright.rulebook.bends import bend_rules, bend_time
from lickwright.rulebook.degrees import BEND_SIZES, cost_table, root_numeral
from lickwright.rulebook.load import Book
from lickwright.rulebook.preferences import move_preferences, onset_preferences
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
from lickwright.rulebook.schema.player import Pair
from lickwright.rulebook.schema.rule_file import Palette, RuleFile
from lickwright.rulebook.shapes import lick_rules, roots_under, shape_rules, sounded_rules
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    HAMMER,
    NO_BEND,
    NO_GRACE,
    PLUCK,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    WAYS,
    BoolArray,
    FloatArray,
    IntArray,
    Touch,
    TouchTable,
)
from lickwright.theory.harmony import DEGREES, Key, semitones
from lickwright.theory.rhythm import TICKS_PER_BEAT

FINGER_PAIRS: tuple[Pair, ...] = ("12", "13", "14", "23", "24", "34")


@dataclass(frozen=True)
class Lead:
    """The lead's rules for one rule file, key and neck, sorted by what they look at."""

    rules: RuleFile
    book: Book
    key: Key
    neck: Neck

    # ------------------------------------------------------------------ one touch

    @cached_property
    def touch_rules(self) -> tuple[TouchRule, ...]:
        """Rules for a touch by itself."""
        made = [
            self.touch_rule(
                "lead.neck",
                f"every fret lies on the neck of {self.neck.frets} frets",
                lambda t: (t.fret >= 0) & (t.fret <= self.neck.top_fret),
                "neck",
                "frets",
            ),
            self.touch_rule(
                "hand.fingers",
                f"each finger takes the frets that the hand's shape gives it: {self.shape.name}",
                self._fingers_fit,
                "hand",
                "shape",
            ),
            self.touch_rule(
                "hand.double-stops",
                "the two fingers of a double stop can reach their frets together",
                self._double_reach,
                "hand",
                "span_frets",
            ),
            self.touch_rule(
                "lead.double-stops",
                "a double stop lies on neighbouring strings, the upper one "
                f"{' or '.join(map(str, self.rules.lead.techniques.double_stop_strings))}, "
                f"{' or '.join(map(str, self.rules.lead.techniques.double_stop_intervals))} semitones apart",
                self._double_stops,
                "lead",
                "techniques",
                "double_stop_intervals",
            ),
        ]
        return tuple(made) + bend_rules(self)

    def touch_rule(
        self, name: str, sentence: str, allows: Callable[[TouchTable], BoolArray], *path: str
    ) -> TouchRule:
        """A rule for a touch by itself whose limits stand at a key of the rule files."""
        return TouchRule(name, sentence, self.book.source(*path), allows)

    def _fingers_fit(self, t: TouchTable) -> BoolArray:
        def fits(fret: IntArray, finger: IntArray) -> BoolArray:
            offset = fret - t.hand
            own = np.zeros(len(t), bool)
            for frets_above in range(-1, 5):
                for able in self.shape.fingers(frets_above, self.rules.hand.stretch):
                    own |= (offset == frets_above) & (finger == able)
            return np.asarray(np.where(fret == 0, finger == 0, own & (finger > 0)))

        return fits(t.fret, t.finger) & (~t.double | fits(t.mate_fret, t.mate_finger))

    def _double_reach(self, t: TouchTable) -> BoolArray:
        same = (t.finger == t.mate_finger) & (t.fret == t.mate_fret)
        top = self.neck.top_fret
        apart = spans_ok(
            self.hand,
            self.neck,
            t.finger,
            np.clip(t.fret, 0, top),
            t.mate_finger,
            np.clip(t.mate_fret, 0, top),
            1,
        )
        return np.asarray(~t.double | same | ((t.finger != t.mate_finger) & apart))

    def _double_stops(self, t: TouchTable) -> BoolArray:
        intervals = np.zeros(128, bool)
        tech = self.rules.lead.techniques
        intervals[tech.double_stop_intervals] = True
        good = (
            (t.mate_string == t.string + 1)
            & np.isin(t.string, tech.double_stop_strings)
            & intervals[np.clip(t.pitch - t.mate_pitch, 0, 127)]
            & (t.bend == 0)
        )
        return np.asarray(~t.double | good)

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
        )

    @property
    def shape(self) -> HandShape:
        """How the fingers share the frets of a place."""
        return HAND_SHAPES[self.rules.hand.shape]

    def shift_s(self, place_a: ArrayLike, place_b: ArrayLike) -> FloatArray:
        """The seconds a shift between two hand places needs; broadcasts."""
        return shift_seconds(self.hand, self.neck, place_a, place_b)

    @property
    def strings(self) -> StringSet:
        """The strings on the neck."""
        return self.rules.neck.string_set()

    # ------------------------------------------------------------------ a touch at its onset

    @cached_property
    def onset_rules(self) -> tuple[OnsetRule, ...]:
        """Rules for a touch at its onset, over its chord."""
        lead = self.rules.lead
        strong = " and ".join(map(str, lead.downbeats.strong))
        held = int(lead.shape.held_beats * TICKS_PER_BEAT)
        rows: list[tuple[str, str, Callable[[TouchTable, At], BoolArray], tuple[str, ...]]] = [
            (
                "lead.scale",
                "only the degrees that the palette lists over the chord are played",
                self._in_palette,
                ("lead", "palette"),
            ),
            (
                "lead.downbeats",
                f"beats {strong} carry {' '.join(lead.downbeats.degrees)} of the chord",
                self._on_downbeats,
                ("lead", "downbeats", "degrees"),
            ),
            (
                "lead.landing",
                "a lick comes home on a degree listed for its role and chord",
                self._lands,
                ("lead", "landing"),
            ),
            (
                "lead.held",
                f"a note held {lead.shape.held_beats:g} beats or more belongs to its chord",
                lambda t, at: at.in_chord(t.leave) | (at.duration < held) | self._curled_third(t, at),
                ("lead", "shape", "held_beats"),
            ),
            (
                "lead.passing",
                f"{' '.join(lead.shape.passing) or 'no degree'} only passes by",
                self._passes,
                ("lead", "shape", "passing"),
            ),
            (
                "lead.bends.time",
                "a bend has the time its size needs",
                partial(bend_time, self),
                ("lead", "bends", "least_beats"),
            ),
            (
                "lead.bends.curls",
                f"a quarter-tone bend is made over {' and '.join(lead.bends.curls_over) or 'any chord'}",
                self._curls,
                ("lead", "bends", "curls_over"),
            ),
            (
                "lead.double-stops.chord",
                "both notes of a double stop belong to the chord, and it is no grace of a moment",
                lambda t, at: (
                    ~t.double | (at.in_chord(t.enter) & at.in_chord(t.mate_pitch) & (at.duration >= 4))
                ),
                ("lead", "techniques"),
            ),
            (
                "lead.graces",
                f"grace notes lead to {', '.join(lead.techniques.graces)}",
                self._graces,
                ("lead", "techniques", "graces"),
            ),
        ]
        return tuple(OnsetRule(n, s, self.book.source(*path), allows) for n, s, allows, path in rows)

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

    def _in_palette(self, t: TouchTable, at: At) -> BoolArray:
        allowed = cost_table(self.palette(at), -1) >= 0
        palette = self.palette(at)
        for degree in palette:
            allowed[semitones(degree)] = True
        return allowed[at.key_degrees(t.enter)] & allowed[at.key_degrees(t.leave)]

    def _curls(self, t: TouchTable, at: At) -> BoolArray:
        over = self.rules.lead.bends.curls_over
        here = not over or root_numeral(at.chord.roman) in over
        return np.asarray((t.bend != BEND_SIZES["quarter"]) | here)

    def _on_downbeats(self, t: TouchTable, at: At) -> BoolArray:
        down = self.rules.lead.downbeats
        if at.beat not in down.strong:
            return np.ones(len(t), bool)
        minor_third = any(d == "b3" for d in at.chord.degrees)
        degrees = down.minor_degrees if minor_third and down.minor_degrees else down.degrees
        good = np.zeros(12, bool)
        good[[semitones(d) for d in degrees]] = True
        return np.asarray(good[at.chord_degrees(t.enter)])

    def _lands(self, t: TouchTable, at: At) -> BoolArray:
        if not at.last:
            return np.ones(len(t), bool)
        good = np.zeros(12, bool)
        good[[semitones(d) for d in self.landing(at)]] = True
        return np.asarray(good[at.key_degrees(t.leave)])

    def _curled_third(self, t: TouchTable, at: At) -> BoolArray:
        """A quarter-tone curl on the flat third of a major chord: the blue note itself may be held."""
        return np.asarray(
            (t.bend == 1)
            & (at.chord_degrees(t.pitch) == 3)
            & (4 in at.chord_degrees(np.array(list(at.chord.tones))))
        )

    def _passes(self, t: TouchTable, at: At) -> BoolArray:
        shape = self.rules.lead.shape
        if at.duration < shape.passing_beats * TICKS_PER_BEAT or not shape.passing:
            return np.ones(len(t), bool)
        return ~np.isin(at.key_degrees(t.enter), [semitones(d) for d in shape.passing]) | at.in_chord(t.enter)

    def _graces(self, t: TouchTable, at: At) -> BoolArray:
        tech = self.rules.lead.techniques
        good = t.grace == NO_GRACE
        if at.duration >= tech.grace_beats * TICKS_PER_BEAT:
            graced = np.where(t.double, t.mate_pitch, t.enter)
            degrees = [
                semitones(text.split()[0])
                for text in tech.graces
                if text.split()[-1] == root_numeral(at.chord.roman)
            ]
            good = good | (np.isin(at.key_degrees(graced), degrees) & (t.bend == 0))
        return np.asarray(good)

    # ------------------------------------------------------------------ from touch to touch

    def _reach(self, a: TouchTable, b: TouchTable) -> BoolArray:
        """True where both melody notes lie within one place of the hand."""
        top = self.neck.top_fret
        return spans_ok(
            self.hand,
            self.neck,
            a.finger,
            np.clip(a.fret, 0, top),
            b.finger,
            np.clip(b.fret, 0, top),
            b.string - a.string,
        )

    @cached_property
    def move_rules(self) -> tuple[MoveRule, ...]:
        """Rules for the move from one touch of a lick to the next."""
        tech, shape = self.rules.lead.techniques, self.rules.lead.shape
        shift = self.rules.lead.windows.shift_inside
        rows: list[
            tuple[str, str, Callable[[TouchTable, TouchTable, IntArray], BoolArray], tuple[str, ...]]
        ] = [
            (
                "lead.legato",
                f"a hammer-on goes up, a pull-off down, on one string, by another finger, at most {tech.legato_frets} frets",
                self._legato,
                ("lead", "techniques", "legato_frets"),
            ),
            (
                "lead.slides",
                f"a slide keeps string and finger and moves {tech.slide_frets} frets at most",
                self._slides,
                ("lead", "techniques", "slide_frets"),
            ),
            (
                "lead.bends.left",
                "a bent note is left by a fresh stroke; a released one falls to its own fret or is pulled off",
                lambda a, b, how: (
                    (how == PLUCK)
                    | (a.kind == NO_BEND)
                    | ((how == PULL) & ((a.kind == BEND_RELEASE) | (a.kind == PRE_BEND_RELEASE)))
                ),
                ("lead", "bends", "kinds"),
            ),
            (
                "lead.unison",
                "no pitch is struck again on another string, unless one of the two is bent",
                lambda a, b, how: (a.leave != b.enter) | (a.string == b.string) | (a.bend + b.bend > 0),
                ("lead", "shape"),
            ),
            (
                "lead.leap",
                f"no leap is wider than {shape.most_leap} semitones",
                lambda a, b, how: np.abs(b.enter - a.leave) <= shape.most_leap,
                ("lead", "shape", "most_leap"),
            ),
            (
                "hand.span",
                "two fingers in turn lie no further apart than they reach",
                self._spans,
                ("hand", "span_frets"),
            ),
            (
                "lead.windows.shift",
                "the hand stays in its window during a lick" if not shift else "the hand may shift",
                lambda a, b, how: np.ones(len(a), bool) if shift else a.hand == b.hand,
                ("lead", "windows", "shift_inside"),
            ),
        ]
        return tuple(MoveRule(n, s, self.book.source(*path), allows) for n, s, allows, path in rows)

    def _legato(self, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
        frets = b.fret - a.fret
        plain = (b.grace == NO_GRACE) & ~b.double & ~a.double & (b.kind == NO_BEND)
        near = (a.string == b.string) & (np.abs(frets) <= self.rules.lead.techniques.legato_frets) & plain
        up = near & (frets > 0) & (b.finger > a.finger)
        down = near & (frets < 0) & (b.finger < a.finger)
        return np.asarray(((how != HAMMER) | up) & ((how != PULL) | down))

    def _slides(self, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
        frets = np.abs(b.fret - a.fret)
        good = (a.string == b.string) & (a.finger == b.finger) & (frets > 0) & (a.fret > 0) & (b.fret > 0)
        good &= (frets <= self.rules.lead.techniques.slide_frets) & (b.grace == NO_GRACE)
        good &= ~a.double & ~b.double & (b.kind == NO_BEND)
        return np.asarray((how != SLIDE) | good)

    def _spans(self, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
        return np.asarray((a.hand != b.hand) | (how == SLIDE) | self._reach(a, b))

    @cached_property
    def join_rule(self) -> JoinRule:
        """The rule for what is not struck: it sounds on from the note before."""
        return JoinRule(
            "lead.joined",
            "a hammer-on, a pull-off or a slide follows the note before it without a silence",
            self.book.source("lead", "techniques"),
            lambda how, joined: np.asarray((how == PLUCK) | joined),
        )

    @cached_property
    def time_rules(self) -> tuple[TimeRule, ...]:
        """The time that moves need."""
        hand, neck = self.hand, self.neck
        rates = np.array([1 / hand.rate(way.value) for way in WAYS])

        def shift(a: TouchTable, b: TouchTable, how: IntArray) -> FloatArray:
            return self.shift_s(a.hand, b.hand)

        def hop(a: TouchTable, b: TouchTable, how: IntArray) -> FloatArray:
            hops = (a.finger == b.finger) & (a.finger > 0) & (a.hand == b.hand) & (how != SLIDE)
            return np.asarray(np.where(hops, shift_seconds(hand, neck, a.fret, b.fret), 0.0))

        return (
            TimeRule(
                "hand.shift",
                f"a shift takes {hand.shift_start_s:g} s and a second for {hand.shift_speed_mm_s:g} mm",
                self.book.source("hand", "shift_start_s"),
                shift,
            ),
            TimeRule(
                "hand.hop",
                "a finger that goes to another fret needs the time of a shift that long",
                self.book.source("hand", "shift_start_s"),
                hop,
            ),
            TimeRule(
                "hand.rates",
                f"at most {hand.plucks_per_s:g} plucked, {hand.hammer_ons_per_s:g} hammered, "
                f"{hand.pull_offs_per_s:g} pulled off or {hand.slides_per_s:g} slid notes a second",
                self.book.source("hand", "plucks_per_s"),
                lambda a, b, how: np.asarray(rates[how], float),
            ),
        )

    # ------------------------------------------------------------------ the lick

    @cached_property
    def lick_rules(self) -> tuple[LickRule, ...]:
        """Rules for the order of events in any lick, as automata."""
        return lick_rules(self)

    @cached_property
    def sounded_rules(self) -> dict[str, LickRule]:
        """What chords ask a lick over them to sound, by their roots."""
        return sounded_rules(self)

    def slot_rules(self, seen: Sequence[At]) -> tuple[LickRule, ...]:
        """The lick rules of one place: those of every lick, and degrees that its chords ask for."""
        roots = roots_under(seen)
        return (*self.lick_rules, *(rule for root, rule in self.sounded_rules.items() if root in roots))

    @cached_property
    def shape_rules(self) -> tuple[ShapeRule, ...]:
        """Rules for a finished lick's shape."""
        return shape_rules(self)

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
    def bending_places(self) -> frozenset[int]:
        """The places of the index finger from which some bend can be had."""
        bends = self.rules.lead.bends
        sizes = [BEND_SIZES[size] for size in bends.sizes]
        rows = (
            Touch(string, fret, finger, hand, self.neck.pitch(string, fret), size, BEND)
            for hand in range(1, self.neck.top_fret + 1)
            for string in bends.strings
            if string <= self.neck.strings
            for fret in range(hand, min(hand + 4, self.neck.top_fret) + 1)
            for finger in (1, 2, 3, 4)
            for size in sizes
        )
        table = TouchTable.of(rows)
        good = np.ones(len(table), bool)
        for rule in self.touch_rules:
            good &= rule.allows(table)
        return frozenset(int(hand) for hand in np.unique(table.hand[good]))

    # ------------------------------------------------------------------ preferences

    @cached_property
    def onset_preferences(self) -> tuple[OnsetPreference, ...]:
        """What touches cost at their onsets."""
        return onset_preferences(self)

    @cached_property
    def move_preferences(self) -> tuple[MovePreference, ...]:
        """What moves cost."""
        return move_preferences(self)


def _tones(at: At) -> Palette:
    """The tones of an onset's chord as degrees of the key, all alike."""
    return {DEGREES[(pc - at.key.pitch_class) % 12]: 0 for pc in at.chord.tones}
