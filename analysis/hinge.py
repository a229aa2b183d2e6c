"""Hinge axes of a joint from any motion of the two clips around it, when no calibration moves were recorded.

On a hinge the parts of both angular rates that are perpendicular to the hinge are equally long:
|g1 x j1| = |g2 x j2|. Source: Seel T, Raisch J, Schauer T 2014, IMU-based joint angle measurement for gait analysis,
Sensors 14:6891-6909, doi:10.3390/s140406891. The search starts from many directions, and reports how well the motion
determines each axis; where it does not, the axes are refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .alignment import Axis
from .timebase import Floats

MAX_ERROR_DEG = 10.0
"""Axes whose direction is less sure than this are refused [deg]."""
_SEARCH_HZ = 25.0
_MAX_SAMPLES = 12_000


@dataclass(frozen=True)
class Hinge:
    """Two axes of one hinge, `first` and `second` in their clips' frames; signs are not known yet.

    why_not : empty, or why the axes must not be used.
    """

    first: Axis
    second: Axis
    why_not: str = ""


def find_hinge(first: Floats, second: Floats, rate_hz: float) -> Hinge:
    """Hinge axes of two clips from any motion.

    first, second : (n, 3) angular rates on one grid, biases removed, known samples only [rad/s].
    The share explained is that of the relative rate's energy about the hinge's own axis in each clip.
    """
    step = max(1, int(rate_hz // _SEARCH_HZ))
    m = len(first) // step
    g1, g2 = (g[: m * step].reshape(m, step, 3).mean(axis=1) for g in (first, second))
    lively = np.argsort(-(np.square(g1).sum(axis=1) + np.square(g2).sum(axis=1)))[:_MAX_SAMPLES]
    order = np.sort(lively)
    g1, g2 = g1[order], g2[order]
    nothing = Axis(np.array([1.0, 0.0, 0.0]), 0.0, 90.0, "hinge search", signed=False)
    if len(g1) < 50:
        return Hinge(nothing, nothing, "the clips were known together for less than two seconds")
    if not (g1.any() and g2.any()):
        return Hinge(nothing, nothing, "a clip did not turn at all")
    halves = [_search(g1[part], g2[part]) for part in (slice(0, len(g1) // 2), slice(len(g1) // 2, None))]
    whole = _search(g1, g2)
    errors = [max(whole.errors_deg[k], _between(halves[0].axes[k], halves[1].axes[k]) / 2.0) for k in (0, 1)]
    shares = [float(np.square(g @ j).sum() / np.square(g).sum()) for g, j in zip((g1, g2), whole.axes, strict=True)]
    axes = [
        Axis(j, share, error, "hinge search over any motion", signed=False)
        for j, share, error in zip(whole.axes, shares, errors, strict=True)
    ]
    return Hinge(axes[0], axes[1], _why_not(errors, whole))


@dataclass(frozen=True)
class _Fit:
    axes: tuple[Floats, Floats]
    errors_deg: tuple[float, float]
    cost: float
    runner_up: float


def _why_not(errors: list[float], fit: _Fit) -> str:
    worst = max(errors)
    if worst > MAX_ERROR_DEG:
        return f"the motion leaves a hinge axis open by {min(worst, 90.0):.0f} deg"
    if fit.runner_up < 1.1 * fit.cost:
        return "two different hinge directions fit the motion equally well"
    return ""


def _between(a: Floats, b: Floats) -> float:
    """Angle between two axes whatever their signs [deg]."""
    return float(np.degrees(np.arccos(min(1.0, abs(float(a @ b))))))


def _tangents(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors across a unit axis and each other (written out: `np.cross` is slow on single vectors)."""
    x, y, z = axis.tolist()
    first = np.array([0.0, z, -y]) if abs(x) < 0.6 else np.array([-z, 0.0, x])
    first /= np.sqrt(first @ first)
    u, v, w = first.tolist()
    return first, np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def _search(g1: Floats, g2: Floats) -> _Fit:
    """Best of Gauss-Newton searches started all over both half spheres."""
    rng = np.random.default_rng(20140409)
    starts = rng.normal(size=(24, 2, 3))
    rough1, rough2 = g1[:: max(1, len(g1) // 1500)], g2[:: max(1, len(g2) // 1500)]
    found = sorted((_descend(rough1, rough2, s[0], s[1], 30) for s in starts), key=lambda item: item[0])
    cost, j1, j2 = found[0]
    others = [c for c, a, b in found if _between(a, j1) > 15.0 or _between(b, j2) > 15.0]
    runner_up = min(others, default=np.inf)
    rough_cost = cost
    cost, j1, j2 = _descend(g1, g2, j1, j2, 15)
    return _Fit((j1, j2), _errors_deg(g1, g2, j1, j2), rough_cost, runner_up)


def _residual_and_slope(g1: Floats, g2: Floats, j1: Floats, j2: Floats) -> tuple[Floats, Floats]:
    """(n,) |g1 x j1| - |g2 x j2| and its (n, 4) derivative along two tangents of each axis."""
    slopes, lengths = [], []
    for g, j in ((g1, j1), (g2, j2)):
        along = g @ j
        length = np.sqrt(np.maximum(np.square(g).sum(axis=1) - along**2, 1e-12))
        lengths.append(length)
        slopes += [-along * (g @ tangent) / length for tangent in _tangents(j)]
    jacobian = np.column_stack([slopes[0], slopes[1], -slopes[2], -slopes[3]])
    return lengths[0] - lengths[1], jacobian


def _descend(g1: Floats, g2: Floats, j1: Floats, j2: Floats, steps: int) -> tuple[float, Floats, Floats]:
    """Damped Gauss-Newton on the two unit spheres; returns (mean squared residual, j1, j2)."""
    j1, j2 = j1 / np.linalg.norm(j1), j2 / np.linalg.norm(j2)
    damping = 1e-2
    residual, jacobian = _residual_and_slope(g1, g2, j1, j2)
    cost = float(np.mean(residual**2))
    for _ in range(steps):
        normal = jacobian.T @ jacobian
        change = -np.linalg.solve(
            normal + damping * (np.diag(np.diag(normal)) + 1e-9 * np.eye(4)), jacobian.T @ residual
        )
        moved = []
        for j, part in ((j1, change[:2]), (j2, change[2:])):
            a, b = _tangents(j)
            new = j + a * part[0] + b * part[1]
            moved.append(new / np.linalg.norm(new))
        new_residual, new_jacobian = _residual_and_slope(g1, g2, *moved)
        new_cost = float(np.mean(new_residual**2))
        if new_cost < cost:
            done = cost - new_cost < 1e-9 * cost
            (j1, j2), residual, jacobian, cost = moved, new_residual, new_jacobian, new_cost
            damping = max(damping / 5.0, 1e-9)
            if done:
                break
        else:
            damping = min(damping * 10.0, 1e6)
    return cost, j1, j2


def _errors_deg(g1: Floats, g2: Floats, j1: Floats, j2: Floats) -> tuple[float, float]:
    """Standard errors of the two directions [deg]: residual spread over slopes, a tenth of the samples independent."""
    residual, jacobian = _residual_and_slope(g1, g2, j1, j2)
    normal = jacobian.T @ jacobian / 10.0 + 1e-12 * np.eye(4)
    spread = np.linalg.inv(normal) * float(np.mean(residual**2))
    return tuple(float(np.degrees(np.sqrt(np.trace(spread[k : k + 2, k : k + 2])))) for k in (0, 2))  # type: ignore[return-value]
