"""Written licks in the search: masks leave just what is written, exactly, and nothing that the hand cannot play."""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from lickwright.compose.rewrite import rewritten
from lickwright.compose.setting import Setting, setting_for
from lickwright.compose.write import Tables, redo, write
from lickwright.judge.check import check
from lickwright.rulebook.load import RuleFileError, shipped_rules
from lickwright.rulebook.read import lead_of, read_rules
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import TouchTable, touch_of, way_of
from lickwright.rulebook.written import saying, says
from lickwright.solver.licks import LickMaker
from lickwright.solver.plan.layout import LickPlan, form_spans
from lickwright.solver.written import touches_of
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR, Onset
from lickwright.theory.row import begins_at, parse_row

#: The shipped files of written licks, each with a style of its feel and mode.
FILES = {
    "slow": "slow-shuffle",
    "first-year": "slow-shuffle",
    "shuffle": "quick-shuffle",
    "minor": "minor-slow",
    "straight": "straight",
    "rhumba": "rhumba",
}


def style_with(folder: Path, figures: str) -> str:
    """A style file of one's own whose licks are all written ones."""
    path = folder / f"own-{figures}.toml"
    path.write_text(
        f'title = "Written"\ninclude = ["{FILES[figures]}", "figures/{figures}"]\n\n[lead]\nwritten = 1.0\n',
        encoding="utf-8",
    )
    return str(path)


@cache
def rules_with(figures: str) -> RuleFile:
    with tempfile.TemporaryDirectory() as folder:
        return read_rules(style_with(Path(folder), figures))[1]


@pytest.mark.parametrize("figures", FILES)
def test_every_written_lick_can_be_read_and_is_what_readers_would_print(figures: str) -> None:
    rules = rules_with(figures)
    grid = rules.study.grid
    rows = [(w, row) for w in rules.lick.values() for row in w.over.values()]
    rows += [(p, row) for p in rules.pair.values() for row in (p.question, p.answer)]
    assert len(rules.lick) >= 30
    assert len(rules.pair) >= 5
    for written, row in rows:
        assert -TICKS_PER_BAR < begins_at(written.begins, grid) < TICKS_PER_BAR
        assert any(note.ticks for note in parse_row(row, grid))
        assert all(mark >= 7 for mark in written.marks)


@pytest.mark.parametrize("figures", FILES)
def test_no_two_written_licks_of_a_file_share_six_notes(figures: str) -> None:
    rules, seen = rules_with(figures), {}
    grid = rules.study.grid
    named = [(n, row) for n, w in rules.lick.items() for row in w.over.values()]
    named += [(n, row) for n, p in rules.pair.items() for row in (p.question, p.answer)]
    for name, row in named:
        notes = [(n.heard, n.ticks) for n in parse_row(row, grid) if n.degrees]
        for k in range(len(notes) - 5):
            run = tuple((pitch - notes[k][0], ticks) for pitch, ticks in notes[k : k + 6])
            assert seen.setdefault(run, name) == name


def test_shipped_files_name_each_lick_once() -> None:
    names = [
        name
        for path in sorted((shipped_rules() / "figures").glob("*.toml"))
        for name in re.findall(
            r"^\[(?:lick|pair)\.([^\]]+)\]", path.read_text(encoding="utf-8"), re.MULTILINE
        )
    ]
    assert len(names) == len(set(names)) > 400


@cache
def maker(figures: str) -> tuple[Setting, LickMaker]:
    with tempfile.TemporaryDirectory() as folder:
        setting = setting_for(Brief(style_with(Path(folder), figures), "A", 1, level="fluent"))
    form = form_spans(setting.rules.forms[setting.rules.study.form[0]].bars)
    return setting, Tables(setting).maker.for_form(form)


def plans(figures: str, most: int) -> list[tuple[LickPlan, int]]:
    """Written licks that can be fingered, each planned in one position."""
    setting, making = maker(figures)
    found = []
    for name in list(setting.rules.lick)[:20]:
        words = saying(setting.rules, name, "over I", setting.tempo_bpm)
        if words is None:
            continue
        onsets = tuple(Onset(o.tick + TICKS_PER_BAR, o.duration, o.landing) for o in words.onsets)
        for tonic, hand in product((45, 57), range(4, 9)):
            plan = LickPlan(
                0,
                0,
                "A",
                "question",
                name,
                "over I",
                onsets,
                len(onsets),
                (hand,),
                mask=words.notes,
                tonic=tonic,
            )
            if making.possible(plan, hand):
                found.append((plan, hand))
                break
    return found[:most]


