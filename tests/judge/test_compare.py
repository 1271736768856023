"""Studies and licks side by side: what is measured, where they differ, and the command that shows it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.judge.compare import Asked, compare, focused
from lickwright.judge.effort import report
from lickwright.judge.measure import measured
from lickwright.rulebook.read import lead_of
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Study

from tests.studies import tour
from tests.test_samples import SAMPLES


def sample(name: str) -> Study:
    return from_json((SAMPLES / f"{name}.json").read_bytes())


def other_note(study: Study, slot: int) -> Study:
    """The study with the first note of a slot a fret higher."""
    first = study.events_of(slot)[0]
    note = replace(first.notes[0], fret=first.notes[0].fret + 1, pitch=first.notes[0].pitch + 1)
    changed = replace(first, notes=(note, *first.notes[1:]))
    return replace(study, events=tuple(changed if e is first else e for e in study.events))


def test_the_rows_are_those_of_check_for_each_study() -> None:
    studies = [sample("slow-shuffle-in-A"), sample("minor-slow-in-D")]
    leads = [lead_of(study) for study in studies]
    found = compare([Asked(s.title, s, None, lead) for s, lead in zip(studies, leads, strict=True)])
    for entry, study, lead in zip(found.entries, studies, leads, strict=True):
        for row in measured(study, lead.rules.music):
            assert entry.values[row.measure.name] == row.value
            assert (row.measure.name in entry.unusual) == row.outside
        whole = report(study, lead).whole
        assert entry.values["difficulty"] == whole.difficulty
        assert entry.hardest == whole.hardest
    assert all(scale.sentence.endswith(".") for scale in found.scales)
    assert len({scale.name for scale in found.scales}) == len(found.scales)


def test_the_distance_to_itself_is_0_and_to_another_the_same_both_ways() -> None:
    found = compare([Asked("a", sample("slow-shuffle-in-A")), Asked("b", sample("quick-shuffle-in-E"))])
    (aa, ab), (ba, bb) = found.distances
    assert aa.total == bb.total == 0
    assert ab == ba
    assert ab.total > 0.2


def test_a_study_against_itself_in_another_key_has_nothing_that_tells_them_apart() -> None:
    found = compare([Asked("a", tour("A")), Asked("b", tour("D"))])
    assert found.telling == ()
    assert found.differing(2) == frozenset()
    assert found.differing_bars() == ()


def test_what_differs_is_told_by_tick_and_by_bar() -> None:
    study = tour()
    found = compare([Asked("a", study), Asked("b", other_note(study, 2))])
    onset = study.events_of(2)[0].onset
    assert found.differing(2) == {onset}
    assert found.differing(1) == frozenset()
    assert found.differing_bars() == (2,)
    less = replace(study, events=study.events[:-1])
    assert compare([Asked("a", study), Asked("b", less)]).differing_bars() == (3,)


def test_studies_that_differ_in_one_lick_are_seen_as_that_lick() -> None:
    study = tour()
    pair = [Asked("a", study), Asked("b", other_note(study, 2))]
    assert [a.slot for a in focused(pair)] == [2, 2]
    assert compare(focused(pair)).of_licks
    twice = other_note(other_note(study, 2), 0)
    assert [a.slot for a in focused([Asked("a", study), Asked("b", twice)])] == [None, None]
    comping = other_note(study, 1)
    assert [a.slot for a in focused([Asked("a", study), Asked("b", comping)])] == [None, None]


def test_licks_of_different_length_are_shown_in_as_many_bars() -> None:
    study = tour(repeats=2)
    first = study.events_of(0)[0]
    early = tuple(replace(e, slot=4) if e.slot == 3 else e for e in study.events)
    assert first.onset < 48
    found = compare([Asked("a", study, 0), Asked("b", replace(study, events=early), 4)])
    assert found.entries[0].shown.bars == found.entries[1].shown.bars == 2


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ([Asked("a", tour())], "two studies or more"),
        ([Asked("a", tour()), Asked("b", tour(), 0)], "whole studies with whole studies"),
        ([Asked("a", tour(), 0), Asked("b", tour(), 1)], "slots with licks are 0, 2"),
    ],
)
def test_what_cannot_be_compared_is_told(asked: list[Asked], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        compare(asked)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    study = sample("slow-shuffle-in-A")
    slot = [s.number for s in study.slots if s.kind == "lick"][1]
    for name, made in (("a", study), ("b", other_note(study, slot)), ("c", sample("minor-slow-in-D"))):
        (tmp_path / f"{name}.json").write_text(to_json(made), encoding="utf-8")
    straight = tour("A", "4/4", "straight")
    (tmp_path / "straight.json").write_text(to_json(straight), encoding="utf-8")
    (tmp_path / "odd@3.json").write_text(to_json(study), encoding="utf-8")
    return tmp_path


def run(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["compare", *words])
    return done.exit_code, done.output


def test_the_command_shows_measures_distances_tabs_and_words(folder: Path) -> None:
    code, out = run("a.json", "c.json")
    assert code == 0
    for part in (
        "notes in a lick",
        "nearest to a limit",
        "1 and 2",
        "Bars 1-12",
        "^",
        "apart, on a scale from 0",
    ):
        assert part in out
    assert all(len(line) <= 80 for line in out.splitlines() if not line.startswith(("1", "2", "They")))


def test_the_command_shows_only_what_differs_unless_asked_for_all(folder: Path) -> None:
    code, out = run("a.json", "b.json")
    assert code == 0
    assert re.search(r"2: lick B, answer \(bars? 3", out)
    assert "measures are the same (--all shows them)" in out
    _, everything = run("a.json", "b.json", "--all")
    assert len(everything) > len(out)
    assert "(--all" not in everything
    _, same = run("a.json", "a.json")
    assert "the tabs are the same" in same
    assert "They are the same in rhythm, contour, notes and place." in same


def test_a_lick_is_named_by_its_slot_and_a_file_may_have_the_sign_in_its_name(folder: Path) -> None:
    study = sample("slow-shuffle-in-A")
    licks = [s.number + 1 for s in study.slots if s.kind == "lick"]
    code, out = run(f"a.json@{licks[0]}", f"odd@3.json@{licks[2]}", f"b.json@{licks[1]}", "--no-tab")
    assert code == 0
    assert f"2  odd@3.json@{licks[2]}: Late on the porch, in A, lick" in out
    assert run("odd@3.json", "a.json", "--no-tab")[0] == 0


def test_studies_on_other_grids_are_measured_without_tabs(folder: Path) -> None:
    code, out = run("a.json", "straight.json")
    assert code == 0
    assert "no tabs: studies to compare must be on the same grid" in out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("a.json",), "two studies or more"),
        (("a.json", "nowhere.json"), "nowhere.json: no such study file"),
        (("a.json", "a.json@2"), "licks (a.json@3) with licks"),
        (("a.json@2", "a.json@99"), "slot 99 holds no lick; the licks of this study are in slots"),
        (("a.json", "c.json", "--html", "no/where.html"), "no is no folder"),
        (("a.json", "c.json", "--html", "a.json"), "a.json exists"),
        (("a.json", "c.json", "--html", "x.html", "--out", "y"), "give one of them"),
    ],
)
def test_a_call_that_cannot_be_is_told_why(folder: Path, words: tuple[str, ...], message: str) -> None:
    code, out = run(*words)
    assert code == 2
    assert message in out
    assert not (folder / "x.html").exists()


def test_the_page_is_written_whole_into_a_file_or_a_folder(folder: Path) -> None:
    assert run("a.json", "b.json", "--no-tab", "--silent", "--html", "both.html")[0] == 0
    assert (folder / "both.html").read_text(encoding="utf-8").endswith("</html>")
    assert run("a.json", "b.json", "--no-tab", "--silent", "--out", "new")[0] == 0
    first = (folder / "new" / "compare.html").read_bytes()
    assert first == (folder / "both.html").read_bytes()
    assert run("a.json", "b.json", "--no-tab", "--silent", "--out", "new")[0] == 2
    assert run("a.json", "b.json", "--no-tab", "--silent", "--out", "new", "--replace")[0] == 0
