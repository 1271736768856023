"""The rooms of the house: imports point down, through doors, to public names, and never in a circle."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

import networkx as nx
import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "generator" / "lickwright"
#: Top to bottom: a room imports only from rooms below it.
ROOMS = (
    "cli", "commands",
    "practice", "series",
    "learn", "read",
    "compose",
    "render",
    "judge",
    "solver",
    "rulebook",
    "storage",
    "study",
    "guitar", "theory",
    "problems",
)  # fmt: skip
LOOSE = ("cli", "problems")


class Import(NamedTuple):
    """``module`` imports ``name`` from ``target``; modules are dotted and without ``lickwright.`` before them."""

    module: str
    target: str
    name: str


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__")


def is_module(dotted: str) -> bool:
    path = PACKAGE.joinpath(*dotted.split("."))
    return path.with_suffix(".py").is_file() or (path / "__init__.py").is_file()


def imports(path: Path) -> Iterator[Import]:
    """What a file imports of the package, at its top and inside functions alike."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            assert not any(alias.name.partition(".")[0] == "lickwright" for alias in node.names), path
        if not isinstance(node, ast.ImportFrom):
            continue
        assert node.level == 0, f"{path}: an import names its module in full"
        package, _, below = (node.module or "").partition(".")
        if package == "lickwright":
            for alias in node.names:
                inside = f"{below}.{alias.name}".lstrip(".")
                yield Import(module_of(path), inside if is_module(inside) else below, alias.name)


ALL = tuple(found for path in sorted(PACKAGE.rglob("*.py")) for found in imports(path))


def room(module: str) -> str:
    return module.partition(".")[0]


def across() -> Iterator[Import]:
    return (found for found in ALL if found.target and room(found.module) != room(found.target))


def doors(name: str) -> set[str]:
    """The modules that a room's docstring opens to others."""
    text = import_module(f"lickwright.{name}").__doc__ or ""
    return set(re.findall(r"``([\w.]+)``", text.partition("Doors:")[2]))


def test_every_module_lies_in_a_room() -> None:
    there = {
        path.stem for path in PACKAGE.iterdir() if path.suffix == ".py" or (path / "__init__.py").is_file()
    }
    assert there - {"__init__"} == set(ROOMS)
    assert {path.stem for path in PACKAGE.glob("*.py")} - {"__init__"} == set(LOOSE)


def test_imports_point_down() -> None:
    order = {name: number for number, name in enumerate(ROOMS)}
    assert [i for i in across() if order[room(i.target)] < order[room(i.module)]] == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = nx.DiGraph((i.module, i.target) for i in ALL if i.target)
    assert [circle for circle in nx.strongly_connected_components(graph) if len(circle) > 1] == []


def test_private_names_stay_in_their_module() -> None:
    assert [i for i in ALL if i.name.startswith("_") and i.name != "__version__"] == []


def test_render_asks_neither_rules_nor_solver() -> None:
    assert [
        i for i in across() if room(i.module) == "render" and room(i.target) in ("rulebook", "solver")
    ] == []


@pytest.mark.parametrize("name", [name for name in ROOMS if name not in (*LOOSE, "commands")])
def test_a_room_is_entered_by_its_doors(name: str) -> None:
    used = {i.target.removeprefix(f"{name}.") for i in across() if room(i.target) == name}
    assert used <= doors(name), "either go by a door, or say in the room's docstring that this is one"
    assert all(is_module(f"{name}.{door}") for door in doors(name))
