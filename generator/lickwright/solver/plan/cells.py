"""The plan of a study: which form, phrases and scheme, which rhythm in which slot, which answer in which gap.

A layout (templates and scheme) is taken first; the cells are then a constraint problem of its own, whose
values are tried in an order that the seed draws by weight: the first solution is the plan. Windows, touches
and grips are left to the chain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations, islice, pairwise
from typing import Any

import constraint
from numpy.random import Generator

from lickwright.guitar.neck import Neck
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.plan.answers import choose_comping
from lickwright.solver.plan.layout import (
    CompPlan,
    LickPlan,
    NoPlan,
    Place,
    Plan,
    by_weight,
    form_spans,
    layouts,
    lick_places,
    role_hands,
    window_hands,
)
from lickwright.solver.plan.playable import Playable
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BEAT, parse_cell, seconds, shared_gaps

#: Cells tried for one variable: enough for variety, few enough for the search to stay short.
MOST_CELLS = 24
#: A place this long holds a long breath: more notes than a lick has otherwise.
LONG_BEATS = 7
#: Choices of figures to look through for one whose tails go together.
MOST_HEADS = 40
#: Ways home so short that two licks running may have them.
SHORTEST_TAILS = frozenset({"L--", "L-"})
#: Gaps between onsets that a way home has in common with its figure, so that it can take it up.
KIN_GAPS = 2


def make_plan(
    rules: RuleFile, key: Key, neck: Neck, tempo_bpm: int, rng: Generator, playable: Playable | None = None
) -> Plan:
    """The plan that this random state draws; raises NoPlan when the rule files leave none."""
    names = rules.study.form
    form = rules.forms[names[int(rng.integers(len(names)))]]
    spans = form_spans(form.bars)
    homes = window_hands(rules, key, neck)
    if not homes:
        raise NoPlan("lead.windows: no place lies between its lowest and highest fret in this key")
    home = homes[by_weight(range(len(homes)), lambda k: rules.layout.home_odds**k, rng)[0]]
    hands = role_hands(rules, key, neck, home, rules.level.windows)
    where = "schemes: none has as many phrases and licks as the form and the templates"
    for scheme, templates in layouts(rules, form.phrases, rng):
        places = lick_places(rules, scheme, templates, form.phrases)
        solved = _choose_cells(rules, places, tempo_bpm, rng)
        if solved is None:
            most, fastest = _quickest(rules, tempo_bpm)
            where = (
                f"cells: no figures and tails fit the scheme {scheme!r} at {tempo_bpm} under level.rate "
                f"({most} notes a beat) and hand.rates ({fastest:g} notes a second)"
            )
            continue
        licks = tuple(_lick_plans(rules, places, solved, hands))
        kinds = [rules.schemes[scheme].kind(n) for n in range(len(form.phrases))]
        comps = choose_comping(
            rules, licks, list(zip(form.phrases, kinds, strict=True)), spans, rng, playable
        )
        if comps is None:
            where = f"answers: no patterns fit the gaps of the scheme {scheme!r}"
            continue
        licks = tuple(_landed(rules, licks, comps, spans, rng))
        bounds, bar = [], 0
        for (name, _), length in zip(templates, form.phrases, strict=True):
            bounds.append((bar, bar + length - 1, name))
            bar += length
        return Plan(spans, tuple(bounds), scheme, home, licks, comps)
    raise NoPlan(where)


def _cells(rules: RuleFile, table: str) -> list[tuple[str, int, int]]:
    """(pattern, grade, weight) of the cells on the study's grid that the level may use."""
    study = rules.study
    return [
        (cell, family.grade, family.weight)
        for family in getattr(rules, table).values()
        if family.grade <= rules.level.grade
        and family.grid == study.grid
        and (not family.feels or study.feel in family.feels)
        for cell in family.cells
    ]


@lru_cache(maxsize=65536)
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


