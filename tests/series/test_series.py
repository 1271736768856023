"""A series as a person meets it: numbers that come one after another, none like another, and what goes wrong."""

from __future__ import annotations

import os
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from lickwright.compose import write as compose
from lickwright.judge.check import checked
from lickwright.render.outputs import SoundOptions
from lickwright.render.words.text import CAUTIONS
from lickwright.rulebook.read import read_rules
from lickwright.series import add as series
from lickwright.series.file import Choices, read_choices, through_all_keys, write_choices
from lickwright.storage import files
from lickwright.study.figures import Avoid, figures
from lickwright.study.json_text import from_json
from lickwright.study.model import Brief, Study
from lickwright.theory.harmony import Key

from tests.series.porch import PORCH, a_series, add, alike, elsewhere, everything, numbered, quick, run
from tests.sweeps import reach

__all__ = ["elsewhere", "quick"]


# ---- a new series -----------------------------------------------------------------------------------------


def test_a_new_series_holds_what_was_chosen_and_nothing_else() -> None:
    a_series("--key", "E", "--keys", "cycle", "--level", "first-year", "--capo", "2", "--longest-shared", "5")
    assert os.listdir(PORCH) == ["series.toml"]
    assert read_choices(PORCH) == Choices(
        "porch-blues", "slow-shuffle", through_all_keys("E"), "first-year", 5, (("capo", "2"),)
    )


def test_the_cycle_goes_once_through_the_twelve_keys_in_fourths() -> None:
    """Fourths upwards, a trade order. Common practice, no source."""
    keys = through_all_keys("C")
    assert keys == ("C", "F", "Bb", "Eb", "Ab", "Db", "F#", "B", "E", "A", "D", "G")


def test_a_folder_that_exists_is_refused_and_left_as_it_is() -> None:
    PORCH.mkdir()
    result = run("new", "porch-blues", "--style", "slow-shuffle")
    assert result.exit_code == 2
    assert "porch-blues exists" in result.output
    assert os.listdir(PORCH) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--style", "slow"), "unknown style 'slow'"),
        (("--style", "slow-shuffle", "--key", "H"), "unknown key 'H'"),
        (("--style", "slow-shuffle", "--key", "H", "--keys", "cycle"), "--key: unknown key 'H'"),
        (("--style", "slow-shuffle", "--keys", "A,,D"), "unknown key ''"),
        (("--style", "slow-shuffle", "--key", "A", "--keys", "D,G"), "give one of them"),
        (("--style", "slow-shuffle", "--level", "x"), "unknown level 'x'"),
        (("--style", "slow-shuffle", "--name", "a\x1bb"), "cannot be printed"),
        (("--style", "slow-shuffle", "--longest-shared", "1"), "--longest-shared"),
    ],
)
def test_choices_that_cannot_be_meant_make_no_series(words: tuple[str, ...], said: str) -> None:
    result = run("new", "porch-blues", *words)
    assert result.exit_code == 2
    assert said in result.output
    assert os.listdir() == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "name: Field required"),
        ("nme = 1", "nme: Extra inputs"),
        ("x", "not TOML"),
        ('name = "a"\nstyle = "b"\nkeys = []', "keys: List should have at least 1"),
        ('name = "a"\nstyle = "b"\nkeys = ["A", "H"]', "keys.1: Value error, unknown key 'H'"),
        ('name = "a"\nstyle = "b"\nkeys = ["A"]\nlongest_shared = 1', "longest_shared"),
        ("name = '" + 70000 * "x" + "'", "at most 65536"),
    ],
)
def test_choices_with_a_mistake_are_refused_with_file_and_key(text: str, said: str) -> None:
    PORCH.mkdir()
    Path(PORCH, "series.toml").write_text(text)
    for command in ("add", "list", "index"):
        result = run(command, "porch-blues")
        assert result.exit_code == 2
        assert "porch-blues/series.toml" in result.output
        assert said in result.output


def test_what_is_written_of_the_choices_is_read_again() -> None:
    choices = Choices(
        'a "b" \\ é', "x/y.toml", ("A", "Bb"), None, None, (("strings", "9 11"), ("hand", "a'"))
    )
    write_choices(Path(), choices)
    assert read_choices(Path()) == choices


def test_where_there_is_no_series_the_message_says_so() -> None:
    Path("empty").mkdir()
    for folder, said in (("nowhere", "no such series"), ("empty", "holds its series.toml")):
        for command in ("add", "list", "index"):
            result = run(command, folder)
            assert result.exit_code == 2
            assert said in result.output


# ---- adding -----------------------------------------------------------------------------------------------


