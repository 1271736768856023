"""The command as a person meets it: its help, its examples, its exit status, and what it leaves on the disk."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.commands import shared
from lickwright.render import outputs
from lickwright.rulebook.load import last_names, style_names
from lickwright.study.json_text import from_json

QUICK = ("write", "slow-shuffle", "--format", "tab")


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def commands(group: click.Group = main, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for name, command in group.commands.items():
        found.append((*path, name))
        if isinstance(command, click.Group):
            found += commands(command, (*path, name))
    return found


def examples(path: tuple[str, ...]) -> list[list[str]]:
    text = " ".join(run(*path, "--help").output.split())
    return [
        shlex.split(match)
        for match in re.findall(r"Example: lickwright (.*?)(?= Options:| Commands:|$)", text)
    ]


# ---- help -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [(), *commands()], ids=" ".join)
def test_every_help_is_a_sentence_with_an_example(path: tuple[str, ...]) -> None:
    result = run(*path, "--help")
    assert result.exit_code == 0
    assert len(examples(path)) == 1
    assert run(*path, "-h").output == result.output


def test_the_examples_of_the_help_run_one_after_another(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound and page are left to their own tests: here they only leave their names."""
    for name in ("mp3", "html"):
        monkeypatch.setitem(
            outputs.FORMATS, name, lambda study, folder, sound, name=name: (folder / name).touch()
        )
    ran = []
    for path in [(), *commands()]:
        words = examples(path)[0]
        if "write" in words and Path("first").exists():
            words.append("--replace")
        result = run(*words)
        assert result.exit_code == 0, (words, result.output)
        ran.append(words)
    assert len(ran) == len(commands()) + 1
    assert {"study.json", "study.musicxml", "study.mid", "study.txt", "html", "mp3"} <= {
        p.name for p in Path("first").iterdir()
    }


def test_the_version_is_the_packages() -> None:
    from lickwright import __version__

    assert __version__ in run("--version").output


