"""One motion's repetitions in order, both sides on one axis, and its ends over the sessions, as still drawings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from ..wording import degrees
from .svg import WIDTH, Drawing
from .theme import ACCENT, INK, RULE, SEQUENTIAL, SOFT_INK

ROW, HEAD, FOOT = 13.0, 22.0, 34.0
"""Heights of a repetition, of a side's name, and of the axis [units]."""


def repetition_drawing(rows: Sequence[Mapping[str, Any]]) -> str:
    """Repetitions from the first (top) to the last: hollow for practice, filled where it counts, a cross if not valid.

    rows : of the range sheet, one motion, right before left. The thick line is the end with its smallest detectable
    change to either side; the pale bar below a published mean with its spread, for orientation.
    """
    held = [rep["held_deg"] for row in rows for rep in row["repetitions"]]
    peaks = [rep["peak_deg"] for row in rows for rep in row["repetitions"] if rep["peak_deg"] is not None]
    norm = rows[0]["norms"][0] if rows[0]["norms"] else None
    seen = held + peaks + [row["end_deg"] + s * row["minimal_detectable_change_deg"] for row in rows for s in (-1, 1)]
    if norm is not None:
        seen += [norm["mean_deg"] - (norm["sd_deg"] or 0), norm["mean_deg"] + (norm["sd_deg"] or 0)]
    low, high = 5.0 * math.floor(min(seen) / 5.0 - 0.2), 5.0 * math.ceil(max(seen) / 5.0 + 0.2)
    height = sum(HEAD + ROW * len(row["repetitions"]) for row in rows) + FOOT + (16.0 if norm else 0.0)
    scale = WIDTH / (high - low)
    drawn = Drawing(left=low, right=high, bottom=0.0, top=height / scale)

    def at(value: float, down: float) -> tuple[float, float]:
        return value, (height - down) / scale

    floor = height - FOOT
    for tick in range(int(low), int(high) + 1, 5 if high - low <= 60 else 10):
        drawn.line([at(tick, 4.0), at(tick, floor)], RULE, 0.8)
        if low < tick < high:
            drawn.words(at(tick, floor + 14.0), f"{tick}°", anchor="middle", colour=SOFT_INK, size=11.0)
    drawn.words(
        at((low + high) / 2.0, height - 4.0), "degrees from neutral", anchor="middle", colour=SOFT_INK, size=11.0
    )
    down = 0.0
    for row in rows:
        down = _side(drawn, at, row, down, scale)
    if norm is not None:
        spread = norm["sd_deg"] or 0.0
        drawn.line(
            [at(norm["mean_deg"] - spread, down + 8), at(norm["mean_deg"] + spread, down + 8)], SEQUENTIAL[0], 6.0
        )
        drawn.line([at(norm["mean_deg"], down + 3), at(norm["mean_deg"], down + 13)], SOFT_INK, 1.5)
        drawn.words(at(low, down + 12.0), "published", colour=SOFT_INK, size=11.0, shift=(4.0, 0.0))
    return drawn.text()


def _side(drawn: Drawing, at: Any, row: Mapping[str, Any], down: float, scale: float) -> float:
    """One side's block; returns where the next begins."""
    end, least = row["end_deg"], row["minimal_detectable_change_deg"]
    bottom = down + HEAD + ROW * len(row["repetitions"])
    top = down + HEAD
    box = [at(end - least, top), at(end + least, top), at(end + least, bottom), at(end - least, bottom)]
    drawn.shape(box, SEQUENTIAL[0], "none", opacity=0.7)
    drawn.line([at(end, down + HEAD - 2), at(end, bottom)], ACCENT, 2.5)
    name = f"{row['side']}: {degrees(end)}"
    drawn.words(at(drawn.left, down + 15.0), name, bold=True, shift=(4.0, 0.0))
    radius = 4.0 / scale
    for index, rep in enumerate(row["repetitions"]):
        y = down + HEAD + ROW * (index + 0.5)
        if rep["peak_deg"] is not None:
            drawn.line([at(rep["held_deg"], y), at(rep["peak_deg"], y)], SOFT_INK, 1.2)
        place = at(rep["held_deg"], y)
        if rep["invalid"]:
            for sign in (-1.0, 1.0):
                drawn.line(
                    [(place[0] - radius, place[1] - sign * radius), (place[0] + radius, place[1] + sign * radius)],
                    INK,
                    1.6,
                )
        elif rep["practice"] or rep["held"] is False:
            drawn.circle(place, radius, "#fffdf9", INK)
        else:
            drawn.circle(place, radius, ACCENT if rep["used"] else SEQUENTIAL[1], INK)
    return bottom


def history_drawing(row: Mapping[str, Any]) -> str:
    """The end at every measurement, oldest first, each with its smallest detectable change to either side.

    row : of the range sheet, with a history. Another throne height is drawn hollow.
    """
    past = [*row["history"], row]
    least = row["minimal_detectable_change_deg"]
    ends = [one["end_deg"] for one in past]
    low, high = 5.0 * math.floor((min(ends) - least) / 5.0), 5.0 * math.ceil((max(ends) + least) / 5.0)
    height = 130.0
    drawn = Drawing(left=0.0, right=WIDTH, bottom=0.0, top=height)

    def y(value: float) -> float:
        return 24.0 + (value - low) / (high - low) * (height - 34.0)

    for tick in range(int(low), int(high) + 1, 5 if high - low <= 30 else 10):
        drawn.line([(30.0, y(tick)), (WIDTH - 6.0, y(tick))], RULE, 0.8)
        drawn.words((26.0, y(tick)), f"{tick}°", anchor="end", colour=SOFT_INK, size=11.0, shift=(0.0, 4.0))
    step = (WIDTH - 90.0) / max(len(past) - 1, 1)
    points = [(60.0 + step * index, y(end)) for index, end in enumerate(ends)]
    drawn.line(points, SEQUENTIAL[1], 1.5)
    for one, (x, place) in zip(past, points, strict=True):
        drawn.line([(x, y(one["end_deg"] - least)), (x, y(one["end_deg"] + least))], SEQUENTIAL[1], 3.0)
        drawn.circle((x, place), 4.5, "#fffdf9" if one["other_height"] else ACCENT, INK)
    for one, (x, _) in (
        zip(past, points, strict=True) if len(past) <= 5 else ((past[0], points[0]), (past[-1], points[-1]))
    ):
        drawn.words((x, 6.0), one["recorded_at"][:10], anchor="middle", colour=SOFT_INK, size=11.0)
    return drawn.text()
