"""How our studies fare by their own measures: ``python -m tests.judge.reach --seeds 2``.

Writes studies of every style in every key and prints, for each style: the share inside every band of its rules and
which measures lie outside how often; the same of random walks (the same plans, cells, places and hard rules, the
notes drawn as if all cost the same); then over all of them how a figure is taken up, what the ways home are made
of, leaps of the hand, closes, how alike two studies are, and what music21's key finder names.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from statistics import mean
from typing import NamedTuple

import click
import music21
from lickwright.compose.setting import Setting, setting_for
from lickwright.compose.write import CannotBeMet, write_in
from lickwright.judge.measure import fitted_bands, measured
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import level_names, style_names
from lickwright.study.model import Brief, SlotKind, Study
from lickwright.theory.harmony import KEY_NAMES
from lickwright.theory.rhythm import TICKS_PER_BAR, seconds

#: A hand moved this many frets or more between lick and answer is a leap.
LEAP_FRETS = 5
#: A walk's notes are drawn with this many points for a cost e times less likely: as good as none.
NO_COST = 1e7


class Job(NamedTuple):
    """A study to write."""

    brief: Brief
    walk: bool = False


@dataclass(frozen=True)
class Seen:
    """What is kept of a study: its measures, and what the figures over many studies are made of."""

    style: str
    outside: tuple[str, ...]
    fidelity: float | None
    home: tuple[float, ...]
    licks: int
    leaps: tuple[tuple[int, float], ...]
    close: tuple[object, ...]
    notes: frozenset[tuple[int, int]]
    cells: frozenset[str]
    riff: float | None
    finder: bool


def _written(job: Job) -> Study | None:
    given = setting_for(job.brief)
    try:
        return write_in(_walking(given) if job.walk else given)
    except CannotBeMet:
        return None


def _seen(job: Job) -> Seen | None:
    study = _written(job)
    if study is None:
        return None
    rows = measured(study, setting_for(job.brief).rules.music)
    values = {row.measure.name: row for row in rows}
    develops = values["develops"].licks
    tonic = study.chord("I").root_pc
    return Seen(
        job.brief.style,
        tuple(row.measure.label for row in rows if row.outside),
        values["fidelity"].value,
        tuple(v for v in develops if v is not None),
        len(develops),
        tuple(_leaps(study)),
        _close(study),
        frozenset((e.onset, (n.pitch - tonic) % 12) for e, n in study.notes() if not n.tied),
        frozenset(cell for s in study.slots if s.kind is SlotKind.LICK for cell in s.cells),
        values["riff"].value,
        _found_key(study) == tonic,
    )


def _walking(given: Setting) -> Setting:
    """The setting with all notes as good as each other: only what is forbidden still counts."""
    free = {"adventure": NO_COST, "best_share": 1.0, "develop": 0.0}
    rules = given.rules.model_copy(update={"lead": given.rules.lead.model_copy(update=free)})
    return replace(given, rules=rules, lead=Lead(rules, given.book, given.key, given.neck))


def _leaps(study: Study) -> Iterable[tuple[int, float]]:
    """(frets, seconds) of the hand's ways between a lick and an answer, both ways."""
    for a, b in pairwise(study.events):
        if a.slot != b.slot and abs(a.hand - b.hand) >= LEAP_FRETS:
            yield abs(a.hand - b.hand), seconds(b.onset - a.onset, study.tempo_bpm)


def _close(study: Study) -> tuple[object, ...]:
    """The last two bars, counted from the key's root: what is struck when."""
    first = study.ticks - 2 * TICKS_PER_BAR
    tonic = study.chord("I").root_pc
    return tuple(
        (e.onset - first, frozenset((n.pitch - tonic) % 12 for n in e.notes))
        for e in study.events
        if e.onset >= first
    )


def _found_key(study: Study) -> int:
    """The pitch class of the key that music21 finds in what is played (Krumhansl's weights, its default)."""
    line = music21.stream.Stream()
    for event, note in study.notes():
        line.insert(event.onset / 12, music21.note.Note(note.pitch, quarterLength=event.duration / 12))
    return line.analyze("key").tonic.pitchClass


