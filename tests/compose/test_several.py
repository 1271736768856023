"""Several studies of one brief, several licks for one place, and the chosen one put into its study: the commands."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.compose import choose
from lickwright.compose import write as compose
from lickwright.compose.choose import far_apart, studies, taken
from lickwright.judge.check import check
from lickwright.rulebook.read import lead_of
from lickwright.study.distance import lick_slots, study_distance
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import BendKind, Brief, SlotKind, Study, bend_curve
from lickwright.study.validate import senseless

from tests.written import a_study


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def refused(status: int, *words: str) -> str:
    """The one line in which a call is refused, without the program's name."""
    result = run(*words)
    assert result.exit_code == status, result.output
    name, said = result.output.split(": ", 1)
    assert name == "lickwright"
    assert len(said.splitlines()) == 1
    return said.strip()


def faults(study: Study) -> list[str]:
    return [str(v) for v in check(study, lead_of(study))]


def save(study: Study, name: str = "study.json") -> str:
    Path(name).write_text(to_json(study), encoding="utf-8")
    return name


def read(name: str | Path) -> Study:
    return from_json(Path(name).read_bytes())


def style(**limits: float) -> str:
    """A rule file that differs from a shipped style in how far things are apart."""
    lines = [f"{name} = {value}" for name, value in limits.items()]
    text = 'title = "Mine"\ninclude = ["slow-shuffle"]\n[vary]\n' + "\n".join(lines)
    Path("mine.toml").write_text(text, encoding="utf-8")
    return "mine.toml"


# ---- whole studies ----------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def a_pair() -> tuple[Study, ...]:
    return studies(Brief("rhumba", "C", 1), 2)


def test_studies_of_one_brief_are_far_apart_and_the_first_is_the_one_that_write_gives() -> None:
    one, other = a_pair()
    assert one == compose.write(Brief("rhumba", "C", 1))
    assert study_distance(one, other).total >= lead_of(one).rules.vary.studies_apart
    assert faults(one) == faults(other) == []


def test_candidates_of_write_lie_in_folders_of_their_own() -> None:
    words = ("write", "rhumba", "--key", "C", "--candidates", "2", "--out", "two", "--format", "tab")
    result = run(*words)
    assert result.exit_code == 0, result.output
    assert {p.relative_to("two").as_posix() for p in Path("two").rglob("*.*")} == {
        f"candidate-{n}/study.{end}" for n in (1, 2) for end in ("json", "txt")
    }
    assert result.output.index("candidate 1\n") < result.output.index("candidate 2\n")
    assert tuple(read(f"two/candidate-{n}/study.json") for n in (1, 2)) == a_pair()
    assert refused(2, *words) == "two exists: choose another --out, or add --replace"
    Path("two/candidate-2/study.txt").write_text("old", encoding="utf-8")
    assert run(*words, "--replace").exit_code == 0
    assert Path("two/candidate-2/study.txt").read_text(encoding="utf-8") != "old"


def test_a_folder_that_holds_other_things_is_not_replaced_by_candidates() -> None:
    Path("mine").mkdir()
    Path("mine/letter.txt").write_text("dear", encoding="utf-8")
    words = ("write", "rhumba", "--candidates", "2", "--out", "mine", "--replace")
    assert refused(2, *words).startswith("mine holds no candidate-*/study.json, so it is not replaced")
    assert Path("mine/letter.txt").exists()


def test_candidates_of_write_need_a_folder() -> None:
    said = refused(2, "write", "slow-shuffle", "--candidates", "2")
    assert said == "--candidates: give --out, the folder for them"


def test_fewer_studies_than_asked_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choose, "TRIED_EACH", 1)
    words = ("--candidates", "2", "--out", "two", "--format", "tab")
    result = run("write", style(studies_apart=0.95), *words)
    assert result.exit_code == 0, result.output
    assert result.output.endswith("1 of 2: no more were found far enough apart\n")
    assert [p.name for p in Path("two").iterdir()] == ["candidate-1"]


# ---- licks for one place ----------------------------------------------------------------------------------


