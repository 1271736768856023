"""Several for one place, truly different: candidates for a slot, and whole studies that are far from each other.

Diverse by selection: many are drawn, then the farthest from those already taken is taken next, among the cheaper
ones (after D. Batra et al., Diverse M-Best Solutions in Markov Random Fields, ECCV 2012 [from memory], where
diversity is a cost; here the exact samples stand in for the search). Distances are those of ``distance``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from lickwright.compose.setting import Setting, random_state, setting_for, setting_of
from lickwright.compose.to_study import numbered, written
from lickwright.compose.write import CannotBeMet, Tables, made_from, write_in
from lickwright.judge.check import check
from lickwright.judge.effort import with_hard_moments
from lickwright.rulebook.read import lead_of
from lickwright.rulebook.touches import FloatArray
from lickwright.solver.chorus import Chorus, DeadEnd, Part, Wish
from lickwright.solver.kept import Kept, kept_slots, plan_of
from lickwright.solver.licks import Solved
from lickwright.solver.plan.rhythms import renewed
from lickwright.study.distance import (
    DEFAULT_WEIGHTS,
    Line,
    chorus_distance,
    line_distances,
    line_from,
    line_of,
    lines_of,
)
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

#: Rhythms tried for a place, its own first, at least and at most; licks drawn for each, and the share of them,
#: cheapest first, that is looked at.
LEAST_ROUNDS, ROUNDS = 6, 24
DRAWS = 160
SHARE = 0.5
#: Studies written for each that is wanted.
TRIED_EACH = 4


@dataclass(frozen=True)
class Candidate:
    """A study with another lick in one place, and how far that lick is from the one it had (0 to 1)."""

    study: Study
    distance: float


def studies(brief: Brief, count: int) -> tuple[Study, ...]:
    """Up to ``count`` studies of one brief, any two at least ``vary.studies_apart`` of the rule files apart.

    The first is the one that ``write`` gives. Raises as ``compose.write`` does.
    """
    setting = setting_for(brief)
    tables = Tables(setting)
    apart = setting.rules.vary.studies_apart
    chosen: list[Study] = []
    lines: list[tuple[Line, ...]] = []
    for k in range(TRIED_EACH * count):
        study = write_in(setting, tables, *(("candidate", k) if k else ()))
        mine = lines_of(study)
        if all(chorus_distance(mine, other).total >= apart for other in lines):
            chosen.append(study)
            lines.append(mine)
        if len(chosen) == count:
            break
    return tuple(chosen)


def compared_line(lick: Solved, setting: Setting) -> Line:
    """A drawn lick as ``study.distance`` compares licks, without a study round it."""
    onsets = lick.plan.onsets
    bar = onsets[0].tick - onsets[0].tick % TICKS_PER_BAR
    sounds = []
    for touch in lick.touches:
        sounds.append([(2 * touch.pitch + touch.bend, touch.string, touch.fret)])
        if touch.mate_string:
            sounds[-1].append((2 * touch.mate_pitch, touch.mate_string, touch.mate_fret))
    pitch_class = setting.key.pitch_class
    ticks, durations = [o.tick - bar for o in onsets], [o.duration for o in onsets]
    return line_from(ticks, durations, sounds, pitch_class, setting.neck.root_fret(pitch_class))


def candidates(study: Study, slot: int, count: int, seed: int = 1) -> tuple[Candidate, ...]:
    """Up to ``count`` studies that differ from a study, and from each other, in the lick of one slot (by number).

    The place, its neighbours and the hand's ways to them stay; each study keeps all rules, and any two licks are
    at least ``vary.candidates_apart`` of the rule files apart. Raises CannotBeMet when there is not one, and
    ValueError when the slot is no lick's.
    """
    model = line_of(study, slot)
    setting = setting_of(study, seed)
    tables = Tables(setting)
    plan = plan_of(study, setting.lead)
    kept = kept_slots(study, plan, {s.number for s in study.slots if s.number != slot})
    number = [s.number for s in study.slots if s.kind is SlotKind.LICK].index(slot)
    wish = Wish(kept, shifts=setting.rules.vary.quote_shifts)
    pool: list[Solved] = []
    chosen: list[Candidate] = []
    stuck = ""
    for k in range(ROUNDS):
        rng = random_state(setting, "candidates", slot, k)
        own = renewed(plan, setting.rules, setting.tempo_bpm, {number}, rng, tables.maker) if k else plan
        chorus = Chorus(setting.lead, own, setting.tempo_bpm, rng, tables.maker, tables.strokes, wish)
        try:
            drawn = chorus.choices(own.licks[number].start, DRAWS)
        except DeadEnd as dead:
            stuck = dead.where
            continue
        pool += drawn[: max(1, int(len(drawn) * SHARE))]
        if k + 1 >= LEAST_ROUNDS:
            chosen = list(_taken(study, setting, kept, pool, model, count))
            if len(chosen) == count:
                break
    if not chosen:
        apart = f"{setting.rules.vary.candidates_apart:g}"
        raise CannotBeMet(
            f"no lick for slot {slot + 1} is {apart} away from the one there" if pool else stuck
        )
    return tuple(chosen)


def taken(study: Study, slot: int, chosen: Study, chosen_slot: int) -> Study:
    """The study with the lick of another study's slot in place of its own; all else stays.

    Raises ValueError when it cannot stand there, and says why: another key or meter, no room, or a rule it breaks.
    """
    for what, mine, theirs in (
        ("key", study.home.name, chosen.home.name),
        ("meter", study.meter, chosen.meter),
        ("grid", study.grid, chosen.grid),
        ("tuning", study.neck.tuning, chosen.neck.tuning),
    ):
        if mine != theirs:
            raise ValueError(f"the {what} is {theirs}, the study's {mine}")
    if slot >= len(study.slots):
        raise ValueError(f"the study has slots 1 to {len(study.slots)}, no slot {slot + 1}")
    new, own = chosen.slots[chosen_slot], study.slots[slot]
    if new.kind is not SlotKind.LICK or own.kind is not SlotKind.LICK:
        raise ValueError(f"slot {slot + 1} and slot {chosen_slot + 1} must both hold a lick")
    before = max((e.onset for e in study.events if e.slot < slot), default=-1)
    after = min((e.onset for e in study.events if e.slot > slot), default=study.ticks)
    lick = tuple(replace(e, slot=slot) for e in chosen.events_of(chosen_slot))
    if lick[0].onset <= before or lick[-1].onset >= after:
        raise ValueError("it begins or ends where another slot has its notes")
    others = [e for e in study.events if e.slot != slot]
    events = tuple(numbered([*others, *lick]))
    placed = replace(
        own, start=new.start, end=new.end, cells=new.cells, windows=new.windows, figure_notes=new.figure_notes
    )
    slots = tuple(placed if s.number == slot else s for s in study.slots)
    new_study = replace(study, slots=slots, events=events, origin=made_from(study, "a lick taken"))
    lead = lead_of(study)
    broken = check(new_study, lead)
    if broken:
        raise ValueError(f"it would break a rule there: {broken[0]}")
    return with_hard_moments(new_study, lead)


def _taken(
    study: Study, setting: Setting, kept: Mapping[int, Kept], pool: list[Solved], model: Line, count: int
) -> Iterator[Candidate]:
    """The studies with the licks of a pool that are farthest apart and break no rule of the study."""
    lines = [compared_line(lick, setting) for lick in pool]
    dear = [lick.cost / len(lick.touches) for lick in pool]
    count_so_far = 0
    for k, away in far_apart(lines, [model], dear, setting.rules.vary.candidates_apart):
        with_it = with_lick(study, setting, kept, pool[k])
        if not check(with_it, setting.lead):
            yield Candidate(with_it, away)
            count_so_far += 1
            if count_so_far == count:
                return


def with_lick(study: Study, setting: Setting, kept: Mapping[int, Kept], lick: Solved) -> Study:
    """The study with one lick in place of its own, the other slots being kept."""
    plan = plan_of(study, setting.lead)
    licks = tuple(lick.plan if x.number == lick.plan.number else x for x in plan.licks)
    parts: list[Part] = [lick, *kept.values()]
    parts.sort(key=lambda part: part.plan.start)
    origin = made_from(study, "another lick")
    return written(setting, replace(plan, licks=licks), tuple(parts), study.title, origin)


def far_apart(
    lines: Sequence[Line], models: Sequence[Line], dear: Sequence[float], apart: float
) -> list[tuple[int, float]]:
    """Numbers of lines, each at least ``apart`` from the models and those before, with the distance to the models.

    Each time the line is taken that is farthest from all others taken, less its cost's share of the dearest.
    """
    if not lines:
        return []
    weights = np.array(DEFAULT_WEIGHTS.row)
    price = np.asarray(dear) / max(max(dear), 1)
    from_model = np.min([_parts(lines, model) @ weights for model in models], axis=0, initial=1.0)
    least = from_model.copy()
    order: list[tuple[int, float]] = []
    while True:
        score = np.where(least >= apart, np.minimum(least, 0.5) - 0.3 * price, -np.inf)
        k = int(np.argmax(score))
        if not np.isfinite(score[k]):
            return order
        order.append((k, float(from_model[k])))
        least = np.minimum(least, _parts(lines, lines[k]) @ weights)


def _parts(lines: Sequence[Line], other: Line) -> FloatArray:
    return np.asarray(line_distances([(line, other) for line in lines]))
