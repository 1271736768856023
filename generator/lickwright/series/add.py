"""A series: a folder of numbered studies in which no number repeats a figure of an earlier one.

Each number is a folder of its own (``001``, ``002`` ...) with its ``study.json`` and what was made from it; the
study files themselves are the record. Beside them ``series.toml`` holds what the user chose, and nothing else.

A number takes its name in one step, when all of it is on the disk, and only if nobody else has taken it: then the
next number is tried, with all the earlier ones in view. Writers wait for one another, so that this is rare, but
nothing depends on it. The same choices, keys and seeds give the same series on every run.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Generic, TypeVar

from lickwright.compose import write as compose
from lickwright.compose.setting import setting_for
from lickwright.render.outputs import STUDY, Progress, SoundOptions, TakenError, new_folder, write_formats
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.series.file import CHOICES, Choices, SeriesError, read_choices, write_choices
from lickwright.storage.files import remove_abandoned, turn
from lickwright.study.figures import (
    Avoid,
    Lines,
    Novelty,
    Shared,
    figures,
    lines,
    lines_of_data,
    longest_shared,
    novelty,
)
from lickwright.study.json_text import from_json
from lickwright.study.migrate import SCHEMA_VERSION
from lickwright.study.model import Brief, Study, StudyFileError, at_home

INDEX = "index.html"
#: Seeds tried for one number before the answer is no; each is many attempts of the solver's.
SEEDS = 5
#: What a number's study says of how it was made.
ORIGIN = "number {number} of {name}, unlike the numbers before it"
_NUMBER = r"\d{1,9}"


@dataclass(frozen=True)
class Numbered:
    """A number of a series: its folder, and the study in it."""

    number: int
    folder: Path
    study: Study


@dataclass(frozen=True)
class Heard:
    """As much of a number as the next one must know: what it is called and the lines of its licks."""

    number: int
    folder: Path
    title: str
    lines: Lines


N = TypeVar("N", Numbered, Heard)


@dataclass(frozen=True)
class Series(Generic[N]):
    """A series as it lies on the disk: its folder, the user's choices, the numbers in order.

    ``damaged`` says what is wrong with numbers that cannot be read, ``foreign`` names what does not belong to it;
    both are left as they are. ``next`` is the number after the last, damaged ones counted.
    """

    folder: Path
    choices: Choices
    numbers: tuple[N, ...] = ()
    damaged: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()
    next: int = 1


@dataclass(frozen=True)
class Wanted:
    """What is asked of one number; what is None comes from the series."""

    key: str | None = None
    seed: int | None = None
    level: str | None = None
    tempo_bpm: int | None = None
    title: str | None = None


@dataclass(frozen=True)
class Added:
    """A number that was written, and how new it is.

    ``novelty`` counts the longest figures that may be shared at all; ``closest`` is the earlier number with most
    of them and ``shared`` the longest figure in common with it. ``swept`` names what interrupted runs had left.
    """

    written: Numbered
    novelty: Novelty
    closest: Heard | None
    shared: Shared | None
    swept: tuple[str, ...]
    foreign: tuple[str, ...]


def new(folder: Path, choices: Choices) -> None:
    """Makes a series' folder with its choices in it.

    Raises SeriesError when it exists, OutputError when it cannot be made, RuleFileError and BriefError for choices
    that cannot be meant.
    """
    if folder.exists():
        raise SeriesError([f"{folder} exists: choose another name for the series"])
    for key in dict.fromkeys(choices.keys):
        setting_for(_brief(Series[Heard](folder, choices), Wanted(key=key), 0))
    with new_folder(folder, replace=False) as made:
        write_choices(made, choices)


def read(folder: Path) -> Series[Numbered]:
    """Reads a series; raises SeriesError when the folder is none or its choices cannot be read."""
    return _scanned(folder, _number)


def whole(folder: Path) -> Series[Numbered]:
    """Reads a series of which every number must be readable; raises SeriesError with all that is damaged."""
    return _undamaged(read(folder))


def _undamaged(series: Series[N]) -> Series[N]:
    if series.damaged:
        hint = f"{series.folder}: nothing was changed; mend what is named above, or move it out of the series"
        raise SeriesError([*series.damaged, hint])
    return series


def _scanned(folder: Path, reader: Callable[[Path, int], N]) -> Series[N]:
    choices = read_choices(folder)
    numbers: list[N] = []
    damaged: list[str] = []
    foreign: list[str] = []
    taken: dict[int, str] = {}
    for path in sorted(folder.iterdir(), key=lambda p: p.name):
        if not re.fullmatch(_NUMBER, path.name):
            if not path.name.startswith(".") and path.name not in (CHOICES, INDEX):
                foreign.append(path.name)
            continue
        number = int(path.name)
        if number in taken:
            damaged.append(f"{path}: number {number} is there twice, see {taken[number]}")
            continue
        taken[number] = path.name
        try:
            numbers.append(reader(path, number))
        except SeriesError as error:
            damaged += error.problems
    numbers.sort(key=lambda n: n.number)
    following = max(taken, default=0) + 1
    return Series(folder, choices, tuple(numbers), tuple(damaged), tuple(foreign), following)


def _bytes(folder: Path) -> bytes:
    path = folder / STUDY
    try:
        return path.read_bytes()
    except OSError as error:
        raise SeriesError([f"{path}: {error.strerror}: a number's folder holds its {STUDY}"]) from None


def _number(folder: Path, number: int, raw: bytes | None = None) -> Numbered:
    path = folder / STUDY
    try:
        study = at_home(from_json(_bytes(folder) if raw is None else raw), folder.parent)
    except StudyFileError as error:
        raise SeriesError([f"{path}: {problem}" for problem in error.problems]) from None
    if study.number != number:
        raise SeriesError([f"{path}: says number {study.number}, its folder says {number}"])
    return Numbered(number, folder, study)


def _heard(folder: Path, number: int) -> Heard:
    """A number's lines, without a look at the rest of its study; what is strange is read with care."""
    raw = _bytes(folder)
    try:
        data = json.loads(raw)
        if (data["schema_version"], data["number"]) == (SCHEMA_VERSION, number):
            return Heard(number, folder, str(data["title"]), lines_of_data(data))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        pass
    study = _number(folder, number, raw).study
    return Heard(number, folder, study.title, lines(study))


