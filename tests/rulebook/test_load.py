"""Rule files are found, merged and read with every mistake named: the file, the key, and what would be right."""

from __future__ import annotations

import errno
import hashlib
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lickwright.rulebook import load
from lickwright.rulebook.check import check_file, mistakes
from lickwright.rulebook.load import (
    RuleFileError,
    gather,
    level_names,
    locate,
    part_names,
    shipped_rules,
    shipped_titles,
    style_names,
)
from lickwright.rulebook.schema.rule_file import RuleFile

from tests.sweeps import reach

FROM_SLOW = 'include = ["slow-shuffle"]\n'


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def rule_file(text: str, name: str = "mine.toml") -> str:
    Path(name).parent.mkdir(parents=True, exist_ok=True)
    Path(name).write_text(text, encoding="utf-8")
    return name


def told(reference: str) -> list[str]:
    try:
        return check_file(reference)
    except RuleFileError as error:
        return error.problems


# ---- what is shipped --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*style_names(), *part_names()])
def test_every_shipped_style_and_part_has_no_mistakes(name: str) -> None:
    assert check_file(name) == []


@pytest.mark.parametrize("level", level_names())
@pytest.mark.parametrize("style", style_names())
def test_every_style_is_sound_at_every_level(style: str, level: str) -> None:
    assert mistakes(gather(style, level)) == []


def test_each_shipped_file_is_listed_with_the_first_sentence_of_what_it_is_about() -> None:
    parts = dict(shipped_titles()["parts"])
    assert parts["parts/comping"] == "What the comping answers, as rows of signs, each an eighth"
    assert parts["parts/comping-straight"].endswith("the signs are those of parts/comping.toml")
    assert parts["parts/cells"] == "A lick is a figure of two to four beats and a way home"
    for heading, rows in shipped_titles().items():
        for name, about in rows:
            assert 10 < len(about) < 130, (heading, name)


def test_what_the_levels_and_the_straight_style_say_of_themselves_is_so() -> None:
    words = {1: "One", 2: "Two", 4: "Four", 3.0: "three", 5.5: "five and a half", 9.0: "nine"}
    grips = {"first-year": {3}, "growing": {3, 4}, "fluent": {3, 4}}
    about = dict(shipped_titles()["levels"])
    for name in level_names():
        rules = RuleFile.model_validate(gather("slow-shuffle", name).data)
        level, said = rules.level, about[name]
        assert said.startswith(f"{words[level.windows]} window")
        assert f" {words[level.notes_per_second]} notes a second" in said
        known = [grip for grip in rules.grips.values() if grip.grade <= level.comping_grade]
        assert {len(grip.degrees) for grip in known} == grips[name]
        kinds = {quality for grip in known for quality in grip.qualities}
        assert ("thirteenths and sharp ninths" in said) == ({"13", "7#9"} <= kinds)
    forms = " ".join(RuleFile.model_validate(gather("straight").data).study.form)
    assert all(f"{change} change" in forms for change in ("quick", "slow"))
    assert "over the quick or the slow change" in dict(shipped_titles()["styles"])["straight"]


def test_digests_are_those_of_the_bytes_that_were_read() -> None:
    for digest in gather("slow-shuffle").digests:
        assert digest.sha256 == hashlib.sha256((shipped_rules() / digest.name).read_bytes()).hexdigest()


# ---- merging ----------------------------------------------------------------------------------------------


def test_a_later_file_overrides_key_by_key_and_the_rest_stays() -> None:
    book = gather(rule_file(FROM_SLOW + "[lead.bends]\nmost_per_study = 1\n"), "fluent")
    shipped = gather("slow-shuffle", "fluent")
    mine, theirs = book.data["lead"]["bends"], shipped.data["lead"]["bends"]
    assert {k for k in theirs if mine[k] != theirs[k]} == {"most_per_study"}
    assert book.source("lead", "bends", "strings").file == "parts/lead.toml"


