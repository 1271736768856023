"""From shell to files: ``pytest tests/benchmarks/test_bench_write.py --benchmark-only``. Reported, never asserted.

The aim is under 2 s for a study with JSON, MusicXML, MIDI and tab, and under 0.15 s for the help.
"""

from __future__ import annotations

import itertools
import subprocess
import sys
from pathlib import Path

COMMAND = [sys.executable, "-m", "lickwright.cli"]


def test_write_with_four_outputs(benchmark, tmp_path: Path) -> None:
    number = itertools.count()

    def write() -> None:
        out = str(tmp_path / f"out{next(number)}")
        words = [
            "write",
            "slow-shuffle",
            "--key",
            "D",
            "--seed",
            "3",
            "--out",
            out,
            "--format",
            "musicxml,midi,tab",
        ]
        subprocess.run([*COMMAND, *words], check=True, capture_output=True)

    benchmark.pedantic(write, rounds=5, warmup_rounds=1)


def test_help(benchmark) -> None:
    benchmark.pedantic(
        lambda: subprocess.run([*COMMAND, "--help"], check=True, capture_output=True),
        rounds=5,
        warmup_rounds=1,
    )
