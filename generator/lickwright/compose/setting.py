"""From a brief to its setting: rules read and checked, key, neck and tempo."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from lickwright.guitar.neck import Neck
from lickwright.problems import ProblemsError
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import Brief, Study
from lickwright.theory.harmony import Key


@dataclass(frozen=True)
class Setting:
    """A brief with its rules read and checked: everything the solver and the judge need to know."""

    brief: Brief
    book: Book
    rules: RuleFile
    key: Key
    neck: Neck
    lead: Lead
    tempo_bpm: int


class BriefError(ProblemsError):
    """A brief that cannot be meant: ``problems`` has a line each."""


def usual_tempo(rules: RuleFile) -> int:
    """The style's usual tempo, or a slower one at which two notes a beat are not too many for the level."""
    tempo = rules.study.tempo
    return max(tempo.least, min(tempo.usual, int(rules.level.notes_per_second * 60 / 2)))


def setting_for(brief: Brief) -> Setting:
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


def random_state(setting: Setting, *words: object) -> np.random.Generator:
    """A random state of its own for each attempt, by what was meant, however it was written."""
    meant = (setting.brief.seed, setting.key.name, setting.rules.level.name, setting.tempo_bpm, *words)
    text = "|".join(map(str, meant)).encode()
    return np.random.default_rng(int.from_bytes(hashlib.sha256(text).digest()[:16], "big"))


def setting_of(study: Study, seed: int | None = None, key: str | None = None) -> Setting:
    """The setting a study was written in, for another seed or key; raises RuleFileError and BriefError."""
    brief = replace(
        study.brief, seed=study.brief.seed if seed is None else seed, key=key or study.brief.key, title=None
    )
    return replace(setting_for(brief), tempo_bpm=study.tempo_bpm)
