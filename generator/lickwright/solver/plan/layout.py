"""Where the licks of a study stand: its form, the home position, the phrases' templates and the scheme.

What a plan is made of is declared here; ``plan`` fills it with rhythms, ``answers`` with comping.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TypeVar

import numpy as np
from numpy.random import Generator

from lickwright.guitar.neck import Neck
from lickwright.rulebook.schema.rule_file import LickPlace, PhraseKind, RuleFile, TemplateTable
from lickwright.rulebook.written import Said
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BAR, TICKS_PER_BEAT, Onset

T = TypeVar("T")


class NoPlan(ValueError):
    """No layout of the rule files has a solution: ``where`` says which slot or gap failed last."""

    def __init__(self, where: str):
        super().__init__(where)
        self.where = where


@dataclass(frozen=True)
class LickPlan:
    """A lick's place and rhythm. ``onsets`` count from the study's start; ``quotes`` is another lick's number.

    ``leads`` is true when others take up its figure; ``positions`` are those it may lie in. A written lick has a
    ``mask``, what sounds at each onset, with its 1 at the MIDI pitch ``tonic``; its ``figure`` is its name in the rule
    files and its ``tail`` the form in which it is said.
    """

    number: int
    phrase: int
    letter: str
    role: str
    figure: str
    tail: str
    onsets: tuple[Onset, ...]
    figure_notes: int
    positions: tuple[int, ...]
    quotes: int | None = None
    leads: bool = False
    mask: tuple[Said, ...] | None = None
    tonic: int = 0

    @property
    def base(self) -> str:
        """The letter without its marks: those of one letter share a figure."""
        return self.letter.rstrip("'")

    @property
    def start(self) -> int:
        """The tick of the first onset."""
        return self.onsets[0].tick

    @property
    def anchor(self) -> int:
        """The tick from which the lick has the guitar: a written one has a bass note under its bar line."""
        return self.start - self.start % (TICKS_PER_BEAT if self.mask is None else TICKS_PER_BAR)

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
class LayoutPlace:
    """Where a lick stands in a layout: its phrase, its letter, the template's entry for it.

    ``phrase_beat`` is the beat of the study on which the phrase begins, ``limit_beat`` the one by which the lick must
    be over.
    """

    phrase: int
    letter: str
    template: LickPlace
    phrase_beat: int
    limit_beat: int

    @property
    def base(self) -> str:
        """The letter without its marks."""
        return self.letter.rstrip("'")


def by_weight(items: Sequence[T], weight: Callable[[T], float], rng: Generator) -> list[T]:
    """The items in a random order in which heavier ones tend to come first (Efraimidis and Spirakis, 2006).

    Those of weight 0 are left out.
    """
    weights = [weight(item) for item in items]
    keys = [rng.exponential() / max(w, 1e-9) for w in weights]
    return [items[i] for i in np.argsort(keys, kind="stable") if weights[i] > 0]


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


def home_positions(rules: RuleFile, key: Key, neck: Neck) -> tuple[int, ...]:
    """The index-finger frets that a study of this key may call home, the rule file's favourites first."""
    windows = rules.lead.windows
    root = neck.root_fret(key.pitch_class)
    positions = [max(1, fret) for fret in windows.frets]
    for relative in windows.relative:
        frets = (root + relative - 12, root + relative, root + relative + 12)
        positions += [max(1, fret) for fret in frets if windows.lowest <= fret <= windows.home_highest]
    return tuple(dict.fromkeys(positions))


def role_positions(
    rules: RuleFile, key: Key, neck: Neck, home: int, count: int
) -> dict[str, tuple[int, ...]]:
    """For each role the positions it may take: home, and the nearest of its own, ``count`` in all."""
    windows = rules.lead.windows
    root = neck.root_fret(key.pitch_class)
    positions = [home]
    by_role: dict[str, tuple[int, ...]] = {}
    for role in ("climax", "answer", "question", "close"):
        own = windows.by_role.get(role, [])
        frets = {max(1, root + p + shift) for p in own for shift in (-12, 0, 12)}
        usable = sorted(
            (f for f in frets if windows.lowest <= f <= windows.highest), key=lambda f: (abs(f - home), -f)
        )
        for fret in usable:
            if (
                fret not in positions
                and len(positions) < count
                and windows.away[0] <= abs(fret - home) <= windows.away[1]
            ):
                positions.append(fret)
        by_role[role] = tuple(dict.fromkeys([home, *(f for f in positions if f in usable)]))
    return by_role


def layouts(
    rules: RuleFile, phrases: Sequence[int], rng: Generator
) -> Iterator[tuple[str, list[tuple[str, TemplateTable]]]]:
    """Schemes with the template of each phrase, in an order drawn by weight.

    Phrases of one kind with as many licks have the same template, so that paired licks start alike.
    """
    weighed = []
    for scheme_name, scheme in rules.schemes.items():
        if len(scheme.phrases) != len(phrases):
            continue
        sorts = [(scheme.kind(n), len(p.split())) for n, p in enumerate(scheme.phrases)]
        distinct = list(dict.fromkeys(sorts))
        for chosen in product(*(_templates(rules, *sort) for sort in distinct)):
            weight = float(scheme.weight)
            for _, template in chosen:
                weight *= template.weight
            of = dict(zip(distinct, chosen, strict=True))
            weighed.append((weight ** (1 / (1 + len(distinct))), scheme_name, [of[sort] for sort in sorts]))
    for _, name, templates in by_weight(weighed, lambda x: x[0], rng):
        yield name, templates


def _templates(rules: RuleFile, kind: PhraseKind, licks: int) -> list[tuple[str, TemplateTable]]:
    return [(n, t) for n, t in rules.templates.items() if kind in t.phrases and len(t.licks) == licks]


def lick_places(
    rules: RuleFile, scheme: str, templates: list[tuple[str, TemplateTable]], phrases: Sequence[int]
) -> list[LayoutPlace]:
    """The places of a scheme's licks in the templates of its phrases, in order of time."""
    spots: list[LayoutPlace] = []
    beat = 0
    for number, ((_, template), length) in enumerate(zip(templates, phrases, strict=True)):
        letters = rules.schemes[scheme].phrases[number].split()
        beats = length * BEATS_PER_BAR
        early = templates[number + 1][1].licks[0].early if number + 1 < len(templates) else 0
        begins = [place.beat - place.early for place in template.licks[1:]] + [beats - early]
        for letter, place, following in zip(letters, template.licks, begins, strict=True):
            spots.append(LayoutPlace(number, letter, place, beat, beat + following))
        beat += beats
    return spots
