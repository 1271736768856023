"""Fuzzing: damaged files through the commands. Each call must say done, no or unusable in whole lines, and soon.

``python -m tests.robust.fuzz --count 20000`` runs so many, each numbered; ``--only 4711`` runs one again and shows
the file. A fault is a traceback, "internal error", another exit status than 0, 1 or 2, more than 10 seconds of the
processor or more than 500 MB on top of what the program itself takes.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from random import Random

from click.testing import CliRunner
from lickwright.cli import main
from lickwright.render.midi.write import midi
from lickwright.render.score.write import musicxml
from lickwright.rulebook.load import gather, shipped_rules
from lickwright.study.json_text import to_json
from lickwright.study.model import Before, Drill, Step, Study

from tests.read import scores
from tests.robust.mutations import as_json, as_toml, hurt_bytes, hurt_tree, hurt_xml
from tests.studies import tour

SECONDS, MEGABYTES = 10, 500
SAMPLES = Path(__file__).resolve().parents[2] / "samples"


@dataclass(frozen=True)
class Fault:
    """What went wrong with a mutation: its number, the call, the last line, the file."""

    number: int
    call: tuple[str, ...]
    said: str
    data: bytes

    def __str__(self) -> str:
        return f"{self.number}: {' '.join(self.call)}: {self.said}"


@dataclass(frozen=True)
class Damaged:
    """A damaged file: its name, what is in it, the calls it is given to."""

    name: str
    data: bytes
    calls: tuple[tuple[str, ...], ...]


class Overtime(BaseException):
    """Not to be caught by the program."""


# ------------------------------------------------------------------ kinds of files


@lru_cache(maxsize=1)
def _studies() -> tuple[dict[str, object], ...]:
    shipped = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(SAMPLES.glob("*.json"))]
    short = [tour(), tour("E", "4/4", "straight"), with_drills()]
    return (*shipped, *(json.loads(to_json(study)) for study in short))


def with_drills() -> Study:
    """The tour as a practice sheet of one exercise."""
    study = tour()
    steps = (Step(60, 40, 3), Step(100, study.tempo_bpm, 2))
    drill = Drill(0, 1, ("bend-release",), ((16,),), 3.5, steps, Before.WARM_UP, 60.0, 90.0)
    return replace(study, drills=(drill,))


STUDY_CALLS: tuple[tuple[str, ...], ...] = (
    ("check", "FILE"),
    ("check", "FILE", "--effort"),
    ("check", "FILE", "--music"),
    ("check", "FILE", "--instead"),
    ("check", "FILE", "--rules", "rhumba"),
    ("render", "FILE", "--format", "json,tab,midi", "--out", "out"),
    ("render", "FILE", "--format", "tab,midi", "--out", "out"),
    ("render", "FILE", "--format", "musicxml", "--out", "out"),
    ("compare", "FILE", "FILE", "--silent", "--html", "out.html", "--replace"),
    ("--time-limit", "5", "redo", "FILE", "--slot", "1"),
    ("--time-limit", "5", "vary", "FILE", "--key", "C"),
    ("--time-limit", "5", "vary", "FILE", "--same-notes"),
    ("--time-limit", "5", "candidates", "FILE", "--slot", "1", "--count", "2"),
    ("learn", "FILE", "--report", "--out", "out.toml", "--replace"),
)
RULE_CALLS: tuple[tuple[str, ...], ...] = (
    ("rules", "check", "FILE"),
    ("rules", "show", "FILE"),
    ("--time-limit", "5", "write", "FILE"),
    ("--time-limit", "5", "write", "FILE", "--key", "F#", "--seed", "4"),
    ("check", str(SAMPLES / "slow-shuffle-in-A.json"), "--rules", "FILE"),
    ("check", str(SAMPLES / "slow-shuffle-in-A.json"), "--effort", "--rules", "FILE"),
    ("check", str(SAMPLES / "slow-shuffle-in-A.json"), "--music", "--rules", "FILE"),
)
SCORE_CALLS: tuple[tuple[str, ...], ...] = (
    ("check", "FILE"),
    ("check", "FILE", "--rules", "slow-shuffle"),
    ("check", "FILE", "--rules", "quick-shuffle", "--key", "A"),
    ("render", "FILE", "--format", "tab,json", "--out", "out"),
)


def _some(calls: tuple[tuple[str, ...], ...], rng: Random, count: int = 2) -> tuple[tuple[str, ...], ...]:
    return tuple(rng.sample(calls, min(count, len(calls))))


def study_file(rng: Random) -> Damaged:
    study = rng.choice(_studies())
    hurt = hurt_bytes(as_json(study), rng) if rng.random() < 0.2 else as_json(hurt_tree(study, rng))
    return Damaged("study.json", hurt, _some(STUDY_CALLS, rng))


@lru_cache(maxsize=1)
def _rule_files() -> tuple[tuple[str, dict[str, object]], ...]:
    styles = sorted(path.stem for path in shipped_rules().glob("*.toml"))
    return tuple((style, {**gather(style).data, "include": []}) for style in styles)


def rule_file(rng: Random) -> Damaged:
    style, data = rng.choice(_rule_files())
    if rng.random() < 0.5:
        name = rng.choice([key for key in data if isinstance(data[key], dict)])
        hurt = as_toml({"include": [style], name: hurt_tree({name: data[name]}, rng).get(name, {})})
    else:
        hurt = as_toml(hurt_tree(data, rng))
    if rng.random() < 0.15:
        hurt = hurt_bytes(hurt, rng)
    return Damaged("mine.toml", hurt, (RULE_CALLS[0], *_some(RULE_CALLS[1:], rng, 1)))


@lru_cache(maxsize=1)
def _scores() -> tuple[bytes, ...]:
    foreign = scores.score(
        scores.lick(), scores.rest(48), scores.lick(), scores.harmony("D") + scores.rest(48)
    )
    return (musicxml(tour()), musicxml(tour("E", "4/4", "straight")), foreign)


def score_file(rng: Random) -> Damaged:
    score = rng.choice(_scores())
    kind = rng.random()
    hurt = hurt_xml(score, rng) if kind < 0.7 else hurt_bytes(score, rng)
    if kind > 0.9:
        packed = BytesIO()
        with zipfile.ZipFile(packed, "w") as file:
            file.writestr("META-INF/container.xml", b'<container><rootfile full-path="s.xml"/></container>')
            file.writestr("s.xml", score)
        return Damaged("score.mxl", hurt_bytes(packed.getvalue(), rng), _some(SCORE_CALLS, rng))
    return Damaged("score.musicxml", hurt, _some(SCORE_CALLS, rng))


@lru_cache(maxsize=1)
def _midis() -> tuple[bytes, ...]:
    return (midi(tour()), midi(tour("E", "4/4", "straight")))


def midi_file(rng: Random) -> Damaged:
    hurt = hurt_bytes(rng.choice(_midis()), rng)
    if rng.random() < 0.5:  # a track's length that fits, so that more of it is read
        at = hurt.rfind(b"MTrk")
        if at >= 0:
            hurt = hurt[: at + 4] + (len(hurt) - at - 8 & 0xFFFFFFFF).to_bytes(4, "big") + hurt[at + 8 :]
    return Damaged("song.mid", hurt, _some(SCORE_CALLS, rng))


CHOICES = {"name": "porch", "style": "slow-shuffle", "keys": ["A", "D"], "level": "growing", "longest_shared": 4,
           "options": {"hand": "small"}}  # fmt: skip


def series_file(rng: Random) -> Damaged:
    tree = as_toml(hurt_tree(CHOICES, rng))
    calls = (
        ("series", "list", "."),
        ("series", "index", "."),
        ("--time-limit", "5", "series", "add", ".", "--format", ""),
    )
    return Damaged("series.toml", hurt_bytes(tree, rng) if rng.random() < 0.3 else tree, _some(calls, rng, 1))


LICK = {"pitches": [57, 60, 62, 64], "onsets": [4, 8, 12, 20]}
RECORD = {"record_version": 1, "given": [
    {"number": n, "day": "2026-03-02", "style": "slow-shuffle", "level": "growing", "key": "E", "tempo_bpm": 60,
     "goals": ["hammer-on"], "difficulty": 3.5, "licks": [LICK, LICK], "got": None if n % 2 else "2026-03-04"}
    for n in (1, 2, 3)
]}  # fmt: skip


def record_file(rng: Random) -> Damaged:
    tree = as_json(hurt_tree(RECORD, rng))
    sheet = ("practice", "sheet", "--style", "slow-shuffle", "--train", "hammer-on", "--count", "1", "--minutes", "6",
             "--date", "2026-03-05", "--key", "E", "--record", "FILE")  # fmt: skip
    call = (
        ("--time-limit", "5", *sheet)
        if rng.random() < 0.3
        else ("practice", "got", "FILE", "1", "--date", "2026-03-05")
    )
    return Damaged("practice.json", hurt_bytes(tree, rng) if rng.random() < 0.3 else tree, (call,))


KINDS: dict[str, tuple[int, Callable[[Random], Damaged]]] = {
    "study": (35, study_file),
    "rules": (30, rule_file),
    "score": (17, score_file),
    "midi": (10, midi_file),
    "series": (4, series_file),
    "record": (4, record_file),
}


def damaged(number: int) -> Damaged:
    """The mutation of a number, always the same."""
    rng = Random(f"mutation {number}")
    (kind,) = rng.choices(list(KINDS), [weight for weight, _ in KINDS.values()])
    return KINDS[kind][1](rng)


# ------------------------------------------------------------------ running them


@contextmanager
def watched() -> Iterator[None]:
    """Ends what takes more than SECONDS of the processor, or asks for more than MEGABYTES on top of what is in use."""

    def over(*_: object) -> None:
        raise Overtime(f"more than {SECONDS} s")

    with open("/proc/self/statm", encoding="ascii") as file:
        now = int(file.read().split()[0]) * resource.getpagesize()
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    before = signal.signal(signal.SIGPROF, over)
    resource.setrlimit(resource.RLIMIT_AS, (now + MEGABYTES * 1_000_000, hard))
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
        signal.signal(signal.SIGPROF, before)


def fault_of(words: tuple[str, ...]) -> tuple[str, int]:
    """What is wrong with how a call ends, or nothing; and its exit status."""
    try:
        with watched():
            result = CliRunner().invoke(main, list(words))
    except Overtime as over:
        return str(over), -1
    shown = result.output + (result.stderr if result.stderr_bytes else "")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return f"{type(result.exception).__name__}: {result.exception}", result.exit_code
    if "Traceback" in shown or "internal error" in shown:
        said = next(line for line in shown.splitlines() if "Traceback" in line or "internal error" in line)
        return f"{said} {_where(words)}", -1
    if result.exit_code not in (0, 1, 2):
        return f"exit status {result.exit_code}", result.exit_code
    if result.exit_code == 2 and not shown.strip():
        return "says nothing", 2
    codes = sorted({c for c in shown if not c.isprintable() and c != "\n"})
    return (f"control codes on the terminal: {codes!r}" if codes else ""), result.exit_code


def _where(words: tuple[str, ...]) -> str:
    """The last place of the program's own in the traceback of a call that fails."""
    with watched():
        error = CliRunner().invoke(main, ["--verbose", *words]).exception
    frames = traceback.extract_tb(error.__traceback__) if error is not None else []
    own = [
        f"{Path(f.filename).name}:{f.lineno} {f.name}"
        for f in frames
        if "lickwright" in Path(f.filename).parts
    ]
    return " < ".join(own[:-4:-1])


