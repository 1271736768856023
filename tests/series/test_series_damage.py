"""A series when something is wrong: damaged numbers, what interrupted runs left, a disk that is full or read-only."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from lickwright.compose import write as compose
from lickwright.series import add as series
from lickwright.study.figures import Avoid, figures
from lickwright.study.model import Brief, Study

from tests.lines import drawn
from tests.series.porch import PORCH, a_series, add, elsewhere, everything, numbered, quick, run

__all__ = ["elsewhere", "quick"]


# ---- what is not a number's -------------------------------------------------------------------------------


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:2000])


DAMAGE = {
    "a study cut off": (lambda: cut(PORCH / "002/study.json"), "porch-blues/002/study.json: not JSON"),
    "a study of another number": (
        lambda: shutil.copy(PORCH / "001/study.json", PORCH / "002/study.json"),
        "porch-blues/002/study.json: says number 1, its folder says 2",
    ),
    "a number without a study": (
        lambda: (PORCH / "002/study.json").unlink(),
        "porch-blues/002/study.json: No such file",
    ),
    "a file in place of a number": (
        lambda: (PORCH / "003").write_text("mine"),
        "porch-blues/003/study.json: Not a directory",
    ),
    "a number twice": (
        lambda: shutil.copytree(PORCH / "002", PORCH / "2"),
        "porch-blues/2: number 2 is there twice, see 002",
    ),
    "nonsense in a study": (
        lambda: (PORCH / "002/study.json").write_text('{"schema_version": 1}'),
        "porch-blues/002/study.json: title: Field required",
    ),
}


@pytest.mark.parametrize("what", DAMAGE)
def test_a_damaged_number_is_named_and_nothing_is_written_over(what: str, quick: None) -> None:
    a_series()
    add()
    add()
    damage, said = DAMAGE[what]
    damage()
    before = everything()
    for command in ("add", "index", "list"):
        result = run(command, "porch-blues")
        assert result.exit_code == 2
        assert said in result.output
    assert "Late on the porch" in result.output, "the list shows what can be read"
    assert everything() == before


def test_what_does_not_belong_is_named_and_left(quick: None) -> None:
    a_series()
    (PORCH / "notes.txt").write_text("mine")
    (PORCH / ".hidden").write_text("mine")
    (PORCH / "drafts").mkdir()
    for result in (add(), run("list", "porch-blues")):
        assert "porch-blues/notes.txt: not part of the series" in result.output
        assert "porch-blues/drafts: not part of the series" in result.output
        assert "hidden" not in result.output
    assert (PORCH / "notes.txt").read_text() == "mine"


def test_a_page_of_ones_own_is_not_written_over(quick: None) -> None:
    a_series()
    add()
    (PORCH / "index.html").write_text("<p>mine</p>")
    result = run("index", "porch-blues")
    assert result.exit_code == 2
    assert "porch-blues/index.html: is not a page of a series" in result.output
    assert (PORCH / "index.html").read_text() == "<p>mine</p>"


def test_what_an_interrupted_run_left_is_removed_and_said(quick: None) -> None:
    a_series()
    add()
    for name in (".002.abc_12.part", ".1000.x.part"):
        (PORCH / name).mkdir()
        (PORCH / name / "study.json").write_text("{")
    (PORCH / ".mine.abc.part").mkdir()
    result = add()
    assert "porch-blues/.002.abc_12.part: left unfinished by an interrupted run, removed" in result.output
    assert sorted(os.listdir(PORCH)) == [".mine.abc.part", "001", "002", "series.toml"]


def test_without_locks_a_number_taken_meanwhile_is_left_and_the_next_one_is_new_against_it(
    quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    @contextmanager
    def no_locks(folder: Path, waiting: object) -> Iterator[None]:
        yield

    monkeypatch.setattr(series, "turn", no_locks)
    a_series()
    seen = []

    def slow(brief: Brief, avoid: Avoid) -> Study:
        seen.append((brief.number, len(avoid.figures)))
        if len(seen) == 1:
            monkeypatch.setattr(compose, "write", drawn)
            add("--title", "The other's")
            monkeypatch.setattr(compose, "write", slow)
        return drawn(brief, avoid)

    monkeypatch.setattr(compose, "write", slow)
    assert "number 2" in add("--title", "Mine").output
    assert [number for number, _ in seen] == [1, 2]
    assert seen[1][1] == len(figures(numbered("001"), 4)) > 0
    assert (numbered("001").title, numbered("002").title) == ("The other's", "Mine")
    assert sorted(os.listdir(PORCH)) == ["001", "002", "series.toml"]


# ---- the disk ---------------------------------------------------------------------------------------------


def test_a_disk_that_is_full_is_told_and_nothing_is_lost(
    quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_series()
    add()
    before = everything()

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for command in ("add", "index"):
        result = run(command, "porch-blues")
        assert result.exit_code == 2
        assert "No space left on device" in result.output
        assert everything() == before
        assert sorted(os.listdir(PORCH)) == ["001", "series.toml"]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 320 kB of its own; skips where none can be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=320k", "lickwright-test", str(place)]
    try:
        done = subprocess.run(mount, capture_output=True, check=False)
    except OSError:
        pytest.skip("no mount here")
    if done.returncode:
        pytest.skip("no file system can be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_file_system_leaves_whole_numbers_only(small_disk: Path, quick: None) -> None:
    folder = small_disk / "porch-blues"
    assert run("new", str(folder), "--style", "slow-shuffle").exit_code == 0
    written = 0
    while (result := run("add", str(folder), "--format", "")).exit_code == 0:
        written += 1
    assert result.exit_code == 2
    assert "No space left on device" in result.output
    assert written > 3
    assert len(series.whole(folder).numbers) == written
    assert not [name for name in os.listdir(folder) if name.startswith(".")]


def test_a_file_system_that_may_only_be_read_is_told(small_disk: Path, quick: None) -> None:
    folder = small_disk / "porch-blues"
    assert run("new", str(folder), "--style", "slow-shuffle").exit_code == 0
    assert run("add", str(folder), "--format", "").exit_code == 0
    before = everything(folder)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    for command in ("add", "index"):
        result = run(command, str(folder))
        assert result.exit_code == 2
        assert "Read-only file system" in result.output
        assert str(folder) in result.output
    assert run("list", str(folder)).exit_code == 0
    assert everything(folder) == before


def test_a_folder_that_may_not_be_written_in_is_named(quick: None, monkeypatch: pytest.MonkeyPatch) -> None:
    a_series()

    def denied(**_: object) -> str:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr("tempfile.mkdtemp", denied)
    assert "porch-blues cannot be written (Permission denied)" in add(status=2).output
    assert os.listdir(PORCH) == ["series.toml"]
