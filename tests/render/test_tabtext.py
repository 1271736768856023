"""Text tab: everything in the study is on the page, at its column, and nothing leaves the page."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.render.tab.layout import System, TooNarrowError
from lickwright.render.tab.signs import inks
from lickwright.render.tab.text import string_names, systems, tab, tab_lines
from lickwright.render.tab.together import tab_together
from lickwright.render.words.text import CAUTIONS
from lickwright.study.model import Event, Note, Study

from tests.render.any_study import KEYS, WRITTEN, studies
from tests.studies import tour

#: Shrinking a whole study takes minutes and tells little more.
NO_SHRINK = (Phase.explicit, Phase.reuse, Phase.generate)


def blocks(lines: list[str], study: Study) -> list[list[str]]:
    """The lines of each system, cut at empty lines."""
    found: list[list[str]] = [[]]
    for line in lines:
        if line:
            found[-1].append(line)
        else:
            found.append([])
    return [b for b in found if b]


def string_rows(block: list[str], study: Study) -> list[str]:
    """The rows of a system that are strings, from the first string."""
    names = "|".join(sorted(map(re.escape, string_names(study.neck)), key=len, reverse=True))
    return [line for line in block if re.match(rf"(?:{names}) ?[|:][-\d]|(?:{names}) ?[|:]", line)]


def drawn(study: Study, **options: object) -> list[tuple[System, list[str], str]]:
    """Each system of a study with its string rows and its count row."""
    width = int(options.get("width", 80))  # type: ignore[call-overload]
    laid = systems(study, 0, study.bars - 1, width=width)
    cut = blocks(tab_lines(study, 0, study.bars - 1, width=width), study)
    assert len(laid) == len(cut)
    return [(s, string_rows(b, study), b[-1]) for s, b in zip(laid, cut, strict=True)]


def as_struck(event: Event, note: Note) -> str:
    return "x" if note.muted else str(note.fret)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize(("meter", "grid"), WRITTEN)
def test_every_fret_stands_on_its_string_at_its_column(key: str, meter: str, grid: str) -> None:
    study = tour(key, meter, grid)
    for system, rows, _ in drawn(study):
        assert len(rows) == study.neck.strings
        for event, note in study.notes():
            if system.first_tick <= event.onset < system.end_tick:
                assert rows[note.string - 1][system.column(event.onset) :].startswith(as_struck(event, note))


@settings(max_examples=60, deadline=None, phases=NO_SHRINK)
@given(studies(), st.integers(80, 140))
def test_whatever_is_played_nothing_is_lost_and_nothing_leaves_the_page(study: Study, width: int) -> None:
    on_page: dict[int, str] = dict.fromkeys(range(1, study.neck.strings + 1), "")
    for system, rows, count in drawn(study, width=width):
        assert system.columns <= width
        assert all(len(row) == system.columns for row in rows)
        assert len(count) <= width
        for string, row in enumerate(rows, 1):
            on_page[string] += re.sub(r"[-|:~]", "", row[system.margin :])
        for event, note in study.notes():
            if system.first_tick <= event.onset < system.end_tick:
                column = system.column(event.onset)
                assert rows[note.string - 1][column:].startswith(as_struck(event, note))
                assert count[column] in "1234&ea'"
    for string, text in on_page.items():
        written = "".join(mark.text for mark in inks(study) if mark.string == string)
        assert text == written.replace("~", "")


@settings(max_examples=40, deadline=None, phases=NO_SHRINK)
@given(studies(), st.integers(80, 132), st.booleans())
def test_no_line_of_the_sheet_is_longer_than_the_page(study: Study, width: int, fingers: bool) -> None:
    text = tab(study, width=width, fingers=fingers)
    assert text.endswith("\n")
    assert max(map(len, text.splitlines())) <= width
    assert not any(line != line.rstrip() for line in text.splitlines())


@settings(max_examples=40, deadline=None, phases=NO_SHRINK)
@given(studies())
def test_later_is_further_right_and_time_runs_evenly_within_a_beat(study: Study) -> None:
    for system in systems(study, 0, study.bars - 1):
        ticks = range(system.first_tick, system.end_tick)
        columns = [system.column(t) for t in ticks]
        assert columns == sorted(columns)
        onsets = [e.onset for e in study.events if e.onset in ticks]
        assert all(system.column(a) + 2 <= system.column(b) for a, b in pairwise(onsets))
        for beat in range(system.first_tick, system.end_tick, 12):
            first, half = system.column(beat), system.column(beat + 6)
            assert abs((half - first) - (system.column(beat + 11) - first) * 6 / 11) <= 1


def test_where_nothing_is_crowded_all_bars_are_spaced_alike() -> None:
    study = replace(tour("A"), events=tuple(e for e in tour("A").events if e.onset < 48 and e.onset != 16))
    widths = {w for s in systems(study, 0, 3) for segment in s.segments for w in segment.widths}
    assert len(widths) == 1


def test_the_same_pitch_is_printed_at_its_places_on_the_neck() -> None:
    # E4 is string/fret 1/0, 2/5, 3/9, 4/14: Radicioni and Lombardo, ICMC 2005, figure 1.
    study = tour("A")
    neck = Neck()
    events = tuple(
        Event(f"e{k}", 0, 12 * k, 12, (Note(string, fret, 1 if fret else 0, 64, "5"),), "I7", 5)
        for k, (string, fret) in enumerate(neck.places(64)[:4])
    )
    ((_, rows, _), *_) = drawn(replace(study, neck=neck, events=events))
    assert [re.findall(r"\d+", row) for row in rows[:4]] == [["0"], ["5"], ["9"], ["14"]]


def test_the_signs_are_those_that_players_know() -> None:
    text = tab(tour("A"))  # common practice, no source
    for sign in ("h8", "7b9r7p5", "/7~", "8b¼", "8b10", "7pb9r7p5", "5tr6", "(6)", "4/5", "5h6.", "x"):
        assert sign in text, sign


def test_the_legend_explains_the_signs_that_occur_and_no_others() -> None:
    study = tour("A")
    assert "5tr6 trill" in tab(study)
    plain = replace(study, events=study.events[:1])
    assert "trill" not in tab(plain)
    assert "Signs" not in tab(plain)


def test_the_count_names_strokes_and_tells_ringing_from_silence() -> None:
    ((_, _, count), *_) = drawn(replace(tour("A"), events=tour("A").events[:3], bars=1, phrases=()))
    assert count.split() == list("1&a2&-3..4..")


def test_straight_sixteenths_are_counted_with_e_and_a() -> None:
    rows = [count for _, _, count in drawn(tour("A", "4/4", "straight"))]
    assert "e" in "".join(rows)
    assert "&" in "".join(rows)


def test_bars_are_numbered_and_chords_stand_where_they_change() -> None:
    study = tour("A")
    lines = tab_lines(study, 0, 3)
    system = systems(study, 0, 3)[0]
    chords = next(line for line in lines if "D7" in line)
    assert chords.index("D7") == system.column(48 + 36)
    assert re.match(r" 1 +A7 +2 ", chords)


def test_a_grip_that_leads_ahead_of_the_bar_is_named_in_brackets() -> None:
    study = tour("A")
    early = replace(study.events[9], id="x", onset=48 + 40, duration=8, chord="V7")
    text = tab(replace(study, events=(*study.events[:10], early)))
    assert "(E7)" in text
    assert "another chord than the bar's" in text
    assert "another chord than the bar's" not in tab(study)


def test_who_speaks_is_written_over_the_strings() -> None:
    text = tab(tour("A"))
    assert "lick A, question" in text
    assert "comp" in text


def test_slots_without_names_are_still_told_apart() -> None:
    study = tour("A")
    bare = replace(study, slots=tuple(replace(s, name="", role="", windows=()) for s in study.slots))
    over = [line.split() for line in tab(bare).splitlines() if "comp" in line]
    assert over == [["1", "lick", "2", "comp"], ["3", "lick", "4", "comp"]]


def test_fingers_are_printed_on_request_under_each_stroke() -> None:
    study = tour("A")
    system = systems(study, 0, 3)[0]
    lines = tab_lines(study, 0, 3, fingers=True)
    top = lines[lines.index(next(line for line in lines if line.startswith("E|"))) + 1]
    for event in study.events:
        if event.onset < system.end_tick:
            first = min(event.notes, key=lambda n: n.string)
            assert top[system.column(event.onset)] == str(first.finger)
    assert "Fingers: 1 index" in tab(study, fingers=True)
    assert "Fingers:" not in tab(study)


@pytest.mark.parametrize(
    ("tuning", "names"),
    [
        ("standard", "e B G D A E"),
        ("drop D", "E B G D A D"),
        ("DADGAD", "d A G D A D"),
        ("half a step down", "eb Bb Gb Db Ab Eb"),
        ("open E", "e B G# E B E"),
        ("seven strings", "e B G D A E B"),
        ("bass", "G D A E"),
    ],
)
def test_strings_are_called_by_their_tuning(tuning: str, names: str) -> None:
    # The notes of the tunings: common practice, no source.
    assert " ".join(string_names(Neck(TUNINGS[tuning]))) == names


def test_tuning_and_capo_are_told_when_they_are_not_the_usual_ones() -> None:
    study = tour("A")
    assert "Tuning" not in tab(study)
    other = replace(study, neck=Neck(TUNINGS["drop D"], capo=2))
    assert "Tuning: drop D, D A D G B E, low to high; capo at fret 2" in tab(other)


def test_the_head_says_title_number_key_feel_and_tempo() -> None:
    head = tab(tour("Eb", "4/4")).splitlines()[:2]
    assert head[0].startswith("A tour of signs")
    assert head[0].endswith("No. 3")
    assert head[1] == "Key of Eb, shuffle in 4/4, eighths swung, quarter = 112, fluent"


def test_control_characters_in_a_title_do_not_reach_the_terminal() -> None:
    study = replace(tour("A"), title="Red\x1b[31m\u202e alert\nnow\x07", level="flu\x00ent")
    text = tab(study)
    assert text.startswith("Red[31m alert now ")
    assert all(c == "\n" or c.isprintable() for c in text)


def test_a_study_without_title_or_phrases_is_printed_all_the_same() -> None:
    text = tab(replace(tour("A", repeats=2), title="\x07", number=None, phrases=()))
    assert text.startswith("Study in A\n")
    assert "Phrase 2, bars 5-8" in text


def test_a_narrow_page_cuts_a_full_bar_and_marks_where_it_goes_on() -> None:
    text = tab(tour("Bb", "4/4"), width=40)
    assert max(map(len, text.splitlines())) <= 40
    assert "e:" in text


def test_a_page_too_narrow_is_refused_with_the_width_that_would_do() -> None:
    with pytest.raises(TooNarrowError, match="use 36 or more"):
        tab(tour("A"), width=20)


def test_bars_that_the_study_does_not_have_are_refused() -> None:
    with pytest.raises(ValueError, match="bars 1 to 4"):
        tab_lines(tour("A"), 2, 4)


def test_several_studies_stand_one_under_another_with_ticks_aligned() -> None:
    one, two = tour("A"), tour("Bb")
    lines = tab_together([one, two], 0, 0, labels=["first", "second"])
    counts = [re.search(r"^ +1[^A-Z]*$", line) for line in lines]
    rows = [m.group() for m in counts if m and "." not in m.group()[:3]]
    places = [[i for i, c in enumerate(row) if c in "1234"] for row in rows]
    assert len(places) == 2
    assert places[0] == places[1]
    assert lines[0] == "first"
    assert "second" in lines


def test_studies_on_different_grids_are_not_compared() -> None:
    with pytest.raises(ValueError, match="same grid"):
        tab_together([tour("A"), tour("A", "4/4", "straight")], 0, 0)


def test_the_cautions_are_on_the_sheet() -> None:
    text = " ".join(tab(tour("A")).split())
    assert all(caution in text for caution in CAUTIONS)


def test_a_vibrato_is_drawn_no_longer_than_the_note_and_never_over_another() -> None:
    for system, rows, _ in drawn(tour("A")):
        for row in rows:
            assert "~~~~~" not in row
            assert len(row) == system.columns
