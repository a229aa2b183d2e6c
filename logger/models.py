"""What a logbook holds, as data: participants, set-ups, clips, phases, sessions.

These are the only shapes that travel between import, recorder, logbook and analysis. Units stand in the names;
lengths are in cm and angles in degrees because these are what people type (analysis turns them into SI).
Unknown keys are kept (`extra="allow"`), so that nothing a person wrote is lost.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

SCHEMA_VERSION = 1

Side = Literal["right", "left"]
Segment = Literal["foot", "shank", "thigh", "pelvis"]
SIDES: tuple[Side, ...] = ("right", "left")
SEGMENTS: tuple[Segment, ...] = ("foot", "shank", "thigh", "pelvis")

PLACES: tuple[str, ...] = (*(f"{side}_{segment}" for side in SIDES for segment in SEGMENTS[:-1]), SEGMENTS[-1])
"""Where a clip can be worn: `right_foot`, ..., `pelvis`."""

FELT_0_10 = ("comfort_0_10", "balance_0_10", "control_0_10")
"""How a set-up felt; with these its fields `chosen` and `note` are the person's own words."""
FELT = (*FELT_0_10, "chosen", "note")

PHASE_NAMES: tuple[str, ...] = (
    "still",
    "ankle_taps",
    "knee_kicks",
    "thigh_lifts",
    "range_dorsiflexion",
    "range_plantarflexion",
    "range_hip_flexion",
    "range_abduction",
    "range_adduction",
    "range_internal_rotation",
    "range_external_rotation",
    "slide",
    "rest_on_pedal",
    "lift_test",
    "playing",
    "end_still",
    "end_range",
)

MOTIONS: tuple[str, ...] = (
    "ankle_dorsiflexion",
    "ankle_plantarflexion",
    "hip_flexion",
    "hip_horizontal_abduction",
    "hip_horizontal_adduction",
    "hip_internal_rotation",
    "hip_external_rotation",
)


def place_words(place: str) -> str:
    """`right foot` for `right_foot`."""
    return place.replace("_", " ")


def tells_alone(phase: str) -> bool:
    """Whether a phase makes a session worth analysing without playing: the slide, a move of the range check."""
    return phase == "slide" or phase.startswith("range_")


# Names Windows keeps for devices: no id may be one of them.
_RESERVED = r"(?!(?:con|prn|aux|nul|com[0-9]|lpt[0-9])$)"
ID_PATTERN = re.compile(rf"^{_RESERVED}[a-z0-9](?:[a-z0-9-]{{0,62}}[a-z0-9])?$")
MAX_PARTICIPANT_ID = 40  # leaves room for the date and number that make a session id of it


def is_identifier(text: str) -> bool:
    """Whether `text` may name a participant or session: a-z, 0-9 and -, at most 64 characters, no device name."""
    return ID_PATTERN.fullmatch(text) is not None


def is_label(text: str) -> bool:
    """Whether `text` may name a set-up: 1 to 64 printable characters, no blank at the ends, no slash."""
    return 0 < len(text) <= 64 and text.isprintable() and text == text.strip() and not set(text) & set("/\\")


def _identifier(text: str) -> str:
    if not is_identifier(text):
        raise ValueError("an id is made of a-z, 0-9 and -, begins and ends with a letter or digit")
    return text


def _label(text: str) -> str:
    if not is_label(text):
        raise ValueError("a name is 1 to 64 printable characters without slashes")
    return text


Identifier = Annotated[str, StringConstraints(max_length=64), AfterValidator(_identifier)]
Label = Annotated[str, AfterValidator(_label)]


class Model(BaseModel):
    model_config = ConfigDict(extra="allow", allow_inf_nan=False, validate_assignment=True)


class Participant(Model):
    """A person under a pseudonym. Lengths are measured with a tape or estimated from stature."""

    id: Identifier
    stature_cm: float | None = Field(default=None, ge=85, le=250)
    thigh_length_cm: float | None = Field(default=None, ge=22, le=70)
    shank_length_cm: float | None = Field(default=None, ge=22, le=70)
    ball_to_ankle_cm: float | None = Field(default=None, ge=5, le=30)
    hip_width_cm: float | None = Field(default=None, ge=8, le=40, description="between the hip joint centres [cm]")
    thigh_width_cm: float | None = Field(default=None, ge=8, le=40, description="mid-thigh, seen from above [cm]")


class FootPlace(Model):
    """Where one foot's pedal differs from what the set-up says for both. Everything is optional."""

    reach_cm: float | None = Field(default=None, ge=20, le=110)
    footboard_pitch_deg: float | None = Field(default=None, ge=-10, le=60)
    footboard_length_cm: float | None = Field(default=None, ge=15, le=50)
    foot_splay_deg: float | None = Field(default=None, ge=-60, le=90)
    heel_plate_cm: float | None = Field(default=None, ge=-5, le=25)
    footwear: str | None = None
    shoe_heel_cm: float | None = Field(default=None, ge=0, le=12)
    shoe_drop_mm: float | None = Field(default=None, ge=-20, le=60)


class KeepClear(Model):
    """A drum or stand that stands where a leg might be: an upright cylinder, seen from the middle of the hips."""

    name: str
    forward_cm: float = Field(ge=-150, le=200, description="centre, ahead of the hip centres [cm]")
    right_cm: float = Field(default=0.0, ge=-150, le=150, description="centre, to the person's right [cm]")
    diameter_cm: float = Field(gt=2, le=150)
    bottom_cm: float = Field(default=0.0, ge=0, le=150, description="lower edge above the floor [cm]")
    top_cm: float = Field(gt=0, le=200, description="upper edge above the floor [cm]")