def test_a_candidate_that_is_taken_changes_its_slot_alone() -> None:
    """The way through from the README: candidates, compared, the second one put into the study."""
    model = a_study()
    slot = lick_slots(model)[1].number
    save(model)
    assert (
        run("candidates", "study.json", "--slot", str(slot + 1), "--count", "2", "--out", "two").exit_code
        == 0
    )
    pair = ("two/candidate-1.json", "two/candidate-2.json")
    result = run("compare", *pair, "--take", "2", "--into", "study.json")
    assert result.exit_code == 0, result.output
    assert result.output == (
        f"study.json: slot {slot + 1} is now that of two/candidate-2.json; make its other files again with render\n"
    )
    made, chosen = read("study.json"), read(pair[1])
    for other in model.slots:
        source = chosen if other.number == slot else model
        assert [(e.onset, e.duration, e.notes) for e in made.events_of(other.number)] == [
            (e.onset, e.duration, e.notes) for e in source.events_of(other.number)
        ]
    assert made.events_of(slot) != model.events_of(slot)
    assert faults(made) == []
    assert made.origin.startswith("a lick taken: ")


def test_candidates_without_a_folder_are_shown_and_nothing_is_written() -> None:
    save(a_study())
    slot = lick_slots(a_study())[1].number
    result = run("candidates", "study.json", "--slot", str(slot + 1), "--count", "2")
    assert result.exit_code == 0, result.output
    assert re.search(r"1 0\.\d\d from the one there", result.output)
    assert re.search(r"2 0\.\d\d from the one there", result.output)
    assert [p.name for p in Path().iterdir()] == ["study.json"]


def test_no_lick_far_enough_from_the_one_there_is_an_answer() -> None:
    brief = replace(a_study().brief, style=style(candidates_apart=0.98))
    save(replace(a_study(), brief=brief))
    slot = lick_slots(a_study())[0].number + 1
    said = refused(1, "candidates", "study.json", "--slot", str(slot), "--count", "2", "--out", "two")
    assert said.startswith(
        f"the rules leave no study: no lick for slot {slot} is 0.98 away from the one there"
    )
    assert not Path("two").exists()


@pytest.mark.parametrize("slot", ["1", "99"])
def test_candidates_for_a_place_without_a_lick_name_those_with_one(slot: str) -> None:
    model = a_study()
    assert model.slots[0].kind is SlotKind.COMP
    save(model)
    licks = ", ".join(str(s.number + 1) for s in lick_slots(model))
    said = refused(2, "candidates", "study.json", "--slot", slot)
    assert said == f"--slot {slot}: holds no lick; the licks of this study are in slots {licks}"


def test_nothing_to_choose_from_leaves_nothing() -> None:
    assert far_apart([], [], [], 0.2) == []


# ---- a lick that does not go there ------------------------------------------------------------------------


def lick_word(study: Study, lick: int, name: str = "study.json") -> str:
    """A lick of a study file as a word of a call: FILE@SLOT."""
    return f"{name}@{lick_slots(study)[lick - 1].number + 1}"


def not_taken(study: Study, word: str, into: Study, status: int = 1) -> str:
    """Why a lick does not go into a study, which stays as it is."""
    save(study)
    before = Path(save(into, "into.json")).read_bytes()
    other = lick_word(study, 1) if "@" in word else word
    said = refused(status, "compare", word, other, "--take", "1", "--into", "into.json")
    assert Path("into.json").read_bytes() == before
    return said


@pytest.mark.parametrize(
    ("other", "reason"),
    [
        (("slow-shuffle", "C", 7), "the key is A, the study's C"),
        (("quick-shuffle", "A", 7), "the meter is 12/8, the study's 4/4"),
    ],
)
def test_a_lick_of_another_kind_of_study_is_not_taken(other: tuple[str, str, int], reason: str) -> None:
    word = lick_word(a_study(), 2)
    said = not_taken(a_study(), word, a_study(*other))
    assert said == f"into.json: {word} does not go there: {reason}"


def test_a_lick_for_another_tuning_is_not_taken() -> None:
    lower = replace(a_study().neck, tuning=(63, 58, 54, 49, 44, 39))
    with pytest.raises(ValueError, match=r"the tuning is \(64, .*\), the study's \(63,"):
        taken(replace(a_study(), neck=lower), 1, a_study(), 1)


