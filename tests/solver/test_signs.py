"""What the signs of a comping pattern become on the neck, each held against what the rule file says of it."""

from __future__ import annotations

import numpy as np
import pytest
from lickwright.compose.setting import setting_for
from lickwright.rulebook.load import level_names
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.schema.rule_file import VoicesTable
from lickwright.solver.comping import Hit, Stroke, Strokes, link
from lickwright.solver.shifts import POSITIONS
from lickwright.study.model import Brief
from lickwright.theory.harmony import KEY_NAMES
from music21 import harmony

GRADE = 2


def strokes(style: str = "slow-shuffle", key: str = "A") -> Strokes:
    return Strokes(setting_for(Brief(style, key, 1)).lead, GRADE)


def hit(sign: str, roman: str = "I7") -> Hit:
    return Hit(sign, 0, 4, roman, "I7")


def pitches(of: Strokes, stroke: Stroke) -> list[int]:
    return sorted(of.lead.neck.pitch(string, fret) for string, fret, _ in stroke.notes)


@pytest.mark.parametrize("roman", ["I7", "IV7", "V7"])
@pytest.mark.parametrize("sign", list("ACGHLMRSTUZx69"))
@pytest.mark.parametrize("level", level_names())
def test_every_sign_has_a_way_at_every_level(level: str, sign: str, roman: str) -> None:
    lead = setting_for(Brief("slow-shuffle", "A", 1, level=level)).lead
    made = Strokes(lead, GRADE).options(hit(sign, roman))
    assert {stroke.sign for stroke in made} == ({"C"} if sign in "69" else {sign})


@pytest.mark.parametrize("sign", list("MSTU"))
@pytest.mark.parametrize("key", KEY_NAMES)
def test_a_moved_voice_sounds_as_far_from_its_grip_as_the_rule_file_says(key: str, sign: str) -> None:
    of = strokes(key=key)
    voices = of.lead.rules.comping.voices[sign]
    made = of.options(hit(sign))
    assert made
    for stroke in made:
        assert stroke.base is not None
        moved = dict(zip(stroke.base.frets(), stroke.base.degrees, strict=True))
        for string, fret, _ in stroke.notes:
            way = fret - stroke.base.frets()[string]
            assert way in (0, voices.major.get(moved[string], 0))
        assert any(fret != stroke.base.frets()[string] for string, fret, _ in stroke.notes)
        assert _moves_the_top_alone(voices, stroke)


def _moves_the_top_alone(voices: VoicesTable, stroke: Stroke) -> bool:
    assert stroke.base is not None
    moved = [string for string, fret, _ in stroke.notes if fret != stroke.base.frets()[string]]
    return voices.voice == "every" or moved == [min(string for string, _, _ in stroke.notes)]


@pytest.mark.parametrize("key", KEY_NAMES)
def test_a_suspension_leans_on_the_fourth_degrees_triad(key: str) -> None:
    """Held against music21's own triad of the key's fourth degree, over the root and the fifth that may stay."""
    of = strokes(key=key)
    fourth = harmony.ChordSymbol(f"{key.replace('b', '-')}").root().transpose("P4")
    triad = {p.pitchClass for p in harmony.ChordSymbol(fourth.name).pitches}
    made = of.options(hit("S"))
    assert made
    assert all(
        {p % 12 for p in pitches(of, stroke)} <= triad for stroke in made if stroke.base.name != "ninth"
    )


def test_sixths_go_on_by_small_steps_only() -> None:
    of = strokes()
    three, two = hit("3"), hit("2")
    here, there = of.options(three), of.options(two)
    costs = link(three, here, two, there, np.zeros((POSITIONS, POSITIONS), np.int64), of.lead)
    for x, row in zip(here, costs, strict=True):
        for y, cost in zip(there, row, strict=True):
            near = abs(max(pitches(of, x)) - max(pitches(of, y))) <= of.lead.rules.comping.pair_way
            assert near or cost == FORBIDDEN
    assert costs.min() < FORBIDDEN
