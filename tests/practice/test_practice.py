"""Practice sheets: what is asked for is trained, nothing comes back too soon, what was mastered comes back harder."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.compose import write as compose
from lickwright.judge.check import checked
from lickwright.practice.record import (
    Given,
    Lick,
    Record,
    RecordError,
    intend,
    keeping,
    read_record,
    settle,
    write_record,
)
from lickwright.practice.write import Practice, Request, RequestError, keys_in_fourths, practice
from lickwright.render.tab.text import tab
from lickwright.render.words.text import CAUTIONS
from lickwright.study.figures import figures
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Before
from lickwright.study.sheet import exercises, joined
from lickwright.theory.harmony import chord_in_key

from tests.practice.reading import counts

DAY, NEXT_DAY, LATER = date(2026, 3, 2), date(2026, 3, 3), date(2026, 5, 2)
ASKED = Request("slow-shuffle", ("bend-release",), ("E",), "growing", count=3, minutes=9)


@pytest.fixture(scope="module")
def first() -> Practice:
    return practice(ASKED, Record(), DAY)


@pytest.fixture(scope="module")
def both() -> Practice:
    return practice(
        Request("quick-shuffle", ("hammer-on", "degree:b7"), ("G", "C"), "growing", 2, 7, over=("I", "IV")),
        Record(),
        DAY,
    )


# ------------------------------------------------------------------ what is in a sheet


def test_every_lick_trains_what_was_asked_for(first: Practice, both: Practice) -> None:
    (sheet,) = first.studies
    assert [counts(one, "bend-release") for one in exercises(sheet)] == [[1]] * 3
    for study in both.studies:
        for one in exercises(study):
            assert min(counts(one, "hammer-on")) >= 2
            assert min(counts(one, "degree:b7")) >= 2


def test_a_sheet_goes_from_easy_to_hard_across_its_keys(first: Practice, both: Practice) -> None:
    for made in (first, both):
        hard = [drill.difficulty for study in made.studies for drill in study.drills]
        assert hard == sorted(hard)
        numbers = [drill.number for study in made.studies for drill in study.drills]
        assert numbers == [given.number for given in made.given] == list(range(1, len(numbers) + 1))
    assert [study.key for study in both.studies] == ["G", "C"]


def test_each_exercise_keeps_the_rules_of_its_style(first: Practice, both: Practice) -> None:
    for study in (*first.studies, *both.studies):
        assert checked(study) == ()
        assert checked(from_json(to_json(study))) == ()


def test_a_broken_rule_in_a_sheet_is_found_where_it_stands(first: Practice) -> None:
    (sheet,) = first.studies
    data = json.loads(to_json(sheet))
    last = [e for e in data["events"] if e["slot"] == max(s["number"] for s in data["slots"])][-1]
    last["notes"][0]["fret"] += 1
    found = checked(from_json(json.dumps(data)))
    assert {v.tick for v in found} == {last["onset"]}


def test_no_two_licks_of_a_sheet_share_five_notes_running(first: Practice) -> None:
    (sheet,) = first.studies
    every = [figures(one, 4) for one in exercises(sheet)]
    assert sum(map(len, every)) == len(frozenset().union(*every))


def test_exercises_go_over_the_chords_asked_for(both: Practice) -> None:
    for study in both.studies:
        for one in exercises(study):
            roots = [chord_in_key(span.roman, one.home).root_pc for span in one.form]
            assert [(pc - one.home.pitch_class) % 12 for pc in roots] == [0, 0, 5, 5]


def test_sheets_come_apart_into_the_exercises_they_were_joined_from(first: Practice) -> None:
    (sheet,) = first.studies
    again = joined(exercises(sheet), list(sheet.drills), sheet.title)
    assert [e.onset for e in again.events] == [e.onset for e in sheet.events]
    assert all(one.events[0].onset < 48 and one.bars == 2 for one in exercises(sheet))
    assert len(exercises(exercises(sheet)[0])) == 1


def test_the_same_call_gives_the_same_sheet(first: Practice) -> None:
    assert practice(ASKED, Record(), DAY).studies == first.studies


# ------------------------------------------------------------------ the days after


def test_the_next_day_brings_new_licks_and_mastered_ones_come_back_harder(first: Practice) -> None:
    record = Record(first.given).with_got(2, DAY)
    floor = first.given[1].difficulty
    next_day = practice(ASKED, record, NEXT_DAY)
    assert [g.number for g in next_day.given] == [4, 5, 6]
    assert min(g.difficulty for g in next_day.given) > floor
    old = frozenset().union(*(figures(study, 4) for study in first.studies))
    new = frozenset().union(*(figures(study, 4) for study in next_day.studies))
    assert not old & new


@pytest.mark.parametrize(("level", "higher"), [("growing", ": go on with --level fluent"), ("fluent", "")])
def test_when_nothing_harder_is_left_the_next_level_is_named(level: str, higher: str) -> None:
    hardest = Given(
        1, DAY, "slow-shuffle", level, "E", 66, ("bend-release",), 10.0, (Lick((60,), (0,)),), DAY
    )
    asked = Request("slow-shuffle", ("bend-release",), ("E",), level, count=1, minutes=3, tempo_bpm=66)
    with pytest.raises(compose.CannotBeMet) as caught:
        practice(asked, Record((hardest,)), NEXT_DAY)
    assert caught.value.where.endswith(
        f"what was mastered leaves nothing harder at this level up to 66 beats a minute{higher}"
    )


def test_a_figure_is_used_up_for_thirty_days(first: Practice) -> None:
    record = Record(first.given)
    assert record.figures(NEXT_DAY, 30, 4)
    assert not record.figures(LATER, 30, 4)


def test_the_record_reads_back_as_it_was_written(first: Practice, tmp_path: Path) -> None:
    record = Record(first.given).with_got(1, NEXT_DAY)
    write_record(tmp_path / "record.json", record)
    assert read_record(tmp_path / "record.json") == record
    assert read_record(tmp_path / "none.json") == Record()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "not JSON"),
        ("[]", "no practice record"),
        ('{"record_version": 9}', "of version 1"),
        ('{"record_version": 1, "given": [{"number": 1}]}', "given.0.day"),
    ],
)
def test_a_record_that_is_none_is_told_what_is_wrong(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "record.json").write_text(text)
    with pytest.raises(RecordError, match=r".") as error:
        read_record(tmp_path / "record.json")
    assert said in str(error.value)


# ------------------------------------------------------------------ what the level lacks


def refused(request: Request) -> str:
    with pytest.raises(compose.CannotBeMet) as error:
        practice(request, Record(), DAY)
    return error.value.where


def test_a_degree_that_a_chord_lacks_is_said_with_the_chord_that_has_it() -> None:
    where = refused(Request("slow-shuffle", ("key-degree:7",), ("E",), "growing"))
    assert "--over V" in where
    assert "--over IV" not in where


def test_a_grip_of_a_higher_grade_is_said_with_its_level() -> None:
    assert "grade 2" in refused(Request("slow-shuffle", ("grip:ninth",), ("E",), "first-year"))


def test_a_window_that_the_style_does_not_use_is_said_with_those_it_uses() -> None:
    assert "frets 1, 2" in refused(Request("slow-shuffle", ("window:6",), ("E",), "growing"))


def test_more_bends_than_a_lick_may_have_are_refused() -> None:
    where = refused(Request("slow-shuffle", ("whole-bend",), ("E",), "growing", times=3))
    assert "allows 1" in where
    assert "--times 1" in where


# ------------------------------------------------------------------ what is read, and the commands


@pytest.mark.parametrize(
    ("changes", "problems"),
    [
        ({"goals": ()}, ["name at least one goal"]),
        ({"count": 0}, ["ask for one lick and one minute at least"]),
        ({"minutes": 0}, ["ask for one lick and one minute at least"]),
        ({"goals": ("slied",), "count": 0}, ["no goal 'slied'", "ask for one lick and one minute at least"]),
    ],
)
def test_a_request_that_asks_for_nothing_is_told_what_is_missing(
    changes: dict[str, object], problems: list[str]
) -> None:
    with pytest.raises(RequestError) as caught:
        practice(replace(ASKED, **changes), Record(), DAY)  # type: ignore[arg-type]
    assert len(caught.value.problems) == len(problems)
    assert all(a.startswith(b) for a, b in zip(caught.value.problems, problems, strict=True))


def test_the_tab_says_steps_rests_and_cautions(first: Practice) -> None:
    text = " ".join(tab(first.studies[0]).split())
    assert "9 minutes in all" in text
    assert "Exercise 2, bars 3-4 First rest 20 seconds." in text
    assert "at 35 (60%)" in text
    assert all(caution in text for caution in CAUTIONS)
    assert first.studies[0].drills[0].before is Before.WARM_UP


def test_keys_go_up_in_fourths() -> None:
    assert keys_in_fourths("E", 3) == ("E", "A", "D")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["practice", *words], catch_exceptions=False)


SHORT = (
    "--style",
    "slow-shuffle",
    "--level",
    "growing",
    "--count",
    "2",
    "--minutes",
    "6",
    "--date",
    "2026-03-02",
)


def test_a_sheet_and_its_record_are_written_and_marked(tmp_path: Path) -> None:
    out, record = tmp_path / "monday", tmp_path / "practice.json"
    call = (*SHORT, "--key", "E", "--train", "slide", "--out", str(out), "--format", "tab,html")
    assert run(*call).exit_code == 0
    assert {p.name for p in out.iterdir()} == {"study.json", "study.txt", "study.html"}
    page = (out / "study.html").read_text()
    assert "Exercise 1" in page
    assert all(caution in page for caution in CAUTIONS)
    assert len(read_record(record).given) == 2
    before = record.read_bytes()
    assert run(*call).exit_code == 2
    assert record.read_bytes() == before
    assert run("got", str(record), "2", "--date", "2026-03-03").exit_code == 0
    assert [g.got for g in read_record(record).given] == [None, NEXT_DAY]
    assert run("got", str(record), "7").exit_code == 2


WRITER = """
import os, signal, sys
from lickwright.cli import main
from lickwright.render import outputs

