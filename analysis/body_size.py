"""Lengths of a seated person: measured with a tape, or from stature, with how sure each is and a check against ANSUR.

Shares of stature: Drillis & Contini 1966, Body Segment Parameters, NYU Tech Rep 1166-03, as in Winter 2009, Fig 4.1;
those of `tape.OF_STATURE`, so that the model and the hip angles of a session rest on the same leg. One unvalidated
population: a prior, never truth. ANSUR II (US Army 2012, NATICK/TR-15/007, public data, 4,082 men and 1,986 women)
serves as the check (`logger.setup_checks`).
"""

from __future__ import annotations

from dataclasses import dataclass

from ..logger.errors import InputError
from ..logger.models import Participant
from .tape import OF_STATURE

HEEL_TO_ANKLE = 0.041
"""Heel to below the ankle centre, share of stature (ours, as in `tape`)."""
ANKLE_HEIGHT = 0.039
"""Ankle centre above the bare sole, share of stature (Drillis & Contini)."""
HIP_ABOVE_SEAT_M = 0.09
"""Hip centre above the loaded seat [m] (from memory)."""
THIGH_RADIUS = 0.051
"""Half the thigh clearance of ANSUR II (0.103 of stature in men and women)."""
SHANK_RADIUS_M = 0.055
"""Half the thickness of calf and shin [m] (ours, from memory)."""
FOOT_HALF_BREADTH = 0.0275
"""Half the foot breadth, 0.055 of stature (Drillis & Contini)."""
MEASURED_SD_M = 0.008
"""A segment length taken with a tape [m] (ours, as `tape.TAPE_SD_M`)."""
ESTIMATED_SD = 0.0095
"""A segment length taken from stature, share of stature: SD of the person-to-person ratio, as wide as that of popliteal
height in ANSUR II (0.0079 in men, 0.0089 in women) or a little more (ours)."""


@dataclass(frozen=True)
class Body:
    """What the seated model needs to know of a person [m].

    ankle_height : ankle centre above the bare sole. ball_to_ankle, heel_to_ankle : along the sole.
    hip_width : between the hip centres. hip_above_seat : hip centre above the loaded seat.
    thigh_radius, shank_radius, foot_half_breadth : thickness, for keeping clear of drums and stands.
    length_sd : standard error of thigh and shank. measured : names of the lengths that were measured.
    """

    thigh: float
    shank: float
    ankle_height: float
    ball_to_ankle: float
    heel_to_ankle: float
    hip_width: float
    hip_above_seat: float = HIP_ABOVE_SEAT_M
    thigh_radius: float = 0.088
    shank_radius: float = SHANK_RADIUS_M
    foot_half_breadth: float = 0.047
    length_sd: float = MEASURED_SD_M
    measured: frozenset[str] = frozenset()

    @property
    def foot(self) -> float:
        """Heel to ball along the sole [m]."""
        return self.heel_to_ankle + self.ball_to_ankle


def body_of(person: Participant) -> Body:
    """The lengths of a participant: measured ones as they are, the others from stature.

    Raises InputError when thigh or shank is neither measured nor can be estimated for want of stature.
    """
    lengths: dict[str, float] = {}
    measured: set[str] = set()
    for name, share in OF_STATURE.items():
        value = getattr(person, name)
        if value is not None:
            measured.add(name)
        elif person.stature_cm is not None:
            value = share * person.stature_cm
        else:
            raise InputError(
                f"neither {name} nor stature_cm of {person.id!r} is known, so there is no leg to place; measure the "
                "stature, or better thigh and shank with a tape."
            )
        lengths[name] = value / 100.0
    stature = person.stature_cm / 100.0 if person.stature_cm is not None else stature_from(lengths)
    legs_measured = {"thigh_length_cm", "shank_length_cm"} <= measured
    width = person.thigh_width_cm
    return Body(
        thigh=lengths["thigh_length_cm"],
        shank=lengths["shank_length_cm"],
        ankle_height=ANKLE_HEIGHT * stature,
        ball_to_ankle=lengths["ball_to_ankle_cm"],
        heel_to_ankle=HEEL_TO_ANKLE * stature,
        hip_width=lengths["hip_width_cm"],
        thigh_radius=THIGH_RADIUS * stature if width is None else width / 200.0,
        foot_half_breadth=FOOT_HALF_BREADTH * stature,
        length_sd=MEASURED_SD_M if legs_measured else ESTIMATED_SD * stature,
        measured=frozenset(measured),
    )


def stature_from(lengths_m: dict[str, float]) -> float:
    """Stature [m] that thigh and shank lengths [m] speak for (the inverse of the shares)."""
    both = lengths_m["thigh_length_cm"] + lengths_m["shank_length_cm"]
    return both / (OF_STATURE["thigh_length_cm"] + OF_STATURE["shank_length_cm"])
