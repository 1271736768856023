"""Whom a file is for: the player that a score of this program names, as far as shipped rules know him."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lickwright.compose.write import write
from lickwright.read.files import read_bytes
from lickwright.read.player import player_rules
from lickwright.render.midi.write import midi
from lickwright.render.score.write import musicxml
from lickwright.rulebook.load import level_names, style_names
from lickwright.rulebook.read import read_rules
from lickwright.study.model import Brief

from tests.studies import tour


def by(*options: tuple[str, str], level: str | None = None) -> Brief:
    return Brief("slow-shuffle", "A", 1, level=level, options=options)


@pytest.mark.parametrize("style", style_names())
@pytest.mark.parametrize("level", level_names())
def test_the_player_of_a_brief_is_the_one_it_was_written_for(style: str, level: str) -> None:
    options = (("strings", "heavy"), ("hand", "small"))
    found, own = player_rules(style, by(*options, level=level))[1], read_rules(style, level, options)[1]
    assert found == own


def test_a_rule_file_of_ones_own_is_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").write_text("[hand]\nsize = 0.8\n")
    assert player_rules("slow-shuffle", by(("hand", "mine.toml"), level="mine.toml")) == player_rules(
        "slow-shuffle"
    )


def test_options_that_do_not_go_together_are_left_out() -> None:
    odd = player_rules("slow-shuffle", by(("neck", "bass"), ("strings", "extra-light")))
    assert odd == player_rules("slow-shuffle")


def test_a_score_keeps_the_hard_moments_of_the_player_it_was_written_for() -> None:
    study = write(Brief("minor-slow", "D", 12, level="fluent", options=(("hand", "small"),)))
    assert study.hard_moments
    assert read_bytes(musicxml(study)).study.hard_moments == study.hard_moments


def test_a_file_of_another_program_gets_its_hard_moments_too() -> None:
    assert read_bytes(midi(write(Brief("slow-shuffle", "A", 7)))).study.hard_moments


def test_nothing_is_measured_on_a_neck_with_more_strings_than_the_set_has() -> None:
    study = tour("A")
    wide = replace(study, neck=replace(study.neck, tuning=(*study.neck.tuning, 35, 30, 25)))
    assert read_bytes(musicxml(wide)).study.hard_moments is None
