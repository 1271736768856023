"""From a brief to a Study: reads the rules, draws a plan, solves the chorus, and writes down what was found.

The same brief and rule files always give the same study.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from generator.figures import Avoid
from generator.harmony import Key
from generator.judge.check import Violation, check
from generator.pins import Pins
from generator.problems import AnswerIsNoError, ProblemsError
from generator.rhythm import beat_text
from generator.rulebook.lead import Lead
from generator.rulebook.load import Book, Options, RuleFileError, gather, mistakes
from generator.rulebook.rule import Named
from generator.rulebook.schema import RuleFile
from generator.rulebook.whole import grip_rules, study_rules
from generator.solver.chorus import DeadEnd, Wish, solve_chorus
from generator.solver.comping import Strokes
from generator.solver.kept import kept_slots, plan_of
from generator.solver.layout import NoPlan, Plan
from generator.solver.licks import LickMaker, Mark
from generator.solver.place import Place
from generator.solver.plan import make_plan
from generator.solver.playable import Playable
from generator.solver.rhythms import renewed
from generator.solver.why import Why, explain
from generator.study import Brief, SlotKind, Study, to_json
from generator.touches import BoolArray, Touch, TouchTable, touch_of
from generator.writing import Setting, written

ATTEMPTS = 60
#: Plans in a row in which the rules leave some lick no way, before the reason is looked for.
SAME_DEAD_END = 6
#: Finished studies that may break one and the same rule before it is taken for one that cannot be met.
SAME_FAILURE = 30


class BriefError(ProblemsError):
    """A brief that cannot be meant: ``problems`` has a line each."""


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


def read_rules(
    style: str, level: str | None = None, options: Options = (), home: str = "", style_home: str | None = None
) -> tuple[Book, RuleFile]:
    """A style's rule files, merged and checked; raises RuleFileError with everything that is wrong.

    ``home`` is the folder of the file that names them, if one does, ``style_home`` the style's when it is another.
    """
    book = gather(style, level, options=options, home=home, style_home=style_home)
    problems = mistakes(book)
    if problems:
        raise RuleFileError(problems)
    return book, RuleFile.model_validate(book.data)


def usual_tempo(rules: RuleFile) -> int:
    """The style's usual tempo, or a slower one at which two notes a beat are not too many for the level."""
    tempo = rules.study.tempo
    return max(tempo.least, min(tempo.usual, int(rules.level.notes_per_second * 60 / 2)))


def setting(brief: Brief) -> Setting:
    """Reads and checks what a brief names; raises RuleFileError or BriefError."""
    book, rules = read_rules(brief.style, brief.level, brief.options, brief.home)
    problems = []
    try:
        key = Key.parse(brief.key, minor=rules.study.minor)
    except ValueError as error:
        problems.append(str(error))
        key = Key("A")
    if key.minor and not rules.study.minor:
        problems.append(
            f"key {key.name} is minor, and {book.name} is in major: use {key.tonic}, or a minor style"
        )
    tempo = usual_tempo(rules) if brief.tempo_bpm is None else brief.tempo_bpm
    least, most = rules.study.tempo.least, rules.study.tempo.most
    if not least <= tempo <= most:
        problems.append(f"tempo {tempo} is outside the style's range: {book.name} allows {least} to {most}")
    if problems:
        raise BriefError(problems)
    neck = rules.neck.neck()
    return Setting(brief, book, rules, key, neck, Lead(rules, book, key, neck), tempo)


def random_state(given: Setting, *words: object) -> np.random.Generator:
    """A random state of its own for each attempt, by what was meant, however it was written."""
    meant = (given.brief.seed, given.key.name, given.rules.level.name, given.tempo_bpm, *words)
    text = "|".join(map(str, meant)).encode()
    return np.random.default_rng(int.from_bytes(hashlib.sha256(text).digest()[:16], "big"))


class Tables:
    """What the solver works out once for one setting's rules, key and tempo, whatever the seed."""

    def __init__(self, given: Setting):
        self.maker = LickMaker(given.lead, (), given.tempo_bpm)
        self.strokes = Strokes(given.lead, given.rules.level.comping_grade)
        self.playable = Playable(given.lead, given.tempo_bpm, self.strokes)


def write(brief: Brief, avoid: Avoid | None = None) -> Study:
    """Writes the study that a brief asks for, without the figures to be avoided.

    Raises RuleFileError and BriefError for what cannot be used, CannotBeMet when no plan leads to a study.
    """
    return write_in(setting(brief), avoid=avoid)


def write_in(
    given: Setting, tables: Tables | None = None, *words: object, avoid: Avoid | None = None
) -> Study:
    """Writes a study in a setting; with ``words`` another one than without. Raises CannotBeMet."""
    tables = tables or Tables(given)
    playable = tables.playable

    def plan(rng: np.random.Generator) -> Plan:
        return make_plan(given.rules, given.key, given.neck, given.tempo_bpm, rng, playable)

    origin = " ".join(map(str, words))
    if avoid is not None:
        heard = hashlib.sha256(repr((avoid.order, sorted(avoid.figures))).encode()).hexdigest()[:12]
        origin = f"new beside {len(avoid.figures)} figures of order {avoid.order}: {heard}"
    return solve(given, plan, Wish(avoid=avoid), words=words, origin=origin, tables=tables)


