"""Reads a score's MusicXML plainly, head by head, and says what a Study should give there."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

import pytest
from lickwright.render.score.write import musicxml
from lickwright.study.model import Study
from lickwright.theory.harmony import KEY_NAMES, LETTER_PITCH

from tests.studies import tour
from tests.sweeps import some

METERS = (("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight"))
SAMPLED = {("A", *METERS[0]), ("Db", *METERS[1]), ("F#", *METERS[2]), ("Eb", *METERS[0])}
EVERY = [(key, *meter) for key, meter in product(KEY_NAMES, METERS)]
CASES = [
    pytest.param(*case, id=" ".join(case), marks=() if case in SAMPLED else pytest.mark.long)
    for case in EVERY
    if case in SAMPLED or case in some(EVERY, 4)
]
every_case = pytest.mark.parametrize(("key", "meter", "grid"), CASES)


@dataclass(frozen=True)
class Sign:
    """One <note> that is no rest: where it stands in quarters from the start, and its element."""

    staff: int
    bar: int
    at: Fraction
    length: Fraction
    pitch: int
    grace: bool
    element: ET.Element

    def text(self, path: str) -> str:
        return self.element.findtext(path) or ""


@lru_cache(maxsize=64)
def written(study: Study) -> bytes:
    return musicxml(study)


def root_of(study: Study) -> ET.Element:
    return ET.fromstring(written(study))


def pitch_of(element: ET.Element, prefix: str = "") -> int:
    step = element.findtext(prefix + "step") or ""
    alter = int(element.findtext(prefix + "alter") or 0)
    return 12 * (int(element.findtext(prefix + "octave") or 0) + 1) + LETTER_PITCH[step] + alter


def signs(study: Study) -> list[Sign]:
    """Every head of the file by plain reading: backup, chord and duration move the time."""
    root = root_of(study)
    divisions = int(root.findtext(".//divisions") or 0)
    found, start = [], Fraction(0)
    for number, measure in enumerate(root.iter("measure")):
        at = start
        for element in measure:
            length = Fraction(int(element.findtext("duration") or 0), divisions)
            if element.tag == "backup":
                at -= length
            elif element.tag == "note":
                grace = element.find("grace") is not None
                chord = element.find("chord") is not None
                if element.find("rest") is None:
                    onset = at - (length if chord and not grace else 0)
                    staff = int(element.findtext("staff") or 0)
                    pitch = pitch_of(element, "pitch/")
                    found.append(Sign(staff, number, onset, length, pitch, grace, element))
                at += 0 if chord else length
        start += full_bar(study)
    return found


def full_bar(study: Study) -> Fraction:
    return Fraction(6) if study.meter == "12/8" else Fraction(4)


def place(study: Study, tick: int) -> Fraction:
    """Where a tick is written, in quarters: a swung beat cut at two thirds alone is two written eighths."""
    beat, rest = divmod(tick, 12)
    if study.meter == "12/8":
        return Fraction(tick, 8)
    cuts = {t - 12 * beat for e in study.events for t in (e.onset, e.end) if 12 * beat < t < 12 * beat + 12}
    if study.swung and cuts <= {8}:
        rest = 6 if rest == 8 else rest
    return beat + Fraction(rest, 12)


def expected(study: Study, staff: int) -> Counter[tuple[Fraction, Fraction, int]]:
    """(onset, length, pitch) of every note of the Study as a staff shows it, notes that ring on left out."""
    found: Counter[tuple[Fraction, Fraction, int]] = Counter()
    for number, event in enumerate(study.events):
        for note in event.notes:
            if note.tied:
                continue
            end = event.end
            after = study.events[number + 1].notes if number + 1 < len(study.events) else ()
            if any(n.tied and n.string == note.string for n in after):
                end = study.events[number + 1].end
            pitch = note.sounding2 // 2 if staff == 1 else note.pitch
            at = place(study, event.onset)
            found[at, place(study, end) - at, pitch] += 1
    return found


def only_staff(study: Study, staff: int) -> bytes:
    """The file with one staff's notes: partitura keeps a single tie for a pitch and a time of a part."""
    root = root_of(study)
    for measure in root.iter("measure"):
        for element in [e for e in measure if e.tag in ("note", "backup")]:
            if element.findtext("staff") != str(staff):
                measure.remove(element)
    return ET.tostring(root)


def one_bar(meter: str, grid: str, *spans: tuple[int, int]) -> Study:
    """A study of one bar that plays the same note for each (onset, duration)."""
    base = tour("A", meter, grid)
    events = tuple(replace(base.events[0], onset=a, duration=d) for a, d in spans)
    return replace(base, bars=1, events=events, phrases=base.phrases[:1])
