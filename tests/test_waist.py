"""Everything that is shown is made from the Study alone: rule files may change or go, a study reads as it did."""

from __future__ import annotations

import re
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from lickwright.compose.write import write
from lickwright.judge.effort import with_hard_moments
from lickwright.render.handout.page import handout
from lickwright.render.midi.write import midi
from lickwright.render.outputs import text_sheet
from lickwright.render.score.write import musicxml
from lickwright.render.words.facts import hard_spots
from lickwright.render.words.text import phrase_words, study_words
from lickwright.rulebook.files import shipped_rules, style_names
from lickwright.rulebook.read import lead_of
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Brief, Study

BRIEFS = (
    Brief("slow-shuffle", "A", 7),
    Brief("minor-slow", "D", 12, level="fluent", options=(("hand", "small"),)),
)


def put_rules(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """Has every module take the shipped rule files from another folder."""
    for name, module in list(sys.modules.items()):
        if name.startswith("lickwright.") and hasattr(module, "shipped_rules"):
            monkeypatch.setattr(module, "shipped_rules", lambda: folder)


def shown(study: Study) -> tuple[object, ...]:
    return (
        study_words(study),
        phrase_words(study),
        text_sheet(study),
        handout(study),
        musicxml(study),
        midi(study),
    )


@pytest.fixture(params=BRIEFS, ids=lambda brief: brief.style)
def published(request: pytest.FixtureRequest) -> Study:
    return from_json(to_json(write(request.param)))


def test_a_study_reads_the_same_when_the_shipped_hand_gets_slower(
    published: Study, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shown(published)
    slower = tmp_path / "rules"
    shutil.copytree(shipped_rules(), slower)
    hand = slower / "parts" / "hand.toml"
    rates = r"(?m)^((?:shift_mm|plucks|hammer_ons|pull_offs)_per_s) = ([\d.]+)"
    text, changed = re.subn(rates, lambda m: f"{m[1]} = {float(m[2]) / 2}", hand.read_text("utf-8"))
    assert changed == 4
    hand.write_text(text, encoding="utf-8")
    put_rules(monkeypatch, slower)
    assert with_hard_moments(published, lead_of(published)) != published, "it is another hand"
    assert shown(published) == before


def test_a_study_reads_the_same_when_there_are_no_rule_files_at_all(
    published: Study, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shown(published)
    put_rules(monkeypatch, tmp_path / "nowhere")
    assert style_names() == []
    assert shown(published) == before


def test_a_study_edited_by_hand_is_read_and_what_is_gone_is_not_called_hard() -> None:
    published = write(Brief("slow-shuffle", "A", 7))
    assert published.hard_moments
    hardest = {moment.tick for moment in published.hard_moments}
    plain = tuple(
        replace(e, notes=tuple(replace(n, bend=None) for n in e.notes))
        for e in published.events
        if e.onset not in sorted(hardest)[:2]
    )
    edited = from_json(to_json(replace(published, events=plain)))
    spots = hard_spots(edited)
    assert spots is not None
    assert {spot.event.onset for spot in spots} <= {event.onset for event in plain}
    assert not any("bend" in spot.kind for spot in spots)
