"""What a brief asks for is what the study is, the same each time, laid over the whole form."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import jsonschema
import pytest
from lickwright import __version__
from lickwright.compose.setting import BriefError, setting_for, usual_tempo
from lickwright.compose.write import CannotBeMet, write
from lickwright.judge.check import checked
from lickwright.rulebook.load import RuleFileError, style_names
from lickwright.rulebook.read import read_rules
from lickwright.study.json_text import from_json, json_schema, to_json
from lickwright.study.model import BendKind, Brief, SlotKind, Study, bend_curve
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.written import written

#: A lick may begin up to two beats before its phrase does.
UPBEAT = 24
KEYS = ("A", "Eb", "F#")
#: Every style in three keys; one of the three by default, each in its turn.
BRIEFS = [
    pytest.param(Brief(style, key, 5), id=f"{style} in {key}", marks=() if n % 3 == k else pytest.mark.long)
    for n, style in enumerate(style_names())
    for k, key in enumerate(KEYS)
]


@pytest.fixture(scope="module", params=BRIEFS)
def study(request: pytest.FixtureRequest) -> Study:
    return written(request.param)


def test_a_study_is_written_again_from_its_own_brief(study: Study) -> None:
    assert write(from_json(to_json(study)).brief) == study


def test_the_form_covers_every_bar_without_a_gap(study: Study) -> None:
    assert study.form[0].onset == 0
    assert all(a.onset + a.duration == b.onset for a, b in pairwise(study.form))
    assert study.form[-1].onset + study.form[-1].duration == study.ticks
    bars = [bar for p in study.phrases for bar in range(p.first_bar, p.last_bar + 1)]
    assert bars == list(range(study.bars))


def test_every_bar_sounds_and_every_phrase_has_lead_and_comping(study: Study) -> None:
    heard = {
        tick // TICKS_PER_BAR
        for e in study.events
        for tick in range(e.onset, e.end, 4)
    }  # fmt: skip
    assert heard == set(range(study.bars))
    for phrase in study.phrases:
        kinds = {s.kind for s in study.slots_of(phrase.number)}
        assert kinds == {SlotKind.LICK, SlotKind.COMP}


def test_slots_are_in_order_and_hold_their_events(study: Study) -> None:
    assert [s.number for s in study.slots] == list(range(len(study.slots)))
    for slot in study.slots:
        events = study.events_of(slot.number)
        assert events
        assert slot.start == events[0].onset
        phrase = study.phrases[slot.phrase]
        start, end = phrase.first_bar * TICKS_PER_BAR, (phrase.last_bar + 1) * TICKS_PER_BAR
        assert start - UPBEAT <= slot.start < end
    assert [e.id for e in study.events] == [f"e{n + 1}" for n in range(len(study.events))]


def test_a_restatement_comes_after_its_model_and_has_its_rhythm(study: Study) -> None:
    quoting = [s for s in study.slots if s.quotes is not None]
    letters = [s.name for s in study.slots if s.kind is SlotKind.LICK]
    assert quoting or len(set(letters)) < len(letters)
    for slot in quoting:
        model = study.slots[slot.quotes or 0]
        assert model.start < slot.start
        assert slot.name.startswith(model.name)
        mine, theirs = (
            [e.onset - s.start for e in study.events_of(s.number)[: s.figure_notes]] for s in (slot, model)
        )
        assert mine == theirs


def test_a_bend_ends_where_it_sounds_and_its_curve_lies_in_its_note(study: Study) -> None:
    for event, note in study.notes():
        if note.bend:
            ticks = [t for t, _ in note.bend.curve]
            assert ticks[0] == 0
            assert ticks == sorted(ticks)
            assert ticks[-1] <= event.duration
            assert max(size for _, size in note.bend.curve) == note.bend.size


def test_the_json_schema_fits_what_is_written(study: Study) -> None:
    jsonschema.Draft202012Validator(json_schema()).validate(json.loads(to_json(study)))


@pytest.mark.long
def test_no_order_of_hashing_changes_a_byte() -> None:
    """Every style, in two processes that hash text differently and in this one."""
    program = (
        "import sys; from lickwright.compose.write import write\n"
        "from lickwright.study.json_text import to_json; from lickwright.study.model import Brief\n"
        f"for s in {style_names()!r}: sys.stdout.write(to_json(write(Brief(s, 'C', 8))))"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", program],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert made == {"".join(to_json(write(Brief(s, "C", 8))) for s in style_names()).encode()}


def test_what_was_asked_is_what_is_there() -> None:
    study = written(Brief("quick-shuffle", "bb", 3, 100, "first-year", "Mine", 12))
    assert (study.key, study.tempo_bpm, study.level) == ("Bb", 100, "first-year")
    assert (study.title, study.number) == ("Mine", 12)
    assert (study.meter, study.grid, study.minor) == ("4/4", "triplet", False)
    assert study.tool_version == __version__
    assert any(d.name == "levels/first-year.toml" for d in study.rules)


def test_title_and_number_change_nothing_that_sounds() -> None:
    plain, named = (
        written(Brief("slow-shuffle", "D", 2)),
        written(Brief("slow-shuffle", "D", 2, None, None, "X", 9)),
    )
    assert named.events == plain.events
    assert plain.title in read_rules("slow-shuffle")[1].study.titles


def test_a_minor_style_makes_the_key_minor() -> None:
    assert setting_for(Brief("minor-slow", "D", 1)).key.name == "Dm"


def test_the_usual_tempo_leaves_the_level_room_for_two_notes_a_beat() -> None:
    for style in style_names():
        for level in ("first-year", "growing", "fluent"):
            rules = read_rules(style, level)[1]
            tempo = usual_tempo(rules)
            assert rules.study.tempo.least <= tempo <= rules.study.tempo.usual


@pytest.mark.parametrize("tempo", [1, 43, 73, 1000])
def test_a_tempo_outside_the_style_is_refused_with_its_range(tempo: int) -> None:
    with pytest.raises(BriefError, match="allows 44 to 72"):
        setting_for(Brief("slow-shuffle", "A", 1, tempo))


def test_key_and_tempo_are_told_together() -> None:
    with pytest.raises(BriefError) as raised:
        setting_for(Brief("slow-shuffle", "H", 1, 300))
    assert len(raised.value.problems) == 2


def test_an_unknown_style_is_told_before_anything_is_solved() -> None:
    with pytest.raises(RuleFileError, match="did you mean"):
        write(Brief("slow-shufle", "A", 1))


def test_rules_that_cannot_be_met_name_what_fails(tmp_path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(
        'include = ["slow-shuffle"]\n[lead.windows]\nrelative = [0]\nlowest = 1\nhome_highest = 1\n'
    )
    with pytest.raises(CannotBeMet, match=r"lead\.windows"):
        write(Brief(str(mine), "A", 1))


def test_another_style_judges_a_study_by_its_own_rules() -> None:
    study = written(Brief("slow-shuffle", "A", 1))
    assert "study.tempo" in {v.rule for v in checked(study, "quick-shuffle")}
    assert checked(replace(study, tempo_bpm=study.tempo_bpm)) == ()


@pytest.mark.parametrize("kind", BendKind)
@pytest.mark.parametrize("ticks", [2, 4, 12, 47])
def test_a_curve_starts_and_ends_as_its_kind_says(kind: BendKind, ticks: int) -> None:
    curve = bend_curve(kind, 4, ticks)
    times = [t for t, _ in curve]
    assert times == sorted(times)
    assert (times[0], times[-1]) == (0, ticks)
    assert curve[0][1] == (4 if kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE) else 0)
    assert curve[-1][1] == (0 if kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE) else 4)
