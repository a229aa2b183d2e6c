"""Comparisons as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from .motions import words

CAUTION = (
    "For fit, teaching and research: not a medical device, no diagnosis, no injury prediction. The person decides."
)
_MEASURE = {"median_room_deg": "median room", "share_near_end": "share near end"}


def print_comparisons(participant: str, rows: Sequence[Mapping[str, Any]], console: Console) -> None:
    """Print per pair of set-ups the answer to the question asked first, then everything as a table."""
    console.print(Text(f"Set-ups of {participant}: differences are the second set-up minus the first."))
    for (a, b), group in groupby(rows, key=lambda row: (row["setup_a"], row["setup_b"])):
        console.print()
        console.print(_pair(a, b, list(group)))
    console.print()
    console.print(Text(CAUTION))


def _pair(a: str, b: str, rows: Sequence[Mapping[str, Any]]) -> RenderableType:
    parts: list[RenderableType] = [Text(f"{a} -> {b}", style="bold")]
    for row in rows:
        if row["primary"]:
            parts.append(Text(row["sentence"]))
            parts.append(Padding(Text(f"Why: {row['reason']}"), (0, 0, 0, 2)))
    table = Table("", "measure", escape(a), escape(b), "difference", "95 % interval", "verdict")
    for row in rows:
        mark = "*" if row["primary"] else ""
        table.add_row(
            Text(words(row["side"], row["motion"]) + mark),
            _MEASURE.get(row["measure"], row["measure"]),
            _value(row, row["mean_a"]),
            _value(row, row["mean_b"]),
            _value(row, row["difference"], sign=True),
            "-" if row["interval"] is None else " to ".join(_value(row, end, sign=True) for end in row["interval"]),
            row["verdict"],
        )
    parts.append(table)
    if any(row["primary"] for row in rows):
        parts.append(Text("* asked first, by what differs between the set-ups"))
    return Group(*parts)


def _value(row: Mapping[str, Any], value: float, sign: bool = False) -> str:
    plus = "+" if sign else ""
    if row["measure"] == "median_room_deg":
        return f"{value:{plus}.1f} deg"
    return f"{100 * value:{plus}.1f} {'points' if sign else '%'}"
