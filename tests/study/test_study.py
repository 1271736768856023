"""The Study: its questions answered, JSON there and back, and every file that is no study told why."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError, replace

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.study.json_text import from_json, json_schema, to_json
from lickwright.study.model import SCHEMA_VERSION, Brief, SlotKind, Study, StudyFileError, Technique
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.studies import tour

STUDY = tour()
TEXT = to_json(STUDY)


@pytest.mark.parametrize("key", ["A", "Eb", "F#"])
@pytest.mark.parametrize(("meter", "grid"), [("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight")])
def test_a_study_comes_back_from_its_text(key: str, meter: str, grid: str) -> None:
    study = tour(key, meter, grid, 2)
    text = to_json(study)
    assert from_json(text) == study
    assert from_json(text.encode()) == study
    again = to_json(from_json(text))
    assert to_json(from_json(again)) == again


@given(
    st.text(max_size=30),
    st.none() | st.integers(0, 10**6),
    st.lists(st.tuples(st.text(max_size=5), st.text(max_size=5)), max_size=3),
)
def test_whatever_a_brief_says_comes_back(
    title: str, number: int | None, options: list[tuple[str, str]]
) -> None:
    brief = Brief("x", "A", 1, None, None, title, number, tuple(options))
    study = replace(STUDY, title=title, number=number, brief=brief)
    assert from_json(to_json(study)) == study


def test_text_keeps_the_order_of_the_fields_and_ends_in_a_newline() -> None:
    data = json.loads(TEXT)
    assert next(iter(data)) == "title"
    assert data["schema_version"] == SCHEMA_VERSION
    assert TEXT.endswith("}\n")
    assert "home" not in data


def without(field: str) -> str:
    data = json.loads(TEXT)
    del data[field]
    return json.dumps(data)


def having(**fields: object) -> str:
    return json.dumps(json.loads(TEXT) | fields)


def event_with(**fields: object) -> str:
    data = json.loads(TEXT)
    data["events"][0] |= fields
    return json.dumps(data)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        (b"\xff\xfe", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ("[]", "not a study"),
        ("3", "not a study"),
        ('{"title": "x"}', "no schema_version"),
        (having(schema_version=3), "schema_version 3 is newer than this program (this program reads 1 2)"),
        (having(schema_version="1"), "schema_version '1' is no version"),
        (without("events"), "events: Field required"),
        (having(tempo_bpm="fast"), "tempo_bpm: Input should be a valid integer"),
        (having(tune=1), "tune"),
        (event_with(onset=None), "events.0.onset"),
        (event_with(colour="red"), "events.0.colour"),
        (event_with(notes=[{"string": 1}]), "events.0.notes.0.fret: Field required"),
    ],
)
def test_what_is_no_study_is_told_where_and_why(text: str | bytes, said: str) -> None:
    with pytest.raises(StudyFileError) as raised:
        from_json(text)
    assert said in str(raised.value)


@pytest.mark.parametrize("count", [-1, 1004])
def test_a_figure_has_no_more_onsets_than_its_slot(count: int) -> None:
    data = json.loads(TEXT)
    lick = next(slot for slot in data["slots"] if slot["kind"] == "lick")
    lick["figure_notes"] = count
    with pytest.raises(
        StudyFileError, match=rf"slots\.\d+\.figure_notes: {count}; a figure has onsets of its slot"
    ):
        from_json(json.dumps(data))


@pytest.mark.parametrize("count", [-1, 1, 99])
def test_what_a_lick_quotes_is_a_lick(count: int) -> None:
    data = json.loads(TEXT)
    assert (data["slots"][1]["kind"], data["slots"][2]["kind"]) == ("comp", "lick")
    data["slots"][2]["quotes"] = count
    with pytest.raises(StudyFileError, match=rf"slots\.2\.quotes: {count}; no lick has that slot"):
        from_json(json.dumps(data))


def test_several_faults_of_a_file_are_told_together() -> None:
    data = json.loads(TEXT)
    del data["title"], data["bars"]
    data["events"][0]["onset"] = "early"
    with pytest.raises(StudyFileError) as raised:
        from_json(json.dumps(data))
    assert len(raised.value.problems) == 3


def test_the_json_schema_fits_a_study_and_nothing_more() -> None:
    validator = jsonschema.Draft202012Validator(json_schema())
    validator.check_schema(json_schema())
    assert [e.message for e in validator.iter_errors(json.loads(TEXT))] == []
    for text in (without("events"), having(tempo_bpm="fast"), event_with(colour="red")):
        assert list(validator.iter_errors(json.loads(text)))


def test_a_study_is_not_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        STUDY.title = "another"  # type: ignore[misc]


def test_the_chord_at_a_tick_is_the_last_that_began() -> None:
    for span in STUDY.form:
        for tick in (span.onset, span.onset + span.duration - 1):
            assert STUDY.chord_at(tick).roman == span.roman
    assert STUDY.chord_at(10**6).roman == STUDY.form[-1].roman


def test_events_and_slots_belong_to_each_other() -> None:
    assert sum(len(STUDY.events_of(s.number)) for s in STUDY.slots) == len(STUDY.events)
    assert [s.number for p in STUDY.phrases for s in STUDY.slots_of(p.number)] == [
        s.number for s in STUDY.slots
    ]
    assert len(list(STUDY.notes())) == sum(len(e.notes) for e in STUDY.events)
    assert STUDY.ticks == STUDY.bars * TICKS_PER_BAR


def test_a_bend_sounds_half_a_unit_for_each_quarter_tone() -> None:
    bent = [n for _, n in STUDY.notes() if n.bend]
    assert {n.bend.size for n in bent if n.bend} >= {1, 4}
    for note in bent:
        assert note.bend is not None
        assert note.sounding2 == 2 * note.pitch + note.bend.size
    plain = next(n for _, n in STUDY.notes() if not n.bend)
    assert plain.sounding2 == 2 * plain.pitch


def test_the_tour_holds_every_technique_and_kind_of_slot() -> None:
    assert {n.technique for _, n in STUDY.notes()} == set(Technique)
    assert {s.kind for s in STUDY.slots} == set(SlotKind)
    assert isinstance(STUDY, Study)


def test_only_four_four_on_the_triplet_grid_is_swung() -> None:
    assert tour("A", "4/4", "triplet").swung
    assert not tour("A", "4/4", "straight").swung
    assert not tour("A", "12/8", "triplet").swung
