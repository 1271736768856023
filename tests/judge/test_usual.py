"""The usual player: level, hand and strings as a study names them, and nothing that lies beside the program."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lickwright.guitar.neck import Neck
from lickwright.judge.usual import usual_lead
from lickwright.rulebook.load import level_names, style_names
from lickwright.rulebook.read import lead_of
from lickwright.study.model import Brief, Study

from tests.studies import tour


def by(*options: tuple[str, str], level: str = "growing", style: str = "slow-shuffle") -> Study:
    return replace(tour("A"), level=level, brief=Brief(style, "A", 1, level=level, options=options))


@pytest.mark.parametrize("style", style_names())
@pytest.mark.parametrize("level", level_names())
def test_it_is_the_player_of_every_shipped_style(style: str, level: str) -> None:
    study = by(("hand", "small"), ("strings", "heavy"), level=level, style=style)
    usual, own = usual_lead(study), lead_of(study)
    assert usual is not None
    assert (usual.hand, usual.strings, usual.neck) == (own.hand, own.strings, own.neck)


def test_a_rule_file_of_ones_own_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").write_text("[hand]\nsize = 0.8\n")
    usual, plain = usual_lead(by(("hand", "mine.toml"), style="gone.toml")), usual_lead(by())
    assert usual is not None
    assert plain is not None
    assert usual.hand == plain.hand


def test_options_that_do_not_go_together_are_left_out() -> None:
    usual, plain = usual_lead(by(("neck", "bass"), ("strings", "extra-light"))), usual_lead(by())
    assert usual is not None
    assert plain is not None
    assert usual.strings == plain.strings


def test_a_neck_with_more_strings_than_there_are_in_the_set_has_no_usual_player() -> None:
    assert usual_lead(replace(by(), neck=Neck(tuple(range(64, 24, -5))))) is None
