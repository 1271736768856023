"""A study written round a lick of one's own: the lick keeps its rhythm and notes, and the rest is a study by the rules."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main
from lickwright.compose.rewrite import rewritten
from lickwright.compose.round_lick import own_lick, place_of, write_round
from lickwright.compose.setting import BriefError
from lickwright.judge.check import check
from lickwright.render.outputs import SoundOptions, write_formats
from lickwright.rulebook.read import lead_of
from lickwright.study.distance import lick_slots
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Brief, Slot, SlotKind, Study
from lickwright.study.validate import senseless
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.written import a_study


@lru_cache(maxsize=8)
def round_of(
    source: Study, lick: int, place: int, style: str, key: str, seed: int = 1, level: str | None = None
) -> Study:
    """The study round a lick of a source, licks and places counted from 1."""
    brief = Brief(style, key, seed, level=level)
    return write_round(brief, source, lick_slots(source)[lick - 1].number, place - 1)


def slot_of(study: Study, lick: int) -> Slot:
    return lick_slots(study)[lick - 1]


def rhythm(study: Study, lick: int) -> list[tuple[int, int]]:
    """Onsets within the bar in which the lick begins, and what is written of their length."""
    events = study.events_of(slot_of(study, lick).number)
    bar = events[0].onset - events[0].onset % TICKS_PER_BAR
    return [(e.onset - bar, e.duration) for e in events]


def melody(study: Study, lick: int) -> list[int]:
    """Semitones; a bend of a quarter tone counts as the fret it starts from."""
    return [e.melody.sounding2 // 2 for e in study.events_of(slot_of(study, lick).number)]


def voices(study: Study, lick: int) -> list[tuple[int, ...]]:
    events = study.events_of(slot_of(study, lick).number)
    return [tuple(sorted(n.sounding2 // 2 for n in e.notes)) for e in events]


def raised(a: Study, lick_a: int, b: Study, lick_b: int) -> set[int]:
    """The semitones from each note of one lick to that of another."""
    return {y - x for x, y in zip(melody(a, lick_a), melody(b, lick_b), strict=True)}


def faults(study: Study) -> list[str]:
    return [str(v) for v in check(study, lead_of(study))]


# ---- the study --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "style", "key", "lick"),
    [
        (("slow-shuffle", "A", 7), "quick-shuffle", "G", 1),
        (("rhumba", "C", 1), "straight", "A", 1),
    ],
)
def test_a_lick_keeps_its_rhythm_and_melody_in_another_key(
    source: tuple[str, str, int], style: str, key: str, lick: int
) -> None:
    """All notes move by one interval, which leads from the one tonic to the other."""
    model = a_study(*source)
    made = round_of(model, lick, 2, style, key)
    assert rhythm(made, 2) == rhythm(model, lick)
    (up,) = raised(model, lick, made, 2)
    assert (model.home.pitch_class + up) % 12 == made.home.pitch_class
    assert made.key == key
    assert faults(made) == []
    assert list(senseless(made)) == []


def test_the_licks_of_its_letter_take_up_its_figure() -> None:
    model = a_study()
    made = round_of(model, 1, 2, "quick-shuffle", "G")
    own = slot_of(made, 2)
    family = [s for s in lick_slots(made) if s.name.rstrip("'") == own.name.rstrip("'")]
    assert len(family) > 1
    assert {s.cells[0] for s in family} == {own.cells[0]}


def test_the_same_call_gives_the_same_study_and_another_seed_another() -> None:
    model = a_study()
    made = round_of(model, 1, 2, "quick-shuffle", "G")
    again = write_round(Brief("quick-shuffle", "G", 1), model, slot_of(model, 1).number, 1)
    assert to_json(again) == to_json(made)
    other = round_of(model, 1, 2, "quick-shuffle", "G", 2)
    assert other.events != made.events
    assert rhythm(other, 2) == rhythm(model, 1)
    assert len(raised(made, 2, other, 2)) == 1


def test_the_study_says_what_it_was_made_from_and_is_not_said_to_come_from_its_brief() -> None:
    model = a_study()
    made = round_of(model, 1, 2, "quick-shuffle", "G")
    assert made.origin.startswith(f"round the lick of slot {slot_of(model, 1).number + 1}: ")
    with pytest.raises(BriefError, match="made from more than its brief"):
        rewritten(made)


def test_two_notes_at_once_stay_two_and_one_stays_one() -> None:
    model = a_study("rhumba", "A", 2, "fluent")
    made = round_of(model, 5, 5, "rhumba", "C", 1, "fluent")
    (up,) = raised(model, 5, made, 5)
    assert {len(v) for v in voices(model, 5)} == {1, 2}
    assert [tuple(p - up for p in v) for v in voices(made, 5)] == voices(model, 5)
    assert faults(made) == []


# ---- what the lick is -------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_is_put_to_a_lick_of_single_plain_notes(seed: int) -> None:
    model = a_study()
    slot = slot_of(model, 1)
    bare = [
        replace(e, notes=(replace(e.melody, grace=None),)) if e.slot == slot.number else e
        for e in model.events
    ]
    made = round_of(replace(model, events=tuple(bare)), 1, 1, "slow-shuffle", "A", seed)
    notes = [e.notes for e in made.events_of(slot_of(made, 1).number)]
    assert all(len(here) == 1 and here[0].grace is None for here in notes)


def test_licks_are_counted_without_the_comping() -> None:
    model = a_study()
    licks = [s.number for s in model.slots if s.kind is SlotKind.LICK]
    assert [place_of(str(n), model) for n in range(1, len(licks) + 1)] == licks
    for wrong in ("0", str(len(licks) + 1), "-1", "one", ""):
        with pytest.raises(ValueError, match=rf"it has licks 1 to {len(licks)}"):
            place_of(wrong, model)


def lick_of(*times: tuple[int, int]) -> Study:
    """A study whose first lick is a row of (onset, duration), on its first notes."""
    model = a_study()
    number = slot_of(model, 1).number
    events = model.events_of(number)
    start = events[0].onset - events[0].onset % TICKS_PER_BAR
    row = [replace(e, onset=start + a, duration=b) for e, (a, b) in zip(events, times, strict=False)]
    return replace(model, events=tuple(row))


def test_a_lick_that_begins_late_in_its_bar_is_told_from_its_beat() -> None:
    model = lick_of((28, 4), (32, 4), (36, 12))
    lick = own_lick(model, slot_of(model, 1).number, "triplet")
    assert (lick.beat, lick.figure + lick.tail) == (2, ".xxL--")


@pytest.mark.parametrize(
    ("times", "grid", "message"),
    [
        (((0, 4), (4, 4), (8, 4), (12, 12)), "straight", "an onset lies beside the straight grid"),
        (((0, 6), (6, 6), (12, 12)), "triplet", "an onset lies beside the triplet grid"),
        (((0, 1), (1, 1), (2, 1), (3, 9)), "triplet", "4 notes in one step of the triplet grid"),
        (((0, 12),), "triplet", "it has one note"),
        (((0, 4), (4, 2), (6, 2)), "triplet", "its last note begins inside a step of the triplet grid"),
    ],
)
def test_a_rhythm_that_a_plan_cannot_have_is_refused(
    times: tuple[tuple[int, int], ...], grid: str, message: str
) -> None:
    model = lick_of(*times)
    with pytest.raises(ValueError, match=f"^{message}"):
        own_lick(model, slot_of(model, 1).number, grid)


# ---- the command ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a study and its score."""
    folder = tmp_path_factory.mktemp("source")
    write_formats(a_study(), folder, ("json", "musicxml"), SoundOptions())
    return folder


