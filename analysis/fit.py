"""A person on a set-up, as the seated model wants it, and what turning one knob makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..logger.errors import InputError
from ..logger.models import SIDES, Participant, Setup, Side
from .body_size import Body, body_of
from .keep_clear import Cylinder, volumes_of
from .knee_turn import Clearing, clearing
from .seated_leg import Hold, Pedal, Seat, Stroke, stroke_poses
from .seated_pose import Pose
from .tape import USUAL_PITCH_DEG, sole_cm, without_shoe

SLOPE_APART_DEG = 12.0
"""A measured thigh slope this far from the model's does not belong to it [deg] (ours: the top of a thigh slopes some 4
deg more than its bone, lengths and tape leave about 4 deg SD)."""


@dataclass(frozen=True)
class Knob:
    """Something that can be changed about a set-up.

    unit : cm, deg or in. per_foot : each foot has its own. words : for people. ups, downs : what more and less mean.
    """

    name: str
    unit: str
    per_foot: bool
    words: str
    ups: str
    downs: str


KNOBS: dict[str, Knob] = {
    knob.name: knob
    for knob in (
        Knob("reach_cm", "cm", True, "reach", "farther from the throne", "nearer to the throne"),
        Knob("spacing_cm", "cm", False, "spacing of the pedals", "wider", "narrower"),
        Knob("throne_height_cm", "cm", False, "throne height", "higher", "lower"),
        Knob("footboard_pitch_deg", "deg", True, "footboard pitch", "steeper", "flatter"),
        Knob("foot_splay_deg", "deg", True, "foot splay", "more outward", "less outward"),
        Knob("shoe_drop_mm", "mm", True, "drop of the shoe", "more", "less"),
    )
}


@dataclass(frozen=True)
class LegPlace:
    """One foot's place.

    reach : hip centre to ankle centre, straight ahead [m]. hold, swivel : of the knee [rad]. habit : how much farther
    outward than that the person holds the knee by itself, as sessions have shown [rad]: what stands there is held
    against it, while angles have it from what was learned of each joint.
    """

    reach: float
    pedal: Pedal
    swivel: float = 0.0
    hold: Hold = "upright"
    habit: float = 0.0


@dataclass(frozen=True)
class Fit:
    """A person on a set-up. spacing : ball to ball [m]. volumes : what the legs have to keep clear of."""

    body: Body
    seat: Seat
    spacing: float
    legs: Mapping[Side, LegPlace]
    stroke: Stroke = Stroke()
    volumes: tuple[Cylinder, ...] = ()
    assumed: tuple[str, ...] = ()

    def poses(self, side: Side) -> dict[str, Pose]:
        """The leg at rest and at the beater's contact where it stands now, its knee turned to clear what is there."""
        return self._swivelled(side, self.turn(side))

    def seen_poses(self, side: Side) -> dict[str, Pose]:
        """The same with the knee where the person is known to hold it: to be drawn, not to be learned from."""
        return self._swivelled(side, self.turn(side) + self.legs[side].habit)

    def _swivelled(self, side: Side, turn: float) -> dict[str, Pose]:
        leg = self.legs[side]
        place = (self.body, self.seat, leg.pedal, leg.reach, self.spacing, self.stroke)
        return stroke_poses(*place, swivel=leg.swivel + turn, hold=leg.hold)

    @property
    def hip_height(self) -> float:
        """Hip centre above the floor [m]."""
        return self.seat.height + self.body.hip_above_seat

    def clearing(self, side: Side) -> Clearing:
        """What a leg touches where it stands, and the least turn of its knee that clears it."""
        if side not in self._clearings:
            rest = self._swivelled(side, self.legs[side].habit)["rest"]
            self._clearings[side] = clearing(rest, self.body, self.hip_height, side, self.volumes)
        return self._clearings[side]

    @cached_property
    def _clearings(self) -> dict[Side, Clearing]:
        """What was found before: a fit never changes."""
        return {}

    def turn(self, side: Side) -> float:
        """The least turn of the knee that clears what stands there, outward positive [rad]; 0 where none does."""
        return float(np.nan_to_num(self.clearing(side).turn)) if self.volumes else 0.0

    def held(self, side: Side, hold: Hold, habit: float = 0.0) -> Fit:
        """The same with one leg held another way; habit as in `LegPlace` [rad]."""
        return replace(self, legs={**self.legs, side: replace(self.legs[side], hold=hold, habit=habit)})

    def moved(self, knob: str, by: float, sides: tuple[Side, ...] = SIDES) -> Fit:
        """The same with one knob turned, `by` in the knob's own unit; per-foot knobs on `sides` only.

        Raises ValueError for an unknown knob.
        """
        if knob not in KNOBS:
            raise ValueError(f"{knob!r} is no knob; use one of {', '.join(KNOBS)}")
        if knob == "spacing_cm":
            return replace(self, spacing=self.spacing + by / 100.0)
        if knob == "throne_height_cm":
            return replace(self, seat=replace(self.seat, height=self.seat.height + by / 100.0))
        legs = {side: _turned(leg, knob, by) if side in sides else leg for side, leg in self.legs.items()}
        return replace(self, legs=legs)