@pytest.mark.parametrize("path", [(), ("write",), ("practice", "sheet"), ("series", "new"), ("render",)])
def test_help_needs_no_heavy_library(path: tuple[str, ...]) -> None:
    """Importing the command loads nothing that takes time: no numpy, music21, pydantic or soundfile."""
    heavy = "numpy music21 pydantic soundfile networkx constraint rich jinja2"
    program = (
        f"import sys; sys.argv = ['lickwright', *{path!r}, '--help']\nfrom lickwright.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        f"print(sorted(set({heavy.split()!r}) & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_help_names_every_level_hand_neck_string_set_and_format_there_is() -> None:
    named = {"level": shared.LEVELS, "hand": shared.HANDS, "strings": shared.STRINGS, "neck": shared.NECKS}
    for kind, names in named.items():
        assert sorted(names) == last_names(kind)
        said = " ".join(run("write", "--help").output.split())
        assert all(name in said for name in names)
    assert tuple(outputs.FORMATS) == shared.FORMATS
    assert all(name in run("render", "--help").output for name in outputs.FORMATS)


# ---- writing ----------------------------------------------------------------------------------------------


def test_without_a_folder_the_tab_is_shown_and_nothing_is_written() -> None:
    result = run("write", "slow-shuffle", "--key", "A", "--seed", "7")
    assert result.exit_code == 0
    assert "Phrase 1" in result.output
    assert list(Path().iterdir()) == []


def test_with_a_folder_the_study_and_the_formats_are_in_it() -> None:
    result = run(*QUICK[:2], "--format", "tab,midi,tab", "--out", "out", "--title", "Mine", "--number", "3")
    assert result.exit_code == 0
    assert sorted(p.name for p in Path("out").iterdir()) == ["study.json", "study.mid", "study.txt"]
    study = from_json(Path("out/study.json").read_bytes())
    assert (study.title, study.number) == ("Mine", 3)


def test_candidates_are_shown_with_fingers_when_asked() -> None:
    result = run(*QUICK, "--candidates", "2", "--fingers", "--out", "two")
    assert result.exit_code == 0
    assert all(f"candidate {n}\n" in result.output for n in (1, 2))
    shown = run(*QUICK, "--fingers").output
    assert shown in result.output


def test_the_same_words_give_the_same_bytes() -> None:
    for out in ("one", "two"):
        assert run(*QUICK, "--key", "Eb", "--seed", "4", "--out", out).exit_code == 0
    for name in ("study.json", "study.txt"):
        assert Path("one", name).read_bytes() == Path("two", name).read_bytes()


@pytest.mark.parametrize("style", style_names())
def test_what_is_written_keeps_its_rules_and_renders_again(style: str) -> None:
    assert run("write", style, "--key", "G", "--format", "tab", "--out", "out").exit_code == 0
    before = Path("out/study.txt").read_bytes()
    result = run("check", "out/study.json")
    assert (result.exit_code, result.output) == (0, "keeps every rule\n")
    assert run("render", "out/study.json").exit_code == 0
    assert Path("out/study.txt").read_bytes() == before


def test_a_study_by_a_rule_file_of_ones_own_is_checked_by_it() -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n[lead.bends]\nsizes = ["whole"]\n')
    assert run("write", "mine.toml", "--format", "tab", "--out", "out").exit_code == 0
    assert run("check", "out/study.json").exit_code == 0


@pytest.mark.parametrize("place", ["out", "sub"])
def test_a_rule_file_of_ones_own_is_found_from_anywhere(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the study and above it first: a file of the same name where one stands is not meant."""
    for folder, sizes in ((Path(), '"whole"'), (Path("sub"), '"half"')):
        folder.mkdir(exist_ok=True)
        (folder / "mine.toml").write_text(f'include = ["slow-shuffle"]\n[lead.bends]\nsizes = [{sizes}]\n')
    Path("reach.toml").write_text("[hand]\nstretch = false\n")
    words = ("--hand", "reach.toml", "--format", "musicxml")
    assert run("write", "mine.toml", *words, "--out", "out").exit_code == 0
    study, score = (Path("out", name).resolve() for name in ("study.json", "study.musicxml"))
    before = study.read_bytes()
    monkeypatch.chdir(place)
    for file in (study, score):
        assert run("check", str(file)).exit_code == 0, run("check", str(file)).output
    assert run("check", str(study), "--rewrite").output == "comes out the same\n"
    (study.parent.parent / "other.toml").write_text('include = ["nowhere"]\n')
    Path("other.toml").write_text('include = ["slow-shuffle"]\n')
    assert "keeps every rule" in run("check", str(study), "--rules", "other.toml").output
    slot = str(next(s.number for s in from_json(before).slots if s.kind == "lick") + 1)
    assert run("redo", str(study), "--slot", slot, "--format", "tab", "--out", "again").exit_code == 0
    assert from_json(Path("again/study.json").read_bytes()).brief.style == "mine.toml"


def test_a_rule_file_that_is_gone_is_told_with_the_folders_it_was_looked_for_in() -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n')
    assert run("write", "mine.toml", "--hand", "mine.toml", "--format", "tab", "--out", "out").exit_code == 0
    Path("mine.toml").unlink()
    result = run("check", "out/study.json")
    assert result.exit_code == 2
    assert f"mine.toml: no such rule file in {Path('out').resolve()}, {Path().resolve()}, " in result.output
    assert "or where you are; the shipped styles are" in result.output


def test_a_study_file_does_not_say_where_it_lies() -> None:
    assert run(*QUICK, "--out", "out").exit_code == 0
    text = Path("out/study.json").read_text()
    Path("out/study.json").write_text(text.replace('"brief": {', '"brief": {"home": "elsewhere",'))
    result = run("check", "out/study.json")
    assert (result.exit_code, "brief.home: is no key of a study file" in result.output) == (2, True)


def test_control_characters_of_a_file_never_reach_the_terminal() -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n[study]\ntitles = ["\\u001b[31mred"]\n')
    for result in (run("write", "mine.toml"), run("rules", "show", "mine.toml")):
        assert result.exit_code == 0
        assert "\x1b" not in result.output
    Path("bad.toml").write_text('include = ["\\u001b[31m"]\n')
    assert "\x1b" not in run("rules", "check", "bad.toml").output


# ---- what cannot be done ----------------------------------------------------------------------------------

UNUSABLE = {
    "no style": (("write",), "STYLE"),
    "no command": (("wirte",), "wirte"),
    "a negative seed": ((*QUICK, "--seed", "-1", "--out", "out"), "--seed"),
    "no tempo": ((*QUICK, "--tempo", "0", "--out", "out"), "--tempo"),
    "a tempo in words": ((*QUICK, "--tempo", "fast", "--out", "out"), "--tempo"),
    "a tempo too slow": ((*QUICK, "--tempo", "10", "--out", "out"), "tempo 10"),
    "a minor key in a major style": ((*QUICK, "--key", "Am", "--out", "out"), "use A, or a minor style"),
    "no key": ((*QUICK, "--key", "", "--out", "out"), "unknown key ''"),
    "a speed that is none": ((*QUICK, "--speed", "x", "--out", "out"), "--speed x"),
    "a speed that is not a number": ((*QUICK, "--speed", "nan", "--out", "out"), "--speed nan"),
    "a capo too high": ((*QUICK, "--capo", "10", "--out", "out"), "--capo"),
    "a tuning of no notes": ((*QUICK, "--tuning", "H", "--out", "out"), "unknown tuning"),
    "a hand that is not shipped": ((*QUICK, "--hand", "smal", "--out", "out"), "did you mean small"),
    "candidates round a lick": (
        (*QUICK, "--candidates", "2", "--pin-file", "x@slot=1", "--out", "out"),
        "--candidates and --pin-file",
    ),
    "a folder in no folder": ((*QUICK, "--out", "no/out"), "is no folder"),
    "the folder one stands in": ((*QUICK, "--out", ".", "--replace"), "is where you are"),
    "a folder above": ((*QUICK, "--out", "..", "--replace"), "is where you are"),
    "a study that is not there": (("check", "nowhere.json"), "nowhere.json"),
    "a folder for a study": (("check", "."), "directory"),
    "a study that is binary": (("check", "binary"), "not JSON"),
    "a study that is a list": (("render", "list.json", "--out", "out"), "not a study"),
    "a study of nothing": (("render", "empty.json", "--out", "out"), "title: Field required"),
    "no format": (("render", "list.json", "--format", ",", "--out", "out"), "at least one format"),
    "a rule file that is not there": (("rules", "check", "nowhere.toml"), "nowhere.toml"),
    "the rules of no style": (("rules", "show", "slow"), "minor-slow or slow-shuffle"),
    "the rules of no level": (("rules", "show", "slow-shuffle", "--level", "x"), "first-year"),
}


@pytest.mark.parametrize("what", UNUSABLE)
def test_an_unusable_call_says_why_with_status_2_and_leaves_nothing(what: str) -> None:
    Path("binary").write_bytes(b"\xff\xfe\x00")
    Path("list.json").write_text("[]")
    Path("empty.json").write_text('{"schema_version": 1}')
    before = sorted(Path().iterdir())
    words, said = UNUSABLE[what]
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert said in result.output
    assert "Traceback" not in result.output
    assert "internal error" not in result.output
    assert sorted(Path().iterdir()) == before


def test_a_link_is_followed_and_what_it_names_is_replaced() -> None:
    Path("real").mkdir()
    Path("real/old.txt").touch()
    Path("real/study.json").touch()
    Path("link").symlink_to("real", target_is_directory=True)
    assert run(*QUICK, "--out", "link", "--replace").exit_code == 0
    assert Path("link").is_symlink()
    assert sorted(p.name for p in Path("real").iterdir()) == ["study.json", "study.txt"]
    assert sorted(p.name for p in Path().iterdir()) == ["link", "real"]


def test_an_old_folder_stays_when_its_replacement_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    Path("out").mkdir()
    Path("out/old.txt").write_text("kept")
    Path("out/study.json").touch()

    def broken(study: object, folder: Path, sound: object) -> None:
        raise OSError(28, "No space left on device", str(folder / "study.txt"))

    monkeypatch.setitem(outputs.FORMATS, "tab", broken)
    assert run(*QUICK, "--out", "out", "--replace").exit_code == 2
    assert Path("out/old.txt").read_text() == "kept"
    assert [p.name for p in Path().iterdir()] == ["out"]


def test_an_old_folder_comes_back_when_the_new_one_cannot_take_its_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    Path("out").mkdir()
    Path("out/old.txt").write_text("kept")
    Path("out/study.json").touch()
    monkeypatch.setattr(outputs, "exchange", lambda one, other: False)
    rename = Path.rename

    def stubborn(self: Path, target: Path) -> Path:
        if self.name.endswith(".part"):
            raise PermissionError(13, "Permission denied", str(target))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stubborn)
    result = run(*QUICK, "--out", "out", "--replace")
    assert result.exit_code == 2
    assert "Permission denied" in result.output
    assert Path("out/old.txt").read_text() == "kept"
    assert [p.name for p in Path().iterdir()] == ["out"]


def test_a_folder_without_a_study_is_not_replaced() -> None:
    Path("out").mkdir()
    Path("out/letter.txt").write_text("kept")
    result = run(*QUICK, "--out", "out", "--replace")
    assert result.exit_code == 2
    assert "out holds no study.json, so it is not replaced" in result.output
    assert Path("out/letter.txt").read_text() == "kept"
    assert [p.name for p in Path().iterdir()] == ["out"]


def test_a_folder_that_may_not_be_written_in_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(**_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkdtemp", denied)
    result = run(*QUICK, "--out", "out")
    assert result.exit_code == 2
    assert "cannot be written (Permission denied)" in result.output


def test_a_broken_rule_gives_status_1_and_one_line_each() -> None:
    assert run(*QUICK, "--out", "out").exit_code == 0
    path = Path("out/study.json")
    path.write_text(path.read_text().replace('"tempo_bpm": 58', '"tempo_bpm": 43'))
    result = run("check", str(path))
    assert result.exit_code == 1
    assert "study.tempo" in result.output


def test_rules_that_cannot_be_met_give_status_1_and_the_slot() -> None:
    """The strong beats want what the palette never gives."""
    Path("mine.toml").write_text(
        'include = ["slow-shuffle"]\n[lead.downbeats]\nstrong = [1, 2, 3, 4]\ndegrees = ["b2"]\n'
    )
    result = run("write", "mine.toml", "--out", "out")
    assert result.exit_code == 1
    assert re.search(r"lick \d .* in bar \d", result.output)
    assert not Path("out").exists()


def test_what_is_preferred_is_shown_with_points_sentence_and_file() -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n[lead.melody]\nskip = 0\n')
    lines = run("rules", "show", "mine.toml", "--costs").output.splitlines()
    headings = [line for line in lines if not line.startswith(" ")]
    assert all(re.fullmatch(r"\S.*  \[.*\.toml\]", line) for line in headings)
    assert "lead.melody  [mine.toml]" in headings
    at = lines.index("lead.melody  [mine.toml]")
    assert lines[at + 1].split(maxsplit=2) == ["skip", "0", "A move of three or four semitones (points)."]


def test_costs_and_the_graph_are_not_shown_together() -> None:
    result = run("rules", "show", "slow-shuffle", "--costs", "--graph")
    assert result.exit_code == 2
    assert "one of the two" in result.output


@pytest.mark.parametrize("style", style_names())
def test_rules_are_shown_as_sentences_with_their_file(style: str) -> None:
    lines = run("rules", "show", style).output.splitlines()
    assert len(lines) % 3 == 0
    assert "lead.sounded.V" in lines
    for name, sentence, source in zip(lines[::3], lines[1::3], lines[2::3], strict=True):
        assert re.fullmatch(r"[a-z]+(\.[a-zA-Z-]+)+", name)
        assert len(sentence.split()) >= 4
        assert re.fullmatch(r"\s+\[.*\.toml: \S.*\]", source)
