"""A series: a folder of numbered studies in which no number repeats a figure of an earlier one.

Each number is a folder of its own (``001``, ``002`` ...) with its ``study.json`` and what was made from it; the
study files themselves are the record. Beside them ``series.toml`` holds what the user chose, and nothing else.

A number takes its name in one step, when all of it is on the disk, and only if nobody else has taken it: then the
next number is tried, with all the earlier ones in view. Writers wait for one another, so that this is rare, but
nothing depends on it. The same choices, keys and seeds give the same series on every run.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from generator import compose
from generator.figures import Avoid, Novelty, Shared, figures, longest_shared, novelty
from generator.render.files import turn
from generator.render.outputs import (
    OutputError,
    Progress,
    SoundOptions,
    TakenError,
    new_folder,
    sweep,
    write_formats,
)
from generator.series_file import CHOICES, Choices, SeriesError, read_choices, write_choices
from generator.study import Brief, Study, StudyFileError, from_json

STUDY = "study.json"
INDEX = "index.html"
#: Seeds tried for one number before the answer is no.
SEEDS = 100
_NUMBER = r"\d{1,9}"


@dataclass(frozen=True)
class Numbered:
    """A number of a series: its folder, and the study in it."""

    number: int
    folder: Path
    study: Study


@dataclass(frozen=True)
class Series:
    """A series as it lies on the disk: its folder, the user's choices, the numbers in order.

    ``damaged`` says what is wrong with numbers that cannot be read, ``foreign`` names what does not belong to it;
    both are left as they are. ``next`` is the number after the last, damaged ones counted.
    """

    folder: Path
    choices: Choices
    numbers: tuple[Numbered, ...]
    damaged: tuple[str, ...]
    foreign: tuple[str, ...]
    next: int


@dataclass(frozen=True)
class Wish:
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
    closest: Numbered | None
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
    for key in choices.keys:
        compose.setting(_brief(folder, choices, Wish(key=key), 1, 0))
    with new_folder(folder, replace=False) as made:
        write_choices(made, choices)


def read(folder: Path) -> Series:
    """Reads a series; raises SeriesError when the folder is none or its choices cannot be read."""
    choices = read_choices(folder)
    numbers: list[Numbered] = []
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
            numbers.append(Numbered(number, path, _read_study(path, number)))
        except SeriesError as error:
            damaged += error.problems
    numbers.sort(key=lambda n: n.number)
    return Series(folder, choices, tuple(numbers), tuple(damaged), tuple(foreign), max(taken, default=0) + 1)


def whole(folder: Path) -> Series:
    """Reads a series of which every number must be readable; raises SeriesError with all that is damaged."""
    series = read(folder)
    if series.damaged:
        hint = f"{folder}: nothing was changed; mend what is named above, or move it out of the series"
        raise SeriesError([*series.damaged, hint])
    return series


def _read_study(folder: Path, number: int) -> Study:
    path = folder / STUDY
    try:
        study = from_json(path.read_bytes())
    except StudyFileError as error:
        raise SeriesError([f"{path}: {problem}" for problem in error.problems]) from None
    except OSError as error:
        raise SeriesError([f"{path}: {error.strerror}: a number's folder holds its {STUDY}"]) from None
    if study.number != number:
        raise SeriesError([f"{path}: says number {study.number}, its folder says {number}"])
    return study


def add(
    folder: Path,
    wish: Wish,
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
        while True:
            series = whole(folder)
            number = series.next
            study = _new_study(series, wish)
            path = folder / f"{number:03}"
            try:
                with new_folder(path, replace=False) as made:
                    write_formats(study, made, ("json", *formats), sound, progress)
            except TakenError:
                continue
            return _added(series, Numbered(number, path, study), swept)


@contextmanager
def _turn(folder: Path, waiting: Callable[[], None] | None) -> Iterator[tuple[str, ...]]:
    """One writer's turn: gives the names of what interrupted ones had left, which is gone now."""
    read_choices(folder)
    with turn(folder, waiting) as alone:
        yield sweep(folder, _NUMBER) if alone else ()


