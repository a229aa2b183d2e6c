"""Uninterrupted stays in the end zone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

HELD_S = 4.0  # EN 1005-4 calls a posture static when held longer than 4 s (read second-hand)


@dataclass(frozen=True)
class Stays:
    """start: index of each stay's first sample, (k,). length_s: how long each lasted, (k,) [s]."""

    start: NDArray[np.intp]
    length_s: NDArray[np.float64]

    @property
    def longest_s(self) -> float:
        """0 when there was none [s]."""
        return float(self.length_s.max()) if self.length_s.size else 0.0

    @property
    def held_s(self) -> float:
        """Time in stays longer than 4 s [s]."""
        return float(self.length_s[self.length_s > HELD_S].sum())


def stays(inside: NDArray[np.bool_], dt_s: float) -> Stays:
    """The runs of True in `inside`, (n,), on a grid of dt_s [s].

    Where the angle is not known `inside` must be False: that ends a stay, and what follows is a new one. Every sample
    stands for dt_s.
    """
    padded = np.zeros(inside.size + 2, dtype=np.int8)
    padded[1:-1] = inside
    edges = np.diff(padded)
    start = np.flatnonzero(edges == 1)
    lengths = (np.flatnonzero(edges == -1) - start).astype(np.float64)
    return Stays(start, np.multiply(lengths, np.float64(dt_s)))
