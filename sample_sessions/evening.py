"""One evening of one pupil as a plan: parts in order, each a curve of joint angles; phases and true answers from it.

Everything random is drawn when the plan is made, from the seed, the pupil and the evening; evaluating the plan draws
nothing, so that a coarse look (the true answers) and a fine one (the clips) see the same movement.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Phase, Side
from ..logger.virtual_leg import ANGLE_NAMES, still_angles
from .moves import (
    COLUMN,
    FALL_S,
    HOLD_S,
    PAUSE_S,
    REPETITION_S,
    RISE_S,
    Curve,
    Sway,
    along,
    hold,
    posed,
    range_move,
    repeat,
)
from .music import ease
from .pedalling import Sitting, lift_test, playing, rest
from .pupils import ORDERS, SEED, Pupil

Array = NDArray[np.float64]

PLAYING_S = 132.0
RANGE_PHASE: dict[str, str] = {
    "ankle_dorsiflexion": "range_dorsiflexion",
    "ankle_plantarflexion": "range_plantarflexion",
    "hip_flexion": "range_hip_flexion",
    "hip_horizontal_abduction": "range_abduction",
    "hip_horizontal_adduction": "range_adduction",
    "hip_internal_rotation": "range_internal_rotation",
    "hip_external_rotation": "range_external_rotation",
}


@dataclass(frozen=True)
class Part:
    """A stretch of the evening. curves : joint angles per side, from the part's own beginning. name : its phase."""

    duration_s: float
    curves: Mapping[Side, Curve]
    name: str | None = None
    side: Side | None = None
    setup: str | None = None


@dataclass
class Evening:
    """A planned evening. held_deg : per side and motion, how far each repetition of the range check went."""

    pupil: Pupil
    number: int
    parts: list[Part] = field(default_factory=list)
    starts: list[float] = field(default_factory=list)
    duration_s: float = 0.0
    held_deg: dict[Side, dict[str, Array]] = field(default_factory=dict)

    def add(self, part: Part, change_s: float = 1.8) -> None:
        """Append a part, after the time it takes to get there from the last pose [s]."""
        if self.parts:
            before = self.parts[-1]
            self._append(Part(change_s, {side: _join(before, part, side, change_s) for side in part.curves}))
        self._append(part)

    def _append(self, part: Part) -> None:
        self.parts.append(part)
        self.starts.append(self.duration_s)
        self.duration_s += part.duration_s

    def angles(self, side: Side, t: Array) -> Array:
        """Joint angles at increasing times t, (n,) [s] -> (n, 8) [rad]."""
        out = np.empty((len(t), len(ANGLE_NAMES)))
        edges = np.searchsorted(t, [*self.starts[1:], np.inf])
        first = 0
        for part, start, last in zip(self.parts, self.starts, edges, strict=True):
            if last > first:
                out[first:last] = part.curves[side](t[first:last] - start)
            first = int(last)
        return out

    def phases(self) -> list[Phase]:
        """The named parts, with a tenth of a second's margin of either end, as somebody with a stopwatch would."""
        found = []
        for part, start in zip(self.parts, self.starts, strict=True):
            if part.name is None:
                continue
            played = part.name == "playing"
            found.append(
                Phase(
                    name=part.name,
                    start_s=round(start + 0.1, 2),
                    end_s=round(start + part.duration_s - 0.1, 2),
                    setup=part.setup,
                    side=part.side,
                    exercise="routine" if played else None,
                    tempo_bpm=self.pupil.tempo_bpm if played else None,
                )
            )
        return found

    def playing_start(self, setup: str) -> float:
        """When the playing on a set-up begins [s]."""
        pairs = zip(self.parts, self.starts, strict=True)
        return next(start for part, start in pairs if part.name == "playing" and part.setup == setup)


def _join(before: Part, after: Part, side: Side, seconds: float) -> Curve:
    begin = before.curves[side](np.array([before.duration_s]))[0]
    end = after.curves[side](np.array([0.0]))[0]
    return lambda t: begin + ease(t / seconds)[:, None] * (end - begin)


def rng_for(pupil: Pupil, number: int, purpose: int, seed: int = SEED) -> np.random.Generator:
    """The random numbers of one pupil, evening and purpose (0 movement, 1 clips)."""
    return np.random.default_rng([seed, *pupil.id.encode(), number, purpose])


def plan_evening(pupil: Pupil, number: int, seed: int = SEED, playing_s: float = PLAYING_S) -> Evening:
    """Evening `number` (from 0) of a pupil: calibration, range check, three set-ups in turned order, end checks."""
    rng = rng_for(pupil, number, 0, seed)
    evening = Evening(pupil, number)
    base = still_angles(pupil.size, pupil.hip_height).as_array()[0]

    def still() -> dict[Side, Curve]:
        return {side: hold(_still_again(base, rng), Sway.draw(rng)) for side in pupil.sides}

    evening.add(Part(8.0, still(), "still"))
    add_calibration(evening, base, rng)
    add_range_check(evening, base, rng)
    sitting = {side: Sitting.draw(rng) for side in pupil.sides}
    for name in ORDERS[number % len(ORDERS)]:
        add_setup(evening, name, still(), {side: sitting[side].again(rng) for side in pupil.sides}, rng, playing_s)
    evening.add(Part(7.0, still(), "end_still"), 4.0)
    add_repetitions(evening, "ankle_dorsiflexion", "end_range", base, pupil.sides, 2, rng)
    return evening


