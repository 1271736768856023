"""``series.toml``: what the user chose for a series, and its checks. It knows nothing of the numbers."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from lickwright.problems import ProblemsError
from lickwright.storage.files import write_whole
from lickwright.storage.toml_text import parsed
from lickwright.theory.harmony import KEY_NAMES, Key

CHOICES = "series.toml"
_MOST_BYTES = 64 * 1024
_HEAD = "# What was chosen for this series; its numbers lie in the folders beside this file.\n"


class SeriesError(ProblemsError):
    """A series that cannot be used: ``problems`` has a line each, with the file and what would be right."""


@dataclass(frozen=True)
class Choices:
    """A series' name (its seeds come from it), style, keys in turn, level, limit, options as in a brief.

    ``longest_shared`` (notes running) stands in place of the style's own when given. A style or an option that is
    a rule file of the user's own (``.toml``) is named from the series' folder.
    """

    name: str
    style: str
    keys: tuple[str, ...]
    level: str | None = None
    longest_shared: int | None = None
    options: tuple[tuple[str, str], ...] = ()


def through_all_keys(first: str) -> tuple[str, ...]:
    """The twelve keys in fourths upwards from the first. Raises ValueError for a key that is none.

    >>> through_all_keys("A")[:5]
    ('A', 'D', 'G', 'C', 'F')
    """
    start = Key.parse(first).pitch_class
    return tuple(KEY_NAMES[(start + 5 * k) % 12] for k in range(12))


def write_choices(folder: Path, choices: Choices) -> None:
    """Writes ``series.toml`` into a folder. Raises SeriesError for text that is not printable, and OSError."""
    rows: list[tuple[str, Any]] = [
        ("name", choices.name),
        ("style", choices.style),
        ("keys", list(choices.keys)),
        ("level", choices.level),
        ("longest_shared", choices.longest_shared),
    ]
    text = _HEAD + "".join(f"{key} = {_toml(key, value)}\n" for key, value in rows if value is not None)
    if choices.options:
        text += "\n[options]\n" + "".join(
            f"{kind} = {_toml(kind, value)}\n" for kind, value in choices.options
        )
    write_whole(folder / CHOICES, text.encode())


def _toml(key: str, value: Any) -> str:
    """A value in TOML: printable strings, whole numbers and lists of strings are written as in JSON."""
    for text in value if isinstance(value, list) else [value]:
        if isinstance(text, str) and not text.isprintable():
            raise SeriesError([f"{key}: {text!r} has characters that cannot be printed"])
    return json.dumps(value, ensure_ascii=False)


def read_choices(folder: Path) -> Choices:
    """Reads ``series.toml``. Raises SeriesError with every mistake, its file and key."""
    from pydantic import ValidationError

    path = folder / CHOICES
    if not folder.is_dir():
        raise SeriesError([f"{folder}: no such series; make it with series new"])
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SeriesError([f"{path}: {error.strerror}: a series' folder holds its {CHOICES}"]) from None
    try:
        data = parsed(raw, _MOST_BYTES)
    except ValueError as error:
        raise SeriesError([f"{path}: {error}"]) from None
    try:
        return _checked(data)
    except ValidationError as error:
        raise SeriesError(
            [f"{path}: {'.'.join(str(p) for p in e['loc'])}: {e['msg']}" for e in error.errors()]
        ) from None


def _checked(data: dict[str, Any]) -> Choices:
    from pydantic import AfterValidator, BaseModel, ConfigDict, Field

    def key(text: str) -> str:
        Key.parse(text)
        return text

    class File(BaseModel):
        model_config = ConfigDict(extra="forbid", strict=True)
        name: str = Field(min_length=1)
        style: str = Field(min_length=1)
        keys: list[Annotated[str, AfterValidator(key)]] = Field(min_length=1, max_length=1000)
        level: str | None = None
        longest_shared: int | None = Field(default=None, ge=2, le=24)
        options: dict[str, str] = {}

    file = File.model_validate(data)
    return Choices(
        file.name, file.style, tuple(file.keys), file.level, file.longest_shared, tuple(file.options.items())
    )