swap, died = outputs._swap, sys.argv.pop(1)

def dying(*given):
    if died == "after":
        swap(*given)
    os.kill(os.getpid(), signal.SIGKILL)

outputs._swap = dying
main()
"""


@pytest.mark.parametrize(("died", "numbers"), [("before", [1, 2]), ("after", [1, 2, 3, 4])])
def test_a_sheet_and_its_record_are_there_both_or_neither_after_a_crash(
    died: str, numbers: list[int], tmp_path: Path
) -> None:
    record = tmp_path / "practice.json"
    monday, tuesday, wednesday = (
        (*SHORT, "--key", key, "--train", "vibrato", "--format", "", "--out", str(tmp_path / name))
        for name, key in (("monday", "E"), ("tuesday", "A"), ("wednesday", "D"))
    )
    assert run(*monday).exit_code == 0
    killed = subprocess.run([sys.executable, "-c", WRITER, died, "practice", *tuesday], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert (tmp_path / "tuesday").exists() == (died == "after")
    assert run("got", str(record), "1", "--date", "2026-03-03").exit_code == 0
    given = read_record(record).given
    assert [g.number for g in given] == numbers
    assert [g.got for g in given] == [NEXT_DAY, *[None] * (len(numbers) - 1)]
    assert run(*wednesday).exit_code == 0
    assert {p.name for p in tmp_path.iterdir() if p.suffix != ".part"} == {
        "practice.json", "monday", "wednesday", *(["tuesday"] if died == "after" else [])
    }  # fmt: skip


def test_a_damaged_note_of_an_intended_record_is_forgotten(tmp_path: Path) -> None:
    record, sheet = tmp_path / "practice.json", tmp_path / "study.json"
    write_record(record, Record())
    for damaged in (b"", b"{", b"[]\n", b'{"study": 3, "sha256": ""}\n{}', b'{"study": "\\u0000"}\n'):
        (tmp_path / ".practice.json.intended").write_bytes(damaged)
        with keeping(record) as kept:
            assert kept == Record()
    intend(record, Record(), sheet, b"not what is there")
    sheet.write_bytes(b"another sheet of that name")
    settle(record)
    assert {p.name for p in tmp_path.iterdir()} == {"practice.json", "study.json"}


def test_several_keys_have_a_folder_each(tmp_path: Path) -> None:
    out = tmp_path / "cycle"
    call = (*SHORT, "--key", "E", "--cycle", "--train", "vibrato", "--format", "tab")
    assert run(*call, "--out", str(out), "--record", str(tmp_path / "other.json")).exit_code == 0
    assert sorted(p.name for p in out.iterdir()) == ["1-E", "2-A"]
    assert [g.key for g in read_record(tmp_path / "other.json").given] == ["E", "A"]
    assert "goes on in another key" in (out / "2-A" / "study.txt").read_text()


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--train", "slied"), 2, "did you mean slide"),
        (("--train", "slide", "--over", "III"), 2, "--over: the form has no chord 'III'"),
        (("--train", "slide", "--key", "H"), 2, "H"),
        (("--train", "slide", "--keys", "E,A", "--cycle"), 2, "leave out --keys"),
        (("--train", "bend-release", "--level", "first-year"), 1, "--level growing"),
        (("--train", "slide", "--minutes", "1"), 1, "ask for"),
    ],
)
def test_what_cannot_be_is_told_what_would_be_right(words: tuple[str, ...], status: int, said: str) -> None:
    result = CliRunner().invoke(main, ["practice", "--style", "slow-shuffle", *words])
    assert result.exit_code == status
    assert said in result.output


def test_the_goals_are_listed_with_what_counts() -> None:
    listed = run("goals").output
    assert "bend-release" in listed
    assert "strong place" in listed


@pytest.mark.parametrize(
    "command",
    [
        ["vary", "STUDY", "--key", "C", "--out", "other"],
        ["redo", "STUDY", "--slot", "1", "--out", "other"],
        ["candidates", "STUDY", "--slot", "1", "--out", "other"],
    ],
)
def test_a_sheet_is_no_study_to_make_another_one_from(
    command: list[str], first: Practice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    made = tmp_path / "sheet.json"
    made.write_text(to_json(first.studies[0]), encoding="utf-8")
    done = CliRunner().invoke(main, [command[0], str(made), *command[2:]])
    assert done.exit_code == 2
    assert "is a practice sheet" in done.output
    assert not (tmp_path / "other").exists()