def _still_again(base: Array, rng: np.random.Generator) -> Array:
    """The still pose as a person repeats it: ankle, shank and thigh each a little off."""
    ankle, shank, thigh, turn = rng.normal(scale=(0.6, 0.8, 0.6, 0.8))
    return posed(
        base,
        hip_flexion=thigh,
        hip_adduction=-turn,
        knee_flexion=thigh + shank,
        ankle_dorsiflexion=shank + ankle,
    )


def add_calibration(evening: Evening, base: Array, rng: np.random.Generator) -> None:
    """Ankle taps (toes down first), knee kicks (straightening first), thigh lifts (upward first; one leg at a time)."""
    sides = evening.pupil.sides
    taps = along(ankle_dorsiflexion=-1.0, ankle_inversion=0.05)
    kicks = along(knee_flexion=-1.0, knee_rotation=-0.03)
    lifts = along(hip_flexion=1.0, knee_flexion=1.0, hip_rotation=-0.03)

    def moved(move_name: str, amount: float, times: tuple[float, ...], active: tuple[Side, ...]) -> dict[Side, Curve]:
        move = {"taps": taps, "kicks": kicks, "lifts": lifts}[move_name]
        curves: dict[Side, Curve] = {}
        for side in sides:
            ends = amount + rng.normal(scale=0.08 * amount, size=6)
            sway = Sway.draw(rng)
            curves[side] = repeat(base, ends, move, times, sway) if side in active else hold(base, sway)
        return curves

    evening.add(Part(12.0, moved("taps", 20.0, (0.8, 0.1, 0.8, 0.3), sides), "ankle_taps"))
    evening.add(Part(14.4, moved("kicks", 45.0, (1.0, 0.1, 1.0, 0.3), sides), "knee_kicks"))
    for side in sides:
        named = side if len(sides) > 1 else None
        evening.add(Part(13.2, moved("lifts", 18.0, (0.9, 0.1, 0.9, 0.3), (side,)), "thigh_lifts", named))


def add_range_check(evening: Evening, base: Array, rng: np.random.Generator) -> None:
    """Five repetitions of each motion; hip flexion one leg at a time. Ends differ from evening to evening."""
    pupil = evening.pupil
    for motion, phase in RANGE_PHASE.items():
        groups: list[tuple[Side, ...]] = [pupil.sides]
        if motion == "hip_flexion":
            groups = [(side,) for side in pupil.sides]
        for group in groups:
            add_repetitions(evening, motion, phase, base, group, 5, rng)


def add_repetitions(
    evening: Evening,
    motion: str,
    phase: str,
    base: Array,
    active: tuple[Side, ...],
    count: int,
    rng: np.random.Generator,
) -> None:
    """Slow repetitions to the end of the active range; the first two of five fall short, as unpractised ones do."""
    pupil = evening.pupil
    times = (RISE_S, HOLD_S, FALL_S, PAUSE_S)
    # foot just off the floor; the rotation tests with the knee at a right angle
    start = posed(base, hip_flexion=2.0, knee_flexion=2.0)
    if "rotation" in motion:
        start[COLUMN["knee_flexion"]] = np.pi / 2
    offset = np.rad2deg(start[COLUMN["hip_flexion"]]) if motion == "hip_flexion" else 0.0
    short = np.array([-2.4, -1.1, 0.0, 0.0, 0.0]) if count == 5 else np.zeros(count)
    curves: dict[Side, Curve] = {}
    for side in pupil.sides:
        sway = Sway.draw(rng, 0.1)
        if side not in active:
            curves[side] = hold(base, sway)
            continue
        if phase == "end_range":
            tonight = float(np.mean(evening.held_deg[side][motion][-3:]))
        else:
            tonight = pupil.active_end_deg[side][motion] + rng.normal(scale=0.6)
        ends = tonight + short + rng.normal(scale=0.5, size=count)
        if phase != "end_range":
            evening.held_deg.setdefault(side, {})[motion] = ends
        curves[side] = repeat(start, ends - offset, range_move(motion, start), times, sway)
    side = active[0] if len(active) < len(pupil.sides) else None
    evening.add(Part(count * REPETITION_S, curves, phase, side))


def add_setup(
    evening: Evening,
    name: str,
    still: dict[Side, Curve],
    sitting: dict[Side, Sitting],
    rng: np.random.Generator,
    playing_s: float,
) -> None:
    """The still pose retaken, the foot at rest on the pedal, three lifts on the pedal, the routine."""
    pupil = evening.pupil
    evening.add(Part(6.0, still, "still"), 5.0)
    on_pedal: list[tuple[str, float, dict[Side, Curve]]] = [("rest_on_pedal", 5.0, {}), ("lift_test", 13.4, {})]
    played: dict[Side, Curve] = {}
    for side in pupil.sides:
        end_deg = float(np.mean(evening.held_deg[side]["ankle_dorsiflexion"][-3:]))
        on_pedal[0][2][side] = rest(pupil, name, side, sitting[side])
        on_pedal[1][2][side] = lift_test(pupil, name, side, sitting[side], end_deg)
        played[side] = playing(pupil, name, side, sitting[side], end_deg, playing_s, rng)
    for phase, seconds, curves in on_pedal:
        evening.add(Part(seconds, curves, phase, setup=name), 2.0 if phase == "rest_on_pedal" else 0.5)
    evening.add(Part(playing_s, played, "playing", setup=name), 1.0)
