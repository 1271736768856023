"""The samples are what the commands make today."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from lickwright.render.outputs import text_sheet
from lickwright.study.json_text import to_json

SAMPLES = Path(__file__).parent.parent / "samples"
MADE = runpy.run_path(str(SAMPLES / "make.py"))


@pytest.fixture(scope="module")
def studies():
    return MADE["studies"]()


@pytest.mark.parametrize("name", sorted(MADE["SAMPLES"]))
def test_a_sample_is_current(name: str, studies) -> None:
    study = studies[name]
    stale = "stale: run python samples/make.py"
    assert (SAMPLES / f"{name}.json").read_text(encoding="utf-8") == to_json(study), stale
    assert (SAMPLES / f"{name}.txt").read_text(encoding="utf-8") == text_sheet(study), stale


@pytest.mark.parametrize("name", MADE["WITH_PAGE"])
def test_a_sample_page_shows_its_study(name: str, studies) -> None:
    html = (SAMPLES / f"{name}.html").read_text(encoding="utf-8")
    assert studies[name].title in html
    assert (SAMPLES / f"{name}.png").is_file()


def test_readme_shows_the_first_sample_as_it_is() -> None:
    readme = (SAMPLES.parent / "README.md").read_text(encoding="utf-8")
    shown = readme.split("The tab:\n\n```\n")[1].split("\n```")[0]
    assert shown in (SAMPLES / "slow-shuffle-in-A.txt").read_text(encoding="utf-8")
