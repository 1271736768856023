"""check, render and learn with files of one's own, as a teacher meets them."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.compose.write import write
from lickwright.judge.check import checked
from lickwright.learn.examples import examples_of, moves_text
from lickwright.render.midi.write import midi
from lickwright.render.score.write import musicxml
from lickwright.rulebook.check import check_file
from lickwright.rulebook.schema.rule_file import moves_of
from lickwright.study.figures import lines
from lickwright.study.model import Brief

from tests.read.scores import attributes, harmony, lick, rest, score, tab
from tests.written import a_study


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def bad() -> bytes:
    """A lick with b6 over A7, its last note two frets too high."""
    bend = "<bend><bend-alter>2</bend-alter></bend>"
    return score(
        attributes() + harmony("A") + rest(4) + tab(3, 5, 4) + tab(3, 6, 4) + tab(2, 6, 8) + tab(1, 5, 4)
        + tab(2, 8, 8, bend) + tab(2, 5, 4) + tab(3, 5, 4) + tab(4, 9, 8)
    )  # fmt: skip


def test_check_names_rule_bar_beat_and_string():
    Path("bad.musicxml").write_bytes(bad())
    result = run("check", "bad.musicxml", "--rules", "slow-shuffle")
    assert result.exit_code == 1
    assert "bar 1 beat 2, string 2 fret 6: lead.scale:" in result.output
    assert "string 4 fret 9: lead.landing:" in result.output


def test_licks_alone_are_not_asked_what_a_whole_study_is():
    Path("bad.musicxml").write_bytes(bad())
    result = run("check", "bad.musicxml", "--rules", "slow-shuffle")
    assert "the study:" not in result.output


def test_many_bent_licks_alone_are_not_told_that_a_study_has_fewer_bends():
    """Nine bars, each with a bend; a study of this style would have five at most."""
    bar = lick().removeprefix(attributes())
    Path("many.musicxml").write_bytes(score(attributes() + bar, *[bar] * 8))
    result = run("check", "many.musicxml", "--rules", "slow-shuffle")
    assert "lead.bends.study" not in result.output


def test_check_shows_what_would_keep_the_rules():
    Path("bad.musicxml").write_bytes(bad())
    result = run("check", "bad.musicxml", "--rules", "slow-shuffle", "--instead")
    assert "nearest that keeps the rules: 2 notes of 8 changed" in result.output
    assert "bar 1 beat 2: E4 for F4 (string 2 fret 5)" in result.output
    assert re.search(r"^G\|-----5-", result.output, re.MULTILINE), "the tab of the mended lick"


def test_another_fingering_is_offered_before_other_notes():
    """A lick of the fifth fret with its second note moved to the fourteenth: no hand goes there and back in time."""
    notes = ((3, 5, 4), (4, 11, 4), (2, 5, 8), (1, 5, 4), (2, 8, 8), (2, 5, 4), (3, 5, 4), (4, 7, 8))
    bend = "<bend><bend-alter>2</bend-alter></bend><bend><bend-alter>-2</bend-alter><release/></bend>"
    bar = "".join(tab(s, f, d, bend if (s, f) == (2, 8) else "") for s, f, d in notes)
    Path("far.musicxml").write_bytes(score(attributes() + harmony("A") + rest(4) + bar))
    result = run("check", "far.musicxml", "--rules", "slow-shuffle", "--instead")
    assert result.exit_code == 1
    assert "lead.windows.shift" in result.output
    assert "the same notes keep the rules with the index finger at fret 5" in result.output
    assert "string 3 fret 6 in place of string 4 fret 11" in result.output


def test_a_study_written_as_a_score_keeps_its_own_rules():
    Path("own.musicxml").write_bytes(musicxml(a_study()))
    assert run("check", "own.musicxml").output == "keeps every rule\n"


def test_a_score_without_a_style_asks_for_one():
    Path("lick.musicxml").write_bytes(score(lick()))
    result = run("check", "lick.musicxml")
    assert result.exit_code == 2
    assert "--rules" in result.output


def test_render_gives_tab_with_fingers_to_a_lick_that_had_none():
    Path("lick.musicxml").write_bytes(score(lick()))
    assert run("render", "lick.musicxml", "--format", "tab,json,midi", "--out", "made").exit_code == 0
    text = Path("made/study.txt").read_text()
    assert "8b10" in text
    assert "5-h6" in text
    assert Path("made/study.mid").stat().st_size > 100


def test_render_does_not_write_over_the_file_it_reads():
    data = score(lick())
    Path("study.musicxml").write_bytes(data)
    result = run("render", "study.musicxml", "--format", "tab,musicxml")
    assert result.exit_code == 2
    assert "would write over study.musicxml" in result.output
    assert Path("study.musicxml").read_bytes() == data


def test_a_key_can_be_given_to_a_score_that_has_none():
    Path("plain.musicxml").write_bytes(score(lick().replace("<key><fifths>3</fifths></key>", "")))
    assert run("render", "plain.musicxml", "--key", "D", "--format", "json", "--out", "made").exit_code == 0
    assert '"key": "D"' in Path("made/study.json").read_text()


def test_render_reads_midi_too():
    Path("own.mid").write_bytes(midi(a_study()))
    assert run("render", "own.mid", "--format", "tab", "--out", "made").exit_code == 0


def studies_of_one_hand(count: int) -> list[str]:
    names = []
    for seed in range(1, count + 1):
        name = f"lick{seed}.musicxml"
        Path(name).write_bytes(musicxml(a_study(seed=seed)))
        names.append(name)
    return names


def test_learn_writes_a_style_that_can_be_written_from_and_copies_nothing_long():
    names = studies_of_one_hand(2)
    result = run("learn", *names, "--out", "mine.toml", "--longest", "3")
    assert (result.exit_code, result.output) == (0, "")
    assert check_file("mine.toml") == []
    data = tomllib.loads(Path("mine.toml").read_text())
    assert data["include"] == ["slow-shuffle"]
    assert set(data["lead"]["palette"]) >= {"I", "IV", "V"}
    study = write(Brief("mine.toml", "A", 5))
    assert checked(study) == ()
    heard = {
        m[k : k + 4]
        for text in data["lead"]["copying"]["lines"]
        for m in [moves_of(text)]
        for k in range(len(m) - 3)
    }
    new = {line.moves[k : k + 4] for line in lines(study) for k in range(len(line.moves) - 3)}
    assert not heard & new


def test_learn_does_not_write_over_a_file_unasked():
    Path("mine.toml").write_text("kept")
    names = studies_of_one_hand(1)
    result = run("learn", *names, "--out", "mine.toml")
    assert result.exit_code == 2
    assert "--replace" in result.output
    assert Path("mine.toml").read_text() == "kept"


def test_learn_wants_something_to_do_and_licks_to_learn_from():
    Path("comp.musicxml").write_bytes(
        score(
            attributes()
            + harmony("A")
            + tab(4, 5, 48)
            + tab(3, 6, 48, chord=True)
            + tab(2, 5, 48, chord=True)
        )
    )
    assert run("learn", "comp.musicxml").exit_code == 2
    result = run("learn", "comp.musicxml", "--out", "mine.toml")
    assert result.exit_code == 1
    assert "no licks" in result.output


def test_the_report_says_what_was_learned():
    names = studies_of_one_hand(1)
    output = run("learn", *names, "--report").output
    assert re.match(r"\d licks, \d+ notes\n", output)
    assert "too few licks to hold some out" in output


def test_the_rule_against_copying_holds_for_the_licks_that_were_learned_from():
    """A study whose lines a rule file lists breaks its rule; one of another seed need not."""
    study = a_study(seed=3)
    listed = ", ".join(f'"{moves_text(e)}"' for e in examples_of(study))
    Path("mine.toml").write_text(
        f'include = ["slow-shuffle"]\n[lead.copying]\nlongest = 4\nlines = [{listed}]\n'
    )
    assert {v.rule for v in checked(study, "mine.toml")} == {"lead.copying"}


def test_a_line_that_is_no_line_is_a_mistake_of_the_rule_file():
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n[lead.copying]\nlines = ["3/4 up"]\n')
    assert any("'up' is no move" in problem for problem in check_file("mine.toml"))
