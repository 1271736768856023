"""Comping slots: what each sign of a pattern can be on the neck, and what it costs to go from hit to hit.

A hit's options are ``Stroke`` values: notes with fingers, the position, and the grip they come from. The
signs are those of ``rules/parts/comping.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from lickwright.guitar.fingering import fingerings, grip_position
from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.schema.rule_file import BassTable, ColourTable, CompingTable, PairTable, VoicesTable
from lickwright.rulebook.touches import IntArray
from lickwright.rulebook.whole import grip_rules
from lickwright.solver.grips import Grip, Held, voicings
from lickwright.solver.shifts import shift_costs
from lickwright.theory.harmony import Chord, chord_in_key, semitones
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR

#: The signs that are the same in all rule files; the others are declared in ``[comping]``.
POWER_SIGNS = {"P": "5", "K": "6", "Q": "b7"}
#: Signs whose stroke has just the notes of its grip, so that the grip's name stands over it.
NAMED_SIGNS = frozenset("CHLxGZ")
#: Signs that on the last step of a bar already take the next bar's chord.
EARLY_SIGNS = frozenset("CAGZx")


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
    """One option for a hit. ``base`` is the grip it belongs to (None for bass notes).

    ``graced`` is the string whose note is hammered on from a fret below, ``slid`` the frets by which the whole
    grip is slid up into its place, ``trilled`` the string whose note is trilled with the fret above.
    """

    sign: str
    roman: str
    notes: tuple[Held, ...]
    position: int
    cost: int
    base: Grip | None = None
    graced: int = 0
    muted: bool = False
    slid: int = 0
    trilled: int = 0


def hits_of(
    pattern: str, grid: str, start: int, romans: list[tuple[int, str]], chords: tuple[str, ...] = ()
) -> list[Hit]:
    """The hits of a pattern that begins at tick ``start``.

    ``romans`` is the form as (tick, Roman numeral) in order; with ``chords`` each hit takes the next of them.
    One of ``EARLY_SIGNS`` in the last grid step of a bar takes the next bar's chord.
    """
    step = GRIDS[grid]

    def chord_at(tick: int) -> str:
        return next((roman for at, roman in reversed(romans) if at <= tick), romans[0][1])

    hits: list[Hit] = []
    own_chords = iter(chords)
    for i, sign in enumerate(pattern):
        tick = start + i * step
        if sign == "-" and hits and hits[-1].tick + hits[-1].duration == tick:
            hits[-1] = replace(hits[-1], duration=hits[-1].duration + step)
        elif sign not in "-.":
            next_bar = (tick // TICKS_PER_BAR + 1) * TICKS_PER_BAR
            early = tick + step >= next_bar and sign in EARLY_SIGNS
            roman = next(own_chords) if chords else chord_at(next_bar if early else tick)
            hits.append(Hit(sign, tick, step, roman, chord_at(next_bar), chords_given=bool(chords)))
    if chords and hits:
        hits[-1] = replace(hits[-1], final=True)
    return hits


#: What a hit's options depend on.
_Kind = tuple[str, str, str, bool]


def _kind(hit: Hit) -> _Kind:
    return hit.sign, hit.roman, hit.next_roman, hit.final


class Strokes:
    """The options of hits for one set of rules and key: grips, options and ways between them worked out once."""

    def __init__(self, lead: Lead, grade: int):
        self.lead = lead
        self.grade = grade
        self.rules = grip_rules(lead)
        self._grips: dict[str, tuple[Grip, ...]] = {}
        self._options: dict[_Kind, list[Stroke]] = {}
        self._links: dict[tuple[_Kind, _Kind, bool, float], IntArray] = {}

    def grips(self, roman: str) -> tuple[Grip, ...]:
        """The grips of a chord at this level; a quality without a recipe is played as its seventh or triad."""
        if roman not in self._grips:
            chord, comping = self._chord(roman), self.lead.rules.comping
            self._grips[roman] = tuple(
                grip
                for name, recipe in self.lead.rules.grips.items()
                if recipe.grade <= self.grade and chord.quality in recipe.qualities
                for grip in voicings(
                    name, recipe, chord, self.lead.neck, self.lead.hand, comping.highest_fret, comping.barre
                )
            )
        return self._grips[roman]

    def _chord(self, roman: str) -> Chord:
        return chord_in_key(roman, self.lead.key)

    def options(self, hit: Hit) -> list[Stroke]:
        """Everything that a hit can be."""
        key = _kind(hit)
        if key not in self._options:
            self._options[key] = self._made(hit)
        return self._options[key]

    def link(self, a: Hit, b: Hit, seconds_free: float) -> IntArray:
        """The cost of going from each option of a hit to each of the next when the hand has so much time: see ``link``."""
        key = _kind(a), _kind(b), a.chords_given and b.chords_given, seconds_free
        if key not in self._links:
            shifts = shift_costs(self.lead, seconds_free)
            self._links[key] = link(a, self.options(a), b, self.options(b), shifts, self.lead)
        return self._links[key]

    def _made(self, hit: Hit) -> list[Stroke]:
        comping = self.lead.rules.comping
        if hit.sign in comping.bass:
            return list(self._bass(hit, comping.bass[hit.sign]))
        if hit.sign in comping.pairs:
            return list(self._pairs(hit, comping.pairs[hit.sign]))
        if hit.sign in POWER_SIGNS:
            return list(self._power(hit))
        if hit.sign == "L":
            leads = comping.leads.get(root_numeral(hit.next_roman), [])
            leading = (s for roman in leads for s in self._plain(replace(hit, roman=roman)))
            return [self._lead_in(s) for s in leading if self._allowed(s)]
        if hit.sign in comping.colours:
            hit = replace(hit, roman=self._coloured(hit.roman, comping.colours[hit.sign]))
            return [s for s in self._plain(hit) if self._allowed(s)]
        voices = comping.voices.get(hit.sign)
        made: dict[str, Callable[[Stroke], Iterable[Stroke]]] = {
            "C": lambda s: [s],
            "A": self._approach,
            "G": lambda s: self._slid(s, 1),
            "Z": lambda s: self._slid(s, -1),
            "H": self._hammered,
            "R": self._trilled,
            "x": lambda s: [replace(s, muted=True)],
        }
        make = made[hit.sign] if voices is None else lambda s: self._moved(s, voices)
        varied = (replace(v, sign=hit.sign) for s in self._plain(hit) for v in make(s))
        return [v for v in varied if self._allowed(v)]

    def _lead_in(self, stroke: Stroke) -> Stroke:
        """The grip as one that leads on; without its root it is dearer, unless any of its notes may be the root."""
        assert stroke.base is not None
        rooted = "1" in stroke.base.degrees or "bb7" in stroke.base.degrees
        return replace(
            stroke, sign="L", cost=stroke.cost + (0 if rooted else self.lead.rules.comping.rootless_lead)
        )

    def _coloured(self, roman: str, colour: ColourTable) -> str:
        """The chord with the same root in a sign's quality."""
        chord = self._chord(roman)
        quality = colour.minor if "b3" in chord.degrees else colour.major
        return roman.removesuffix(chord.quality) + quality

    def _allowed(self, stroke: Stroke) -> bool:
        name = stroke.base.name if stroke.base and stroke.sign in NAMED_SIGNS else None
        return not any(rule.fault(stroke.notes, stroke.roman, name) for rule in self.rules)

    def _plain(self, hit: Hit) -> Iterator[Stroke]:
        comping = self.lead.rules.comping
        for grip in self.grips(hit.roman):
            lowest = min(self.lead.neck.pitch(s, f) for s, f, _ in grip.notes)
            cost = (
                grip.cost
                + comping.high * (grip.position > comping.high_above)
                + comping.low * (lowest < comping.low_below)
            )
            if len(grip.notes) > 4 and not hit.final:
                cost += comping.five_strings
            if hit.final and grip.degrees[0] != "1":
                cost += comping.rootless_close
            if not {"3", "b3"} & set(grip.degrees) and len(grip.notes) > 2:
                cost += comping.no_third
            yield Stroke("C", grip.roman, grip.notes, grip.position, cost, grip)

    def _refingered(self, stroke: Stroke, frets: dict[int, int]) -> Iterator[Stroke]:
        """The stroke with other frets, when the hand can hold them."""
        places = tuple((s, frets[s]) for s, _, _ in stroke.notes)
        if min(f for _, f in places) < 0 or max(f for _, f in places) > self.lead.neck.top_fret:
            return
        ways = fingerings(self.lead.hand, self.lead.neck, places)
        if ways:
            held = [f for _, f in places if f]
            wide = max(0, max(held, default=0) - min(held, default=0) - self.lead.rules.comping.natural_reach)
            cost = stroke.cost + self.lead.rules.comping.stretch * wide
            yield replace(stroke, notes=ways[0], position=max(1, grip_position(ways[0])), cost=cost)

    def _approach(self, stroke: Stroke) -> Iterator[Stroke]:
        frets = {s: f - 1 for s, f, _ in stroke.notes}
        if min(frets.values()) >= 1:
            shifted = tuple((s, f - 1, g) for s, f, g in stroke.notes)
            yield replace(stroke, notes=shifted, position=max(1, stroke.position - 1))

    def _slid(self, stroke: Stroke, frets: int) -> Iterator[Stroke]:
        """The grip slid into its place from a fret below (1) or above (-1)."""
        if min(f for _, f, _ in stroke.notes) > max(frets, 0):
            yield replace(stroke, slid=frets)

    def _moved(self, stroke: Stroke, voices: VoicesTable) -> Iterator[Stroke]:
        """The grip with voices moved as a rule file says."""
        assert stroke.base is not None
        by_degree = voices.minor if "b3" in stroke.base.degrees else voices.major
        top = min(s for s, _, _ in stroke.notes)
        frets = {
            s: f + (by_degree.get(d, 0) if voices.voice == "every" or s == top else 0)
            for (s, f, _), d in zip(stroke.notes, stroke.base.degrees, strict=True)
        }
        if frets != stroke.base.frets():
            yield from self._refingered(stroke, frets)

    def _hammered(self, stroke: Stroke) -> Iterator[Stroke]:
        assert stroke.base is not None
        for (string, fret, finger), degree in zip(stroke.notes, stroke.base.degrees, strict=True):
            if degree == "3" and fret >= 2 and finger >= 2:
                yield replace(stroke, graced=string)

    def _trilled(self, stroke: Stroke) -> Iterator[Stroke]:
        """The grip with its third trilled from the flat third a fret below."""
        for graced in self._hammered(stroke):
            notes = tuple((s, f - 1, g - 1) if s == graced.graced else (s, f, g) for s, f, g in stroke.notes)
            yield replace(stroke, notes=notes, trilled=graced.graced)

    def _bass(self, hit: Hit, bass: BassTable) -> Iterator[Stroke]:
        """Single notes on the low strings, each with the fingers and positions that could hold it."""
        neck, comping = self.lead.neck, self.lead.rules.comping
        chord = self._chord(hit.next_roman if bass.off_next else hit.roman)
        degree = bass.minor if "b3" in chord.degrees and bass.minor else bass.major
        pitch_classes = {(chord.root_pc + step) % 12 for step in bass.off_next}
        if degree is not None:
            pitch_classes.add((chord.root_pc + semitones(degree)) % 12)
        for string in range(max(1, neck.strings - 1), neck.strings + 1):
            for fret in range(comping.highest_fret + 1):
                if neck.pitch(string, fret) % 12 not in pitch_classes:
                    continue
                for finger in (1, 2, 3, 4) if fret else (0,):
                    for position in (fret - finger + 1,) if fret else range(1, 6):
                        if position >= 1:
                            held = ((string, fret, finger),)
                            yield Stroke(
                                hit.sign, hit.roman, held, position, comping.bass_finger * (finger in (2, 4))
                            )

    def _pairs(self, hit: Hit, pair: PairTable) -> Iterator[Stroke]:
        """Two notes of the chord on the pair's strings, both ways round when it may be turned."""
        neck, comping = self.lead.neck, self.lead.rules.comping
        chord = self._chord(hit.roman)
        degrees = pair.minor if "b3" in chord.degrees else pair.major
        for low, high in (degrees, degrees[::-1]) if pair.turned else (degrees,):
            for lower, upper in pair.strings:
                if lower > neck.strings:
                    continue
                for fret in range(comping.highest_fret + 1):
                    if (neck.pitch(lower, fret) - chord.root_pc - semitones(low)) % 12:
                        continue
                    interval = (semitones(high) - semitones(low)) % 12
                    other = neck.pitch(lower, fret) + interval - neck.pitch(upper, 0)
                    if abs(other - fret) > comping.pair_reach or not 0 <= other <= neck.top_fret:
                        continue
                    for notes in fingerings(self.lead.hand, neck, ((lower, fret), (upper, other)))[:1]:
                        stroke = Stroke(hit.sign, hit.roman, notes, max(1, grip_position(notes)), 0)
                        if self._allowed(stroke):
                            yield stroke

    def _power(self, hit: Hit) -> Iterator[Stroke]:
        """Root and fifth, sixth or seventh on low strings; the root low on the neck."""
        neck, chord, comping = self.lead.neck, self._chord(hit.roman), self.lead.rules.comping
        for string in (6, 5):
            if string > neck.strings:
                continue
            fret = (chord.root_pc - neck.pitch(string, 0)) % 12
            for above in (1, 2) if hit.sign == "Q" else (1,):
                pitch = neck.pitch(string, fret) + semitones(POWER_SIGNS[hit.sign])
                upper = pitch - neck.pitch(string - above, 0)
                if not fret <= upper <= min(neck.top_fret, fret + comping.power_reach):
                    continue
                for notes in fingerings(self.lead.hand, neck, ((string, fret), (string - above, upper)))[:1]:
                    yield Stroke(
                        hit.sign, hit.roman, notes, max(1, grip_position(notes)), comping.power_fret * fret
                    )


