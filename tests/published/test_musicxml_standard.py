"""The score against MusicXML 4.0 as the W3C Music Notation Community Group publishes it.

Schema: ``musicxml_4_0.xsd`` as the PyPI package ``musicxml`` 1.6.3 carries it (the W3C's own).
Rules of content that no schema checks: the reference at w3.org/2021/06/musicxml40, one test each.
"""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import musicxml as musicxml_package
import pytest
import xmlschema
from hypothesis import given, settings
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.study.model import Study
from lickwright.theory.harmony import QUALITIES

from tests.render.any_study import studies
from tests.render.score_reading import every_case, root_of, written
from tests.studies import tour
from tests.sweeps import reach


@lru_cache(maxsize=1)
def schema() -> xmlschema.XMLSchema:
    """The schema, read offline: the two it imports come with xmlschema."""
    path = Path(musicxml_package.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"
    shipped = Path(xmlschema.__file__).parent / "schemas"
    locations = {
        "http://www.w3.org/1999/xlink": str(next(shipped.rglob("xlink.xsd"))),
        "http://www.w3.org/XML/1998/namespace": str(next(shipped.rglob("xml.xsd"))),
    }
    return xmlschema.XMLSchema(str(path), locations=locations)


def faults(study: Study) -> list[str]:
    return [f"{e.path}: {e.reason}" for e in schema().iter_errors(io.BytesIO(written(study)))]


@every_case
def test_the_score_is_valid_against_the_schema(key, meter, grid):
    assert faults(tour(key, meter, grid)) == []


@settings(max_examples=reach(50, 6), deadline=None)
@given(studies())
def test_any_study_is_valid_against_the_schema(study):
    assert faults(study) == []


def test_the_schema_catches_a_fault_put_in_on_purpose():
    root = root_of(tour())
    next(root.iter("technical")).append(ET.Element("wavy-line"))
    assert list(schema().iter_errors(io.BytesIO(ET.tostring(root))))


@pytest.mark.parametrize("name", TUNINGS)
def test_every_tuning_with_a_capo_is_valid(name):
    neck = Neck(tuning=TUNINGS[name], capo=3)
    assert faults(replace(tour(), neck=neck, events=())) == []


def test_every_chord_quality_is_valid():
    study = tour()
    spans = tuple(
        replace(study.form[0], onset=12 * i, duration=12, roman=f"#IV{q}") for i, q in enumerate(QUALITIES)
    )
    study = replace(study, form=spans)
    assert faults(study) == []
    assert len(root_of(study).findall(".//harmony")) == len(QUALITIES)


@pytest.fixture(scope="module", params=["A", "Db"])
def root(request) -> ET.Element:
    return root_of(tour(request.param))


def test_a_release_is_a_second_bend_that_goes_back(root):
    """Element bend: "A single note with a bend and release will contain two bend elements"."""
    released = 0
    for technical in root.iter("technical"):
        bends = technical.findall("bend")
        for bend in bends:
            assert bend[0].tag == "bend-alter"
        if len(bends) == 2:
            up, down = (float(b.findtext("bend-alter")) for b in bends)
            assert down == -up < 0
            assert bends[0].find("release") is None
            assert bends[1].find("release") is not None
            released += 1
        assert len(bends) <= 2
    assert released == 2


def test_hammer_ons_and_pull_offs_say_where_they_start_and_stop(root):
    """Elements hammer-on and pull-off: type is required; the text is needed on the start only."""
    for tag, letter in (("hammer-on", "H"), ("pull-off", "P")):
        for element in root.iter(tag):
            assert (element.get("type"), element.text) in (("start", letter), ("stop", None))


def test_slides_stand_in_notations_and_wavy_lines_in_ornaments(root):
    for tag, parent in (
        ("slide", "notations"),
        ("wavy-line", "ornaments"),
        ("tied", "notations"),
        ("fret", "technical"),
    ):
        assert len(root.findall(f".//{parent}/{tag}")) == len(list(root.iter(tag))) > 0


def test_string_1_is_the_highest_and_line_1_of_the_tuning_the_lowest(root):
    """Attribute line of staff-tuning: lines count from bottom to top; element string: 1 is the highest."""
    tuning = root.findall(".//staff-tuning")
    assert [t.get("line") for t in tuning] == ["1", "2", "3", "4", "5", "6"]
    names = [t.findtext("tuning-step") + t.findtext("tuning-octave") for t in tuning]
    assert names == ["E2", "A2", "D3", "G3", "B3", "E4"], "whatever the key"


def test_the_midi_program_counts_from_1(root):
    """Element midi-program: 1 to 128; General MIDI 28, counted from 1, is the clean electric guitar."""
    assert root.findtext(".//midi-program") == "28"


def test_the_clef_alone_moves_the_octave(root):
    """Element clef-octave-change: -1 for a clef that sounds an octave lower; pitches are as they sound."""
    assert root.findtext(".//clef[@number='1']/clef-octave-change") == "-1"
    assert root.find(".//transpose") is None
    lowest = root.find(".//note[@id='n7s6']/pitch")
    assert lowest.findtext("octave") in "23"


def test_levels_of_numbered_lines_stay_in_their_range(root):
    """Type number-level: 1 to 16."""
    for tag in ("slur", "slide", "hammer-on", "pull-off", "wavy-line"):
        assert {int(e.get("number")) for e in root.iter(tag)} <= set(range(1, 17))


def test_ids_are_unique(root):
    ids = [e.get("id") for e in root.iter() if e.get("id") and e.tag == "note"]
    assert len(ids) == len(set(ids)) > 50


def test_grace_notes_take_no_time(root):
    """Element grace: a grace note has no duration."""
    for note in root.iter("note"):
        assert (note.find("grace") is None) == (note.find("duration") is not None)