def pinned(name: str, *more: str, style: str = "quick-shuffle") -> Result:
    words = ("write", style, "--key", "G", "--format", "tab", "--pin-file", name, *more)
    return CliRunner().invoke(main, list(words))


def test_a_score_of_ours_does_as_well_as_its_study(source: Path, tmp_path: Path) -> None:
    found = []
    for name in ("study.json", "study.musicxml"):
        out = tmp_path / name
        result = pinned(f"{source / name}@slot=2", "--out", str(out))
        assert result.exit_code == 0, result.output
        found.append(from_json((out / "study.json").read_bytes()))
    assert found[0].events == found[1].events
    assert found[0] == round_of(a_study(), 1, 2, "quick-shuffle", "G")
    assert rhythm(found[1], 2) == rhythm(a_study(), 1)


def test_another_lick_than_the_first_is_named_by_its_number(source: Path, tmp_path: Path) -> None:
    result = pinned(
        f"{source / 'study.musicxml'}@lick=2@slot=2", "--out", str(tmp_path / "out"), style="slow-shuffle"
    )
    assert result.exit_code == 0, result.output
    made = from_json((tmp_path / "out" / "study.json").read_bytes())
    assert rhythm(made, 2) == rhythm(a_study(), 2)
    assert len(raised(a_study(), 2, made, 2)) == 1


@pytest.mark.parametrize(
    ("name", "style", "status", "message"),
    [
        ("none.musicxml@slot=1", "quick-shuffle", 2, "none.musicxml is no file"),
        ("study.json", "quick-shuffle", 2, "write a file and a place, as in mylick.musicxml@slot=1"),
        ("study.json@lick=1", "quick-shuffle", 2, "write a file and a place"),
        ("study.json@slot=two", "quick-shuffle", 2, "write a file and a place"),
        ("study.json@slot=1@bar=2", "quick-shuffle", 2, "write a file and a place"),
        ("study.json@slot=0", "quick-shuffle", 2, "the study's licks are counted from 1"),
        ("study.json@slot=1@lick=99", "quick-shuffle", 2, "lick '99': it has licks 1 to 6"),
        ("study.json@slot=1@lick=0", "quick-shuffle", 2, "lick '0': it has licks 1 to 6"),
        ("study.json@slot=99", "quick-shuffle", 1, "choose a place from 1 to"),
        ("study.json@slot=1", "straight", 2, "the lick cannot stand in this style: an onset lies beside the"),
        ("study.json@slot=1", "minor-slow", 1, "the lick's notes keep the rules in no window of its place"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    source: Path, tmp_path: Path, name: str, style: str, status: int, message: str
) -> None:
    out = tmp_path / "out"
    result = pinned(str(source / name), "--out", str(out), style=style)
    assert result.exit_code == status
    assert message in result.output
    assert result.output.startswith("lickwright: ")
    assert len(result.output.splitlines()) == 1
    assert not out.exists()
