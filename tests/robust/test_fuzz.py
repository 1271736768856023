"""Damaged files through the commands: done, no or unusable, in words; never a crash, a hang or all of the memory.

``LICKWRIGHT_FUZZ=20000 pytest -m long tests/robust/test_fuzz.py`` runs so many; ``python -m tests.robust.fuzz`` too.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections import Counter
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from lickwright.study.json_text import MOST_BYTES, from_json, to_json
from lickwright.study.model import StudyFileError

from tests.robust.fuzz import Damaged, damaged, fault_of, faults_in, run, with_drills
from tests.robust.mutations import hurt_bytes, hurt_tree
from tests.studies import tour
from tests.sweeps import reach

#: How many are tried by default; the long run begins after them.
FIRST = 60
MANY = int(os.environ.get("LICKWRIGHT_FUZZ", reach(1000, 240)))


def test_damaged_files_of_every_kind_are_answered() -> None:
    found, statuses = run(range(FIRST), searches=False)
    assert [str(fault) for fault in found] == []
    assert {name.split()[0] for name in statuses} >= {".json", ".toml", ".musicxml", ".mid", ".mxl"}


@pytest.mark.long
@pytest.mark.parametrize("part", range(4))
def test_many_more_damaged_files_are_answered(part: int) -> None:
    found, _ = run(range(FIRST + part * MANY // 4, FIRST + (part + 1) * MANY // 4))
    assert [str(fault) for fault in found] == []


def test_a_mutation_is_the_same_every_time() -> None:
    assert [damaged(n) for n in range(30)] == [damaged(n) for n in range(30)]


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.randoms(use_true_random=False))
def test_a_study_with_anything_in_it_is_read_whole_or_refused(rng: Random) -> None:
    data = json.loads(to_json(with_drills()))
    text = json.dumps(hurt_tree(data, rng))
    try:
        study = from_json(text)
    except StudyFileError as error:
        said = error.problems
    else:
        said = ["read whole"] if from_json(to_json(study)) == study else []
    assert said
    assert all("\n" not in problem for problem in said)


@settings(max_examples=100, deadline=None)
@given(st.randoms(use_true_random=False))
@example(Random(1))
def test_bytes_of_a_study_hurt_anywhere_are_read_or_refused(rng: Random) -> None:
    with contextlib.suppress(StudyFileError):
        from_json(hurt_bytes(to_json(tour()).encode(), rng))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("study.json", b"[" * 1_000_000),
        ("study.json", b'{"schema_version": 1, "title": ' + b"[" * 100_000 + b"]" * 100_000 + b"}"),
        ("study.json", b'{"schema_version": 1, "bars": ' + b"9" * 10_000 + b"}"),
        ("study.json", b" " * (MOST_BYTES + 1)),
        ("study.json", b""),
        ("mine.toml", b"a = " + b"[" * 100_000),
        ("mine.toml", b"a." * 100_000 + b"b = 1"),
        ("mine.toml", b'title = "' + b"x" * 600_000 + b'"'),
        ("score.musicxml", b"<a>" * 100_000),
        ("score.musicxml", b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'),
        ("score.mxl", b"PK\x03\x04" + b"\x00" * 100),
        ("song.mid", b"MThd\x00\x00\x00\x06\x00\x01\xff\xff\x00\x60"),
    ],
)
def test_files_too_deep_too_long_or_empty_are_refused_soon(name: str, data: bytes) -> None:
    call = ("rules", "check", "FILE") if name.endswith("toml") else ("check", "FILE")
    statuses: Counter[str] = Counter()
    assert list(faults_in(Damaged(name, data, (call,)), 0, statuses)) == []
    assert statuses == {f"{Path(name).suffix} 2": 1}


def test_the_watch_tells_a_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lickwright.render.outputs.checked_formats", lambda names: 1 / 0)
    assert "ZeroDivisionError" in fault_of(("write", "slow-shuffle"))[0]


def test_the_watch_tells_too_much_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lickwright.render.outputs.checked_formats", lambda names: bytearray(2_000_000_000))
    assert "MemoryError" in fault_of(("write", "slow-shuffle"))[0]
