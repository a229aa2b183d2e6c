"""What stands beside a verdict, in words, from one row of a comparison: order, drift, where the line is drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from .measures import saturated_at
from .phrases import points

ASK = "Some sessions are not alike in footwear, exercise or throne height, and so were not compared"


def beside(room: Mapping[str, Any], share: Mapping[str, Any] | None) -> list[str]:
    """Sentences on one side and motion of two set-ups: order of playing, warming up, drift, time near the end, cycles.

    room, share: the rows of both measures (share: None where there is no end zone). Nothing of this is taken off the
    difference.
    """
    a, b = room["setup_a"], room["setup_b"]
    order, found = room["order"], []
    if order["a_first"] or order["b_first"]:
        text = f"‘{a}’ came first in {order['a_first']} and ‘{b}’ in {order['b_first']} of the sessions with both"
        if order["later_deg"] is not None:
            text += f"; room changed by {order['later_deg']:+.1f} degrees for whatever came later"
        found.append(f"{text}.")
    if room["warm_up_deg"] is not None:
        found.append(
            f"From the first to the last block on a set-up room changed by {room['warm_up_deg']:+.1f} degrees."
        )
    if room["drift_deg"] is not None:
        found.append(f"On a set-up returned to at the end room had drifted by {room['drift_deg']:+.1f} degrees.")
    lines = room["share_difference_by_room_deg"]
    if share is not None:
        found.append(f"Time near the end: {share['verdict']}{_saturated(share)}{share_missed(share)}.")
        if lines is not None:
            by_line = ", ".join(f"{round(100 * value):+d} below {line} degrees" for line, value in lines.items())
            found.append(f"By where the line is drawn, ‘{b}’ against ‘{a}’ in percentage points: {by_line}.")
    if room.get("cycle_ratio") is not None:
        found.append(room["cycle_ratio"]["sentence"])
    return found


def share_missed(share: Mapping[str, Any]) -> str:
    """`; up to 12 percentage points may have been missed`; empty where it is clearly different, or not compared."""
    missed = share["could_be_missed"]
    if missed is None or share["verdict"] == "clear difference":
        return ""
    return f"; up to {points(missed)} may have been missed"


def not_alike(rows: Sequence[Mapping[str, Any]]) -> bool:
    """Whether some sessions were not compared because they are not alike."""
    return any(row["barrier"] is not None or row["left_out"] for row in rows)


def _saturated(share: Mapping[str, Any]) -> str:
    if not share["saturated"]:
        return ""
    return f" ({saturated_at(share['mean_a'])} on both, where it can show none: judge on room)"
