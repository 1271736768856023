"""Checking merged rule files: every mistake with its file and key and what would be right, all at once."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import ValidationError

from lickwright.rulebook.load import Book, KeyPath, gather
from lickwright.rulebook.nearest import nearest
from lickwright.rulebook.schema.base import Table
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.sense import senseless


def check_file(reference: str) -> list[str]:
    """Every mistake in a rule file (a shipped name or a path), a line each; raises RuleFileError if unreadable.

    A style is checked whole; a part, which has no ``[study]``, by the tables it has.
    """
    book = gather(reference, files_only=True)
    return mistakes(book, partial=True) if "study" not in book.data else mistakes(gather(reference))


def mistakes(book: Book, partial: bool = False) -> list[str]:
    """Everything wrong in merged rule files, a line each. ``partial`` lets whole tables be missing."""

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
    model: Any = RuleFile
    for step in path:
        if isinstance(model, type) and issubclass(model, Table) and step in model.model_fields:
            model = model.model_fields[step].annotation
        else:
            model = get_args(model)[-1]
    return list(model.model_fields) if isinstance(model, type) and issubclass(model, Table) else []
