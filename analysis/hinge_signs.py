"""Axes of a pair of clips from the hinge that any motion shows, and which way round they point.

A hinge alone has no sign: it comes from the `right_axis` hint of the import, or from the partner whose sign is settled.
Hints that the motion denies are not believed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..logger.models import Clip
from .alignment import SENSOR_AXES, Axis, unit
from .hinge import find_hinge
from .orientation import Track, up_in_sensor
from .quality import Quality
from .timebase import Floats, Mask

SURELY_AGAINST = 0.3
"""Two hints are doubted when the motion across the hinge correlates against them by more than this (ours)."""
HINT_CONE_DEG = 60.0
"""A hint names the sensor axis nearest to the wearer's right: within this cone it settles a sign [deg]."""


def fill_by_hinge(
    axes: dict[str, Axis | None],
    first: str,
    second: str,
    worn: Mapping[str, Track],
    clips: Mapping[str, Clip],
    quality: Quality,
) -> None:
    """Take the missing axes of a pair from the hinge that any motion shows."""
    a, b = worn[first], worn[second]
    together = a.known & b.known
    hinge = find_hinge(a.gyr[together].astype(np.float64), b.gyr[together].astype(np.float64), a.rate_hz)
    pair = f"{clips[first].name} and {clips[second].name}"
    if hinge.why_not:
        quality.say(f"No hinge axis between {pair} could be found from the practice itself: {hinge.why_not}.")
        return
    found = {first: hinge.first, second: hinge.second}
    signs = {s: hint_sign(found[s], clips[s]) for s in (first, second)}
    if axes[first] is None and axes[second] is None and signs[first] and signs[second]:
        one, other = (signs[s] * found[s].direction for s in (first, second))
        if _paired_sign(one, other, a, b, together, SURELY_AGAINST) < 0:
            quality.say(f"{pair}: by their right_axis they face opposite ways, which their motion denies; correct one.")
            signs = dict.fromkeys(signs, 0)
    for segment, other in ((first, second), (second, first)):
        if axes[segment] is not None:
            continue
        if signs[segment] == 0 and (axes[other] is not None or signs[other] != 0):
            # The partner's sign is settled: the parts of both rates across the hinge must agree.
            known = axes[other]
            reference = known.direction if known is not None else signs[other] * found[other].direction
            signs[segment] = _paired_sign(found[segment].direction, reference, worn[segment], worn[other], together)
        signed = signs[segment] != 0
        axes[segment] = replace(
            found[segment], direction=found[segment].direction * (signs[segment] or 1), signed=signed
        )


def hint_sign(axis: Axis, clip: Clip) -> int:
    """Sign that the `right_axis` hint gives to an axis; 0 without one or where it points across."""
    if clip.right_axis is None:
        return 0
    along = float(axis.direction @ SENSOR_AXES[clip.right_axis])
    return int(np.sign(along)) if abs(along) > np.cos(np.radians(HINT_CONE_DEG)) else 0


def _paired_sign(
    axis: Floats, reference: Floats, track: Track, other: Track, together: Mask, least: float = 0.1
) -> int:
    """Sign of `axis` that makes the anterior parts of two clips' rates agree, long axes up; 0 when undecided.

    least : agreement (a correlation) below which it is undecided.
    """
    ups = [unit(up_in_sensor(t.quat[together]).mean(axis=0)) for t in (track, other)]
    first, second = (np.cross(up, j) for up, j in zip(ups, (axis, reference), strict=True))
    a, b = track.gyr[together] @ first, other.gyr[together] @ second
    agreement = float(a @ b) / max(float(np.linalg.norm(a) * np.linalg.norm(b)), 1e-12)
    return int(np.sign(agreement)) if abs(agreement) > least else 0
