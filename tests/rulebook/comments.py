"""The comments of the shipped rule files: each key of a fixed table has its description from the schema beside it.

``python -m tests.rulebook.comments`` writes them anew. A comment right above such a key is replaced; one that is
followed by an empty line is the writer's own and stays. Tables that a file names itself (cells, grips, palettes by chord)
have one above the first of them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lickwright.rulebook.load import shipped_rules
from lickwright.rulebook.schema.base import Table
from lickwright.rulebook.schema.rule_file import RuleFile

#: A comment stands on the line of its key where the two are no longer than this, above it otherwise.
WIDEST_KEY, WIDEST_COMMENT = 36, 80


def files() -> list[Path]:
    """The rule files whose comments are written."""
    return sorted(path for path in shipped_rules().rglob("*.toml") if path.name not in NOT_YET)


#: Files that have comments of their own.
NOT_YET = ("comping.toml", "comping-straight.toml", "cells.toml", "phrases.toml")


def described(path: tuple[str, ...]) -> str | None:
    """The description of a key; None for one that a file names itself, and below it."""
    model: Any = RuleFile
    for n, step in enumerate(path, 1):
        if not (isinstance(model, type) and issubclass(model, Table)) or step not in model.model_fields:
            return None
        field = model.model_fields[step]
        if n == len(path):
            return field.description
        model = field.annotation
    return None


@dataclass(frozen=True)
class Part:
    """A stretch of a rule file: a header, a key with its value, or anything else (then without a path)."""

    code: tuple[str, ...]
    path: tuple[str, ...] = ()
    header: bool = False


def parts(text: str) -> Iterator[Part]:
    """A rule file cut up; comments on the line of a key are taken off."""
    table: tuple[str, ...] = ()
    lines = text.splitlines()
    n = 0
    while n < len(lines):
        line = lines[n]
        if line.startswith("["):
            code = uncommented(line)
            table = tuple(keys_of(code.strip("[]") + " = 0"))
            yield Part((code,), table, header=True)
        elif not line.strip() or line.startswith("#"):
            yield Part((line,))
        else:
            end = next(k for k in range(n, len(lines)) if parses("\n".join(lines[n : k + 1])))
            code_lines = [*lines[n:end], uncommented(lines[end]) if end == n else lines[end]]
            yield Part(tuple(code_lines), (*table, *keys_of("\n".join(code_lines))))
            n = end
        n += 1


def parses(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def uncommented(line: str) -> str:
    """A line without the comment at its end."""
    for n, sign in enumerate(line):
        if sign == "#" and parses(line[:n]):
            return line[:n].rstrip()
    return line.rstrip()


def keys_of(assignment: str) -> list[str]:
    """The keys on the left of an assignment: one, or several with dots between them."""
    signs = (n for n, sign in enumerate(assignment) if sign == "=")
    left = next(assignment[:n] for n in signs if parses(f"{assignment[:n]} = 0"))
    value: Any = tomllib.loads(f"{left} = 0")
    found = []
    while isinstance(value, dict):
        ((key, value),) = value.items()
        found.append(key)
    return found


def commented(text: str) -> str:
    """The rule file with the comments of the schema."""
    lines: list[str] = []
    run: list[tuple[str, str]] = []
    above: set[tuple[str, ...]] = set()

    def settle() -> None:
        column = 2 + max((len(code) for code, _ in run), default=0)
        lines.extend(f"{code:<{column}}# {comment}" for code, comment in run)
        run.clear()

    everything = list(parts(text))
    own_headers = {p.path for p in everything if p.header}
    for part in everything:
        comment = described(part.path) if part.path else None
        if part.header and comment is None:
            named = next(
                (part.path[:n] for n in range(len(part.path), 0, -1) if described(part.path[:n])), ()
            )
            if named and named not in above | own_headers:
                above.add(named)
                comment = described(named)
        if comment is None:
            settle()
            lines.extend(part.code)
            continue
        code = part.code[0]
        fits = len(code) <= WIDEST_KEY and len(comment) <= WIDEST_COMMENT and len(part.code) == 1
        if run and not part.header and fits:
            run.append((code, comment))
            continue
        settle()
        while lines and lines[-1].startswith("#"):
            lines.pop()
        if part.header or not fits:
            lines.append(f"# {comment}")
            lines.extend(part.code)
        else:
            run.append((code, comment))
    settle()
    return "\n".join(lines).rstrip("\n") + "\n"


if __name__ == "__main__":
    for file in files():
        file.write_text(commented(file.read_text(encoding="utf-8")), encoding="utf-8")