@pytest.mark.parametrize("level", [None, *level_names()])
def test_what_a_style_says_itself_holds_at_every_level(level: str | None) -> None:
    mine = '[study]\nlevel = "first-year"\n[lead.bends]\nkinds = ["bend-release"]\n[level]\ndifficulty = [1, 9]\n'
    book = gather(rule_file(FROM_SLOW + mine), level)
    assert mistakes(book) == []
    assert book.data["level"]["name"] == (level or "first-year")
    assert book.data["level"]["difficulty"] == [1, 9]
    assert book.data["lead"]["bends"]["kinds"] == ["bend-release"]
    assert gather(rule_file('include = ["mine"]\n', "yours.toml"), level).data["level"]["difficulty"] == [
        1,
        9,
    ]


def test_what_is_said_of_practice_is_added_to_the_rest() -> None:
    times = gather(rule_file(FROM_SLOW + "[practice.times]\nbend = 2\n")).data["practice"]["times"]
    assert times["bend"] == 2
    assert len(times) > 1


def test_a_bass_under_licks_needs_a_sign_for_the_root() -> None:
    book = gather("slow-shuffle")
    book.data["comping"]["bass"]["B"]["major"] = "5"
    assert any("bass_under_lick" in said and "needs a sign for the root" in said for said in mistakes(book))


def test_points_by_degree_are_replaced_whole_and_not_mixed() -> None:
    book = gather(rule_file(FROM_SLOW + "[lead.palette]\nI = { 1 = 0 }\n"))
    assert book.data["lead"]["palette"]["I"] == {"1": 0}
    assert len(book.data["lead"]["palette"]["IV"]) > 1


def test_a_key_knows_the_file_that_said_it_last() -> None:
    book = gather(rule_file(FROM_SLOW + "[lead.shape]\nmost_leap = 7\n"))
    assert str(book.source("lead", "shape", "most_leap")) == "mine.toml: lead.shape.most_leap"
    assert book.source("lead", "shape", "most_run").file == "parts/lead.toml"


def test_merging_leaves_the_shipped_files_as_they_are() -> None:
    before = gather("slow-shuffle")
    gather(rule_file(FROM_SLOW + "[lead.palette]\nI = { 1 = 0 }\n[hand]\nsize = 1.2\n"))
    assert gather("slow-shuffle") == before


def test_an_include_is_found_beside_the_file_first_and_then_among_the_shipped() -> None:
    rule_file("[neck]\nfrets = 22\n", "sub/neck.toml")
    mine = rule_file('include = ["slow-shuffle", "neck"]\n', "sub/mine.toml")
    assert gather(mine).data["neck"]["frets"] == 22


def test_the_title_is_the_main_files_own() -> None:
    assert gather(rule_file(FROM_SLOW)).data["title"] == ""
    assert gather(rule_file('title = "Mine"\n' + FROM_SLOW)).data["title"] == "Mine"


def test_a_shipped_name_wins_over_a_file_of_that_name_here() -> None:
    rule_file("", "slow-shuffle")
    assert locate("slow-shuffle") == shipped_rules() / "slow-shuffle.toml"


# ---- what cannot be read ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = [", "mine.toml: not TOML"),
        ("[study]\n[study]\n", "mine.toml: not TOML"),
        (f"[neck]\nfrets = {'9' * 5000}\n", "mine.toml: not TOML"),
        ("x = " + "[" * 5000, "mine.toml: not TOML"),
        ("include = 3\n", "mine.toml: include: must be a list of rule file names"),
        ("include = [1]\n", "mine.toml: include: must be a list of rule file names"),
        ('include = ["nowhere"]\n', "mine.toml: include: no rule file 'nowhere'"),
        ('include = ["a\\u0000b"]\n', "is no file's name"),
        ('include = ["mine"]\n', "includes go in a circle: mine.toml includes mine.toml"),
        ('include = ["../x"]\n', "leaves the rule folders"),
    ],
)
def test_an_unreadable_file_is_named_with_the_reason(text: str, said: str) -> None:
    rule_file(text)
    with pytest.raises(RuleFileError) as raised:
        gather("mine.toml")
    assert said in str(raised.value).replace(str(Path().resolve()) + "/", "")