@lru_cache(maxsize=65536)
def _kin(figure: str, tail: str, grid: str, short: bool) -> bool:
    """True when the way home takes up the figure's rhythm, or the figure (a ``short`` lick's home) is too short."""
    whole, head = parse_cell(figure + tail, grid).onsets, parse_cell(figure, grid).onsets
    n = len(head)
    if n < KIN_GAPS + 1 or len(whole) - n < KIN_GAPS + 1:
        return short or n < KIN_GAPS + 1
    ticks = [o.tick for o in whole]
    return shared_gaps(ticks[:n], ticks[n:])[2] >= KIN_GAPS


_Cells = dict[str | int, Any]


def _quickest(rules: RuleFile, tempo_bpm: int) -> tuple[int, float]:
    """The most notes that a beat may hold at a tempo, and the most a second by any technique."""
    most = max(2, round(rules.level.notes_per_second * seconds(TICKS_PER_BEAT, tempo_bpm)))
    hand = rules.hand
    return most, max(hand.plucks_per_s, hand.hammer_ons_per_s, hand.pull_offs_per_s, hand.slides_per_s)


def _notes_of(rules: RuleFile, place: Place) -> tuple[int, int]:
    """The least and the most notes of a place's lick."""
    shape = rules.lead.shape
    low = shape.short_notes if place.place.most_beats <= 3 else shape.notes[0]
    if place.place.role == "close":
        return low, shape.close_notes
    return low, shape.long_notes if place.place.most_beats >= LONG_BEATS else shape.notes[1]


def _choose_cells(rules: RuleFile, places: list[Place], tempo_bpm: int, rng: Generator) -> _Cells | None:
    """Figures by letter, tails by lick, starts by letter: one solution of the constraint problem, or None.

    Some licks are asked for a way home akin to the figure; when that leaves none, nobody is.
    """
    akin = {n for n in range(len(places)) if rng.random() < rules.layout.kin}
    return _solve_cells(rules, places, tempo_bpm, akin, rng) or (
        _solve_cells(rules, places, tempo_bpm, set(), rng) if akin else None
    )


def _solve_cells(
    rules: RuleFile, places: list[Place], tempo_bpm: int, akin: set[int], rng: Generator
) -> _Cells | None:
    layout = rules.layout
    most, fastest = _quickest(rules, tempo_bpm)
    closest = 1 / fastest / seconds(1, tempo_bpm)
    slow = tempo_bpm < layout.slow_bpm

    def weight(item: tuple[str, int, int]) -> float:
        cell, grade, w = item
        value = float(w) * (layout.own_grade_when_slow if grade == rules.level.grade and slow else 1.0)
        value *= layout.off_beat if cell.startswith(".") else 1.0
        return value * (layout.sixteenths if "2" in cell and rules.level.grade == 3 else 1.0)

    def figure_weight(item: tuple[str, int, int]) -> float:
        onsets = len(parse_cell(item[0], rules.study.grid).onsets)
        return weight(item) * (layout.short_figure if onsets <= KIN_GAPS else 1.0)

    def domain(table: str, weigh: Callable[[tuple[str, int, int]], float]) -> list[str]:
        drawn = by_weight(_cells(rules, table), weigh, rng)[:MOST_CELLS]
        return [cell for cell, _, _ in reversed(drawn)]

    tails = [domain("tails", weight) for _ in places]
    figures = domain("figures", figure_weight)

    ways = [
        _ways(rules, place, figures, tails[n], (most, closest), n in akin, n == len(places) - 1)
        for n, place in enumerate(places)
    ]

    problem = constraint.Problem(constraint.BacktrackingSolver())
    bases = list(dict.fromkeys(p.base for p in places))
    for base in bases:
        mine = [n for n, p in enumerate(places) if p.base == base]
        starts = by_weight(list(_starts([places[n] for n in mine])), lambda s: 2.0 if s == 0 else 1.0, rng)
        mixed = [figures[k] for k in rng.permutation(len(figures))]
        if base == bases[0] and rules.level.grade == 3 and slow:
            mixed = [f for f in mixed if "2" in f] or mixed
        heads = [
            (figure, start)
            for figure in mixed
            for start in reversed(starts)
            if all(any(start <= spare for _, spare in ways[n][figure]) for n in mine)
        ]
        if not heads:
            return None
        problem.addVariable(base, heads)
    for a, b in combinations(bases, 2):
        problem.addConstraint(lambda x, y: x[0] != y[0], [a, b])
    for head in islice(problem.getSolutionIter(), MOST_HEADS):
        fitting = []
        for n, place in enumerate(places):
            figure, start = head[place.base]
            fitting.append([tail for tail, spare in ways[n][figure] if start <= spare])
        chosen = _in_turn(fitting)
        if chosen is not None:
            return {**head, **dict(enumerate(chosen))}
    return None


