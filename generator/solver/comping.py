"""Comping slots: what each sign of a pattern can be on the neck, and what it costs to go from hit to hit.

A hit's options are ``Stroke`` values: notes with fingers, the hand's place, and the grip they come from. The
signs are those of ``rules/parts/comping.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from generator.fingering import fingerings, grip_place
from generator.harmony import Chord, chord_in_key, semitones
from generator.rhythm import GRIDS, TICKS_PER_BAR
from generator.rulebook.degrees import root_numeral
from generator.rulebook.lead import Lead
from generator.rulebook.rule import FORBIDDEN
from generator.rulebook.whole import grip_rules
from generator.solver.grips import Grip, Held, voicings
from generator.touches import IntArray

GRIP_SIGNS = frozenset("CATSHL")
BASS_SIGNS = frozenset("BFW")
POWER_SIGNS = frozenset("PK")
#: Signs whose stroke has just the notes of its grip, so that the grip's name stands over it.
NAMED_SIGNS = frozenset("CHLx")
SIGNS = GRIP_SIGNS | BASS_SIGNS | POWER_SIGNS | {"x"}
#: Which way a suspension moves each degree of a dominant chord, in semitones.
_SUSPENDED = {"3": 1, "5": 2, "b7": 2}
_TOP_MOVES = {"5": 2, "b7": 2, "1": 2}


@dataclass(frozen=True)
class Hit:
    """A sign of a pattern at its time: the chord it takes, and the chord of the next bar."""

    sign: str
    tick: int
    duration: int
    roman: str
    next_roman: str
    final: bool = False
    chords_given: bool = False


@dataclass(frozen=True)
class Stroke:
    """One option for a hit. ``base`` is the grip it belongs to (None for bass notes); ``hand`` its place.

    ``graced`` is the string whose note is hammered on from a fret below, ``slid`` true when the whole grip is.
    """

    sign: str
    roman: str
    notes: tuple[Held, ...]
    hand: int
    cost: int
    base: Grip | None = None
    graced: int = 0
    muted: bool = False


def hits_of(
    pattern: str, grid: str, start: int, romans: list[tuple[int, str]], chords: tuple[str, ...] = ()
) -> list[Hit]:
    """The hits of a pattern that begins at tick ``start``.

    ``romans`` is the form as (tick, Roman numeral) in order; with ``chords`` each hit takes the next of them.
    A hit in the last grid step of a bar takes the next bar's chord, unless it is a bass note or a lead-in.
    """
    step = GRIDS[grid]

    def chord_at(tick: int) -> str:
        return next((roman for at, roman in reversed(romans) if at <= tick), romans[0][1])

    found: list[Hit] = []
    taken = iter(chords)
    for i, sign in enumerate(pattern):
        tick = start + i * step
        if sign == "-" and found and found[-1].tick + found[-1].duration == tick:
            found[-1] = replace(found[-1], duration=found[-1].duration + step)
        elif sign in SIGNS:
            next_bar = (tick // TICKS_PER_BAR + 1) * TICKS_PER_BAR
            early = tick + step >= next_bar and sign in "CAx"
            roman = next(taken) if chords else chord_at(next_bar if early else tick)
            found.append(Hit(sign, tick, step, roman, chord_at(next_bar), chords_given=bool(chords)))
    if chords and found:
        found[-1] = replace(found[-1], final=True)
    return found


class Strokes:
    """The options of hits for one set of rules and key, each chord's grips worked out once."""

    def __init__(self, lead: Lead, grade: int):
        self.lead = lead
        self.grade = grade
        self.rules = grip_rules(lead)
        self._grips: dict[str, tuple[Grip, ...]] = {}

    def grips(self, roman: str) -> tuple[Grip, ...]:
        """The grips of a chord at this level; a quality without a recipe is played as its seventh or triad."""
        if roman not in self._grips:
            chord = self._chord(roman)
            self._grips[roman] = tuple(
                grip
                for name, recipe in self.lead.rules.grips.items()
                if recipe.grade <= self.grade and chord.quality in recipe.qualities
                for grip in voicings(
                    name, recipe, chord, self.lead.neck, self.lead.hand, self.lead.rules.comping.highest_fret
                )
            )
        return self._grips[roman]

    def _chord(self, roman: str) -> Chord:
        return chord_in_key(roman, self.lead.key)

    def options(self, hit: Hit) -> list[Stroke]:
        """Everything that a hit can be."""
        if hit.sign in BASS_SIGNS:
            return list(self._bass(hit))
        if hit.sign in POWER_SIGNS:
            return list(self._power(hit))
        if hit.sign == "L":
            leads = self.lead.rules.comping.leads.get(root_numeral(hit.next_roman), [])
            leading = (s for roman in leads for s in self._plain(replace(hit, roman=roman)))
            return [replace(s, sign="L") for s in leading if self._allowed(s)]
        plain = list(self._plain(hit))
        made: dict[str, Callable[[Stroke], Iterable[Stroke]]] = {
            "C": lambda s: [s],
            "A": self._approach,
            "T": self._top_moved,
            "S": self._suspended,
            "H": self._hammered,
            "x": lambda s: [replace(s, muted=True)],
        }
        varied = [replace(v, sign=hit.sign) for s in plain for v in made[hit.sign](s) if self._allowed(v)]
        return varied or [replace(s, sign="C") for s in plain]

    def _allowed(self, stroke: Stroke) -> bool:
        name = stroke.base.name if stroke.base and stroke.sign in NAMED_SIGNS else None
        return not any(rule.fault(stroke.notes, stroke.roman, name) for rule in self.rules)

    def _plain(self, hit: Hit) -> Iterator[Stroke]:
        comping = self.lead.rules.comping
        for grip in self.grips(hit.roman):
            lowest = min(self.lead.neck.pitch(s, f) for s, f, _ in grip.notes)
            cost = grip.cost + comping.high * (grip.hand > 12) + comping.low * (lowest < 45)
            if len(grip.notes) > 4 and not hit.final:
                cost += comping.five_strings
            if hit.final and grip.degrees[0] != "1":
                cost += comping.rootless_close
            if not {"3", "b3"} & set(grip.degrees) and len(grip.notes) > 2:
                cost += 35
            yield Stroke("C", grip.roman, grip.notes, grip.hand, cost, grip)

    def _refingered(self, stroke: Stroke, frets: dict[int, int]) -> Iterator[Stroke]:
        """The stroke with other frets, when the hand can hold them."""
        places = tuple((s, frets[s]) for s, _, _ in stroke.notes)
        if min(f for _, f in places) < 0 or max(f for _, f in places) > self.lead.neck.top_fret:
            return
        found = fingerings(self.lead.hand, self.lead.neck, places)
        if found:
            yield replace(stroke, notes=found[0], hand=max(1, grip_place(found[0])))

    def _approach(self, stroke: Stroke) -> Iterator[Stroke]:
        frets = {s: f - 1 for s, f, _ in stroke.notes}
        if min(frets.values()) >= 1:
            shifted = tuple((s, f - 1, g) for s, f, g in stroke.notes)
            yield replace(stroke, notes=shifted, hand=max(1, stroke.hand - 1))

    def _top_moved(self, stroke: Stroke) -> Iterator[Stroke]:
        assert stroke.base is not None
        top = min(s for s, _, _ in stroke.notes)
        degree = stroke.base.degrees[[s for s, _, _ in stroke.notes].index(top)]
        move = _TOP_MOVES.get(degree, 0)
        if move and not ("b3" in stroke.base.degrees and degree == "5"):
            frets = {s: f + (move if s == top else 0) for s, f, _ in stroke.notes}
            yield from self._refingered(stroke, frets)

    def _suspended(self, stroke: Stroke) -> Iterator[Stroke]:
        assert stroke.base is not None
        if "3" in stroke.base.degrees and 0 not in stroke.base.frets().values():
            frets = {
                s: f + _SUSPENDED.get(d, 0)
                for (s, f, _), d in zip(stroke.notes, stroke.base.degrees, strict=True)
            }
            yield from self._refingered(stroke, frets)

    def _hammered(self, stroke: Stroke) -> Iterator[Stroke]:
        assert stroke.base is not None
        for (string, fret, finger), degree in zip(stroke.notes, stroke.base.degrees, strict=True):
            if degree == "3" and fret >= 2 and finger >= 2:
                yield replace(stroke, graced=string)

    def _bass(self, hit: Hit) -> Iterator[Stroke]:
        """Single notes on the low strings, each with the fingers and hand places that could hold it."""
        neck, comping = self.lead.neck, self.lead.rules.comping
        chord = self._chord(hit.next_roman if hit.sign == "W" else hit.roman)
        wanted = {
            "B": (chord.root_pc,),
            "F": ((chord.root_pc + semitones("5")) % 12,),
            "W": ((chord.root_pc + 1) % 12, (chord.root_pc - 1) % 12),
        }[hit.sign]
        for string in range(max(1, neck.strings - 1), neck.strings + 1):
            for fret in range(comping.highest_fret + 1):
                if neck.pitch(string, fret) % 12 not in wanted:
                    continue
                cost = 0
                for finger in (1, 2, 3, 4) if fret else (0,):
                    hands = (fret - finger + 1,) if fret else range(1, 6)
                    for hand in hands:
                        if hand >= 1:
                            yield Stroke(
                                hit.sign,
                                hit.roman,
                                ((string, fret, finger),),
                                hand,
                                cost + 2 * (finger in (2, 4)),
                            )

    def _power(self, hit: Hit) -> Iterator[Stroke]:
        """Root and fifth, or root and sixth, on two low strings; the root low on the neck."""
        neck, chord = self.lead.neck, self._chord(hit.roman)
        for string in (6, 5):
            if string > neck.strings:
                continue
            fret = (chord.root_pc - neck.pitch(string, 0)) % 12
            above = chord.root_pc + semitones("5" if hit.sign == "P" else "6") - neck.pitch(string - 1, 0)
            upper = next((f for f in range(above % 12, 25, 12) if f >= fret), 99)
            if upper > neck.top_fret or upper - fret > WIDE_POWER:
                continue
            for found in fingerings(self.lead.hand, neck, ((string, fret), (string - 1, upper)))[:1]:
                yield Stroke(hit.sign, hit.roman, found, max(1, grip_place(found)), 2 * fret)


