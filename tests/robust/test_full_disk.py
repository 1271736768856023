"""A full disk, a folder that may not be written in: a clear message, status 2, nothing lost and nothing half written."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from lickwright.cli import main

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "slow-shuffle-in-A.json"
QUIET = ("--format", "tab,midi")
#: Each command that writes, and the name it writes.
CALLS: dict[str, tuple[str, ...]] = {
    "write": ("write", "slow-shuffle", *QUIET, "--out", "new"),
    "write --candidates": ("write", "slow-shuffle", *QUIET, "--candidates", "2", "--out", "new"),
    "vary": ("vary", "study.json", *QUIET, "--out", "new"),
    "redo": ("redo", "study.json", "--slot", "1", *QUIET, "--out", "new"),
    "candidates": ("candidates", "study.json", "--slot", "2", "--count", "2", "--out", "new"),
    "practice": ("practice", "--style", "slow-shuffle", "--train", "hammer-on", "--count", "1", "--minutes", "6",
                 "--format", "tab",
                 "--date", "2026-03-02", "--out", "new"),
    "practice got": ("practice", "got", "practice.json", "1", "--date", "2026-03-02"),
    "series new": ("series", "new", "new", "--style", "slow-shuffle"),
    "series add": ("series", "add", "porch", *QUIET),
    "series index": ("series", "index", "porch"),
    "compare": ("compare", "study.json", "study.json", "--silent", "--html", "new.html"),
    "learn": ("learn", "study.json", "--out", "new.toml"),
    "render": ("render", "study.json", "--format", "musicxml", "--out", "."),
    "write --replace": ("write", "slow-shuffle", *QUIET, "--out", "old", "--replace"),
    "learn --replace": ("learn", "study.json", "--out", "old.toml", "--replace"),
    "compare --replace": ("compare", "study.json", "study.json", "--silent", "--html", "old.html", "--replace"),
}  # fmt: skip
RECORD = (
    '{"record_version": 1, "given": [{"number": 1, "day": "2026-03-01", "style": "slow-shuffle", "level": "growing", '
    '"key": "E", "tempo_bpm": 60, "goals": ["slide"], "difficulty": 3.5, "licks": [], "got": null}]}'
)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def furnish(folder: Path) -> dict[str, bytes]:
    """What the calls find in their folder."""
    shutil.copy(SAMPLE, folder / "study.json")
    (folder / "practice.json").write_text(RECORD)
    (folder / "old.toml").write_text("title = 'mine'\n")
    (folder / "old.html").write_text("<p>mine")
    (folder / "old").mkdir()
    (folder / "old" / "study.json").write_text("mine")
    assert run("series", "new", str(folder / "porch"), "--style", "slow-shuffle").exit_code == 0
    return everything(folder)


def everything(folder: Path) -> dict[str, bytes]:
    """Every file and folder with its bytes."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() if p.is_file() else b"" for p in folder.rglob("*")
    }


def refused(result: Result, said: str) -> None:
    assert result.exit_code == 2, result.output
    assert said in result.output
    assert "Traceback" not in result.output
    assert "internal error" not in result.output
    assert "a file:" not in result.output
    assert ".part" not in result.output, "a name that is not there any more says nothing"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", CALLS)
def test_a_disk_that_is_full_at_once_loses_nothing(
    name: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = furnish(here)

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("os.fsync", full)
    refused(run(*CALLS[name]), "No space left on device")
    assert everything(here) == before


@pytest.mark.parametrize("name", CALLS)
def test_a_folder_that_may_not_be_written_in_loses_nothing(
    name: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = furnish(here)

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", "there")

    monkeypatch.setattr("tempfile.mkdtemp", denied)
    monkeypatch.setattr("tempfile.mkstemp", denied)
    refused(run(*CALLS[name]), "Permission denied")
    assert everything(here) == before


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own of 1 MB; skips where none can be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    try:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(place)], capture_output=True, check=False
        )
    except OSError:
        pytest.skip("no mount here")
    if done.returncode:
        pytest.skip("no file system can be mounted here")
    home = Path.cwd()
    yield place
    os.chdir(home)
    subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.mark.parametrize(
    "name", [name for name in CALLS if not name.startswith(("series new", "practice got"))]
)
def test_a_disk_that_fills_loses_nothing(name: str, disk: Path) -> None:
    before = furnish(disk)
    os.chdir(disk)
    room = shutil.disk_usage(disk).free
    with (disk / "ballast").open("wb") as file:
        file.write(bytes(room))
    result = run(*CALLS[name])
    os.remove(disk / "ballast")
    refused(result, "No space left on device")
    assert everything(disk) == before


@pytest.mark.parametrize("name", CALLS)
def test_a_disk_that_may_only_be_read_loses_nothing(name: str, disk: Path) -> None:
    before = furnish(disk)
    os.chdir(disk)
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    refused(run(*CALLS[name]), "Read-only file system")
    assert everything(disk) == before
