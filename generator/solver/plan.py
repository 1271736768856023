"""The plan of a study: which form, phrases and scheme, which rhythm in which slot, which answer in which gap.

A layout (templates and scheme) is taken first; the cells are then a constraint problem of its own, whose
values are tried in an order that the seed draws by weight: the first solution is the plan. Windows, touches
and grips are left to the chain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, pairwise
from typing import Any, TypeVar

import constraint
import numpy as np
from numpy.random import Generator

from generator.harmony import Key
from generator.neck import Neck
from generator.rhythm import BEATS_PER_BAR, GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, Onset, parse_cell, seconds
from generator.rulebook.schema import LickPlace, RuleFile, TemplateTable
from generator.study import ChordSpan

T = TypeVar("T")

SLOW_BPM = 80
UNDER_A_LICK = "under a lick"
#: How much less often each next home place is taken than the one before it in the rule file.
HOME_ODDS = 0.6
#: Cells tried for one variable: enough for variety, few enough for the search to stay short.
MOST_CELLS = 18
#: At least a fifth of a lick's place is silence or its landing. Common practice, no source.
MOST_SOUNDING = 0.8


class NoPlan(ValueError):
    """No layout of the rule files has a solution: ``where`` says which slot or gap failed last."""

    def __init__(self, where: str):
        super().__init__(where)
        self.where = where


@dataclass(frozen=True)
class LickPlan:
    """A lick's place and rhythm. ``onsets`` count from the study's start; ``quotes`` is another lick's number.

    ``leads`` is true when others take up its figure; ``hands`` are the windows it may lie in.
    """

    number: int
    phrase: int
    letter: str
    role: str
    figure: str
    tail: str
    onsets: tuple[Onset, ...]
    figure_notes: int
    hands: tuple[int, ...]
    quotes: int | None = None
    leads: bool = False

    @property
    def start(self) -> int:
        """The tick of the first onset."""
        return self.onsets[0].tick

    @property
    def end(self) -> int:
        """The tick at which the landing is over."""
        return self.onsets[-1].tick + self.onsets[-1].duration


@dataclass(frozen=True)
class CompPlan:
    """A comping slot: where it starts, its pattern, and the chords of its hits if it brings its own."""

    phrase: int
    start: int
    pattern: str
    name: str
    chords: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """What stands where. ``form`` as chord spans; ``phrases`` as (first bar, last bar, template)."""

    form: tuple[ChordSpan, ...]
    phrases: tuple[tuple[int, int, str], ...]
    scheme: str
    home: int
    licks: tuple[LickPlan, ...]
    comps: tuple[CompPlan, ...]


@dataclass(frozen=True)
class _Place:
    """A lick's place in a layout: its phrase, letter, template entry and the beat by which it must be over."""

    phrase: int
    letter: str
    place: LickPlace
    phrase_beat: int
    limit_beat: int

    @property
    def base(self) -> str:
        return self.letter.rstrip("'")


def by_weight(items: Sequence[T], weight: Callable[[T], float], rng: Generator) -> list[T]:
    """The items in a random order in which heavier ones tend to come first (Efraimidis and Spirakis, 2006)."""
    keys = [rng.exponential() / max(weight(item), 1e-9) for item in items]
    return [items[i] for i in np.argsort(keys, kind="stable")]


def form_spans(bars: Sequence[str]) -> tuple[ChordSpan, ...]:
    """The chords of a form's bars as spans; chords in one bar share it equally."""
    spans = []
    for number, bar in enumerate(bars):
        romans = bar.split()
        ticks = TICKS_PER_BAR // len(romans)
        spans += [
            ChordSpan(number * TICKS_PER_BAR + k * ticks, ticks, roman) for k, roman in enumerate(romans)
        ]
    return tuple(spans)


def root_fret(key: Key, neck: Neck) -> int:
    """The fret (0..11) from which windows are counted: the key's root on the first string.

    In standard tuning the sixth string has it at the same fret, but that one is the first to be tuned down; a
    neck of less than six strings counts on its lowest.
    """
    string = 1 if neck.strings >= 6 else neck.strings
    return (key.pitch_class - neck.pitch(string, 0)) % 12


