"""The range sheet of a person as plain data: every measurement, every repetition, what can be told, what was before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..logger.cautions import CONTRAINDICATIONS
from ..logger.models import SIDES, Session
from .active_range import Method
from .motions import SIDED_MOTIONS
from .range_sheet import (
    CONDITIONS,
    RangeSummary,
    missing_sides,
    side_differences,
    standard_error_deg,
    summary_of,
)
from .range_tests import RangeTest
from .setups import other_height


def range_sheet(
    participant: str,
    tests: Sequence[RangeTest],
    *,
    method: Method = "mean_of_last_three",
    throne_height_cm: float | None = None,
) -> dict[str, Any]:
    """The last measurement of every motion and side, side differences, and what was measured before. Strict JSON.

    tests : in order of time. throne_height_cm : now; what was measured more than 1 cm from it is "other height".
    Raises InputError for an unknown method.
    """
    last: dict[tuple[str, str], RangeTest] = {}
    for one in tests:
        last[one.side, one.motion] = one
    ordered = [last[side, motion] for motion in SIDED_MOTIONS for side in SIDES if (side, motion) in last]
    pairs = [(one, summary_of(one, method)) for one in ordered]
    rows = []
    for test, summary in pairs:
        earlier = [o for o in tests if (o.side, o.motion) == (test.side, test.motion) and o is not test]
        rows.append(_row(test, summary, [(o, summary_of(o, method)) for o in earlier], throne_height_cm))
    summaries = [summary for _, summary in pairs]
    return {
        "participant": participant,
        "method": method,
        "throne_height_cm": throne_height_cm,
        "ranges": rows,
        "side_differences": [
            {
                "motion": d.motion,
                "right_minus_left_deg": round(d.deg, 1) + 0.0,
                "detectable_deg": d.detectable_deg,
                "note": d.note,
            }
            for d in side_differences(summaries)
        ],
        "missing_sides": missing_sides(summaries),
        "conditions": CONDITIONS,
        "caution": CONTRAINDICATIONS,
    }


def _row(
    test: RangeTest, one: RangeSummary, earlier: Sequence[tuple[RangeTest, RangeSummary]], height_cm: float | None
) -> dict[str, Any]:
    error = standard_error_deg(one)
    return {
        "side": one.side,
        "motion": one.motion,
        "recorded_at": test.when.isoformat(),
        "how": test.how,
        "session": test.session,
        "end_deg": round(one.end_deg, 1),
        "repetitions_deg": [round(value, 1) for value in one.repetitions_deg],
        "repetitions": [
            {
                "held_deg": round(rep.held_deg, 1),
                "peak_deg": round(rep.peak_deg, 1) if test.how == "clips" else None,
                "held": rep.held if test.how == "clips" else None,
                "practice": rep.practice,
                "invalid": rep.invalid,
                "used": rep.used,
            }
            for rep in test.repetitions
        ],
        "mean_of_last_three_deg": round(one.mean_deg, 1),
        "median_deg": round(one.median_deg, 1),
        "peak_deg": round(one.peak_deg, 1),
        "spread_deg": None if one.spread_deg is None else round(one.spread_deg, 1),
        "standard_error_deg": None if error is None else round(error, 1),
        "growth_deg": round(one.growth_deg, 1),
        "plateau": one.plateau,
        "minimal_detectable_change_deg": one.detectable.deg,
        "minimal_detectable_change_source": one.detectable.source,
        "footwear": test.footwear,
        "throne_height_cm": test.throne_height_cm,
        "other_height": other_height(test.throne_height_cm, height_cm),
        "pain_0_10": test.pain_0_10,
        "norms": [
            {"mean_deg": n.mean_deg, "sd_deg": n.sd_deg, "source": n.source, "conditions": n.conditions}
            for n in one.norms
        ],
        "history": [
            {
                "recorded_at": o.when.isoformat(),
                "how": o.how,
                "session": o.session,
                "end_deg": round(s.end_deg, 1),
                "mean_of_last_three_deg": round(s.mean_deg, 1),
                "other_height": other_height(o.throne_height_cm, height_cm),
            }
            for o, s in earlier
        ],
        "messages": list(one.messages),
    }


def on_the_pedal(sessions: Sequence[Session], exposures: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The lift tests and the rest on the pedal of every set-up and foot, in order of time. Strict JSON."""
    found: list[dict[str, Any]] = []
    for session in sessions:
        for setup, sides in exposures.get(session.id, {}).get("playing", {}).items():
            for side, figures in sides.items():
                lift, rest = figures.get("lift_test"), figures.get("room_at_rest")
                if lift is None and rest is None:
                    continue
                found.append(
                    {
                        "recorded_at": session.recorded_at.isoformat(),
                        "session": session.id,
                        "setup": setup,
                        "side": side,
                        "room_at_rest_deg": None if rest is None else round(rest["room_deg"], 1),
                        "band_room_at_rest_deg": _tenths((rest or {}).get("band_room_deg")),
                        "lifts_deg": [] if lift is None else [round(gain, 1) for gain in lift["lifts_deg"]],
                        "lifted_deg": None if lift is None else round(lift["gained_deg"], 1),
                        "band_lifted_deg": _tenths((lift or {}).get("band_gained_deg")),
                        "lifted": None if lift is None else lift["lifted"],
                    }
                )
    return found


def _tenths(band: Sequence[float] | None) -> list[float] | None:
    return None if band is None else [round(value, 1) for value in band]