def _ways(
    rules: RuleFile,
    place: Place,
    figures: list[str],
    tails: list[str],
    quickest: tuple[int, float],
    akin: bool,
    last: bool,
) -> dict[str, list[tuple[str, int]]]:
    """For each figure the ways home that fit the place, and by how many beats each could start late."""
    grid, most_beats = rules.study.grid, place.place.most_beats
    room = place.limit_beat - (2 if last else 0) - place.phrase_beat - place.place.beat
    low, high = _notes_of(rules, place)
    sounds = rules.layout.most_sounding * most_beats * TICKS_PER_BEAT
    found: dict[str, list[tuple[str, int]]] = {figure: [] for figure in figures}
    for figure in figures:
        for tail in reversed(tails):
            joined = _joined(figure, tail, grid, *quickest)
            if joined is None:
                continue
            beats, notes, sounding = joined
            fits = place.place.least_beats <= beats <= most_beats and low <= notes <= high
            if fits and sounding <= sounds and (not akin or _kin(figure, tail, grid, most_beats <= 3)):
                found[figure].append((tail, room - beats))
    return found


def _in_turn(choices: Sequence[Sequence[str]]) -> list[str] | None:
    """One of each in order, the first ones rather, none the same as its neighbour; None when that cannot be."""
    after: list[dict[str, str | None]] = [{}]
    for here in reversed(choices):
        follows = after[0]
        row: dict[str, str | None] = {}
        for this in here:
            onward = next((t for t in follows if t != this or t in SHORTEST_TAILS), None)
            if onward is not None or len(after) == 1:
                row[this] = onward
        after.insert(0, row)
    chosen: list[str] = []
    tail: str | None = next(iter(after[0]), None)
    for row in after[:-1]:
        if tail is None:
            return None
        chosen.append(tail)
        tail = row[tail]
    return chosen


def _landed(
    rules: RuleFile,
    licks: tuple[LickPlan, ...],
    comps: tuple[CompPlan, ...],
    form: tuple[ChordSpan, ...],
    rng: Generator,
) -> Iterator[LickPlan]:
    """The licks with their last notes as long as is drawn: as written, on to what follows, or short.

    None is held into another chord, unless it is struck so late that it belongs to that one.
    """
    step, layout = GRIDS[rules.study.grid], rules.layout
    struck = [
        comp.start + i * step for comp in comps for i, sign in enumerate(comp.pattern) if sign not in "-."
    ]
    starts = sorted([*struck, *(lick.start for lick in licks), form[-1].onset + form[-1].duration])
    changes = [span.onset for before, span in pairwise(form) if span.roman != before.roman]
    kinds = sorted(layout.landings)
    for lick in licks:
        last = lick.onsets[-1]
        kind = by_weight(kinds, lambda k: layout.landings[k], rng)[0]
        following = next(tick for tick in starts if tick > last.tick)
        longest = min(following - last.tick, int(layout.longest_landing_beats * TICKS_PER_BEAT))
        change = next((tick for tick in changes if tick > last.tick + step), following)
        longest = min(longest, change - last.tick)
        length = {"written": last.duration, "to the answer": longest, "short": step}[kind]
        if kind == "short" and (lick.role == "close" or len(lick.onsets) < 5):
            length = last.duration
        yield replace(lick, onsets=(*lick.onsets[:-1], replace(last, duration=min(length, longest))))


def _starts(places: list[Place]) -> range:
    """How many beats early or late the licks of one letter may start, all alike; the study begins at 0."""
    early = min(p.place.early for p in places)
    if any(p.phrase_beat + p.place.beat == 0 for p in places):
        early = 0
    return range(-early, min(p.place.late for p in places) + 1)


def _lick_plans(
    rules: RuleFile, places: list[Place], cells: _Cells, hands: dict[str, tuple[int, ...]]
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
