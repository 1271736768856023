"""What the types of a rule file cannot say: names that must exist, texts that must read, numbers that must agree.

Each check yields the place (the keys down to it) and a sentence that says what would be right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import Any, TypeAlias, get_args

from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.nearest import nearest
from lickwright.rulebook.schema.base import Pair
from lickwright.rulebook.schema.rule_file import CompingTable, Role, RuleFile, Size
from lickwright.theory.harmony import Key, chord_in_key, semitones
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, parse_cell
from lickwright.theory.row import begins_at, parse_row

#: The keys of the place, and what is wrong there.
Mistake: TypeAlias = tuple[tuple[str, ...], str]

ROLES = get_args(Role)
#: The signs of comping that every rule file knows; ``[comping]`` declares the others.
ANSWER_SIGNS = "CAGZHRLPKQx"
_ROOT = re.compile(r"[b#]?(VII|VI|V|IV|III|II|I)")
_LETTER = re.compile(r"[A-Z]'*")
#: The chords of a form that a written lick may be said over, by their roots.
ROOTS_SAID_OVER = ("I", "IV", "V", "bVI")


def senseless(rules: RuleFile) -> Iterator[Mistake]:
    """Everything in rules of the right types that still makes no sense, table by table."""
    yield from _study(rules)
    yield from _forms(rules)
    yield from _rhythms(rules)
    yield from _written_licks(rules)
    yield from _layouts(rules)
    yield from _comping(rules)
    yield from _chords_and_roles(rules)
    yield from _degree_texts(rules)
    yield from _ranges(rules)
    yield from _complete(rules)


def _study(rules: RuleFile) -> Iterator[Mistake]:
    tempo, windows = rules.study.tempo, rules.lead.windows
    for form in rules.study.form:
        if form not in rules.forms:
            yield ("study", "form"), f"no form {form!r}; {nearest(form, list(rules.forms))}"
    if not tempo.least <= tempo.usual <= tempo.most:
        yield ("study", "tempo"), "must be least <= usual <= most"
    if rules.study.meter == "12/8" and rules.study.grid == "straight":
        yield ("study", "grid"), "12/8 is written on the triplet grid; straight eighths need 4/4"
    if not any(rules.layout.landings.values()):
        yield ("layout", "landings"), "one of them needs a weight of more than 0"
    if not windows.relative and not windows.frets:
        yield ("lead", "windows"), "give at least one place in relative or frets"


def _forms(rules: RuleFile) -> Iterator[Mistake]:
    for name, form in rules.forms.items():
        at = ("forms", name)
        if sum(form.phrases) != len(form.bars):
            yield at, f"phrases add up to {sum(form.phrases)}, but there are {len(form.bars)} bars"
        if min(form.phrases) < 1:
            yield (*at, "phrases"), f"a phrase of {min(form.phrases)} bars; each has one or more"
        for number, bar in enumerate(form.bars, 1):
            romans = bar.split()
            if not romans or TICKS_PER_BAR % len(romans) or len(romans) > 4:
                yield (*at, "bars"), f"bar {number} has {len(romans)} chords; a bar has 1, 2, 3 or 4"
            for roman in romans:
                try:
                    chord_in_key(roman, Key("C"))
                except ValueError as error:
                    yield (*at, "bars"), str(error)


def _rhythms(rules: RuleFile) -> Iterator[Mistake]:
    for table, families in (("figures", rules.figures), ("tails", rules.tails)):
        for name, family in families.items():
            for text in family.cells:
                try:
                    cell = parse_cell(text, family.grid)
                except ValueError as error:
                    yield (table, name, "cells"), str(error)
                    continue
                landings = [onset.landing for onset in cell.onsets]
                if table == "figures" and (not landings or any(landings)):
                    yield (table, name, "cells"), f"figure {text!r} must have a note, and no landing L"
                if table == "tails" and (not landings or not landings[-1] or sum(landings) > 1):
                    yield (table, name, "cells"), f"tail {text!r} must end in a landing L, its only one"


def _written_licks(rules: RuleFile) -> Iterator[Mistake]:
    """Rows and beginnings of written licks that cannot be read on the study's grid, chords that they cannot be over."""
    grid = rules.study.grid
    for table, written in (("lick", rules.lick), ("pair", rules.pair)):
        for name, entry in written.items():
            try:
                begins_at(entry.begins, grid)
            except ValueError as error:
                yield (table, name, "begins"), str(error)
    rows: list[tuple[tuple[str, ...], str]] = [
        (("lick", name, "over", root), row)
        for name, lick in rules.lick.items()
        for root, row in lick.over.items()
    ]
    rows += [
        (("pair", name, part), row)
        for name, pair in rules.pair.items()
        for part, row in (("question", pair.question), ("answer", pair.answer))
    ]
    for at, row in rows:
        try:
            parse_row(row, grid)
        except ValueError as error:
            yield at, str(error)
    for name, lick in rules.lick.items():
        for root in lick.over:
            if root not in ROOTS_SAID_OVER:
                yield ("lick", name, "over"), f"no chord {root!r}: use {' '.join(ROOTS_SAID_OVER)}"
        if name in rules.pair:
            yield ("pair", name), "a lick has this name already"


