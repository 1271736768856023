"""A series on a porch: what the tests of series share. ``elsewhere`` and ``quick`` are fixtures."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.compose import write as compose
from lickwright.study.figures import figures
from lickwright.study.json_text import from_json
from lickwright.study.model import Study

from tests.lines import drawn

PORCH = Path("porch-blues")


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Studies that are made at once, for what does not look at the music."""
    monkeypatch.setattr(compose, "write", drawn)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["series", *words])


def a_series(*words: str) -> None:
    assert run("new", "porch-blues", "--style", "slow-shuffle", *words).exit_code == 0


def add(*words: str, status: int = 0) -> Result:
    result = run("add", "porch-blues", "--format", "", *words)
    assert result.exit_code == status, result.output
    return result


def everything(folder: Path = PORCH) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def numbered(*of: str) -> Study:
    return from_json(Path("porch-blues", *of, "study.json").read_bytes())


def alike(studies: list[Study], order: int) -> list[tuple[int | None, int | None]]:
    found = [figures(s, order) for s in studies]
    return [
        (studies[i].number, studies[k].number)
        for i, k in combinations(range(len(studies)), 2)
        if found[i] & found[k]
    ]
