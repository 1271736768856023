"""The same seed gives the same study: on every run, in every place, at every time, in every language."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.robust.golden import BRIEFS, GOLDEN, digests, name_of

ROOT = Path(__file__).resolve().parents[2]
RENEW = "if the music was meant to change: python -m tests.robust.golden"


def test_the_studies_of_some_briefs_are_those_they_were() -> None:
    assert digests() == json.loads(GOLDEN.read_text(encoding="utf-8")), RENEW


def test_golden_names_just_the_briefs() -> None:
    assert list(json.loads(GOLDEN.read_text(encoding="utf-8"))) == [name_of(brief) for brief in BRIEFS]


def written(folder: Path, **environment: str) -> bytes:
    """The study.json that a process of its own writes in a folder, with these variables."""
    folder.mkdir()
    words = ["write", "slow-shuffle", "--key", "A", "--seed", "7", "--format", "", "--out", "out"]
    subprocess.run(
        [sys.executable, "-m", "lickwright.cli", *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT / "generator"), **environment},
        check=True,
        capture_output=True,
    )
    return (folder / "out" / "study.json").read_bytes()


def locales() -> list[str]:
    """What ``locale -a`` names besides C; C.UTF-8 where it names none."""
    try:
        done = subprocess.run(["locale", "-a"], capture_output=True, text=True, check=False)
    except OSError:
        return ["C.UTF-8"]
    return [name for name in done.stdout.split() if name not in ("C", "POSIX")] or ["C.UTF-8"]


def test_another_order_of_hashes_gives_the_same_bytes(tmp_path: Path) -> None:
    first = written(tmp_path / "one", PYTHONHASHSEED="1", TZ="UTC", LC_ALL="C")
    assert first == written(
        tmp_path / "zwei ü", PYTHONHASHSEED="4711", TZ="Pacific/Auckland", LC_ALL=locales()[0]
    )


@pytest.mark.long
@pytest.mark.parametrize(
    "environment",
    [
        {"PYTHONHASHSEED": "0"},
        {"PYTHONHASHSEED": "4294967295"},
        {"TZ": "America/St_Johns"},
        {"TZ": "Asia/Kathmandu"},
        {"LC_ALL": "C", "PYTHONUTF8": "0"},
        {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8"},
        {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
        {"PYTHONOPTIMIZE": "1", "PYTHONDONTWRITEBYTECODE": "1"},
    ],
    ids=lambda environment: " ".join(f"{key}={value}" for key, value in environment.items()),
)
def test_no_variable_of_the_system_changes_a_byte(tmp_path: Path, environment: dict[str, str]) -> None:
    assert written(tmp_path / "plain") == written(tmp_path / "other", **environment)
