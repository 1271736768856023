"""Imports point one way, down the table of DEVELOPERS, which names every module that there is."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).resolve().parents[1]
PACKAGE = HOUSE / "generator"
#: From the command line down to what the trade knows: a name is a module or a package right under ``generator``.
LAYERS = (
    "cli", "commands",
    "practice", "practice_pool", "practice_record", "practice_time",
    "series_index", "series", "series_file",
    "round_lick", "vary", "choose", "allowed",
    "learn",
    "read",
    "compose", "pins", "writing",
    "solver",
    "goals",
    "render",
    "judge",
    "sheet", "excerpt",
    "distance",
    "rulebook",
    "figures",
    "study_fields",
    "touches",
    "study_sense", "study", "study_migrate",
    "toml_text",
    "fingering", "hand", "strings", "neck", "harmony", "rhythm",
    "problems",
)  # fmt: skip
#: Imports upwards, each with its reason.
EXCEPTIONS = {
    (
        "study",
        "study_sense",
    ): "a file that is read is looked at for its sense, inside the function that reads it",
}
#: Packages whose row names each of their modules; ``commands`` and ``render`` say how theirs are to be found.
NAMED = ("learn", "read", "solver", "judge", "rulebook")


def imported(path: Path) -> Iterator[str]:
    """What a file imports of the package, at its top and inside functions alike: names right under ``generator``."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: an import names its module in full"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        for name in names:
            package, _, below = name.partition(".")
            if package == "generator" and below != "__version__":
                yield below.partition(".")[0]


def layer(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def test_every_module_has_its_place_in_the_order() -> None:
    there = {layer(path) for path in PACKAGE.rglob("*.py")} - {"__init__"}
    assert there == set(LAYERS)


def test_no_module_imports_from_above_but_those_that_are_excepted() -> None:
    order = {name: number for number, name in enumerate(LAYERS)}
    found = {(layer(path), other) for path in PACKAGE.rglob("*.py") for other in imported(path)}
    assert {(name, other) for name, other in found if order[other] < order[name]} == set(EXCEPTIONS)


def rows() -> list[tuple[str, str]]:
    """The rows of the table of DEVELOPERS: what is named in its first column and its second."""
    text = (
        (HOUSE / "DEVELOPERS.md")
        .read_text(encoding="utf-8")
        .partition("| place | knows |")[2]
        .partition("\n\n")[0]
    )
    found = [line.split("|") for line in text.splitlines() if line.startswith("| `")]
    return [(cells[1], "|".join(cells[2:])) for cells in found]


def test_the_table_of_developers_has_this_order() -> None:
    names = re.findall(r"`(?:generator/)?(\w+)(?:\.py|/)`", " ".join(first for first, _ in rows()))
    assert names == [*LAYERS, "rules"]


@pytest.mark.parametrize("package", NAMED)
def test_the_table_of_developers_names_every_module(package: str) -> None:
    (said,) = (second for first, second in rows() if f"`generator/{package}/`" in first)
    patterns = [name.replace("*", r"\w*") for name in re.findall(r"`([\w*]+)`", said)]
    modules = {path.stem for path in (PACKAGE / package).glob("*.py")} - {"__init__"}
    assert {m for m in modules if not any(re.fullmatch(p, m) for p in patterns)} == set()
