"""The figures over many studies can be printed, and the solver keeps what the blind draw loses."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

from tests.judge.reach import main


@pytest.mark.long
def test_our_studies_lie_inside_their_bands_more_often_than_random_walks() -> None:
    done = CliRunner().invoke(
        main, ["--style", "slow-shuffle", "--seeds", "1", "--apart", "2"], catch_exceptions=False
    )
    assert done.exit_code == 0
    ours, walks = (int(share) for share in re.findall(r"all: 12 studies, (\d+)% inside", done.output))
    assert ours >= 75 > walks
    kept = re.search(r"figures taken up keep ([\d.]+)%", done.output)
    assert kept is not None
    assert float(kept[1]) >= 95