def link(
    a: Hit, options_a: list[Stroke], b: Hit, options_b: list[Stroke], shifts: IntArray, lead: Lead
) -> IntArray:
    """The cost (A x B) of going from each option of one hit to each of the next; FORBIDDEN where it cannot be.

    ``shifts`` is the hand's own table of costs between positions for the time there is.
    """
    comping = lead.rules.comping
    closing = bool(a.chords_given and b.chords_given)
    costs = np.full((len(options_a), len(options_b)), FORBIDDEN, np.int64)
    for i, x in enumerate(options_a):
        for j, y in enumerate(options_b):
            bound = _bound(x, y, comping)
            if bound is None or _strays(x, y, lead):
                continue
            sliding = slides(x, y, comping.slide_frets)
            moving = (
                comping.hand_fret * abs(x.position - y.position)
                if sliding
                else int(shifts[x.position, y.position])
            )
            points = moving * (comping.close_hands if closing else 1) + bound
            if len(x.notes) > 1 and len(y.notes) > 1:
                points += _voice_leading(x, y, comping.moved_string, comping.semitone)
            elif len(x.notes) == 1:
                points += _over_bass(x, y, lead)
            costs[i, j] = min(points, FORBIDDEN)
    return costs


def slides(x: Stroke, y: Stroke, most_frets: int) -> bool:
    """True when a pair of notes slides to the next: same strings, same fingers, ``most_frets`` at most."""
    if x.base is not None or y.base is not None or len(x.notes) != 2 or len(y.notes) != 2:
        return False
    ways = {b[1] - a[1] for a, b in zip(x.notes, y.notes, strict=True)}
    alike = all((a[0], a[2]) == (b[0], b[2]) for a, b in zip(x.notes, y.notes, strict=True))
    fretted = all(f > 0 for _, f, _ in (*x.notes, *y.notes))
    return alike and fretted and 1 <= max(map(abs, ways)) <= most_frets and 0 not in ways


