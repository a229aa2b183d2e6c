"""What is compared between set-ups, and the sizes that go with it. All sizes are ours where no source stands."""

from __future__ import annotations

from typing import Literal

Measure = Literal["median_room_deg", "share_near_end"]

UNIT: dict[Measure, str] = {"median_room_deg": "deg", "share_near_end": "fraction of playing time"}
# Spread below which nothing is measured.
RESOLUTION: dict[Measure, float] = {"median_room_deg": 0.05, "share_near_end": 0.0005}
# How much within-session differences vary between sessions, assumed until there are three.
ASSUMED_SD: dict[Measure, float] = {"median_room_deg": 2.0, "share_near_end": 0.1}
# The smallest difference that more sessions are planned for, and the smallest that is worth chasing further.
WORTH_SEEING: dict[Measure, float] = {"median_room_deg": 2.0, "share_near_end": 0.1}
WORTH_CHASING: dict[Measure, float] = {"median_room_deg": 1.0, "share_near_end": 0.05}

# About the minimal detectable change between wearings [deg]. Rotation: Krause et al. 2015 (seated, active, 5.4). The
# ankle: ours, near the lunge figures of Konor 2012 and Powden 2015 (3.7-4.7); the others: ours.
MINIMAL_DETECTABLE_DEG: dict[str, float] = {
    "ankle_dorsiflexion": 5.0,
    "ankle_plantarflexion": 5.0,
    "hip_flexion": 5.0,
    "hip_horizontal_abduction": 9.0,
    "hip_horizontal_adduction": 9.0,
    "hip_internal_rotation": 5.4,
    "hip_external_rotation": 5.4,
    "hip_spread": 9.0,
}
