"""What makes a session in the physics engine: one frozen value; equal parameters give equal sessions."""

from dataclasses import dataclass

from clip_noise import ClipErrors
from physics_script import RANGES, Person, SetupScript

MOVES = ("ankle_taps", "knee_kicks", "thigh_lifts")
SKIN_WOBBLE_DEG = (("thigh", 1.2), ("shank", 0.5), ("foot", 0.3))


@dataclass(frozen=True)
class Slip:
    """A clip that turns on the leg: by `turn_deg` about `axis` (segment frame), within 0.3 s, during playing."""

    clip: str
    turn_deg: float
    axis: tuple = (0.0, 1.0, 0.0)
    setup: str | None = None
    after_s: float = 30.0


@dataclass(frozen=True)
class Dropout:
    """A clip that sends nothing for `length_s`, `after_s` into playing (of the named set-up, else the first)."""

    clip: str
    length_s: float = 20.0
    setup: str | None = None
    after_s: float = 30.0


@dataclass(frozen=True)
class PhysicsParameters:
    """Everything that makes a session; equal parameters give equal sessions. Angles [deg], tape [cm]."""

    seed: int = 1
    sides: tuple = ("right",)
    segments: tuple = ("foot", "shank", "thigh")
    pelvis_clip: bool = False
    rate_hz: float = 200.0
    person: Person = Person()
    setups: tuple = (SetupScript(),)
    errors: ClipErrors = ClipErrors()
    thigh_lag: float = 0.0
    wobble_deg: tuple = (("thigh", 0.0), ("shank", 0.0), ("foot", 0.0))
    knock_g: float = 0.0
    slips: tuple = ()
    dropouts: tuple = ()
    still_s: float = 6.0
    moves: tuple = MOVES
    ranges: tuple = tuple(RANGES)
    repetitions: int = 5
    both_at_once: bool = False
    retake_still: bool = True
    end_checks: bool = True
    tape_sd_cm: float = 0.0
    tape_sd_deg: float = 0.0
    with_tape: bool = True