@pytest.mark.parametrize("figures", ["slow", "rhumba"])
def test_a_mask_counts_just_the_fingerings_that_a_plain_product_finds(figures: str) -> None:
    """All touches of all notes, one way each, put to the rules one by one."""
    setting, making = maker(figures)
    lead = making.written
    for plan, hand in plans(figures, 4):
        assert plan.mask is not None
        choices = []
        for note in plan.mask:
            touches = list(touches_of(lead, note, plan.tonic, hand))
            table = TouchTable.of(touches)
            good = np.ones(len(touches), bool)
            for rule in lead.touch_rules:
                good &= rule.allows(table)
            choices.append([t for t, fine in zip(touches, good, strict=True) if fine])
        count = 0
        lattice = making.lattice(plan, hand)
        gaps = lattice.gap_s
        for path in product(*choices):
            fine = True
            for k, note in enumerate(plan.mask[1:]):
                a, b = TouchTable.of([path[k]]), TouchTable.of([path[k + 1]])
                how = np.array([note.way])
                fine = fine and all(rule.allows(a, b, how)[0] for rule in lead.move_rules)
                fine = fine and all(rule.needs(a, b, how)[0] <= gaps[k] + 1e-9 for rule in lead.time_rules)
                if not fine:
                    break
            count += fine
        bends = sum(note.bend >= 2 for note in plan.mask)
        if bends <= setting.rules.lead.bends.most_per_lick:
            assert count == lattice.count() > 0


@cache
def a_study(style: str, key: str, seed: int, level: str | None = None) -> Study:
    return write(Brief(style, key, seed, level=level))


@pytest.fixture(scope="module")
def styles(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("written")
    return {figures: style_with(folder, figures) for figures in FILES}


CASES = [("slow", "A", None), ("shuffle", "Eb", "fluent"), ("minor", "D", None), ("rhumba", "C", None)]


@pytest.mark.parametrize(("figures", "key", "level"), [*CASES, ("first-year", "G", "first-year")])
def test_a_study_of_written_licks_says_them_note_for_note_and_keeps_the_rules(
    figures: str, key: str, level: str | None, styles: dict[str, str]
) -> None:
    study = a_study(styles[figures], key, 3, level)
    lead = lead_of(study)
    assert check(study, lead) == ()
    licks = [slot for slot in study.slots if slot.kind is SlotKind.LICK]
    assert licks
    for slot in licks:
        events = study.events_of(slot.number)
        words = saying(lead.rules, slot.cells[0], slot.cells[1], study.tempo_bpm)
        assert words is not None
        touches = [touch_of(e) for e in events]
        ways = [way_of(e) for e in events[1:]]
        assert says(words, study.home.pitch_class, [e.onset for e in events], touches, ways)


def test_the_same_seed_says_the_same(styles: dict[str, str]) -> None:
    assert rewritten(a_study(styles["slow"], "A", 3)) == ()


def test_what_is_no_longer_as_written_is_judged_as_any_lick(styles: dict[str, str]) -> None:
    """A lick that names a written one but was changed is asked the rules of the line again."""
    study = a_study(styles["slow"], "A", 3)
    slot = next(s for s in study.slots if s.kind is SlotKind.LICK)
    event = study.events_of(slot.number)[0]
    note = event.notes[0]
    wrong = replace(note, fret=note.fret + 1, pitch=note.pitch + 1)
    events = tuple(replace(e, notes=(wrong,)) if e.id == event.id else e for e in study.events)
    assert check(replace(study, events=events), lead_of(study)) != ()


def test_a_slot_solved_anew_says_another_written_lick(styles: dict[str, str]) -> None:
    study = a_study(styles["slow"], "A", 3)
    slot = next(s for s in study.slots if s.kind is SlotKind.LICK)
    other = redo(study, slot.number, seed=5)
    assert other.slots[slot.number].cells != slot.cells
    assert check(other, lead_of(other)) == ()
    kept = [e for e in other.events if e.slot != slot.number]
    assert [e.notes for e in kept] == [e.notes for e in study.events if e.slot != slot.number]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('over.I = "5 1; h3 2"', "lick.bad.over.I: 'h3 2': 'h3' is no degree"),
        ('over.II = "5 1; 3 2"', "lick.bad.over: no chord 'II': use I IV V bVI"),
        ('begins = "5.1"\nover.I = "5 1; 3 2"', "lick.bad.begins: '5.1' is no place in a bar"),
    ],
)
def test_a_written_lick_that_cannot_be_read_is_told_with_its_key(
    line: str, says: str, tmp_path: Path
) -> None:
    begins = "" if line.startswith("begins") else 'begins = "1.3"\n'
    path = tmp_path / "own.toml"
    path.write_text(
        f'include = ["slow-shuffle"]\n\n[lick.bad]\ndoes = "call"\nlevel = "growing"\n{begins}{line}\n',
        encoding="utf-8",
    )
    with pytest.raises(RuleFileError, match=re.escape(says)):
        read_rules(str(path))