def _bands(name: str, seen: list[Seen]) -> None:
    inside = mean(not s.outside for s in seen)
    often = Counter(label for s in seen for label in s.outside).most_common(6)
    each = mean(len(s.outside) for s in seen)
    click.echo(
        f"  {name}: {len(seen)} studies, {inside:.0%} inside every band, {each:.1f} measures outside on average"
    )
    if often:
        click.echo("    " + ", ".join(f"{label} {n / len(seen):.0%}" for label, n in often))


def _all(seen: list[Seen]) -> None:
    fidelity, riff = (
        [v for v in values if v is not None]
        for values in zip(*((s.fidelity, s.riff) for s in seen), strict=True)
    )
    home = [v for s in seen for v in s.home]
    licks = sum(s.licks for s in seen)
    leaps = [way for s in seen for way in s.leaps]
    click.echo(f"figures taken up keep {mean(fidelity):.1%} of their ways")
    click.echo(
        f"ways home from the figure: {sum(home) / licks:.0%} of {licks} licks, {mean(home):.0%} of {len(home)} long enough"
    )
    click.echo(f"answers strike together in {mean(riff):.0%} of their places")
    click.echo(
        f"leaps of the hand from lick to answer and back, {LEAP_FRETS} frets or more: {len(leaps) / len(seen):.2f} a study,"
        f" the shortest time {min((t for _, t in leaps), default=0):.2f} s"
    )
    click.echo(f"the key finder names the root in {mean(s.finder for s in seen):.0%}")


def _together(style: str, seen: list[Seen]) -> None:
    alike = [len(a.notes & b.notes) / len(a.notes | b.notes) for a, b in combinations(seen, 2)]
    closes = len({s.close for s in seen})
    cells = len(set().union(*(s.cells for s in seen)))
    click.echo(
        f"  {style}: {len(seen)} studies, equal (degree, onset) {mean(alike):.3f}, {closes} different closes, {cells} cells"
    )


def _seen_all(jobs: list[Job]) -> list[Seen]:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        return [s for s in pool.map(_seen, jobs, chunksize=4) if s]


@click.command()
@click.option("--seeds", default=1, show_default=True, help="Studies in each key of each style.")
@click.option("--first", default=7001, show_default=True, help="The first seed.")
@click.option(
    "--apart",
    default=50,
    show_default=True,
    help="Seeds of one style and key that are held against each other.",
)
@click.option("--style", "styles", multiple=True, help="Only these styles.")
@click.option("--bands", is_flag=True, help="Print the bands of studies of all levels instead.")
@click.option("--walks/--no-walks", default=True, help="Random walks too.")
def main(seeds: int, first: int, apart: int, styles: tuple[str, ...], bands: bool, walks: bool) -> None:
    """Print how our studies fare by their own measures."""
    names = styles or tuple(style_names())
    briefs = [
        Brief(style, key, first + 100 * n + k)
        for style in names
        for n, key in enumerate(KEY_NAMES)
        for k in range(seeds)
    ]
    if bands:
        leveled = [replace(b, level=level) for b in briefs for level in level_names()]
        with ProcessPoolExecutor(os.cpu_count()) as pool:
            studies = [s for s in pool.map(_written, map(Job, leveled), chunksize=4) if s]
        click.echo(f"# {len(studies)} studies")
        for name, (low, high) in fitted_bands(studies).items():
            click.echo(f"{name} = [{low:g}, {high:g}]")
        return
    ours = _seen_all([Job(b) for b in briefs])
    walked = _seen_all([Job(b, walk=True) for b in briefs]) if walks else []
    for title, seen in (("ours", ours), ("random walks", walked)):
        if seen:
            click.echo(title)
            _bands("all", seen)
            for style in names:
                _bands(style, [s for s in seen if s.style == style])
    _all(ours)
    click.echo("one style, one key")
    for style in names if styles else ("slow-shuffle",):
        _together(style, _seen_all([Job(Brief(style, "A", first + k)) for k in range(apart)]))


if __name__ == "__main__":
    main()
