"""Tape measures of a leg and a set-up: what closes the horizontal triangle hip - knee - ankle.

Lengths that were not measured are estimated from stature: thigh 0.245 and shank 0.246 of stature, hip breadth 0.191
(Drillis & Contini 1966, Body Segment Parameters, NYU Tech Rep 1166-03, as in Winter 2009, Fig 4.1; hip joint centres
taken as half the outer breadth). Ball to ankle centre 0.073 of stature along the sole: heel-to-ball 0.114 (ANSUR II,
2012) less 0.041 from heel to ankle centre (ours). Ankle centre above the ground: 0.039 of stature (Drillis & Contini),
7 cm where the stature is not known, plus the sole (`sole_cm`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..logger.models import Participant, Setup, Side
from .timebase import Floats

OF_STATURE = {"thigh_length_cm": 0.245, "shank_length_cm": 0.246, "hip_width_cm": 0.0955, "ball_to_ankle_cm": 0.073}
"""Shares of stature used where a length was not measured."""
TAPE_SD_M = 0.008
"""Standard error of the distance hip to ankle from tape measures [m] (ours)."""
TWIST_SD_RAD = np.radians(6.0)
"""Spread of the shank's twist about its own axis at the bent knee, which the heading tie cannot see [rad] (ours)."""
USUAL_PITCH_DEG = 20.0
"""Footboard pitch where it was not given [deg] (domain bounds 15-28, from memory)."""
ESTIMATED_SD_M = 0.02
"""The same as `TAPE_SD_M` when lengths come from stature [m] (ours)."""
SHOE_HEEL_CM = 2.5
"""Sole under the heel where it was not measured [cm] (facts of ANSUR users, our assumption)."""
WITHOUT_SHOES = ("barefoot", "bare feet", "socks")
"""Footwear, as noted, that has no sole."""


@dataclass(frozen=True)
class Tape:
    """Horizontal position of the ankle against the hip, and segment lengths, of one leg on one set-up [m].

    forward_m : hip to ankle straight ahead.   outward_m : hip to ankle to the outside.
    ball_m, ankle_m : ankle centre ahead of the ball (along the sole) and above the sole.   splay_rad : of the foot.
    rest_pitch_rad : of the foot on the board at rest, toes up.
    hip_half_width_m : from the middle of the pelvis to a hip centre.
    measured : whether every length was measured (else some come from stature).
    """

    forward_m: float
    outward_m: float
    thigh_m: float
    shank_m: float
    ball_m: float
    ankle_m: float
    splay_rad: float
    rest_pitch_rad: float
    hip_half_width_m: float
    measured: bool

    def ankle(self, foot_pitch_rad: Floats | None = None, turn_rad: Floats | float = 0.0) -> tuple[Floats, Floats]:
        """Horizontal distance [m] and direction (outward positive) [rad] from hip to ankle.

        foot_pitch_rad : (n,) pitch of the sole, toes up; None stands for the foot at rest. The foot turns about its
        ball (or its heel: the difference is under a centimetre), which carries the ankle, high above, with it.
        turn_rad : (n,) how far it is turned about its ball against its rest, toes outward positive.
        """
        rest = self._behind_ball(np.full(1, self.rest_pitch_rad))
        now = rest if foot_pitch_rad is None else self._behind_ball(foot_pitch_rad)
        splay = self.splay_rad + turn_rad
        forward = self.forward_m + rest * np.cos(self.splay_rad) - now * np.cos(splay)
        outward = self.outward_m + rest * np.sin(self.splay_rad) - now * np.sin(splay)
        return np.hypot(forward, outward), np.arctan2(outward, forward)

    def _behind_ball(self, pitch_rad: Floats) -> Floats:
        """How far the ankle centre is behind the ball, in the horizontal [m]: the pitched foot tips it back."""
        return self.ball_m * np.cos(pitch_rad) + self.ankle_m * np.sin(pitch_rad)

    @property
    def base_sd_m(self) -> float:
        """Standard error of the distance hip to ankle [m]."""
        return TAPE_SD_M if self.measured else ESTIMATED_SD_M


def without_shoe(setup: Setup, side: Side) -> bool:
    """Whether a foot was noted to be in socks or bare."""
    return str(setup.of_foot(side, "footwear") or "").strip().lower() in WITHOUT_SHOES