def window_hands(rules: RuleFile, key: Key, neck: Neck) -> tuple[int, ...]:
    """The index-finger frets that a study of this key may call home, the rule file's favourites first."""
    windows = rules.lead.windows
    root = root_fret(key, neck)
    found = [max(1, fret) for fret in windows.frets]
    for relative in windows.relative:
        frets = (root + relative - 12, root + relative, root + relative + 12)
        found += [max(1, fret) for fret in frets if windows.lowest <= fret <= windows.home_highest]
    return tuple(dict.fromkeys(found))


def role_hands(rules: RuleFile, key: Key, neck: Neck, home: int, count: int) -> dict[str, tuple[int, ...]]:
    """For each role the windows it may take: home, and the nearest of its own places, ``count`` in all."""
    windows = rules.lead.windows
    root = root_fret(key, neck)
    chosen = [home]
    by_role: dict[str, tuple[int, ...]] = {}
    for role in ("climax", "answer", "question", "close"):
        places = windows.by_role.get(role, [])
        frets = {max(1, root + p + shift) for p in places for shift in (-12, 0, 12)}
        usable = sorted(
            (f for f in frets if windows.lowest <= f <= windows.highest), key=lambda f: (abs(f - home), -f)
        )
        for fret in usable:
            if fret not in chosen and len(chosen) < count and 1 < abs(fret - home) <= 5:
                chosen.append(fret)
        by_role[role] = tuple(dict.fromkeys([home, *(f for f in chosen if f in usable)]))
    return by_role


def layouts(
    rules: RuleFile, phrases: Sequence[int], rng: Generator
) -> Iterator[tuple[str, list[tuple[str, TemplateTable]]]]:
    """Schemes with the template of each phrase, in an order drawn by weight."""
    found = []
    for scheme_name, scheme in rules.schemes.items():
        if len(scheme.phrases) != len(phrases):
            continue
        letters = [phrase.split() for phrase in scheme.phrases]
        opening = [(n, t) for n, t in rules.templates.items() if "opening" in t.phrases]
        closing = [(n, t) for n, t in rules.templates.items() if "closing" in t.phrases]
        for first in opening:
            for last in closing:
                templates = [first] * (len(phrases) - 1) + [last]
                if all(len(t.licks) == len(w) for (_, t), w in zip(templates, letters, strict=True)):
                    found.append((scheme.weight * first[1].weight * last[1].weight, scheme_name, templates))
    for _, name, templates in by_weight(found, lambda x: x[0], rng):
        yield name, templates


def make_plan(rules: RuleFile, key: Key, neck: Neck, tempo_bpm: int, rng: Generator) -> Plan:
    """The plan that this random state draws; raises NoPlan when the rule files leave none."""
    form = rules.forms[rules.study.form]
    spans = form_spans(form.bars)
    homes = window_hands(rules, key, neck)
    if not homes:
        raise NoPlan("lead.windows: no place lies between its lowest and highest fret in this key")
    home = homes[by_weight(range(len(homes)), lambda k: HOME_ODDS**k, rng)[0]]
    hands = role_hands(rules, key, neck, home, rules.level.windows)
    where = "schemes: none has as many phrases and licks as the form and the templates"
    for scheme, templates in layouts(rules, form.phrases, rng):
        places = _places(rules, scheme, templates, form.phrases)
        solved = _choose_cells(rules, places, tempo_bpm, rng)
        if solved is None:
            most, fastest = _quickest(rules, tempo_bpm)
            where = (
                f"cells: no figures and tails fit the scheme {scheme!r} at {tempo_bpm} under level.rate "
                f"({most} notes a beat) and hand.rates ({fastest:g} notes a second)"
            )
            continue
        licks = tuple(_lick_plans(rules, places, solved, hands))
        comps = _choose_comping(rules, licks, form.phrases, spans, rng)
        if comps is None:
            where = f"answers: no patterns fit the gaps of the scheme {scheme!r}"
            continue
        bounds, bar = [], 0
        for (name, _), length in zip(templates, form.phrases, strict=True):
            bounds.append((bar, bar + length - 1, name))
            bar += length
        return Plan(spans, tuple(bounds), scheme, home, licks, comps)
    raise NoPlan(where)


