"""The plan of a study: which form, phrases and scheme, which rhythm in which slot, which answer in which gap.

A layout (templates and scheme) is taken first; the cells are then a constraint problem of its own, whose
values are tried in an order that the seed draws by weight: the first solution is the plan. It says nothing of touches
and grips, which the chain chooses.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import chain, combinations, islice, pairwise
from typing import NamedTuple, TypeAlias

import constraint
from numpy.random import Generator

from lickwright.guitar.neck import Neck
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.licks import LickMaker
from lickwright.solver.plan.answers import choose_comping
from lickwright.solver.plan.layout import (
    CompPlan,
    LayoutPlace,
    LickPlan,
    NoPlan,
    Plan,
    by_weight,
    form_spans,
    home_positions,
    layouts,
    lick_places,
    role_positions,
)
from lickwright.solver.plan.playable import Playable
from lickwright.solver.plan.storyline import Ground, told
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BEAT, parse_cell, seconds, shared_gaps

#: Layouts tried for written licks before free ones are drawn.
MOST_LAYOUTS = 12
#: Cells tried for one variable: enough for variety, few enough for the search to stay short.
MOST_CELLS = 24
#: Choices of figures to look through for one whose tails go together.
MOST_HEADS = 40
#: Ways home so short that two licks running may have them.
SHORTEST_TAILS = frozenset({"L--", "L-"})
#: Gaps between onsets that a way home has in common with its figure, so that it can take it up.
KIN_GAPS = 2


def make_plan(
    rules: RuleFile,
    key: Key,
    neck: Neck,
    tempo_bpm: int,
    rng: Generator,
    playable: Playable | None = None,
    maker: LickMaker | None = None,
) -> Plan:
    """The plan that this random state draws; raises NoPlan when the rule files leave none.

    With a ``maker`` to say what can be fingered the licks are written ones, as often as the style says.
    """
    names = rules.study.form
    form = rules.forms[names[int(rng.integers(len(names)))]]
    spans = form_spans(form.bars)
    homes = home_positions(rules, key, neck)
    if not homes:
        raise NoPlan("lead.windows: no place lies between its lowest and highest fret in this key")
    home = homes[by_weight(range(len(homes)), lambda k: rules.layout.home_odds**k, rng)[0]]
    positions = role_positions(rules, key, neck, home, rules.level.windows)
    where = "schemes: none has as many phrases and licks as the form and the templates"
    from_written = maker is not None and rules.lick and 0 < rules.lead.written > rng.random()
    tried = islice(layouts(rules, form.phrases, rng), MOST_LAYOUTS if from_written else 0)
    ways = chain(((x, maker) for x in tried), ((x, None) for x in layouts(rules, form.phrases, rng)))
    for (scheme, templates), source in ways:
        places = lick_places(rules, scheme, templates, form.phrases)
        if source is not None:
            here = source.for_form(spans)
            most = note_limits(rules, tempo_bpm).per_beat
            ground = Ground(source.lead, places, spans, home, most, tempo_bpm)
            licks = told(ground, rng, here.possible)
            if licks is None:
                continue
        else:
            cells = _choose_cells(rules, places, tempo_bpm, rng)
            if cells is None:
                limits = note_limits(rules, tempo_bpm)
                where = (
                    f"cells: no figures and tails fit the scheme {scheme!r} at {tempo_bpm} under level.rate "
                    f"({limits.per_beat} notes a beat) and hand.rates ({limits.per_second:g} notes a second)"
                )
                continue
            licks = tuple(_lick_plans(rules, places, cells, positions))
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


def usable_cells(rules: RuleFile, table: str) -> list[tuple[str, int, int]]:
    """(pattern, grade, weight) of the cells on the study's grid that the level may use."""
    study = rules.study
    return [
        (cell, family.grade, family.weight)
        for family in getattr(rules, table).values()
        if family.weight
        and family.grade <= rules.level.grade
        and family.grid == study.grid
        and (not family.feels or study.feel in family.feels)
        for cell in family.cells
    ]


