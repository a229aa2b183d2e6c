"""The end of active range to hold each joint against: the latest range check or hand-measured one, else a norm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from ..logger.models import Session, Setup, Side
from ..logger.person_notes import NotedRange, PersonNotes
from .active_range import unusual
from .fit import Fit
from .motions import words
from .norms import norm
from .placement import MODELLED, Joint
from .range_sheet import end_of_typed
from .setups import other_height

TYPED_SD_DEG = 3.0
"""Standard error of an end measured by hand (goniometer MDC 5-7.7 deg, Konor 2012: SEM 1.8-2.8) [deg]."""


@dataclass(frozen=True)
class KnownEnd:
    """An end of active range of the joint itself (bare sole). throne_height_cm : it was measured at, where known."""

    deg: float
    sd_deg: float
    source: str
    when: datetime | None
    throne_height_cm: float | None = None
    other_height: bool = False


def in_shoe(fit: Fit, side: Side, motion: str) -> float:
    """What a clip reads more than the bare joint, because the shoe's heel is higher [deg]."""
    if side not in fit.legs or not motion.startswith("ankle"):
        return 0.0
    drop = float(np.degrees(fit.legs[side].pedal.drop_angle(fit.body)))
    return drop if motion == "ankle_dorsiflexion" else -drop


def known_ends(
    sessions: Sequence[Session],
    exposures: Mapping[str, Mapping[str, Any]],
    notes: PersonNotes,
    fit: Fit,
    setup: Setup,
) -> dict[Joint, KnownEnd]:
    """The end to hold each joint against: the latest range check or hand-measured one, else a norm."""
    found: dict[Joint, KnownEnd] = {}
    for side in fit.legs:
        for motion in MODELLED:
            known = [*_checked(sessions, exposures, fit, side, motion), *_by_hand(notes.ranges, side, motion)]
            if known:
                last = max(known, key=lambda end: end.when.timestamp() if end.when else 0.0)
                other = other_height(last.throne_height_cm, setup.seat_height_cm)
                found[side, motion] = KnownEnd(
                    last.deg, last.sd_deg, last.source, last.when, last.throne_height_cm, other_height=other
                )
            elif (published := norm(motion)) is not None:
                found[side, motion] = KnownEnd(published.mean_deg, published.sd_deg or 6.0, "norm", None)
    return found


def unusual_ends(ends: Mapping[Joint, KnownEnd]) -> list[str]:
    """What to say of ends that nobody expects, since every room rests on them."""
    return [
        f"no room of {words(side, motion)} is to be relied on: an end of {odd}"
        for (side, motion), end in ends.items()
        if (odd := unusual(motion, end.deg))
    ]


def _checked(
    sessions: Sequence[Session], exposures: Mapping[str, Mapping[str, Any]], fit: Fit, side: Side, motion: str
) -> list[KnownEnd]:
    found: list[KnownEnd] = []
    for session in sessions:
        ranges = exposures.get(session.id, {}).get("ranges", {})
        end, share = ranges.get(side, {}).get(motion), 1.0
        if end is None and motion == "hip_horizontal_abduction":
            end, share = ranges.get("both", {}).get("hip_spread"), 0.5
        if end is None or end.get("source") not in ("this session", "typed"):
            continue
        source = "range check" if end["source"] == "this session" else "measured by hand"
        sd = 1.5 if source == "range check" else TYPED_SD_DEG
        deg = share * float(end["value_deg"]) - in_shoe(fit, side, motion)
        found.append(KnownEnd(deg, sd, source, session.recorded_at, session.setups[0].seat_height_cm))
    return found


def _by_hand(ranges: Sequence[NotedRange], side: Side, motion: str) -> list[KnownEnd]:
    return [
        KnownEnd(
            end_of_typed(one.repetitions_deg), TYPED_SD_DEG, "measured by hand", one.recorded_at, one.throne_height_cm
        )
        for one in ranges
        if one.side == side and one.motion == motion
    ]