def test_bytes_that_are_no_text_and_files_too_large_are_refused() -> None:
    Path("mine.toml").write_bytes(b'title = "\xff"')
    assert told("mine.toml") == ["mine.toml: not UTF-8 text (byte 9)"]
    Path("mine.toml").write_bytes(b"#" * (load.MAX_BYTES + 1))
    assert "has at most" in told("mine.toml")[0]


def test_a_folder_is_no_rule_file() -> None:
    Path("mine.toml").mkdir()
    assert "no such rule file" in told("mine.toml")[0]


def test_a_link_out_of_the_folder_is_not_followed(tmp_path_factory: pytest.TempPathFactory) -> None:
    secret = tmp_path_factory.mktemp("elsewhere") / "secret.toml"
    secret.write_text("[neck]\nfrets = 22\n")
    Path("link.toml").symlink_to(secret)
    rule_file('include = ["slow-shuffle", "link"]\n')
    assert "leaves the rule folders" in told("mine.toml")[0]


def test_includes_that_double_at_each_step_are_stopped() -> None:
    for n in range(30):
        rule_file(f'include = ["d{n + 1}", "d{n + 1}"]\n', f"d{n}.toml")
    rule_file("", "d30.toml")
    assert "more than 256 files" in told("d0.toml")[0]


def test_includes_that_nest_too_deep_are_stopped() -> None:
    for n in range(load.MAX_INCLUDES + 2):
        rule_file(f'include = ["d{n + 1}"]\n', f"d{n}.toml")
    assert f"includes nest deeper than {load.MAX_INCLUDES}" in told("d0.toml")[0]


def test_a_file_that_may_not_be_read_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    rule_file("")

    def denied(path: Path) -> bytes:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_bytes", denied)
    assert told("mine.toml") == ["mine.toml: cannot be read (Permission denied)"]


def test_a_file_here_needs_no_ending() -> None:
    assert gather(rule_file('title = "Mine"\n', "mine")).data["title"] == "Mine"
    assert "unknown style 'yours'" in told("yours")[0]


# ---- options ----------------------------------------------------------------------------------------------


def test_options_come_last_as_a_shipped_file_a_file_of_ones_own_or_one_key() -> None:
    mine = rule_file("[hand]\nstretch = false\n")
    book = gather(
        "slow-shuffle", options=(("hand", "small"), ("hand", mine), ("capo", "2"), ("tuning", "drop D"))
    )
    assert (book.data["neck"]["capo"], book.data["neck"]["tuning"]) == (2, "drop D")
    assert str(book.source("hand", "stretch")) == f"{mine}: hand.stretch"
    assert str(book.source("neck", "capo")) == "--capo: neck.capo"
    assert {"hands/small.toml", mine} <= {digest.name for digest in book.digests}
    assert mistakes(book) == []


def test_a_file_named_by_another_is_looked_for_beside_it_and_in_three_folders_above() -> None:
    mine = rule_file(FROM_SLOW)
    hand = rule_file("[hand]\nstretch = false\n", "hand.toml")
    for home in ("a", "a/b", "a/b/c"):
        Path(home).mkdir()
        book = gather(mine, options=(("hand", hand),), home=home)
        assert {mine, hand} <= {digest.name for digest in book.digests}
    here = Path().resolve()
    with pytest.MonkeyPatch.context() as elsewhere:
        Path("a/b/c/d").mkdir()
        elsewhere.chdir("a/b")
        said = f"unknown hand 'hand.toml': no such file in {here / 'a/b/c/d'}, "
        with pytest.raises(RuleFileError, match=re.escape(said)):
            gather("slow-shuffle", options=(("hand", "hand.toml"),), home="c/d")


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (("hnad", "small"), "unknown option 'hnad': did you mean hand"),
        (("hand", "smal"), "unknown hand 'smal': did you mean small"),
        (("level", "mine.toml"), "unknown level 'mine.toml'"),
    ],
)
def test_an_option_that_is_none_gets_the_nearest(option: tuple[str, str], said: str) -> None:
    rule_file("[level]\ngrade = 1\n")
    with pytest.raises(RuleFileError, match=re.escape(said)):
        gather("slow-shuffle", options=(option,))


