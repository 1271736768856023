"""How studies differ, in words: every word is a fact of the studies, and each is said once."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.judge.compare import Asked, compare
from lickwright.render.words.compare import compare_words
from lickwright.study.model import Study

from tests.studies import tour


def words(*studies: Study, slots: tuple[int, ...] = ()) -> tuple[str, ...]:
    asked = [Asked(str(n), s, slots[n] if slots else None) for n, s in enumerate(studies)]
    return compare_words(compare(asked))


def without_bends(study: Study) -> Study:
    events = tuple(
        replace(e, notes=tuple(replace(n, bend=None, trill=None, grace=None) for n in e.notes))
        for e in study.events
    )
    return replace(study, events=events)


def test_bends_that_only_one_has_are_counted() -> None:
    said = words(tour(), without_bends(tour()))
    assert "bends three times" in said[0]
    assert "bend" not in said[1]


def test_what_is_kept_of_the_first_is_said() -> None:
    study = tour()
    longer = tuple(replace(e, duration=max(1, e.duration - 1)) for e in study.events)
    said = words(study, replace(study, events=longer))
    assert said[1].startswith("2 keeps the notes and places of 1")
    assert "0.0" in said[2] or "0.1" in said[2]


def test_the_same_study_in_another_key_is_the_same() -> None:
    said = words(tour("A"), tour("D"))
    assert said[0] == "1 is the same as 2 in rhythm, contour, notes and place."
    assert said[1] == "2 keeps the rhythm, notes and places of 1."
    assert said[-1] == "They are the same in rhythm, contour, notes and place."


def test_licks_are_told_apart_by_peak_landing_and_position() -> None:
    study = tour()
    said = words(study, study, slots=(0, 2))
    assert said[0].startswith("1 lands on the root")  # A over A7; the other ends on its third
    assert any("climbs the highest, to the" in sentence for sentence in said)


def test_three_or_more_are_told_who_is_near_whom() -> None:
    said = words(tour(), tour("D"), without_bends(tour()))
    assert said[-1].startswith("1 and 2 are the nearest to each other (0.00 apart")
    assert len(said) == 4


@given(st.lists(st.sampled_from(["A", "C", "E"]), min_size=2, max_size=4), st.booleans())
@settings(max_examples=15, deadline=None)
def test_each_has_a_sentence_of_its_own(keys: list[str], bent: bool) -> None:
    studies = [tour(key) for key in keys]
    said = words(*(studies if bent else [*studies[:-1], without_bends(studies[-1])]))
    assert len(said) == len(keys) + 1
    for number, sentence in enumerate(said[:-1], 1):
        assert sentence.startswith(f"{number} ")
        assert sentence.endswith(".")
        assert "{" not in sentence
