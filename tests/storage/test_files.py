"""A file is written whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from lickwright.storage import files
from lickwright.storage.files import exchange, partial_folder, remove_abandoned, turn, write_whole


def test_a_file_holds_all_its_bytes_and_nothing_lies_beside_it(tmp_path):
    write_whole(tmp_path / "a.bin", b"12345")
    assert (tmp_path / "a.bin").read_bytes() == b"12345"
    assert os.listdir(tmp_path) == ["a.bin"]


def test_an_old_file_is_replaced_and_keeps_its_rights(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


def test_after_a_failure_the_old_file_stands_and_nothing_else_does(tmp_path, monkeypatch):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")

    def broken(fd):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", broken)
    with pytest.raises(OSError, match="Input/output"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.bin"]


def test_a_missing_folder_is_an_error_of_its_own(tmp_path):
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "none" / "a.bin", b"x")


# ---- what killed writers leave ----------------------------------------------------------------------------


def in_another_process(program: str, *words: object) -> subprocess.Popen[str]:
    """A process that says a line when it has come to its point and then waits to be killed."""
    code = textwrap.dedent(program) + "\nprint('there', flush=True)\nsys.stdin.read()\n"
    head = "import sys\nfrom pathlib import Path\n"
    head += "from lickwright.storage.files import *\nfrom lickwright.storage import files\n"
    process = subprocess.Popen(
        [sys.executable, "-c", head + code, *map(str, words)],
        cwd=Path(__file__).parent.parent.parent,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "there\n"
    return process


def end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.communicate()


@pytest.mark.parametrize(
    "program",
    [
        "handle, made = files._made(Path(sys.argv[1]))",
        "held = partial_folder(Path(sys.argv[1])); held.__enter__()",
    ],
)
def test_what_is_being_written_is_left_alone_and_goes_when_its_writer_was_killed(tmp_path, program) -> None:
    path = tmp_path / "a.bin"
    process = in_another_process(program, path)
    try:
        (left,) = os.listdir(tmp_path)
        assert remove_abandoned(tmp_path, r"a\.bin") == ()
        assert os.listdir(tmp_path) == [left]
    finally:
        end(process)
    assert remove_abandoned(tmp_path, r"b\.bin") == ()
    assert remove_abandoned(tmp_path, r"a\.bin") == (left,)
    assert os.listdir(tmp_path) == []


def test_what_is_neither_a_file_nor_a_folder_is_left(tmp_path) -> None:
    os.mkfifo(tmp_path / ".a.1.part")
    (tmp_path / ".a.2.part").symlink_to(tmp_path, target_is_directory=True)
    assert remove_abandoned(tmp_path, "a") == ()
    assert len(os.listdir(tmp_path)) == 2


def test_the_next_writer_of_a_file_removes_what_a_killed_one_left(tmp_path) -> None:
    end(in_another_process("handle, made = files._made(Path(sys.argv[1]))", tmp_path / "a.bin"))
    write_whole(tmp_path / "a.bin", b"new")
    assert os.listdir(tmp_path) == ["a.bin"]


def test_a_turn_is_waited_for_and_ends_with_the_process_that_had_it(tmp_path) -> None:
    """Its forked children, which may outlive it, do not keep it."""
    program = """
    import os
    held = turn(Path(sys.argv[1])); held.__enter__()
    if os.fork() == 0:
        print(os.getpid(), flush=True)
        import signal; signal.pause()
    child = sys.stdin.readline()
    """
    code = "import sys\nfrom pathlib import Path\nfrom lickwright.storage.files import *\n" + textwrap.dedent(
        program
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)],
        cwd=Path(__file__).parent.parent.parent, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    child = int(process.stdout.readline())
    waited = []

    def waiting() -> None:
        waited.append(True)
        process.kill()

    try:
        with turn(tmp_path, waiting):
            assert waited == [True]
        with turn(tmp_path, lambda: waited.append(False)):
            assert waited == [True]
    finally:
        process.kill()
        process.wait()
        os.kill(child, 9)
        process.stdout.close()


def test_without_locks_there_are_turns_for_all_and_nothing_is_removed(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(files, "fcntl", None)
    (tmp_path / ".a.x.part").touch()
    with turn(tmp_path), turn(tmp_path):
        write_whole(tmp_path / "a", b"new")
    assert sorted(os.listdir(tmp_path)) == [".a.x.part", "a"]


def test_two_names_change_places_in_one_step(tmp_path) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / f"{name}.txt").touch()
    if not exchange(tmp_path / "one", tmp_path / "other"):
        pytest.skip("this system cannot exchange two names")
    assert os.listdir(tmp_path / "one") == ["other.txt"]
    assert os.listdir(tmp_path / "other") == ["one.txt"]
    with pytest.raises(FileNotFoundError):
        exchange(tmp_path / "one", tmp_path / "none")


def test_names_that_cannot_change_places_stay_where_they_are(tmp_path) -> None:
    """No folder changes places with one inside it: the system says so, and the caller takes the long way."""
    inner = tmp_path / "one" / "inner"
    inner.mkdir(parents=True)
    assert exchange(tmp_path / "one", inner) is False
    assert inner.is_dir()


def test_a_system_that_cannot_exchange_names_says_so(tmp_path, monkeypatch) -> None:
    def without(name, use_errno):
        return object()

    monkeypatch.setattr(files.ctypes, "CDLL", without)
    assert exchange(tmp_path / "one", tmp_path / "other") is False


# ---- systems with less -----------------------------------------------------------------------------------


def test_where_folders_cannot_be_opened_files_are_written_all_the_same(tmp_path, monkeypatch) -> None:
    """As on Windows: what would be flushed or locked as a folder is not."""
    opened = os.open

    def refuses_folders(path, *more, **named):
        if os.path.isdir(path):
            raise PermissionError(13, "Permission denied")
        return opened(path, *more, **named)

    monkeypatch.setattr(os, "open", refuses_folders)
    with turn(tmp_path), turn(tmp_path):
        write_whole(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["a"]


def test_on_a_file_system_without_locks_nothing_waits_or_is_removed_that_is_in_use(
    tmp_path, monkeypatch
) -> None:
    def no_locks(handle, kind):
        raise OSError(37, "No locks available")

    monkeypatch.setattr(files.fcntl, "flock", no_locks)
    (tmp_path / ".a.x.part").touch()
    with turn(tmp_path, lambda: pytest.fail("nobody else is there")):
        write_whole(tmp_path / "a", b"new")
    assert sorted(os.listdir(tmp_path)) == [".a.x.part", "a"]


@pytest.mark.parametrize("times", [1, 3])
def test_what_is_taken_for_abandoned_before_it_is_locked_is_made_again(tmp_path, monkeypatch, times) -> None:
    """Another writer's cleaning may come between making a name and locking it."""
    locked, left = files._lock, [*range(times)]

    def late(handle, wait=True):
        if left:
            left.pop()
            for name in os.listdir(tmp_path):
                path = tmp_path / name
                path.rmdir() if path.is_dir() else path.unlink()
        return locked(handle, wait)

    monkeypatch.setattr(files, "_lock", late)
    write_whole(tmp_path / "a", b"new")
    assert os.listdir(tmp_path) == ["a"]
    (tmp_path / "a").unlink()
    left.extend(range(times))
    with partial_folder(tmp_path / "b") as folder:
        (folder / "inside").touch()
        folder.rename(tmp_path / "b")
    assert os.listdir(tmp_path / "b") == ["inside"]
    assert os.listdir(tmp_path) == ["b"]