def add(
    folder: Path,
    wanted: Wanted,
    formats: Sequence[str],
    sound: SoundOptions,
    progress: Progress | None = None,
    waiting: Callable[[], None] | None = None,
) -> Added:
    """Writes the next number of a series, unlike all before it, with its formats.

    Raises SeriesError for a series that cannot be read whole, CannotBeMet when no study is new enough, and what
    ``compose.write`` and ``write_formats`` raise; then the series is as it was.
    """
    with _turn(folder, waiting) as swept:
        lost = 0
        while True:
            series = _undamaged(_scanned(folder, _heard))
            number = series.next
            study, most = _new_study(series, wanted)
            path = folder / f"{number:03}"
            try:
                with new_folder(path, replace=False) as made:
                    write_formats(study, made, ("json", *formats), sound, progress)
            except TakenError:
                if number == lost:
                    raise SeriesError([f"{path}: something else of that name is in the way"]) from None
                lost = number
                continue
            return _added(series, Numbered(number, path, study), most, swept)


@contextmanager
def _turn(folder: Path, waiting: Callable[[], None] | None) -> Iterator[tuple[str, ...]]:
    """One writer's turn: gives the names of what interrupted ones had left, which is gone now."""
    read_choices(folder)
    with turn(folder, waiting):
        yield remove_abandoned(folder, _NUMBER)


def _added(series: Series[Heard], written: Numbered, most: int, swept: tuple[str, ...]) -> Added:
    earlier = series.numbers
    new = novelty(written.study, (n.lines for n in earlier), most - 1)
    closest = None if new.closest is None else earlier[new.closest]
    shared = longest_shared(written.study, (closest.lines,)) if closest else None
    return Added(written, new, closest, shared, swept, series.foreign)


def limit(choices: Choices, rules: RuleFile) -> int:
    """The most notes running that a number may share with an earlier one."""
    return rules.series.longest_shared if choices.longest_shared is None else choices.longest_shared


def _new_study(series: Series[Heard], wanted: Wanted) -> tuple[Study, int]:
    """The next number: the first study, seed after seed, that shares no figure longer than the limit; the limit."""
    briefs = [_brief(series, wanted, attempt) for attempt in range(SEEDS)]
    _, rules = read_rules(briefs[0].style, briefs[0].level, briefs[0].options, briefs[0].home)
    most = limit(series.choices, rules)
    title = wanted.title or _title(series, rules)
    # A figure of n moves has n + 1 notes: one note more than the limit is to be avoided.
    heard = [figures(n.lines, most) for n in series.numbers]
    avoid = Avoid(most, frozenset().union(*heard))
    why = ""
    for brief in briefs:
        try:
            study = compose.write(replace(brief, title=title), avoid)
        except compose.CannotBeMet as error:
            if not heard:
                raise
            why = error.where
            continue
        if avoid.figures.isdisjoint(figures(study, most)):
            return replace(study, origin=ORIGIN.format(number=series.next, name=series.choices.name)), most
        why = f"more than {most} notes running were heard before"
    raise compose.CannotBeMet(
        f"{why}; number {series.next} may share at most {most} notes running with an earlier one: allow more "
        f"(longest_shared in {series.folder / CHOICES}), or take another style, level or key"
    )


def _brief(series: Series[Heard], wanted: Wanted, attempt: int) -> Brief:
    choices, number = series.choices, series.next
    seed = wanted.seed if wanted.seed is not None and not attempt else _seed(choices, wanted, number, attempt)
    return Brief(
        choices.style,
        choices.keys[(number - 1) % len(choices.keys)] if wanted.key is None else wanted.key,
        seed,
        wanted.tempo_bpm,
        wanted.level or choices.level,
        wanted.title,
        number,
        choices.options,
        str(series.folder),
    )


def _seed(choices: Choices, wanted: Wanted, number: int, attempt: int) -> int:
    """A seed of its own for each number and attempt, under 2**31."""
    words = f"{choices.name}|{number}|{wanted.seed}|{attempt}".encode()
    return int.from_bytes(hashlib.sha256(words).digest()[:4], "big") >> 1


def _title(series: Series[Heard], rules: RuleFile) -> str:
    """The style's title that was used least so far, with a count from its second time on."""
    titles = rules.study.titles
    used = [n.title for n in series.numbers]

    def times(title: str) -> int:
        return sum(t == title or re.fullmatch(re.escape(title) + r" \(\d+\)", t) is not None for t in used)

    title = min(titles, key=times)
    count = times(title) + 1
    return title if count == 1 else f"{title} ({count})"