# ---- every mistake, each where it stands ------------------------------------------------------------------

MISTAKES = {
    "an unknown table": ("[leed]\n", "leed", "did you mean lead"),
    "an unknown key deep down": ("[lead.bends]\nstring = [1]\n", "lead.bends.string", "strings"),
    "an unknown level key": ("[hand]\nspan_fret = 3\n", "hand.span_fret", "did you mean span_frets"),
    "a word for a number": ('[neck]\nfrets = "many"\n', "neck.frets", "valid integer"),
    "a number out of range": ("[neck]\nfrets = 99\n", "neck.frets", "less than or equal to 27"),
    "no number": ("[neck]\nscale_mm = nan\n", "neck.scale_mm", "900"),
    "an unknown tuning": ('[neck]\ntuning = "drop F"\n', "neck.tuning", "drop D"),
    "a chord's root mistyped": ("[lead.palette]\nIX = { 1 = 0 }\n", "lead.palette.IX", "IV or bVI"),
    "a chord with its quality": ("[lead.palette]\nIV7 = { 1 = 0 }\n", "lead.palette.IV7", "write it alone"),
    "a degree mistyped": ("[lead.palette]\nI = { 8 = 0 }\n", "lead.palette.I", "'8'"),
    "a role mistyped": ("[lead.landing.qestion]\nI = { 1 = 0 }\n", "lead.landing.qestion", "question"),
    "a landing's chord mistyped": (
        "[lead.landing.close]\nX = { 1 = 0 }\n",
        "lead.landing.close.X",
        "IV or bVI",
    ),
    "a pair that is none": ('[lead.melody]\npairs = { "3" = 1 }\n', "lead.melody.pairs", "from > to"),
    "a bend to nowhere": ('[lead.bends]\ntargets = { half = ["b7"] }\n', "lead.bends.targets", "from > to"),
    "a bend of another size": (
        '[lead.bends]\ntargets = { whole = ["b7>7"] }\n',
        "lead.bends.targets.whole",
        "1 semitones",
    ),
    "a grace without a chord": ('[lead.techniques]\ngraces = ["3"]\n', "lead.techniques.graces", "3 over I"),
    "a list for a table": ("[hand]\nspan_frets = []\n", "hand.span_frets", "dictionary"),
    "a range upside down": ("[lead.shape]\nnotes = [9, 5]\n", "lead.shape.notes", "from 9 down to 5"),
    "peaks upside down": ("[lead.peaks]\nclimax = [6, -1]\n", "lead.peaks.climax", "from 6 down to -1"),
    "a form that is unknown": ('[study]\nform = "slow chance"\n', "study.form", "did you mean slow change"),
    "a bar without a chord": ('[forms.x]\nbars = ["I7", ""]\nphrases = [2]\n', "forms.x.bars", "0 chords"),
    "a bar in fifths": ('[forms.x]\nbars = ["I I I I I"]\nphrases = [1]\n', "forms.x.bars", "5 chords"),
    "a form's chord mistyped": ('[forms.x]\nbars = ["Q7"]\nphrases = [1]\n', "forms.x.bars", "'Q7'"),
    "phrases that do not add up": ('[forms.x]\nbars = ["I7"]\nphrases = [2]\n', "forms.x", "add up to 2"),
    "a cell of nothing": ('[figures.x]\ngrade = 1\ncells = [""]\n', "figures.x.cells", "empty cell"),
    "a figure that lands": ('[figures.x]\ngrade = 1\ncells = ["xL"]\n', "figures.x.cells", "no landing"),
    "a tail that does not land": ('[tails.x]\ngrade = 1\ncells = ["xx"]\n', "tails.x.cells", "landing L"),
    "no cells": ("[figures.plain]\ncells = []\n", "figures.plain.cells", "at least 1 item"),
    "licks out of order": (
        '[templates.x]\nphrases = ["opening"]\nlicks = [{ beat = 4, most_beats = 3, role = "close" }, '
        '{ beat = 0, most_beats = 3, role = "close" }]\n',
        "templates.x.licks",
        "must go up",
    ),
    "a scheme of no letters": ('[schemes.x]\nphrases = ["a 1"]\n', "schemes.x.phrases", "A'"),
    "a quote before its model": ('[schemes.x]\nphrases = ["A\' A"]\n', "schemes.x.phrases", "before it"),
    "a grip with a string too many": (
        '[grips.x]\nqualities = ["7"]\ndegrees = ["1", "3"]\nstrings = [[4, 3, 2]]\n',
        "grips.x.strings",
        "2 strings",
    ),
    "a grip upside down": (
        '[grips.x]\nqualities = ["7"]\ndegrees = ["1", "3"]\nstrings = [[3, 4]]\n',
        "grips.x.strings",
        "lowest string up",
    ),
    "an unknown quality": (
        '[grips.x]\nqualities = ["8"]\ndegrees = ["1", "3"]\nstrings = [[4, 3]]\n',
        "grips.x.qualities",
        "unknown quality",
    ),
    "a sign that is none": ('[answers.x]\nbeats = 1\npatterns = ["C?."]\n', "answers.x", "'?'"),
    "a pattern too short": ('[answers.x]\nbeats = 2\npatterns = ["C.."]\n', "answers.x", "6"),
    "an ending too short": (
        '[endings.x]\nbeats = 2\npattern = "C--"\nchords = ["I7"]\n',
        "endings.x",
        "2 beats have 6",
    ),
    "an ending with a chord too few": (
        '[endings.x]\nbeats = 1\npattern = "CSx"\nchords = ["I7"]\n',
        "endings.x",
        "3 hits",
    ),
    "a lead-in mistyped": ('[comping]\nleads = { X = ["V7"] }\n', "comping.leads.X", "IV or bVI"),
    "a tempo upside down": (
        "[study]\ntempo = { least = 60, usual = 50, most = 40 }\n",
        "study.tempo",
        "least <= usual",
    ),
    "straight twelve-eight": ('[study]\ngrid = "straight"\n', "study.grid", "4/4"),
    "a feel that nobody plays": ('[study]\nfeel = "rumba"\n', "study.feel", "'rhumba'"),
    "a hand measured by halves": ("[hand]\nspan_mm = { 14 = 90 }\n", "hand.span_mm", "12, 13, 23, 24, 34"),
    "a count of nothing": ("[practice.times]\nbends = 2\n", "practice.times.bends", "'bend'"),
    "windows upside down": ("[lead.windows]\nlowest = 9\nhighest = 2\n", "lead.windows", "from 9 down to 2"),
    "a phrase of no bars": ('[forms.x]\nbars = ["I7"]\nphrases = [1, 0]\n', "forms.x.phrases", "one or more"),
    "a phrase without a lick": ('[schemes.x]\nphrases = ["A", ""]\n', "schemes.x.phrases", "a lick's letter"),
    "kinds for other phrases": (
        '[schemes.x]\nphrases = ["A"]\nkinds = ["opening", "closing"]\n',
        "schemes.x.kinds",
        "2 kinds for 1 phrases",
    ),
    "a sign of two meanings": (
        '[comping.bass.T]\nabout = "low"\nmajor = "1"\n',
        "comping",
        "the sign 'T' means two things",
    ),
    "an unknown groove": (
        '[answers.x]\nbeats = 1\npatterns = ["C.."]\ngroove = "stab"\n',
        "answers.x.groove",
        "did you mean stabs",
    ),
    "a pair of no degrees": ('[lead.melody]\npairs = { "x>3" = 1 }\n', "lead.melody.pairs", "from > to"),
    "an unknown pair of fingers": ("[hand.span_frets]\n15 = 2\n", "hand.span_frets", "'12'"),
    "strings of no set": ('[neck]\nstrings = "lite"\n', "neck.strings", "use one of extra light, light"),
    "strings that would break": (
        '[neck]\ntuning = "E5 B4 G4 D4 A3 E3"\n',
        "neck",
        "take another tuning, strings or neck",
    ),
    "an unknown hand": ('[hand]\nshape = "huge"\n', "hand.shape", "use one of"),
    "a move that is none": (
        '[lead.copying]\nlongest = 4\nlines = ["3/4 up"]\n',
        "lead.copying.lines",
        "semitones/ticks",
    ),
    "no window": ("[lead.windows]\nrelative = []\nfrets = []\n", "lead.windows", "at least one place"),
}


