"""What rule files weigh one thing against another by: each such number with its key, its sentence and its source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from lickwright.rulebook.load import Book
from lickwright.rulebook.rule import Source
from lickwright.rulebook.schema.base import Charge, Table
from lickwright.rulebook.schema.rule_file import RuleFile


@dataclass(frozen=True)
class Cost:
    """A key's number: ``unit`` is points, times (as dear or as often) or weight (how often, against others)."""

    source: Source
    value: str
    unit: str
    sentence: str


def costs(book: Book, rules: RuleFile) -> tuple[Cost, ...]:
    """Every number that charges or favours something, in the order of the tables.

    Of tables that a file names itself (grips, cells, answers) only what is not 0 points; their weights are left out.
    """
    return tuple(_of_table(book, rules, ()))


def _of_table(book: Book, table: Table, path: tuple[str, ...], named: bool = False) -> Iterator[Cost]:
    for key, field in type(table).model_fields.items():
        value, at = getattr(table, key), (*path, key)
        if isinstance(value, Table):
            yield from _of_table(book, value, at, named)
            continue
        if isinstance(value, Mapping) and any(isinstance(inner, Table) for inner in value.values()):
            for name, inner in value.items():
                yield from _of_table(book, inner, (*at, name), named=True)
            continue
        unit = _unit((field.annotation, *field.metadata))
        if unit is None or (named and (unit != "points" or not value)):
            continue
        for below, shown in _shown(value):
            yield Cost(book.source(*at, *below), shown, unit, field.description or "")


def _unit(kind: Any) -> str | None:
    """The unit of a field's numbers, however deep they lie; None for a field that weighs nothing."""
    if isinstance(kind, Charge):
        return kind.unit
    inner = kind if isinstance(kind, tuple) else (*get_args(kind), *getattr(kind, "__metadata__", ()))
    return next((unit for unit in map(_unit, inner) if unit), None)


def _shown(value: Any) -> Iterator[tuple[tuple[str, ...], str]]:
    """The numbers below a key as text: a table of tables a row each, a table of numbers in one."""
    if isinstance(value, Mapping) and any(isinstance(inner, Mapping) for inner in value.values()):
        for key, inner in value.items():
            yield from (((key, *below), shown) for below, shown in _shown(inner))
    elif isinstance(value, Mapping):
        yield (), ", ".join(f"{key} {points:g}" for key, points in value.items()) or "-"
    elif isinstance(value, tuple | list):
        yield (), ", ".join(f"{points:g}" for points in value)
    else:
        yield (), f"{value:g}"
