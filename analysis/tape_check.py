"""Do the tape measures fit the leg? By the triangle's length, and by where the thigh itself pointed after a still pose.

A wrong reach shows in the length of the triangle. A wrong spacing hardly does, but it turns the triangle about the hip:
then the tape has the thigh elsewhere than its clip's own heading, which a still pose with the thighs straight ahead has
just set. On 64 simulated legs the two agreed within 2.9 deg (SD 1.1) when the tape was right to 0.5 cm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..logger.models import Session, Side
from .leg import LegAngles, OnPedal
from .quality import Quality

MISFIT_WARN_M = 0.04
"""A taped triangle that misses by more than this is doubted in words [m] (ours)."""
MISFIT_REFUSE_M = 0.10
"""... and by more than this is not used [m] (ours)."""
OFF_WARN_DEG = 7.0
"""A tape that has the thigh so far from its own heading is doubted in words [deg] (ours: people point their thighs
straight ahead to a few degrees)."""
OFF_REFUSE_DEG = 12.0
"""... and beyond this is not used [deg] (ours): 9 cm at the knee."""


def refuse_tape(leg: LegAngles, on_pedal: Sequence[OnPedal], session: Session, side: Side, quality: Quality) -> bool:
    """Drop tape measures that contradict the leg; True if any was dropped. What is doubted is said."""
    dropped = False
    for index, ahead in leg.ahead_m.items():
        misfit = float(np.nanmedian(ahead))
        name = session.setups[index].name
        off = leg.off_deg.get(index, 0.0)
        if abs(misfit) > MISFIT_REFUSE_M:
            reason = (
                f"the tape and the leg's slopes disagree by {100 * abs(misfit):.0f} cm: measure reach, spacing and "
                "segment lengths again"
            )
        elif abs(off) > OFF_REFUSE_DEG:
            where = "outward" if off > 0 else "inward"
            reason = (
                f"by the tape the thigh points {abs(off):.0f} deg farther {where} than its clip shows right after the "
                "still pose: measure the spacing again, and let the thighs point straight ahead in the still pose"
            )
        else:
            if abs(misfit) > MISFIT_WARN_M:
                quality.say(
                    f"{side} leg on {name!r}: reach and spacing fit the leg only to {100 * abs(misfit):.0f} cm; "
                    "check the tape."
                )
            elif abs(off) > OFF_WARN_DEG:
                quality.say(
                    f"{side} leg on {name!r}: by the tape the thigh points {abs(off):.0f} deg from where its clip "
                    "shows it; check the spacing, and whether the thighs pointed straight ahead in the still pose."
                )
            continue
        quality.withhold(f"{side} hip from the tape on {name!r}", reason)
        on_pedal[index].tape = None
        dropped = True
    return dropped
