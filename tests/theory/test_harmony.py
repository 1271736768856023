"""Keys, chords, degrees and spelling: their properties in every key, and what is said of a wrong name."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.theory.harmony import (
    DEGREE_ALIASES,
    DEGREES,
    KEY_NAMES,
    LETTERS,
    QUALITIES,
    Chord,
    Key,
    chord_in_key,
    semitones,
    spell,
)

ROOTS = ("I", "bII", "II", "bIII", "III", "IV", "#IV", "bV", "V", "bVI", "VI", "bVII", "VII")
keys = st.builds(Key.parse, st.sampled_from(KEY_NAMES), st.booleans())
chords = st.builds(str.__add__, st.sampled_from(ROOTS), st.sampled_from(list(QUALITIES)))


def names(key: str, roman: str) -> list[str]:
    home = Key.parse(key)
    chord = chord_in_key(roman, home)
    return [spell(60 + chord.root_pc + semitones(d), home, chord).name for d in chord.degrees]


@given(st.integers(0, 127), keys, st.none() | chords)
def test_a_spelled_note_is_its_pitch_with_one_accidental_at_most(
    pitch: int, key: Key, roman: str | None
) -> None:
    written = spell(pitch, key, chord_in_key(roman, key) if roman else None)
    assert written.midi == pitch
    assert abs(written.alter) <= 1


@pytest.mark.parametrize(
    ("key", "roman", "tones"),
    [
        ("A", "V7", ["E", "G#", "B", "D"]),
        ("F", "IV7", ["Bb", "D", "F", "Ab"]),
        ("F", "I7", ["F", "A", "C", "Eb"]),
        ("E", "V7", ["B", "D#", "F#", "A"]),
        ("Bb", "IV9", ["Eb", "G", "Bb", "Db", "F"]),
        ("C", "I7#9", ["C", "E", "G", "Bb", "D#"]),
        ("C", "I7b9", ["C", "E", "G", "Bb", "Db"]),
        ("G", "I7#5", ["G", "B", "D#", "F"]),
        ("Dm", "bVI7", ["Bb", "D", "F", "Ab"]),
        ("Am", "V7", ["E", "G#", "B", "D"]),
        ("F#", "V7", ["C#", "E#", "G#", "B"]),
        ("Db", "IV7", ["Gb", "Bb", "Db", "Fb"]),
    ],
)
def test_chords_are_spelled_in_thirds(key: str, roman: str, tones: list[str]) -> None:
    """Common practice, no source; a double flat or sharp is written as its plain neighbour."""
    assert names(key, roman) == tones


@given(keys, chords)
def test_a_chord_has_the_tones_of_its_quality_over_its_root(key: Key, roman: str) -> None:
    chord = chord_in_key(roman, key)
    assert sorted((pc - chord.root_pc) % 12 for pc in chord.tones) == sorted(
        {semitones(d) for d in QUALITIES[chord.quality][0]}
    )
    assert [chord.degree(pc) for pc in chord.tones] == list(chord.tones.values())
    assert len(chord.root) <= 2


@given(keys, st.sampled_from(ROOTS), st.sampled_from(list(QUALITIES)))
def test_a_numeral_is_counted_from_the_major_scale_in_either_mode(key: Key, root: str, quality: str) -> None:
    steps = dict(zip(ROOTS, (0, 1, 2, 3, 4, 5, 6, 6, 7, 8, 9, 10, 11), strict=True))
    assert (chord_in_key(root + quality, key).root_pc - key.pitch_class) % 12 == steps[root]


@given(keys, st.sampled_from(ROOTS), st.sampled_from(list(QUALITIES)))
def test_small_and_capital_numerals_have_the_same_root(key: Key, root: str, quality: str) -> None:
    small = root[:1] + root[1:].lower() if root[0] in "b#" else root.lower()
    assert chord_in_key(small + quality, key).root == chord_in_key(root + quality, key).root


def test_every_pitch_has_a_degree_over_every_chord() -> None:
    for quality in QUALITIES:
        chord = Chord("I" + quality, "Eb", quality)
        degrees = [chord.degree(pc) for pc in range(12)]
        assert [semitones(d) for d in degrees] == [(pc - 3) % 12 for pc in range(12)]


@pytest.mark.parametrize("roman", ["", "H7", "VIII", "I8", "bbII7", "IV 7", "i7x"])
def test_an_unknown_chord_is_named_with_the_qualities_there_are(roman: str) -> None:
    with pytest.raises(ValueError, match="Roman numeral and one of"):
        chord_in_key(roman, Key("C"))


# ---- keys -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("A", "A"), ("a", "A"), ("bb", "Bb"), (" F# ", "F#"), ("E♭", "Eb"), ("F♯m", "F#m"), ("C#", "Db"),
        ("Dbm", "C#m"), ("am", "Am"), ("D minor", "Dm"), ("G major", "G"), ("Cb", "B"), ("B#", "C"), ("fb", "E"),
        ("Abm", "G#m"), ("bm", "Bm"), ("b", "B"),
    ],
)  # fmt: skip
def test_a_key_is_read_as_people_write_it(text: str, name: str) -> None:
    assert Key.parse(text).name == name


@pytest.mark.parametrize("text", ["", "H", "A##", "Abb", "m", "A mixolydian", "1", "A B"])
def test_an_unknown_key_is_named_with_the_keys_there_are(text: str) -> None:
    with pytest.raises(ValueError, match="use one of C Db D Eb E F F# G Ab A Bb B"):
        Key.parse(text)


@given(keys)
def test_a_key_reads_back_from_its_name_and_has_a_signature(key: Key) -> None:
    assert Key.parse(key.name) == key
    assert -6 <= key.fifths <= 6
    assert (7 * key.fifths - key.pitch_class - 3 * key.minor) % 12 == 0


def test_a_key_of_the_style_s_mode_needs_no_m() -> None:
    assert Key.parse("D", minor=True) == Key.parse("Dm")


@given(keys)
def test_the_scale_of_the_key_has_the_letters_of_its_signature(key: Key) -> None:
    degrees = ["1", "2", "b3", "4", "5", "b6", "b7"] if key.minor else ["1", "2", "3", "4", "5", "6", "7"]
    written = [spell(60 + key.pitch_class + semitones(d), key) for d in degrees]
    assert sorted(w.letter for w in written) == sorted(LETTERS)
    assert sum(w.alter for w in written) == key.fifths


# ---- degrees ----------------------------------------------------------------------------------------------


def test_degrees_and_their_other_names_count_semitones() -> None:
    assert [semitones(d) for d in DEGREES] == list(range(12))
    major = {"1": 0, "2": 2, "3": 4, "4": 5, "5": 7, "6": 9, "7": 11, "9": 2, "11": 5, "13": 9}
    for name in DEGREE_ALIASES:
        plain = major.get(name.lstrip("b#"))
        assert plain is not None
        assert semitones(name) == (plain + name.count("#") - name.count("b")) % 12


@pytest.mark.parametrize("degree", ["", "0", "8", "x", "b", "3b", "##4"])
def test_an_unknown_degree_is_named_with_those_there_are(degree: str) -> None:
    with pytest.raises(ValueError, match="unknown degree"):
        semitones(degree)
