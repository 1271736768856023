"""Whatever is wrong with a call or a file, one line says what, where and what would be right; nothing is written."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main

RULES_OF_MY_OWN = 'include = ["slow-shuffle"]\n'


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)

    def call(*words: str) -> Result:
        return CliRunner().invoke(main, list(words))

    return call


def write_rules(text: str, name: str = "mine.toml") -> str:
    Path(name).write_text(text, encoding="utf-8")
    return name


def refused(result: Result, *said: str, status: int = 2) -> None:
    shown = result.output + (result.stderr if result.stderr_bytes else "")
    assert result.exit_code == status, shown
    assert "Traceback" not in shown
    for words in said:
        assert words in shown, shown
    assert not Path("out").exists()


def test_an_unknown_key_is_named_with_the_keys_there_are(run) -> None:
    refused(run("write", "slow-shuffle", "--key", "H", "--out", "out"), "'H'", "C Db D Eb")


def test_an_unknown_style_gets_the_nearest_names(run) -> None:
    refused(run("write", "slow-shufle", "--out", "out"), "slow-shufle", "did you mean slow-shuffle")


def test_an_unknown_level_gets_the_nearest_names(run) -> None:
    refused(run("write", "slow-shuffle", "--level", "fluant", "--out", "out"), "did you mean fluent")


def test_malformed_toml_is_named_with_its_line(run) -> None:
    mine = write_rules('title = "x"\n[study\n')
    refused(run("write", mine, "--out", "out"), "mine.toml", "not TOML", "line 2")


def test_an_unknown_rule_key_is_named_with_file_key_and_nearest_key(run) -> None:
    mine = write_rules(RULES_OF_MY_OWN + "[lead.bends]\nsize = ['half']\n")
    refused(run("write", mine, "--out", "out"), "mine.toml", "lead.bends.size", "did you mean sizes")


def test_five_mistakes_get_five_messages_at_once(run) -> None:
    mine = write_rules(
        RULES_OF_MY_OWN
        + """
[study]
meter = "3/4"
[neck]
frets = 5
[lead.bends]
string = [1]
[lead.windows]
lowest = "low"
[lead.palette]
I = { 8 = 0 }
"""
    )
    result = run("rules", "check", mine)
    refused(result, "study.meter", "neck.frets", "lead.bends.string", "lead.windows.lowest", "lead.palette.I")
    lines = [line for line in (result.output + result.stderr).splitlines() if "mine.toml" in line]
    assert len(set(lines)) == 5


def test_includes_in_a_circle_are_named(run) -> None:
    write_rules('include = ["two"]\n', "one.toml")
    write_rules('include = ["one"]\n', "two.toml")
    refused(run("write", "one.toml", "--out", "out"), "circle", "one.toml includes", "two.toml includes")


@pytest.mark.parametrize("outside", ["../secret", "/etc/secret", "parts/../../../secret"])
def test_an_include_that_leaves_the_rule_folders_is_refused(run, outside: str) -> None:
    mine = write_rules(f'include = ["{outside}"]\n')
    refused(run("write", mine, "--out", "out"), "mine.toml", "leaves the rule folders")


def test_an_include_that_is_not_there_gets_the_nearest_names(run) -> None:
    mine = write_rules('include = ["parts/hant"]\n')
    refused(run("write", mine, "--out", "out"), "mine.toml", "parts/hand")


def test_an_empty_cell_list_is_refused(run) -> None:
    mine = write_rules(RULES_OF_MY_OWN + "[figures.plain]\ncells = []\n")
    refused(run("write", mine, "--out", "out"), "mine.toml", "figures.plain.cells", "at least 1")


def test_a_cell_that_cannot_be_read_is_refused(run) -> None:
    mine = write_rules(RULES_OF_MY_OWN + '[tails.plain]\ncells = ["x-q"]\n')
    refused(run("write", mine, "--out", "out"), "mine.toml", "tails.plain", "'q'")


def test_a_tempo_outside_the_range_is_refused(run) -> None:
    refused(run("write", "slow-shuffle", "--tempo", "300", "--out", "out"), "300", "44", "72")


def test_an_unknown_format_is_refused_before_anything_is_made(run) -> None:
    refused(run("write", "slow-shuffle", "--format", "docx", "--out", "out"), "docx", "musicxml", "midi")


def test_a_speed_out_of_reach_is_refused(run) -> None:
    refused(run("write", "slow-shuffle", "--speed", "9", "--out", "out"), "9", "0.25")


def test_a_folder_that_exists_is_kept_unless_it_is_to_be_replaced(run) -> None:
    Path("kept").mkdir()
    Path("kept/mine.txt").write_text("work of years")
    result = run("write", "slow-shuffle", "--format", "tab", "--out", "kept")
    assert result.exit_code == 2
    assert "--replace" in result.output + result.stderr
    assert Path("kept/mine.txt").read_text() == "work of years"
    assert "holds no study.json" in run("write", "slow-shuffle", "--out", "kept", "--replace").output
    Path("kept/study.json").write_text("an older study")
    result = run("write", "slow-shuffle", "--format", "tab", "--out", "kept", "--replace")
    assert result.exit_code == 0
    assert sorted(p.name for p in Path("kept").iterdir()) == ["study.json", "study.txt"]
    assert [p.name for p in Path().iterdir()] == ["kept"], "no backup or part is left beside it"


def test_a_folder_that_cannot_be_made_is_named(run) -> None:
    Path("file").write_text("")
    result = run("write", "slow-shuffle", "--format", "tab", "--out", "file/out")
    refused(result, "file")


def test_a_target_that_cannot_be_written_leaves_nothing(run, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, data: bytes) -> None:
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("lickwright.render.outputs.write_whole", full)
    refused(run("write", "slow-shuffle", "--format", "tab", "--out", "out"), "No space left")
    assert list(Path().iterdir()) == []


def test_what_is_no_study_is_refused(run) -> None:
    Path("a.json").write_text("{}")
    refused(run("check", "a.json"), "a.json", "not a study")
    Path("a.json").write_text("[[[")
    refused(run("check", "a.json"), "a.json", "not JSON")
    Path("a.json").write_text('{"schema_version": 99}')
    refused(run("render", "a.json"), "a.json", "99", "reads 1")


def test_rules_that_cannot_be_met_give_status_1_and_the_place(run) -> None:
    mine = write_rules(
        RULES_OF_MY_OWN + "[lead.shape]\nmost_leap = 3\nleast_range = 24\nleast_distinct = 1.0\n"
    )
    result = run("write", mine, "--out", "out")
    refused(result, "the rules leave no study", "in bar", status=1)


def test_only_verbose_shows_a_traceback(run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lickwright.compose.write.write", lambda brief: 1 / 0)
    refused(run("write", "slow-shuffle", "--out", "out"), "internal error", "--verbose")
    assert isinstance(run("--verbose", "write", "slow-shuffle").exception, ZeroDivisionError)


def test_a_rule_file_of_ones_own_works_from_anywhere(run) -> None:
    mine = write_rules(RULES_OF_MY_OWN + '[lead.bends]\nsizes = ["whole"]\nmost_per_study = 1\n')
    Path("far").mkdir()
    result = run("write", mine, "--key", "G", "--format", "tab", "--out", "far/out")
    assert result.exit_code == 0, result.output
    assert run("check", "far/out/study.json").exit_code == 0
