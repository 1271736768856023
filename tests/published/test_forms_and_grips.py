"""The blues form, grips and their names, and spelling against sources outside the project."""

from __future__ import annotations

import pytest
from lickwright.guitar.hand import Hand
from lickwright.guitar.neck import Neck
from lickwright.rulebook.read import read_rules
from lickwright.solver.grips import voicings
from lickwright.theory.harmony import DEGREES, KEY_NAMES, QUALITIES, Key, chord_in_key, semitones, spell

RULES = read_rules("slow-shuffle")[1]


def roots(form: str) -> list[str]:
    return [bar.rstrip("m79") for bar in RULES.forms[form].bars]


def test_the_slow_change_is_the_published_form() -> None:
    """Open Music Theory, version 1, "Blues-based" harmony: I I I I, IV IV I I, V IV I I."""
    assert roots("slow change") == ["I", "I", "I", "I", "IV", "IV", "I", "I", "V", "IV", "I", "I"]
    assert RULES.forms["slow change"].phrases == [4, 4, 4]


def test_the_quick_change_has_iv_in_bar_2_and_v_v_is_the_older_form() -> None:
    """Wikipedia, "Twelve-bar blues"."""
    assert roots("quick change") == ["I", "IV", "I", "I", "IV", "IV", "I", "I", "V", "IV", "I", "I"]
    assert roots("slow change, five five")[8:] == ["V", "V", "I", "I"]


def found(root_key: str, roman: str) -> set[tuple[tuple[int, int], ...]]:
    """Every shape, as (string, fret) from the lowest string, that the recipes give for a chord."""
    chord = chord_in_key(roman, Key.parse(root_key))
    shapes = set()
    for name, recipe in RULES.grips.items():
        if chord.quality in recipe.qualities:
            for grip in voicings(name, recipe, chord, Neck(), Hand(), 14):
                shapes.add(tuple((s, f) for s, f, _ in grip.notes))
    return shapes


@pytest.mark.parametrize(
    ("key", "roman", "shape", "source"),
    [
        ("F", "I7", ((6, 1), (4, 1), (3, 2)), "R. Russell, UNCW, Shell Voicings: root 6, seventh 4, third 3"),
        (
            "Bb",
            "I7",
            ((5, 1), (3, 1), (2, 3)),
            "R. Russell, UNCW, Shell Voicings: root 5, seventh 3, third 2",
        ),
        ("C", "I9", ((5, 3), (4, 2), (3, 3), (2, 3)), "C9 = x-3-2-3-3-x [from memory]"),
        ("A", "I7", ((4, 5), (3, 6), (2, 5)), "x-x-5-6-5-x, common practice, no source"),
        ("D", "I7", ((4, 10), (3, 11), (2, 10)), "the same shape five frets up, common practice, no source"),
        ("E", "I7", ((5, 7), (4, 6), (3, 7)), "x-7-6-7-x-x, common practice, no source"),
        ("A", "I9", ((5, 12), (4, 11), (3, 12), (2, 12)), "x-12-11-12-12-x, common practice, no source"),
        ("F", "I7", ((4, 1), (3, 2), (2, 1)), "x-x-1-2-1-x, common practice, no source"),
    ],
)
def test_the_grip_solver_finds_the_known_shape(key: str, roman: str, shape: tuple, source: str) -> None:
    assert shape in found(key, roman), source


MUSIC21_NAMES = {
    "": "major triad",
    "6": "minor seventh chord",
    "7": "dominant seventh chord",
    "9": "dominant-ninth",
    "m": "minor triad",
    "m7": "minor seventh chord",
    "m9": "minor-ninth chord",
    "dim7": "diminished seventh chord",
    "aug": "augmented triad",
    "m6": "half-diminished seventh chord",
}


@pytest.mark.parametrize("quality", MUSIC21_NAMES)
def test_music21_names_each_quality_as_we_do(quality: str) -> None:
    """music21's common names; a sixth chord is its relative's seventh in another inversion."""
    from music21 import chord

    numeral = chord_in_key("I" + quality, Key("C"))
    pitches = [48 + semitones(d) + (12 if d in ("9", "13") else 0) for d in numeral.degrees]
    assert chord.Chord(pitches).commonName == MUSIC21_NAMES[quality]


@pytest.mark.parametrize("name", list(RULES.grips))
def test_every_shipped_grip_has_just_its_chords_tones(name: str) -> None:
    recipe = RULES.grips[name]
    for quality in recipe.qualities:
        tones = {semitones(d) for d in QUALITIES[quality][0]}
        assert {semitones(d) for d in recipe.degrees} <= tones


@pytest.mark.parametrize("name", KEY_NAMES)
def test_key_signatures_agree_with_music21(name: str) -> None:
    from music21 import key

    for minor in (False, True):
        mine = Key.parse(name, minor)
        theirs = key.Key(mine.tonic.replace("b", "-"), "minor" if minor else "major")
        assert mine.fifths == theirs.sharps


@pytest.mark.parametrize("name", KEY_NAMES)
def test_chord_tones_are_spelled_by_their_interval(name: str) -> None:
    """Thirds as thirds, sevenths as sevenths, against music21's transposition, where one accidental is enough."""
    from music21 import interval, pitch

    generic = {"3": "M3", "b3": "m3", "5": "P5", "b7": "m7", "6": "M6", "9": "M9"}
    for roman in ("I7", "IV7", "V7", "Im7", "IVm7", "I9", "I6"):
        chord = chord_in_key(roman, Key.parse(name))
        root = pitch.Pitch(chord.root.replace("b", "-") + "4")
        for degree in chord.degrees:
            if degree not in generic:
                continue
            theirs = root.transpose(interval.Interval(generic[degree]))
            mine = spell(int(theirs.midi), Key.parse(name), chord)
            assert abs(mine.alter) <= 1
            assert mine.midi == theirs.midi
            if abs(theirs.accidental.alter if theirs.accidental else 0) <= 1:
                assert mine.name == theirs.name.replace("-", "b")


def test_blue_notes_stand_on_their_own_letters() -> None:
    """b3, b5 and b7 of A are C, E flat and G. Common practice, no source."""
    a = Key("A")
    assert [spell(60 + 9 + DEGREES.index(d) - 12, a).name for d in ("b3", "b5", "b7")] == ["C", "Eb", "G"]
