"""Whatever a title holds, it stays text: in pages, scores, MIDI, tags, file names and on the terminal."""

from __future__ import annotations

import json
import re
import unicodedata
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.judge.compare import Asked, compare, focused
from lickwright.read.midi import read_midi
from lickwright.render.handout.compare import compare_page
from lickwright.render.handout.page import handout
from lickwright.render.handout.series_page import Row, series_page
from lickwright.render.midi.write import midi
from lickwright.render.outputs import text_sheet
from lickwright.render.score.write import musicxml
from lickwright.render.sound.encode import Tags, encode
from lickwright.render.tab.text import tab
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Study

from tests.robust.fuzz import with_drills
from tests.robust.titles import TITLES
from tests.studies import tour

SHORT = tour()
PAGES = ("handout", "practice", "compare", "series")


def titled(title: str, study: Study = SHORT) -> Study:
    return replace(study, title=title, brief=replace(study.brief, title=title))


def page_of(kind: str, title: str) -> str:
    if kind == "handout":
        return handout(titled(title))
    if kind == "practice":
        return handout(titled(title, with_drills()))
    if kind == "compare":
        one, other = titled(title), titled(title, tour("E"))
        return compare_page(compare(focused([Asked(title, one), Asked("b.json", other)])))
    return series_page(title, [Row(1, titled(title), 3.0, (("page", "001/study.html"),))])


class Skeleton(HTMLParser):
    """The elements of a page with their attributes' names, in order: what no title may change."""

    def __init__(self, text: str):
        super().__init__()
        self.elements: list[tuple[str, tuple[str, ...]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(sorted(name for name, _ in attributes))))

    def handle_comment(self, data: str) -> None:
        self.elements.append(("comment", (data,)))


@pytest.mark.parametrize("kind", PAGES)
def test_no_title_changes_the_elements_of_a_page(kind: str) -> None:
    plain = Skeleton(page_of(kind, "A plain title")).elements
    for title in TITLES[:: 1 if kind == "series" else 3]:
        assert Skeleton(page_of(kind, title)).elements == plain, title


@pytest.mark.parametrize("kind", PAGES)
def test_no_control_codes_are_in_a_page(kind: str) -> None:
    for title in TITLES[29:34]:
        assert codes(page_of(kind, title)) == set(), title


def codes(text: str) -> set[str]:
    """Control characters that no file of text holds."""
    return {c for c in text if unicodedata.category(c) == "Cc" and c not in "\n\t\r"}


@pytest.mark.parametrize("title", TITLES)
def test_a_score_stays_one_and_keeps_what_can_be_printed(title: str) -> None:
    root = ET.fromstring(musicxml(titled(title)))
    texts = [e.text or "" for e in root.iter("work-title")]
    assert len(texts) == 1
    if title.isprintable() and len(title) < 100:
        assert title in texts[0]
    plain = ET.fromstring(musicxml(titled("A plain title")))
    assert [e.tag for e in root.iter()] == [e.tag for e in plain.iter()]


@pytest.mark.parametrize("title", TITLES)
def test_midi_stays_midi_with_its_notes(title: str) -> None:
    data = midi(titled(title))
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    plain = mido.MidiFile(file=BytesIO(midi(titled("x"))), charset="utf-8")
    notes = [[m for m in f.tracks[-1] if not m.is_meta] for f in (file, plain)]
    assert notes[0] == notes[1]
    names = [m.name for track in file.tracks for m in track if m.type == "track_name"]
    assert all(codes(name) == set() for name in names)
    read_midi(data)


@pytest.mark.parametrize("format", ["mp3", "flac", "wav"])
def test_tags_stay_inside_the_file(format: str) -> None:
    samples = np.zeros(4410)
    for title in TITLES:
        data = encode(samples, format, Tags(title, 1, "A", 60.0))
        with soundfile.SoundFile(BytesIO(data)) as sound:
            assert 4000 <= sound.frames <= 8000
            if format == "flac" and title.isprintable() and len(title) < 100:
                assert sound.title == title


@pytest.mark.parametrize("title", TITLES)
def test_the_terminal_gets_no_codes(title: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    study = titled(title)
    for text in (tab(study), text_sheet(study)):
        assert codes(text) == set()
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u200f\u2028\u2029]", text)
    Path("study.json").write_text(to_json(study), encoding="utf-8")
    assert from_json(Path("study.json").read_bytes()) == study
    for words in (
        ["render", "study.json", "--format", "tab"],
        ["compare", "study.json", "study.json", "--no-tab"],
    ):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
        assert codes(result.output) == set()
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u200f\u2028\u2029]", result.output)


def test_a_title_never_names_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inside = tmp_path / "a" / "b"
    inside.mkdir(parents=True)
    monkeypatch.chdir(inside)
    monkeypatch.setattr("lickwright.compose.write.write", lambda brief: titled(brief.title))
    for n, title in enumerate(TITLES[29:39]):
        call = [
            "write",
            "slow-shuffle",
            "--title",
            title.replace("\x00", ""),
            "--format",
            "tab,midi",
            "--out",
            f"o{n}",
        ]
        assert CliRunner().invoke(main, call).exit_code == 0
        assert sorted(p.name for p in Path(f"o{n}").iterdir()) == ["study.json", "study.mid", "study.txt"]
        assert json.loads(Path(f"o{n}/study.json").read_bytes())["title"] == title.replace("\x00", "")
    assert sorted(p.name for p in inside.iterdir()) == sorted(f"o{n}" for n in range(10))
    assert [p.name for p in tmp_path.iterdir()] == ["a"]
