"""Grips against brute force over every fret, and against what a guitarist knows."""

from __future__ import annotations

from itertools import permutations, product

import pytest
from lickwright.guitar.fingering import fingerings
from lickwright.guitar.hand import Hand
from lickwright.guitar.neck import Neck
from lickwright.rulebook.schema.rule_file import GripTable
from lickwright.solver.grips import WIDEST_GRIP, voicings
from lickwright.theory.harmony import Key, chord_in_key, semitones

from tests.solver.instances import style

NECK, HAND = Neck(), Hand()


def by_hand(recipe: GripTable, roman: str, key: str, highest: int) -> set[tuple[tuple[int, int], ...]]:
    """The (string, fret) places of every voicing, by trying all frets on all strings."""
    chord = chord_in_key(roman, Key.parse(key))
    found = set()
    for strings in recipe.strings:
        orders = permutations(recipe.degrees) if recipe.order == "any" else [tuple(recipe.degrees)]
        for degrees in orders:
            wanted = [(chord.root_pc + semitones(d)) % 12 for d in degrees]
            options = [
                [f for f in range(highest + 1) if NECK.pitch(s, f) % 12 == pc]
                for s, pc in zip(strings, wanted, strict=True)
            ]
            for frets in product(*options):
                held = [f for f in frets if f]
                wide = max(held, default=0) - min(held, default=0) > WIDEST_GRIP
                mixed = 0 in frets and max(held, default=0) > WIDEST_GRIP
                places = tuple(zip(strings, frets, strict=True))
                if not wide and not mixed and fingerings(HAND, NECK, places):
                    found.add(places)
    return found


@pytest.mark.parametrize("roman", ["I7", "IV7", "V7"])
@pytest.mark.parametrize("key", ["A", "E"])
def test_every_voicing_of_every_recipe_is_found_and_no_other(roman: str, key: str) -> None:
    chord = chord_in_key(roman, Key.parse(key))
    asked = 0
    for name, recipe in style().rules.grips.items():
        if chord.quality in recipe.qualities:
            grips = voicings(name, recipe, chord, NECK, HAND, 10)
            found = {tuple((s, f) for s, f, _ in grip.notes) for grip in grips}
            assert found == by_hand(recipe, roman, key, 10), name
            asked += 1
    assert asked


@pytest.mark.parametrize("roman", ["I7", "IV7", "V7"])
def test_a_grip_sounds_the_degrees_it_names(roman: str) -> None:
    chord = chord_in_key(roman, Key("A"))
    for name, recipe in style().rules.grips.items():
        if chord.quality not in recipe.qualities:
            continue
        for grip in voicings(name, recipe, chord, NECK, HAND, 12):
            for (string, fret, finger), degree in zip(grip.notes, grip.degrees, strict=True):
                assert NECK.pitch(string, fret) % 12 == (chord.root_pc + semitones(degree)) % 12
                assert (finger == 0) == (fret == 0)
            assert sorted(grip.degrees) == sorted(recipe.degrees)


def test_grips_come_lowest_on_the_neck_first_and_always_alike() -> None:
    recipe = GripTable(qualities=["7"], degrees=["b7", "3", "5"], strings=[[4, 3, 2]])
    chord = chord_in_key("I7", Key("A"))
    grips = voicings("shell", recipe, chord, NECK, HAND, 15)
    assert [g.position for g in grips] == sorted(g.position for g in grips)
    assert grips == voicings("shell", recipe, chord, NECK, HAND, 15)


def test_the_seventh_of_a_at_the_fifth_fret() -> None:
    """A7 as G, C sharp, E on the strings 4, 3, 2: frets 5, 6, 5. Common practice, no source."""
    recipe = GripTable(qualities=["7"], degrees=["b7", "3", "5"], strings=[[4, 3, 2]])
    grips = voicings("shell", recipe, chord_in_key("I7", Key("A")), NECK, HAND, 12)
    assert {4: 5, 3: 6, 2: 5} in [g.frets() for g in grips]


def test_a_neck_without_the_string_has_no_such_grip() -> None:
    recipe = GripTable(qualities=["7"], degrees=["1", "3", "b7"], strings=[[7, 5, 4]])
    assert voicings("low", recipe, chord_in_key("I7", Key("A")), NECK, HAND, 12) == ()