def _added(series: Series, written: Numbered, swept: tuple[str, ...]) -> Added:
    earlier = series.numbers
    order = limit(series.choices, written.study.brief) - 1
    new = novelty(written.study, (n.study for n in earlier), order)
    closest = None if new.closest is None else earlier[new.closest]
    shared = longest_shared(written.study, (closest.study,)) if closest else None
    return Added(written, new, closest, shared, swept, series.foreign)


def limit(choices: Choices, brief: Brief) -> int:
    """The most notes running that a number may share with an earlier one."""
    if choices.longest_shared is not None:
        return choices.longest_shared
    return compose.read_rules(brief.style, brief.level, brief.options)[1].series.longest_shared


def _new_study(series: Series, wish: Wish) -> Study:
    """The next number: the first study, seed after seed, that shares no figure longer than the limit."""
    brief = _brief(series.folder, series.choices, wish, series.next, 0)
    compose.setting(brief)
    most = limit(series.choices, brief)
    # A figure of n moves has n + 1 notes: one note more than the limit is to be avoided.
    avoid = Avoid(most, frozenset[tuple[tuple[int, int], ...]]().union(
        *(figures(n.study, most) for n in series.numbers)
    ))  # fmt: skip
    title = wish.title or _title(series, brief)
    for attempt in range(SEEDS):
        study = _write(_brief(series.folder, series.choices, wish, series.next, attempt, title), avoid)
        if study is not None:
            return study
    raise compose.CannotBeMet(
        f"{SEEDS} seeds for number {series.next} all share more than {most} notes running with an earlier "
        "number; allow more (longest_shared), or another style or level"
    )


def _write(brief: Brief, avoid: Avoid) -> Study | None:
    """A study without the figures to avoid, or None: the one place that asks for it."""
    study = compose.write(brief)
    return study if avoid.figures.isdisjoint(figures(study, avoid.order)) else None


def _brief(
    folder: Path, choices: Choices, wish: Wish, number: int, attempt: int, title: str | None = None
) -> Brief:
    key = wish.key or choices.keys[(number - 1) % len(choices.keys)]
    seed = wish.seed if wish.seed is not None and not attempt else _seed(choices, wish, number, attempt)
    return Brief(
        _from_here(folder, choices.style),
        key,
        seed,
        wish.tempo_bpm,
        wish.level or choices.level,
        title or wish.title,
        number,
        tuple((kind, _from_here(folder, value)) for kind, value in choices.options),
    )


def _seed(choices: Choices, wish: Wish, number: int, attempt: int) -> int:
    """A seed of its own for each number and attempt, under 2**31."""
    words = f"{choices.name}|{number}|{wish.seed}|{attempt}".encode()
    return int.from_bytes(hashlib.sha256(words).digest()[:4], "big") >> 1


def _from_here(folder: Path, reference: str) -> str:
    """A rule file named in a series' choices, which is named from the series' folder, as named from here."""
    return os.path.relpath(folder / reference) if reference.endswith(".toml") else reference


def _title(series: Series, brief: Brief) -> str:
    """The style's title that was used least so far, with a count from its second time on."""
    titles = compose.read_rules(brief.style, brief.level, brief.options)[1].study.titles
    used = [n.study.title for n in series.numbers]

    def times(title: str) -> int:
        return sum(t == title or re.fullmatch(re.escape(title) + r" \(\d+\)", t) is not None for t in used)

    title = min(titles, key=times)
    count = times(title) + 1
    return title if count == 1 else f"{title} ({count})"


__all__ = [
    "Added",
    "Choices",
    "Numbered",
    "OutputError",
    "Series",
    "SeriesError",
    "Wish",
    "add",
    "limit",
    "new",
    "read",
    "whole",
]
