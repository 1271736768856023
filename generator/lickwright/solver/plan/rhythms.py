"""Fresh rhythms for some licks of a plan, in the room the old ones had, so that what stands around them stays.

Figures belong to a letter: they change only when every lick of that letter does. Ways home change one by one.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from numpy.random import Generator

from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.licks import LickMaker
from lickwright.solver.plan.answers import choose_comping
from lickwright.solver.plan.cells import note_limits, rhythm_size, usable_cells
from lickwright.solver.plan.layout import LickPlan, NoPlan, Plan, by_weight
from lickwright.solver.plan.playable import Playable
from lickwright.solver.plan.storyline import retold
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT, parse_cell


def renewed(
    plan: Plan,
    rules: RuleFile,
    tempo_bpm: int,
    numbers: Collection[int],
    rng: Generator,
    maker: LickMaker | None = None,
) -> Plan:
    """The plan with other cells for the licks of these numbers; one for which no other fits keeps its own.

    Written licks are said by other written ones where a ``maker`` says that those can be fingered; one without is free
    in its own rhythm.
    """
    licks = list(plan.licks)
    names = {**rules.lick, **rules.pair}
    if maker is not None and any(lick.figure in names for lick in licks):
        end = plan.form[-1].onset + plan.form[-1].duration
        possible = maker.for_form(plan.form).possible
        licks = list(retold(maker.lead, licks, numbers, end, tempo_bpm, rng, possible))
    numbers = {n for n in numbers if licks[n].figure not in names}
    figures: dict[str, str] = {}
    for letter in dict.fromkeys(lick.base for lick in licks):
        family = [lick for lick in licks if lick.base == letter]
        if all(lick.number in numbers for lick in family):
            new = _figure(family, rules, tempo_bpm, rng)
            if new is not None:
                figures[letter] = new
    for n, lick in enumerate(licks):
        if lick.number in numbers:
            figure = figures.get(lick.base, lick.figure)
            licks[n] = _with(lick, figure, _tail(lick, figure, rules, tempo_bpm, rng) or lick.tail, rules)
    return replace(plan, licks=tuple(licks))


def with_rhythm(
    plan: Plan,
    rules: RuleFile,
    tempo_bpm: int,
    number: int,
    cells: tuple[str, str],
    beats: int,
    rng: Generator,
    playable: Playable | None = None,
) -> Plan:
    """The plan with a given rhythm (figure, way home) for one lick, its figure for those of its letter, comping anew.

    The rhythm begins ``beats`` after the start of the lick's bar. Raises NoPlan where it does not fit.
    """
    (figure, tail), licks = cells, list(plan.licks)
    own = licks[number]
    begin = own.start - own.start % TICKS_PER_BAR + beats * TICKS_PER_BEAT
    licks[number] = _with(own, figure, tail, rules, begin)
    for n, lick in enumerate(licks):
        if n != number and lick.base == own.base:
            onward = _tail(lick, figure, rules, tempo_bpm, rng)
            if onward is None:
                raise NoPlan(f"no way home fits the lick's figure in bar {lick.start // TICKS_PER_BAR + 1}")
            licks[n] = _with(lick, figure, onward, rules)
    total = plan.form[-1].onset + plan.form[-1].duration
    rooms = [
        *(following.start for following in licks[1:]),
        total - rules.layout.ending_beats * TICKS_PER_BEAT,
    ]
    for lick, room in zip(licks, rooms, strict=True):
        if lick.end > room:
            raise NoPlan(f"the lick is too long for its place in bar {lick.start // TICKS_PER_BAR + 1}")
    anew = answered(replace(plan, licks=tuple(licks)), rules, rng, playable)
    if anew is None:
        raise NoPlan("answers: no patterns fit round the lick")
    return anew


def answered(plan: Plan, rules: RuleFile, rng: Generator, playable: Playable | None = None) -> Plan | None:
    """The plan with other comping between its licks; None where none fits or the rule files know its scheme no more."""
    scheme = rules.schemes.get(plan.scheme)
    if scheme is None:
        return None
    kinds = [(last - first + 1, scheme.kind(n)) for n, (first, last, _) in enumerate(plan.phrases)]
    comps = choose_comping(rules, plan.licks, kinds, plan.form, rng, playable)
    return None if comps is None else replace(plan, comps=comps)


def _beats(lick: LickPlan) -> int:
    """The whole beats from the one on which its figure's cell begins to the end of its landing."""
    return -(-(lick.end - _begin(lick)) // TICKS_PER_BEAT)


def _begin(lick: LickPlan) -> int:
    return lick.start - lick.start % TICKS_PER_BEAT


def _room(lick: LickPlan, figure: str, tail: str, rules: RuleFile, tempo_bpm: int) -> bool:
    """True when a rhythm fits where the lick stands."""
    size = rhythm_size(figure, tail, rules.study.grid, note_limits(rules, tempo_bpm))
    if size is None:
        return False
    shape = rules.lead.shape
    low = shape.short_notes if _beats(lick) <= rules.layout.short_place_beats else shape.notes[0]
    high = shape.close_notes if lick.role == "close" else shape.notes[1]
    return size.beats <= _beats(lick) and low <= size.notes <= high


def _silent(figure: str, rules: RuleFile) -> int:
    """Whole beats of silence with which a figure begins."""
    return parse_cell(figure, rules.study.grid).onsets[0].tick // TICKS_PER_BEAT


def _figure(family: list[LickPlan], rules: RuleFile, tempo_bpm: int, rng: Generator) -> str | None:
    """Another figure with which every lick of a letter has a way home."""
    tails = [tail for tail, _, _ in usable_cells(rules, "tails")]
    drawn = by_weight(usable_cells(rules, "figures"), lambda x: float(x[2]), rng)
    for figure, _, _ in drawn:
        if figure != family[0].figure and not _silent(figure, rules):
            room = (any(_room(lick, figure, tail, rules, tempo_bpm) for tail in tails) for lick in family)
            if all(room):
                return figure
    return None


def _tail(lick: LickPlan, figure: str, rules: RuleFile, tempo_bpm: int, rng: Generator) -> str | None:
    for tail, _, _ in by_weight(usable_cells(rules, "tails"), lambda x: float(x[2]), rng):
        if (figure, tail) != (lick.figure, lick.tail) and _room(lick, figure, tail, rules, tempo_bpm):
            return tail
    return None


def _with(lick: LickPlan, figure: str, tail: str, rules: RuleFile, begin: int | None = None) -> LickPlan:
    begin, grid = _begin(lick) if begin is None else begin, rules.study.grid
    onsets = tuple(replace(o, tick=o.tick + begin) for o in parse_cell(figure + tail, grid).onsets)
    return replace(
        lick,
        figure=figure,
        tail=tail,
        onsets=onsets,
        figure_notes=len(parse_cell(figure, grid).onsets),
    )
