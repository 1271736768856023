"""A matrix product in slices so small that the linear algebra library does each in the caller's own thread.

Recordings are made two at a time; a product that spreads over all cores by itself would have them wait for each other.
"""

from __future__ import annotations

import numpy as np

from lickwright.render.sound.voice import Samples

#: Multiplications in one slice; OpenBLAS takes a second thread above about 2**18 (from memory).
_SLICE = 2**18


def product(left: Samples, right: Samples) -> Samples:
    """``left @ right`` for float32 of shapes (rows, n) and (n, columns).

    >>> product(np.eye(3, 2, dtype=np.float32), np.ones((2, 2), np.float32)).tolist()
    [[1.0, 1.0], [1.0, 1.0], [0.0, 0.0]]
    """
    rows = max(1, _SLICE // max(1, right.size))
    slices = -(-len(left) // rows)
    padded = np.zeros((slices * rows, left.shape[1]), np.float32)
    padded[: len(left)] = left
    stacked = padded.reshape(slices, rows, left.shape[1]) @ right
    return np.asarray(stacked.reshape(slices * rows, right.shape[1])[: len(left)])
