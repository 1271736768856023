"""Commands killed at random moments lose nothing and let nothing in. See ``kills``."""

from __future__ import annotations

import pytest

from tests.robust.kills import CALLS, kill
from tests.sweeps import reach


@pytest.mark.parametrize(
    ("name", "kills"),
    [("write", 2), *(pytest.param(name, reach(10, 5), marks=pytest.mark.long) for name in CALLS)],
)
def test_what_a_killed_command_leaves_is_the_old_or_the_new(name: str, kills: int) -> None:
    tally = kill(name, kills)
    assert tally.kills == kills
    assert tally.faults == []
