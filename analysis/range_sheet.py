"""The range sheet: repetitions of a range check, their mean, growth, plateau and side difference, with norms and the
minimal detectable change beside each. For orientation: norms are never targets, and nobody has to reach them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..logger.errors import InputError
from ..logger.import_phases import most_deg
from ..logger.models import Side
from ..logger.person_notes import mean_of_last_three
from .active_range import METHODS, Method, unusual
from .motions import MOTION, words
from .norms import Norm, norms
from .range_tests import RangeTest

PLATEAU_DEG = 1.5
"""The last repetition adds less than this: the joint is warm (ours)."""
GROWTH_ODD_DEG = 6.0
"""A growth beyond 1-4 deg over five repetitions speaks of a bad first one or a clip that moved (ours)."""
SPREAD_ODD_DEG = 4.0
"""Repetitions that differ by more than this (SD): measure again (good: below 2 deg, our plausibility bound)."""
SIDES_APART_DEG = 10.0
"""Sides this far apart: measure again first (usual: below 6 deg, our plausibility bound)."""
PAIN_STOP = 3.0
"""Stop when pain is above this, or rising (0-10)."""


@dataclass(frozen=True)
class Detectable:
    """Smallest change between two measurements that is more than their error [deg], and where it is from."""

    deg: float
    source: str


DETECTABLE: dict[str, Detectable] = {
    "ankle_dorsiflexion": Detectable(5.0, "ours; none published seated, lunge 3.7-4.7 (Konor 2012, Powden 2015)"),
    "ankle_plantarflexion": Detectable(9.5, "active, goniometer 9.2-9.8 (heel-rise and goniometry study, second-hand)"),
    "hip_flexion": Detectable(7.0, "one sensor, same tester: limits of agreement below 7 (Stolowski et al. 2023)"),
    "hip_internal_rotation": Detectable(5.4, "active, seated, inclinometer (Krause et al. 2015)"),
    "hip_external_rotation": Detectable(5.4, "ours, as internal rotation (Krause et al. 2015)"),
    "hip_horizontal_abduction": Detectable(9.0, "ours; none is published"),
    "hip_horizontal_adduction": Detectable(9.0, "ours; none is published"),
}
CONDITIONS = (
    "Seated as for playing, knee bent about 90 deg; a lunge test in standing is another test (about twice the "
    "dorsiflexion) and cannot be compared. Whether the toes curl cannot be seen by clips: ask."
)


@dataclass(frozen=True)
class RangeSummary:
    """One motion of one side. end_deg : by `method`, the mean of the last three kept repetitions unless said; [deg].

    growth_deg : last minus first. plateau : whether the last one added little. spread_deg is None with one repetition.
    """

    side: Side
    motion: str
    repetitions_deg: tuple[float, ...]
    method: Method
    end_deg: float
    mean_deg: float
    median_deg: float
    peak_deg: float
    spread_deg: float | None
    growth_deg: float
    plateau: bool
    detectable: Detectable
    norms: tuple[Norm, ...]
    messages: tuple[str, ...]


def end_of_typed(repetitions_deg: Sequence[float], method: Method = "mean_of_last_three") -> float:
    """The end of active range from kept repetitions in order [deg]: the mean of the last three, unless asked otherwise.

    `median` is over all kept ones, `best_of_n` the highest of the last three (a biased maximum; n stays three).
    Raises InputError for an unknown method.
    """
    values = np.asarray(repetitions_deg, dtype=float)
    if method == "mean_of_last_three":
        return mean_of_last_three(values.tolist())
    if method == "median":
        return float(np.median(values))
    if method == "best_of_n":
        return float(np.max(values[-3:]))
    raise InputError(f"{method!r} is no way to form an active end; use one of {', '.join(METHODS)}.")


def summarise(
    side: Side,
    motion: str,
    repetitions_deg: Sequence[float],
    *,
    pain: float | None = None,
    method: Method = "mean_of_last_three",
) -> RangeSummary:
    """One motion of one side from its kept repetitions, in order [deg].

    Raises InputError for an unknown motion or method, no repetitions, values that are no angles or more than a joint
    can, a repetition that ends before neutral, and pain above `PAIN_STOP`.
    """
    if motion not in MOTION or motion not in DETECTABLE:
        raise InputError(f"{motion!r} is no motion of a range check; use one of {', '.join(DETECTABLE)}.")
    name = words(side, motion)
    values = np.asarray(repetitions_deg, dtype=float)
    if values.size == 0:
        raise InputError(f"{name}: there are no repetitions; three to five are needed, after two for practice.")
    if not np.isfinite(values).all() or float(np.max(np.abs(values))) > 180.0:
        raise InputError(f"{name}: {_list(values)} are no angles; give degrees from neutral.")
    if pain is not None and pain > PAIN_STOP:
        raise InputError(
            f"{name}: stop; with pain of {pain:g} of 10 the range is not measured. Ask a clinician if it stays or "
            "returns."
        )
    if float(values.max()) > most_deg(motion):
        raise InputError(
            f"{name}: {values.max():g} deg is more than a joint can ({most_deg(motion):g} deg); correct it, or measure "
            "again."
        )
    least = float(values.min())
    if least < 0.0 and motion != "hip_horizontal_adduction":
        raise InputError(
            f"{name} of {least:.0f} deg would end before neutral; give it as a positive number, and check that zero is "
            "the foot square to the shin, or the thigh straight ahead."
        )
    return _summary(side, motion, values, method)


def summary_of(test: RangeTest, method: Method = "mean_of_last_three") -> RangeSummary:
    """The summary of a test that lies in the logbook, never refused; its end rests on its `used` repetitions.

    Growth is seen over all repetitions that were valid and held, practice ones too. Raises InputError for an unknown
    method.
    """
    usable = test.kept_deg or tuple(one.held_deg for one in test.repetitions)
    found = _summary(test.side, test.motion, np.asarray(usable, dtype=float), method)
    if test.how != "clips":
        return found
    used = [one.held_deg for one in test.repetitions if one.used] or list(usable)
    valid = [one for one in test.repetitions if not one.invalid]
    every = np.asarray([one.held_deg for one in valid if one.held] or list(usable))
    own = [message for message in test.messages if "instead of three" not in message and "is unusual" not in message]
    invalid = sum(one.invalid for one in test.repetitions)
    if invalid:
        own.append(f"{invalid} of {len(test.repetitions)} repetitions were not valid and do not count")
    return replace(
        found,
        end_deg=end_of_typed(used, method),
        mean_deg=end_of_typed(used),
        growth_deg=float(every[-1] - every[0]),
        plateau=_levelled(every),
        messages=tuple(dict.fromkeys([*own, *found.messages])),
    )


def _summary(side: Side, motion: str, values: np.ndarray, method: Method) -> RangeSummary:
    mean = end_of_typed(values.tolist())
    spread = float(np.std(values, ddof=1)) if values.size > 1 else None
    growth = float(values[-1] - values[0])
    said: list[str] = []
    if odd := unusual(motion, mean):
        said.append(odd)
    if values.size < 3:
        said.append(f"{values.size} repetition{'s' if values.size > 1 else ''} instead of three: less sure")
    if spread is not None and spread > SPREAD_ODD_DEG:
        said.append(f"repetitions differ by {spread:.1f} deg (SD): measure again")
    if growth > GROWTH_ODD_DEG:
        said.append(f"grew by {growth:.0f} deg: a cold first one, or something moved; add repetitions until it stays")
    plateau = _levelled(values)
    if values.size > 2 and not plateau:
        said.append("still growing at the last repetition: add one or two")
    return RangeSummary(
        side=side,
        motion=motion,
        repetitions_deg=tuple(float(v) for v in values),
        method=method,
        end_deg=end_of_typed(values.tolist(), method),
        mean_deg=mean,
        median_deg=float(np.median(values)),
        peak_deg=float(np.max(values)),
        spread_deg=spread,
        growth_deg=growth,
        plateau=plateau,
        detectable=DETECTABLE[motion],
        norms=norms(motion),
        messages=tuple(said),
    )


def _levelled(values: np.ndarray) -> bool:
    return values.size > 2 and float(values[-1] - np.max(values[:-1])) < PLATEAU_DEG


@dataclass(frozen=True)
class SideDifference:
    """right minus left [deg]; detectable : what would be more than error; note : what to make of it."""

    motion: str
    deg: float
    detectable_deg: float
    note: str


def side_differences(summaries: Sequence[RangeSummary]) -> list[SideDifference]:
    """Right minus left for every motion that was measured on both sides; a side measured alone is left out."""
    by_motion: dict[str, dict[Side, RangeSummary]] = {}
    for one in summaries:
        by_motion.setdefault(one.motion, {})[one.side] = one
    found: list[SideDifference] = []
    for motion, sides in by_motion.items():
        if len(sides) < 2:
            continue
        apart = sides["right"].end_deg - sides["left"].end_deg
        # Two measured values differ by chance as a test and its repeat do.
        least = DETECTABLE[motion].deg
        if abs(apart) > SIDES_APART_DEG:
            note = "far apart: measure both again first"
        elif abs(apart) > least:
            note = "more than the error of measuring"
        else:
            note = "within the error of measuring"
        found.append(SideDifference(motion, apart, least, note))
    return found


def missing_sides(summaries: Sequence[RangeSummary]) -> list[str]:
    """`left ankle dorsiflexion`, ...: what was measured on the other side only."""
    have: set[tuple[str, str]] = {(one.side, one.motion) for one in summaries}
    other = {"right": "left", "left": "right"}
    return sorted(words(other[s], motion) for s, motion in have if (other[s], motion) not in have)


def standard_error_deg(summary: RangeSummary) -> float | None:
    """Of the mean of the last three [deg]; None with one repetition."""
    used = summary.repetitions_deg[-3:]
    return None if len(used) < 2 else float(np.std(used, ddof=1)) / math.sqrt(len(used))


def _list(values: np.ndarray) -> str:
    return ", ".join(f"{v:g}" for v in values[:5])
