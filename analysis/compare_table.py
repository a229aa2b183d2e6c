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

from ..logger.cautions import CAUTION, LOCAL_RULES
from .beside import ASK, beside, not_alike
from .felt import felt_words
from .motions import words


def print_comparisons(
    participant: str, rows: Sequence[Mapping[str, Any]], standing: Sequence[Mapping[str, Any]], console: Console
) -> None:
    """Print which set-up stands out, then per pair the answers to the questions asked first and everything as a table.

    rows: of `compare_participant`. standing: of `stands_out`.
    """
    console.print(Text(f"Set-ups of {participant}: differences are the second set-up minus the first."))
    for one in standing:
        console.print(Text(one["sentence"]))
    for (a, b), group in groupby(rows, key=lambda row: (row["setup_a"], row["setup_b"])):
        console.print()
        console.print(_pair(a, b, list(group)))
    console.print()
    if not_alike(rows):
        console.print(Text(f"{ASK}; `footroom compare --mixed` compares them all the same."))
    if any(row["mixed"] for row in rows):
        console.print(Text("Sessions that are not alike were compared, because --mixed asked for it."))
    console.print(Text(f"{CAUTION} {LOCAL_RULES} The person decides."))


def _pair(a: str, b: str, rows: Sequence[Mapping[str, Any]]) -> RenderableType:
    parts: list[RenderableType] = [Text(f"{a} -> {b}", style="bold")]
    shares = {(row["side"], row["motion"]): row for row in rows if row["measure"] == "share_near_end"}
    for row in rows:
        if row["primary"]:
            parts.append(Text(row["sentences"]["drummer"]))
            for who in ("coach", "scientist"):
                parts.append(Padding(Text(f"For the {who}: {row['sentences'][who]}"), (0, 0, 0, 2)))
            parts.append(Padding(Text(f"Why: {row['reason']}"), (0, 0, 0, 2)))
            told = " ".join(beside(row, shares.get((row["side"], row["motion"]))))
            parts.append(Padding(Text(f"Beside it: {told}"), (0, 0, 0, 2)))
    parts += [Text(line) for line in _felt(rows[0])]
    table = Table("median room", "a", "b", "b - a [95 %], deg", "verdict", "share near end [95 %]", box=box.SIMPLE)
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


def _felt(row: Mapping[str, Any]) -> list[str]:
    """How both set-ups felt, where it was noted."""
    found = [felt_words(row[f"setup_{one}"], row[f"felt_{one}"]) for one in "ab"]
    return (
        [f"How it felt (0-10): {'; '.join(part for part in found if part)}. The person decides."] if any(found) else []
    )


def _room(row: Mapping[str, Any]) -> tuple[str, str, str, str]:
    interval = "" if row["interval"] is None else " [{:+.1f}, {:+.1f}]".format(*row["interval"])
    return f"{row['mean_a']:.1f}", f"{row['mean_b']:.1f}", f"{row['difference']:+.1f}{interval}", _verdict(row)


def _share(row: Mapping[str, Any] | None) -> str:
    if row is None:
        return "-"
    shares = f"{100 * row['mean_a']:.0f} -> {100 * row['mean_b']:.0f} %"
    if row["saturated"]:
        return f"{shares}, saturated"
    if row["interval"] is not None:
        shares += " [{:+d}, {:+d}]".format(*(round(100 * end) for end in row["interval"]))
    return f"{shares}, {_verdict(row)}"


def _verdict(row: Mapping[str, Any]) -> str:
    return row["verdict"].removesuffix(" difference").removesuffix(" data")