def faults_in(file: Damaged, number: int, statuses: Counter[str]) -> Iterator[Fault]:
    """Gives one damaged file to its calls, in a folder of its own."""
    home = Path.cwd()
    folder = Path(tempfile.mkdtemp())
    os.chdir(folder)
    try:
        Path(file.name).write_bytes(file.data)
        for call in file.calls:
            words = tuple(file.name if word == "FILE" else word for word in call)
            said, status = fault_of(words)
            statuses[f"{Path(file.name).suffix} {status}"] += 1
            if said:
                yield Fault(number, words, said, file.data)
            left = [p.name for p in folder.rglob("*.part")]
            if left:
                yield Fault(number, words, f"left behind {left}", file.data)
    finally:
        os.chdir(home)
        shutil.rmtree(folder, ignore_errors=True)


def _searches(call: tuple[str, ...]) -> bool:
    return "--time-limit" in call


def run(
    numbers: range, told: Callable[[Fault], None] | None = None, searches: bool = True
) -> tuple[list[Fault], Counter[str]]:
    """Runs the mutations of these numbers; gives the faults, and how often each kind of file ended in which status.

    Without ``searches`` the calls that look for a study are left out, which is much quicker.
    """
    found: list[Fault] = []
    statuses: Counter[str] = Counter()
    for number in numbers:
        if number % 1000 == 999:
            print(f"{number + 1 - numbers.start} of {len(numbers)}", file=sys.stderr, flush=True)
        file = damaged(number)
        if not searches:
            file = replace(file, calls=tuple(call for call in file.calls if not _searches(call)))
        for fault in faults_in(file, number, statuses):
            found.append(fault)
            if told is not None:
                told(fault)
    return found, statuses


def _main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", type=int)
    asked = parser.parse_args()
    if asked.only is not None:
        file = damaged(asked.only)
        os.chdir(tempfile.mkdtemp())
        Path(file.name).write_bytes(file.data)
        print(Path.cwd() / file.name)
        for call in file.calls:
            words = ["--verbose", *(file.name if word == "FILE" else word for word in call)]
            result = CliRunner().invoke(main, words)
            print(words, result.exit_code, result.output)
            if result.exc_info is not None:
                traceback.print_exception(*result.exc_info)
        return
    numbers = range(asked.first, asked.first + asked.count)
    found, statuses = run(numbers, lambda fault: print(fault, flush=True))
    for name, count in sorted(statuses.items()):
        print(f"{name:<20}{count:>8}")
    print(f"{len(numbers)} mutations, {sum(statuses.values())} calls, {len(found)} faults")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    _main()
