"""Somebody who sits on a throne and does what the recording asks for: joint angles at any time. Pure.

A phase (`still`, `ankle_taps`, ..., `playing`) is begun at a time and goes on until the next one begins; repetitions
go on for as long as the phase does. Between two phases the poses are blended over `BLEND_S`, so that movement stays
smooth. Everything random comes from the seed. How far each motion goes and how strokes look is ours, from nobody's
measurement.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .models import PHASE_NAMES, SIDES, Side
from .virtual_leg import (
    ANGLE_NAMES,
    LegSize,
    PedalPlace,
    angles_from_pose,
    leg_on_pedal,
    still_angles,
    thigh_angles,
)

Array = NDArray[np.float64]

BLEND_S = 1.5
_COLUMN = {name: i for i, name in enumerate(ANGLE_NAMES)}
_MOVE_S = (1.2, 0.2, 1.2, 0.6)  # calibration moves: out, hold, back, pause [s]
_RANGE_S = (1.6, 2.2, 1.6, 1.2)
# How far each active motion goes [deg]
ENDS_DEG: dict[str, float] = {
    "range_dorsiflexion": 17.0,
    "range_plantarflexion": 34.0,
    "range_hip_flexion": 22.0,
    "range_abduction": 32.0,
    "range_adduction": 14.0,
    "range_internal_rotation": 27.0,
    "range_external_rotation": 24.0,
    "end_range": 17.0,
}
_PER_DEGREE: dict[str, dict[str, float]] = {
    "ankle_taps": {"ankle_dorsiflexion": -1.0},  # toes down first
    "knee_kicks": {"knee_flexion": -1.0},  # straightening first
    "thigh_lifts": {"hip_flexion": 1.0, "knee_flexion": 1.0},  # upward first
    "range_dorsiflexion": {"ankle_dorsiflexion": 1.0},
    "end_range": {"ankle_dorsiflexion": 1.0},
    "range_plantarflexion": {"ankle_dorsiflexion": -1.0},
    "range_hip_flexion": {"hip_flexion": 1.0, "knee_flexion": 1.0},
    "range_internal_rotation": {"hip_rotation": 1.0},
    "range_external_rotation": {"hip_rotation": -1.0},
}
_CALIBRATION_DEG = {"ankle_taps": 18.0, "knee_kicks": 30.0, "thigh_lifts": 14.0}


@dataclass(frozen=True)
class Throne:
    """How somebody sits. hip_height : of the hip centres [m]. setups : where the pedals stand, by set-up."""

    size: LegSize = field(default_factory=lambda: LegSize.from_stature(1.74))
    hip_height: float = 0.56
    setups: Mapping[str, PedalPlace] = field(
        default_factory=lambda: {
            "near": PedalPlace(hip_height=0.56, reach=0.44, spacing=0.42, pitch=0.26, splay=0.17),
            "far": PedalPlace(hip_height=0.56, reach=0.50, spacing=0.42, pitch=0.26, splay=0.17),
        }
    )


@dataclass(frozen=True)
class _Part:
    start_s: float
    phase: str
    side: Side | None
    setup: str


class VirtualDrummer:
    """A person on a throne.

    throne : how they sit. sides : legs that move. tempo_bpm : of the playing. seed : of scatter and sway.
    """

    def __init__(
        self,
        throne: Throne | None = None,
        sides: tuple[Side, ...] = SIDES,
        tempo_bpm: float = 96.0,
        seed: int = 0,
    ) -> None:
        self.throne = throne or Throne()
        self.sides = sides
        self.tempo_bpm = tempo_bpm
        self._parts = [_Part(-np.inf, "still", None, next(iter(self.throne.setups)))]
        self._base = still_angles(self.throne.size, self.throne.hip_height).as_array()[0]
        rng = np.random.default_rng(seed)
        self._scatter = rng.normal(scale=0.04, size=64)  # of a repetition's end, as a share
        self._sway_hz = rng.uniform(0.05, 0.35, size=(2, len(ANGLE_NAMES)))
        self._sway_turn = rng.uniform(0, 2 * np.pi, size=(2, len(ANGLE_NAMES)))

    def begin(self, phase: str, at_s: float, side: Side | None = None, setup: str | None = None) -> None:
        """From `at_s` [s] on do what a phase asks for; `side` None = both legs.

        Raises ValueError for a phase or set-up that is unknown, or a time before the last phase began.
        """
        last = self._parts[-1]
        if phase not in PHASE_NAMES or (setup is not None and setup not in self.throne.setups):
            raise ValueError(f"no phase {phase!r} or set-up {setup!r}; set-ups are {', '.join(self.throne.setups)}")
        if at_s < last.start_s:
            raise ValueError(f"{phase} cannot begin at {at_s} s, before {last.phase} at {last.start_s} s")
        self._parts.append(_Part(at_s, phase, side, setup or last.setup))

    def practise(self, at_s: float = 0.0, calm_s: float = 8.0, move_s: float = 12.0) -> VirtualDrummer:
        """Plan a short calibration and then playing without end: what a virtual clip shows when nobody asks."""
        self.begin("still", at_s)
        for i, phase in enumerate(("ankle_taps", "knee_kicks", "thigh_lifts", "playing")):
            self.begin(phase, at_s + calm_s + i * move_s)
        return self

    def angles(self, side: Side, t: Array) -> Array:
        """Joint angles at increasing times t, (n,) [s] -> (n, 8) [rad], in the order of `virtual_leg.ANGLE_NAMES`."""
        t = np.asarray(t, dtype=float)
        parts = self._parts  # appended to by another thread, never changed
        starts = [part.start_s for part in parts]
        out = np.empty((len(t), len(ANGLE_NAMES)))
        first = 0
        while first < len(t):
            k = bisect_right(starts, t[first]) - 1
            last = len(t) if k + 1 == len(parts) else int(np.searchsorted(t, starts[k + 1]))
            out[first:last] = self._pose(parts[: k + 1], side, t[first:last])
            first = last
        return out + self._sway(t)

    def _pose(self, parts: list[_Part], side: Side, t: Array) -> Array:
        """What the last of the parts asks for, led over from where the body was, itself on its way perhaps."""
        pose = self._curve(parts[-1], side, t)
        if len(parts) > 1 and t[0] < parts[-1].start_s + BLEND_S:
            weight = _ease((t - parts[-1].start_s) / BLEND_S)[:, None]
            pose = weight * pose + (1 - weight) * self._pose(parts[:-1], side, t)
        return pose

    def _sway(self, t: Array) -> Array:
        waves = np.sin(2 * np.pi * self._sway_hz[:, None, :] * t[None, :, None] + self._sway_turn[:, None, :])
        return np.deg2rad(0.1) * waves.sum(axis=0)

    def _curve(self, part: _Part, side: Side, t: Array) -> Array:
        local = t - (part.start_s if np.isfinite(part.start_s) else 0.0) - BLEND_S
        active = part.side in (None, side) and side in self.sides
        if part.phase in ("rest_on_pedal", "lift_test", "playing"):
            return self._on_pedal(part, side, local, active)
        if not active or part.phase in ("still", "end_still"):
            return np.broadcast_to(self._base, (len(t), len(ANGLE_NAMES)))
        if part.phase in _CALIBRATION_DEG:
            return self._base + np.deg2rad(self._along(part.phase, _CALIBRATION_DEG[part.phase], local, _MOVE_S))
        if part.phase in ("range_abduction", "range_adduction", "slide"):
            sign = -1.0 if part.phase == "range_adduction" else 1.0
            end = ENDS_DEG.get(part.phase, 25.0)
            return self._base + self._sideways(sign * self._repeated(end, local, _RANGE_S))
        return self._base + np.deg2rad(self._along(part.phase, ENDS_DEG[part.phase], local, _RANGE_S))

    def _repeated(self, end: float, local: Array, times: tuple[float, float, float, float]) -> Array:
        """Excursion (n,) of repetitions without end, each a little different."""
        rise, keep, fall, _ = times
        one = sum(times)
        number = np.floor(local / one).astype(int)
        within = local - number * one
        shape = _ease(within / rise) - _ease((within - rise - keep) / fall)
        return np.where(number >= 0, end * (1 + self._scatter[number % len(self._scatter)]) * shape, 0.0)

    def _along(self, phase: str, end: float, local: Array, times: tuple[float, float, float, float]) -> Array:
        rate = np.zeros(len(ANGLE_NAMES))
        for name, factor in _PER_DEGREE[phase].items():
            rate[_COLUMN[name]] = factor
        return self._repeated(end, local, times)[:, None] * rate

    def _sideways(self, excursion: Array) -> Array:
        """Change of the angles (n, 8) [rad] for a thigh swung outward by (n,) [deg] at its slope, the hinge level."""
        base = self._base[_COLUMN["hip_flexion"]]
        flexion, adduction = thigh_angles(base - np.pi / 2, np.deg2rad(excursion))
        change = np.zeros((len(excursion), len(ANGLE_NAMES)))
        change[:, _COLUMN["hip_flexion"]] = flexion - base
        change[:, _COLUMN["hip_adduction"]] = adduction
        change[:, _COLUMN["hip_rotation"]] = np.arctan2(np.cos(flexion) * np.sin(adduction), np.sin(flexion))
        return change

    def _on_pedal(self, part: _Part, side: Side, local: Array, active: bool) -> Array:
        """Heel down on the board: at rest, lifted again and again, or playing eighths (right) and quarters (left)."""
        place = self.throne.setups[part.setup]
        pitch = np.full(len(local), place.pitch)
        if active and part.phase == "lift_test":
            pitch = pitch + np.deg2rad(self._repeated(8.0, local, _RANGE_S))
        elif active and part.phase == "playing":
            beat = 60.0 / self.tempo_bpm / (2.0 if side == "right" else 1.0)
            number = np.floor(np.maximum(local, 0.0) / beat).astype(int)
            within = np.maximum(local, 0.0) - number * beat
            depth = 11.0 * (1 + 3 * self._scatter[number % len(self._scatter)])
            press = _ease(within / 0.09) - _ease((within - 0.11) / 0.12)
            pitch = pitch - np.deg2rad(depth * press) * (local > 0)
        pose = leg_on_pedal(place, self.throne.size, side, board_pitch=pitch)
        return angles_from_pose(pose).as_array()


def _ease(u: Array) -> Array:
    """From 0 to 1 while u goes from 0 to 1, with no jump in speed or acceleration (quintic)."""
    v = np.clip(u, 0.0, 1.0)
    return v**3 * (10 + v * (6 * v - 15))
