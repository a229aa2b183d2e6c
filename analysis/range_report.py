"""The range sheet of a person as plain data and as text, with its history."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..logger.person_notes import NotedRange
from .motions import words
from .range_sheet import CONDITIONS, CONTRAINDICATIONS, missing_sides, side_differences, standard_error_deg, summarise


def range_sheet(participant: str, ranges: Sequence[NotedRange]) -> dict[str, Any]:
    """The last measurement of every motion and side, side differences, and what was measured before. Strict JSON."""
    last: dict[tuple[str, str], NotedRange] = {}
    for one in ranges:
        last[one.side, one.motion] = one
    summaries = [summarise(one.side, one.motion, one.repetitions_deg) for one in last.values()]
    rows = []
    for one in summaries:
        noted = last[one.side, one.motion]
        error = standard_error_deg(one)
        earlier = [o for o in ranges if (o.side, o.motion) == (one.side, one.motion)][:-1]
        rows.append(
            {
                "side": one.side,
                "motion": one.motion,
                "recorded_at": noted.recorded_at.isoformat(),
                "repetitions_deg": list(one.repetitions_deg),
                "mean_of_last_three_deg": round(one.mean_deg, 1),
                "median_deg": round(one.median_deg, 1),
                "peak_deg": round(one.peak_deg, 1),
                "spread_deg": None if one.spread_deg is None else round(one.spread_deg, 1),
                "standard_error_deg": None if error is None else round(error, 1),
                "growth_deg": round(one.growth_deg, 1),
                "plateau": one.plateau,
                "minimal_detectable_change_deg": one.detectable.deg,
                "minimal_detectable_change_source": one.detectable.source,
                "instrument": noted.instrument,
                "footwear": noted.footwear,
                "throne_height_cm": noted.throne_height_cm,
                "pain_0_10": noted.pain_0_10,
                "norms": [
                    {"mean_deg": n.mean_deg, "sd_deg": n.sd_deg, "source": n.source, "conditions": n.conditions}
                    for n in one.norms
                ],
                "history": [
                    {
                        "recorded_at": o.recorded_at.isoformat(),
                        "mean_of_last_three_deg": round(summarise(o.side, o.motion, o.repetitions_deg).mean_deg, 1),
                    }
                    for o in earlier
                ],
                "messages": list(one.messages),
            }
        )
    return {
        "participant": participant,
        "ranges": rows,
        "side_differences": [
            {
                "motion": d.motion,
                "right_minus_left_deg": round(d.deg, 1),
                "detectable_deg": d.detectable_deg,
                "note": d.note,
            }
            for d in side_differences(summaries)
        ],
        "missing_sides": missing_sides(summaries),
        "conditions": CONDITIONS,
        "caution": CONTRAINDICATIONS,
    }


def print_range_sheet(report: dict[str, Any]) -> None:
    """The sheet for a terminal; the contraindications come first."""
    print(report["caution"])
    if not report["ranges"]:
        print(f"No range of {report['participant']} was measured by hand yet. {report['conditions']}")
    for row in report["ranges"]:
        repetitions = ", ".join(f"{v:g}" for v in row["repetitions_deg"])
        norm = f"; published {row['norms'][0]['mean_deg']:g} ({row['norms'][0]['conditions']})" if row["norms"] else ""
        print(
            f"{words(row['side'], row['motion'])}: {row['mean_of_last_three_deg']:.1f} deg (repetitions {repetitions}; "
            f"growth {row['growth_deg']:+.1f}; smallest change that can be told "
            f"{row['minimal_detectable_change_deg']:g}{norm})"
        )
        for message in row["messages"]:
            print(f"  Note: {message}.")
        for before in row["history"]:
            print(f"  before, {before['recorded_at'][:10]}: {before['mean_of_last_three_deg']:.1f} deg")
    for one in report["side_differences"]:
        print(
            f"Right minus left, {words('both', one['motion'])}: {one['right_minus_left_deg']:+.1f} deg, {one['note']}."
        )
    if report["missing_sides"]:
        print(f"Not measured on the other side: {', '.join(report['missing_sides'])}.")
    if report["ranges"]:
        print("Published values are for orientation, never targets. " + report["conditions"])