def grown(count: int, style: str = "slow-shuffle") -> list[Study]:
    series.new(PORCH, Choices("porch-blues", style, through_all_keys("A")))
    return [series.add(PORCH, series.Wanted(), (), SoundOptions()).written.study for _ in range(count)]


def held_to_the_promise(studies: list[Study]) -> None:
    assert [s.number for s in studies] == list(range(1, len(studies) + 1))
    keys = [Key(through_all_keys("A")[k % 12]).pitch_class for k in range(len(studies))]
    assert [s.home.pitch_class for s in studies] == keys
    assert alike(studies, 4) == []
    assert len({s.title for s in studies}) == len(studies)
    assert [n.study for n in series.whole(PORCH).numbers] == studies


def test_six_numbers_share_no_five_notes_running_in_whatever_key() -> None:
    studies = grown(6)
    held_to_the_promise(studies)
    assert all(checked(s) == () for s in studies[::3])


@pytest.mark.long
@pytest.mark.parametrize("style", ["slow-shuffle", "minor-slow"])
def test_two_hundred_numbers_share_no_five_notes_running_in_whatever_key(style: str) -> None:
    count = reach(200, 36) if style == "slow-shuffle" else reach(40, 12)
    held_to_the_promise(grown(count, style))


def test_a_number_says_how_new_it_is_and_which_it_is_closest_to(quick: None) -> None:
    a_series("--longest-shared", "2")
    assert (
        "number 1, Late on the porch, in A at 60: porch-blues/001\nIt is the first of the series."
        in add().output
    )
    said = [add().output for _ in range(8)]
    assert all("are new, and all of 3" in text or "shares no 2 notes running" in text for text in said)
    assert any("closest to number" in text and "notes from bar" in text for text in said)


def test_a_number_is_the_study_and_the_formats_asked_for() -> None:
    a_series()
    result = run("add", "porch-blues", "--format", "tab,midi", "--key", "D", "--title", "Two chairs")
    assert result.exit_code == 0
    assert sorted(os.listdir(PORCH / "001")) == ["study.json", "study.mid", "study.txt"]
    study = numbered("001")
    assert (study.number, study.key, study.title) == (1, "D", "Two chairs")
    assert study.origin == "number 1 of porch-blues, unlike the numbers before it"
    assert oct((PORCH / "001").stat().st_mode & 0o777) == oct(files.folder_rights())


def test_the_same_choices_give_the_same_series_whatever_its_place() -> None:
    for folder in ("one", "two"):
        Path(folder).mkdir()
        for words in (
            ("new", "--style", "quick-shuffle", "--keys", "cycle"),
            ("add",),
            ("add", "--seed", "7"),
        ):
            more = ("--format", "tab") if words[0] == "add" else ()
            assert run(words[0], f"{folder}/ferry", *words[1:], *more).exit_code == 0
    assert everything(Path("one")) == everything(Path("two"))
    assert from_json(Path("one/ferry/002/study.json").read_bytes()).brief.seed == 7


def test_another_name_gives_another_series(quick: None) -> None:
    for name in ("one", "two"):
        assert run("new", name, "--style", "slow-shuffle").exit_code == 0
        assert run("add", name, "--format", "").exit_code == 0
    assert everything(Path("one"))["001/study.json"] != everything(Path("two"))["001/study.json"]


def test_numbers_go_on_after_the_last_one_and_a_gap_is_not_filled(quick: None) -> None:
    a_series()
    for _ in range(3):
        add()
    shutil.rmtree(PORCH / "002")
    add()
    assert sorted(os.listdir(PORCH)) == ["001", "003", "004", "series.toml"]


def test_a_thousandth_number_follows(quick: None) -> None:
    a_series()
    add()
    shutil.copytree(PORCH / "001", PORCH / "999")
    path = PORCH / "999" / "study.json"
    path.write_text(path.read_text().replace('"number": 1', '"number": 999'))
    add()
    assert numbered("1000").number == 1000
    assert [n.number for n in series.whole(PORCH).numbers] == [1, 999, 1000]


def test_a_rule_file_of_ones_own_is_found_from_anywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n[series]\nlongest_shared = 6\n')
    Path("small.toml").write_text('include = ["hands/small"]\n')
    assert run("new", "porch-blues", "--style", "mine.toml", "--hand", "small.toml").exit_code == 0
    assert read_choices(PORCH).style == "../mine.toml"
    add()
    monkeypatch.chdir(PORCH)
    assert run("add", ".", "--format", "").exit_code == 0
    study = from_json(Path("002/study.json").read_bytes())
    assert (study.brief.style, study.brief.options) == ("../mine.toml", (("hand", "../small.toml"),))
    _, rules = read_rules(study.brief.style, None, study.brief.options, home=".")
    assert series.limit(read_choices(Path()), rules) == 6


