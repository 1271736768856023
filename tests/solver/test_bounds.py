"""Searches that end: by the clock, by the memory they would need, by the user's hand, and then leave nothing behind."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.compose import write as compose
from lickwright.render import outputs
from lickwright.solver.bounds import (
    MOST_BYTES,
    SearchTooLarge,
    SearchTooLong,
    check_size,
    look_at_the_clock,
    time_limit,
)
from lickwright.study.model import Brief, Study


def test_no_limit_is_no_limit() -> None:
    look_at_the_clock()
    with time_limit(None):
        look_at_the_clock()


def test_a_search_ends_when_its_time_is_over() -> None:
    with time_limit(0.0), pytest.raises(SearchTooLong, match="--time-limit"):
        compose.write(Brief("slow-shuffle", "A", 1))
    look_at_the_clock()


def test_a_command_that_runs_out_of_time_says_so_and_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "late"
    result = CliRunner().invoke(main, ["--time-limit", "0.1", "write", "slow-shuffle", "--out", str(out),
                                       "--candidates", "50", "--format", "tab"])  # fmt: skip
    assert result.exit_code == 1
    assert "the time allowed is over" in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_lattice_that_would_not_fit_is_not_begun() -> None:
    check_size(nodes=60, edges=4_000, states=60, onsets=12)
    with pytest.raises(SearchTooLarge, match=r"level\.windows"):
        check_size(nodes=20_000, edges=4_000_000, states=60, onsets=16)
    assert MOST_BYTES >= 2**29


def test_an_interrupted_write_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(study: Study, folder: Path, sound: outputs.SoundOptions) -> None:
        assert (folder / "study.json").is_file()
        raise KeyboardInterrupt

    monkeypatch.setitem(outputs.FORMATS, "tab", interrupt)
    out = str(tmp_path / "cut")
    result = CliRunner().invoke(main, ["write", "slow-shuffle", "--out", out, "--format", "tab"])
    assert result.exit_code == 1
    assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []
