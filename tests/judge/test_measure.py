"""Music measures: against plain counts on studies made by hand, and against what every study must give."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from lickwright.cli import main
from lickwright.guitar.neck import Neck
from lickwright.judge.measure import MEASURES, fitted_bands, measured, measured_lick
from lickwright.rulebook.load import style_names
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.music import BandsTable, MusicTable
from lickwright.study.json_text import to_json
from lickwright.study.model import ChordSpan, Event, Note, Slot, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.render.any_study import studies
from tests.studies import bend, tour

PLACES = {
    "E": (4, 2),
    "G": (3, 0),
    "A": (3, 2),
    "C": (2, 1),
    "D": (2, 3),
    "e": (1, 0),
    "g": (1, 3),
    "C#": (2, 2),
}


def lick(
    *notes: tuple[str, int, int], more: dict[int, dict[str, object]] | None = None, **slot: object
) -> Study:
    """A study in A whose only lick has these notes: (name, onset, ticks); ``more`` has options by number."""
    neck, events = Neck(), []
    for number, (name, onset, ticks) in enumerate(notes):
        string, fret = PLACES[name]
        made = Note(
            string, fret, 1 if fret else 0, neck.pitch(string, fret), "1", **(more or {}).get(number, {})
        )
        events.append(Event(f"e{number}", 0, onset, ticks, (made,), "I7", 1))
    end = max(48, events[-1].end)
    return replace(
        tour(), neck=neck, slots=(Slot(0, SlotKind.LICK, 0, 0, end, "A", **slot),), events=tuple(events)
    )


def value(study: Study, name: str) -> float | None:
    return next(row.value for row in measured(study) if row.measure.name == name)


def test_every_measure_has_a_band_in_the_schema_and_a_sentence() -> None:
    assert [m.name for m in MEASURES] == list(BandsTable.model_fields)
    assert len({m.label for m in MEASURES}) == len(MEASURES)
    for measure in MEASURES:
        assert measure.sentence.endswith(".")
        assert len(measure.label) <= 26


# E up to A, C, down to A, up a sixth to e with a step back to D: A7 has A C# E G
LINE = lick(("A", 4, 4), ("C", 8, 4), ("A", 12, 8), ("g", 20, 4), ("e", 24, 4), ("A", 32, 12))


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("notes", 6),
        ("room", 1 - 24 / 48),  # 4 + 4 + 8 + 4 + 4 ticks of quick notes, the last one is held
        ("off_the_beat", 1),
        ("syncopation", 1 / 6),  # the last note starts on tick 32 and sounds over tick 36
        ("landing_beats", 1),
        ("steps", 3 / 5),  # A-C, C-A, g-e; A-g is a minor seventh, e-A a fifth
        ("leaps", 2 / 5),
        ("leaps_answered", 1),  # A-g comes back by a minor third; e-A is the last move
        ("longest_run", 2),
        ("most_repeats", 1),
        ("pitches", 4),
        ("compass", 10),
        ("one_peak", 1),
        ("peak_place", 16 / 28),
        ("comes_down", 1),
        ("strong_tones", 1),  # e on beat 3
        ("long_tones", 1),
        ("landings_in_chord", 1),
        ("landing_degrees", 1),
        ("bends", 0),
        ("legato", 0),
        ("windows", 1),
    ],
)
def test_a_line_measured_by_hand(name: str, expected: float) -> None:
    assert value(LINE, name) == pytest.approx(expected)


def test_runs_are_counted_in_notes_and_broken_by_turns_leaps_and_repeats() -> None:
    run = lick(("A", 0, 4), ("C", 4, 4), ("D", 8, 4), ("e", 12, 4), ("g", 16, 12))
    assert value(run, "longest_run") == 5
    broken = lick(("A", 0, 4), ("C", 4, 4), ("C", 8, 4), ("D", 12, 4), ("A", 16, 4), ("g", 20, 12))
    assert value(broken, "longest_run") == 2
    assert value(broken, "most_repeats") == 2


def test_a_bend_counts_where_it_goes() -> None:
    bent = lick(("A", 0, 12), ("D", 12, 12), more={1: {"bend": bend("bend", 4, 12)}})
    assert value(bent, "bends") == 1
    assert value(bent, "compass") == 7  # A to E, a fifth
    assert value(bent, "landings_in_chord") == 1
    curled = lick(("A", 0, 12), ("C", 12, 12), more={1: {"bend": bend("bend", 1, 12)}})
    assert value(curled, "bends") == 0
    assert value(curled, "techniques") == 1


def test_a_way_home_that_takes_up_the_figure_as_it_is_or_upside_down_develops_it() -> None:
    notes = (("A", 4, 4), ("C", 8, 4), ("A", 12, 4), ("D", 16, 4), ("e", 20, 4), ("D", 24, 24))
    assert value(lick(*notes, figure_notes=3), "develops") == 1
    assert value(lick(*notes[:3], ("e", 16, 4), ("D", 20, 4), ("C", 24, 24), figure_notes=3), "develops") == 0
    assert value(lick(*notes[:3], ("e", 16, 4), ("D", 20, 4), ("e", 24, 24), figure_notes=3), "develops") == 1
    assert value(lick(*notes), "develops") is None


def test_the_ways_of_a_figure_that_are_kept_are_counted() -> None:
    study = tour()
    slots = tuple(replace(s, quotes=0, figure_notes=4) if s.number == 2 else s for s in study.slots)
    # up-level-down... of slot 0 (E G, bent E, C) against slot 2, read off the tour: up, up, down and down, up, down
    kept = value(replace(study, slots=slots), "fidelity")
    ours = [e.notes for e in study.events_of(2)[:4]]
    model = [e.notes for e in study.events_of(0)[:4]]

    def ways(rows: list[tuple[Note, ...]]) -> list[int]:
        tops = [max(n.sounding2 for n in notes) for notes in rows]
        return [(b > a) - (b < a) for a, b in pairwise(tops)]

    same = sum(a == b for a, b in zip(ways(ours), ways(model), strict=True))
    assert kept == pytest.approx(same / 3)


def test_the_third_of_five_is_asked_of_licks_over_five_only() -> None:
    study = tour()
    assert value(study, "third_of_five") is None
    over = tuple(replace(span, roman="V7") for span in study.form)
    assert value(replace(study, form=over), "third_of_five") == 0
    sharp = lick(("E", 0, 12), ("C#", 12, 12), ("E", 24, 12))
    assert value(replace(sharp, form=over), "third_of_five") == 0
    passing = lick(("E", 0, 12), ("C#", 12, 12))
    assert value(replace(passing, form=over), "third_of_five") is None
    moved = replace(sharp.events[0], notes=(Note(3, 1, 1, Neck().pitch(3, 1), "3"),))  # G sharp over E7
    assert value(replace(sharp, form=over, events=(moved, *sharp.events[1:])), "third_of_five") == 1


def test_the_answers_of_the_tour_measured_by_hand() -> None:
    study = tour()
    assert value(study, "hits") == (5 + 3) / 2
    # a bass note on beat 1, four grips, one of them dead; then three grips, one with a tied voice
    assert value(study, "strings_a_grip") == pytest.approx((3 + 3 + 4 + 3 + 2 + 4) / 6)
    assert value(study, "hits_off_the_beat") == 1 / 8
    assert value(study, "quoting") == 0


def test_a_note_struck_early_belongs_to_the_chord_that_it_sounds_over() -> None:
    study = lick(("A", 0, 12), ("D", TICKS_PER_BAR - 4, 28))
    early = replace(
        study, form=(ChordSpan(0, TICKS_PER_BAR, "I7"), ChordSpan(TICKS_PER_BAR, study.ticks, "IV7"))
    )
    assert value(early, "landings_in_chord") == 1
    assert value(study, "landings_in_chord") == 0


def test_answers_keep_a_rhythm_as_far_as_they_strike_together() -> None:
    study = tour()
    first, second = (s for s in study.slots if s.kind is SlotKind.COMP)
    spans = [{t % TICKS_PER_BAR for t in range(s.start, s.end)} for s in (first, second)]
    strikes = [
        {e.onset % TICKS_PER_BAR for e in study.events_of(s.number)} & spans[0] & spans[1]
        for s in (first, second)
    ]
    assert value(study, "riff") == pytest.approx(len(strikes[0] & strikes[1]) / len(strikes[0] | strikes[1]))
    one = tuple(e for e in study.events if e.slot != 3)
    assert value(replace(study, events=one), "riff") is None


def test_a_climax_is_on_top_when_nothing_is_higher() -> None:
    study = tour()
    assert value(study, "climax_on_top") is None
    for number in (0, 2):
        slots = tuple(replace(s, role="climax") if s.number == number else s for s in study.slots)
        peaks = [max(n.sounding2 for e in study.events_of(k) for n in e.notes) for k in (0, 2)]
        assert value(replace(study, slots=slots), "climax_on_top") == float(peaks[number // 2] == max(peaks))


def test_one_lick_by_itself_is_what_the_table_says_of_it() -> None:
    study = tour()
    rows = measured(study)
    for n, slot in enumerate((0, 2)):
        alone = {m.name: v for m, v in measured_lick(study, slot)}
        assert alone == {r.measure.name: r.licks[n] for r in rows if r.measure.of_lick}
    assert measured_lick(study, 1) == ()


@given(studies())
@settings(max_examples=40, deadline=None)
def test_any_study_can_be_measured_and_shares_are_shares(study: Study) -> None:
    for row in measured(study):
        for found in (row.value, *row.licks):
            assert row.measure.show(found)
            if found is not None and row.measure.unit == "share":
                assert -1e-9 <= found <= 1 + 1e-9, row.measure.name


def test_a_study_with_nothing_in_it_has_no_values_to_show() -> None:
    empty = replace(tour(), events=())
    assert all(row.value is None or not row.outside for row in measured(empty))


def test_a_value_outside_its_band_is_marked_as_it_is_shown() -> None:
    music = MusicTable(bands=BandsTable(notes=(6, 6), bends=(1, 9), room=(0.5, 0.5)))
    rows = {row.measure.name: row for row in measured(LINE, music)}
    assert not rows["notes"].outside
    assert rows["bends"].outside
    assert not rows["room"].outside
    assert rows["bends"].show_band() == "1-9"
    assert rows["room"].show_band() == "50%"
    assert rows["steps"].show_band() == "-"


def test_bands_fitted_on_studies_hold_most_of_them() -> None:
    found = [tour(key) for key in ("A", "C", "D")] + [LINE]
    bands = fitted_bands(found, share=1.0)
    table = MusicTable(bands=BandsTable.model_validate(bands))
    assert not any(row.outside for study in found for row in measured(study, table))


def test_bands_leave_out_as_many_studies_as_they_are_told_to() -> None:
    found = [replace(tour(), tempo_bpm=60)] * 9 + [LINE]
    table = MusicTable(bands=BandsTable.model_validate(fitted_bands(found, share=0.9)))
    outside = [any(row.outside for row in measured(study, table)) for study in found]
    assert outside == [False] * 9 + [True]


@pytest.mark.parametrize("style", style_names())
def test_every_shipped_style_says_what_is_usual(style: str) -> None:
    _, rules = read_rules(style)
    assert rules.music.bands.notes is not None


def test_the_table_has_the_marks_and_the_sentences(tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    study = replace(tour(), brief=replace(tour().brief, style="slow-shuffle"))
    (tmp_path / "tour.json").write_text(to_json(study), encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "tour.json", "--music"])
    assert done.exit_code == 1  # the tour keeps no style's rules
    assert "notes in a lick" in done.output
    assert "! landings on chord tones: " in done.output
    assert "How many licks end on a note of the chord under it." in done.output
    assert all(len(line) <= 80 for line in done.output.split("! ")[0].splitlines())


def test_a_band_that_cannot_be_is_named_with_its_key(tmp_path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        'include = ["slow-shuffle"]\n[music.bands]\nnotes = [9, 5]\nrom = [0, 1]\nlegato = [0, 3]\n'
    )
    done = CliRunner().invoke(main, ["rules", "check", str(file)])
    assert done.exit_code == 2
    assert "music.bands.notes" in done.output
    assert "the lower comes first" in done.output
    assert "did you mean room" in done.output
    assert "a share lies from 0 to 1" in done.output


def test_legato_and_positions_are_those_of_the_lead() -> None:
    slurred = lick(("A", 0, 4), ("C", 4, 8), ("C#", 12, 12), more={2: {"technique": Technique.HAMMER_ON}})
    assert value(slurred, "legato") == pytest.approx(1 / 3)
    assert json.loads(to_json(slurred))["events"][2]["notes"][0]["technique"] == "hammer-on"