@pytest.mark.parametrize("what", MISTAKES)
def test_a_mistake_is_named_with_file_key_and_what_would_be_right(what: str) -> None:
    text, key, right = MISTAKES[what]
    rule_file(FROM_SLOW + text)
    found = told("mine.toml")
    assert found
    assert all(line.startswith("mine.toml: ") for line in found)
    assert any(line.startswith(f"mine.toml: {key}") and right in line for line in found), found


def test_mistakes_of_sense_come_all_together_too() -> None:
    rule_file(
        FROM_SLOW
        + """
[study]
form = "x"
[lead.palette]
IX = { 1 = 0 }
[lead.shape]
notes = [9, 5]
[lead.techniques]
graces = ["x"]
[answers.x]
beats = 1
patterns = ["?.."]
"""
    )
    found = told("mine.toml")
    assert len(found) == 5
    for key in ("study.form", "lead.palette.IX", "lead.shape.notes", "lead.techniques.graces", "answers.x"):
        assert any(key in line for line in found)


def test_a_table_that_says_nothing_of_a_size_is_told_which() -> None:
    book = gather("slow-shuffle")
    bends = {**book.data["lead"]["bends"], "lowest_fret": {"half": 1}}
    book = replace(book, data={**book.data, "lead": {**book.data["lead"], "bends": bends}})
    (said,) = mistakes(book)
    assert "lead.bends.lowest_fret: must say something of" in said
    assert "whole" in said


