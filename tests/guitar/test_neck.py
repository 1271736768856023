"""The neck's geometry: tunings as players write them, places, frets and string spacing."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.guitar.neck import TUNINGS, Neck, frets_mm, parse_tuning, spacings_mm

necks = st.builds(
    Neck,
    tuning=st.sampled_from(sorted(TUNINGS.values())),
    frets=st.integers(12, 24),
    scale_mm=st.floats(500, 900),
    capo=st.integers(0, 7),
)


@given(necks, st.integers(28, 100))
def test_every_place_of_a_pitch_sounds_it_and_none_is_missed(neck: Neck, pitch: int) -> None:
    everywhere = {
        (string, fret)
        for string in range(1, neck.strings + 1)
        for fret in range(neck.top_fret + 1)
        if neck.pitch(string, fret) == pitch
    }
    assert set(neck.places(pitch)) == everywhere


@given(necks)
def test_frets_come_closer_by_the_same_ratio_all_the_way_up(neck: Neck) -> None:
    spaces = [neck.fret_mm(n + 1) - neck.fret_mm(n) for n in range(neck.top_fret)]
    for lower, upper in itertools.pairwise(spaces):
        assert upper / lower == pytest.approx(2 ** (-1 / 12))


@given(necks, st.integers(1, 7))
def test_a_capo_takes_away_the_frets_behind_it(neck: Neck, capo: int) -> None:
    bare = Neck(neck.tuning, neck.frets, neck.scale_mm)
    clamped = Neck(neck.tuning, neck.frets, neck.scale_mm, capo)
    assert clamped.fret_mm(3) == pytest.approx(bare.fret_mm(3 + capo) - bare.fret_mm(capo))
    assert clamped.spacing_mm(3) == pytest.approx(bare.spacing_mm(3 + capo))
    assert clamped.pitch(1, 3) == bare.pitch(1, 3 + capo)
    assert clamped.sounding_mm == pytest.approx(bare.scale_mm - bare.fret_mm(capo))


@given(necks)
def test_the_tables_hold_what_the_methods_give_and_cannot_be_changed(neck: Neck) -> None:
    for table, method in (frets_mm(neck), neck.fret_mm), (spacings_mm(neck), neck.spacing_mm):
        assert list(table) == pytest.approx([method(n) for n in range(neck.top_fret + 1)])
        with pytest.raises(ValueError, match="read-only"):
            table[0] = 1.0


def test_strings_fan_out_from_the_nut_to_the_bridge() -> None:
    neck = Neck()
    assert neck.spacing_mm(0) == neck.nut_spacing_mm
    assert neck.spacing_mm(12) == pytest.approx((neck.nut_spacing_mm + neck.bridge_spacing_mm) / 2)


@pytest.mark.parametrize("name", TUNINGS)
def test_a_tuning_is_known_by_its_name(name: str) -> None:
    assert parse_tuning(name) == TUNINGS[name]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("E2 A2 D3 G3 B3 E4", "standard"),
        ("Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "half a step down"),
        ("d#2, g#2, c#3, f#3, a#3, d#4", "half a step down"),
        ("D2 G2 D3 G3 B3 D4", "open G"),
        ("E2 B2 E3 G#3 B3 E4", "open E"),
        ("D2 A2 D3 G3 A3 D4", "DADGAD"),
        ("B1 E2 A2 D3 G3 B3 E4", "seven strings"),
        ("E1 A1 D2 G2", "bass"),
    ],
)
def test_a_tuning_is_read_from_its_notes_low_to_high(text: str, name: str) -> None:
    assert parse_tuning(text) == TUNINGS[name]


@pytest.mark.parametrize(
    ("text", "says"),
    [("E2 A2 H3", "'H3' is no note.*standard, half a step down"), ("E2", "two strings"), ("", "two strings")],
)
def test_an_unreadable_tuning_says_what_would_be_right(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        parse_tuning(text)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"capo": 20}, "capo at fret 20: it must stand from 0 .none. to 19"),
        ({"capo": -1}, "capo at fret -1"),
        ({"tuning": ()}, "at least one string"),
        ({"scale_mm": 0.0}, "above 0 mm"),
    ],
)
def test_a_neck_that_cannot_be_played_is_refused(wrong: dict, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Neck(**wrong)


def test_the_bass_has_four_low_strings_on_a_long_scale() -> None:
    bass = Neck.bass()
    assert (bass.strings, bass.pitch(4, 0), bass.scale_mm) == (4, 28, 864.0)