def around(pins: Pins, seed: int, avoid: Avoid | None = None) -> Study:
    """The pinned study with everything else written anew; the same seed gives the same result.

    Raises CannotBeMet when the rules leave nothing between the pins.
    """
    study = pins.study
    given = setting_of(study, seed)
    plan = plan_of(study, given.lead)
    free = [n for n, slot in enumerate(_lick_slots(study)) if slot not in pins.slots | pins.cells]

    def plan_by(rng: np.random.Generator) -> Plan:
        return renewed(plan, given.rules, given.tempo_bpm, free, rng)

    wish = Wish(kept_slots(study, plan, pins.slots), avoid, marks=_notes(pins), grips=_grips(pins))
    words = ("around", *sorted(pins.slots), "notes", *(e.id for e in pins.events), *sorted(pins.cells))
    return solve(given, plan_by, wish, words=words, title=study.title, origin=made_from(study, "around pins"))


def redo(study: Study, slot: int, seed: int) -> Study:
    """The study with one slot (by number) solved anew and the others as they are. Raises CannotBeMet."""
    stay = frozenset(s.number for s in study.slots if s.number != slot)
    return around(Pins(study, stay), seed)


def made_from(study: Study, how: str) -> str:
    """Says of a study from which other it was made: the start of that one's digest, and how."""
    return f"{how}: {hashlib.sha256(to_json(study).encode()).hexdigest()[:12]}"


def setting_of(study: Study, seed: int | None = None, key: str | None = None) -> Setting:
    """The setting a study was written in, for another seed or key; raises RuleFileError and BriefError."""
    brief = replace(
        study.brief, seed=study.brief.seed if seed is None else seed, key=key or study.brief.key, title=None
    )
    return replace(setting(brief), tempo_bpm=study.tempo_bpm)


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
    given: Setting,
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
    tables = tables or Tables(given)
    failures: dict[str, int] = {}
    titles = given.rules.study.titles
    impossible = 0
    for attempt in range(attempts):
        rng = random_state(given, *words, attempt)
        try:
            plan = plan_by(rng)
            wanted = wish_by(plan) if wish_by else wish
            solved = solve_chorus(
                given.lead, plan, given.tempo_bpm, rng, tables.maker, tables.strokes, wanted
            )
        except (NoPlan, DeadEnd) as dead:
            failures[dead.where] = failures.get(dead.where, 0) + 1
            lick = dead.lick if isinstance(dead, DeadEnd) else None
            impossible = impossible + 1 if lick is not None else 0
            if lick is not None and impossible == SAME_DEAD_END:
                place = Place(given.lead, lick, plan.form, given.tempo_bpm)
                raise CannotBeMet(dead.where, explain(place)) from None
            continue
        impossible = 0
        drawn = titles[int(rng.integers(len(titles)))]
        study = written(given, plan, solved, title or given.brief.title or drawn, origin)
        broken = check(study, given.lead)
        fault = f"{broken[0].rule}: {broken[0].sentence} [{broken[0].source}]" if broken else good(study)
        if not fault:
            return study
        failures[fault] = failures.get(fault, 0) + 1
        if broken and failures[fault] == SAME_FAILURE:
            break
    raise CannotBeMet(max(failures, key=lambda k: failures[k]))


def rewritten(study: Study) -> tuple[str, ...]:
    """Writes a study again from its brief and says what came out otherwise; empty when it is the same.

    Raises BriefError for a study that was not made from its brief alone, and as ``write`` does.
    """
    if study.origin:
        raise BriefError(
            [f"it was made from more than its brief ({study.origin}): that cannot be written again"]
        )
    made = write(study.brief)
    if replace(made, tool_version=study.tool_version) == study:
        return ()
    now = {digest.name: digest.sha256 for digest in made.rules}
    then = {digest.name: digest.sha256 for digest in study.rules}
    found = [
        f"rule file {name}: not the one it was written by" for name in now if now[name] != then.get(name)
    ]
    found += [f"rule file {name}: not read any more" for name in then if name not in now]
    if made.tool_version != study.tool_version:
        found.append(f"written by version {study.tool_version}, this is {made.tool_version}")
    first = next((a for a, b in zip(study.events, made.events, strict=False) if a != b), None)
    if first is not None:
        found.append(f"{beat_text(first.onset)}: the first event that comes out otherwise ({first.id})")
    return tuple(found or ["it differs in more than its events: title, slots or cost"])


def checked(study: Study, style: str | None = None, *, whole: bool = True) -> tuple[Violation, ...]:
    """What breaks the rules in a study: those it was written by, or another style's.

    Of licks alone, not ``whole``, nothing is asked that is asked of a study as a whole.
    Raises RuleFileError when the rule files cannot be used.
    """
    return check(study, lead_of(study, style), whole=whole)


def lead_of(study: Study, style: str | None = None) -> Lead:
    """The rules a study was written by, or another style's for the same player and instrument.

    Raises RuleFileError when the rule files cannot be used.
    """
    brief = study.brief
    if style is None:
        book, rules = read_rules(brief.style, brief.level, brief.options, brief.home)
    else:
        book, rules = read_rules(style, None, brief.options, brief.home, style_home="")
    return Lead(rules, book, study.home, study.neck)


def sentences(style: str, level: str | None = None) -> tuple[Named, ...]:
    """Every rule of a style as a sentence; raises RuleFileError."""
    book, rules = read_rules(style, level)
    lead = Lead(rules, book, Key("A", rules.study.minor), rules.neck.neck())
    return (*lead.all_rules, *grip_rules(lead), *study_rules(lead))
