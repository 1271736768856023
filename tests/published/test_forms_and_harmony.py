"""The written form of a study, and the spelling and names of chords in every key, against sources outside."""

from __future__ import annotations

from itertools import product

import pytest
from lickwright.guitar.hand import Hand
from lickwright.guitar.neck import Neck
from lickwright.rulebook.read import read_rules
from lickwright.solver.grips import voicings
from lickwright.solver.plan.layout import form_spans
from lickwright.theory.harmony import KEY_NAMES, QUALITIES, Key, chord_in_key, semitones, spell
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.written import a_study

GRIPS = read_rules("slow-shuffle", "fluent")[1].grips
#: Our degree as music21 names the interval from the root.
INTERVALS = {
    "1": "P1", "b9": "m2", "9": "M2", "#9": "A2", "b3": "m3", "3": "M3", "b5": "d5", "5": "P5", "#5": "A5",
    "6": "M6", "13": "M6", "bb7": "d7", "b7": "m7",
}  # fmt: skip
#: What a quality adds to the kind that music21 and MusicXML name.
ALTERATIONS = {"7b9": {"b9"}, "7#9": {"#9"}}


def bars_of(style: str, form: str) -> list[str]:
    """The chord roots that reign over each bar of a form that a style may take, in G."""
    rules = read_rules(style)[1]
    assert form in rules.study.form
    key = Key("G", rules.study.minor)
    spans = form_spans(rules.forms[form].bars)
    return [chord_in_key(s.roman, key).root for s in spans if s.onset % TICKS_PER_BAR == 0]


def test_every_study_has_a_form_of_its_style() -> None:
    for style in ("slow-shuffle", "eight-bar", "two-chorus"):
        rules, study = read_rules(style)[1], a_study(style, "G", 2)
        played = " ".join(span.roman for span in study.form)
        assert played in [" ".join(rules.forms[name].bars) for name in rules.study.form]


def test_a_slow_study_has_the_published_form_bar_by_bar() -> None:
    """Open Music Theory, version 1, "Blues-based" harmony: tonic; two bars IV, two I; V, IV, two bars I. In G."""
    assert bars_of("slow-shuffle", "slow change") == [
        "G",
        "G",
        "G",
        "G",
        "C",
        "C",
        "G",
        "G",
        "D",
        "C",
        "G",
        "G",
    ]


def test_a_quick_study_has_iv_in_bar_2() -> None:
    """Wikipedia, "Twelve-bar blues": the quick change. In G."""
    assert bars_of("quick-shuffle", "quick change") == [
        "G",
        "C",
        "G",
        "G",
        "C",
        "C",
        "G",
        "G",
        "D",
        "C",
        "G",
        "G",
    ]


def test_a_minor_study_goes_to_v_through_the_flat_sixth() -> None:
    """Common practice, no source. In G minor."""
    assert bars_of("minor-slow", "minor") == ["G", "G", "G", "G", "C", "C", "G", "G", "Eb", "D", "G", "G"]


@pytest.mark.parametrize(("name", "minor"), list(product(KEY_NAMES, (False, True))))
def test_every_chord_tone_has_the_letter_that_music21_gives_its_interval(name: str, minor: bool) -> None:
    """Wherever one accidental is enough for it; its pitch always."""
    from music21 import interval, pitch

    key = Key.parse(name, minor)
    for root, quality in product(("I", "bII", "IV", "V", "bVI", "VI"), QUALITIES):
        chord = chord_in_key(root + quality, key)
        lowest = pitch.Pitch(chord.root.replace("b", "-") + "3")
        for degree in chord.degrees:
            theirs = lowest.transpose(interval.Interval(INTERVALS[degree]))
            mine = spell(int(theirs.midi), key, chord)
            assert mine.midi == theirs.midi
            if abs(theirs.accidental.alter if theirs.accidental else 0) <= 1:
                assert str(mine) == theirs.nameWithOctave.replace("-", "b"), (chord.symbol, degree)


@pytest.mark.parametrize("quality", [q for q in QUALITIES if q != "5"])
def test_music21_has_the_same_tones_under_the_name_that_is_written_to_files(quality: str) -> None:
    """A thirteenth has an eleventh there, which a guitar leaves out."""
    from music21 import harmony

    chord = chord_in_key("I" + quality, Key("A"))
    theirs = {p.pitchClass for p in harmony.ChordSymbol(root="A", kind=chord.kind).pitches}
    added = {(chord.root_pc + semitones(d)) % 12 for d in ALTERATIONS.get(quality, set())}
    assert set(chord.tones) - added <= theirs
    if quality != "13":
        assert set(chord.tones) - added == theirs


@pytest.mark.parametrize("name", GRIPS)
def test_every_shipped_grip_sounds_what_music21_calls_its_chord(name: str) -> None:
    from music21 import harmony

    recipe = GRIPS[name]
    for quality in recipe.qualities:
        chord = chord_in_key("I" + quality, Key("A"))
        theirs = {p.pitchClass for p in harmony.ChordSymbol(root="A", kind=chord.kind).pitches}
        theirs |= {(chord.root_pc + semitones(d)) % 12 for d in ALTERATIONS.get(quality, set())}
        found = voicings(name, recipe, chord, Neck(), Hand(), 14)
        assert found, f"no hand holds {name}"
        for grip in found:
            assert {Neck().pitch(s, f) % 12 for s, f, _ in grip.notes} <= theirs


def test_every_key_signature_of_the_circle_is_met_once_a_mode() -> None:
    """The circle of fifths has twelve keys. Common practice, no source."""
    for minor in (False, True):
        fifths = [Key.parse(name, minor).fifths for name in KEY_NAMES]
        assert len({f % 12 for f in fifths}) == 12
