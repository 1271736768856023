"""Neck and grip diagrams: what is shown, where, and the other way round for left-handed players."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.render.handout.diagrams import (
    degree_text,
    grip,
    neck_places,
    neck_under,
    phrase_grips,
    phrase_neck,
)
from lickwright.theory.harmony import KEY_NAMES, semitones

from tests.studies import tour


def dots(svg: str) -> dict[tuple[int, int], tuple[float, str, bool]]:
    """(string, fret) to (x, text in the dot, root or not)."""
    found = {}
    for group in ET.fromstring(svg).iter("g"):
        circle, text = group.find("circle"), group.find("text")
        place = (int(group.get("data-string")), int(group.get("data-fret")))
        said = "" if text is None else text.text or ""
        found[place] = (float(circle.get("cx")), said, "root" in circle.get("class"))
    return found


def lick(study):
    return [e for e in study.events if e.slot == 0]


def test_a_neck_shows_every_place_of_its_licks_once():
    study = tour()
    places = {(p.string, p.fret) for p in neck_places(study, lick(study))}
    assert places == {(n.string, n.fret) for e in lick(study) for n in e.notes}
    assert set(dots(neck_under(study, lick(study)))) == places


def test_grace_notes_and_trills_have_their_places_too():
    study = tour()
    places = {(p.string, p.fret) for p in neck_places(study, [e for e in study.events if e.slot == 2])}
    assert (2, 5) in places  # the grace note
    assert (3, 6) in places  # the trill's upper note


@pytest.mark.parametrize("key", KEY_NAMES)
def test_degrees_of_the_neck_are_counted_from_the_key_and_roots_are_marked(key):
    study = tour(key)
    for (string, fret), (_, text, root) in dots(neck_under(study, lick(study))).items():
        above = (study.neck.pitch(string, fret) - study.home.pitch_class) % 12
        assert semitones(text.replace("♭", "b").replace("♯", "#")) == above
        assert root == (above == 0)


def test_a_grip_shows_fingers_in_its_dots_and_degrees_under_them():
    # Common practice, no source: x-x-5-6-5-x is the flat seventh, third and fifth of A7.
    study = tour()
    event = next(e for e in study.events if e.grip == "b7-3-5")
    svg = grip(study, event)
    assert {place: text for place, (_, text, _) in dots(svg).items()} == {
        (n.string, n.fret): str(n.finger) for n in event.notes
    }
    texts = [t.text for t in ET.fromstring(svg).iter("text")]
    assert [t for t in texts if t in {"♭7", "3", "5"}].count("♭7") == 1
    assert texts.count("×") == 3


def test_left_handed_diagrams_are_mirror_images_with_upright_text():
    study = tour()
    event = next(e for e in study.events if e.grip)
    for make in (
        lambda left: neck_under(study, lick(study), left_handed=left),
        lambda left: grip(study, event, left_handed=left),
    ):
        right, left = make(False), make(True)
        width = float(ET.fromstring(right).get("width"))
        assert {p: (round(width - x, 1), t, r) for p, (x, t, r) in dots(right).items()} == dots(left)
        assert "scale(" not in left


def test_a_grip_with_one_finger_on_two_strings_shows_a_bar():
    study = tour()
    ninth = next(e for e in study.events if e.grip == "1-3-b7-9")
    assert 'class="barre"' in grip(study, ninth)


def test_each_grip_of_a_phrase_comes_once_in_order():
    study = tour(repeats=2)
    keys = [d.key for d in phrase_grips(study, study.phrases[0])]
    assert len(keys) == len(set(keys))
    assert keys[0] == "4.5 3.6 2.5"
    assert phrase_grips(study, study.phrases[0])[0].caption == "A7"


def test_a_phrase_without_a_lick_has_no_neck_and_muted_notes_none_to_show():
    study = tour()
    quiet = replace(study, events=tuple(e for e in study.events if e.slot in (1, 3)))
    assert phrase_neck(quiet, quiet.phrases[0]) is None
    muted = [e for e in study.events if all(n.muted for n in e.notes)]
    with pytest.raises(ValueError, match="not muted"):
        neck_under(study, muted)


@pytest.mark.parametrize("tuning", ["seven strings", "bass"])
def test_other_necks_have_their_number_of_strings(tuning):
    study = replace(tour(), neck=Neck(tuning=TUNINGS[tuning], frets=24))
    events = [e for e in lick(study) if all(n.string <= len(TUNINGS[tuning]) for n in e.notes)]
    svg = ET.fromstring(neck_under(study, events))
    level = [li for li in svg.iter("line") if li.get("y1") == li.get("y2")]
    assert len(level) == len(TUNINGS[tuning])


def test_what_a_diagram_shows_is_said_for_those_who_cannot_see_it():
    study = tour()
    label = ET.fromstring(neck_under(study, lick(study))).get("aria-label")
    assert label.startswith("Neck, frets 5 to")
    assert "string 3 fret 7 degree 4" in label


def test_degrees_are_printed_with_their_signs():
    assert degree_text("b7") == "♭7"
