"""The files of written studies say what the study says: every style, key and level, read back sign by sign.

That every study keeps its rules is held by ``test_matrix``; here its MusicXML is read plainly.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import product

import pytest
from lickwright.compose.write import write
from lickwright.rulebook.load import level_names, style_names
from lickwright.study.model import Brief, Study
from lickwright.theory.harmony import KEY_NAMES

from tests.render.score_reading import Sign, expected, pitch_of, root_of, signs
from tests.sweeps import some
from tests.written import written

WORKS = [
    Brief(style, key, 100 + number, level=level)
    for number, (style, key, level) in enumerate(product(style_names(), KEY_NAMES, level_names()))
]


def struck(found: list[Sign], staff: int) -> list[Sign]:
    return [
        s for s in found if s.staff == staff and not s.grace and s.element.find("tie[@type='stop']") is None
    ]


def misread(study: Study) -> list[str]:
    """Where a plain reader of the file finds another note than the study has."""
    tuning = {
        study.neck.strings + 1 - int(t.get("line") or 0): pitch_of(t, "tuning-")
        for t in root_of(study).iter("staff-tuning")
    }
    read, found = signs(study), []
    for staff in (1, 2):
        wanted: Counter[tuple[Fraction, int]] = Counter()
        for (at, _, pitch), n in expected(study, staff).items():
            wanted[at, pitch] += n
        got = Counter((s.at, s.pitch) for s in struck(read, staff))
        if got != wanted:
            found.append(f"staff {staff}: {got - wanted} instead of {wanted - got}")
    for sign in struck(read, 2):
        string = int(sign.text("notations/technical/string"))
        if tuning[string] + int(sign.text("notations/technical/fret")) != sign.pitch:
            found.append(f"{sign.at}: string {string} gives no {sign.pitch}")
    bends = Counter(
        int(2 * Fraction(alter))
        for s in struck(read, 2)
        if (alter := s.text("notations/technical/bend/bend-alter"))
    )
    asked = Counter(n.bend.size for _, n in study.notes() if n.bend and not n.tied)
    if bends != asked:
        found.append(f"bends of {bends} quarter tones instead of {asked}")
    return found


@pytest.mark.parametrize("brief", WORKS[::27], ids=lambda b: f"{b.style} in {b.key}, {b.level}")
def test_every_tab_position_and_bend_is_in_the_file(brief: Brief) -> None:
    assert misread(written(brief)) == []


@pytest.mark.long
def test_every_style_key_and_level_is_read_back_from_its_file() -> None:
    wrong = {brief: found for brief in some(WORKS, 7) if (found := misread(write(brief)))}
    assert wrong == {}
