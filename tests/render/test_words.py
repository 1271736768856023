"""A study in words: the facts are right, the sentences whole, and the same study always says the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from lickwright.judge.effort import report
from lickwright.render.words.facts import hard_spots, lick_facts
from lickwright.render.words.hand import watch_sentence
from lickwright.render.words.spoken import chord_words
from lickwright.render.words.terms import DEGREE_WORDS, STEPS, Voice, beat_text, beats, near_beat
from lickwright.render.words.text import (
    CAUTIONS,
    PhraseWords,
    feel_words,
    key_words,
    phrase_words,
    spoken,
    study_words,
    tempo_words,
)
from lickwright.rulebook.read import lead_of
from lickwright.study.model import Asks, Brief, Event, Note, Slot, SlotKind, Study
from lickwright.theory.harmony import Chord, Key, chord_in_key, semitones
from music21 import interval

from tests.render.any_study import KEYS, WRITTEN, studies
from tests.studies import BAR, measured, tour
from tests.written import written

NO_SHRINK = (Phase.explicit, Phase.reuse, Phase.generate)
#: An event, a rest or a chord of the spoken study begins with its place.
PLACE = re.compile(r"^Bar \d+, .+?: ")


def all_words(study: Study) -> Iterator[str]:
    yield study_words(study)
    for phrase in phrase_words(study):
        yield phrase.text
        yield from (said.text for said in phrase.body)


def assert_plain_english(text: str) -> None:
    """No leftovers of a template, no slips of spacing, stops or articles."""
    assert not re.search(r"[{}]|None|\bnan\b", text), text
    assert not re.search(r"  | [,.;:)]|\( |,,|\.\.|,\.|;\.|::|:\.", text), text
    assert not re.search(r"\ba (?:[aeio]|[AEF](?:[♯♭\d .,]|m\d))", text), text
    assert not re.search(r"\ban (?![aeioAEF]|hour|[86]|11)", text), text
    assert not re.search(r"\b(\w+) \1\b", text), text
    assert text == text.strip()
    if text:
        assert text[0].isupper(), text
        assert text.endswith("."), text
        assert text.count("(") == text.count(")")


def lick_study(*notes: tuple[int, int, int], roman: str = "I7", **slot: object) -> Study:
    """A study of four bars with a lick in the first: (tick, string, fret)."""
    base = tour("A")
    chord = base.chord(roman)
    events = []
    for k, (tick, string, fret) in enumerate(notes):
        end = notes[k + 1][0] if k + 1 < len(notes) else tick + 12
        pitch = base.neck.pitch(string, fret)
        note = Note(string, fret, 1, pitch, chord.degree(pitch))
        events.append(Event(f"e{k}", 0, tick, end - tick, (note,), roman, 5))
    first = replace(base.slots[0], **slot)  # type: ignore[arg-type]
    return replace(base, events=tuple(events), slots=(first, *base.slots[1:]))


def grip_study(frets: dict[int, int], roman: str, key: str, hand: int = 1) -> Study:
    """A study with one grip, given as string: fret."""
    base = replace(tour("A"), key=key)
    chord = base.chord(roman)
    notes = tuple(
        Note(s, f, 1, base.neck.pitch(s, f), chord.degree(base.neck.pitch(s, f)))
        for s, f in sorted(frets.items(), reverse=True)
    )
    event = Event("e1", 1, BAR, 12, notes, roman, hand, grip="x")
    form = (replace(base.form[0], roman=roman, duration=4 * BAR),)
    return replace(base, events=(event,), form=form)


# --- right


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize(("meter", "grid"), WRITTEN)
def test_each_lick_names_the_chord_tone_it_lands_on_and_when(key: str, meter: str, grid: str) -> None:
    study = tour(key, meter, grid, repeats=2)
    said = {s.slots[0]: s.text for p in phrase_words(study) for s in p.body if s.kind is SlotKind.LICK}
    licks = [s for s in study.slots if s.kind is SlotKind.LICK]
    assert set(said) == {s.number for s in licks}
    for slot in licks:
        facts = lick_facts(study, slot)
        assert facts is not None
        chord = study.chord(facts.landing.chord).symbol
        assert f"the {DEGREE_WORDS[facts.landing_note.degree]} of {chord}" in said[slot.number]
        assert near_beat(study, facts.landing.onset) in said[slot.number]


@settings(max_examples=60, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_landings_are_named_rightly_whatever_is_played(study: Study) -> None:
    for phrase in phrase_words(study):
        for said in phrase.body:
            if said.kind is SlotKind.LICK:
                facts = lick_facts(study, study.slots[said.slots[0]])
                assert facts is not None
                chord, note = study.chord(facts.landing.chord), facts.landing_note
                released = note.bend is not None and "release" in note.bend.kind.value
                degree = chord.degree(note.pitch) if released else note.degree
                assert f"the {DEGREE_WORDS[degree]} of {chord.symbol}" in said.text


def test_degrees_have_the_names_of_their_intervals() -> None:
    # music21's interval names: flat is minor (diminished for a fifth), sharp is augmented.
    names = {
        "flat second": "m2", "second": "M2", "minor third": "m3", "major third": "M3", "fourth": "P4",
        "flat fifth": "d5", "fifth": "P5", "flat sixth": "m6", "sixth": "M6", "flat seventh": "m7",
        "major seventh": "M7", "diminished seventh": "d7", "flat ninth": "m9", "ninth": "M9",
        "sharp ninth": "A9", "sharp fifth": "A5", "flat thirteenth": "m13", "thirteenth": "M13",
        "eleventh": "P11", "sharp eleventh": "A11", "sharp fourth": "A4", "flat fourth": "d4",
        "sharp root": "A1", "sharp second": "A2", "root": "P1",
    }  # fmt: skip
    for degree, word in DEGREE_WORDS.items():
        assert interval.Interval(names[word]).semitones % 12 == semitones(degree), degree
    assert {key for quality in _qualities() for key in quality.degrees} <= set(DEGREE_WORDS)


def _qualities() -> list[Chord]:
    from lickwright.theory.harmony import QUALITIES

    return [chord_in_key("I" + quality, Key("A")) for quality in QUALITIES]


@pytest.mark.parametrize(
    ("frets", "roman", "key", "words"),
    [
        # Shell voicings, root on string 6 or 5 (R. Russell, UNCW): F7 = 1-x-1-2-x-x, Bb7 = x-1-x-1-3-x.
        ({6: 1, 4: 1, 3: 2}, "I7", "F", "F7 (1-♭7-3, strings 6-4-3)"),
        ({5: 1, 3: 1, 2: 3}, "I7", "Bb", "B♭7 (1-♭7-3, strings 5-3-2)"),
        # C9 = x-3-2-3-3-x (from memory); x-x-5-6-5-x is the b7-3-5 of A7 (common practice, no source).
        ({5: 3, 4: 2, 3: 3, 2: 3}, "I9", "C", "C9 (1-3-♭7-9, strings 5-4-3-2)"),
        ({4: 5, 3: 6, 2: 5}, "I7", "A", "A7 (♭7-3-5, strings 4-3-2)"),
    ],
)
def test_grips_are_told_by_degrees_and_strings(
    frets: dict[int, int], roman: str, key: str, words: str
) -> None:
    (phrase,) = phrase_words(grip_study(frets, roman, key))
    assert words in phrase.text


def test_what_the_comping_does_with_a_grip_is_told() -> None:
    text = phrase_words(tour("A"))[0].text
    assert "slid in from a fret below" in text
    assert "♭3 hammered to 3" in text
    assert "♭7 moving to 1 on string 3" in text


def grips(*places: dict[int, int]) -> Study:
    """A study with one grip after another in bar 2, a beat each."""
    made = [grip_study(place, "I7", "A") for place in places]
    events = (replace(m.events[0], id=f"g{k}", onset=BAR + 12 * k) for k, m in enumerate(made))
    return replace(made[0], events=tuple(events))


def test_comping_that_begins_before_the_bar_line_is_told_bar_by_bar() -> None:
    study = grips({4: 5, 3: 6, 2: 5}, {3: 6, 2: 5, 1: 5})
    first, second = study.events
    bass = replace(first, id="b", onset=BAR + 36, notes=first.notes[:1], grip=None)
    later = replace(study, events=(bass, replace(first, onset=2 * BAR), replace(second, onset=2 * BAR + 12)))
    text = phrase_words(later)[0].text
    assert re.search("[Bb]ar 2 has the flat seventh on string 4 under it", text), text
    assert re.search("[Bb]ar 3[^.]* A7 .♭7-3-5, strings 4-3-2. and A7 .3-5-1, strings 3-2-1.", text), text


def test_a_voice_that_moves_on_and_on_is_told_once() -> None:
    top = grips({4: 5, 3: 6, 2: 5}, {4: 5, 3: 6, 2: 7}, {4: 5, 3: 6, 2: 8}, {4: 5, 3: 6, 2: 7})
    assert "A7 (♭7-3-5, strings 4-3-2) and string 2 moving 5-6-♭7-6." in phrase_words(top)[0].text


def test_pairs_of_notes_that_go_down_the_neck_are_told_as_a_line() -> None:
    sixths = grips({3: 9, 1: 9}, {3: 7, 1: 7}, {3: 6, 1: 5})
    assert "A7 two notes at a time, 3-2-1 on top (strings 3-1)." in phrase_words(sixths)[0].text


def test_a_grip_that_comes_from_a_fret_below_is_told_by_where_it_arrives() -> None:
    below = grips({4: 4, 3: 5, 2: 4}, {4: 5, 3: 6, 2: 5})
    assert "A7 (♭7-3-5, strings 4-3-2) from a fret below." in phrase_words(below)[0].text


def test_a_suspension_is_told_as_leaning_on_its_grip() -> None:
    study = grip_study({4: 5, 3: 7, 2: 5}, "I7", "A")
    resolved = grip_study({4: 5, 3: 6, 2: 5}, "I7", "A").events[0]
    both = replace(study, events=(*study.events, replace(resolved, id="e2", onset=BAR + 12)))
    assert "4 leaning into A7 (♭7-3-5, strings 4-3-2)" in phrase_words(both)[0].text


def test_a_grip_taken_ahead_of_its_chord_is_told_as_early() -> None:
    study = tour("A")
    early = replace(study.events[6], id="x", onset=BAR + 24 + 8, duration=4, chord="IV7", notes=tuple(
        replace(n, grace=None) for n in study.events[10].notes))  # fmt: skip
    events = tuple(e for e in study.events if e.slot == 1 and e.onset < BAR + 24)
    text = phrase_words(replace(study, events=(*events, early)))[0].text
    assert re.search(r"D7 \(3-♭7-1-5, strings 4-3-2-1\) early, just before beat 4", text), text


def test_a_bass_walk_is_told_by_its_notes_and_where_it_goes() -> None:
    study = tour("A")
    walk = []
    for k, fret in enumerate((2, 3, 4)):
        pitch = study.neck.pitch(6, fret)
        walk.append(Event(f"w{k}", 3, 4 * BAR - 36 + 12 * k, 12, (Note(6, fret, 1, pitch, "1"),), "I7", 2))
    flat = replace(study, form=(replace(study.form[0], duration=4 * BAR),), events=tuple(walk))
    assert "a walk F♯-G-G♯ into A7" in phrase_words(flat)[0].text


def test_the_hand_and_its_root_are_told_first() -> None:
    assert "fifth fret, with the root A under it on string 6" in phrase_words(tour("A"))[0].hand
    assert "with the root E under it on string 6" in phrase_words(tour("E"))[0].hand


def test_a_phrase_without_a_lick_is_told_where_its_grips_lie() -> None:
    study = grip_study({4: 5, 3: 6, 2: 5}, "I7", "A", hand=5)
    assert phrase_words(study)[0].hand == "For the comping the index finger is at the fifth fret."
    higher = replace(study.events[0], id="h", onset=BAR + 24, hand=9)
    both = phrase_words(replace(study, events=(*study.events, higher)))[0].hand
    assert both == "In the comping the index finger moves between the fifth and the ninth fret."


def test_a_hand_that_changes_its_place_again_and_again_is_told_how_far_it_goes() -> None:
    study = lick_study(*((6 * k, 4, 5) for k in range(6)))
    events = [replace(e, hand=5 + k % 2) for k, e in enumerate(study.events)]
    assert "fifth fret" in phrase_words(replace(study, events=tuple(events)))[0].hand
    assert (
        "to and fro between the fifth and the sixth."
        in phrase_words(replace(study, events=tuple(events)))[0].hand
    )


def test_open_position_finds_the_root_on_the_open_string() -> None:
    study = replace(lick_study((0, 3, 1), (12, 3, 2)), key="E")
    study = replace(study, events=tuple(replace(e, hand=1) for e in study.events))
    assert "the first fret, with the root E on open string 6" in phrase_words(study)[0].hand


def test_the_techniques_are_called_by_their_names_in_order() -> None:
    study = tour("A")
    sparse = replace(study, events=study.events[:6])
    text = phrase_words(sparse)[0].text
    order = ["hammer 5-8 on string 2", "string 3", "pull off to 5", "slide 5-7 up string 4", "the root of A7"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_a_quarter_tone_is_never_called_a_bend_to_another_degree() -> None:
    study = tour("A")
    text = phrase_words(replace(study, events=study.events[11:12]))[0].text
    assert "quarter" in text
    assert "whole step" not in text


def test_strokes_on_one_grip_are_counted() -> None:
    study = grip_study({4: 5, 3: 6, 2: 5}, "I7", "A")
    more = [replace(study.events[0], id=f"m{k}", onset=BAR + 12 * k) for k in range(3)]
    text = phrase_words(replace(study, events=tuple(more)))[0].text
    assert "strings 4-3-2) three times." in text
    assert "answers" not in text


def test_a_grip_moved_along_the_neck_is_told_as_moved() -> None:
    study = grip_study({4: 5, 3: 6, 2: 5}, "I7", "A")
    lower = grip_study({4: 4, 3: 5, 2: 4}, "VII7", "A").events[0]
    text = phrase_words(replace(study, events=(*study.events, replace(lower, id="l", onset=BAR + 12))))[
        0
    ].text
    assert "the same a fret lower for G♯7" in text or "the same a fret lower for A♭7" in text


# --- quotes


def quoting(
    second: tuple[tuple[int, int, int], ...],
    first: tuple[tuple[int, int, int], ...] = ((0, 4, 5), (12, 4, 7), (24, 4, 5)),
    roman: str = "IV7",
    hand: int = 5,
    first_string: int | None = None,
    second_string: int | None = None,
    **slot: object,
) -> str:
    """The words of a study whose lick B quotes lick A (5, 7, 5 on string 4) over a chord.

    ``first_string`` and ``second_string`` say which note of a lick has string 5 struck along with it.
    """
    one = lick_study(*first)
    base = tour("A")
    chord = base.chord(roman)
    events = list(one.events)
    for k, (tick, string, fret) in enumerate(second):
        pitch = base.neck.pitch(string, fret)
        note = Note(string, fret, 1, pitch, chord.degree(pitch))
        events.append(Event(f"q{k}", 2, 2 * BAR + tick, 12, (note,), roman, hand))
    for k in (first_string, None if second_string is None else len(first) + second_string):
        if k is not None:
            under = Note(5, 5, 1, base.neck.pitch(5, 5), "4")
            events[k] = replace(events[k], notes=(under, *events[k].notes))
    slots = list(base.slots)
    slots[2] = replace(slots[2], name="A'", role="", quotes=0, figure_notes=3, **slot)  # type: ignore[arg-type]
    return phrase_words(replace(one, events=tuple(events), slots=tuple(slots)))[0].body[1].text


def test_a_lick_that_repeats_another_says_so() -> None:
    text = quoting(((0, 4, 5), (12, 4, 7), (24, 4, 5)))
    assert "Lick A'" in text
    assert re.search("(says lick A again|brings back lick A), note for note", text)


def test_a_lick_that_goes_on_differently_only_opens_alike() -> None:
    text = quoting(((0, 4, 5), (12, 4, 7), (24, 4, 5), (36, 4, 3)))
    assert re.search("(the figure of lick A|as lick A did), note for note", text)


def test_the_same_notes_on_other_strings_are_said_to_lie_there() -> None:
    assert "the same notes on other strings" in quoting(((0, 5, 10), (12, 5, 12), (24, 5, 10)))
    assert "the same notes, some on other strings:" in quoting(((0, 5, 10), (12, 4, 7), (24, 5, 10)))
    assert "the same notes, one on another string:" in quoting(((0, 4, 5), (12, 5, 12), (24, 4, 5)))


def test_the_same_notes_from_another_place_are_told_with_its_fret() -> None:
    text = quoting(((0, 5, 10), (12, 5, 12), (24, 5, 10)), hand=10)
    assert re.search(
        "the same notes played at the tenth fret|the same notes with the hand at the tenth fret", text
    )


def test_a_double_stop_more_or_less_is_no_other_place() -> None:
    figure = ((0, 4, 5), (12, 4, 7), (24, 4, 5))
    assert "the same line with more double stops" in quoting(figure, second_string=1)
    assert "the same line in single notes" in quoting(figure, first_string=1)
    assert "the same line with the double stop elsewhere in it" in quoting(
        figure, second_string=1, first_string=0
    )


def test_a_lick_with_the_same_turns_on_tones_of_another_chord_is_fitted_to_it() -> None:
    text = quoting(((0, 4, 4), (12, 3, 5), (24, 4, 7)))
    assert re.search(
        "shape of lick A, fitted to D7|shaped like lick A, the changed notes taken from D7", text
    )


def test_a_lick_with_the_same_turns_on_other_notes_is_shaped_alike_and_not_fitted() -> None:
    over = quoting(((0, 4, 7), (12, 4, 10), (24, 4, 8)))
    assert re.search("shape of lick A, now over D7|like lick A, with changed notes over D7", over)
    same = quoting(((0, 4, 7), (12, 4, 10), (24, 4, 8)), roman="I7")
    assert re.search("shape of lick A, not note for note|like lick A, with changed notes[:,]", same)
    assert "A7:" not in same


def test_a_lick_moved_up_says_by_how_much() -> None:
    assert "the figure of lick A moved up a fourth" in quoting(((0, 3, 5), (12, 3, 7), (24, 3, 5)))


def test_a_lick_bent_to_its_chord_says_which_note_changed() -> None:
    major, minor = ((0, 4, 7), (12, 3, 6), (24, 4, 7)), ((0, 4, 7), (12, 3, 5), (24, 4, 7))
    text = quoting(minor, first=major)
    assert re.search("C♯ becomes C over D7|C for C♯, now that D7 sounds", text)


def test_a_note_changed_for_no_chord_is_told_without_one() -> None:
    changed = "with {} in place of {}:|again, but {} where {} was:"
    major, minor = ((0, 4, 7), (12, 3, 6), (24, 4, 7)), ((0, 4, 7), (12, 3, 5), (24, 4, 7))
    # Over the same chord; a note that is none of the new chord; one in place of a tone of the new chord.
    assert re.search(changed.format("C", "C♯", "C", "C♯"), quoting(minor, major, "I7"))
    assert re.search(changed.format("B♭", "A", "B♭", "A"), quoting(((0, 4, 5), (12, 4, 8), (24, 4, 5))))
    assert re.search(changed.format("C", "A", "C", "A"), quoting(((0, 4, 5), (12, 4, 10), (24, 4, 5))))


def test_a_lick_that_keeps_only_the_rhythm_says_that() -> None:
    assert "rhythm of lick A" in quoting(((0, 4, 7), (12, 4, 5), (24, 4, 7)))


def test_a_lick_with_another_rhythm_only_takes_up_the_idea() -> None:
    assert re.search("idea of lick A|goes on from lick A", quoting(((0, 4, 5), (8, 4, 7), (24, 4, 5))))


def test_a_quote_of_nothing_is_passed_over() -> None:
    study = lick_study((0, 4, 5), (12, 4, 7), quotes=99)
    assert_plain_english(phrase_words(study)[0].text)


# --- well said


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize(("meter", "grid"), WRITTEN)
def test_the_words_are_plain_english(key: str, meter: str, grid: str) -> None:
    for text in all_words(tour(key, meter, grid, repeats=3)):
        assert_plain_english(text)


@settings(max_examples=80, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_the_words_are_plain_english_whatever_is_played(study: Study) -> None:
    for text in all_words(study):
        assert_plain_english(text)


@settings(max_examples=30, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_missing_slot_data_leaves_no_hole_in_the_words(study: Study) -> None:
    bare = tuple(Slot(s.number, s.kind, s.phrase, s.start, s.end) for s in study.slots)
    for text in all_words(replace(study, slots=bare, feel="", level="", scheme="", title="")):
        assert_plain_english(text)


def test_a_study_of_silence_and_one_without_phrases_are_spoken_of_too() -> None:
    silent = replace(tour("A"), events=())
    assert [p.text for p in phrase_words(silent)] == [""]
    assert phrase_words(replace(silent, phrases=(), slots=())) == ()
    assert_plain_english(study_words(silent))
    assert "rest, four beats" in spoken(silent)


def test_the_same_study_always_gets_the_same_words() -> None:
    assert phrase_words(tour("A", repeats=3)) == phrase_words(tour("A", repeats=3))
    assert study_words(tour("A")) == study_words(tour("A"))


def test_three_phrases_alike_are_not_told_in_the_same_words() -> None:
    first, second, third = (re.sub(r"\d+", "", p.text) for p in phrase_words(tour("A", repeats=3)))
    assert len({first, second, third}) == 3
    sentences = [re.split(r"(?<=\.) ", text) for text in (first, second, third)]
    assert not set(sentences[0]) & set(sentences[1])


def test_a_phrase_is_not_a_lecture() -> None:
    counts = [len(p.text.split()) for p in phrase_words(tour("A", repeats=3))]
    assert max(counts) <= 160, "two licks with every technique and seven grips in four bars"
    sparse = replace(tour("A"), events=tour("A").events[:8])
    assert 40 <= len(phrase_words(sparse)[0].text.split()) <= 130


def test_a_phrase_keeps_its_parts_apart() -> None:
    (phrase,) = phrase_words(tour("A"))
    assert isinstance(phrase, PhraseWords)
    assert [s.kind for s in phrase.body] == [SlotKind.LICK, SlotKind.COMP, SlotKind.LICK, SlotKind.COMP]
    assert phrase.text.startswith(phrase.hand)
    assert phrase.text.endswith(phrase.watch)
    assert (phrase.first_bar, phrase.last_bar) == (0, 3)


def test_the_hard_moment_of_the_tour_is_its_pre_bend() -> None:
    assert "bar 3" in phrase_words(measured(tour("A")))[0].watch


@pytest.mark.parametrize(
    "brief",
    [
        *(Brief("slow-shuffle", "A", seed) for seed in (2, 3, 4, 7)),
        Brief("rhumba", "G", 1, level="first-year"),
        Brief("minor-slow", "D", 12, level="fluent", options=(("hand", "small"), ("strings", "regular"))),
    ],
)
def test_the_hardest_moment_of_the_words_is_that_of_the_effort(brief: Brief) -> None:
    study = written(brief)
    hardest = report(study, lead_of(study)).whole.hardest
    assert hardest is not None
    bar = hardest.tick // BAR
    said = {words.watch for words in phrase_words(study)}
    (there,) = (p for p in phrase_words(study) if p.first_bar <= bar <= p.last_bar)
    assert f"bar {bar + 1}" in there.watch
    if hardest.asks is not Asks.BEND and hardest.asks is not Asks.QUICK:
        low, high = hardest.frets
        assert re.search(rf"{low} (to|and) {high}", there.watch)
    assert len(said) == len(study.phrases)


def test_every_hard_moment_has_a_sentence_that_names_its_bar() -> None:
    study = measured(tour("A", repeats=3))
    spots = hard_spots(study)
    assert spots
    assert [s.score for s in spots] == sorted((s.score for s in spots), reverse=True)
    for spot in spots:
        phrase = next(p for p in study.phrases if p.number == study.slots[spot.event.slot].phrase)
        kind, text = watch_sentence(study, phrase, [spot], set(), Voice.of(study))
        assert kind == spot.kind
        assert f"bar {spot.event.onset // BAR + 1}" in text
        assert_plain_english(text)


def test_where_nothing_was_measured_nothing_is_called_hard_or_easy() -> None:
    """A study from before hard moments were kept, and a neck of ten strings, which takes no set that is known."""
    study = tour("A")
    wide = replace(study, neck=replace(study.neck, tuning=(*study.neck.tuning, 35, 30, 25, 20)))
    for bare in (study, measured(wide)):
        assert bare.hard_moments is None
        assert hard_spots(bare) is None
        assert "hard for the fingers" not in phrase_words(bare)[0].text


# --- the opening


def test_the_opening_tells_key_feel_tempo_changes_and_what_is_trained() -> None:
    text = study_words(tour("Bb", "4/4"))
    assert text.startswith("Study 3 in B♭, shuffle in 4/4, eighths swung, at 112 beats a minute: four bars.")
    assert "B♭7, E♭7 and F7" in text
    assert "bends" in text
    assert "fluent" in text


def test_the_opening_knows_when_the_fourth_comes() -> None:
    # "The first phrase is entirely tonic ... the second contains two bars of subdominant" (Open Music
    # Theory, version 1, Blues-based harmony); the quick change has IV in bar 2.
    base = tour("A", repeats=3)
    span = base.form[0]

    def form(*romans: str) -> Study:
        spans = tuple(replace(span, onset=BAR * k, duration=BAR, roman=r) for k, r in enumerate(romans))
        return replace(base, form=spans)

    slow = ["I7", "I7", "I7", "I7", "IV7", "IV7", "I7", "I7", "V7", "IV7", "I7", "I7"]
    quick = ["I7", "IV7", "I7", "I7", "IV7", "IV7", "I7", "I7", "V7", "IV7", "I7", "V7"]
    assert "D7 waits until bar 5" in study_words(form(*slow))
    assert "D7 comes early, in bar 2" in study_words(form(*quick))


def test_short_facts_for_other_pages() -> None:
    study = replace(tour("A"), key="D", minor=True)
    assert key_words(study) == "Key of D minor"
    assert feel_words(study) == "slow 12/8"
    assert tempo_words(study) == "dotted quarter = 60"
    assert feel_words(tour("A", "4/4")) == "shuffle in 4/4, eighths swung"


def test_the_cautions_defer_to_those_who_know() -> None:
    text = " ".join(CAUTIONS)
    for part in ("Warm up", "five minutes in every half hour", "pain or numbness", "doctor", "physio",
                 "talk over"):  # fmt: skip
        assert part in text
    assert_plain_english(text)


# --- spoken

LENGTHS = {beats(ticks): ticks for ticks in range(1, 48 * 40)}


def spoken_lines(study: Study) -> list[str]:
    return [line for line in spoken(study).splitlines() if PLACE.match(line) and "the chord is" not in line]


@settings(max_examples=60, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_every_event_is_spoken_once_at_its_place_in_order(study: Study) -> None:
    lines = [line for line in spoken_lines(study) if ": rest, " not in line]
    assert len(lines) == len(study.events)
    for line, event in zip(lines, study.events, strict=True):
        assert line.startswith(f"Bar {event.onset // BAR + 1}, {beat_text(study, event.onset)}: ")
        for note in event.notes:
            assert re.search(rf"string {note.string}\b|strings.*\b{note.string}\b", line)
            if not note.muted and note.fret:
                assert f"string {note.string}, fret {note.fret}, " in line
        assert line.count("vibrato") == sum(n.vibrato and not n.muted for n in event.notes)


@settings(max_examples=60, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_spoken_lengths_and_rests_add_up_to_the_study(study: Study) -> None:
    total = 0
    for line in spoken_lines(study):
        length = re.sub(r", cut short|, let it ring", "", line.rstrip(".")).rsplit(", ", 1)[1]
        total += LENGTHS[length]
    assert total == study.ticks


def test_an_event_is_spoken_as_a_person_would_say_it() -> None:
    text = spoken(tour("A"))
    assert (
        "Bar 1, the last eighth of beat 1: string 2, fret 8, little finger, hammer-on, two thirds of a beat."
        in text
    )
    assert "bend a whole step and release" in text
    assert "slide up from fret 5" in text
    assert "dead stroke on strings 4, 3 and 2" in text
    assert "still ringing" in text
    assert "trill with fret 6" in text
    assert "Phrase 1, bars 1 to 4." in text


def test_no_sign_stands_for_a_word_when_spoken() -> None:
    text = spoken(tour("Eb"))
    assert not re.search("[♭♯°#]", text)
    assert "the chord is A flat 7" in text
    assert chord_words(chord_in_key("#IVdim7", Key("C"))) == "F sharp diminished 7"
    primed = tour("A").slots[0]
    study = tour("A")
    assert "Lick A prime." in spoken(replace(study, slots=(replace(primed, name="A'"), *study.slots[1:])))


def test_lengths_in_beats() -> None:
    said = [beats(t) for t in (12, 24, 4, 8, 6, 3, 2, 16, 18, 5)]
    assert said == [
        "one beat", "two beats", "a third of a beat", "two thirds of a beat", "half a beat",
        "a quarter of a beat", "a sixth of a beat", "one and a third beats", "one and a half beats",
        "five twelfths of a beat",
    ]  # fmt: skip


def test_steps_are_counted_in_quarter_tones() -> None:
    assert (STEPS[1], STEPS[2], STEPS[4]) == ("a quarter tone", "a half step", "a whole step")
