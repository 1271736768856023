"""Real studies of every style in every key, drawn at two widths and on paper, without a fault."""

from __future__ import annotations

import pytest
from lickwright.render.handout import handout
from lickwright.rulebook.load import style_names
from lickwright.theory.harmony import KEY_NAMES

from tests.browser.ink import faults
from tests.sweeps import some
from tests.written import a_study

STYLES = style_names()


#: Chord names that reach over the right edge of their picture, which cuts them off.
CUT_OFF = """[...document.querySelectorAll('svg text.chord')].filter((t) =>
  t.getBoundingClientRect().right > t.ownerSVGElement.getBoundingClientRect().right).map((t) => t.textContent)"""


def check(opened, style: str, key: str, seed: int) -> None:
    study = a_study(style, key, seed)
    html = handout(study)
    for width in (1100, 390):
        page = opened(html, width)
        found = [*faults(page, study), *page.value(CUT_OFF)]
        if width > 700:  # paper is wider than a telephone
            page.value("dispatchEvent(new Event('beforeprint'))")
            found += faults(page, study)
        assert found == [], f"{style} in {key}, seed {seed}, {width} px"


@pytest.mark.parametrize("style", ["slow-shuffle", "straight", "two-chorus"])
def test_a_study_of_each_kind_is_drawn_without_a_fault(opened, style):
    check(opened, style, "A", 1)


@pytest.mark.long
@pytest.mark.parametrize("key", some(KEY_NAMES, 6))
@pytest.mark.parametrize("style", STYLES)
def test_every_style_in_every_key(opened, style, key):
    check(opened, style, key, 1 + KEY_NAMES.index(key))
