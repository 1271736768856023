"""How the licks of a set of studies are spread, and how two sets lie to each other: the published set measures.

Source: L.-C. Yang, A. Lerch, "On the evaluation of generative models in music", Neural Computing and Applications
32:4773-4784, 2020, doi:10.1007/s00521-018-3849-7 [abstract seen, details from memory]. Each study gives nine
features of its melody; inside a set and between two sets the Euclidean distance of every pair is taken, and the
densities of the distances inside and between (Gaussian kernels, bandwidth by D. W. Scott, "Multivariate
Density Estimation", 1992: standard deviation times n to the -1/5) are compared by their overlapping area (1: the sets
cannot be told apart by the feature) and by their Kullback-Leibler divergence in nats (0: the same). They show
what is unusual; alone they agree poorly with listeners (Kader and Karmaker, arXiv 2509.00051 [abstract seen]).

Conventions: the melody is that of the licks, over bars of rest; pitches are MIDI numbers, a quarter tone between
two counts as the lower; times in beats. Pairs of notes are counted inside a lick only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lickwright.judge.passage import Passage, whole
from lickwright.study.model import Study
from lickwright.theory.rhythm import TICKS_PER_BEAT

Floats: TypeAlias = NDArray[np.float64]

#: The twelve note lengths in quarters: whole to sixteenth, the same dotted, and triplets of half, quarter, eighth.
NOTE_LENGTHS = (4, 2, 1, 1 / 2, 1 / 4, 3, 3 / 2, 3 / 4, 3 / 8, 4 / 3, 2 / 3, 1 / 3)
GRID_POINTS = 1000
LEAST_BANDWIDTH = 1e-3


@dataclass(frozen=True)
class Feature:
    """A feature's name, its unit, and how many numbers it has (1, 12, or 144 for pairs)."""

    name: str
    unit: str
    size: int


FEATURES = (
    Feature("pitch count", "pitches", 1),
    Feature("pitch classes", "", 12),
    Feature("pitch class pairs", "", 144),
    Feature("pitch range", "semitones", 1),
    Feature("mean interval", "semitones", 1),
    Feature("note count", "notes", 1),
    Feature("mean time between onsets", "beats", 1),
    Feature("note lengths", "", 12),
    Feature("note length pairs", "", 144),
)


def features(study: Study) -> tuple[Floats, ...]:
    """The features of a study's licks, an array each in the order of ``FEATURES``; zeros where there are none.

    Histograms and tables of pairs sum to 1; pitch classes count from C.
    """
    licks = _melodies(whole(study))
    pitches = [pitch for lick in licks for _, _, pitch in lick]
    quarter = TICKS_PER_BEAT * 2 // 3 if study.meter == "12/8" else TICKS_PER_BEAT
    lengths = [[_length(duration / quarter) for _, duration, _ in lick] for lick in licks]
    classes = [[pitch % 12 for _, _, pitch in lick] for lick in licks]
    intervals = [abs(b[2] - a[2]) for lick in licks for a, b in pairwise(lick)]
    waits = [(b[0] - a[0]) / TICKS_PER_BEAT for lick in licks for a, b in pairwise(lick)]
    return (
        np.array([float(len(set(pitches)))]),
        _histogram(classes),
        _pairs(classes),
        np.array([float(max(pitches) - min(pitches)) if pitches else 0.0]),
        np.array([float(np.mean(intervals)) if intervals else 0.0]),
        np.array([float(len(pitches))]),
        np.array([float(np.mean(waits)) if waits else 0.0]),
        _histogram(lengths),
        _pairs(lengths),
    )


def _melodies(passage: Passage) -> list[list[tuple[int, int, int]]]:
    return [[(n.onset, n.duration, n.pitch2 // 2) for n in lick.notes] for lick in passage.licks]


def _length(quarters: float) -> int:
    """The nearest of the twelve lengths by ratio, the earlier of two as near."""
    return int(np.argmin(np.round(np.abs(np.log(np.array(NOTE_LENGTHS) / quarters)), 9)))


def _histogram(rows: Sequence[Sequence[int]]) -> Floats:
    return _parts(np.bincount([i for row in rows for i in row], minlength=12))


def _pairs(rows: Sequence[Sequence[int]]) -> Floats:
    return _parts(np.bincount([12 * a + b for row in rows for a, b in pairwise(row)], minlength=144))


def _parts(counts: NDArray[np.intp]) -> Floats:
    return np.asarray(counts / max(1, counts.sum()), dtype=np.float64)


@dataclass(frozen=True)
class Spread:
    """A feature in one set: mean and standard deviation of single numbers (None else), distances of its pairs."""

    feature: Feature
    mean: float | None
    deviation: float | None
    distances: tuple[float, ...]


@dataclass(frozen=True)
class Between:
    """A feature in two sets: the distances of pairs between them, overlap (0 to 1) and divergence (nats).

    Both compare the distances inside the first set with those between; None where a set is too small.
    """

    feature: Feature
    distances: tuple[float, ...]
    overlap: float | None
    divergence: float | None


def spreads(studies: Sequence[Study]) -> tuple[Spread, ...]:
    """How a set is spread in each feature."""
    found = [features(study) for study in studies]
    rows = []
    for n, feature in enumerate(FEATURES):
        values = [row[n] for row in found]
        single = feature.size == 1 and values
        rows.append(
            Spread(
                feature,
                float(np.mean(values)) if single else None,
                float(np.std(values)) if single else None,
                tuple(_apart(a, b) for a, b in combinations(values, 2)),
            )
        )
    return tuple(rows)


def between(first: Sequence[Study], second: Sequence[Study]) -> tuple[Between, ...]:
    """How two sets lie to each other in each feature."""
    inside = spreads(first)
    ours, theirs = [features(s) for s in first], [features(s) for s in second]
    rows = []
    for n, spread in enumerate(inside):
        distances = tuple(_apart(a[n], b[n]) for a in ours for b in theirs)
        rows.append(Between(spread.feature, distances, *_compared(spread.distances, distances)))
    return tuple(rows)


def _apart(a: Floats, b: Floats) -> float:
    return math.dist(a, b)


def _compared(inside: Sequence[float], outside: Sequence[float]) -> tuple[float | None, float | None]:
    """Overlapping area and divergence of the densities of two samples of distances."""
    if len(inside) < 2 or len(outside) < 2:
        return None, None
    a, b = np.array(inside), np.array(outside)
    margin = 4 * max(_bandwidth(a), _bandwidth(b))
    points = np.linspace(min(a.min(), b.min()) - margin, max(a.max(), b.max()) + margin, GRID_POINTS)
    step = float(points[1] - points[0])
    p, q = _density(a, points), _density(b, points)
    overlap = float(np.minimum(p, q).sum() * step)
    p, q = p + 1e-12, q + 1e-12
    divergence = float((p * np.log(p / q)).sum() * step)
    return min(1.0, overlap), max(0.0, divergence)


def _bandwidth(sample: Floats) -> float:
    return max(LEAST_BANDWIDTH, float(sample.std(ddof=1)) * math.pow(len(sample), -0.2))


def _density(sample: Floats, points: Floats) -> Floats:
    width = _bandwidth(sample)
    kernels = np.exp(-0.5 * ((points[:, None] - sample) / width) ** 2)
    return np.asarray(kernels.sum(axis=1) / (len(sample) * width * np.sqrt(2 * np.pi)))
