"""Adding the two hundredth number to a series, without the writing of the study itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from lickwright.compose import write as compose
from lickwright.render.outputs import STUDY, SoundOptions, new_folder
from lickwright.series import add as series
from lickwright.series.file import Choices, through_all_keys
from lickwright.study.json_text import to_json
from lickwright.study.model import Brief

from tests.lines import drawn


@pytest.mark.parametrize("numbers", [20, 199])
def test_one_more_number(benchmark, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, numbers: int) -> None:
    """The earlier numbers are studies of full length, the new one is a line that is drawn at once."""
    folder = tmp_path / "porch-blues"
    series.new(folder, Choices("porch-blues", "slow-shuffle", through_all_keys("A")))
    text = to_json(compose.write(Brief("slow-shuffle", "A", 7, number=0)))
    for number in range(1, numbers + 1):
        with new_folder(folder / f"{number:03}", replace=False) as made:
            (made / STUDY).write_text(
                text.replace('"number": 0,\n "brief"', f'"number": {number},\n "brief"')
            )
    monkeypatch.setattr(compose, "write", drawn)

    def add() -> series.Added:
        return series.add(folder, series.Wanted(), (), SoundOptions())

    first = benchmark.pedantic(add, rounds=5)
    assert first.written.number == numbers + 5
