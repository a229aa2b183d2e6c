"""A fitting evening with clips on the virtual legs, as an import folder: range check, slide, set-ups, all phases named.

The drummer's own leg is the truth; the throne stands so high that the hip centre is 9 cm above it, as the model has it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import physics_folder
from footroom.logger.sources.virtual_counts import ACC_SCALE, GYR_SCALE, VirtualWearing
from footroom.logger.virtual_drummer import BLEND_S, Throne, VirtualDrummer
from footroom.logger.virtual_leg import LegSize, PedalPlace

RATE_HZ = 100.0
PLACES = tuple(f"{side}_{segment}" for side in ("right", "left") for segment in ("foot", "shank", "thigh"))
PITCH_DEG, SPLAY_DEG = 15.0, 10.0
MOVES = (("still", 8), ("ankle_taps", 14), ("knee_kicks", 14), ("thigh_lifts", 14))
RANGES = (
    ("range_dorsiflexion", 36), ("range_plantarflexion", 36), ("range_hip_flexion", 36), ("range_abduction", 36),
    ("range_internal_rotation", 36), ("range_external_rotation", 36),
)  # fmt: skip


@dataclass(frozen=True)
class Sitter:
    """Somebody on a throne. hip_height [m]."""

    stature_cm: float = 174.0
    hip_height: float = 0.56
    size: LegSize = field(default_factory=lambda: LegSize.from_stature(1.74))

    @property
    def participant(self):
        """As a tape would have it."""
        size = self.size
        return {
            "id": "siskin", "stature_cm": self.stature_cm, "thigh_length_cm": 100 * size.thigh,
            "shank_length_cm": 100 * size.shank, "ball_to_ankle_cm": 100 * size.ball_to_ankle,
            "hip_width_cm": 100 * size.hip_width,
        }  # fmt: skip

    def geometry(self, name, reach_cm, spacing_cm, **more):
        """A set-up's measures."""
        return {
            "name": name, "throne_height_cm": 100 * self.hip_height - 9.0, "reach_cm": reach_cm,
            "spacing_cm": spacing_cm, "footboard_pitch_deg": PITCH_DEG, "foot_splay_deg": SPLAY_DEG, **more,
        }  # fmt: skip


def evening(sitter, setups, number=0, *, playing_s=62, ranges=True, slide=False, seed=0):
    """One wearing as `physics_folder.write` wants it. setups : {name: (reach_cm, spacing_cm)}. number : which week."""
    places = {
        name: PedalPlace(sitter.hip_height, reach / 100, spacing / 100, np.radians(PITCH_DEG), np.radians(SPLAY_DEG))
        for name, (reach, spacing) in setups.items()
    }
    drummer = VirtualDrummer(Throne(sitter.size, sitter.hip_height, places), seed=seed)
    phases, at = [], 2.0

    def do(phase, seconds, setup=None):
        nonlocal at
        drummer.begin(phase, at, setup=setup)
        # A phase is named from when the blend into it is over, as a person would wait for the cue.
        named = SimpleNamespace(name=phase, start_s=at + BLEND_S, end_s=at + seconds, setup=setup)
        phases.append({key: value for key, value in vars(named).items() if value is not None})
        at += seconds

    for phase, seconds in (*MOVES, *(RANGES if ranges else ())):
        do(phase, seconds)
    if slide:
        do("still", 8)
        do("slide", 34)
    for name in setups:
        do("still", 8)
        do("rest_on_pedal", 8, name)
        do("lift_test", 22, name)
        do("playing", playing_s + BLEND_S, name)
    do("end_still", 8)
    do("end_range", 16)
    count = int((at + 1) * RATE_HZ)
    wearing = VirtualWearing(drummer, PLACES, block_s=10.0, seed=seed + 10 * number)
    clips = {}
    for place in PLACES:
        counts = wearing.counts(place, 0, count, RATE_HZ).astype(float)
        clips[place] = SimpleNamespace(
            time_s=np.arange(count) / RATE_HZ, acc=counts[:, :3] * ACC_SCALE, gyr=counts[:, 3:] * GYR_SCALE
        )
    when = datetime(2026, 11, 3, 18, 30, tzinfo=UTC) + timedelta(days=7 * number)
    return SimpleNamespace(
        participant=sitter.participant,
        setups=[sitter.geometry(name, *place) for name, place in setups.items()],
        clips=clips, phases=phases, recorded_at=when, drummer=drummer,
    )  # fmt: skip


def write(session, folder):
    """The import folder of an evening."""
    physics_folder.write(session, folder)
    path = folder / "import.toml"
    path.write_text(path.read_text() + f"\n[session]\nrecorded_at = {session.recorded_at.isoformat()}\n")
    return folder