WIDE_POWER = 4
#: How much dearer the hand's way is between the chords of an ending.
CLOSE_HANDS = 4


def link(
    a: Hit, options_a: list[Stroke], b: Hit, options_b: list[Stroke], shifts: IntArray, lead: Lead
) -> IntArray:
    """The cost (A x B) of going from each option of one hit to each of the next; FORBIDDEN where it cannot be.

    ``shifts`` is the hand's own table of costs between places for the time there is.
    """
    comping = lead.rules.comping
    closing = bool(a.chords_given and b.chords_given)
    costs = np.full((len(options_a), len(options_b)), FORBIDDEN, np.int64)
    for i, x in enumerate(options_a):
        for j, y in enumerate(options_b):
            bound = _bound(x, y)
            if bound is None:
                continue
            points = int(shifts[x.hand, y.hand]) * (CLOSE_HANDS if closing else 1) + bound
            if x.base is not None and y.base is not None:
                points += _voice_leading(x, y, comping.moved_string, comping.semitone)
            costs[i, j] = min(points, FORBIDDEN)
    return costs


def _bound(x: Stroke, y: Stroke) -> int | None:
    """None where two strokes may not follow each other, else extra points: ornaments belong to their grip."""
    if x.base is None or y.base is None:
        return 0
    if x.sign in "AS" or y.sign == "x" or x.sign == "x":
        return 0 if x.base == y.base or (x.roman != y.roman and x.sign == "x") else None
    if x.sign == "T" or y.sign == "T":
        return 0 if x.base == y.base else 40
    return 0


def _voice_leading(x: Stroke, y: Stroke, moved_string: int, semitone: int) -> int:
    before = {s: f for s, f, _ in x.notes}
    after = {s: f for s, f, _ in y.notes}
    moved = sum(1 for s in before.keys() | after.keys() if before.get(s) != after.get(s))
    way = sum(abs(before[s] - after[s]) for s in before.keys() & after.keys())
    return moved_string * moved + semitone * way