def test_a_number_by_a_rule_file_of_ones_own_is_the_same_wherever_one_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The names of the files that were read are the same too, those of included ones among them."""
    Path("own").mkdir()
    Path("own/part.toml").write_text("[series]\nlongest_shared = 6\n")
    Path("own/mine.toml").write_text('include = ["slow-shuffle", "part"]\n')
    made = []
    for place, folder in ((".", "one"), ("own", "../two"), ("one", "../three")):
        with monkeypatch.context() as here:
            here.chdir(place)
            mine = os.path.relpath(Path(folder).resolve().parent / "own/mine.toml")
            assert run("new", folder, "--style", mine, "--name", "porch").exit_code == 0
            assert run("add", folder, "--format", "").exit_code == 0
        made.append(Path(Path(folder).name, "001/study.json").read_bytes())
    assert len(set(made)) == 1
    assert {"../own/part.toml", "../own/mine.toml"} <= {digest.name for digest in from_json(made[0]).rules}
    monkeypatch.chdir("one/001")
    listed = run("list", "..")
    assert " - " not in listed.output
    assert listed.stderr == ""


def test_a_limit_that_leaves_nothing_new_is_answered_no_and_names_the_way_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    a_series()
    add()
    tried = []

    def never(brief: Brief, avoid: Avoid) -> Study:
        tried.append((brief.seed, avoid.order, avoid.figures))
        raise compose.CannotBeMet("lick 2 in bar 3")

    monkeypatch.setattr(compose, "write", never)
    before = everything()
    said = add(status=1).output
    assert "lick 2 in bar 3; number 2 may share at most 4 notes running" in said
    assert "longest_shared in porch-blues/series.toml" in said
    assert len({seed for seed, _, _ in tried}) == len(tried) == series.SEEDS
    assert {(order, heard) for _, order, heard in tried} == {(4, figures(numbered("001"), 4))}
    assert everything() == before


def test_a_study_that_is_not_new_after_all_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    a_series()
    add()
    old, write = numbered("001"), compose.write
    given = iter([True, True, False])
    monkeypatch.setattr(
        compose, "write", lambda brief, avoid: replace(old, number=2) if next(given) else write(brief, avoid)
    )
    add()
    assert alike([old, numbered("002")], 4) == []


# ---- a list and a page ------------------------------------------------------------------------------------


def test_the_list_says_of_each_number_what_it_is_and_trains() -> None:
    a_series("--keys", "A, Bb")
    add()
    add("--title", "A \x1b[31mred\x1b[0m porch")
    lines = run("list", "porch-blues").output
    assert "\x1b" not in lines
    words = " ".join(lines.split())
    assert "no. title key tempo level of 10 trains" in words
    for said in ("1 Late on the porch", "2 A", "Bb", "58", "growing", "notes to grips"):
        assert said in words


def test_a_series_without_numbers_has_an_empty_list_and_page() -> None:
    a_series()
    assert run("list", "porch-blues").output == "no numbers yet\n"
    assert run("index", "porch-blues").exit_code == 0
    assert "No number has been written yet." in (PORCH / "index.html").read_text()


def test_the_page_links_to_what_there_is_and_says_the_cautions(quick: None) -> None:
    a_series()
    for formats in ("html,tab", "tab,midi", ""):
        assert run("add", "porch-blues", "--format", formats).exit_code == 0
    assert run("index", "porch-blues").output == "porch-blues/index.html\n"
    text = (PORCH / "index.html").read_text()
    links = re.findall(r'href="([^"]*)"', text)
    assert all((PORCH / link).is_file() for link in links)
    assert set(links) == {"001/study.html", "001/study.txt", "002/study.txt", "002/study.mid"}
    assert '<a href="001/study.html">' in text
    for caution in CAUTIONS:
        assert caution in text
    assert run("index", "porch-blues").exit_code == 0
    assert (PORCH / "index.html").read_text() == text


def test_the_difficulty_is_a_dash_where_the_style_is_gone() -> None:
    Path("mine.toml").write_text('include = ["slow-shuffle"]\n')
    assert run("new", "porch-blues", "--style", "mine.toml").exit_code == 0
    add()
    Path("mine.toml").unlink()
    listed = run("list", "porch-blues")
    assert " - " in listed.output
    assert "number 1: how hard it is is not known: ../mine.toml: no such rule file in" in listed.stderr
    assert run("index", "porch-blues").exit_code == 0
