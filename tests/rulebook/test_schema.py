"""Every key of a rule file has its sentence, in the schema and beside it in the shipped files; 0 switches things off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args

import pytest
from lickwright.compose.write import write
from lickwright.rulebook.check import check_file
from lickwright.rulebook.costs import costs
from lickwright.rulebook.load import style_names
from lickwright.rulebook.read import charges, lead_of, read_rules
from lickwright.rulebook.schema.base import Table
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.plan.layout import by_weight
from lickwright.study.model import Brief, SlotKind
from numpy.random import default_rng
from pydantic.fields import FieldInfo

from tests.rulebook.comments import commented, described, files, parts


def tables(kind: Any, found: set[type[Table]] | None = None) -> set[type[Table]]:
    """Every table that a rule file may have."""
    found = set() if found is None else found
    if isinstance(kind, type) and issubclass(kind, Table):
        if kind not in found:
            found.add(kind)
            for field in kind.model_fields.values():
                tables(field.annotation, found)
    else:
        for inner in get_args(kind):
            tables(inner, found)
    return found


FIELDS = [
    pytest.param(field, id=f"{table.__name__}.{name}")
    for table in sorted(tables(RuleFile), key=lambda t: t.__name__)
    for name, field in table.model_fields.items()
]


@pytest.mark.parametrize("field", FIELDS)
def test_a_key_has_a_sentence(field: FieldInfo) -> None:
    said = field.description or ""
    assert said[:1].isupper()
    assert said.endswith(".")
    assert "\n" not in said
    assert len(said) <= 115


# ---- comments -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("file", files(), ids=lambda path: path.stem)
def test_the_comments_of_a_shipped_file_are_those_of_the_schema(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    stale = "stale: run python -m tests.rulebook.comments"
    assert commented(text) == text, stale
    lines = text.splitlines()
    for part in parts(text):
        said = described(part.path) if part.path else None
        if said is not None:
            here = [n for n, line in enumerate(lines) if line.startswith(part.code[0])]
            assert any(f"# {said}" in lines[n - 1 : n] or lines[n].endswith(f"# {said}") for n in here), (
                part.path
            )


def test_comments_leave_the_data_and_the_writers_own_words_as_they_are() -> None:
    text = """
title = "a # b"

# The writer's own.

# A sentence that the schema no longer says.
[lead.melody]
skip = 1 # old
# old too
turn = 2
string.1 = 3
[lead.sounded]
V = ["7"]
[lead.windows]
relative = [0,  # home
  7]

# The writer's own of a grip.

[grips."x = y"]
cost = 3
"""
    made = commented(text)
    assert commented(made) == made
    for same in ("# The writer's own.", "# The writer's own of a grip.", 'title = "a # b"  # '):
        assert same in made
    assert "old" not in made
    assert "no longer says" not in made
    assert f"skip = 1  # {described(('lead', 'melody', 'skip'))}" in made


def test_a_key_that_a_file_names_itself_has_no_sentence() -> None:
    assert described(("grips", "b7-3-5", "cost")) is None
    assert described(("lead", "palette", "I")) is None
    assert described(("lead", "unknown")) is None
    assert described(("lead", "palette_weights", "long_beats")) is not None


# ---- what is charged ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", style_names())
def test_costs_have_every_number_of_the_lead_and_the_comping_with_its_file(style: str) -> None:
    book, rules = read_rules(style)
    listed = Counter(cost.source.key for cost in costs(book, rules))
    assert max(listed.values()) == 1
    assert {f"lead.melody.{key}" for key in ("skip", "string", "pairs", "same_landing")} <= set(listed)
    assert {"lead.bends.cost", "lead.palette.I", "lead.landing.close.I", "lead.role_points.climax"} <= set(
        listed
    )
    assert {"lead.palette_weights.on_beat.long", "hand.points.crowded", "vary.course.near.semitone"} <= set(
        listed
    )
    assert {"comping.hand_fret", "comping.close_hands", "comping.grooves", "layout.home_odds"} <= set(listed)
    for key in (
        "lead.melody.most_run",
        "lead.shape.notes",
        "lead.melody.wide_beyond",
        "lead.windows.relative",
    ):
        assert key not in listed
    for cost in charges(style):
        assert cost.unit in ("points", "times", "weight")
        assert cost.sentence.endswith(".")
        assert cost.source.file.endswith(".toml")


def test_costs_show_the_values_that_are_in_force(tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(
        'include = ["slow-shuffle"]\n[lead.melody]\nskip = -7\n[lead.palette]\nI = { 1 = 3, 5 = 4 }\n'
    )
    found = {cost.source.key: cost for cost in charges(str(mine))}
    assert found["lead.melody.skip"].value == "-7"
    assert found["lead.melody.skip"].source.file.endswith("mine.toml")
    assert found["lead.palette.I"].value == "1 3, 5 4"


# ---- nothing ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", ["slow-shuffle", "straight"])
def test_whatever_is_charged_may_be_nothing(style: str) -> None:
    """Each key that weighs something set to 0, one at a time, except that one landing must be left."""
    book, rules = read_rules(style)
    for cost in costs(book, rules):
        keys = cost.source.key.split(".")
        if "grips" in keys or cost.source.key == "layout.landings":
            continue
        data: Any = rules.model_dump()
        table = data
        for key in keys[:-1]:
            table = table[key]
        table[keys[-1]] = nothing(table[keys[-1]])
        RuleFile.model_validate(data)


def nothing(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: nothing(inner) for key, inner in value.items()}
    return [0] * len(value) if isinstance(value, list | tuple) else 0


def test_of_three_things_that_of_weight_0_is_left_out() -> None:
    for seed in range(20):
        assert sorted(by_weight("abc", lambda x: float("abc".index(x)), default_rng(seed))) == ["b", "c"]


OFF = """
include = ["slow-shuffle"]
[figures.busy]
weight = 0
[figures."busy, longer"]
weight = 0
[schemes."A A', A'' A', B A''"]
weight = 0
[comping.grooves]
stabs = 0
boogie = 0
[answers."one beat"]
beats = 1
weight = 0
patterns = ["CCC"]
"""


def test_cells_patterns_and_grooves_of_weight_0_are_not_used(tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(OFF)
    assert check_file(str(mine)) == []
    rules = read_rules(str(mine))[1]
    off = {cell for f in rules.figures.values() if not f.weight for cell in f.cells}
    assert off
    used: set[str] = set()
    for seed in range(4):
        study = write(Brief(str(mine), "A", seed))
        assert lead_of(study).rules.comping.grooves["stabs"] == 0
        used |= {slot.cells[0] for slot in study.slots if slot.kind is SlotKind.LICK and slot.cells}
        assert "CCC" not in {
            slot.cells[0] for slot in study.slots if slot.kind is SlotKind.COMP and slot.cells
        }
    assert used
    assert used.isdisjoint(off)


def test_one_way_of_landing_must_be_left(tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(
        'include = ["slow-shuffle"]\n[layout.landings]\nwritten = 0\n"to the answer" = 0\nshort = 0\n'
    )
    assert any("layout.landings" in line and "more than 0" in line for line in check_file(str(mine)))
