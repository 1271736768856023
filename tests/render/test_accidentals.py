"""Score and page print the same signs before the same heads."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from lickwright.compose.write import write
from lickwright.render.handout.model import page_model
from lickwright.render.score.write import musicxml
from lickwright.study.model import Brief, Note, Study

from tests.render.score_reading import one_bar
from tests.studies import tour

NAMES = {"sharp": "#", "flat": "b", "natural": "n", None: ""}
STUDIES = {
    **{f"tour {key}": tour(key, repeats=2) for key in ("A", "Db", "F#", "Eb", "C")},
    "straight B": tour("B", "4/4", "straight"),
    "minor D": write(Brief("minor-slow", "D", 12)),
    "shuffle Gb": write(Brief("slow-shuffle", "Gb", 3)),
    "quick E": write(Brief("quick-shuffle", "E", 3, level="fluent")),
}


def in_score(study: Study) -> dict[str, Counter[tuple[str, int, int, str]]]:
    """What each event prints: letter, semitones, written octave and sign of its heads, and of marks over trills."""
    found: dict[str, Counter[tuple[str, int, int, str]]] = {}
    for note in ET.fromstring(musicxml(study)).iter("note"):
        name = note.get("id", "")
        if not name.startswith("n") or note.find("tie[@type='stop']") is not None:
            continue
        event = found.setdefault("e" + name[1:].partition("s")[0], Counter())
        letter, octave = note.findtext("pitch/step") or "", int(note.findtext("pitch/octave") or 0) + 1
        alter = int(note.findtext("pitch/alter") or 0)
        event[letter, alter, octave, NAMES[note.findtext("accidental")]] += 1
    return found


def on_page(study: Study) -> dict[str, Counter[tuple[str, int, int, str]]]:
    found = {}
    for event in page_model(study)["events"]:
        heads = []
        for note in event["notes"]:
            pre = note["bend"] and note["bend"]["kind"].startswith("pre")
            heads += [] if note["tied"] else [note["head"]]
            heads += [note["grace"], note["released"], None if pre else note["fretted"]]
        found[event["id"]] = Counter(
            (h["letter"], h["alter"], h["octave"], h["accidental"]) for h in heads if h is not None
        )
    return found


@pytest.mark.parametrize("study", STUDIES.values(), ids=STUDIES.keys())
def test_score_and_page_print_the_same_signs(study: Study) -> None:
    numbered = replace(study, events=tuple(replace(e, id=f"e{k + 1}") for k, e in enumerate(study.events)))
    score, page = in_score(numbered), on_page(numbered)
    assert {k: v for k, v in page.items() if v} == score
    assert any(sign for heads in score.values() for *_, sign in heads)


def test_a_line_that_stood_otherwise_in_the_bar_before_prints_a_courtesy_sign_in_both() -> None:
    study = one_bar("12/8", "triplet", (0, 12), (48, 12))
    notes = (Note(3, 6, 2, 61, "3"), Note(3, 5, 1, 60, "b3"))
    pairs = zip(study.events, notes, strict=True)
    events = tuple(replace(e, id=f"e{k}", notes=(n,)) for k, (e, n) in enumerate(pairs, 1))
    study = replace(study, bars=2, events=events)
    first, second = (event["notes"][0]["head"] for event in page_model(study)["events"])
    assert (second["letter"], second["accidental"]) in (("C", "n"), ("B", "#"))
    assert first["letter"] == "C"
    assert in_score(study) == on_page(study)


def test_the_mark_over_a_trill_is_that_of_the_page_s_small_head() -> None:
    study = one_bar("12/8", "triplet", (0, 12))
    for key in ("C", "Ab", "E"):
        note = Note(3, 5, 1, 60, "b3", trill=6)
        made = replace(study, key=key, events=(replace(study.events[0], notes=(note,)),))
        mark = ET.fromstring(musicxml(made)).findtext(".//accidental-mark")
        head = page_model(made)["events"][0]["notes"][0]["trillHead"]
        assert head["accidental"] == NAMES[mark]
        assert (head["letter"], head["alter"]) == ("D", -1) or key == "E"
