"""What counts as the same figure, and what two studies have in common."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.study.figures import (
    Avoid,
    Place,
    figures,
    figures_of_line,
    lines,
    lines_of_data,
    longest_shared,
    novelty,
)
from lickwright.study.json_text import to_json
from lickwright.study.model import SlotKind, Study

from tests.lines import with_line
from tests.studies import bend, tour

LINES = st.lists(st.tuples(st.integers(40, 80), st.integers(1, 24)), min_size=1, max_size=14)


def onsets_of(gaps: list[int], start: int = 0) -> list[int]:
    onsets = [start]
    for gap in gaps[1:]:
        onsets.append(onsets[-1] + gap)
    return onsets


# ---- one line ---------------------------------------------------------------------------------------------


@given(LINES, st.integers(1, 6), st.integers(-12, 12), st.integers(0, 500))
def test_another_key_and_another_place_do_not_hide_a_figure(line, order, up, later) -> None:
    pitches, onsets = [p for p, _ in line], onsets_of([g for _, g in line])
    moved = figures_of_line([p + up for p in pitches], [t + later for t in onsets], order)
    assert moved == figures_of_line(pitches, onsets, order)


@given(LINES, st.integers(1, 6))
def test_a_line_has_the_figures_that_a_plain_count_finds(line, order) -> None:
    pitches, onsets = [p for p, _ in line], onsets_of([g for _, g in line])
    moves = [(pitches[k + 1] - pitches[k], onsets[k + 1] - onsets[k]) for k in range(len(line) - 1)]
    meant = {tuple(moves[k : k + order]) for k in range(len(moves) - order + 1)}
    assert figures_of_line(pitches, onsets, order) == meant


def test_another_rhythm_or_another_interval_is_another_figure() -> None:
    told = figures_of_line([60, 63, 65], [0, 4, 12], 2)
    assert told.isdisjoint(figures_of_line([60, 63, 65], [0, 8, 12], 2))
    assert told.isdisjoint(figures_of_line([60, 64, 65], [0, 4, 12], 2))


def test_an_order_under_one_is_refused() -> None:
    for order in (0, -1):
        with pytest.raises(ValueError, match="one move at least"):
            figures_of_line([60, 62], [0, 4], order)
        with pytest.raises(ValueError, match="one move at least"):
            figures(tour(), order)
        with pytest.raises(ValueError, match="one move at least"):
            Avoid(order, frozenset())


# A. Papadopoulos, P. Roy, F. Pachet, Avoiding Plagiarism in Markov Sequence Generation, AAAI 2014,
# doi:10.1609/aaai.v28i1.9126: a Markov model of order 1 learned from ABRACADABRA, all of whose 4-grams are
# forbidden. The counts are derived from that example, not printed in the paper. Letters stand for moves here.
CORPUS = "ABRACADABRA"
WITH_THE_RULE = {4: 12, 5: 14, 6: 16, 7: 20, 8: 24}
WITHOUT = {4: 19, 5: 33, 6: 51, 7: 85, 8: 135}
MOVE = {"A": (2, 4), "B": (-3, 4), "C": (2, 8), "D": (5, 12), "R": (-3, 8)}


def line_of(word: str) -> tuple[list[int], list[int]]:
    """A line whose moves are the word's letters."""
    pitches, onsets = [60], [0]
    for letter in word:
        pitches.append(pitches[-1] + MOVE[letter][0])
        onsets.append(onsets[-1] + MOVE[letter][1])
    return pitches, onsets


def test_the_corpus_of_the_published_example_has_seven_figures_of_four_moves() -> None:
    assert len(figures_of_line(*line_of(CORPUS), 4)) == 7


@pytest.mark.parametrize("n", WITH_THE_RULE)
def test_lines_that_repeat_no_four_moves_number_as_in_the_published_example(n: int) -> None:
    avoid = Avoid(4, figures_of_line(*line_of(CORPUS), 4))
    pairs = set(pairwise(CORPUS))
    words = [word for word in product("ABCDR", repeat=n) if all(pair in pairs for pair in pairwise(word))]
    lines = [line_of("".join(word)) for word in words]
    assert len(lines) == WITHOUT[n]
    assert sum(avoid.allows(*line) for line in lines) == WITH_THE_RULE[n]
    assert sum(not figures_of_line(*line, 4) & avoid.figures for line in lines) == WITH_THE_RULE[n]


# ---- a study ----------------------------------------------------------------------------------------------


