"""What this program writes comes back: note for note from MusicXML, pitch for pitch from MIDI."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from lickwright.read.files import read_bytes
from lickwright.render.midi.write import midi
from lickwright.render.score.write import musicxml
from lickwright.rulebook.load import style_names
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Study

from tests.render.any_study import studies
from tests.studies import tour
from tests.written import a_study

EVERY = [
    pytest.param(
        style, key, seed, id=f"{style} {key}", marks=() if key == "Bb" and n < 2 else pytest.mark.long
    )
    for n, style in enumerate(style_names())
    for key, seed in (("Bb", 1), ("E", 2), ("F#", 3), ("C", 4))
]
every_style = pytest.mark.parametrize(("style", "key", "seed"), EVERY)
TOURS = (("A", "12/8", "triplet"), ("Db", "4/4", "triplet"), ("F#", "4/4", "straight"))


def as_written(study: Study) -> Study:
    """The study without its rule files' digests (no score carries those), the lowest string of an event first."""
    events = tuple(
        replace(e, id=f"e{k + 1}", notes=tuple(sorted(e.notes, key=lambda n: -n.string)))
        for k, e in enumerate(study.events)
    )
    return replace(study, rules=(), events=events)


@every_style
def test_a_score_comes_back_as_the_same_study(style, key, seed):
    study = a_study(style, key, seed)
    reading = read_bytes(musicxml(study))
    assert reading.study == as_written(study)
    assert reading.remarks == ()


@pytest.mark.parametrize(("key", "meter", "grid"), TOURS)
def test_every_technique_comes_back(key, meter, grid):
    study = tour(key, meter, grid)
    assert read_bytes(musicxml(study)).study.events == as_written(study).events


def test_a_score_written_again_is_the_same_file():
    data = musicxml(a_study("slow-shuffle", "G", 5))
    assert musicxml(read_bytes(data).study) == data


def test_a_study_that_was_read_is_a_study_file_too():
    study = read_bytes(musicxml(tour())).study
    assert from_json(to_json(study)) == study


def test_a_figure_that_has_lost_notes_is_as_long_as_what_is_left():
    study = tour()
    kept = study.events_of(0)[:2]
    events = tuple(e for e in study.events if e.slot != 0 or e in kept)
    again = read_bytes(musicxml(replace(study, events=events))).study
    assert (study.slots[0].figure_notes, again.slots[0].figure_notes) == (3, 2)
    assert from_json(to_json(again)) == again


def notes(study: Study) -> list[tuple[int, int, int, int, int]]:
    return sorted((e.onset, n.string, n.fret, n.pitch, e.duration) for e in study.events for n in e.notes)


@pytest.mark.long
@settings(max_examples=12, deadline=None, phases=[Phase.generate])
@given(studies())
def test_any_study_keeps_its_notes(study):
    if not study.events:
        return
    again = read_bytes(musicxml(study)).study
    assert notes(again) == notes(study)


def heard(study: Study) -> list[tuple[object, ...]]:
    found = [
        (
            e.onset, n.string, n.pitch, (n.bend.kind, n.bend.size) if n.bend else (),
            n.grace.fret - n.fret if n.grace else 0, n.vibrato, n.muted and 0,
        )
        for e in study.events
        for n in e.notes
        if not n.tied
    ]  # fmt: skip
    return sorted(found, key=str)


@every_style
def test_midi_brings_pitches_times_bends_graces_and_vibrato_back(style, key, seed):
    study = a_study(style, key, seed)
    again = read_bytes(midi(study)).study
    assert heard(again) == heard(study)
    assert (again.tempo_bpm, again.bars, again.meter, again.home) == (
        study.tempo_bpm, study.bars, study.meter, study.home,
    )  # fmt: skip