def test_a_slot_that_the_study_has_not_or_that_comps_is_said() -> None:
    model = a_study()
    last = lick_slots(model)[-1].number
    short = replace(model, slots=model.slots[:last], events=tuple(e for e in model.events if e.slot < last))
    word = lick_word(model, len(lick_slots(model)))
    assert not_taken(model, word, short).endswith(f"the study has slots 1 to {last}, no slot {last + 1}")
    other = replace(model.slots[last], kind=SlotKind.COMP)
    comping = replace(model, slots=(*model.slots[:last], other, *model.slots[last + 1 :]))
    said = not_taken(model, word, comping)
    assert said.endswith(f"slot {last + 1} and slot {last + 1} must both hold a lick")


def test_a_lick_that_needs_the_room_of_its_neighbours_is_not_taken() -> None:
    model = a_study()
    slot = lick_slots(model)[1].number
    late = tuple(replace(e, onset=e.onset + 48) if e.slot == slot else e for e in model.events)
    moved = replace(model, events=tuple(sorted(late, key=lambda e: e.onset)))
    with pytest.raises(ValueError, match="it begins or ends where another slot has its notes"):
        taken(model, slot, moved, slot)


def test_a_lick_that_would_break_a_rule_is_not_taken_and_the_rule_is_named() -> None:
    model = a_study()
    slot = lick_slots(model)[1].number
    wild = [replace(e, notes=tuple(replace(n, fret=20, pitch=n.pitch + 20 - n.fret) for n in e.notes))
            if e.slot == slot else e for e in model.events]  # fmt: skip
    with pytest.raises(ValueError, match=r"it would break a rule there: bar \d+ beat"):
        taken(model, slot, replace(model, events=tuple(wild)), slot)


def test_a_bend_that_runs_into_the_next_slot_is_cut_with_its_curve() -> None:
    """Else the study could not be read again: a bend's points lie inside its note."""
    slot = 9
    study, chosen = a_study(seed=11), a_study(seed=8)
    bent = chosen.events_of(slot)[-1]
    made = taken(study, slot, chosen, slot)
    cut = made.events_of(slot)[-1]
    assert bent.melody.bend is not None
    assert cut.melody.bend is not None
    assert cut.duration < bent.duration
    assert cut.melody.bend.curve == bend_curve(BendKind.BEND, bent.melody.bend.size, cut.duration)
    assert list(senseless(made)) == []
    assert from_json(to_json(made)) == made


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--take", "1"), "--take N and --into STUDY go together: which lick, and the study it goes into"),
        (("--into", "study.json"), "--take N and --into STUDY go together"),
        (("--take", "3", "--into", "study.json"), "--take 3: there are 1 to 2"),
        (
            ("--take", "2", "--into", "study.json"),
            "--take 2: it is a whole study; name its lick, as in other.json@3",
        ),
    ],
)
def test_what_to_take_must_be_one_lick_of_those_compared(words: tuple[str, ...], message: str) -> None:
    save(a_study())
    save(a_study(seed=8), "other.json")
    assert refused(2, "compare", "study.json", "other.json", *words).startswith(message)


# ---- part of a study again --------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [(), ("--slot", "2", "--pin", "bars=1-4")])
def test_redo_wants_either_what_changes_or_what_stays(words: tuple[str, ...]) -> None:
    save(a_study())
    said = refused(2, "redo", "study.json", *words)
    assert said == "redo: give --slot for what is to change, or --pin for what is to stay"


def test_redo_of_a_slot_that_is_not_there_says_which_there_are() -> None:
    save(a_study())
    count = len(a_study().slots)
    said = refused(2, "redo", "study.json", "--slot", "2", "--slot", "99")
    assert said == f"--slot 99: the study has slots 1 to {count}"


def test_redo_keeps_the_bars_that_are_pinned() -> None:
    model = a_study()
    save(model)
    result = run("redo", "study.json", "--pin", "bars=1-4", "--seed", "2", "--out", "half", "--format", "tab")
    assert result.exit_code == 0, result.output
    made = read("half/study.json")
    early = [[(e.onset, e.notes) for e in s.events if e.onset < 4 * 48] for s in (model, made)]
    late = [[(e.onset, e.notes) for e in s.events if e.onset >= 4 * 48] for s in (model, made)]
    assert early[0] == early[1]
    assert late[0] != late[1]
    assert faults(made) == []
