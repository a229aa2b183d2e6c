"""Rainflow cycles of a joint angle, and a relative sum of what they would add up to if joints wore like materials.

Counting: ASTM E1049-85, 5.4.4, by the `rainflow` package, on turning points. Sum: Palmgren 1924, Miner 1945 (J Appl
Mech 12:A159-A164) with a power law. Fatigue failure as a model of such disorders: Gallagher & Schall 2017, Ergonomics
60:255-269. Angle is not stress, and no single exponent is "the" published one (tendon: Schechtman & Bader 1997,
J Biomech 30:829-835, a line whose local exponent is 3 at 20 % and 9 at 60 % of strength): so the exponent is swept from
3 to 9, and the sum means something only as a ratio between two set-ups of one person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import rainflow
from numpy.typing import NDArray

from .turning_points import Floats, turning_points

SMALLEST_DEG = 0.5
"""Cycles below this are noise of clips and skin [deg] (ours); with exponents of 3 and more they add nothing."""
EXPONENTS: tuple[int, ...] = (3, 4, 5, 6, 7, 8, 9)
EXPONENT = 5
"""Between the 3 to 9 of tendon; ours, and swept."""
REFERENCE_DEG = 10.0
RATIO_WORDS = (
    "Only a comparison of two set-ups of the same person: how much more or less the cycles of movement would add up "
    "to, counting large ones far more than small ones. It is not a load, a dose or a risk."
)


@dataclass(frozen=True)
class Cycles:
    """range_deg, mean_deg : (k,) of each cycle [deg]. count : (k,) 1 for a full, 0.5 for a half cycle."""

    range_deg: Floats
    mean_deg: Floats
    count: Floats

    @property
    def total(self) -> float:
        """Number of cycles."""
        return float(self.count.sum())

    def damage(self, exponent: float) -> float:
        """Sum of count x (range / 1 deg) ** exponent; relative, see `damage_ratio`."""
        return float(self.count @ self.range_deg**exponent)


def count_cycles(trace_deg: Floats, smallest_deg: float = SMALLEST_DEG) -> Cycles:
    """The rainflow cycles of a trace whose range is at least `smallest_deg`, in no particular order.

    trace_deg : (n,) [deg]; NaN = not known, and no cycle reaches across it.
    Raises ValueError for an array that is not (n,) or a range that is not above 0.
    """
    index = turning_points(trace_deg, smallest_deg)
    if index.size < 2:
        return Cycles(np.zeros(0), np.zeros(0), np.zeros(0))
    unknown = np.cumsum(~np.isfinite(trace_deg))
    cuts = np.flatnonzero(np.diff(unknown[index])) + 1
    found: list[tuple[float, float, float]] = []
    for points in np.split(trace_deg[index], cuts):
        found += _of_points(points.tolist())
    table = np.asarray([row for row in found if row[0] >= smallest_deg], dtype=np.float64).reshape(-1, 3)
    return Cycles(table[:, 0], table[:, 1], table[:, 2])


def _of_points(points: list[float]) -> list[tuple[float, float, float]]:
    """(range, mean, count) of the cycles of one run of turning points."""
    if len(points) == 2:  # the package finds no cycle in two points
        low, high = sorted(points)
        return [(high - low, (low + high) / 2, 0.5)] if high > low else []
    # A constant series comes back as a half cycle of range 0: not one.
    return [(size, mean, count) for size, mean, count, _, _ in rainflow.extract_cycles(points) if size > 0]


def damage_index(cycles: Cycles, known_s: float, exponents: Sequence[float] = EXPONENTS) -> dict[str, float] | None:
    """Relative cycle damage per minute of known playing, {exponent: sum / min}; None where no time is known.

    Said as so many cycles of 10 deg, only so that the numbers stay readable. It means nothing by itself: divide that of
    one set-up by another's.
    """
    if not known_s > 0.0:
        return None
    if not cycles.count.size:
        return {f"{m:g}": 0.0 for m in exponents}
    logs = np.log(cycles.range_deg / REFERENCE_DEG)  # one exp per exponent is ten times faster than a power
    return {f"{m:g}": 60.0 * float(cycles.count @ np.exp(m * logs)) / known_s for m in exponents}


def damage_ratio(first: dict[str, float] | None, second: dict[str, float] | None) -> dict[str, float] | None:
    """The second set-up's damage index over the first's, for each exponent both have; None where it is not known.

    Only for two set-ups of one person, one joint and one side (`RATIO_WORDS`).
    """
    if not first or not second:
        return None
    ratio = {m: second[m] / first[m] for m in first if m in second and first[m] > 0.0}
    return ratio or None


def cycle_histogram(cycles: Cycles, width_deg: float = 2.0) -> dict[str, list[float]]:
    """Number of cycles in classes of range, `edges_deg` (k + 1,) from 0 and `count` (k,)."""
    if not cycles.range_deg.size:
        return {"edges_deg": [], "count": []}
    place: NDArray[np.intp] = np.floor(cycles.range_deg / width_deg).astype(np.intp)
    count = np.bincount(place, weights=cycles.count)
    return {"edges_deg": (width_deg * np.arange(count.size + 1)).tolist(), "count": count.tolist()}
