"""From a brief to a Study: reads the rules, draws a plan, solves the chorus, and writes down what was found.

The same brief and rule files always give the same study.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import numpy as np

from lickwright.compose.setting import Setting, random_state, setting_for, setting_of
from lickwright.compose.to_study import written
from lickwright.judge.check import check
from lickwright.problems import AnswerIsNoError
from lickwright.rulebook.touches import BoolArray, Touch, TouchTable, touch_of
from lickwright.solver.chorus import DeadEnd, Wish, solve_chorus
from lickwright.solver.comping import Strokes
from lickwright.solver.explain.problem import LickProblem
from lickwright.solver.explain.why import Why, explain
from lickwright.solver.kept import kept_slots, plan_of
from lickwright.solver.licks import LickMaker, Mark
from lickwright.solver.plan.cells import make_plan
from lickwright.solver.plan.layout import NoPlan, Plan
from lickwright.solver.plan.playable import Playable
from lickwright.solver.plan.rhythms import renewed
from lickwright.study.figures import Avoid
from lickwright.study.json_text import digest
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.study.pins import Pins

ATTEMPTS = 60
#: Plans in a row in which the rules leave some lick no way, before the reason is looked for.
SAME_DEAD_END = 6
#: Finished studies that may break one and the same rule before it is taken for one that cannot be met.
SAME_FAILURE = 30


class CannotBeMet(AnswerIsNoError):
    """Rules that no study keeps: ``where`` names the slot or table that failed most often.

    ``why`` says which rules cannot hold together there, when that is what it is.
    """

    def __init__(self, where: str, why: Why | None = None):
        super().__init__(f"the rules leave no study: {where}")
        self.where = where
        self.why = why

    @property
    def problems(self) -> list[str]:
        """The message, a line each."""
        if self.why is None:
            return [f"{self}; another --seed, key, tempo or level may find one"]
        rules = [f"  {rule.name}: {rule.sentence} [{rule.source}]" for rule in self.why.rules]
        few = "the fewest that" if self.why.smallest else "together they"
        lines = [f"{self}; {few} cannot all hold:", *rules]
        if self.why.change is not None:
            lines.append(
                f"what would do: {self.why.change.words} (then {self.why.change.licks:,} licks fit there)"
            )
        return lines


class Tables:
    """What the solver works out once for one setting's rules, key and tempo, whatever the seed."""

    def __init__(self, setting: Setting):
        self.maker = LickMaker(setting.lead, (), setting.tempo_bpm)
        self.strokes = Strokes(setting.lead, setting.rules.level.comping_grade)
        self.playable = Playable(setting.lead, setting.tempo_bpm, self.strokes)


def write(brief: Brief, avoid: Avoid | None = None) -> Study:
    """Writes the study that a brief asks for, without the figures to be avoided.

    Raises RuleFileError and BriefError for what cannot be used, CannotBeMet when no plan leads to a study.
    """
    return write_in(setting_for(brief), avoid=avoid)


def write_in(
    setting: Setting, tables: Tables | None = None, *words: object, avoid: Avoid | None = None
) -> Study:
    """Writes a study in a setting; with ``words`` another one than without. Raises CannotBeMet."""
    tables = tables or Tables(setting)
    playable = tables.playable

    def plan(rng: np.random.Generator) -> Plan:
        return make_plan(
            setting.rules, setting.key, setting.neck, setting.tempo_bpm, rng, playable, tables.maker
        )

    origin = " ".join(map(str, words))
    if avoid is not None:
        heard = hashlib.sha256(repr((avoid.order, sorted(avoid.figures))).encode()).hexdigest()[:12]
        origin = f"new beside {len(avoid.figures)} figures of order {avoid.order}: {heard}"
    return solve(setting, plan, Wish(avoid=avoid), words=words, origin=origin, tables=tables)


