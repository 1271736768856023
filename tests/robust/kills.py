"""Kills: commands that write, killed at random moments. What they leave is the old or the new, and whole.

``python -m tests.robust.kills --count 400`` kills so many, as many of each command. A command runs in a process that
has everything imported, so that the moments fall where it works; it is killed with SIGKILL. Then every file that can
be seen is as it was before the call or as an undisturbed call leaves it (where the call gives a folder its name, all
of them together), and no process is left. What was half written stays for the next run, which has to remove it.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import select
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from random import Random

from click.testing import CliRunner
from lickwright.cli import main
from lickwright.practice.record import settle

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "slow-shuffle-in-A.json"
QUIET = ("--format", "tab,midi,musicxml")
SHEET = ("--style", "slow-shuffle", "--key", "E", "--count", "1", "--minutes", "6")
#: How long the processes of a killed call may take to end.
PATIENCE_S = 60


@dataclass(frozen=True)
class Call:
    """A call, the calls that make what it finds, and whether all that it writes appears in one step.

    ``record`` is a file that whatever reads it settles first, by what is there beside it.
    """

    words: tuple[str, ...]
    before: tuple[tuple[str, ...], ...]
    at_once: bool = True
    record: str = ""


CALLS: dict[str, Call] = {
    "write": Call(
        ("write", "slow-shuffle", "--seed", "2", *QUIET, "--out", "study", "--replace"),
        (("write", "quick-shuffle", "--format", "tab,midi", "--out", "study"),),
    ),
    "render": Call(
        ("render", str(SAMPLE), "--format", "tab,midi,musicxml,flac", "--speed", "1", "--out", "study"),
        (("write", "quick-shuffle", *QUIET, "--out", "study"),),
        at_once=False,
    ),
    "series add": Call(
        ("series", "add", "porch", *QUIET),
        (("series", "new", "porch", "--style", "slow-shuffle"), ("series", "add", "porch", "--format", "tab")),
    ),
    "practice": Call(
        ("practice", *SHEET, "--train", "hammer-on", "--date", "2026-03-02", "--format", "tab,midi", "--out", "tuesday"),
        (("practice", *SHEET, "--train", "slide", "--date", "2026-03-01", "--format", "tab", "--out", "monday"),),
        record="practice.json",
    ),
}  # fmt: skip


@dataclass
class Tally:
    """How the kills of a call ended: before or after its end, with something half written; what was wrong."""

    kills: int = 0
    ended: int = 0
    halves: int = 0
    faults: list[str] = field(default_factory=list)


def seen(folder: Path) -> dict[str, bytes]:
    """Every file that can be seen, with its bytes."""
    files = [p for p in folder.rglob("*") if p.is_file()]
    named = {p.relative_to(folder): p for p in files}
    return {n.as_posix(): p.read_bytes() for n, p in named.items() if not _hidden(n)}


def hidden(folder: Path) -> list[str]:
    """The names that are hidden, at any depth."""
    return sorted(p.name for p in folder.rglob(".*"))


def _hidden(path: Path) -> bool:
    return any(part.startswith(".") for part in path.parts)


def run(folder: Path, words: tuple[str, ...]) -> None:
    """Runs a call in a folder to its end, in this process."""
    home = Path.cwd()
    os.chdir(folder)
    try:
        result = CliRunner().invoke(main, list(words))
    finally:
        os.chdir(home)
    if result.exit_code:
        raise RuntimeError(f"{words}: {result.output}")


def _in_child(folder: Path, words: tuple[str, ...]) -> None:
    os.chdir(folder)
    with Path(os.devnull).open("w", encoding="ascii") as nothing:
        os.dup2(nothing.fileno(), 1)
        os.dup2(nothing.fileno(), 2)
    main(list(words))


def started(folder: Path, words: tuple[str, ...]) -> tuple[BaseProcess, int]:
    """A call in a process of its own, and a pipe that ends when the last of its processes has ended."""
    reading, writing = os.pipe()
    process = multiprocessing.get_context("fork").Process(target=_in_child, args=(folder, words))
    process.start()
    os.close(writing)
    return process, reading


def killed(folder: Path, words: tuple[str, ...], after_s: float) -> tuple[bool, bool]:
    """Kills a call after a time; tells whether it had ended before, and whether all its processes are gone."""
    process, pipe = started(folder, words)
    process.join(after_s)
    ended = process.exitcode is not None
    process.kill()
    process.join()
    gone = bool(select.select([pipe], [], [], PATIENCE_S)[0])
    os.close(pipe)
    return ended, gone


def what_is_wrong(
    call: Call, before: dict[str, bytes], after: dict[str, bytes], now: dict[str, bytes]
) -> str:
    """What was lost or let in, or nothing."""
    if now in (before, after):
        return ""
    strange = sorted(
        name
        for name in {*before, *after, *now}
        if now.get(name) not in (before.get(name), after.get(name)) or (name in before and name not in now)
    )
    if strange or call.at_once:
        return f"neither as before nor as after: {', '.join(strange) or 'some of each'}"
    return ""


def kill(name: str, kills: int, seed: int = 1) -> Tally:
    """Kills a call so many times, each time at a random moment."""
    call, rng, tally = CALLS[name], Random(f"{name} {seed}"), Tally()
    with tempfile.TemporaryDirectory() as scratch:
        place, fresh, whole = Path(scratch, "place"), Path(scratch, "fresh"), Path(scratch, "whole")
        fresh.mkdir()
        for words in call.before:
            run(fresh, words)
        shutil.copytree(fresh, whole)
        run(whole, call.words)
        before, after = seen(fresh), seen(whole)
        again = Path(scratch, "again")
        shutil.copytree(fresh, again)
        began = time.monotonic()
        process, pipe = started(again, call.words)
        process.join()
        os.close(pipe)
        takes_s = time.monotonic() - began
        if seen(again) != after:
            raise RuntimeError(f"{name}: two undisturbed calls differ")
        shutil.copytree(fresh, place)
        while tally.kills < kills:
            ended, gone = killed(place, call.words, rng.uniform(0, takes_s * 1.05))
            halves = hidden(place)
            if call.record:
                settle(place / call.record)
            now = seen(place)
            tally.kills += not ended
            tally.ended += ended
            tally.halves += bool(halves) and not ended
            wrong = what_is_wrong(call, before, after, now)
            if ended and (hidden(place) or now != after):
                wrong = wrong or f"not finished: {', '.join(halves)}"
            if not gone:
                wrong = wrong or "processes are left"
            if wrong:
                tally.faults.append(f"{name}, kill {tally.kills}: {wrong}")
            if now != before:
                shutil.rmtree(place)
                shutil.copytree(fresh, place)
        run(place, call.words)
        if seen(place) != after or hidden(place):
            tally.faults.append(f"{name}, at the end: not finished: {', '.join(hidden(place))}")
    return tally


def _main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    faults: list[str] = []
    for name in CALLS:
        tally = kill(name, -(-asked.count // len(CALLS)), asked.seed)
        print(
            f"{name:<12}{tally.kills:>5} kills, {tally.halves} left something half written, "
            f"{tally.ended} runs ended first, {len(tally.faults)} faults",
            flush=True,
        )
        faults += tally.faults
    print("\n".join(faults))
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    _main()
