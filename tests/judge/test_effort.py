"""What a study asks of the hands: measures against plain sums, the scale, the hardest moment, the table."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.cli import main
from lickwright.guitar.neck import Neck
from lickwright.judge.check import check
from lickwright.judge.effort import EFFORT_COLUMNS, cells, moments, report
from lickwright.rulebook.effort import Effort, difficulty, effort, measurable
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.read import lead_of, read_rules
from lickwright.study.json_text import to_json
from lickwright.study.model import Bend, BendKind, Brief, Event, Note, Slot, SlotKind, Study

from tests.studies import tour
from tests.written import a_study

LEVELS = ("first-year", "growing", "fluent")


@cache
def lead_for(study: Study, level: str = "fluent", options: tuple[tuple[str, str], ...] = ()) -> Lead:
    book, rules = read_rules("slow-shuffle", level, options)
    return Lead(rules, book, study.home, study.neck)


def played(kind: SlotKind, *events: tuple[int, int, tuple[tuple[int, ...], ...]], bpm: int = 60) -> Study:
    """A study of one slot: events are (onset, ticks, notes), notes (string, fret, finger[, bend in quarters])."""
    neck = Neck()
    made = []
    for number, (onset, ticks, notes) in enumerate(events):
        written = tuple(
            Note(
                s, f, g, neck.pitch(s, f), "1",
                bend=Bend(BendKind.BEND, more[0], ((0, 0), (ticks, more[0]))) if more else None,
            )
            for s, f, g, *more in notes
        )  # fmt: skip
        fret, finger = notes[0][1], notes[0][2]
        hand = max(1, fret - max(0, finger - 1))
        made.append(Event(f"e{number + 1}", 0, onset, ticks, written, "I7", hand))
    slot = Slot(0, kind, 0, made[0].onset, made[-1].end, "A")
    return replace(tour(), tempo_bpm=bpm, neck=neck, slots=(slot,), events=tuple(made))


# ---- the measures -----------------------------------------------------------------------------------------


def test_notes_a_second_are_those_of_the_fastest_four_running() -> None:
    notes = ((1, 5, 1),)
    study = played(SlotKind.LICK, *((t, 2, notes) for t in (0, 12, 24, 28, 30, 32, 44)))
    measured = effort(study, lead_for(study))
    # three intervals from tick 24 to tick 32, a tick being a twelfth of a second at 60
    assert measured.notes_per_s == pytest.approx(3 / (8 / 12))
    assert measured.strokes_per_s == 0


def test_comping_counts_as_strokes_and_not_as_notes() -> None:
    chord = ((4, 5, 1), (3, 6, 3), (2, 5, 2))
    study = played(SlotKind.COMP, (0, 4, chord), (6, 4, chord))
    measured = effort(study, lead_for(study))
    assert (measured.notes_per_s, measured.strokes_per_s) == (0, pytest.approx(2.0))
    assert measured.grip_points > 0


def test_bend_work_is_that_of_a_spring_pushed_aside() -> None:
    study = played(SlotKind.LICK, (0, 12, ((1, 12, 3, 4),)))
    measured = effort(study, lead_for(study))
    # between half of force times way (a plain spring) and a third of it (a string that only grows tense)
    force, way = 9.1, 19.8
    assert force * way / 3 < measured.bend_work_nmm < force * way / 2
    assert measured.bend_work_nmm_s == pytest.approx(measured.bend_work_nmm / 1.0)


def test_a_tied_bend_is_not_paid_for_twice() -> None:
    study = played(SlotKind.LICK, (0, 12, ((1, 12, 3, 4),)), (12, 12, ((1, 12, 3, 4),)))
    once = effort(study, lead_for(study)).bend_work_nmm / 2
    second = replace(study.events[1], notes=(replace(study.events[1].notes[0], tied=True),))
    tied = replace(study, events=(study.events[0], second))
    assert effort(tied, lead_for(tied)).bend_work_nmm == pytest.approx(once)


def test_reach_counts_what_lies_beyond_a_knuckle_a_finger() -> None:
    wide = played(SlotKind.LICK, (0, 12, ((2, 1, 1),)), (12, 12, ((2, 4, 4),)))
    lead = lead_for(wide)
    wires = [648 * (1 - 2 ** (-f / 12)) for f in range(6)]
    needed = wires[4] - 0.7 * (wires[4] - wires[3]) - wires[1]
    assert effort(wide, lead).reach_mm == pytest.approx((needed - 3 * 21) / 2, abs=0.01), (
        "none into the first"
    )
    near = played(SlotKind.LICK, (0, 12, ((2, 12, 1),)), (12, 12, ((2, 14, 3),)))
    assert effort(near, lead).reach_mm == 0


def test_a_shift_is_as_fast_as_its_way_in_what_time_its_start_leaves() -> None:
    study = played(SlotKind.LICK, (0, 12, ((2, 5, 1),)), (12, 12, ((2, 12, 1),)))
    lead = lead_for(study)
    way = 648 * (2 ** (-5 / 12) - 2 ** (-12 / 12))
    assert effort(study, lead).shift_mm_s == pytest.approx(way / (1.0 - 0.10))


def test_crossings_are_the_strings_between_one_note_and_the_next() -> None:
    study = played(SlotKind.LICK, *((12 * k, 12, ((s, 5, 1),)) for k, s in enumerate((1, 3, 3, 2))))
    assert effort(study, lead_for(study)).crossings == pytest.approx((2 + 0 + 1) / 3)


def test_silence_asks_for_nothing() -> None:
    study = replace(tour(), events=())
    assert effort(study, lead_for(study)) == Effort()
    assert difficulty(Effort(), lead_for(study)) == 1.0


# ---- the difficulty ---------------------------------------------------------------------------------------


def test_the_difficulty_is_the_stated_sum() -> None:
    lead = lead_for(tour())
    weights = lead.rules.effort
    asked = Effort(notes_per_s=4.0, bend_work_nmm_s=2.0, shift_mm_s=300.0)
    by_hand = (
        1
        + weights.notes_per_s.points * (4.0 - weights.notes_per_s.free)
        + weights.bend_work_nmm_s.points * 2.0
        + weights.shift_mm_s.points * (300.0 - weights.shift_mm_s.free)
    )
    assert difficulty(asked, lead) == pytest.approx(by_hand)


@given(st.lists(st.floats(0, 1e4), min_size=8, max_size=8), st.integers(0, 7), st.floats(0, 1e4))
def test_difficulty_lies_from_1_to_10_and_more_of_anything_is_never_easier(values, which, more) -> None:
    lead = lead_for(tour())
    less = difficulty(Effort(*values), lead)
    values[which] += more
    assert 1 <= less <= difficulty(Effort(*values), lead) <= 10


@settings(max_examples=25, deadline=None)
@given(st.integers(40, 200), st.integers(40, 200))
def test_the_same_study_is_never_easier_when_faster(one, other) -> None:
    slow, fast = (replace(tour(), tempo_bpm=bpm) for bpm in sorted((one, other)))
    lead = lead_for(slow)
    assert difficulty(effort(slow, lead), lead) <= difficulty(effort(fast, lead), lead)


def test_the_same_study_at_60_and_at_132_is_not_the_same_problem() -> None:
    lead = lead_for(tour())
    slow, fast = (effort(replace(tour(), tempo_bpm=bpm), lead) for bpm in (60, 132))
    assert difficulty(fast, lead) >= difficulty(slow, lead) + 1


def test_a_study_twice_as_long_is_as_difficult() -> None:
    once, twice = tour(), tour(repeats=2)
    lead = lead_for(once)
    # the second time brings a shift back to the start, nothing else
    assert effort(twice, lead).notes_per_s == effort(once, lead).notes_per_s
    a, b = difficulty(effort(once, lead), lead), difficulty(effort(twice, lead), lead)
    assert b == pytest.approx(a, rel=0.25)


@pytest.mark.parametrize("level", LEVELS)
def test_a_written_study_is_as_difficult_as_its_level_says(level) -> None:
    study = a_study(level=level)
    lead = lead_of(study)
    least, most = lead.rules.level.difficulty
    assert least <= difficulty(effort(study, lead), lead) <= most


def test_the_levels_ask_more_and_more() -> None:
    bounds = [read_rules("slow-shuffle", level)[1].level.difficulty for level in LEVELS]
    assert bounds == sorted(bounds)
    assert [b[1] for b in bounds] == sorted(b[1] for b in bounds)


def test_a_study_beyond_its_level_is_named_by_the_judge() -> None:
    study = replace(tour(), tempo_bpm=200)
    broken = [v for v in check(study, lead_for(study, "first-year")) if v.rule == "level.difficulty"]
    assert len(broken) == 1
    assert "first-year.toml: level.difficulty" in str(broken[0])


# ---- the hardest moment -----------------------------------------------------------------------------------


def test_the_hardest_moment_says_where_what_how_much_and_the_limit() -> None:
    study = played(SlotKind.LICK, (0, 24, ((2, 5, 1),)), (36, 12, ((1, 3, 3, 4),)))
    hardest = report(study, lead_for(study)).whole.hardest
    assert str(hardest) == "bar 1 beat 4: whole step on string 1 fret 3 with finger 3: 12.2 N, limit 12"
    assert hardest is not None
    assert hardest.share > 1


def test_a_shift_without_even_the_time_to_start_says_so_in_seconds() -> None:
    study = played(SlotKind.LICK, (0, 1, ((2, 5, 1),)), (1, 12, ((2, 12, 1),)))
    lead = lead_for(study)
    hardest = report(study, lead).whole.hardest
    assert str(hardest).startswith("bar 1 beat 1 + 1/12: the hand goes from fret 5 to 12: 0.")
    assert str(hardest).endswith(" s, limit 0.08")
    assert difficulty(effort(study, lead), lead) == 10


def test_heavier_strings_make_the_same_bend_harder() -> None:
    study = played(SlotKind.LICK, (0, 12, ((1, 8, 3, 4),)))
    forces = [
        moment.asked
        for name in ("extra-light", "light", "regular", "heavy")
        for moment in moments(study, lead_for(study, options=(("strings", name),)))
        if moment.unit == "N"
    ]
    assert len(forces) == 4
    assert forces == sorted(forces)


def test_moments_come_in_order_and_each_has_a_limit() -> None:
    found = list(moments(tour(), lead_for(tour())))
    assert [m.tick for m in found] == sorted(m.tick for m in found)
    assert all(m.limit > 0 and math.isfinite(m.asked) for m in found)
    assert {m.unit for m in found} == {"N", "mm", "mm apart", "mm/s", "notes a second"}


def test_a_written_study_asks_for_no_more_than_its_hand_has() -> None:
    study = a_study("minor-slow", "D", 3)
    assert all(m.share <= 1 + 1e-9 for m in moments(study, lead_of(study)))


# ---- what the hand cannot do as a whole -------------------------------------------------------------------


def rules_broken(study: Study, level: str = "fluent") -> set[str]:
    return {v.rule for v in check(study, lead_for(study, level))}


def test_a_bend_that_runs_into_a_sounding_string_is_named() -> None:
    into = played(SlotKind.LICK, (0, 12, ((1, 12, 3, 4), (2, 12, 1))))
    away = played(SlotKind.LICK, (0, 12, ((1, 12, 1), (2, 14, 3, 4))))
    assert "hand.bends.run-into" in rules_broken(into)
    assert "hand.bends.run-into" not in rules_broken(away)


def test_a_string_that_still_rings_is_run_into_too() -> None:
    study = played(SlotKind.COMP, (0, 12, ((2, 12, 1),)), (12, 12, ((1, 12, 3, 4),)))
    ringing = replace(study, events=(replace(study.events[0], ring=6), study.events[1]))
    assert "hand.bends.run-into" not in rules_broken(study)
    assert "hand.bends.run-into" in rules_broken(ringing)


def test_strums_faster_than_the_level_allows_are_named() -> None:
    chord = ((4, 5, 1), (3, 6, 3), (2, 5, 2))
    study = played(SlotKind.COMP, (0, 2, chord), (2, 4, chord), bpm=80)  # eight a second
    assert "hand.strums" in rules_broken(study, "first-year")
    assert "hand.strums" not in rules_broken(study, "fluent")


# ---- the table --------------------------------------------------------------------------------------------


def test_there_is_a_row_for_each_slot_and_one_for_the_study() -> None:
    found = report(tour(), lead_for(tour()))
    assert [row.name for row in found.rows] == ["lick A", "comping", "lick B", "comping"]
    assert [row.bars for row in found.rows] == [(1, 1), (2, 2), (3, 3), (4, 4)]
    assert found.whole.effort.notes_per_s == max(row.effort.notes_per_s for row in found.rows)
    assert all(len(cells(row)) == len(EFFORT_COLUMNS) for row in found.rows)


def test_the_command_prints_table_and_hardest_moment_in_80_columns(tmp_path) -> None:
    study = a_study()
    named = replace(study.slots[0], name="[b]\x1b") if study.slots[0].kind is SlotKind.LICK else None
    slots = study.slots if named is None else (named, *study.slots[1:])
    path = tmp_path / "study.json"
    path.write_text(to_json(replace(study, slots=slots)))
    result = CliRunner().invoke(main, ["check", str(path), "--effort"])
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    table = lines[: next(k for k, line in enumerate(lines) if line.startswith("hardest moment: bar "))]
    assert all(len(line) <= 80 and "…" not in line for line in table)
    assert sum(line.startswith(("lick", "comping")) for line in table) == len(study.slots)
    assert "\x1b" not in result.stdout
    assert lines[-1] == "keeps every rule"


def test_a_study_off_its_neck_is_refused_not_measured(tmp_path) -> None:
    study = tour()
    assert measurable(study)
    data = json.loads(to_json(replace(study, brief=Brief("slow-shuffle", "A", 1))))
    data["events"][0]["notes"][0]["fret"] = 30
    path = tmp_path / "study.json"
    path.write_text(json.dumps(data))
    result = CliRunner().invoke(main, ["check", str(path), "--effort"])
    assert result.exit_code == 1
    assert "off its neck" in result.output
