"""Published ranges of joint motion, for orientation only: never targets, and never what a person should reach.

Used as the end of range only where a person has none of their own; every figure that rests on one says so. The
conditions differ from a drummer on a throne (lying or standing, knee straight, passive): that is why the band around
such a figure is wide. `how_sure` says how the number came to us, because not every table was read at its source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

HowSure = Literal["read in the primary text", "read second-hand", "from memory"]


@dataclass(frozen=True)
class Norm:
    """One published mean.

    mean_deg, sd_deg: of the group, toward the end [deg]; sd_deg is None where we know none.
    """

    motion: str
    mean_deg: float
    sd_deg: float | None
    source: str
    conditions: str
    how_sure: HowSure


_BOONE = "Boone DC, Azen SP 1979, J Bone Joint Surg Am 61(5):756-759"
_ROACH = "Roach KE, Miles TP 1991, Phys Ther 71:656-665"
_SOUCIE = "Soucie JM et al. 2011, Haemophilia 17(3):500-507"
_AAOS = "American Academy of Orthopaedic Surgeons 1965, Joint Motion: Method of Measuring and Recording"
_KRAUSE = "Krause DA et al. 2015, Knee Surg Sports Traumatol Arthrosc 23:2562-2567"
_KOUYOUMDJIAN = "Kouyoumdjian P et al. 2012, Orthop Traumatol Surg Res 98:17-23"

_BOONE_MEN = "active, goniometer, males 20-54 years"
_SOUCIE_M = "passive, goniometer, knee straight, males 20-44 years"
_SOUCIE_F = "passive, goniometer, knee straight, females 20-44 years"

NORMS: tuple[Norm, ...] = (
    Norm("ankle_dorsiflexion", 12.2, 4.1, _BOONE, _BOONE_MEN, "from memory"),
    Norm("ankle_dorsiflexion", 12.7, None, _SOUCIE, _SOUCIE_M, "read second-hand"),
    Norm("ankle_dorsiflexion", 13.8, None, _SOUCIE, _SOUCIE_F, "read second-hand"),
    Norm("ankle_dorsiflexion", 20.0, None, _AAOS, "estimate", "read second-hand"),
    Norm("ankle_plantarflexion", 54.3, 5.9, _BOONE, _BOONE_MEN, "from memory"),
    Norm("ankle_plantarflexion", 54.6, None, _SOUCIE, _SOUCIE_M, "read second-hand"),
    Norm("ankle_plantarflexion", 50.0, None, _AAOS, "estimate", "read second-hand"),
    Norm("hip_flexion", 121.0, 13.0, _ROACH, "active, 25-74 years, lying", "read second-hand"),
    Norm("hip_flexion", 130.4, None, _SOUCIE, "passive, lying, males 20-44 years", "read second-hand"),
    Norm("hip_flexion", 120.0, None, _AAOS, "estimate", "read second-hand"),
    Norm("hip_internal_rotation", 32.0, None, _KRAUSE, "seated, 22-42 years, inclinometer", "read in the primary text"),
    Norm("hip_internal_rotation", 37.9, None, _KOUYOUMDJIAN, "seated, adults", "read in the primary text"),
    Norm("hip_internal_rotation", 45.0, None, _AAOS, "estimate, seated", "read second-hand"),
    Norm("hip_external_rotation", 40.6, None, _KOUYOUMDJIAN, "seated, adults", "read in the primary text"),
    Norm("hip_external_rotation", 45.0, None, _AAOS, "estimate, seated", "read second-hand"),
)

# What stands in for a person's own range: the first row of each motion, active and seated before passive and lying.
# The seated internal rotation row is the middle of the printed means 30.7-32.8.
_NONE_PUBLISHED = (
    "there is no published range for moving the thigh sideways while seated with the hip bent; "
    "add a range_abduction phase or type the range measured by hand"
)


def norms(motion: str) -> tuple[Norm, ...]:
    """Every published mean we hold for `motion`, the one in use first; empty where there is none."""
    return tuple(norm for norm in NORMS if norm.motion == motion)


def norm(motion: str) -> Norm | None:
    """The published mean that stands in for a missing range of `motion`; None where nothing fits a seated person."""
    return next(iter(norms(motion)), None)


def why_no_norm(motion: str) -> str:
    """One clause for `quality.withheld` where `norm(motion)` is None."""
    return _NONE_PUBLISHED if "horizontal" in motion or motion == "hip_spread" else f"no norm is held for {motion}"
