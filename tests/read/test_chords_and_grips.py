"""Chord symbols of every kind as a study's chords, and notes that a file gives no place or no hand can hold."""

from __future__ import annotations

import pytest
from lickwright.read.files import Reading, read_bytes
from lickwright.read.limits import UnreadableError
from lickwright.study.model import Study
from lickwright.theory.harmony import QUALITIES, chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.read.scores import attributes, harmony, note, rest, score, tab

LINE = "".join(tab(2, fret, 12) for fret in (5, 7, 8, 5))
SILENT_TEMPO = "no tempo in the file: 108 beats a minute"


def read(*bars: str) -> Reading:
    return read_bytes(score(*bars))


def said(reading: Reading) -> list[str]:
    return [remark for remark in reading.remarks if remark != SILENT_TEMPO]


def over(symbol: str, later: str = "") -> Reading:
    """Two bars in A, the first over one chord symbol, the second over another if there is one."""
    return read(attributes() + symbol + LINE, later + LINE)


def chords(reading: Reading) -> list[str]:
    study = reading.study
    return [study.chord(span.roman).symbol for span in study.form]


def with_degrees(symbol: str, *degrees: tuple[int, int, str]) -> str:
    inside = "".join(
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{kind}</degree-type></degree>"
        for value, alter, kind in degrees
    )
    return symbol.replace("</harmony>", inside + "</harmony>")


# ---- chord symbols ----------------------------------------------------------------------------------------


def test_a_kind_that_a_study_knows_is_read_as_it_is() -> None:
    """Two qualities are a dominant seventh with a degree besides: see below."""
    known = {quality: kind for quality, (_, _, kind) in QUALITIES.items() if kind != "dominant-seventh"}
    reading = read(
        *(
            (attributes() if n == 0 else "") + harmony("D", kind) + LINE
            for n, kind in enumerate(known.values())
        )
    )
    study = reading.study
    assert [study.chord(span.roman).quality for span in study.form] == list(known)
    assert {study.chord(span.roman).root for span in study.form} == {"D"}
    assert said(reading) == []


@pytest.mark.parametrize(
    ("kind", "symbol", "near"),
    [
        ("half-diminished", "Am7", "m7"),
        ("diminished", "A°7", "dim7"),
        ("major-seventh", "A", "major"),
        ("suspended-fourth", "A7", "7"),
        ("minor-11th", "Am9", "m9"),
        ("dominant-11th", "A9", "9"),
        ("of-its-own-making", "A7", "7"),
    ],
)
def test_a_kind_that_a_study_lacks_is_read_as_a_near_one_and_said(kind: str, symbol: str, near: str) -> None:
    reading = over(harmony("A", kind))
    assert set(chords(reading)) == {symbol}
    assert said(reading) == [f"bar 1: a chord of the kind {kind!r} is read as {near!r}"]


def test_a_degree_that_is_added_makes_the_chord_that_has_it() -> None:
    """A degree that no chord of a study has, and one that is taken out, leave the chord as it was."""
    degrees = {
        (9, -1, "add"): "D7♭9", (9, 1, "add"): "D7♯9", (5, 1, "alter"): "D7♯5", (9, 0, "add"): "D9",
        (13, 0, "add"): "D13", (11, 0, "add"): "D7", (5, 0, "subtract"): "D7", (9, -1, "subtract"): "D7",
    }  # fmt: skip
    symbols = [with_degrees(harmony("D"), degree) for degree in degrees]
    reading = read(*((attributes() if n == 0 else "") + symbol + LINE for n, symbol in enumerate(symbols)))
    study = reading.study
    assert [study.chord_at(bar * TICKS_PER_BAR).symbol for bar in range(study.bars)] == list(degrees.values())


def test_a_degree_out_of_reach_is_refused_with_its_bar() -> None:
    with pytest.raises(UnreadableError, match=r"^bar 1: .*degree-value"):
        over(with_degrees(harmony("D"), (99, 0, "add")))


def test_roots_have_their_accidentals() -> None:
    """A root is named as the key names it."""
    assert chords(over(harmony("F", alter=1), harmony("B", alter=-1))) == ["F♯7", "B♭7"]


