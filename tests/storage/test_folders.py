"""A folder takes its name whole: the old one or the new one stands there, whenever its writer is killed."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from lickwright.render import outputs
from lickwright.render.outputs import SoundOptions, TakenError, new_folder, write_formats
from lickwright.study.json_text import from_json, to_json

from tests.lines import with_line
from tests.studies import tour

ROOT = Path(__file__).parent.parent.parent
#: Writes tours of signs over each other, odd and even ones, and says so before it begins.
WRITER = """
import sys
from pathlib import Path
from tests.storage.test_folders import render_again, replace_again
again = {"replace": replace_again, "render": render_again}[sys.argv[1]]
print("there", flush=True)
for turn in range(10 ** 6):
    again(Path(sys.argv[2]), turn)
"""
FORMATS = ("json", "tab", "midi")
FILES = ["study.json", "study.mid", "study.txt"]


def replace_again(folder: Path, turn: int) -> None:
    """Replaces a folder by one whose three files are of one study."""
    with new_folder(folder, replace=True) as made:
        write_formats(tour("AD"[turn % 2]), made, FORMATS, SoundOptions())


def render_again(folder: Path, turn: int) -> None:
    """Writes the files of a study into its folder, as ``render`` does."""
    write_formats(tour("AD"[turn % 2]), folder, FORMATS, SoundOptions())


def contents(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in sorted(os.listdir(folder))}


def stopped(how: str, folder: Path, moments: int) -> None:
    """Looks at what a writer has left at so many random moments of its work: it is stopped, or killed for good."""
    rng = random.Random(5)
    whole = []
    for key in "AD":
        meant = folder.parent / f"meant-{key}"
        meant.mkdir()
        write_formats(tour(key), meant, FORMATS, SoundOptions())
        whole.append(contents(meant))
    folder.mkdir()
    write_formats(tour("A"), folder, FORMATS, SoundOptions())
    seen = 0
    while seen < moments:
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, how, str(folder)], cwd=ROOT, stdout=subprocess.PIPE
        )
        assert process.stdout is not None
        assert process.stdout.readline() == b"there\n"
        # A start costs far more than a look: a process is stopped some 25 times before it is killed.
        while seen < moments and rng.random() > 0.04:
            with pytest.raises(subprocess.TimeoutExpired):
                process.wait(timeout=rng.uniform(0.0, 0.01))
            process.send_signal(signal.SIGSTOP)
            os.waitpid(process.pid, os.WUNTRACED)
            look(how, folder, whole)
            seen += 1
            process.send_signal(signal.SIGCONT)
        process.kill()
        process.wait()
        process.stdout.close()
        look(how, folder, whole)
        seen += 1


def look(how: str, folder: Path, whole: list[dict[str, bytes]]) -> None:
    """Of a folder that is replaced all files are the old ones or the new ones; of one rendered into, each file."""
    found = {name: data for name, data in contents(folder).items() if not name.endswith(".part")}
    assert sorted(found) == FILES
    if how == "replace":
        assert found in whole
    for name, data in found.items():
        assert data in (whole[0][name], whole[1][name])


@pytest.mark.parametrize("how", ["replace", "render"])
@pytest.mark.parametrize("moments", [30, pytest.param(300, marks=pytest.mark.long)])
def test_a_writer_killed_at_any_moment_leaves_the_old_or_the_new(
    tmp_path: Path, how: str, moments: int
) -> None:
    folder = tmp_path / "out"
    stopped(how, folder, moments)
    {"replace": replace_again, "render": render_again}[how](folder, 1)
    assert sorted(os.listdir(folder)) == FILES
    assert sorted(os.listdir(tmp_path)) == ["meant-A", "meant-D", "out"]


def a_study(folder: Path, line: int = 0) -> Path:
    folder.mkdir()
    (folder / "study.json").write_text(to_json(with_line([60, 60 + line], [0, 4])))
    return folder


def test_an_old_folder_stands_until_the_new_one_is_whole(tmp_path: Path) -> None:
    folder = a_study(tmp_path / "out")
    before = contents(folder)
    with new_folder(folder, replace=True) as made:
        (made / "study.json").write_text("{}")
        assert contents(folder) == before
    assert contents(folder) == {"study.json": b"{}"}
    assert os.listdir(tmp_path) == ["out"]


@pytest.mark.parametrize("can_exchange", [True, False])
def test_after_an_error_the_old_folder_stands_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, can_exchange: bool
) -> None:
    if not can_exchange:
        monkeypatch.setattr(outputs, "exchange", lambda one, other: False)
    folder = a_study(tmp_path / "out", 2)
    before = contents(folder)

    def full(study: object, made: Path, sound: object) -> None:
        (made / "study.json").write_text("half")
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setitem(outputs.FORMATS, "json", full)
        with pytest.raises(OSError, match="No space"):
            replace_again(folder, 0)
    assert contents(folder) == before
    assert os.listdir(tmp_path) == ["out"]
    replace_again(folder, 0)
    assert sorted(os.listdir(folder)) == FILES
    assert os.listdir(tmp_path) == ["out"]


def test_an_old_folder_set_aside_by_a_killed_run_comes_back(tmp_path: Path) -> None:
    """Where names cannot be exchanged there is a moment between setting the old one aside and naming the new one."""
    a_study(tmp_path / ".out.123.backup", 7)
    folder = tmp_path / "out"
    with pytest.raises(TakenError), new_folder(folder, replace=False):
        pass
    assert from_json((folder / "study.json").read_bytes()).events[1].notes[0].pitch == 67
    assert os.listdir(tmp_path) == ["out"]


def test_a_name_taken_meanwhile_is_not_taken_over(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    making = new_folder(folder, replace=False)
    (making.__enter__() / "study.json").write_text("mine")
    a_study(folder)
    with pytest.raises(TakenError):
        making.__exit__(None, None, None)
    assert (folder / "study.json").read_text() != "mine"
    assert os.listdir(tmp_path) == ["out"]


def test_only_a_study_or_nothing_is_replaced(tmp_path: Path) -> None:
    empty, other = tmp_path / "empty", tmp_path / "other"
    empty.mkdir()
    other.mkdir()
    (other / "letter.txt").write_text("kept")
    replace_again(empty, 0)
    assert sorted(os.listdir(empty)) == FILES
    with pytest.raises(outputs.OutputError, match=r"holds no study\.json, so it is not replaced"):
        replace_again(other, 0)
    assert (other / "letter.txt").read_text() == "kept"