def _turned(leg: LegPlace, knob: str, by: float) -> LegPlace:
    if knob == "reach_cm":
        return replace(leg, reach=leg.reach + by / 100.0)
    pedal = leg.pedal
    changed = {
        "footboard_pitch_deg": replace(pedal, pitch=pedal.pitch + float(np.radians(by))),
        "foot_splay_deg": replace(pedal, splay=pedal.splay + float(np.radians(by))),
        "shoe_drop_mm": replace(pedal, drop=pedal.drop + by / 1000.0),
    }
    return replace(leg, pedal=changed[knob])


def fit_of(person: Participant, setup: Setup, *, sides: tuple[Side, ...] = SIDES, stroke: Stroke | None = None) -> Fit:
    """The model's view of a person on a set-up.

    What is not given is assumed and named in `assumed`: pitch 20 deg, foot straight ahead, heel on the floor, a sole
    of 2.5 cm without drop (in socks or bare feet none), an upright trunk.

    Raises InputError when throne height, reach or spacing is missing, when no length of the leg is known, or when a leg
    cannot reach its pedal.
    """
    body = body_of(person)
    height = setup.seat_height_cm
    missing = [] if height is not None else ["throne_height_cm"]
    missing += [] if setup.spacing_cm is not None else ["spacing_cm"]
    missing += [f"reach_cm ({side})" for side in sides if setup.of_foot(side, "reach_cm") is None]
    if height is None or setup.spacing_cm is None or missing:
        raise InputError(
            f"set-up {setup.name!r} has no {', no '.join(missing)}; measure with the person sitting and the foot at "
            "rest on the board, and add it."
        )
    assumed: list[str] = []

    def given(side: Side, key: str, otherwise: float, what: str) -> float:
        value = setup.of_foot(side, key)
        if value is None and what and what not in assumed:
            assumed.append(what)
        return otherwise if value is None else float(value)

    legs: dict[Side, LegPlace] = {}
    for side in sides:
        bare = without_shoe(setup, side)
        pedal = Pedal(
            pitch=float(np.radians(given(side, "footboard_pitch_deg", USUAL_PITCH_DEG, "footboard pitch 20 deg"))),
            splay=float(np.radians(given(side, "foot_splay_deg", 0.0, "foot straight ahead"))),
            heel_plate=given(side, "heel_plate_cm", 0.0, "heel on the floor") / 100.0,
            sole=given(side, "shoe_heel_cm", sole_cm(setup, side), "" if bare else "sole 2.5 cm") / 100.0,
            drop=given(side, "shoe_drop_mm", 0.0, "" if bare else "shoe without drop") / 1000.0,
        )
        legs[side] = LegPlace(float(setup.of_foot(side, "reach_cm")) / 100.0, pedal)
    seat = Seat(height / 100.0, float(np.radians(setup.torso_lean_deg or 0.0)))
    fit = Fit(body, seat, setup.spacing_cm / 100.0, legs, stroke or Stroke(), volumes_of(setup), tuple(assumed))
    for side in sides:
        if not all(np.isfinite(pose.hip_flexion) for pose in fit.poses(side).values()):
            raise InputError(_out_of_reach(setup, fit, side))
    return fit


def slope_apart(fit: Fit, setup: Setup) -> str | None:
    """What to say where the thigh's measured slope is not the one that throne height and lengths give; else None."""
    if setup.thigh_slope_deg is None:
        return None
    model = float(np.degrees(np.mean([fit.poses(side)["rest"].thigh_slope for side in fit.legs])))
    apart = setup.thigh_slope_deg - model
    if abs(apart) <= SLOPE_APART_DEG:
        return None
    return (
        f"set-up {setup.name!r}: a thigh slope of {setup.thigh_slope_deg:g} deg does not fit throne height and "
        f"lengths, which give about {round(model) + 0:g}; measure the loaded height and the slope again."
    )


def _out_of_reach(setup: Setup, fit: Fit, side: Side) -> str:
    longest = 100.0 * (fit.body.thigh + fit.body.shank)
    return (
        f"set-up {setup.name!r}: the {side} leg (thigh and shank {longest:.0f} cm) cannot sit {setup.seat_height_cm:g} "
        f"cm high with its foot {100 * fit.legs[side].reach:g} cm ahead and the pedals {setup.spacing_cm:g} cm apart; "
        "measure reach from the hip, not from the edge of the seat, and check that everything is in cm."
    )