def test_a_symbol_without_a_root_is_left_out_and_said() -> None:
    reading = over("<harmony><function>I</function><kind>dominant</kind></harmony>", harmony("D"))
    assert set(chords(reading)) == {"D7"}
    assert said(reading) == ["bar 1: a chord symbol without a root is left out"]


def test_a_sign_for_no_chord_leaves_the_chord_before() -> None:
    reading = over(harmony("A"), harmony("D", "none"))
    assert set(chords(reading)) == {"A7"}
    assert said(reading) == []


# ---- places and fingers -----------------------------------------------------------------------------------

BARE = attributes(details="") + harmony("A")


def stacked(*pitches: int) -> str:
    return BARE + "".join(note(p, 48, chord=n > 0) for n, p in enumerate(pitches))


def held(study: Study) -> list[tuple[int, int, int]]:
    return [(n.string, n.fret, n.finger) for n in study.events[0].notes]


def test_a_grip_without_places_is_laid_where_a_hand_holds_it() -> None:
    reading = read(stacked(45, 55, 61, 64))
    event = reading.study.events[0]
    assert [n.pitch for n in event.notes] == [45, 55, 61, 64]
    assert len({n.string for n in event.notes}) == 4
    assert all(reading.study.neck.pitch(n.string, n.fret) == n.pitch for n in event.notes)
    frets = [n.fret for n in event.notes if n.fret]
    assert max(frets) - min(frets) <= 3
    assert said(reading) == []
    assert chord_in_key("I7", reading.study.home).degree(55) == "b7"


def test_a_grip_that_no_hand_holds_is_kept_and_said() -> None:
    places = [(6, 1), (5, 9), (4, 15), (3, 3)]
    bar = attributes() + harmony("A") + "".join(tab(*p, 48, chord=n > 0) for n, p in enumerate(places))
    reading = read(bar)
    assert [(s, f) for s, f, _ in held(reading.study)] == places
    assert all(1 <= finger <= 4 for _, _, finger in held(reading.study))
    assert said(reading) == ["bar 1 beat 1: no hand holds this grip; its fingers are a guess"]


def test_a_finger_that_the_file_gives_stays_in_a_grip_that_no_hand_holds_so() -> None:
    bar = (
        attributes() + harmony("A") + tab(5, 5, 48, "<fingering>4</fingering>")
        + tab(4, 7, 48, chord=True) + tab(3, 6, 48, chord=True)
    )  # fmt: skip
    reading = read(bar)
    assert held(reading.study) == [(5, 5, 4), (4, 7, 3), (3, 6, 2)]
    assert said(reading) == ["bar 1 beat 1: no hand holds this grip; its fingers are a guess"]


def test_a_low_note_under_a_melody_lies_on_a_free_string_near_the_hand() -> None:
    """Two notes an octave and more apart are no double stop: the lower one is laid for itself."""
    bar = BARE + note(50, 24) + note(72, 24, chord=True) + note(69, 12) + note(67, 12)
    reading = read(bar)
    low, high = reading.study.events[0].notes
    neck = reading.study.neck
    assert (low.pitch, high.pitch) == (50, 72)
    assert (neck.pitch(low.string, low.fret), neck.pitch(high.string, high.fret)) == (50, 72)
    assert low.string > high.string
    assert (low.fret == 0) == (low.finger == 0)


@pytest.mark.parametrize(
    ("bar", "message"),
    [
        (
            BARE + note(69, 24) + note(110, 24),
            "bar 1 beat 3: MIDI pitch 110 is not on the neck, which has 40 to 84",
        ),
        (
            BARE + rest(24) + note(30, 24),
            "bar 1 beat 3: MIDI pitch 30 is not on the neck, which has 40 to 84",
        ),
        (stacked(60, 100, 110), "bar 1 beat 1: MIDI pitch 100 is not on the neck"),
        (stacked(45, 46, 47), "bar 1 beat 1: 3 notes that do not fit on 6 strings at once"),
        (stacked(45, 52, 57, 61, 64, 69, 73), "bar 1 beat 1: 7 notes that do not fit on 6 strings at once"),
        (stacked(40, 41), "bar 1 beat 1: no free string for MIDI pitch 40"),
    ],
)
def test_what_a_neck_has_not_is_refused_with_its_bar(bar: str, message: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        read(bar)
    (problem,) = caught.value.problems
    assert problem.startswith(message)
