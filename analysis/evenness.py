"""How even strokes are, and how they lie against a tempo.

Intervals are judged only in steady stretches, where each is within a quarter of its neighbours' median: a rhythm of
long and short notes is not uneven. Two sources of unevenness by Wing & Kristofferson 1973, Percept Psychophys 14:5-12:
var I = sC**2 + 2 sM**2 and the covariance of neighbouring intervals is -sM**2 (formulas from memory, checked by
simulation). The click itself is not recorded, so timing is against the grid of the given tempo that fits the strokes
best: its spread can be known, its constant part (early or late) cannot.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

Floats = NDArray[np.float64]

LONGEST_INTERVAL_S = 2.5
FEWEST_INTERVALS = 8
TIMING_FLOOR_MS = 15.0
"""Nothing is said about timing below this [ms]: our margin over the 10 ms by which professionals' feet lead a
metronome (Fujii et al. 2011, Music Perception 28:491-503)."""
_STEADY = 0.25
_WINDOW = 9
_GRID_WINDOW_S = 20.0
PER_BEAT: tuple[float, ...] = (0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0)
"""Grids that are tried, coarsest first, in points per beat."""
_FITS = 0.25  # a grid fits when 95 % of the strokes are within this part of its distance; by chance half of them are
_MUCH_BETTER = 1.5


def steady_intervals(time_s: Floats, run: NDArray[np.intp] | None = None) -> tuple[Floats, NDArray[np.intp]]:
    """Intervals between strokes in steady stretches, (m,) [s], and the number of the stretch each lies in, (m,).

    time_s : (k,) of strokes, increasing [s]. run : (k,) no interval reaches from one run to the next.
    """
    if time_s.size < 2:
        return np.zeros(0), np.zeros(0, dtype=np.intp)
    gap = np.diff(time_s)
    usable = gap <= LONGEST_INTERVAL_S
    if run is not None:
        usable &= np.diff(run) == 0
    usual = median_filter(gap, size=min(_WINDOW, gap.size), mode="nearest")
    steady = usable & (np.abs(gap - usual) <= _STEADY * usual)
    # A stretch also ends where neighbours differ by more: a pattern of long and short has more than one usual interval.
    jump = np.abs(np.diff(gap, prepend=gap[0])) > _STEADY * np.minimum(gap, np.append(gap[0], gap[:-1]))
    stretch = np.cumsum(np.diff(steady, prepend=False) | jump, dtype=np.intp)
    return gap[steady], stretch[steady]


def interval_figures(interval_s: Floats, stretch: NDArray[np.intp]) -> dict[str, float | int | None] | None:
    """Evenness of steady intervals; None with fewer than eight.

    interval_s, stretch : (m,) as `steady_intervals` gives them. Each stretch is judged about its own straight line, so
    that a change of tempo, sudden or slow, is not unevenness; a stretch of fewer than four is left out.
    `interval_ms`, `sd_ms`, `cv` [0-1], `rmssd_ms` (root mean square of successive differences), `npvi` (normalised
    pairwise variability index, unitless), `lag1` (autocorrelation of neighbours), `clock_sd_ms` and `motor_sd_ms`
    (Wing & Kristofferson; None where lag1 is outside -0.5 to 0, where their model does not hold), `intervals` used.
    """
    pieces = [interval_s[stretch == s] for s in np.unique(stretch)]
    pieces = [piece for piece in pieces if piece.size >= 4]
    count = sum(piece.size for piece in pieces)
    if count < FEWEST_INTERVALS:
        return None
    off = [piece - _line(piece) for piece in pieces]
    lost = 2 * len(pieces)
    variance = sum(float(o @ o) for o in off) / max(count - lost, 1)
    neighbours = sum(piece.size - 1 for piece in pieces)
    covariance = sum(float(o[1:] @ o[:-1]) for o in off) / neighbours
    steps = np.concatenate([np.diff(piece) for piece in pieces])
    sums = np.concatenate([piece[1:] + piece[:-1] for piece in pieces])
    mean = float(np.concatenate(pieces).mean())
    lag = covariance / variance if variance > 0 else 0.0
    clock, motor = wing_kristofferson(variance, covariance)
    return {
        "interval_ms": 1e3 * mean,
        "sd_ms": 1e3 * math.sqrt(variance),
        "cv": math.sqrt(variance) / mean,
        "rmssd_ms": 1e3 * float(np.sqrt(np.mean(steps**2))),
        "npvi": 100.0 * float(np.mean(np.abs(steps) / (sums / 2))),
        "lag1": lag,
        "clock_sd_ms": None if clock is None else 1e3 * clock,
        "motor_sd_ms": None if motor is None else 1e3 * motor,
        "intervals": count,
    }


def _line(piece: Floats) -> Floats:
    """The straight line through a stretch by least squares."""
    x = np.arange(piece.size) - (piece.size - 1) / 2
    return piece.mean() + x * float(x @ piece) / float(x @ x)


def wing_kristofferson(variance: float, neighbours_covariance: float) -> tuple[float | None, float | None]:
    """Spread of the timekeeper and of carrying out, in the unit of the intervals; (None, None) outside the model.

    variance : of the intervals. neighbours_covariance : of each with the next.
    """
    if not variance > 0 or not -0.5 * variance <= neighbours_covariance <= 0:
        return None, None
    return math.sqrt(variance + 2 * neighbours_covariance), math.sqrt(-neighbours_covariance)


def timing_against(time_s: Floats, tempo_bpm: float) -> dict[str, Any] | None:
    """How strokes lie against a given tempo; None with fewer than nine strokes or where no grid of it fits.

    time_s : (k,) of one phase at one tempo [s].
    `grid_per_beat`: the coarsest of `PER_BEAT` on which the strokes lie. `tempo_played_bpm`: by how they drift against
    it. `off_grid_ms`: spread (SD) about it within pieces of 20 s, drift included. `worth_saying`: whether that is above
    15 ms.
    """
    if not (math.isfinite(tempo_bpm) and tempo_bpm > 0) or time_s.size <= FEWEST_INTERVALS:
        return None
    pieces = _pieces(time_s)
    freedom = sum(piece.size - 1 for piece in pieces)
    fitting: dict[float, tuple[float, list[Floats]]] = {}
    for per_beat in PER_BEAT if freedom > 0 else ():
        cell = 60.0 / (tempo_bpm * per_beat)
        off = [_off_grid(piece, cell) for piece in pieces]
        if float(np.percentile(np.abs(np.concatenate(off)), 95)) <= _FITS * cell:
            fitting[per_beat] = math.sqrt(sum(float(o @ o) for o in off) / freedom), off
    if not fitting:
        return None
    # A finer grid that fits much better shows that the coarse one left strokes out.
    best = min(spread for spread, _ in fitting.values())
    per_beat = next(n for n, (spread, _) in fitting.items() if spread <= _MUCH_BETTER * best)
    spread, off = fitting[per_beat]
    return {
        "tempo_bpm": float(tempo_bpm),
        "grid_per_beat": per_beat,
        "tempo_played_bpm": tempo_bpm / (1.0 + _drift(pieces, off)),
        "off_grid_ms": 1e3 * spread,
        "worth_saying": 1e3 * spread > TIMING_FLOOR_MS,
    }


def _off_grid(piece: Floats, cell: float) -> Floats:
    """Distance of each stroke from the nearest point of the grid that fits best, (k,) [s]."""
    phase = np.exp(2j * np.pi * piece / cell)
    return np.angle(phase * np.exp(-1j * np.angle(phase.mean()))) * cell / (2 * np.pi)


def _drift(pieces: list[Floats], off: list[Floats]) -> float:
    """How fast strokes fall behind the grid [s/s], by least squares within the pieces."""
    centred = [piece - piece.mean() for piece in pieces]
    over = sum(float(c @ c) for c in centred)
    return sum(float(c @ o) for c, o in zip(centred, off, strict=True)) / over if over > 0 else 0.0


def _pieces(time_s: Floats) -> list[Floats]:
    place = np.floor((time_s - time_s[0]) / _GRID_WINDOW_S)
    return [piece for piece in np.split(time_s, np.flatnonzero(np.diff(place)) + 1) if piece.size > 2]
