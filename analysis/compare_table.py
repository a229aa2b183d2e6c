"""Comparisons as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from rich import box
from rich.console import Console, Group, RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from .motions import words

CAUTION = (
    "For fit, teaching and research: not a medical device, no diagnosis, no injury prediction. The person decides."
)


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
    table = Table("median room", "a", "b", "b - a [95 %], deg", "verdict", "share near end", box=box.SIMPLE)
    table.columns[1].header, table.columns[2].header = escape(a), escape(b)
    table.columns[3].no_wrap = table.columns[4].no_wrap = True
    for (side, motion), both in groupby(rows, key=lambda row: (row["side"], row["motion"])):
        by_measure = {row["measure"]: row for row in both}
        room, share = (by_measure.get(measure) for measure in ("median_room_deg", "share_near_end"))
        if room is not None:
            mark = "*" if room["primary"] else ""
            table.add_row(Text(words(side, motion) + mark), *_room(room), _share(share))
    parts.append(table)
    if any(row["primary"] for row in rows):
        parts.append(Text("* asked first, by what differs between the set-ups"))
    return Group(*parts)


def _room(row: Mapping[str, Any]) -> tuple[str, str, str, str]:
    interval = "" if row["interval"] is None else " [{:+.1f}, {:+.1f}]".format(*row["interval"])
    verdict = row["verdict"].removesuffix(" difference").removesuffix(" data")
    return f"{row['mean_a']:.1f}", f"{row['mean_b']:.1f}", f"{row['difference']:+.1f}{interval}", verdict


def _share(row: Mapping[str, Any] | None) -> str:
    return "-" if row is None else f"{100 * row['mean_a']:.0f} -> {100 * row['mean_b']:.0f} %"
