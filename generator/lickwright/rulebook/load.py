"""Rule files and what they include, merged into one book that knows where each key was read.

Included files come first, in order, and what a later file says overrides an earlier one table by table, key by
key. Last come the level's file and those of the options: a hand, strings, a neck, and single keys such as the tuning.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from lickwright.rulebook.files import (
    LAST_FOLDERS,
    MAX_BYTES,
    RuleFileError,
    label_of,
    last_names,
    level_names,
    locate,
    looked_in,
    own_file,
    part_names,
    read_file,
    shipped_rules,
    shipped_titles,
    style_names,
)
from lickwright.rulebook.nearest import nearest
from lickwright.rulebook.rule import Source
from lickwright.study.model import RuleDigest

__all__ = [
    "LAST_KEYS",
    "MAX_BYTES",
    "MAX_FILES",
    "MAX_INCLUDES",
    "Book",
    "KeyPath",
    "Options",
    "RuleFileError",
    "gather",
    "last_names",
    "level_names",
    "locate",
    "part_names",
    "shipped_rules",
    "shipped_titles",
    "style_names",
]

KeyPath = tuple[str, ...]
MAX_INCLUDES = 64
MAX_FILES = 256
#: Options that set one key of a table.
LAST_KEYS = {
    "tuning": ("neck", "tuning"),
    "capo": ("neck", "capo"),
    "adventurous": ("lead", "adventurous"),
}
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Book:
    """Rule files merged: the data, where each key was read, the digest of each file, the main file's name."""

    name: str
    data: dict[str, Any]
    origin: dict[KeyPath, str]
    digests: tuple[RuleDigest, ...]

    def source(self, *path: str) -> Source:
        """Where a key (or the nearest table above it) was read."""
        for n in range(len(path), 0, -1):
            if path[:n] in self.origin:
                return Source(self.origin[path[:n]], ".".join(path))
        return Source(self.name, ".".join(path))


def _merge(
    into: dict[str, Any], data: dict[str, Any], label: str, origin: dict[KeyPath, str], at: KeyPath
) -> None:
    for key, value in data.items():
        path = (*at, key)
        origin[path] = label
        if isinstance(value, dict) and isinstance(into.get(key), dict) and not _replaced_whole(path):
            _merge(into[key], value, label, origin, path)
        else:
            into[key] = _copy(value, label, origin, path)


def _replaced_whole(path: KeyPath) -> bool:
    """Tables of points by degree are one statement: a later file's stands in place of an earlier one's."""
    parents = {
        ("lead", "palette"): 3,
        ("lead", "landing"): 4,
        ("lead", "figure", "fits"): 3,
        ("lead", "melody", "pairs"): 3,
    }
    return any(path[: len(start)] == start and len(path) == depth for start, depth in parents.items())


def _copy(value: Any, label: str, origin: dict[KeyPath, str], at: KeyPath) -> Any:
    if isinstance(value, dict):
        made = {}
        for key, inner in value.items():
            origin[(*at, key)] = label
            made[key] = _copy(inner, label, origin, (*at, key))
        return made
    return value


def _gather(
    path: Path, trail: tuple[Path, ...], said: str = ""
) -> Iterator[tuple[str, dict[str, Any], RuleDigest]]:
    """The included files of a file, then the file itself; ``said`` is what a study file calls it."""
    resolved = path.resolve()
    if resolved in trail:
        circle = " includes ".join(label_of(p) for p in (*trail[trail.index(resolved) :], resolved))
        raise RuleFileError([f"includes go in a circle: {circle}"])
    if len(trail) > MAX_INCLUDES:
        raise RuleFileError([f"{label_of(path)}: includes nest deeper than {MAX_INCLUDES}"])
    data, digest = read_file(path, said)
    includes = data.get("include", [])
    if not isinstance(includes, list) or not all(isinstance(i, str) for i in includes):
        raise RuleFileError([f"{label_of(path)}: include: must be a list of rule file names"])
    for reference in includes:
        included = locate(reference, beside=path)
        name = os.path.relpath(included, resolved.parent)
        yield from _gather(included, (*trail, resolved), (Path(digest.name).parent / name).as_posix())
    yield label_of(path), data, digest


_Merged = tuple[str, dict[str, Any], RuleDigest | None]


def _last(kind: str, value: str, home: str = "") -> list[_Merged]:
    """What an option merges last: a shipped file's name or a path for a folder's kind, or one key's value."""
    if kind in LAST_KEYS:
        table, key = LAST_KEYS[kind]
        return [(f"--{kind}", {table: {key: int(value) if value.isdecimal() else value}}, None)]
    if kind not in LAST_FOLDERS:
        raise RuleFileError([f"unknown option {kind!r}: {nearest(kind, [*LAST_FOLDERS, *LAST_KEYS])}"])
    names = last_names(kind)
    if value in names:
        return list(_gather(shipped_rules() / LAST_FOLDERS[kind] / f"{value}.toml", ()))
    own = None if kind == "level" else own_file(value, home)
    if own is None:
        looked = f"no such file{looked_in(value, home)}; " if home and value.endswith(".toml") else ""
        raise RuleFileError([f"unknown {kind} {value!r}: {looked}{nearest(value, names)}"])
    return list(_gather(own, (), _said(value)))


def _said(reference: str) -> str:
    """A rule file's name as a study file keeps it: as it was asked for, wherever one stands."""
    return Path(reference).as_posix()


def gather(
    style: str,
    level: str | None = None,
    files_only: bool = False,
    options: Options = (),
    home: str = "",
    style_home: str | None = None,
) -> Book:
    """Reads a style (a shipped name or a path) with its includes, a level and options, and merges them.

    The level comes after the parts and before the first style, so that what a style says itself holds at every level.
    With ``files_only`` nothing is added to the file. ``options`` are pairs such as ("hand", "small"). ``home`` is the
    folder of the study or series that names them, "" when they are named from where one stands; ``style_home`` that
    of the style, where it is another.

    Raises RuleFileError for what cannot be read or found. Nothing is checked for sense yet.
    """
    main = locate(style, home=home if style_home is None else style_home)
    files: list[_Merged] = list(islice(_gather(main, (), _said(style)), MAX_FILES + 1))
    if len(files) > MAX_FILES:
        raise RuleFileError([f"{label_of(main)}: includes come to more than {MAX_FILES} files"])
    main_data = files[-1][1]
    own_level = main_data["study"].get("level") if isinstance(main_data.get("study"), dict) else None
    chosen = level or (own_level if isinstance(own_level, str) else "growing")
    if not files_only:
        styles = (n for n, (_, data, _) in enumerate(files) if "study" in data)
        first = next(styles, len(files) - 1)
        files[first:first] = _last("level", chosen)
    for kind, value in options:
        files += _last(kind, value, home)
    data: dict[str, Any] = {}
    origin: dict[KeyPath, str] = {}
    digests: dict[str, RuleDigest] = {}
    for label, table, digest in files:
        _merge(data, table, label, origin, ())
        if digest is not None:
            digests[label] = digest
    for key in ("title", "about", "include"):
        data[key] = main_data.get(key, [] if key == "include" else "")
    return Book(label_of(main), data, origin, tuple(digests.values()))
