"""Several set-ups: which one stands out, if any. Rests on the verdicts (Holm over all pairs); tests nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from .phrases import listed, purpose, whose

LUCK = "what stands out owes something to luck, so expect somewhat less next time"


def stands_out(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Per side and motion asked about first: the set-up clearly better than all others, or why there is none.

    rows: of `compare_participant`. Returns {side, motion, setup (None: none stands out), level_with, sentence}; nothing
    where only two set-ups were compared, since their one verdict says it all. Set-ups that were not compared with each
    other are not ranked.
    """
    asked = dict.fromkeys((row["side"], row["motion"]) for row in rows if row["primary"])
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {outcome: [] for outcome in asked}
    for row in rows:
        if row["measure"] == "median_room_deg" and (row["side"], row["motion"]) in found:
            found[row["side"], row["motion"]].append(row)
    return [one for (side, motion), some in found.items() if (one := _one(side, motion, some))]


def _one(side: str, motion: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, Any] | None:
    names = list(dict.fromkeys(name for row in rows for name in (row["setup_a"], row["setup_b"])))
    if len(names) < 3 or len(rows) < len(names) * (len(names) - 1) // 2:
        return None
    beaten: dict[str, set[str]] = {name: set() for name in names}
    for row in rows:
        if row["verdict"] == "clear difference":
            more, less = (row["setup_b"], row["setup_a"]) if row["difference"] > 0 else (row["setup_a"], row["setup_b"])
            beaten[more].add(less)
    best = next((name for name in names if len(beaten[name]) == len(names) - 1), None)
    unbeaten = [name for name in names if not any(name in others for others in beaten.values())]
    last = [name for name in names if name not in unbeaten]
    who, what = whose(side, motion), f"more room for {purpose(motion)}"
    if best is not None:
        text = f"‘{best}’ stands out: it left {who} clearly {what} than every other set-up; {LUCK}."
    elif not last:
        text = f"No set-up stands out: none left {who} clearly {what} than another{_doubt(rows, unbeaten)}."
    elif all(set(last) <= beaten[name] for name in unbeaten):
        text = (
            f"{_list(unbeaten)} left {who} clearly {what} than {_list(last)}; which of these is best is not clear"
            f"{_doubt(rows, unbeaten)}."
        )
    else:
        text = (
            f"No single set-up stands out: {_list(unbeaten)} are not clearly apart in the room they left {who} for "
            f"{purpose(motion)}{_doubt(rows, unbeaten)}; {_list(last)} left clearly less than at least one of these."
        )
    return {"side": side, "motion": motion, "setup": best, "level_with": [] if best else unbeaten, "sentence": text}


def _doubt(rows: Sequence[Mapping[str, Any]], names: Sequence[str]) -> str:
    """How large a difference between these set-ups may have been missed, and how many pairs lack data."""
    among = [row for row in rows if row["setup_a"] in names and row["setup_b"] in names]
    missed = [row["could_be_missed"] for row in among if row["could_be_missed"] is not None]
    lacking = len(among) - len(missed)
    parts = [f"up to {max(missed):.1f} degrees between two of them may have been missed"] if missed else []
    if lacking:
        parts.append(f"for {lacking} of {len(among)} pairs there is not enough data" if missed else "not enough data")
    return f" ({'; '.join(parts)})" if parts else ""


def _list(names: Sequence[str]) -> str:
    return listed([f"‘{name}’" for name in names])