def _bound(x: Stroke, y: Stroke, comping: CompingTable) -> int | None:
    """None where two strokes may not follow each other, else extra points: ornaments belong to their grip."""
    if x.base is None or y.base is None:
        return 0
    same = x.base == y.base
    resolves = x.sign == "A" or (x.sign in comping.voices and comping.voices[x.sign].resolves)
    if resolves or "x" in (x.sign, y.sign):
        return 0 if same or (x.roman != y.roman and x.sign == "x") else None
    if x.sign in comping.voices or y.sign in comping.voices:
        return 0 if same else comping.other_grip
    return 0


def _strays(x: Stroke, y: Stroke, lead: Lead) -> bool:
    """True when a pair of notes goes on to another so far off that no line is heard in it."""
    comping = lead.rules.comping
    if x.sign not in comping.pairs or y.sign not in comping.pairs:
        return False
    before, after = (max(lead.neck.pitch(string, fret) for string, fret, _ in z.notes) for z in (x, y))
    return abs(after - before) > comping.pair_way


def _over_bass(bass: Stroke, after: Stroke, lead: Lead) -> int:
    """Points for what follows a bass note: a grip near it, or another bass note by small steps."""
    comping, (string, fret, _) = lead.rules.comping, bass.notes[0]
    if len(after.notes) == 1:
        way = lead.neck.pitch(*after.notes[0][:2]) - lead.neck.pitch(string, fret)
        return comping.bass_semitone * abs(way)
    frets = [f for _, f, _ in after.notes if f]
    if fret == 0 or not frets:
        return 0
    near = min(frets) - 1 <= fret <= max(frets) + 1
    return 0 if near and string > max(s for s, _, _ in after.notes) - 1 else comping.bass_apart


def _voice_leading(x: Stroke, y: Stroke, moved_string: int, semitone: int) -> int:
    before = {s: f for s, f, _ in x.notes}
    after = {s: f for s, f, _ in y.notes}
    moved = sum(1 for s in before.keys() | after.keys() if before.get(s) != after.get(s))
    way = sum(abs(before[s] - after[s]) for s in before.keys() & after.keys())
    return moved_string * moved + semitone * way