def test_a_table_that_no_file_has_is_missing_from_the_style_itself() -> None:
    book = gather("slow-shuffle")
    without = {key: value for key, value in book.data.items() if key != "forms"}
    origin = {path: name for path, name in book.origin.items() if path[0] != "forms"}
    assert f"{book.name}: forms: is missing" in mistakes(replace(book, data=without, origin=origin))


def test_a_part_alone_may_leave_tables_out_but_makes_no_mistakes() -> None:
    assert told(rule_file("[neck]\nfrets = 22\n")) == []
    assert len(told(rule_file("[neck]\nfret = 22\ncapo = 99\n"))) == 2


# ---- anything at all --------------------------------------------------------------------------------------

words = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=12)
simple = st.one_of(
    st.integers(-3, 40),
    st.floats(allow_nan=True),
    st.booleans(),
    words,
    st.lists(st.integers(-2, 9), max_size=3),
)
keys = st.sampled_from(["sizes", "notes", "bars", "phrases", "I", "frets", "size", "most_leap", "relative"])
tables = st.sampled_from(
    ["study", "neck", "hand", "level", "lead", "lead.bends", "lead.shape", "lead.peaks", "lead.palette",
     "lead.melody", "lead.windows", "lead.downbeats", "comping", "forms.x", "grips.x", "schemes.x"]
)  # fmt: skip


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(c):08x}" for c in value) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return repr(value)


@settings(
    max_examples=reach(200, 25), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    table=tables,
    key=st.one_of(words, st.sampled_from(["sizes", "notes", "bars", "phrases", "I", "frets"])),
    value=simple,
)
def test_whatever_stands_in_a_file_is_read_or_named_with_the_file(
    table: str, key: str, value: object
) -> None:
    rule_file(f"{FROM_SLOW}[{table}]\n{toml(key)} = {toml(value)}\n")
    for line in told("mine.toml"):
        assert "mine.toml" in line or "parts/" in line or "levels/" in line
