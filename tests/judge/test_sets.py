"""The published set measures: against the same features read from the MIDI file, and against scipy's densities."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pretty_midi
import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.judge.sets import FEATURES, NOTE_LENGTHS, _compared, between, features, spreads
from lickwright.render.midi.write import midi
from lickwright.study.json_text import to_json
from lickwright.study.model import SlotKind, Study, Technique
from scipy.stats import entropy, gaussian_kde

from tests.studies import tour


def plain_lead(study: Study) -> Study:
    """The study's licks alone, every note struck once at one pitch, so that a MIDI note is a note."""
    events = []
    for event in study.events:
        if study.slots[event.slot].kind is SlotKind.LICK:
            note = max(event.notes, key=lambda n: n.sounding2)
            note = replace(note, technique=Technique.PLUCK, bend=None, grace=None, trill=None, vibrato=False)
            events.append(replace(event, notes=(note,), staccato=False, ring=0))
    return replace(study, events=tuple(events))


def read_from_midi(study: Study) -> list[np.ndarray]:
    """The features as the paper names them, from the file alone: numpy on what pretty_midi reads."""
    data = pretty_midi.PrettyMIDI(io.BytesIO(midi(study)))
    found = sorted((n.start, n.end, n.pitch) for track in data.instruments for n in track.notes)
    beat = 60 / study.tempo_bpm
    quarter = beat / 1.5 if study.meter == "12/8" else beat
    rows = np.array([(start / beat, (end - start) / quarter, pitch) for start, end, pitch in found])
    # notes of one lick: a slot's bars in beats from the start
    licks = [
        rows[(rows[:, 0] >= s.start / 12 - 0.01) & (rows[:, 0] < s.end / 12 - 0.01)]
        for s in study.slots
        if s.kind is SlotKind.LICK
    ]
    pitch_of = [lick[:, 2].astype(int) for lick in licks]
    names = np.array(NOTE_LENGTHS)
    length_of = [np.array([np.abs(np.log2(names / q)).argmin() for q in lick[:, 1]]) for lick in licks]

    def transitions(rows: Sequence[np.ndarray]) -> np.ndarray:
        table = np.zeros((12, 12))
        for row in rows:
            np.add.at(table, (row[:-1], row[1:]), 1)
        return (table / table.sum()).ravel()

    pitches, lengths = np.concatenate(pitch_of), np.concatenate(length_of)
    return [
        np.array([len(np.unique(pitches))]),
        np.histogram(pitches % 12, bins=12, range=(0, 12))[0] / len(pitches),
        transitions([row % 12 for row in pitch_of]),
        np.array([np.ptp(pitches)]),
        np.array([np.abs(np.concatenate([np.diff(row) for row in pitch_of])).mean()]),
        np.array([len(pitches)]),
        np.array([np.concatenate([np.diff(lick[:, 0]) for lick in licks]).mean()]),
        np.histogram(lengths, bins=12, range=(0, 12))[0] / len(lengths),
        transitions(length_of),
    ]


@pytest.mark.parametrize(("meter", "grid"), [("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight")])
@pytest.mark.parametrize("key", ["A", "Eb"])
def test_features_are_those_of_the_midi_file(key: str, meter: str, grid: str) -> None:
    study = plain_lead(tour(key, meter, grid, repeats=2))
    for feature, ours, theirs in zip(FEATURES, features(study), read_from_midi(study), strict=True):
        assert ours == pytest.approx(theirs, abs=2e-3), feature.name


@pytest.mark.parametrize("name", ["slow-shuffle-in-A", "minor-slow-in-D", "quick-shuffle-in-E"])
def test_features_of_the_samples_are_those_of_their_midi_files(name: str) -> None:
    from lickwright.study.json_text import from_json

    from tests.test_samples import SAMPLES

    study = plain_lead(from_json((SAMPLES / f"{name}.json").read_bytes()))
    for feature, ours, theirs in zip(FEATURES, features(study), read_from_midi(study), strict=True):
        assert len(ours) == feature.size
        assert ours == pytest.approx(theirs, abs=2e-3), feature.name


def test_densities_overlap_as_scipys_do() -> None:
    """scipy.stats.gaussian_kde with Scott's rule, its default; entropy(p, q) is the divergence in nats."""
    chance = np.random.default_rng(4)
    inside, outside = chance.normal(2, 0.5, 40), chance.normal(2.6, 0.8, 60)
    points = np.linspace(-4, 9, 20001)
    p, q = gaussian_kde(inside)(points), gaussian_kde(outside)(points)
    overlap, divergence = _compared(tuple(inside), tuple(outside))
    assert overlap == pytest.approx(np.trapezoid(np.minimum(p, q), points), abs=2e-3)
    assert divergence == pytest.approx(entropy(p, q), abs=5e-3)


def test_a_set_is_as_far_from_itself_as_it_is_spread() -> None:
    keys = [tour(key) for key in ("A", "C", "D", "E", "G")]
    for spread, apart in zip(spreads(keys), between(keys, keys), strict=True):
        n = len(keys)
        expected = sum(spread.distances) * 2 / n**2
        assert np.mean(apart.distances) == pytest.approx(expected)
        assert len(spread.distances) == n * (n - 1) // 2


def test_transposed_studies_differ_in_pitch_classes_alone() -> None:
    rows = {row.feature.name: row for row in spreads([tour("A"), tour("C")])}
    assert rows["pitch classes"].distances[0] > 0
    for name in ("pitch count", "pitch range", "mean interval", "note count", "note lengths"):
        assert rows[name].distances == (0,)


def test_a_set_too_small_for_a_density_is_told_so() -> None:
    assert _compared((1.0,), (1.0, 2.0)) == (None, None)
    assert _compared((1.0, 1.0), (1.0, 1.0))[0] == pytest.approx(1, abs=0.01)
    none = replace(tour(), events=())
    assert all(not row.any() for row in features(none))


def test_the_command_reads_folders(tmp_path) -> None:
    for n, key in enumerate(("A", "C", "D")):
        folder = tmp_path / "first" / str(n)
        folder.mkdir(parents=True)
        (folder / "study.json").write_text(to_json(tour(key)), encoding="utf-8")
    first, empty = str(tmp_path / "first"), str(tmp_path / "first" / "0")
    run = CliRunner().invoke
    done = run(main, ["check", "--set", first])
    assert done.exit_code == 0
    assert "3 studies" in done.output
    assert all(feature.name in done.output for feature in FEATURES)
    both = run(main, ["check", "--set", first, "--set", first])
    assert both.exit_code == 0
    assert "overlap" in both.output
    fitted = run(main, ["check", "--set", first, "--music"])
    assert fitted.output.startswith("[music.bands]\nnotes = [")
    few = run(main, ["check", "--set", empty])
    assert few.exit_code == 2
    assert "a set has two study files (*.json) or more; found 1" in few.output
    assert run(main, ["check"]).exit_code == 2


def test_lengths_have_names_by_pairs() -> None:
    assert sorted(set(NOTE_LENGTHS)) == sorted(NOTE_LENGTHS)
    assert all(a != b for a, b in pairwise(sorted(NOTE_LENGTHS)))
