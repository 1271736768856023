"""Many processes at one series, some of them killed: every number is distinct, whole, and new."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest
from lickwright.render.outputs import SoundOptions
from lickwright.series import add as series
from lickwright.series.file import Choices, through_all_keys
from lickwright.study.figures import figures

#: The longest time from one kill to the next: about what a writer needs to start, so that most get to write.
MOST_WAIT_S = 1.5
ROOT = Path(__file__).parents[2]


class Writers:
    """Processes that add to a series until it has enough; one that is killed is followed by another."""

    def __init__(self, folder: Path, numbers: int, how: str):
        self.words = [sys.executable, "-m", "tests.series.writer", str(folder), str(numbers), how]
        self.said = folder.parent / "said"
        self.errors = folder.parent / "errors"
        self.killed = 0

    def start(self) -> subprocess.Popen[bytes]:
        """One more writer, which tells its numbers in a file that all share."""
        with self.said.open("ab") as said, self.errors.open("ab") as errors:
            return subprocess.Popen(self.words, cwd=ROOT, stdout=said, stderr=errors)

    def run(self, at_once: int, kills: int) -> None:
        """Runs so many at once to the end; so many times one of them is killed at a random moment."""
        rng = random.Random(1)
        running = [self.start() for _ in range(at_once)]
        try:
            while self.killed < kills and any(p.poll() is None for p in running):
                victim = rng.randrange(at_once)
                try:
                    running[victim].wait(timeout=rng.uniform(0.0, MOST_WAIT_S))
                    continue
                except subprocess.TimeoutExpired:
                    running[victim].kill()
                    running[victim].wait()
                    self.killed += 1
                    running[victim] = self.start()
            for process in running:
                process.wait()
        finally:
            for process in running:
                if process.poll() is None:
                    process.kill()
                    process.wait()

    def told(self) -> list[int]:
        """The numbers that were told to be written."""
        return [int(line) for line in self.said.read_text().split()]


def held(folder: Path, numbers: int, told: list[int]) -> None:
    """Every number is there once, whole, and shares no figure with another; what was told is among them."""
    found = series.whole(folder).numbers
    assert [n.number for n in found] == list(range(1, len(found) + 1))
    assert len(found) >= numbers
    assert len(set(told)) == len(told)
    assert set(told) <= {n.number for n in found}
    kinds = [figures(n.study, 4) for n in found]
    assert not [(a, b) for a, b in combinations(range(len(found)), 2) if kinds[a] & kinds[b]]


def a_series(folder: Path) -> Path:
    folder.parent.mkdir(parents=True, exist_ok=True)
    series.new(folder, Choices(folder.name, "slow-shuffle", through_all_keys("A")))
    return folder


@pytest.mark.parametrize(
    ("at_once", "numbers", "how", "kills"),
    [
        (3, 12, "drawn", 2),
        pytest.param(8, 30, "composed", 0, marks=pytest.mark.long),
        pytest.param(8, 100, "drawn", 30, marks=pytest.mark.long),
    ],
)
def test_writers_at_once_never_get_one_number_and_leave_no_half_ones(
    tmp_path: Path, at_once: int, numbers: int, how: str, kills: int
) -> None:
    folder = a_series(tmp_path / "porch-blues")
    writers = Writers(folder, numbers, how)
    writers.run(at_once, kills)
    assert writers.errors.read_text()[-2000:] == ""
    assert not kills or writers.killed
    held(folder, numbers, writers.told())
    series.add(folder, series.Wanted(), (), SoundOptions())
    assert [name for name in os.listdir(folder) if name.startswith(".")] == []
