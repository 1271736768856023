"""Another neck, tuning, capo, set of strings or hand: studies for each, remembered, and what cannot be."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.compose.write import write
from lickwright.guitar.neck import TUNINGS, Neck, parse_tuning
from lickwright.judge.check import checked
from lickwright.rulebook.check import mistakes
from lickwright.rulebook.load import RuleFileError, gather, last_names
from lickwright.rulebook.read import lead_of, read_rules
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.theory.harmony import Key

from tests.written import a_study

SIX_STRINGS = [name for name, pitches in TUNINGS.items() if len(pitches) == 6]
WRITTEN_OUT = ("C2 G2 D3 G3 C4 D4", "E2 A2 D3 G3 B3")
#: One string lowered, one open chord, five strings, and far from the usual: the others are long.
QUICK = {("drop D", "Eb"), ("open G", "A"), (WRITTEN_OUT[0], "A"), (WRITTEN_OUT[1], "Eb")}


def study_with(key: str = "A", style: str = "slow-shuffle", **options: str) -> Study:
    return a_study(style, key, 7, **options)


# ---- tunings and necks ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tuning", "key"),
    [
        pytest.param(*case, marks=() if case in QUICK else pytest.mark.long)
        for case in product([*SIX_STRINGS, *WRITTEN_OUT], ["A", "Eb"])
    ],
)
def test_there_is_a_study_in_every_tuning_and_it_keeps_its_rules(tuning, key) -> None:
    study = study_with(key, tuning=tuning)
    assert checked(study) == ()
    assert study.neck.tuning == parse_tuning(tuning)
    assert all(n.pitch == study.neck.pitch(n.string, n.fret) for _, n in study.notes())


@pytest.mark.parametrize("neck", last_names("neck"))
def test_there_is_a_study_on_every_shipped_neck(neck) -> None:
    study = study_with("A", neck=neck)
    assert checked(study) == ()
    assert study.neck != Neck()


def test_a_bass_is_curled_at_the_most_and_sounds_an_octave_lower_than_a_guitar() -> None:
    study = study_with("E", neck="bass")
    assert not any(note.bend.size > 1 for _, note in study.notes() if note.bend)
    assert max(note.pitch for _, note in study.notes()) < 67


def test_frets_are_counted_from_the_capo_and_the_key_stays() -> None:
    plain, raised = study_with("A"), study_with("A", capo="3")
    assert raised.key == plain.key == "A"
    assert raised.neck.capo == 3
    assert raised.neck.pitch(1, 0) == plain.neck.pitch(1, 3)


def test_positions_are_counted_where_the_root_lies_on_the_first_string() -> None:
    a = Key("A")
    assert Neck().root_fret(a.pitch_class) == 5
    # the sixth string alone goes down: the licks stay where they are
    assert Neck(TUNINGS["drop D"]).root_fret(a.pitch_class) == 5
    assert Neck(TUNINGS["half a step down"]).root_fret(a.pitch_class) == 6
    assert Neck(capo=2).root_fret(a.pitch_class) == 3
    # a bass has its lowest string where a guitar's sixth is
    assert Neck(TUNINGS["bass"]).root_fret(a.pitch_class) == 5


# ---- strings ----------------------------------------------------------------------------------------------


def test_a_wound_third_string_is_hardly_bent() -> None:
    for key in ("A", "Eb"):
        for _, note in study_with(key, strings="wound-third").notes():
            assert not (note.bend and note.string == 3 and note.bend.size > 2)


def test_gauges_may_be_written_out_and_light_strings_bend_where_heavy_ones_do_not(tmp_path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text('[neck]\nstrings = "12 16 20 32w 42w 54w"\n')
    lead = lead_of(study_with(strings=str(mine)))
    assert [g.diameter_in for g in lead.strings.gauges] == [0.012, 0.016, 0.020, 0.032, 0.042, 0.054]
    assert lead.strings.gauges[3].wound


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((("tuning", "drop F"),), "unknown tuning 'drop F'"),
        ((("tuning", "bass"),), "string 1 of 'light' would be at 5 N in this tuning"),
        ((("tuning", "B5 E5"),), "would be at"),
        ((("neck", "seven-strings"), ("strings", "bass")), "unknown strings 'bass'"),
        ((("capo", "12"),), "neck.capo"),
        ((("capo", "two"),), "neck.capo"),
    ],
)
def test_what_no_instrument_can_do_is_said_with_the_key(options, said) -> None:
    with pytest.raises(RuleFileError, match=said):
        read_rules("slow-shuffle", None, options)


# ---- hands ------------------------------------------------------------------------------------------------


def test_the_three_finger_shape_never_uses_the_little_finger_in_a_lick() -> None:
    for key in ("A", "C"):
        study = study_with(key, hand="three-fingers")
        licks = [e for e in study.events if study.slots[e.slot].kind is SlotKind.LICK]
        assert {n.finger for e in licks for n in e.notes} <= {0, 1, 2, 3}
        assert checked(study) == ()


def test_another_hands_study_is_judged_by_the_shape_of_the_hand() -> None:
    """A study for four fingers breaks the rule of three, by name."""
    broken = set()
    for key in ("A", "C", "Eb"):
        study = study_with(key)
        used = {n.finger for e in study.events for n in e.notes}
        asked = Brief("slow-shuffle", key, 7, options=(("hand", "three-fingers"),))
        other = replace(study, brief=asked)
        if 4 in used:
            broken |= {v.rule for v in checked(other)}
    assert "hand.fingers" in broken


def test_a_small_hand_keeps_the_rates_of_its_level() -> None:
    first_year = read_rules("slow-shuffle", "first-year", (("hand", "small"),))[1].hand
    assert first_year.size < 1
    assert first_year.strums_per_s == read_rules("slow-shuffle", "first-year")[1].hand.strums_per_s


@pytest.mark.parametrize("kind", ["hand", "strings", "neck"])
def test_every_shipped_file_of_a_kind_makes_sound_rules_and_has_a_digest(kind) -> None:
    for name in last_names(kind):
        book = gather("slow-shuffle", "growing", options=((kind, name),))
        assert mistakes(book) == []
        assert any(digest.name.endswith(f"/{name}.toml") for digest in book.digests)
        assert book.data["title"] == gather("slow-shuffle").data["title"]


def test_an_unknown_hand_is_answered_with_the_nearest() -> None:
    with pytest.raises(RuleFileError, match="unknown hand 'smal': did you mean small"):
        gather("slow-shuffle", options=(("hand", "smal"),))
    with pytest.raises(RuleFileError, match="unknown option 'glove'"):
        gather("slow-shuffle", options=(("glove", "left"),))


# ---- remembered -------------------------------------------------------------------------------------------


def test_a_study_remembers_its_instrument_and_player() -> None:
    study = study_with(tuning="open G", hand="small")
    read = from_json(to_json(study))
    assert read == study
    assert dict(read.brief.options) == {"tuning": "open G", "hand": "small"}
    assert write(read.brief) == study
    assert checked(read) == ()
    assert lead_of(read, "minor-slow").hand.size < 1


def test_the_options_of_the_command_reach_the_study(tmp_path) -> None:
    out = tmp_path / "out"
    words = "write slow-shuffle --key G --seed 2 --format tab --tuning DADGAD --capo 2 --strings regular --hand small"
    result = CliRunner().invoke(main, [*words.split(), "--out", str(out)])
    assert result.exit_code == 0, result.output
    study = from_json((out / "study.json").read_bytes())
    assert (study.neck.tuning, study.neck.capo) == (TUNINGS["DADGAD"], 2)
    assert dict(study.brief.options) == {
        "tuning": "DADGAD", "capo": "2", "strings": "regular", "hand": "small",
    }  # fmt: skip
    assert CliRunner().invoke(main, ["check", str(out / "study.json")]).exit_code == 0
    assert "DADGAD" in result.output
    assert "capo at fret 2" in result.output
