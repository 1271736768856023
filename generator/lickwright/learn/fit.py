"""From sites to weights: the most likely costs, drawn towards those of the base file where licks say little.

Maximises the pseudo-likelihood of ``sites`` with a normal prior about the base file's values (its standard
deviation is ``PRIOR`` points), by Newton's method; the function is concave, so there is one maximum. What cannot
be told apart - a constant on all degrees of a chord, say - stays where the base file has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lickwright.learn.sites import Site
from lickwright.rulebook.touches import FloatArray, IntArray

#: Points: as much as about six notes say of a degree that is played now and then.
PRIOR = 15.0
_STEPS = 40


@dataclass(frozen=True)
class Fit:
    """``values`` K points and their ``covariance`` K x K, from the curvature at the maximum (prior counted in).

    Neighbouring sites share notes, so true errors are somewhat larger than these.
    """

    values: FloatArray
    covariance: FloatArray

    @property
    def error(self) -> FloatArray:
        """K: standard errors."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


@dataclass(frozen=True)
class _Stacked:
    """All sites side by side: ``features`` K x M."""

    features: FloatArray
    fixed: FloatArray
    starts: IntArray
    lengths: IntArray
    chosen: IntArray


def _stack(sites: Sequence[Site]) -> _Stacked:
    lengths = np.array([len(s.fixed) for s in sites], np.int64)
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    return _Stacked(
        np.ascontiguousarray(np.concatenate([s.features for s in sites]).T),
        np.concatenate([s.fixed for s in sites]),
        starts,
        lengths,
        starts + np.array([s.chosen for s in sites]),
    )


def fit(sites: Sequence[Site], base: FloatArray, temperature: float, prior: float = PRIOR) -> Fit:
    """The weights (K) for these sites; ``base`` are the base file's. O(steps x alternatives x K squared)."""
    if not sites:
        return Fit(base.copy(), np.eye(len(base)) * prior**2)
    data = _stack(sites)
    values = base.astype(float).copy()
    found = _likelihood(data, values, base, temperature, prior)
    hessian = np.eye(len(base)) / prior**2
    for _ in range(_STEPS):
        gradient, hessian = _slopes(data, values, base, temperature, prior)
        step = np.linalg.solve(hessian, gradient)
        size = 1.0
        while size > 1e-4:
            better = _likelihood(data, values + size * step, base, temperature, prior)
            if better >= found:
                break
            size /= 2
        if size <= 1e-4:
            break
        values, gained = values + size * step, better - found
        found = better
        if gained < 1e-7 * max(1.0, abs(found)):
            break
    return Fit(values, np.asarray(np.linalg.inv(hessian), float))


def _log_odds(data: _Stacked, values: FloatArray, temperature: float) -> FloatArray:
    """Log probabilities of all alternatives within their sites."""
    score = -(np.einsum("km,k->m", data.features, values) + data.fixed) / temperature
    top = np.maximum.reduceat(score, data.starts)
    score = score - np.repeat(top, data.lengths)
    total = np.add.reduceat(np.exp(score), data.starts)
    return np.asarray(score - np.repeat(np.log(total), data.lengths), float)


def _likelihood(
    data: _Stacked, values: FloatArray, base: FloatArray, temperature: float, prior: float
) -> float:
    log = _log_odds(data, values, temperature)[data.chosen].sum()
    return float(log - ((values - base) ** 2).sum() / (2 * prior**2))


def _slopes(
    data: _Stacked, values: FloatArray, base: FloatArray, temperature: float, prior: float
) -> tuple[FloatArray, FloatArray]:
    """Gradient and negative Hessian of the log posterior."""
    # Sums by einsum: a threaded matrix product of this shape is slow where other work has the cores.
    odds = np.exp(_log_odds(data, values, temperature))
    weighted = data.features * odds
    means = np.add.reduceat(weighted, data.starts, axis=1)
    gradient = (means - data.features[:, data.chosen]).sum(axis=1) / temperature - (values - base) / prior**2
    second = np.einsum("km,lm->kl", weighted, data.features) - np.einsum("km,lm->kl", means, means)
    hessian = second / temperature**2 + np.eye(len(base)) / prior**2
    return np.asarray(gradient, float), np.asarray(hessian, float)