def sole_cm(setup: Setup, side: Side) -> float:
    """Sole under the heel of one foot [cm]: as measured, else none in socks or bare feet and the usual one in shoes."""
    measured = setup.of_foot(side, "shoe_heel_cm")
    if measured is not None:
        return float(measured)
    return 0.0 if without_shoe(setup, side) else SHOE_HEEL_CM


def tape_of(participant: Participant, setup: Setup, side: Side) -> tuple[Tape | None, str]:
    """The tape measures of one foot on one set-up, or None with the reason.

    The feet are taken to stand half the spacing from the middle each.
    """
    reach_cm = setup.of_foot(side, "reach_cm")
    if reach_cm is None or setup.spacing_cm is None:
        missing = [name for name in ("reach_cm", "spacing_cm") if setup.of_foot(side, name) is None]
        return None, f"set-up {setup.name!r} has no {' and no '.join(missing)}"
    lengths: dict[str, float] = {}
    measured = True
    for name, share in OF_STATURE.items():
        value = getattr(participant, name)
        if value is None:
            if participant.stature_cm is None:
                return None, f"neither {name} nor stature_cm of {participant.id!r} is known"
            value, measured = share * participant.stature_cm, False
        lengths[name] = value / 100.0
    splay = float(np.radians(setup.of_foot(side, "foot_splay_deg") or 0.0))
    pitch_deg = setup.of_foot(side, "footboard_pitch_deg")
    pitch = float(np.radians(USUAL_PITCH_DEG if pitch_deg is None else pitch_deg))
    bare_cm = 7.0 if participant.stature_cm is None else 0.039 * participant.stature_cm
    ankle_m = (bare_cm + sole_cm(setup, side)) / 100.0
    ball_m = lengths["ball_to_ankle_cm"]
    ball_outward = setup.spacing_cm / 200.0 - lengths["hip_width_cm"] / 2.0
    ball_ahead = ball_m * np.cos(pitch) + ankle_m * np.sin(pitch)  # the pitched foot tips the ankle back
    tape = Tape(
        forward_m=reach_cm / 100.0,
        outward_m=float(ball_outward - ball_ahead * np.sin(splay)),
        thigh_m=lengths["thigh_length_cm"],
        shank_m=lengths["shank_length_cm"],
        ball_m=ball_m,
        ankle_m=ankle_m,
        splay_rad=splay,
        rest_pitch_rad=pitch,
        hip_half_width_m=lengths["hip_width_cm"] / 2.0,
        measured=measured,
    )
    return tape, ""


def triangle_azimuth(
    thigh_m: Floats,
    shank_m: Floats,
    twist_rad: Floats,
    tape: Tape,
    foot_pitch_rad: Floats | None = None,
    turn_rad: Floats | float = 0.0,
) -> tuple[Floats, Floats, Floats]:
    """Thigh azimuth that closes the horizontal triangle hip - knee - ankle.

    thigh_m, shank_m : (n,) horizontal lengths of the two segments, from gravity alone [m].
    twist_rad : (n,) how far the shank points outward of the thigh in the horizontal plane, from the heading tie [rad].
    foot_pitch_rad : (n,) pitch of the sole, toes up [rad]; None where no foot clip is worn.
    turn_rad : (n,) how far the foot is turned about its ball, toes outward [rad].
    Returns azimuth (outward positive) [rad], the twist after weighing it against the tape [rad], and by how much the
    triangle failed to close before that [m].

    The sides hip-knee and knee-ankle add up to a vector whose length depends on the twist; the twist is moved towards
    the taped length by the gain that the errors of tape and twist allow (one linear least-squares step). The direction
    of the sum against the thigh then gives the azimuth.
    """
    taped, bearing = tape.ankle(foot_pitch_rad, turn_rad)
    base = np.hypot(thigh_m + shank_m * np.cos(twist_rad), shank_m * np.sin(twist_rad))
    slope = -thigh_m * shank_m * np.sin(twist_rad) / np.maximum(base, 1e-6)
    misfit = taped - base
    gain = TWIST_SD_RAD**2 * slope / (TWIST_SD_RAD**2 * slope**2 + tape.base_sd_m**2)
    twist = twist_rad + np.clip(gain * misfit, -2 * TWIST_SD_RAD, 2 * TWIST_SD_RAD)
    lead = np.arctan2(shank_m * np.sin(twist), thigh_m + shank_m * np.cos(twist))
    return bearing - lead, twist, misfit
