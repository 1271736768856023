"""All keys, styles and seeds: every study is written, keeps its rules, and is another one than its neighbours."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from io import BytesIO

import pytest
from lickwright.compose.write import write
from lickwright.judge.check import checked
from lickwright.rulebook.load import level_names, style_names
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.theory.harmony import KEY_NAMES, spell
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.sweeps import reach
from tests.written import a_study

SEEDS = reach(20, 2)
#: Seeds of the styles that share their parts with one of the others.
FEWER_SEEDS = reach(5, 1)
WHOLE = ("slow-shuffle", "quick-shuffle", "minor-slow")
PLACES = (("A", 1), ("F#", 2), ("Bb", 3))
SHORT = [(style, *PLACES[n % len(PLACES)]) for n, style in enumerate(style_names())]
EVERY = [(style, level) for style in style_names() for level in level_names()]


def notes(study: Study) -> tuple[tuple[int, int, int], ...]:
    return tuple((e.onset, n.string, n.fret) for e, n in study.notes())


def faults(study: Study) -> list[str]:
    """What is wrong with a study, by its own rules and by plain arithmetic."""
    found = [str(v) for v in checked(study)]
    end = 0
    for event in study.events:
        if event.onset < end:
            found.append(f"{event.id} begins before the last has ended")
        end = event.end
        for note in event.notes:
            written = spell(note.pitch, study.home, study.chord(event.chord))
            tuning = study.neck.tuning[note.string - 1] + study.neck.capo
            if tuning + note.fret != note.pitch or written.midi != note.pitch or abs(written.alter) > 1:
                found.append(f"{event.id}: string {note.string} fret {note.fret} is no {written}")
    if end > study.bars * TICKS_PER_BAR or sum(s.duration for s in study.form) != study.ticks:
        found.append("the bars are not full")
    kinds = [s.kind for s in study.slots]
    if SlotKind.LICK not in kinds or SlotKind.COMP not in kinds:
        found.append("no lick, or no answer")
    if from_json(to_json(study)) != study:
        found.append("does not read back")
    return found


@pytest.mark.parametrize(("style", "key", "seed"), SHORT)
def test_a_study_keeps_its_rules(style: str, key: str, seed: int) -> None:
    assert faults(a_study(style, key, seed)) == []


@pytest.mark.parametrize(
    ("style", "level"),
    [pytest.param(*e, marks=[pytest.mark.long] if n % 4 else []) for n, e in enumerate(EVERY)],
)
def test_every_style_is_written_at_every_level(style: str, level: str) -> None:
    assert faults(a_study(style, "C", 4, level)) == []


def test_another_seed_gives_another_study() -> None:
    written = [notes(a_study("quick-shuffle", "G", seed)) for seed in range(6)]
    assert len(set(written)) == len(written)


def study_of(
    work: tuple[str, str, int],
) -> tuple[tuple[str, str, int], list[str], tuple[tuple[int, int, int], ...]]:
    study = write(Brief(*work))
    found = faults(study)
    if work[2] % 4 == 0:
        found += file_faults(study)
    return work, found, notes(study)


def file_faults(study: Study) -> list[str]:
    """What an independent reader finds wrong in the study's MusicXML and MIDI."""
    import mido
    from lickwright.render.midi.write import midi

    from tests.published.test_musicxml_standard import faults as schema_faults

    found = schema_faults(study)
    starts = sum(
        m.type == "note_on" and m.velocity > 0
        for track in mido.MidiFile(file=BytesIO(midi(study))).tracks
        for m in track
    )
    struck = sum(not n.tied for _, n in study.notes())
    return found + ([] if starts == struck else [f"{starts} MIDI notes for {struck} struck ones"])


def seeds(style: str) -> int:
    return SEEDS if style in WHOLE else FEWER_SEEDS


@pytest.mark.long
def test_twelve_keys_by_every_style_by_many_seeds() -> None:
    """Every study's rules; the files of one in four against the schema and a MIDI reader, for time's sake."""
    works = [
        (style, key, seed) for style in style_names() for key in KEY_NAMES for seed in range(seeds(style))
    ]
    with ProcessPoolExecutor(os.cpu_count()) as workers:
        done = list(workers.map(study_of, works, chunksize=8))
    wrong = {work: found for work, found, _ in done if found}
    assert wrong == {}
    for style in style_names():
        for key in KEY_NAMES:
            mine = [made for work, _, made in done if work[:2] == (style, key)]
            assert len(set(mine)) == seeds(style), f"two seeds of {style} in {key} give the same notes"
