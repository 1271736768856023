"""What the words say of a study is so in its notes: positions, reasons, bars, climaxes, in many studies."""

from __future__ import annotations

import re
from functools import cache
from itertools import groupby, pairwise

import pytest
from lickwright.render.words.terms import ORDINALS
from lickwright.render.words.text import PhraseWords, phrase_words, study_words
from lickwright.study.model import Event, Phrase, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.written import a_study

#: Style, key, seed, level: several of each, among them studies whose licks lie in two positions.
CASES = (
    ("eight-bar", "G", 2, None), ("eight-bar", "E", 3, "fluent"), ("two-chorus", "A", 6, None),
    ("two-chorus", "C", 4, None), ("slow-shuffle", "A", 7, None), ("slow-shuffle", "A", 31, None),
    ("slow-shuffle", "A", 32, None), ("slow-shuffle", "A", 33, None), ("slow-shuffle", "E", 21, "first-year"),
    ("sixteen-bar", "Eb", 106, "first-year"), ("minor-slow", "A", 42, None), ("minor-slow", "D", 12, "first-year"),
    ("sixteen-bar", "F", 8, None), ("sixteen-bar", "E", 2, None), ("quick-shuffle", "E", 3, None),
    ("quick-shuffle", "C", 4, "fluent"), ("rhumba", "C", 4, None), ("rhumba", "F", 3, None),
    ("straight", "A", 1, None), ("straight", "D", 9, "fluent"),
)  # fmt: skip
Case = tuple[str, str, int, str | None]
STUDIES = pytest.mark.parametrize("case", CASES, ids=lambda c: "-".join(map(str, c)))
ORDINAL = re.compile(r"\bthe (" + "|".join(sorted(ORDINALS[1:], key=len, reverse=True)) + r")\b")


def study_of(case: Case) -> Study:
    return a_study(*case)


@cache
def words_of(case: Case) -> tuple[PhraseWords, ...]:
    return phrase_words(study_of(case))


def kind_of(study: Study, event: Event) -> SlotKind:
    return study.slots[event.slot].kind


def positions(study: Study, phrase: Phrase) -> list[tuple[int, str]]:
    """The positions of a phrase's licks, in order, each with the bar in which it is taken."""
    numbers = {s.number for s in study.slots_of(phrase.number)}
    licks = [e for e in study.events if e.slot in numbers and kind_of(study, e) is SlotKind.LICK]
    runs = [next(run) for _, run in groupby(licks, key=lambda e: e.hand)]
    return [(e.hand, f"bar {e.onset // TICKS_PER_BAR + 1}") for e in runs]


@STUDIES
def test_the_places_told_for_a_phrase_are_those_of_its_licks_in_order(
    case: tuple[str, str, int, str | None],
) -> None:
    study = study_of(case)
    for phrase, words in zip(study.phrases, words_of(case), strict=True):
        told = [ORDINALS.index(word) for word in ORDINAL.findall(words.hand.replace("the first lick", ""))]
        is_so = positions(study, phrase)
        assert told == [fret for fret, _ in is_so], words.hand
        bars = [bar for _, bar in is_so[1:]]
        assert re.findall(r"bar \d+", words.hand)[-len(bars) :] == bars or not bars, words.hand


@STUDIES
def test_the_hand_stays_or_moves_as_it_is_told_to(case: Case) -> None:
    study = study_of(case)
    before: int | None = None
    for phrase, words in zip(study.phrases, words_of(case), strict=True):
        is_so = positions(study, phrase)
        (first, bar), opening = is_so[0], words.hand.split(";")[0]
        assert re.search(r"[Ss]tay|[Kk]eep|back|again|returns", opening) is None or before == first, opening
        assert re.search(r"[Tt]ake|[Mm]ove", opening) is None or before not in (None, first), opening
        assert before in (None, first) or f"in {bar}" in opening.lower(), opening
        frets = [fret for fret in (before, *(fret for fret, _ in is_so)) if fret is not None]
        ups = ["up" if b > a else "down" for a, b in pairwise(frets) if a != b]
        told = re.findall(r"\b(up|down|back|on|take the hand|move) to the", words.hand)
        if before == first and told[:1] == ["back"]:  # the comping in between lay elsewhere
            told = told[1:]
        assert all(
            word in (way, "back", "on", "take the hand", "move") for word, way in zip(told, ups, strict=False)
        )
        before = is_so[-1][0]


@STUDIES
def test_the_hand_only_stays_where_the_comping_in_between_lies_too(
    case: tuple[str, str, int, str | None],
) -> None:
    study = study_of(case)
    for phrase, words in zip(study.phrases, words_of(case), strict=True):
        if not re.match(r"Keep|Stay|The (first )?(\w+ )?licks? stays?", words.hand):
            continue
        licks = [e for e in study.events if kind_of(study, e) is SlotKind.LICK]
        first = next(e for e in licks if study.slots[e.slot].phrase == phrase.number)
        last = licks[licks.index(first) - 1]
        between = study.events[study.events.index(last) : study.events.index(first) + 1]
        assert {e.hand for e in between if any(n.fret for n in e.notes)} <= {first.hand}, words.hand


@STUDIES
def test_the_opening_names_every_place_of_the_licks_and_no_other(
    case: tuple[str, str, int, str | None],
) -> None:
    study = study_of(case)
    frets = {e.hand for e in study.events if kind_of(study, e) is SlotKind.LICK}
    text = study_words(study)
    said = re.search(r"index finger at the ([\w, -]+) frets?\.", text)
    assert said is not None, text
    assert {ORDINALS.index(w) for w in re.split(r", | and ", said[1])} == frets


