"""The foot on the pedal, as joint angles over time: at rest, lifted, playing. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Side
from ..logger.virtual_leg import PedalPlace, angles_from_pose, leg_on_pedal
from .moves import COLUMN, Curve
from .music import Wander, bump, ease, heel_up_spans, lift_curve, press_curve, routine
from .pupils import Pupil

Array = NDArray[np.float64]

HEEL_UP_DEG = 24.0  # how much the sole is steeper than the board with the heel up, a guess of ours


@dataclass(frozen=True)
class Sitting:
    """How a person happens to sit: forward on the throne [m], knee out [rad]; a wander of each, and of the shin.

    An evening's posture varies by 0.7 cm (about 1 deg at the ankle) and 1.5 deg of knee, each new sitting down by
    0.45 cm and 2 deg, the minutes within it by 0.35 cm and 1 deg (SD, ours).
    """

    forward: float
    knee_out: float
    slide: Wander
    splay: Wander
    shin: Wander

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Sitting:
        """An evening's posture."""
        return cls._around(rng, 0.0, 0.0, 0.007, np.deg2rad(1.5))

    def again(self, rng: np.random.Generator) -> Sitting:
        """Sat down once more, on the same evening."""
        return self._around(rng, self.forward, self.knee_out, 0.0045, np.deg2rad(2.0))

    @classmethod
    def _around(cls, rng: np.random.Generator, forward: float, knee_out: float, sd: float, knee_sd: float) -> Sitting:
        return cls(
            forward + rng.normal(scale=sd),
            knee_out + rng.normal(scale=knee_sd),
            Wander.draw(rng, 0.0035),
            Wander.draw(rng, np.deg2rad(1.0)),
            Wander.draw(rng, np.deg2rad(1.5)),
        )


def pedal_place(pupil: Pupil, setup: str) -> PedalPlace:
    """A set-up as geometry [m, rad]; both pedals stand alike."""
    return PedalPlace(
        hip_height=pupil.hip_height,
        reach=pupil.reach_cm[setup] / 100,
        spacing=pupil.spacing_cm[setup] / 100,
        pitch=np.deg2rad(pupil.footboard_pitch_deg),
        splay=np.deg2rad(pupil.foot_splay_deg),
    )


def _on_board(
    pupil: Pupil, setup: str, side: Side, sitting: Sitting, t: Array, board_deg: Array, heel_deg: Array
) -> Array:
    """Joint angles (n, 8) [rad] with the board turned by `board_deg` from rest and the heel raised by `heel_deg`."""
    place = pedal_place(pupil, setup)
    board = place.pitch + np.deg2rad(board_deg)
    shift = np.zeros((len(t), 3))
    shift[:, 0] = sitting.forward + sitting.slide(t)
    pose = leg_on_pedal(
        place,
        pupil.size,
        side,
        board_pitch=board,
        foot_pitch=board - np.deg2rad(heel_deg),
        swivel=np.deg2rad(pupil.knee_out_deg) + sitting.knee_out + sitting.splay(t),
        tibial_rotation=sitting.shin(t),
        hip_shift=shift,
    )
    return angles_from_pose(pose).as_array()


def _room_at_rest(pupil: Pupil, setup: str, side: Side, sitting: Sitting, end_deg: float) -> float:
    zero = np.zeros(1)
    resting = _on_board(pupil, setup, side, sitting, zero, zero, zero)[0, COLUMN["ankle_dorsiflexion"]]
    return end_deg - float(np.rad2deg(resting))


def _hat_hold(pupil: Pupil, side: Side) -> float:
    return pupil.hat_hold_deg if side == "left" else 0.0


def rest(pupil: Pupil, setup: str, side: Side, sitting: Sitting) -> Curve:
    """Heel on its plate, foot relaxed on the board."""

    def curve(t: Array) -> Array:
        return _on_board(pupil, setup, side, sitting, t, np.zeros(len(t)), np.zeros(len(t)))

    return curve


def lift_test(pupil: Pupil, setup: str, side: Side, sitting: Sitting, end_deg: float) -> Curve:
    """Three times the toes are lifted off the board as far as they go, heel down (nine tenths of the room at rest)."""
    height = 0.9 * max(_room_at_rest(pupil, setup, side, sitting, end_deg), 0.5)

    def curve(t: Array) -> Array:
        up = height * np.sum([bump(t - first, 1.2, 1.2, 1.2) for first in (0.3, 4.7, 9.1)], axis=0)
        return _on_board(pupil, setup, side, sitting, t, up, np.zeros(len(t)))

    return curve


def playing(
    pupil: Pupil, setup: str, side: Side, sitting: Sitting, end_deg: float, seconds: float, rng: np.random.Generator
) -> Curve:
    """The routine: strokes heel-down about the heel, in some passages heel-up about the ball (bass drum only)."""
    strokes = routine(side, seconds, pupil.tempo_bpm, rng)
    held = _hat_hold(pupil, side)
    room = _room_at_rest(pupil, setup, side, sitting, end_deg) + held
    spans = heel_up_spans(seconds, pupil.tempo_bpm) if pupil.heel_up and side == "right" else []

    def curve(t: Array) -> Array:
        up = np.zeros(len(t))
        for begin, end in spans:
            up += ease((t - begin) / 1.2) - ease((t - end + 1.2) / 1.2)
        settle = ease(t / 0.5) - ease((t - seconds + 0.5) / 0.5)
        press, lift = press_curve(t, strokes), lift_curve(t, strokes, room)
        board = -held * settle - press + lift * (1 - up)
        heel = up * (HEEL_UP_DEG + 0.5 * lift + 0.4 * press)
        return _on_board(pupil, setup, side, sitting, t, board, heel)

    return curve
