"""Who plays in the sample evenings, and on what. All invented; every number that the rest is made from stands here.

Wednesday evening class of the (invented) Quarry Lane Music School. The pupils' names are birds. Leg lengths follow
stature; ranges and postures are plausible figures of ours, from nobody's measurement.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ..logger.models import MOTIONS, Side
from ..logger.virtual_leg import LegSize

SEED = 20261124  # one of eight tried: the one whose evenings show both kinds of verdict most plainly
SCHOOL = "Quarry Lane Music School, Wednesday evening class (invented)"
EVENINGS: tuple[str, ...] = (
    "2026-10-28T19:10:00+01:00",
    "2026-11-04T19:05:00+01:00",
    "2026-11-11T19:10:00+01:00",
    "2026-11-18T19:15:00+01:00",
)
# Four rows of a Williams design for three set-ups: no set-up is always first or always after the same one.
ORDERS: tuple[tuple[str, str, str], ...] = (
    ("near", "far", "wide"),
    ("wide", "far", "near"),
    ("far", "wide", "near"),
    ("near", "wide", "far"),
)
HIP_ABOVE_SEAT_CM = 9.0  # hip centre above the loaded seat (from memory)
SHOWN_MOTIONS: tuple[str, ...] = tuple(m for m in MOTIONS if m != "hip_horizontal_adduction")  # that end is contact
ZONE_DEG: dict[str, float] = {m: 5.0 if m.startswith("ankle") or m == "hip_flexion" else 10.0 for m in MOTIONS}


@dataclass(frozen=True)
class Fault:
    """What goes wrong in one evening. kind : "dropout" or "turn". setup, after_s : into that set-up's playing [s]."""

    kind: str
    clip: str
    setup: str
    after_s: float
    lasts_s: float = 20.0
    turn_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Pupil:
    """A pupil, their throne and pedals, and how they sit and play. Lengths in cm and angles in degrees, as typed.

    active_end_deg : per side and motion, on an average evening. knee_out_deg : swivel of the knee while playing.
    hat_hold_deg : how far the hi-hat foot keeps its board down. heel_up : whether passages are played heel-up.
    faults : by evening, counted from 0.
    """

    id: str
    stature_cm: float
    sides: tuple[Side, ...]
    throne_height_cm: float
    reach_cm: dict[str, float]
    spacing_cm: dict[str, float]
    footboard_pitch_deg: float
    foot_splay_deg: float
    tempo_bpm: float
    active_end_deg: dict[Side, dict[str, float]]
    knee_out_deg: float
    hat_hold_deg: float = 7.0
    heel_up: bool = False
    faults: dict[int, Fault] = field(default_factory=dict)

    @property
    def size(self) -> LegSize:
        """The pupil's leg [m]."""
        return LegSize.from_stature(self.stature_cm / 100)

    @property
    def hip_height(self) -> float:
        """Hip centre above the floor [m]."""
        return (self.throne_height_cm + HIP_ABOVE_SEAT_CM) / 100


def ends(*degrees: float) -> dict[str, float]:
    """Active ends in the order of `models.MOTIONS` [deg]."""
    return dict(zip(MOTIONS, degrees, strict=True))


WREN = Pupil(
    id="wren",
    stature_cm=167,
    sides=("right",),
    throne_height_cm=49.0,
    reach_cm={"near": 44.5, "far": 48.5, "wide": 48.5},
    spacing_cm={"near": 46.0, "far": 46.0, "wide": 48.0},
    footboard_pitch_deg=20.0,
    foot_splay_deg=16.0,
    tempo_bpm=96,
    active_end_deg={"right": ends(17.0, 52.0, 112.0, 41.0, 11.0, 34.0, 39.0)},
    knee_out_deg=3.0,
    faults={2: Fault("dropout", "right_foot", "far", after_s=55.0)},
)
HERON = Pupil(
    id="heron",
    stature_cm=182,
    sides=("right", "left"),
    throne_height_cm=54.0,
    reach_cm={"near": 47.0, "far": 51.0, "wide": 51.0},
    spacing_cm={"near": 52.0, "far": 52.0, "wide": 54.0},
    footboard_pitch_deg=21.0,
    foot_splay_deg=17.0,
    tempo_bpm=108,
    active_end_deg={
        "right": ends(18.5, 48.0, 106.0, 38.0, 10.0, 30.0, 36.0),
        "left": ends(16.0, 50.0, 107.0, 36.0, 10.0, 28.0, 37.0),
    },
    knee_out_deg=4.0,
    heel_up=True,
    faults={1: Fault("turn", "right_shank", "near", after_s=100.0, lasts_s=0.8, turn_deg=(0.0, 13.0, 6.0))},
)
PUPILS: tuple[Pupil, ...] = (WREN, HERON)
