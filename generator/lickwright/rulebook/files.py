"""Finding and reading single rule files: shipped ones by name, the user's own by path.

A rule file may include others by name: a shipped one (``parts/lead``) or one beside it.
"""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path
from typing import Any

from lickwright.problems import ProblemsError
from lickwright.rulebook.nearest import nearest
from lickwright.storage.toml_text import parsed
from lickwright.study.model import RuleDigest

MAX_BYTES = 512 * 1024
#: Folders above a study's or a series' own in which a rule file is looked for that it names.
MAX_ABOVE = 3
#: What is merged after a style, each kind from its own folder of shipped files.
LAST_FOLDERS = {"level": "levels", "hand": "hands", "strings": "strings", "neck": "necks"}


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


def _places(home: str) -> list[Path]:
    """Where a rule file of the user's own is looked for: beside the file that names it, above it, here."""
    here = Path()
    if not home:
        return [here]
    folder = Path(os.path.abspath(home))
    return [folder, *folder.parents[:MAX_ABOVE], here]


def own_file(reference: str, home: str) -> Path | None:
    """The rule file of the user's own that a reference means, as named from where one stands."""
    for folder in _places(home):
        path = Path(os.path.normpath(folder / reference))
        if path.is_file():
            return Path(reference) if Path(reference).is_absolute() else Path(os.path.relpath(path))
    return None


def looked_in(reference: str, home: str) -> str:
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
            if own_file(reference, home) is None:
                raise RuleFileError([f"unknown style {reference!r}: {nearest(reference, style_names())}"])
        own = own_file(reference, home)
        if own is None:
            shipped = f"the shipped styles are {', '.join(style_names())}"
            raise RuleFileError([f"{reference}: no such rule file{looked_in(reference, home)}; {shipped}"])
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
            data, _ = read_file(root / folder / f"{name}.toml")
            rows.append((prefix + name, _first_sentence(str(data.get("about", "")))))
        found[heading] = rows
    return found


def _first_sentence(about: str) -> str:
    """What a listing says of a file; signs that are explained may hold a stop, and so may names of files."""
    return re.split(r"\.(?:\s|$)", " ".join(about.split()))[0]


def _is_shipped(path: Path) -> bool:
    return path.resolve().is_relative_to(shipped_rules().resolve())


def label_of(path: Path) -> str:
    """What messages call a rule file: a shipped one by its name, another by the way to it."""
    root = shipped_rules().resolve()
    return path.resolve().relative_to(root).as_posix() if _is_shipped(path) else path.as_posix()


def read_file(path: Path, said: str = "") -> tuple[dict[str, Any], RuleDigest]:
    """A rule file's data and its digest, under the name ``said`` unless it is a shipped one."""
    label = label_of(path)
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
