"""Finding, merging and checking rule files; every mistake is reported with its file and key, all at once.

A rule file may include others by name: a shipped one (``parts/lead``) or one beside it. Included files come
first, in order, and what a later file says overrides an earlier one table by table, key by key. Last come
the level's file and those of the options: a hand, strings, a neck, and single keys such as the tuning.
"""

from __future__ import annotations

import difflib
import hashlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from lickwright.problems import ProblemsError
from lickwright.rulebook.rule import Source
from lickwright.storage.toml_text import parsed
from lickwright.study.model import RuleDigest

KeyPath = tuple[str, ...]
MAX_BYTES = 512 * 1024
MAX_INCLUDES = 64
MAX_FILES = 256
#: Folders above a study's or a series' own in which a rule file is looked for that it names.
MAX_ABOVE = 3
#: What is merged after a style, each kind from its own folder of shipped files.
LAST_FOLDERS = {"level": "levels", "hand": "hands", "strings": "strings", "neck": "necks"}
#: Options that set one key of a table.
LAST_KEYS = {
    "tuning": ("neck", "tuning"),
    "capo": ("neck", "capo"),
    "adventurous": ("lead", "adventurous"),
}
Options = tuple[tuple[str, str], ...]


class RuleFileError(ProblemsError):
    """Rule files that cannot be used: ``problems`` has a line each, with file, key and what would be right."""


def shipped_rules() -> Path:
    """The folder of the shipped rule files, installed or in a checkout."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "shipped_rules"
    return installed if installed.is_dir() else package.parents[1] / "rules"


def _names(folder: Path) -> list[str]:
    return sorted(p.stem for p in folder.glob("*.toml"))


def style_names() -> list[str]:
    """The shipped styles, by name."""
    return _names(shipped_rules())


def level_names() -> list[str]:
    """The shipped levels, by name."""
    return last_names("level")


def last_names(kind: str) -> list[str]:
    """The shipped files of a kind that is merged last: ``level``, ``hand``, ``strings`` or ``neck``."""
    return _names(shipped_rules() / LAST_FOLDERS[kind])


def part_names() -> list[str]:
    """The shipped parts that styles include."""
    return [f"parts/{name}" for name in _names(shipped_rules() / "parts")]


def nearest(word: str, known: list[str]) -> str:
    """``did you mean ...`` with the nearest known words, or all of them when none is near."""
    close = difflib.get_close_matches(word, known, n=3, cutoff=0.5)
    return f"did you mean {' or '.join(close)}?" if close else f"there are {', '.join(known)}"


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


def _places(home: str) -> list[Path]:
    """Where a rule file of the user's own is looked for: beside the file that names it, above it, here."""
    here = Path()
    if not home:
        return [here]
    folder = Path(os.path.abspath(home))
    return [folder, *folder.parents[:MAX_ABOVE], here]


def _own(reference: str, home: str) -> Path | None:
    """The rule file of the user's own that a reference means, as named from where one stands."""
    for folder in _places(home):
        path = Path(os.path.normpath(folder / reference))
        if path.is_file():
            return Path(reference) if Path(reference).is_absolute() else Path(os.path.relpath(path))
    return None


def _looked(reference: str, home: str) -> str:
    """Says where a rule file was looked for, when that was in more than one place."""
    if not home or Path(reference).is_absolute():
        return ""
    *folders, _ = _places(home)
    return f" in {', '.join(map(str, folders))} or where you are"


def locate(reference: str, beside: Path | None = None, home: str = "") -> Path:
    """The file a style, an include or a path means; raises RuleFileError naming the nearest there are.

    An include (``beside`` given) must lie under the shipped rules or under the including file's folder. ``home``
    is the folder of the study or series that names the file.
    """
    root = shipped_rules()
    if beside is None:
        folders = "|".join(("parts", *LAST_FOLDERS.values()))
        if re.fullmatch(rf"(?:(?:{folders})/)?[\w\- ]+", reference):
            path = root / f"{reference}.toml"
            if path.is_file():
                return path
            if _own(reference, home) is None:
                raise RuleFileError([f"unknown style {reference!r}: {nearest(reference, style_names())}"])
        own = _own(reference, home)
        if own is None:
            shipped = f"the shipped styles are {', '.join(style_names())}"
            raise RuleFileError([f"{reference}: no such rule file{_looked(reference, home)}; {shipped}"])
        return own
    if not reference.isprintable():
        raise RuleFileError([f"{beside.name}: include: {reference!r} is no file's name"])
    relative = Path(reference if reference.endswith(".toml") else reference + ".toml")
    for folder in (beside.parent, root):
        path = (folder / relative).resolve()
        if not path.is_relative_to(folder.resolve()) and not path.is_relative_to(root.resolve()):
            raise RuleFileError([f"{beside.name}: include: {reference!r} leaves the rule folders"])
        if path.is_file():
            return path
    raise RuleFileError(
        [
            f"{beside.name}: include: no rule file {reference!r}; {nearest(reference, part_names() + style_names())}"
        ]
    )


