"""The same files read by libraries of others: partitura and music21 for scores, pretty_midi for MIDI.

And files of others: the corpus that music21 carries (chorales, madrigals, folk songs), which must be read or
refused with the bar named.
"""

from __future__ import annotations

import io
import re
import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path

import music21
import pretty_midi
import pytest
from lickwright.read.files import Reading, read_bytes
from lickwright.read.limits import UnreadableError
from lickwright.render.midi.write import midi
from lickwright.study.model import Study

from tests.read.scores import attributes, backup, harmony, lick, rest, score, tab
from tests.written import a_study

THREE = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
FILES = {
    "a lick": score(lick()),
    "ties": score(
        attributes() + harmony("A") + rest(36) + tab(2, 5, 12, tie="start"),
        tab(2, 5, 24, tie="stop") + tab(2, 8, 24),
    ),
    "tuplets": score(attributes() + harmony("A") + "".join(tab(2, f, 4, more=THREE) for f in (5, 8, 5) * 4)),
    "two voices": score(
        attributes() + harmony("A") + tab(2, 5, 24) + tab(2, 8, 24) + backup(48) + tab(6, 5, 48, voice=2)
    ),
    "chords": score(
        attributes() + harmony("A") + tab(4, 5, 24) + tab(3, 6, 24, chord=True) + rest(12) + tab(2, 5, 12)
    ),
    "twelve eight": score(
        attributes(divisions=4, time="12/8") + harmony("A") + "".join(tab(2, 5, 2) for _ in range(12))
    ),
}
every_file = pytest.mark.parametrize("name", FILES)


def ours(study: Study) -> Counter[tuple[Fraction, int]]:
    quarter = 8 if study.meter == "12/8" else 12
    return Counter((Fraction(e.onset, quarter), n.pitch) for e in study.events for n in e.notes if not n.tied)


@every_file
def test_music21_hears_the_same_notes(name):
    read = music21.converter.parseData(FILES[name], format="musicxml")
    theirs: Counter[tuple[Fraction, int]] = Counter()
    for element in read.stripTies().flatten().notes:
        if isinstance(element, music21.harmony.ChordSymbol):
            continue
        for pitch in element.pitches:
            theirs[Fraction(element.offset).limit_denominator(48), pitch.midi] += 1
    assert ours(read_bytes(FILES[name]).study) == theirs


@every_file
def test_partitura_hears_the_same_notes(name, tmp_path):
    import partitura

    path = tmp_path / "score.musicxml"
    path.write_bytes(FILES[name])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        array = partitura.load_musicxml(str(path)).note_array()
    theirs = Counter(
        (Fraction(float(n["onset_quarter"])).limit_denominator(48), int(n["pitch"])) for n in array
    )
    assert ours(read_bytes(FILES[name]).study) == theirs


@pytest.mark.parametrize("seed", [3])
def test_pretty_midi_hears_the_same_notes(seed):
    study = a_study(seed=seed)
    data = midi(study)
    theirs = Counter(
        (round(n.start * study.tempo_bpm * 12 / 60), n.pitch)
        for instrument in pretty_midi.PrettyMIDI(io.BytesIO(data)).instruments
        for n in instrument.notes
    )
    again = read_bytes(data).study
    assert Counter((e.onset, n.pitch) for e in again.events for n in e.notes if not n.tied) == theirs


CORPUS = Path(music21.__file__).parent / "corpus"
NAMED = re.compile(r"\bbar \S+|^not read: \d+ bars|^not read: more than")


def corpus() -> list[Path]:
    return sorted(p for p in CORPUS.rglob("*") if p.suffix in (".xml", ".mxl", ".musicxml"))


def attempt(path: Path) -> tuple[Reading | None, str]:
    try:
        return read_bytes(path.read_bytes(), name=path.stem), ""
    except UnreadableError as error:
        return None, str(error)


def outcome(path: Path) -> str:
    reading, said = attempt(path)
    if reading is None:
        assert NAMED.search(said), (path.name, said)
        return "refused"
    assert reading.study.events
    for event in reading.study.events:
        for n in event.notes:
            assert reading.study.neck.pitch(n.string, n.fret) == n.pitch, path.name
    return "read"


@pytest.mark.parametrize("path", corpus()[::97], ids=lambda p: p.name)
def test_a_file_of_the_corpus_is_read_or_refused_by_its_bar(path):
    outcome(path)


@pytest.mark.long
def test_many_files_of_the_corpus_are_read_or_refused_by_their_bar():
    small = [p for p in corpus() if p.stat().st_size < 12_000][::26]
    assert Counter(outcome(p) for p in small)["read"] >= len(small) // 3


@pytest.mark.parametrize("name", ["bwv66.6", "bwv398"])
def test_a_chorale_of_the_corpus_has_the_notes_that_music21_hears(name):
    path = next(p for p in corpus() if p.stem == name)
    first = music21.converter.parse(path).parts[0]
    theirs = Counter(p.midi for n in first.expandRepeats().stripTies().flatten().notes for p in n.pitches)
    mine = read_bytes(path.read_bytes()).study
    assert Counter(n.pitch for e in mine.events for n in e.notes) == theirs
