"""The handout's text: what is inside it, what may run, what the script is told. Drawing: tests/browser."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections import Counter
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from lickwright.render.handout import NoChromiumError, handout, handout_pdf, pdf
from lickwright.render.handout.model import page_model, signature_name
from lickwright.render.words.text import CAUTIONS
from lickwright.study.model import Study
from lickwright.theory.harmony import KEY_NAMES

from tests.studies import tour

HOSTILE = '<b onclick="x">\'&</script><script>alert(1)</script> שלום ' + "y" * 250


class Reader(HTMLParser):
    """Collects elements, their attributes and the text of scripts and headings."""

    def __init__(self, html: str):
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.texts.setdefault(tag, []).append("")

    def handle_data(self, data):
        if self.tags:
            self.texts[self.tags[-1][0]][-1] += data


@pytest.fixture(scope="module")
def html() -> str:
    return handout(tour())


def inlined(html: str) -> dict:
    return json.loads(re.search(r'<script type="application/json" id="model">(.*?)</script>', html, re.S)[1])


def test_the_same_study_gives_the_same_bytes():
    assert handout(tour()) == handout(tour())


def test_the_study_inside_is_the_study(html):
    from lickwright.study.json_text import to_json

    assert inlined(html)["study"] == json.loads(to_json(tour()))


def test_nothing_in_the_page_points_outside(html):
    page = Reader(html)
    for tag, attributes in page.tags:
        assert tag not in {"link", "iframe", "object", "embed", "img", "base"}
        for name in ("src", "href", "action", "style", "onclick", "onload"):
            assert name not in attributes


def test_the_policy_names_exactly_the_scripts_and_the_style_inside(html):
    policy = unescape(re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)[1])
    bodies = re.findall(r"<script>(.*?)</script>", html, re.S) + re.findall(
        r"<style>(.*?)</style>", html, re.S
    )
    hashes = {base64.b64encode(hashlib.sha256(b.encode()).digest()).decode() for b in bodies}
    assert set(re.findall(r"sha256-([^']+)'", policy)) == hashes
    assert len(bodies) == 3
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy


def test_a_hostile_title_stays_text():
    html = handout(replace(tour(), title=HOSTILE))
    page = Reader(html)
    assert page.texts["h1"][0].strip() == HOSTILE
    assert len(page.texts["script"]) == len(Reader(handout(tour())).texts["script"])
    assert inlined(html)["study"]["title"] == HOSTILE


def test_cautions_words_and_a_text_for_screen_readers_are_there(html):
    for caution in CAUTIONS:
        assert caution in unescape(html)
    assert "Phrase 1" in html
    assert "The music in words" in html


def test_licences_of_the_engraver_and_its_fonts_travel_with_the_page(html):
    assert "Permission is hereby granted, free of charge" in html
    assert html.count("SIL OPEN FONT LICENSE") >= 2


@pytest.mark.parametrize("key", KEY_NAMES)
def test_every_note_is_written_an_octave_above_its_sound_in_every_key(key):
    study = tour(key)
    model = page_model(study)
    for event, made in zip(study.events, model["events"], strict=True):
        written = Counter(_midi(n["head"]) - 12 for n in made["notes"])
        assert written == Counter(n.sounding2 // 2 for n in event.notes)


def _midi(head: dict) -> int:
    return (
        12 * (head["octave"] + 1)
        + {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[head["letter"]]
        + head["alter"]
    )


@pytest.mark.parametrize("key", KEY_NAMES)
def test_a_reader_of_the_page_s_signs_finds_the_pitches(key):
    """Key signature, then signs until the bar line, of every head that the page draws."""
    model = page_model(tour(key, repeats=2))
    signed = model["fifths"]
    letters = "FCGDAEB"[:signed] if signed >= 0 else "FCGDAEB"[signed:]
    state: dict = {}
    bar = -1
    signs = {"b": -1, "n": 0, "#": 1}
    for event, made in zip(model["study"]["events"], model["events"], strict=True):
        if event["onset"] // 48 != bar:
            bar, state = event["onset"] // 48, {}
        notes = [n for n in made["notes"] if not n["tied"]]
        small = [n["grace"] or n["fretted"] for n in notes]
        late = [n[name] for n in notes for name in ("trillHead", "released")]
        for head in (*small, *(n["head"] for n in notes if not n["muted"]), *late):
            if head is not None:
                place = (head["letter"], head["octave"])
                if head["accidental"]:
                    state[place] = signs[head["accidental"]]
                signature = (1 if signed > 0 else -1) if head["letter"] in letters else 0
                assert state.get(place, signature) == head["alter"]
        assert not any(n["head"]["accidental"] for n in made["notes"] if n["muted"] or n["tied"])


def test_signatures_are_those_of_the_circle_of_fifths():
    # Common knowledge of notation: G has one sharp, F one flat, and so on by fifths.
    assert [signature_name(n) for n in (-6, -1, 0, 1, 6)] == ["Gb", "F", "C", "G", "F#"]


def test_a_legato_note_is_joined_to_the_one_it_comes_from():
    model = page_model(tour())
    joined = {
        (e["id"], n["string"]): n["from"]
        for e in model["events"]
        for n in e["notes"]
        if n["from"] is not None
    }
    assert joined[("e2", 2)] == 0
    assert joined[("e4", 3)] == 2
    assert joined[("e6", 4)] == 4


def test_fingers_of_a_grip_that_is_only_repeated_are_not_shown_again():
    study = tour()
    twice = replace(study.events[7], id="again", onset=study.events[8].onset - 4, duration=4)
    events = (*study.events[:8], twice, *study.events[8:])
    shown = [e["showFingers"] for e in page_model(replace(study, events=events))["events"]]
    assert shown[7] is True
    assert shown[8] is False


def test_ranges_are_the_study_its_phrases_and_its_licks():
    study = tour(repeats=2)
    spans = [(r["from"], r["to"]) for r in page_model(study)["ranges"]]
    assert spans == [(0, 384), (0, 192), (192, 384), (4, 48), (96, 144), (196, 240), (288, 336)]


def test_a_study_without_licks_or_events_still_makes_a_page():
    study = tour()
    bare: Study = replace(study, events=(), slots=())
    assert "bars 1–4" in handout(bare)


def test_without_chromium_the_message_says_what_to_do(monkeypatch, tmp_path):
    monkeypatch.setenv("LICKWRIGHT_CHROMIUM", str(tmp_path / "none"))
    with pytest.raises(NoChromiumError, match="install the package chromium"):
        handout_pdf("<html ></html>", tmp_path / "out.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_chromium_that_fails_leaves_no_file(monkeypatch, tmp_path):
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\necho no display >&2\nexit 3\n")
    broken.chmod(0o755)
    monkeypatch.setenv("LICKWRIGHT_CHROMIUM", str(broken))
    with pytest.raises(NoChromiumError, match=r"exit status 3.*no display"):
        handout_pdf("<html ></html>", tmp_path / "out.pdf")
    assert not (tmp_path / "out.pdf").exists()


def test_paper_is_a4_or_letter(tmp_path):
    with pytest.raises(ValueError, match="a4 letter"):
        handout_pdf("", tmp_path / "x.pdf", paper="a3")
    assert set(pdf.PAPERS) == {"a4", "letter"}


def test_every_vendored_file_has_its_licence():
    vendor = Path(pdf.__file__).parent / "vendor"
    assert {p.name for p in vendor.iterdir()} == {
        "vexflow-bravura.js",
        "vexflow-LICENSE.txt",
        "vexflow-AUTHORS.md",
        "bravura-LICENSE.txt",
        "academico-LICENSE.txt",
    }