class NoteLimits(NamedTuple):
    """The most notes that a beat may hold, the most a second by any technique, and the ticks from note to note then."""

    per_beat: int
    per_second: float
    least_ticks: float


def note_limits(rules: RuleFile, tempo_bpm: int) -> NoteLimits:
    """What ``level.notes_per_second`` and ``hand.rates`` allow at a tempo; two notes a beat are always allowed."""
    per_beat = max(2, round(rules.level.notes_per_second * seconds(TICKS_PER_BEAT, tempo_bpm)))
    hand = rules.hand
    fastest = max(hand.plucks_per_s, hand.hammer_ons_per_s, hand.pull_offs_per_s, hand.slides_per_s)
    return NoteLimits(per_beat, fastest, 1 / fastest / seconds(1, tempo_bpm))


class RhythmSize(NamedTuple):
    """How long a lick's rhythm is in whole beats, how many notes it has, and how many ticks sound before its landing."""

    beats: int
    notes: int
    sounding_ticks: int


@lru_cache(maxsize=65536)
def rhythm_size(figure: str, tail: str, grid: str, limits: NoteLimits) -> RhythmSize | None:
    """The size of a figure's cell followed by a tail's; None when they do not join, or are too fast for the limits."""
    if tail.startswith("-") and figure.endswith("."):
        return None
    cell = parse_cell(figure + tail, grid)
    beats = [o.tick // TICKS_PER_BEAT for o in cell.onsets]
    if max(beats.count(b) for b in set(beats)) > limits.per_beat:
        return None
    if any(b.tick - a.tick < limits.least_ticks for a, b in pairwise(cell.onsets)):
        return None
    return RhythmSize(cell.beats, len(cell.onsets), sum(o.duration for o in cell.onsets if not o.landing))


@lru_cache(maxsize=65536)
def _kin(figure: str, tail: str, grid: str, short: bool) -> bool:
    """True when the way home takes up the figure's rhythm, or the figure (a ``short`` lick's home) is too short."""
    whole, head = parse_cell(figure + tail, grid).onsets, parse_cell(figure, grid).onsets
    n = len(head)
    if n < KIN_GAPS + 1 or len(whole) - n < KIN_GAPS + 1:
        return short or n < KIN_GAPS + 1
    ticks = [o.tick for o in whole]
    return shared_gaps(ticks[:n], ticks[n:])[2] >= KIN_GAPS


def _notes_of(rules: RuleFile, place: LayoutPlace) -> tuple[int, int]:
    """The least and the most notes of a place's lick."""
    shape, layout, beats = rules.lead.shape, rules.layout, place.template.most_beats
    low = shape.short_notes if beats <= layout.short_place_beats else shape.notes[0]
    if place.template.role == "close":
        return low, shape.close_notes
    return low, shape.long_notes if beats >= layout.long_place_beats else shape.notes[1]


#: A cell with its grade and its weight.
_Cell: TypeAlias = tuple[str, int, int]
#: A figure, and by how many beats the licks of its letter start late (early when negative).
_Head: TypeAlias = tuple[str, int]
#: For each figure the ways home that go with it in a place, and by how many beats the lick could start late then.
_WaysHome: TypeAlias = dict[str, list[tuple[str, int]]]


class _LickCells(NamedTuple):
    """What was chosen: a head for each letter, and a way home for each lick."""

    heads: dict[str, _Head]
    tails: list[str]


def _choose_cells(
    rules: RuleFile, places: list[LayoutPlace], tempo_bpm: int, rng: Generator
) -> _LickCells | None:
    """One solution of the constraint problem over figures, ways home and starts, or None.

    Some licks are asked for a way home akin to the figure; when that leaves none, nobody is.
    """
    akin = {n for n in range(len(places)) if rng.random() < rules.layout.kin}
    return _solve_cells(rules, places, tempo_bpm, akin, rng) or (
        _solve_cells(rules, places, tempo_bpm, set(), rng) if akin else None
    )


def _solve_cells(
    rules: RuleFile, places: list[LayoutPlace], tempo_bpm: int, akin: set[int], rng: Generator
) -> _LickCells | None:
    """Heads by backtracking over the letters; for each solution the ways home by a chain over the licks."""
    slow = tempo_bpm < rules.layout.slow_bpm
    tails = [_drawn_cells(rules, "tails", slow, rng) for _ in places]
    figures = _drawn_cells(rules, "figures", slow, rng)
    limits = note_limits(rules, tempo_bpm)
    ways_home = [
        _ways_home(rules, place, figures, tails[n], limits, n in akin, n == len(places) - 1)
        for n, place in enumerate(places)
    ]
    for heads in islice(_heads(rules, places, figures, ways_home, slow, rng), MOST_HEADS):
        fitting = []
        for n, place in enumerate(places):
            figure, start = heads[place.base]
            fitting.append([tail for tail, spare in ways_home[n][figure] if start <= spare])
        own_tails = _in_turn(fitting)
        if own_tails is not None:
            return _LickCells(heads, own_tails)
    return None


def _drawn_cells(rules: RuleFile, table: str, slow: bool, rng: Generator) -> list[str]:
    """Up to MOST_CELLS cells of a table in an order drawn by weight, the first choice last."""
    layout, grade = rules.layout, rules.level.grade

    def weight(cell: _Cell) -> float:
        pattern, cell_grade, weight = cell
        value = float(weight) * (layout.own_grade_when_slow if cell_grade == grade and slow else 1.0)
        value *= layout.off_beat if pattern.startswith(".") else 1.0
        value *= layout.sixteenths if "2" in pattern and grade >= layout.sixteenths_grade else 1.0
        if table == "figures" and len(parse_cell(pattern, rules.study.grid).onsets) <= KIN_GAPS:
            value *= layout.short_figure
        return value

    drawn = by_weight(usable_cells(rules, table), weight, rng)[:MOST_CELLS]
    return [pattern for pattern, _, _ in reversed(drawn)]


def _heads(
    rules: RuleFile,
    places: list[LayoutPlace],
    figures: list[str],
    ways_home: list[_WaysHome],
    slow: bool,
    rng: Generator,
) -> Iterator[dict[str, _Head]]:
    """A head for each letter, no figure twice: solutions in an order that the seed draws; none when a letter has none."""
    layout = rules.layout
    sixteenths_first = slow and layout.sixteenths_first and rules.level.grade >= layout.sixteenths_grade
    problem = constraint.Problem(constraint.BacktrackingSolver())
    bases = list(dict.fromkeys(place.base for place in places))
    for base in bases:
        own = [n for n, place in enumerate(places) if place.base == base]
        starts = by_weight(
            list(_starts([places[n] for n in own])), lambda s: layout.on_time if s == 0 else 1.0, rng
        )
        mixed = [figures[k] for k in rng.permutation(len(figures))]
        if base == bases[0] and sixteenths_first:
            mixed = [figure for figure in mixed if "2" in figure] or mixed
        domain = [
            (figure, start)
            for figure in mixed
            for start in reversed(starts)
            if all(any(start <= spare for _, spare in ways_home[n][figure]) for n in own)
        ]
        if not domain:
            return
        problem.addVariable(base, domain)
    for a, b in combinations(bases, 2):
        problem.addConstraint(lambda x, y: x[0] != y[0], [a, b])
    yield from problem.getSolutionIter()


def _ways_home(
    rules: RuleFile,
    place: LayoutPlace,
    figures: list[str],
    tails: list[str],
    limits: NoteLimits,
    akin: bool,
    last: bool,
) -> _WaysHome:
    """The ways home that fit a place with each figure; ``last`` is the place that leaves two beats for the ending."""
    grid, most_beats = rules.study.grid, place.template.most_beats
    short = most_beats <= rules.layout.short_place_beats
    room = (
        place.limit_beat
        - (rules.layout.ending_beats if last else 0)
        - place.phrase_beat
        - place.template.beat
    )
    low, high = _notes_of(rules, place)
    most_ticks = rules.layout.most_sounding * most_beats * TICKS_PER_BEAT
    ways: _WaysHome = {figure: [] for figure in figures}
    for figure in figures:
        for tail in reversed(tails):
            size = rhythm_size(figure, tail, grid, limits)
            if size is None:
                continue
            fits = place.template.least_beats <= size.beats <= most_beats and low <= size.notes <= high
            fits = fits and size.sounding_ticks <= most_ticks
            if fits and (not akin or _kin(figure, tail, grid, short)):
                ways[figure].append((tail, room - size.beats))
    return ways


def _in_turn(choices: Sequence[Sequence[str]]) -> list[str] | None:
    """One item of each list, the earliest that leave a solution, no two neighbours equal unless among the SHORTEST_TAILS.

    None when there is no solution. Cost: O(items), one backward pass.
    """
    after: list[dict[str, str | None]] = [{}]
    for here in reversed(choices):
        follows = after[0]
        row: dict[str, str | None] = {}
        for this in here:
            onward = next((t for t in follows if t != this or t in SHORTEST_TAILS), None)
            if onward is not None or len(after) == 1:
                row[this] = onward
        after.insert(0, row)
    tails: list[str] = []
    tail: str | None = next(iter(after[0]), None)
    for row in after[:-1]:
        if tail is None:
            return None
        tails.append(tail)
        tail = row[tail]
    return tails


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
        kind = by_weight(kinds, lambda k: layout.landings[k], rng)[0] if lick.mask is None else "written"
        following = next(tick for tick in starts if tick > last.tick)
        longest = min(following - last.tick, int(layout.longest_landing_beats * TICKS_PER_BEAT))
        change = next((tick for tick in changes if tick > last.tick + step), following)
        longest = min(longest, change - last.tick)
        length = {"written": last.duration, "to the answer": longest, "short": step}[kind]
        if kind == "short" and (lick.role == "close" or len(lick.onsets) < layout.short_landing_notes):
            length = last.duration
        yield replace(lick, onsets=(*lick.onsets[:-1], replace(last, duration=min(length, longest))))


def _starts(places: list[LayoutPlace]) -> range:
    """How many beats early or late the licks of one letter may start, all alike; the study begins at 0."""
    early = min(p.template.early for p in places)
    if any(p.phrase_beat + p.template.beat == 0 for p in places):
        early = 0
    return range(-early, min(p.template.late for p in places) + 1)


def _lick_plans(
    rules: RuleFile, places: list[LayoutPlace], cells: _LickCells, positions: dict[str, tuple[int, ...]]
) -> Iterator[LickPlan]:
    first_of: dict[str, int] = {}
    letters = [p.letter for p in places]
    for number, place in enumerate(places):
        (figure, late), tail = cells.heads[place.base], cells.tails[number]
        cell = parse_cell(figure + tail, rules.study.grid)
        start = (place.phrase_beat + place.template.beat + late) * TICKS_PER_BEAT
        onsets = tuple(replace(o, tick=o.tick + start) for o in cell.onsets)
        quoted = place.letter.endswith("'")
        quotes = first_of.get(place.base) if quoted else None
        first_of.setdefault(place.base, number)
        yield LickPlan(
            number,
            place.phrase,
            place.letter,
            place.template.role,
            figure,
            tail,
            onsets,
            len(parse_cell(figure, rules.study.grid).onsets),
            positions[place.template.role],
            quotes,
            letters.index(place.letter) == number and place.letter + "'" in letters and not quoted,
        )