def _places(
    rules: RuleFile, scheme: str, templates: list[tuple[str, TemplateTable]], phrases: Sequence[int]
) -> list[_Place]:
    found: list[_Place] = []
    beat = 0
    for number, ((_, template), length) in enumerate(zip(templates, phrases, strict=True)):
        letters = rules.schemes[scheme].phrases[number].split()
        beats = length * BEATS_PER_BAR
        early = templates[number + 1][1].licks[0].early if number + 1 < len(templates) else 0
        begins = [place.beat - place.early for place in template.licks[1:]] + [beats - early]
        for letter, place, following in zip(letters, template.licks, begins, strict=True):
            found.append(_Place(number, letter, place, beat, beat + following))
        beat += beats
    return found


def _cells(rules: RuleFile, table: str) -> list[tuple[str, int, int]]:
    """(pattern, grade, weight) of the cells on the study's grid that the level may use."""
    families = getattr(rules, table).values()
    return [
        (cell, family.grade, family.weight)
        for family in families
        if family.grade <= rules.level.grade and family.grid == rules.study.grid
        for cell in family.cells
    ]


@lru_cache(maxsize=8192)
def _joined(figure: str, tail: str, grid: str, most: int, closest: float) -> tuple[int, int, int] | None:
    """(beats, notes, ticks that sound before the landing) of a whole lick's rhythm.

    None when it does not join, a beat holds more than ``most`` onsets, or two come in less than ``closest`` ticks.
    """
    if tail.startswith("-") and figure.endswith("."):
        return None
    cell = parse_cell(figure + tail, grid)
    beats = [o.tick // TICKS_PER_BEAT for o in cell.onsets]
    if max(beats.count(b) for b in set(beats)) > most:
        return None
    if any(b.tick - a.tick < closest for a, b in pairwise(cell.onsets)):
        return None
    return cell.beats, len(cell.onsets), sum(o.duration for o in cell.onsets if not o.landing)


_Cells = dict[str | int, Any]


def _quickest(rules: RuleFile, tempo_bpm: int) -> tuple[int, float]:
    """The most notes that a beat may hold at a tempo, and the most a second by any technique."""
    most = max(2, round(rules.level.notes_per_second * seconds(TICKS_PER_BEAT, tempo_bpm)))
    hand = rules.hand
    return most, max(hand.plucks_per_s, hand.hammer_ons_per_s, hand.pull_offs_per_s, hand.slides_per_s)


def _choose_cells(rules: RuleFile, places: list[_Place], tempo_bpm: int, rng: Generator) -> _Cells | None:
    """Figures by letter, tails by lick, starts by letter: one solution of the constraint problem, or None."""
    grid, shape = rules.study.grid, rules.lead.shape
    most, fastest = _quickest(rules, tempo_bpm)
    closest = 1 / fastest / seconds(1, tempo_bpm)
    slow = tempo_bpm < SLOW_BPM

    def weight(item: tuple[str, int, int]) -> float:
        cell, grade, w = item
        value = float(w) * (1.8 if grade == rules.level.grade and slow else 1.0)
        value *= 1.5 if cell.startswith(".") else 1.0
        return value * (3.0 if "2" in cell and rules.level.grade == 3 else 1.0)

    def domain(table: str) -> list[str]:
        drawn = by_weight(_cells(rules, table), weight, rng)[:MOST_CELLS]
        return [cell for cell, _, _ in reversed(drawn)]

    tails = [domain("tails") for _ in places]

    def fits(number: int, figure: str, start: int, tail: str) -> bool:
        place = places[number]
        joined = _joined(figure, tail, grid, most, closest)
        if joined is None:
            return False
        beats, notes, sounding = joined
        room = (
            place.limit_beat - (2 if number == len(places) - 1 else 0) - place.phrase_beat - place.place.beat
        )
        low = shape.short_notes if place.place.most_beats <= 3 else shape.notes[0]
        high = shape.close_notes if place.place.role == "close" else shape.notes[1]
        roomy = sounding <= MOST_SOUNDING * place.place.most_beats * TICKS_PER_BEAT
        inside = beats <= place.place.most_beats and start + beats <= room
        return inside and low <= notes <= high and roomy

    problem = constraint.Problem(constraint.BacktrackingSolver())
    bases = list(dict.fromkeys(p.base for p in places))
    for base in bases:
        mine = [n for n, p in enumerate(places) if p.base == base]
        starts = by_weight(list(_starts([places[n] for n in mine])), lambda s: 2.0 if s == 0 else 1.0, rng)
        figures = domain("figures")
        if base == bases[0] and rules.level.grade == 3 and slow:
            figures = [f for f in figures if "2" in f] or figures
        heads = [
            (figure, start)
            for start in reversed(starts)
            for figure in figures
            if all(any(fits(n, figure, start, tail) for tail in tails[n]) for n in mine)
        ]
        if not heads:
            return None
        problem.addVariable(base, sorted(heads, key=lambda h: figures.index(h[0])))
    for number, place in enumerate(places):
        problem.addVariable(number, tails[number])
        problem.addConstraint(
            lambda head, tail, number=number: fits(number, head[0], head[1], tail), [place.base, number]
        )
    for a, b in combinations(bases, 2):
        problem.addConstraint(lambda x, y: x[0] != y[0], [a, b])
    for number in range(len(places) - 1):
        problem.addConstraint(lambda a, b: a != b or a == "L--", [number, number + 1])
    found: _Cells | None = problem.getSolution()
    return found


def _starts(places: list[_Place]) -> range:
    """How many beats early or late the licks of one letter may start, all alike; the study begins at 0."""
    early = min(p.place.early for p in places)
    if any(p.phrase_beat + p.place.beat == 0 for p in places):
        early = 0
    return range(-early, min(p.place.late for p in places) + 1)


def _lick_plans(
    rules: RuleFile, places: list[_Place], cells: _Cells, hands: dict[str, tuple[int, ...]]
) -> Iterator[LickPlan]:
    first_of: dict[str, int] = {}
    letters = [p.letter for p in places]
    for number, place in enumerate(places):
        (figure, late), tail = cells[place.base], cells[number]
        cell = parse_cell(figure + tail, rules.study.grid)
        start = (place.phrase_beat + place.place.beat + late) * TICKS_PER_BEAT
        onsets = tuple(replace(o, tick=o.tick + start) for o in cell.onsets)
        quoted = place.letter.endswith("'")
        quotes = first_of.get(place.base) if quoted else None
        first_of.setdefault(place.base, number)
        yield LickPlan(
            number,
            place.phrase,
            place.letter,
            place.place.role,
            figure,
            tail,
            onsets,
            len(parse_cell(figure, rules.study.grid).onsets),
            hands[place.place.role],
            quotes,
            letters.index(place.letter) == number and place.letter + "'" in letters and not quoted,
        )


def _choose_comping(
    rules: RuleFile,
    licks: tuple[LickPlan, ...],
    phrases: Sequence[int],
    form: tuple[ChordSpan, ...],
    rng: Generator,
) -> tuple[CompPlan, ...] | None:
    """A pattern for each gap between licks and an ending for the last, by constraints; None when none fit."""
    step, grid = GRIDS[rules.study.grid], rules.study.grid
    total = sum(phrases) * TICKS_PER_BAR
    changes = {a.onset for b, a in pairwise(form) if b.roman != a.roman}
    gaps = list(_gaps(licks, phrases, total))
    problem = constraint.Problem(constraint.BacktrackingSolver())
    for k, (_, start, end, final) in enumerate(gaps):
        beats = (end - start) // TICKS_PER_BEAT
        if final:
            options = [
                (name, e.pattern, tuple(e.chords), e.weight)
                for name, e in rules.endings.items()
                if e.beats == min(beats, 4)
                and e.grid == grid
                and e.minor == rules.study.minor
                and e.grade <= rules.level.comping_grade
            ]
        else:
            leading = end % TICKS_PER_BAR == 0 and end in changes
            options = [
                (name, p, (), f.weight * (2 if f.place == "before a change" else 1) * _opening(start, p))
                for name, f in rules.answers.items()
                if f.beats == min(beats, 5)
                and f.grid == grid
                and f.grade <= rules.level.comping_grade
                and (f.place == "anywhere" or (f.place == "before a change") == leading)
                for p in f.patterns
                if leading or not set(p) & set("LW")
            ]
        if not options:
            return None
        order = by_weight(options, lambda o: float(o[3]), rng)
        problem.addVariable(k, [(n, p, c) for n, p, c, _ in reversed(order)])
    most = rules.comping.same_pattern

    def varied(*values: tuple[str, str, tuple[str, ...]]) -> bool:
        patterns = [p for _, p, _ in values if len(p) * step > TICKS_PER_BEAT]
        return all(patterns.count(p) <= most for p in patterns)

    problem.addConstraint(varied, list(range(len(gaps))))
    for signs, least in (("B", rules.comping.least_bass), ("ATSHLW", rules.comping.least_moving)):

        def heard(*values: tuple[str, str, tuple[str, ...]], signs: str = signs, least: int = least) -> bool:
            return sum(any(sign in p for sign in signs) for _, p, _ in values) >= least

        problem.addConstraint(heard, list(range(len(gaps))))
    problem.addConstraint(lambda *values: sum("W" in p for _, p, _ in values) <= 1, list(range(len(gaps))))
    for k in range(len(gaps) - 1):
        problem.addConstraint(lambda a, b: a[1] != b[1] or len(a[1]) * step <= TICKS_PER_BEAT, [k, k + 1])
    found = problem.getSolution()
    if found is None:
        return None
    comps = []
    for k, (phrase, _, end, _) in enumerate(gaps):
        name, pattern, chords = found[k]
        comps.append(CompPlan(phrase, end - len(pattern) * step, pattern, name, chords))
    return (*comps, *_under_licks(rules, licks, rng))


def _opening(start: int, pattern: str) -> int:
    """An answer that begins on a bar's first beat begins with the root or a grip more often than late."""
    return 4 if start % TICKS_PER_BAR == 0 and pattern[0] == "B" else 2 if pattern[0] in "BC" else 1


def _under_licks(rules: RuleFile, licks: tuple[LickPlan, ...], rng: Generator) -> Iterator[CompPlan]:
    """The root under the beat in which a lick starts late, for as long as the lick is silent."""
    step = GRIDS[rules.study.grid]
    for lick in licks:
        silent = lick.start % TICKS_PER_BEAT // step
        first = lick.start - lick.start % TICKS_PER_BEAT
        if silent and first % (2 * TICKS_PER_BEAT) == 0 and rng.random() < rules.comping.bass_under_lick:
            yield CompPlan(lick.phrase, first, "B" + "-" * (silent - 1), UNDER_A_LICK)


def _gaps(
    licks: tuple[LickPlan, ...], phrases: Sequence[int], total: int
) -> Iterator[tuple[int, int, int, bool]]:
    """(phrase, start, end, final) of what the licks leave free, in whole beats."""
    ends, tick = [], 0
    for length in phrases:
        tick += length * TICKS_PER_BAR
        ends.append(tick)
    at = 0
    for lick in (*licks, None):
        begin = total if lick is None else lick.start - lick.start % TICKS_PER_BEAT
        if begin > at:
            phrase = next(k for k, end in enumerate(ends) if at < end)
            yield phrase, at, begin, lick is None
        if lick is not None:
            at = -(-lick.end // TICKS_PER_BEAT) * TICKS_PER_BEAT