class Setup(Model):
    """A throne and pedal set-up. Everything but the name is optional."""

    name: Label
    throne_height_cm: float | None = Field(default=None, ge=28, le=95, description="seat height, loaded [cm]")
    reach_cm: float | None = Field(default=None, ge=20, le=110, description="hip to ankle centre, straight ahead [cm]")
    spacing_cm: float | None = Field(default=None, ge=12, le=140, description="ball to ball of the feet [cm]")
    footboard_pitch_deg: float | None = Field(default=None, ge=-10, le=60)
    foot_splay_deg: float | None = Field(default=None, ge=-60, le=90, description="toes outward positive [deg]")
    thigh_slope_deg: float | None = Field(default=None, ge=-60, le=45, description="knee above hip positive [deg]")
    snare_diameter_in: float | None = Field(default=None, gt=4, lt=30)
    footwear: str | None = None
    seat_unloaded_cm: float | None = Field(default=None, ge=28, le=100, description="seat height, nobody on it [cm]")
    seat_compression_cm: float | None = Field(default=None, ge=0, le=15, description="how far the seat gives [cm]")
    torso_lean_deg: float | None = Field(default=None, ge=-30, le=45, description="trunk forward of upright [deg]")
    torso_thigh_deg: float | None = Field(default=None, ge=40, le=160, description="trunk to thigh, 90 = square [deg]")
    footboard_length_cm: float | None = Field(default=None, ge=15, le=50)
    heel_plate_cm: float | None = Field(default=None, ge=-5, le=25, description="heel support above the floor [cm]")
    shoe_heel_cm: float | None = Field(default=None, ge=0, le=12, description="sole under the heel [cm]")
    shoe_drop_mm: float | None = Field(default=None, ge=-20, le=60, description="heel sole minus ball sole [mm]")
    snare_forward_cm: float | None = Field(default=None, ge=0, le=150, description="its centre ahead of the hips [cm]")
    snare_right_cm: float | None = Field(default=None, ge=-80, le=80, description="its centre to the right [cm]")
    snare_rim_cm: float | None = Field(default=None, ge=20, le=150, description="upper rim above the floor [cm]")
    snare_depth_in: float | None = Field(default=None, gt=1, lt=20)
    stand_spread_cm: float | None = Field(default=None, gt=2, le=120, description="across the stand's feet [cm]")
    keep_clear: list[KeepClear] = Field(default_factory=list, description="floor toms and other stands")
    right: FootPlace | None = None
    left: FootPlace | None = None
    throne_settled: bool | None = None
    comfort_0_10: float | None = Field(default=None, ge=0, le=10)
    balance_0_10: float | None = Field(default=None, ge=0, le=10)
    control_0_10: float | None = Field(default=None, ge=0, le=10)
    chosen: bool | None = None
    note: str | None = Field(default=None, description="what the person said about this set-up")

    @property
    def seat_height_cm(self) -> float | None:
        """Loaded seat height: as measured, else the unloaded one less what the seat gives [cm]."""
        if self.throne_height_cm is not None or self.seat_unloaded_cm is None or self.seat_compression_cm is None:
            return self.throne_height_cm
        return self.seat_unloaded_cm - self.seat_compression_cm

    def of_foot(self, side: Side, key: str) -> Any:
        """The value of one foot: its own where it has one, else the set-up's; None where neither is given."""
        own = self.right if side == "right" else self.left
        value = None if own is None else getattr(own, key, None)
        return getattr(self, key, None) if value is None else value


class Clip(Model):
    """A sensor as worn. Its samples are in the Arrow file `file`, exactly as recorded, on its own clock."""

    segment: Segment
    side: Side | None = None
    file: str
    right_axis: Literal["+x", "-x", "+y", "-y", "+z", "-z"] | None = None

    @property
    def name(self) -> str:
        """`right_foot`, ..., `pelvis`."""
        return self.segment if self.side is None else f"{self.side}_{self.segment}"


class Phase(Model):
    """A named span of a session, on the first clip's clock [s]."""

    name: str
    start_s: float
    end_s: float
    setup: str | None = None
    side: Side | None = None
    exercise: str | None = None
    tempo_bpm: float | None = Field(default=None, gt=0, lt=400)
    block: str | int | None = None


class Session(Model):
    """One wearing of the clips: one calibration, one range check, any number of set-ups."""

    schema_version: int = SCHEMA_VERSION
    id: Identifier
    participant: Participant
    recorded_at: AwareDatetime
    note: str | None = None
    setups: list[Setup]
    clips: list[Clip]
    phases: list[Phase]
    typed_range_deg: dict[Side, dict[str, float]] = Field(
        default_factory=dict, description="active ends measured by hand, {side: {motion: deg}}"
    )
    source: dict[str, str] = Field(default_factory=dict, description="where it came from: kind, sha256, ...")
    warnings: list[str] = Field(default_factory=list, description="what import noticed and kept")

    def clip(self, name: str) -> Clip | None:
        """The clip called `name` (`right_foot`, `pelvis`), if worn."""
        return next((clip for clip in self.clips if clip.name == name), None)

    def setup_of(self, phase: Phase) -> Setup:
        """The set-up a phase was played on: the one it names, else the only one."""
        name = phase.setup or self.setups[0].name
        return next(setup for setup in self.setups if setup.name == name)