def test_the_melody_is_the_highest_string_at_the_pitch_it_arrives_at() -> None:
    """By hand from the tour: e (bend to g' sharp), then the pull-off's e, a, b of the fourth string."""
    first = figures(tour(), 1)
    study = tour()
    lick = study.events_of(0)
    assert [e.melody.sounding2 // 2 for e in lick] == [64, 67, 64, 60, 55, 57]
    assert {(3, 4), (-4, 8), (-5, 4), (2, 4)} <= {move for (move,) in first}


def test_the_same_study_in_another_key_has_the_same_figures() -> None:
    for order in range(1, 6):
        assert figures(tour("A"), order) == figures(tour("D"), order)


def test_comping_has_no_figures() -> None:
    study = tour()
    comped = replace(
        study, events=tuple(e for e in study.events if study.slots[e.slot].kind is SlotKind.COMP)
    )
    assert figures(comped, 1) == frozenset()


def test_no_figure_runs_from_one_lick_into_the_next() -> None:
    once, twice = with_line([60, 62, 65], [0, 4, 8]), with_line([60, 62, 65], [0, 4, 8], slots=2)
    assert figures(once, 2) == figures(twice, 2)
    assert figures(twice, 3) == frozenset()


def test_a_note_that_rings_on_begins_no_move_and_a_curl_does_not_change_one() -> None:
    plain = with_line([60, 63, 65], [0, 4, 12])
    e = plain.events
    ringing = replace(e[1], onset=8, notes=(replace(e[1].notes[0], tied=True),))
    curled = replace(e[2], notes=(replace(e[2].notes[0], bend=bend("bend", 1, 4)),))
    dead = replace(e[1], onset=10, notes=(replace(e[1].notes[0], muted=True),))
    changed = replace(plain, events=(e[0], e[1], ringing, dead, curled))
    assert figures(changed, 2) == figures(plain, 2) == {((3, 4), (2, 8))}


def test_a_study_file_says_the_same_lines_as_its_study() -> None:
    for study in (tour(), tour(repeats=2), with_line([60, 62], [0, 4])):
        assert lines_of_data(json.loads(to_json(study))) == lines(study)
    assert [(line.slot, len(line.onsets), len(line.moves)) for line in lines(tour())] == [
        (0, 6, 5),
        (2, 8, 7),
    ]


# ---- two studies ------------------------------------------------------------------------------------------


def brute_longest(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> int:
    return max(
        (
            n
            for n in range(1, min(len(a), len(b)) + 1)
            for i in range(len(a) - n + 1)
            for j in range(len(b) - n + 1)
            if a[i : i + n] == b[j : j + n]
        ),
        default=0,
    )


@given(
    st.lists(st.tuples(st.integers(0, 2), st.sampled_from([4, 8])), min_size=2, max_size=12),
    st.lists(
        st.lists(st.tuples(st.integers(0, 2), st.sampled_from([4, 8])), min_size=2, max_size=12), max_size=4
    ),
)
def test_the_longest_shared_figure_is_that_of_brute_force(mine, others) -> None:
    def study(line: list[tuple[int, int]]) -> Study:
        return with_line([60 + p for p, _ in line], onsets_of([g for _, g in line]))

    def moves(line: list[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(b[0] - a[0], b[1]) for a, b in pairwise(line)]

    found = longest_shared(study(mine), iter([study(line) for line in others]))
    lengths = [brute_longest(moves(mine), moves(line)) for line in others]
    assert (found.order if found else 0) == max(lengths, default=0)
    if found:
        assert found.earlier == lengths.index(found.order)
        for line, place in ((mine, found.here), (others[found.earlier], found.there)):
            at = onsets_of([g for _, g in line]).index(place.onset)
            assert moves(line)[at : at + found.order]
        here, there = (
            moves(line)[(k := onsets_of([g for _, g in line]).index(place.onset)) : k + found.order]
            for line, place in ((mine, found.here), (others[found.earlier], found.there))
        )
        assert here == there


def test_a_shared_figure_is_told_with_its_place_in_both() -> None:
    old = with_line([70, 60, 63, 65, 60], [0, 8, 12, 16, 24])
    new = with_line([50, 53, 55, 50, 58], [4, 8, 12, 20, 21])
    found = longest_shared(new, [with_line([60, 61], [0, 1]), old])
    assert found is not None
    assert (found.order, found.earlier, found.here, found.there) == (3, 1, Place(0, 4), Place(0, 8))


def test_nothing_in_common_is_told_as_nothing() -> None:
    new = with_line([60, 62], [0, 4])
    assert longest_shared(new, []) is None
    assert longest_shared(new, [with_line([60, 61], [0, 4])]) is None


def test_novelty_is_the_share_of_figures_not_heard_before() -> None:
    new = with_line(
        [60, 62, 65, 64, 60], [0, 4, 8, 12, 16]
    )  # moves 2 3 -1 -4, a figure of two moves each pair
    half = with_line([50, 52, 55, 54], [0, 4, 8, 12])
    third = with_line([50, 52, 55], [0, 4, 8])
    found = novelty(new, [third, half], 2)
    assert found.share == pytest.approx(1 / 3)
    assert found.closest == 1
    assert novelty(new, [new], 2).share == 0
    nothing = novelty(new, [], 2)
    assert (nothing.share, nothing.closest) == (1, None)
    assert novelty(new, [new], 9).share == 1


def test_what_is_avoided_is_avoided_whatever_the_key() -> None:
    rng = random.Random(3)
    old = [rng.randrange(50, 70) for _ in range(8)]
    onsets = list(range(0, 32, 4))
    avoid = Avoid(3, figures(with_line(old, onsets), 3))
    assert not avoid.allows([*[p + 5 for p in old[2:6]], 40], [0, 4, 8, 12, 14])
    assert avoid.allows(old[:3], onsets[:3])