@STUDIES
def test_no_chord_is_a_reason_for_a_change_where_the_model_had_it_too(case: Case) -> None:
    study = study_of(case)
    spoken_of = [said for words in words_of(case) for said in words.body if said.kind is SlotKind.LICK]
    for said in spoken_of:
        claim = re.search(
            r"over (\S+?):|now that (\S+) sounds|fitted to (\S+?):|taken from (\S+?):", said.text
        )
        slot = study.slots[said.slots[0]]
        if claim is None or slot.quotes is None:
            continue
        named = next(group for group in claim.groups() if group)
        ours, theirs = study.events_of(slot.number), study.events_of(slot.quotes)
        changed = [(old, new) for old, new in zip(theirs, ours, strict=False) if sounds(old) != sounds(new)]
        over = {study.chord(new.chord).symbol: study.chord(new.chord) for _, new in changed}
        assert named in over, said.text
        assert study.chord(changed[0][0].chord).symbol != named, said.text
        if "now over" not in said.text and "with changed notes" not in said.text:
            assert sounds(changed[0][1]) % 12 in over[named].tones, said.text


def sounds(event: Event) -> int:
    """The pitch of the highest note that an event arrives at."""
    return max(n.sounding2 for n in event.notes if not n.muted) // 2


@STUDIES
def test_every_grip_is_told_of_the_bar_in_which_it_is_struck(case: Case) -> None:
    study = study_of(case)
    grips = [e for e in study.events if kind_of(study, e) is SlotKind.COMP and len(e.notes) > 1]
    symbols = {study.chord(e.chord).symbol for e in grips}
    comping = [said for words in words_of(case) for said in words.body if said.kind is SlotKind.COMP]
    for sentence in (s for said in comping for s in re.split(r"(?<=\.) ", said.text)):
        bar = int(re.findall(r"[Bb]ar (\d+)", sentence)[0])
        there = [e for e in grips if e.onset // TICKS_PER_BAR + 1 == bar]
        told = {word.strip(",.:") for word in re.sub(r" into \S+", "", sentence).split()} & symbols
        assert told <= {study.chord(e.chord).symbol for e in there}, sentence
        strings = {"-".join(str(n.string) for n in sorted(e.notes, key=lambda n: -n.string)) for e in there}
        assert set(re.findall(r"strings ([\d-]+)\)", sentence)) <= strings, sentence


@STUDIES
def test_a_bar_said_to_comp_as_another_did_has_its_grips(case: Case) -> None:
    study = study_of(case)
    text = " ".join(words.text for words in words_of(case))
    pattern = r"Bar (\d+) comps as bar (\d+) did|comping in bar (\d+) is that of bar (\d+)"
    for claim in re.finditer(pattern, text):
        later, earlier = (int(number) - 1 for number in claim.groups() if number)
        assert struck_in(study, later) == struck_in(study, earlier), claim[0]


def struck_in(study: Study, bar: int) -> list[tuple[int, str, list[tuple[int, int]]]]:
    """The grips of a bar: when in the bar, over which chord, where."""
    return [
        (e.onset % TICKS_PER_BAR, e.chord, [(n.string, n.fret) for n in e.notes])
        for e in study.events
        if e.onset // TICKS_PER_BAR == bar and kind_of(study, e) is SlotKind.COMP and len(e.notes) > 1
    ]


@STUDIES
def test_the_same_notes_are_played_as_they_are_said_to_be(case: Case) -> None:
    study = study_of(case)
    for said in (said for words in words_of(case) for said in words.body if said.kind is SlotKind.LICK):
        slot = study.slots[said.slots[0]]
        if slot.quotes is None or "the same notes" not in said.text:
            continue
        whole = re.search(r" brings back | says lick \S+ again", said.text) is not None
        length = None if whole else slot.figure_notes or study.slots[slot.quotes].figure_notes
        pairs = list(
            zip(study.events_of(slot.quotes)[:length], study.events_of(slot.number)[:length], strict=False)
        )
        assert all(sounds(old) == sounds(new) and len(old.notes) == len(new.notes) for old, new in pairs), (
            said.text
        )
        others = [old.melody.string != new.melody.string for old, new in pairs]
        at = re.search(r"played at the (\S+) fret", said.text)
        if at is not None:
            assert all(new.hand == ORDINALS.index(at[1]) != old.hand for old, new in pairs), said.text
        if "on other strings" in said.text:
            assert sum(others) > 1, said.text
        if "on another string" in said.text:
            assert sum(others) == 1, said.text


@STUDIES
def test_one_lick_of_a_chorus_is_called_its_climax_the_highest_planned_as_one(case: Case) -> None:
    study = study_of(case)
    chorus = 12 if study.bars % 12 == 0 else study.bars
    called: dict[int, list[int]] = {}
    planned: dict[int, list[int]] = {}
    for words in words_of(case):
        number = words.first_bar // chorus
        for said in words.body:
            peak = max(sounds(e) for e in study.events_of(said.slots[0]) if not all(n.muted for n in e.notes))
            if study.slots[said.slots[0]].role == "climax":
                planned.setdefault(number, []).append(peak)
            if "climax" in said.text:
                called.setdefault(number, []).append(peak)
    assert called == {number: [max(peaks)] for number, peaks in planned.items()}
