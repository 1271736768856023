"""The rules of the lead: each limit of ``[lead]`` and ``[hand]`` as one named rule or preference.

Every predicate is written for columns (see ``touches``); degrees are of the key unless "of the chord" is said.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from generator.hand import (
    HAND_SHAPES,
    Hand,
    HandShape,
    bend_faults,
    bend_seconds,
    bend_table,
    helpers,
    shift_seconds,
    spans_ok,
)
from generator.harmony import Key, semitones
from generator.neck import Neck
from generator.rhythm import TICKS_PER_BEAT
from generator.rulebook import automata
from generator.rulebook.load import Book
from generator.rulebook.rule import (
    At,
    LickRule,
    Line,
    MovePreference,
    MoveRule,
    OnsetPreference,
    OnsetRule,
    Rule,
    ShapeRule,
    TimeRule,
    TouchRule,
)
from generator.rulebook.schema import Pair, Palette, RuleFile, Size
from generator.strings import StringSet, bend_tables
from generator.touches import (
    BEND,
    BEND_RELEASE,
    GRACE_HAMMER,
    GRACE_SLIDE,
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
    TouchTable,
)

BEND_SIZES: dict[Size, int] = {"quarter": 1, "half": 2, "whole": 4}
#: A lick is "over" a chord when it has this many onsets there.
LEAST_OVER = 3
KIND_NAMES = {BEND: "bend", BEND_RELEASE: "bend-release", PRE_BEND_RELEASE: "pre-bend-release"}
FINGER_PAIRS: tuple[Pair, ...] = ("12", "13", "14", "23", "24", "34")


def root_numeral(roman: str) -> str:
    """The chord's root as rule files name it: accidental and upper-case numeral without the quality.

    >>> root_numeral("bVI7"), root_numeral("IVm7")
    ('bVI', 'IV')
    """
    match = re.match(r"[b#]?[IViv]+", roman)
    text = match[0] if match else roman
    return text[0] + text[1:].upper() if text[0] in "b#" else text.upper()


def _pairs(texts: list[str]) -> BoolArray:
    """A 12 x 12 table of "from>to" degrees."""
    table = np.zeros((12, 12), bool)
    for text in texts:
        low, _, high = text.partition(">")
        table[semitones(low), semitones(high)] = True
    return table


def _costs(palette: Palette, absent: int) -> IntArray:
    table = np.full(12, absent, np.int64)
    for degree, points in palette.items():
        table[semitones(degree)] = points
    return table


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
            self._touch("lead.neck", f"every fret lies on the neck of {self.neck.frets} frets",
                        lambda t: (t.fret >= 0) & (t.fret <= self.neck.top_fret), "neck", "frets"),
            self._touch("hand.fingers", f"each finger takes the frets that the hand's shape gives it: {self.shape.name}",
                        self._fingers_fit, "hand", "shape"),
            self._touch("hand.double-stops", "the two fingers of a double stop can reach their frets together",
                        self._double_reach, "hand", "span_frets"),
            self._touch("lead.double-stops", "a double stop lies on neighbouring strings, "
                        f"{' or '.join(map(str, self.rules.lead.techniques.double_stop_intervals))} semitones apart",
                        self._double_stops, "lead", "techniques", "double_stop_intervals"),
        ]  # fmt: skip
        return tuple(made) + self._bend_rules()

    def _touch(
        self, name: str, sentence: str, allows: Callable[[TouchTable], BoolArray], *path: str
    ) -> TouchRule:
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
            & intervals[np.clip(t.pitch - t.mate_pitch, 0, 127)]
            & (t.bend == 0)
        )
        return np.asarray(~t.double | good)

    def _bend_rules(self) -> tuple[TouchRule, ...]:
        b = self.rules.lead.bends
        sizes = [BEND_SIZES[s] for s in b.sizes]
        named = [code for code, name in KIND_NAMES.items() if name in b.kinds]
        pairs = {name: _pairs(texts) for name, texts in b.targets.items()}

        def by_size(t: TouchTable, allowed: Callable[[Size], BoolArray]) -> BoolArray:
            good = np.ones(len(t), bool)
            for name, size in BEND_SIZES.items():
                good &= (t.bend != size) | allowed(name)
            return good

        def targets(t: TouchTable) -> BoolArray:
            low = (t.pitch - self.key.pitch_class) % 12
            high = (t.enter - self.key.pitch_class) % 12
            return by_size(t, lambda name: np.asarray(pairs[name][low, high], bool))

        def frets(t: TouchTable) -> BoolArray:
            inside = (t.fret > 0) & (t.fret <= b.highest_fret)
            return (t.bend == 0) | (inside & by_size(t, lambda name: t.fret >= b.lowest_fret[name]))

        return (
            self._touch(
                "lead.bends.sizes",
                f"bends are {', '.join(b.sizes)} steps",
                lambda t: np.isin(t.bend, [0, *sizes]),
                "lead", "bends", "sizes",
            ),
            self._touch(
                "lead.bends.kinds",
                f"a bent note is one of: {', '.join(b.kinds)}",
                lambda t: np.isin(t.kind, [NO_BEND, *named]),
                "lead", "bends", "kinds",
            ),
            self._touch(
                "lead.bends.strings",
                f"only strings {', '.join(map(str, b.strings))} are bent",
                lambda t: (t.bend == 0) | np.isin(t.string, b.strings),
                "lead", "bends", "strings",
            ),
            self._touch(
                "lead.bends.frets",
                f"no open string is bent, none below its size's lowest fret or above fret {b.highest_fret}",
                frets,
                "lead", "bends", "lowest_fret",
            ),
            self._touch(
                "lead.bends.fingers",
                "each size of bend has its fingers",
                lambda t: by_size(t, lambda name: np.isin(t.finger, b.fingers[name])),
                "lead", "bends", "fingers",
            ),
            self._touch(
                "lead.bends.targets",
                "a bend goes from a note the style bends to the note it bends to",
                targets,
                "lead", "bends", "targets",
            ),
            TouchRule(
                "hand.bends",
                "no bend takes more force or way than the finger and those behind it have",
                self.book.source("hand", "bend_force_n"),
                self._bendable,
                self._bend_fault,
            ),
        )  # fmt: skip

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

    def _bendable(self, t: TouchTable) -> BoolArray:
        able = bend_table(self.hand, self.neck, self.strings)
        fret = np.clip(t.fret, 0, self.neck.top_fret)
        return np.asarray((t.bend == 0) | able[t.string, fret, t.bend, t.finger, np.maximum(t.finger - 1, 0)])

    def _bend_fault(self, t: TouchTable) -> str:
        touch = t.row(0)
        faults = bend_faults(
            self.hand, self.neck, self.strings, touch.string, touch.fret, touch.bend, touch.finger,
            helpers(touch.finger),
        )  # fmt: skip
        return ", ".join(
            f"{name.replace('_', ' ')} {asked:.1f}, limit {limit:g}"
            for name, (asked, limit) in faults.items()
        )

    # ------------------------------------------------------------------ a touch at its onset

    @cached_property
    def onset_rules(self) -> tuple[OnsetRule, ...]:
        """Rules for a touch at its onset, over its chord."""
        lead = self.rules.lead
        strong = " and ".join(map(str, lead.downbeats.strong))
        held = int(lead.shape.held_beats * TICKS_PER_BEAT)
        rows: list[tuple[str, str, Callable[[TouchTable, At], BoolArray], tuple[str, ...]]] = [
            ("lead.scale", "only the degrees that the palette lists over the chord are played",
             self._in_palette, ("lead", "palette")),
            ("lead.downbeats", f"beats {strong} carry {' '.join(lead.downbeats.degrees)} of the chord",
             self._on_downbeats, ("lead", "downbeats", "degrees")),
            ("lead.landing", "a lick comes home on a degree listed for its role and chord",
             self._lands, ("lead", "landing")),
            ("lead.held", f"a note held {lead.shape.held_beats:g} beats or more belongs to its chord",
             lambda t, at: at.in_chord(t.leave) | (at.duration < held) | self._curled_third(t, at), ("lead", "shape", "held_beats")),
            ("lead.passing", f"{' '.join(lead.shape.passing) or 'no degree'} only passes by",
             self._passes, ("lead", "shape", "passing")),
            ("lead.bends.time", "a bend has the time its size needs",
             self._bend_time, ("lead", "bends", "least_beats")),
            ("lead.double-stops.chord", "both notes of a double stop belong to the chord, and it is no grace of a moment",
             lambda t, at: ~t.double | (at.in_chord(t.enter) & at.in_chord(t.mate_pitch) & (at.duration >= 4)),
             ("lead", "techniques", "double_stop")),
            ("lead.graces", f"grace notes lead to {', '.join(lead.techniques.graces)}",
             self._graces, ("lead", "techniques", "graces")),
        ]  # fmt: skip
        return tuple(OnsetRule(n, s, self.book.source(*path), allows) for n, s, allows, path in rows)

    def palette(self, at: At) -> Palette:
        """The degrees of the key that may sound over the onset's chord, with their costs."""
        listed = self.rules.lead.palette.get(root_numeral(at.chord.roman))
        if listed is not None:
            return listed
        from generator.harmony import DEGREES

        return {DEGREES[(pc - at.key.pitch_class) % 12]: 0 for pc in at.chord.tones}

    def landing(self, at: At) -> Palette:
        """The degrees of the key on which a lick of this role may end over this chord, with their costs."""
        root = root_numeral(at.chord.roman)
        for role in (at.role, "answer"):
            listed = self.rules.lead.landing.get(role, {}).get(root)
            if listed is not None:
                return listed
        from generator.harmony import DEGREES

        return {DEGREES[(pc - at.key.pitch_class) % 12]: 0 for pc in at.chord.tones}

    def _in_palette(self, t: TouchTable, at: At) -> BoolArray:
        allowed = _costs(self.palette(at), -1) >= 0
        palette = self.palette(at)
        for degree in palette:
            allowed[semitones(degree)] = True
        return allowed[at.key_degrees(t.enter)] & allowed[at.key_degrees(t.leave)]

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

    def _bend_time(self, t: TouchTable, at: At) -> BoolArray:
        good = np.ones(len(t), bool)
        for name, beats in self.rules.lead.bends.least_beats.items():
            good &= (t.bend != BEND_SIZES[name]) | (at.duration >= beats * TICKS_PER_BEAT)
        tables = bend_tables(self.neck, self.strings)
        way = tables.distance_mm[t.string, np.clip(t.fret, 0, self.neck.top_fret), t.bend]
        return np.asarray(good & (bend_seconds(self.hand, way) <= at.seconds))

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
            self.hand, self.neck, a.finger, np.clip(a.fret, 0, top), b.finger, np.clip(b.fret, 0, top),
            b.string - a.string,
        )  # fmt: skip

    @cached_property
    def move_rules(self) -> tuple[MoveRule, ...]:
        """Rules for the move from one touch of a lick to the next."""
        tech, shape = self.rules.lead.techniques, self.rules.lead.shape
        shift = self.rules.lead.windows.shift_inside
        rows: list[tuple[str, str, Callable[[TouchTable, TouchTable, IntArray], BoolArray], tuple[str, ...]]] = [
            ("lead.legato", f"a hammer-on goes up, a pull-off down, on one string, by another finger, {tech.legato_frets} frets at most",
             self._legato, ("lead", "techniques", "legato_frets")),
            ("lead.slides", f"a slide keeps string and finger and moves {tech.slide_frets} frets at most",
             self._slides, ("lead", "techniques", "slide_frets")),
            ("lead.bends.left", "a bent note is left by a fresh stroke; a released one falls to its own fret or is pulled off",
             lambda a, b, how: (how == PLUCK) | (a.kind == NO_BEND) | ((how == PULL) & ((a.kind == BEND_RELEASE) | (a.kind == PRE_BEND_RELEASE))),
             ("lead", "bends", "kinds")),
            ("lead.leap", f"no leap is wider than {shape.most_leap} semitones",
             lambda a, b, how: np.abs(b.enter - a.leave) <= shape.most_leap, ("lead", "shape", "most_leap")),
            ("hand.span", "two fingers in turn lie no further apart than they reach",
             self._spans, ("hand", "span_frets")),
            ("lead.windows.shift", "the hand stays in its window during a lick" if not shift else "the hand may shift",
             lambda a, b, how: np.ones(len(a), bool) if shift else a.hand == b.hand, ("lead", "windows", "shift_inside")),
        ]  # fmt: skip
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
                f"at most {hand.plucks_per_s:g} plucked or {hand.hammer_ons_per_s:g} hammered notes a second",
                self.book.source("hand", "plucks_per_s"),
                lambda a, b, how: np.asarray(rates[how], float),
            ),
        )

    # ------------------------------------------------------------------ the lick

    @cached_property
    def lick_rules(self) -> tuple[LickRule, ...]:
        """Rules for the order of events in a lick, as automata."""
        lead = self.rules.lead
        shape = lead.shape

        def interval(a: TouchTable, b: TouchTable, how: IntArray) -> IntArray:
            return np.asarray(np.clip(b.enter - a.leave, -automata.LEAP, automata.LEAP) + automata.LEAP)

        return (
            LickRule("lead.line", f"no more than {shape.most_run} steps in one direction, a pitch at most {shape.most_repeats} "
                     "times running, a leap is answered, no trill", self.book.source("lead", "shape"),
                     automata.line(shape, lead.melody),
                     lambda t: np.full(len(t), automata.FIRST), interval),
            LickRule("lead.bends.count", f"at most {lead.bends.most_per_lick} bends in a lick",
                     self.book.source("lead", "bends", "most_per_lick"), automata.counter(lead.bends.most_per_lick),
                     lambda t: t.bent.astype(np.int64), lambda a, b, how: b.bent.astype(np.int64)),
        )  # fmt: skip

    def slot_rules(self, seen: Sequence[At]) -> tuple[LickRule, ...]:
        """The lick rules of one place: those of every lick, and degrees that its chords ask for."""
        made = list(self.lick_rules)
        for root, degrees in self.rules.lead.sounded.items():
            over = sum(root_numeral(at.chord.roman) == root for at in seen)
            if over >= LEAST_OVER:
                made.append(self._sounds(root, tuple(semitones(d) for d in degrees), " ".join(degrees)))
        return tuple(made)

    def _sounds(self, root: str, degrees: tuple[int, ...], names: str) -> LickRule:
        def heard(t: TouchTable) -> IntArray:
            mine = np.isin((t.enter - self.key.pitch_class) % 12, degrees)
            mates = t.double & np.isin((t.mate_pitch - self.key.pitch_class) % 12, degrees)
            return (mine | mates).astype(np.int64)

        return LickRule(
            f"lead.sounded.{root}",
            f"a lick over {root} sounds {names} of the key",
            self.book.source("lead", "sounded", root),
            automata.once(),
            heard,
            lambda a, b, how: heard(b),
        )

    @cached_property
    def shape_rules(self) -> tuple[ShapeRule, ...]:
        """Rules for a finished lick's shape."""
        shape = self.rules.lead.shape

        def share(line: Line) -> float:
            return len(set(line.pitches)) / len(line.pitches)

        def most(line: Line) -> int:
            return max(line.pitches.count(p) for p in line.pitches)

        def span(line: Line) -> int:
            return max(line.pitches) - min(line.pitches)

        rows: list[tuple[str, str, Callable[[Line], bool], Callable[[Line], str], str]] = [
            ("lead.shape.distinct", f"at least {shape.least_distinct:.0%} of a lick's pitches differ",
             lambda x: share(x) >= shape.least_distinct, lambda x: f"{share(x):.0%}", "least_distinct"),
            ("lead.shape.one-pitch", f"no pitch makes up more than {shape.most_of_one:.0%} of a lick",
             lambda x: most(x) <= max(2, round(shape.most_of_one * len(x.pitches))), lambda x: f"{most(x)} of {len(x.pitches)}", "most_of_one"),
            ("lead.shape.range", f"a lick of seven notes spans {shape.least_range} semitones or more",
             lambda x: len(x.pitches) < 7 or span(x) >= shape.least_range, lambda x: f"{span(x)}", "least_range"),
            ("lead.shape.peak", "a lick has one highest note (it may be struck twice running)",
             _one_peak, lambda x: "", "notes"),
            ("lead.figure.hook", "a figure that others take up has a bend, a grace, a double stop, a leap or a repeated note",
             lambda x: not (x.leads and self.rules.lead.figure.hook) or _hook(x), lambda x: "", "notes"),
        ]  # fmt: skip
        return tuple(
            ShapeRule(n, s, self.book.source("lead", "shape", key), allows, amount)
            for n, s, allows, amount, key in rows
        )

    @cached_property
    def all_rules(self) -> tuple[Rule, ...]:
        """Every rule of the lead."""
        return (
            *self.touch_rules, *self.onset_rules, *self.move_rules, *self.time_rules, *self.lick_rules,
            *self.shape_rules,
        )  # fmt: skip

    # ------------------------------------------------------------------ preferences

    @cached_property
    def onset_preferences(self) -> tuple[OnsetPreference, ...]:
        """What touches cost at their onsets."""
        lead = self.rules.lead
        rows: list[tuple[str, str, Callable[[TouchTable, At], IntArray], tuple[str, ...]]] = [
            ("lead.palette", "degrees that suit the chord are cheaper", self._palette_cost, ("lead", "palette")),
            ("lead.downbeats.lean", "beats carry chord tones", self._off_chord_cost, ("lead", "melody", "off_chord_strong")),
            ("lead.landing.choice", "some landings say more than others", self._landing_cost, ("lead", "landing")),
            ("lead.bends.cost", "what a bend costs", self._bend_cost, ("lead", "bends", "cost")),
            ("lead.ornaments", "what double stops and graces cost", self._ornament_cost, ("lead", "techniques")),
            ("lead.strings", "the melody lies on the upper strings, under the strong fingers", self._place_cost, ("lead", "melody", "string")),
            ("lead.figure", "the figure fits I and IV", self._figure_cost, ("lead", "figure")),
        ]  # fmt: skip
        del lead
        return tuple(OnsetPreference(n, s, self.book.source(*path), cost) for n, s, cost, path in rows)

    def _palette_cost(self, t: TouchTable, at: At) -> IntArray:
        costs = _costs(self.palette(at), 0)[at.key_degrees(t.enter)]
        weight = 16 if at.beat else 10
        weight = weight * (15 if at.duration >= 8 else 8 if at.duration <= 2 else 10) // 10
        return np.asarray(costs * weight // 10)

    def _off_chord_cost(self, t: TouchTable, at: At) -> IntArray:
        strong = at.beat is not None
        return np.where(at.in_chord(t.enter), 0, self.rules.lead.melody.off_chord_strong if strong else 0)

    def _landing_cost(self, t: TouchTable, at: At) -> IntArray:
        if not at.last:
            return np.zeros(len(t), np.int64)
        return np.asarray(_costs(self.landing(at), 0)[at.key_degrees(t.leave)])

    def _bend_cost(self, t: TouchTable, at: At) -> IntArray:
        cost = self.rules.lead.bends.cost
        by_size = np.zeros(7, np.int64)
        for name, size in BEND_SIZES.items():
            by_size[size] = cost.get(name, 0)
        release = cost.get("bend-release", 0) * (t.kind == BEND_RELEASE)
        pre = cost.get("pre-bend-release", 0) * (t.kind == PRE_BEND_RELEASE)
        held = np.where((t.bend == 4) & (t.kind == BEND) & (at.duration >= 8), 6, 0)
        return np.asarray(by_size[t.bend] + release + pre - held)

    def _ornament_cost(self, t: TouchTable, at: At) -> IntArray:
        tech = self.rules.lead.techniques
        cost = tech.double_stop * t.double + tech.grace_hammer * (t.grace == GRACE_HAMMER)
        return np.asarray(cost + tech.grace_slide * (t.grace == GRACE_SLIDE))

    def _place_cost(self, t: TouchTable, at: At) -> IntArray:
        melody = self.rules.lead.melody
        strings = np.zeros(9, np.int64)
        for number, points in melody.string.items():
            strings[int(number)] = points
        fingers = np.zeros(5, np.int64)
        for number, points in melody.finger.items():
            fingers[int(number)] = points
        stretched = (t.fret > 0) & ((t.fret < t.hand) | (t.fret > t.hand + 3))
        return np.asarray(strings[t.string] + fingers[t.finger] + 12 * stretched)

    def _figure_cost(self, t: TouchTable, at: At) -> IntArray:
        if not at.in_figure or not (at.beat or at.duration >= 8):
            return np.zeros(len(t), np.int64)
        figure = self.rules.lead.figure
        return np.asarray(_costs(figure.fits, figure.other)[at.key_degrees(t.enter)])

    @cached_property
    def move_preferences(self) -> tuple[MovePreference, ...]:
        """What moves cost."""
        rows = [
            ("lead.ways", "legato is cheaper than plucking everything", self._way_cost, ("lead", "techniques")),
            ("lead.pairs", "notes that pull towards each other follow each other", self._pair_cost, ("lead", "melody", "pairs")),
            ("hand.crossings", "few skipped strings, fresh fingers, a quiet hand", self._crossing_cost, ("lead", "melody", "string_skip")),
        ]  # fmt: skip
        return tuple(MovePreference(n, s, self.book.source(*path), cost) for n, s, cost, path in rows)

    def _way_cost(self, a: TouchTable, b: TouchTable, how: IntArray, key: Key) -> IntArray:
        tech = self.rules.lead.techniques
        ways = np.array([tech.pluck, tech.hammer, tech.pull, tech.slide], np.int64)[how]
        struck_for_free = (how == PLUCK) & ((b.kind != NO_BEND) | b.double | (b.grace != NO_GRACE))
        return np.asarray(np.where(struck_for_free, 0, ways))

    def _pair_cost(self, a: TouchTable, b: TouchTable, how: IntArray, key: Key) -> IntArray:
        table = np.zeros((12, 12), np.int64)
        for pair, points in self.rules.lead.melody.pairs.items():
            low, _, high = pair.partition(">")
            table[semitones(low), semitones(high)] = points
        interval = np.abs(b.enter - a.leave)
        wide = 5 * np.maximum(interval - 7, 0) + 50 * (interval > 9)
        unresolved = 40 * ((a.kind == BEND_RELEASE) & (how != PULL))
        near = np.abs(b.enter - a.leave) <= 6
        degrees = table[(a.leave - key.pitch_class) % 12, (b.enter - key.pitch_class) % 12]
        return np.asarray(np.where(near | (degrees > 0), degrees, 0) + wide + unresolved)

    def _crossing_cost(self, a: TouchTable, b: TouchTable, how: IntArray, key: Key) -> IntArray:
        melody = self.rules.lead.melody
        skipped = np.maximum(np.abs(a.string - b.string) - 1, 0)
        same = (a.finger == b.finger) & (a.finger > 0) & (a.fret != b.fret) & (how != SLIDE)
        return np.asarray(
            melody.string_skip * skipped
            + melody.same_finger * same
            + melody.hand_fret * np.abs(a.hand - b.hand)
        )


def _one_peak(line: Line) -> bool:
    top = max(line.pitches)
    where = [i for i, p in enumerate(line.pitches) if p == top]
    return where[-1] - where[0] == len(where) - 1 <= 1


def _hook(line: Line) -> bool:
    n = line.figure
    intervals = [abs(b - a) for a, b in zip(line.pitches[:n], line.pitches[1:n], strict=False)]
    return any(line.marked[:n]) or any(i >= 4 or i == 0 for i in intervals)