def shipped_titles() -> dict[str, list[tuple[str, str]]]:
    """What is shipped under each heading: (name, what it is about)."""
    root = shipped_rules()
    found = {}
    for heading, folder, prefix in (
        ("styles", "", ""),
        *((folder, folder, "") for folder in LAST_FOLDERS.values()),
        ("parts", "parts", "parts/"),
    ):
        rows = []
        for name in _names(root / folder):
            data, _ = _read(root / folder / f"{name}.toml")
            rows.append((prefix + name, _first_sentence(str(data.get("about", "")))))
        found[heading] = rows
    return found


def _first_sentence(about: str) -> str:
    """What a listing says of a file; signs that are explained may hold a stop, and so may names of files."""
    return re.split(r"\.(?:\s|$)", " ".join(about.split()))[0]


def check_file(reference: str) -> list[str]:
    """Every mistake in a rule file (a shipped name or a path), a line each; raises RuleFileError if unreadable.

    A style is checked whole; a part, which has no ``[study]``, by the tables it has.
    """
    book = gather(reference, files_only=True)
    return mistakes(book, partial=True) if "study" not in book.data else mistakes(gather(reference))


def _is_shipped(path: Path) -> bool:
    return path.resolve().is_relative_to(shipped_rules().resolve())


def _label(path: Path) -> str:
    """What messages call a rule file: a shipped one by its name, another by the way to it."""
    root = shipped_rules().resolve()
    return path.resolve().relative_to(root).as_posix() if _is_shipped(path) else path.as_posix()


def _read(path: Path, said: str = "") -> tuple[dict[str, Any], RuleDigest]:
    """A rule file's data and its digest, under the name ``said`` unless it is a shipped one."""
    label = _label(path)
    name = label if not said or _is_shipped(path) else said
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise RuleFileError([f"{label}: cannot be read ({error.strerror})"]) from None
    try:
        data = parsed(raw, MAX_BYTES)
    except ValueError as error:
        raise RuleFileError([f"{label}: {error}"]) from None
    return data, RuleDigest(name, hashlib.sha256(raw).hexdigest())


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
        circle = " includes ".join(_label(p) for p in (*trail[trail.index(resolved) :], resolved))
        raise RuleFileError([f"includes go in a circle: {circle}"])
    if len(trail) > MAX_INCLUDES:
        raise RuleFileError([f"{_label(path)}: includes nest deeper than {MAX_INCLUDES}"])
    data, digest = _read(path, said)
    includes = data.get("include", [])
    if not isinstance(includes, list) or not all(isinstance(i, str) for i in includes):
        raise RuleFileError([f"{_label(path)}: include: must be a list of rule file names"])
    for reference in includes:
        included = locate(reference, beside=path)
        name = os.path.relpath(included, resolved.parent)
        yield from _gather(included, (*trail, resolved), (Path(digest.name).parent / name).as_posix())
    yield _label(path), data, digest


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
    own = None if kind == "level" else _own(value, home)
    if own is None:
        looked = f"no such file{_looked(value, home)}; " if home and value.endswith(".toml") else ""
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
        raise RuleFileError([f"{_label(main)}: includes come to more than {MAX_FILES} files"])
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
    return Book(_label(main), data, origin, tuple(digests.values()))


def mistakes(book: Book, partial: bool = False) -> list[str]:
    """Everything wrong in merged rule files, a line each. ``partial`` lets whole tables be missing."""
    from pydantic import ValidationError

    from lickwright.rulebook.schema.rule_file import RuleFile
    from lickwright.rulebook.sense import senseless

    problems: list[str] = []
    try:
        rules = RuleFile.model_validate(book.data)
    except ValidationError as error:
        for found in error.errors():
            if partial and found["type"] == "missing":
                continue
            path = tuple(str(p) for p in found["loc"] if p not in ("[key]",))
            problems.append(f"{book.source(*path)}: {_say(found, path)}")
        return problems
    return [f"{book.source(*path)}: {message}" for path, message in senseless(rules)]


def _say(found: Any, path: KeyPath) -> str:
    kind, message = found["type"], found["msg"].removeprefix("Value error, ")
    if kind == "extra_forbidden":
        return f"unknown key; {nearest(path[-1], _known_keys(path[:-1]))}"
    if kind == "missing":
        return "is missing"
    given = found.get("input")
    shown = "" if isinstance(given, (dict, list)) else f" (found {given!r})"
    return f"{message[0].lower()}{message[1:]}{shown}"


def _known_keys(path: KeyPath) -> list[str]:
    """The keys a table may have, by walking the schema's models."""
    from typing import get_args

    from lickwright.rulebook.schema.player import Table
    from lickwright.rulebook.schema.rule_file import RuleFile

    model: Any = RuleFile
    for step in path:
        if isinstance(model, type) and issubclass(model, Table) and step in model.model_fields:
            model = model.model_fields[step].annotation
        else:
            model = get_args(model)[-1]
    return list(model.model_fields) if isinstance(model, type) and issubclass(model, Table) else []
