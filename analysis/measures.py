"""What is compared between set-ups, and the sizes that go with it. All sizes are ours where no source stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

Measure = Literal["median_room_deg", "share_near_end"]

UNIT: dict[Measure, str] = {"median_room_deg": "deg", "share_near_end": "fraction of playing time"}
# Spread below which nothing is measured.
RESOLUTION: dict[Measure, float] = {"median_room_deg": 0.05, "share_near_end": 0.0005}
# How much within-session differences vary between sessions, assumed until there are three.
ASSUMED_SD: dict[Measure, float] = {"median_room_deg": 2.0, "share_near_end": 0.1}
# A share beyond these on both set-ups can tell nothing: judge on room.
SATURATED_ABOVE, SATURATED_BELOW = 0.95, 0.01
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


def saturated(shares: Sequence[float]) -> bool:
    """Whether shares, 0-1, are all so near everything or nothing that they cannot tell set-ups apart."""
    return min(shares) > SATURATED_ABOVE or max(shares) < SATURATED_BELOW


def saturated_at(share: float) -> str:
    """`above 95 %` or `below 1 %`: where a saturated share lies."""
    return f"above {100 * SATURATED_ABOVE:.0f} %" if share > 0.5 else f"below {100 * SATURATED_BELOW:.0f} %"


def known_pair_sd(measure: Measure) -> float:
    """SD of within-session differences that counts as one session more [unit of the measure]; 0: nothing is known.

    A share's spread depends on where the share lies, so nothing is assumed of it.
    """
    return ASSUMED_SD[measure] if measure == "median_room_deg" else 0.0


def wearing_sd(measure: Measure, motion: str, offset_sd: float, *, range_reused: bool) -> float:
    """SD of session means that putting the clips on anew makes, counting as one session more a side; 0: not known.

    offset_sd: of the whole offset band. range_reused: an end of range was used in several sessions, so that it does not
    scatter them; what is left is then about the standard error of measurement behind the minimal detectable change,
    MDC / (1.96 sqrt 2) (Weir 2005, J Strength Cond Res 19:231-240).
    """
    if not range_reused or measure != "median_room_deg":
        return offset_sd
    return min(offset_sd, MINIMAL_DETECTABLE_DEG.get(motion, 5.0) / (1.96 * 2**0.5))