def _layouts(rules: RuleFile) -> Iterator[Mistake]:
    for name, template in rules.templates.items():
        beats = [place.beat for place in template.licks]
        if any(a >= b for a, b in pairwise(beats)):
            yield ("templates", name, "licks"), f"the beats {beats} must go up, the licks in order of time"
    for name, scheme in rules.schemes.items():
        letters = " ".join(scheme.phrases).split()
        at = ("schemes", name, "phrases")
        for n, letter in enumerate(letters):
            if not _LETTER.fullmatch(letter):
                yield at, f"{letter!r} is no lick's letter: use A, B ..., and A' for one that takes up A"
            elif letter.endswith("'") and letter.rstrip("'") not in letters[:n]:
                yield at, f"{letter} takes up {letter.rstrip(chr(39))}, which does not come before it"
        if not all(phrase.split() for phrase in scheme.phrases):
            yield at, "each phrase needs a lick's letter at least"
        if scheme.kinds and len(scheme.kinds) != len(scheme.phrases):
            yield ("schemes", name, "kinds"), f"{len(scheme.kinds)} kinds for {len(scheme.phrases)} phrases"


def signs_of(comping: CompingTable) -> str:
    """Every sign that strikes in a pattern of comping: those that all rule files know, and those declared."""
    return ANSWER_SIGNS + "".join((*comping.voices, *comping.pairs, *comping.bass, *comping.colours))


def root_sign(rules: RuleFile) -> str:
    """The sign of the bass note on the root, or nothing where none is declared."""
    return next((sign for sign, bass in rules.comping.bass.items() if bass.major == "1"), "")


def _comping(rules: RuleFile) -> Iterator[Mistake]:
    for name, grip in rules.grips.items():
        for strings in grip.strings:
            if len(strings) != len(grip.degrees) or any(a <= b for a, b in pairwise(strings)):
                yield (
                    ("grips", name, "strings"),
                    f"{strings} must name {len(grip.degrees)} strings, a degree each, from the lowest string up",
                )
    comping = rules.comping
    signs = signs_of(comping)
    for sign in sorted({s for s in signs if signs.count(s) > 1}):
        yield ("comping",), f"the sign {sign!r} means two things"
    if rules.comping.bass_under_lick and not root_sign(rules):
        yield (
            ("comping", "bass_under_lick"),
            'needs a sign for the root: a table [comping.bass.B] with major = "1"',
        )
    yield from _patterns(rules, signs)


def _patterns(rules: RuleFile, signs: str) -> Iterator[Mistake]:
    grooves = rules.comping.grooves
    for name, family in rules.answers.items():
        for pattern in family.patterns:
            yield from _pattern(pattern, family.beats, family.grid, ("answers", name), signs)
        if family.groove and family.groove not in grooves:
            known = nearest(family.groove, list(grooves))
            yield ("answers", name, "groove"), f"no groove {family.groove!r}; {known}"
    for name, ending in rules.endings.items():
        yield from _pattern(ending.pattern, ending.beats, ending.grid, ("endings", name), signs)
        hits = sum(sign not in "-." for sign in ending.pattern)
        if hits != len(ending.chords):
            yield ("endings", name), f"{hits} hits in the pattern, but {len(ending.chords)} chords"


def _pattern(pattern: str, beats: int, grid: str, at: tuple[str, ...], known: str) -> Iterator[Mistake]:
    bad = sorted(set(pattern) - set(known + "-."))
    if bad:
        yield at, f"unknown sign {bad[0]!r} in {pattern!r}: use {' '.join(known)} - ."
    signs = beats * TICKS_PER_BEAT // GRIDS[grid]
    if len(pattern) != signs:
        yield at, f"{pattern!r} has {len(pattern)} signs; {beats} beats have {signs}"