def around(pins: Pins, seed: int, avoid: Avoid | None = None) -> Study:
    """The pinned study with everything else written anew; the same seed gives the same result.

    Raises CannotBeMet when the rules leave nothing between the pins.
    """
    study = pins.study
    setting = setting_of(study, seed)
    plan = plan_of(study, setting.lead)
    free = [n for n, slot in enumerate(_lick_slots(study)) if slot not in pins.slots | pins.cells]
    tables = Tables(setting)

    def plan_by(rng: np.random.Generator) -> Plan:
        return renewed(plan, setting.rules, setting.tempo_bpm, free, rng, tables.maker)

    wish = Wish(kept_slots(study, plan, pins.slots), avoid, marks=_notes(pins), grips=_grips(pins))
    words = ("around", *sorted(pins.slots), "notes", *(e.id for e in pins.events), *sorted(pins.cells))
    return solve(
        setting,
        plan_by,
        wish,
        words=words,
        title=study.title,
        origin=made_from(study, "around pins"),
        tables=tables,
    )


def redo(study: Study, slot: int, seed: int) -> Study:
    """The study with one slot (by number) solved anew and the others as they are. Raises CannotBeMet."""
    stay = frozenset(s.number for s in study.slots if s.number != slot)
    return around(Pins(study, stay), seed)


def made_from(study: Study, how: str) -> str:
    """Says of a study from which other it was made: the start of that one's digest, and how."""
    return f"{how}: {digest(study)[:12]}"


def _lick_slots(study: Study) -> list[int]:
    return [s.number for s in study.slots if s.kind is SlotKind.LICK]


def _notes(pins: Pins) -> dict[int, Mark]:
    return {
        event.onset: _just(touch_of(event))
        for event in pins.events
        if pins.study.slots[event.slot].kind is SlotKind.LICK
    }


def _just(touch: Touch) -> Mark:
    """Allows a place, its finger and its bend, whatever else belongs to the touch."""

    def allows(t: TouchTable) -> BoolArray:
        there = (t.string == touch.string) & (t.fret == touch.fret)
        return np.asarray(there & (t.finger == touch.finger) & (t.bend == touch.bend))

    return allows


def _grips(pins: Pins) -> dict[int, frozenset[tuple[int, int]]]:
    return {
        event.onset: frozenset((n.string, n.fret) for n in event.notes)
        for event in pins.events
        if pins.study.slots[event.slot].kind is SlotKind.COMP
    }


def solve(
    setting: Setting,
    plan_by: Callable[[np.random.Generator], Plan],
    wish: Wish,
    *,
    words: tuple[object, ...] = (),
    title: str | None = None,
    origin: str = "",
    good: Callable[[Study], str] = lambda study: "",
    tables: Tables | None = None,
    wish_by: Callable[[Plan], Wish] | None = None,
    attempts: int = ATTEMPTS,
) -> Study:
    """Draws plans and fills them until a study keeps every rule and ``good`` finds no fault with it.

    ``words`` go into the random state; a title is drawn unless given; ``good`` says what is wrong, or nothing;
    ``wish_by`` gives the wish for a plan in place of ``wish``.
    Raises CannotBeMet.
    """
    tables = tables or Tables(setting)
    failures: dict[str, int] = {}
    titles = setting.rules.study.titles
    impossible = 0
    for attempt in range(attempts):
        rng = random_state(setting, *words, attempt)
        try:
            plan = plan_by(rng)
            own_wish = wish_by(plan) if wish_by else wish
            solved = solve_chorus(
                setting.lead, plan, setting.tempo_bpm, rng, tables.maker, tables.strokes, own_wish
            )
        except (NoPlan, DeadEnd) as dead:
            failures[dead.where] = failures.get(dead.where, 0) + 1
            lick = dead.lick if isinstance(dead, DeadEnd) else None
            impossible = impossible + 1 if lick is not None else 0
            if lick is not None and impossible == SAME_DEAD_END:
                place = LickProblem(setting.lead, lick, plan.form, setting.tempo_bpm)
                raise CannotBeMet(dead.where, explain(place)) from None
            continue
        impossible = 0
        drawn = titles[int(rng.integers(len(titles)))]
        study = written(setting, plan, solved, title or setting.brief.title or drawn, origin)
        broken = check(study, setting.lead)
        fault = f"{broken[0].rule}: {broken[0].sentence} [{broken[0].source}]" if broken else good(study)
        if not fault:
            return study
        failures[fault] = failures.get(fault, 0) + 1
        if broken and failures[fault] == SAME_FAILURE:
            break
    raise CannotBeMet(max(failures, key=lambda k: failures[k]))