def _chords_and_roles(rules: RuleFile) -> Iterator[Mistake]:
    """Keys that are a chord's root or a lick's role: a mistyped one would never be looked up."""
    lead = rules.lead
    tables: list[tuple[tuple[str, ...], Iterable[str]]] = [
        (("lead", "bends", "curls_over"), lead.bends.curls_over),
        (("lead", "palette"), lead.palette),
        (("lead", "sounded"), lead.sounded),
        (("comping", "leads"), rules.comping.leads),
    ]
    for role, landings in lead.landing.items():
        if role not in ROLES:
            yield ("lead", "landing", role), f"no role {role!r}; {nearest(role, list(ROLES))}"
        tables.append((("lead", "landing", role), landings))
    for at, table in tables:
        for root in table:
            if not _ROOT.fullmatch(root):
                yield (
                    at if at[-1] == "curls_over" else (*at, root),
                    f"{root!r} is no chord's root: write it alone and in capitals, as IV or bVI",
                )


def _degree_texts(rules: RuleFile) -> Iterator[Mistake]:
    for text in rules.lead.melody.pairs:
        yield from _pair(text, ("lead", "melody", "pairs", text))
    for size, texts in rules.lead.bends.targets.items():
        for text in texts:
            wrong = list(_pair(text, ("lead", "bends", "targets", size)))
            yield from wrong
            if not wrong:
                low, high = (semitones(degree) for degree in text.split(">"))
                if (high - low) % 12 != BEND_SIZES[size] // 2:
                    yield (
                        ("lead", "bends", "targets", size),
                        f"{text!r} goes up {(high - low) % 12} semitones, a {size} bend {BEND_SIZES[size] // 2}",
                    )
    for text in rules.lead.techniques.graces:
        words = text.split()
        if not (
            len(words) == 3 and _is_degree(words[0]) and words[1] == "over" and _ROOT.fullmatch(words[2])
        ):
            yield (
                ("lead", "techniques", "graces"),
                f"{text!r} must be a degree of the key over a chord's root, as in '3 over I'",
            )


def _pair(text: str, at: tuple[str, ...]) -> Iterator[Mistake]:
    parts = text.split(">")
    if len(parts) != 2 or not all(map(_is_degree, parts)):
        yield at, f"{text!r} must be two degrees of the key, from > to, as in 'b3>3'"


def _is_degree(text: str) -> bool:
    try:
        semitones(text)
    except ValueError:
        return False
    return True


def _ranges(rules: RuleFile) -> Iterator[Mistake]:
    lead = rules.lead
    pairs: list[tuple[tuple[str, ...], tuple[float, float]]] = [
        (("lead", "shape", "notes"), lead.shape.notes),
        (("lead", "develop_down"), lead.develop_down),
        (("level", "difficulty"), rules.level.difficulty),
        (("lead", "windows", "away"), lead.windows.away),
        (("lead", "windows"), (lead.windows.lowest, lead.windows.highest)),
        *((("lead", "peaks", role), peaks) for role, peaks in lead.peaks.items()),
    ]
    for at, (low, high) in pairs:
        if low > high:
            yield at, f"goes from {low:g} down to {high:g}: the lower number comes first"


def _complete(rules: RuleFile) -> Iterator[Mistake]:
    """Tables in which every size, finger pair or role is looked up."""
    lead = rules.lead
    tables: list[tuple[tuple[str, ...], Mapping[Any, Any], tuple[str, ...]]] = [
        (("lead", "bends", "fingers"), lead.bends.fingers, get_args(Size)),
        (("lead", "bends", "lowest_fret"), lead.bends.lowest_fret, get_args(Size)),
        (("lead", "bends", "targets"), lead.bends.targets, get_args(Size)),
        (("hand", "span_frets"), rules.hand.span_frets, get_args(Pair)),
        (("lead", "peaks"), lead.peaks, ROLES),
        (("lead", "peak_place"), lead.peak_place, ROLES),
        (("lead", "melody", "up_after_peak"), lead.melody.up_after_peak, ROLES),
    ]
    for at, table, keys in tables:
        missing = [key for key in keys if key not in table]
        if missing:
            yield at, f"must say something of {', '.join(missing)} too"
    span = rules.hand.span_mm
    if span and len(span) < len(get_args(Pair)):
        missing = [pair for pair in get_args(Pair) if pair not in span]
        yield ("hand", "span_mm"), f"must say something of {', '.join(missing)} too, or nothing at all"
