"""Several set-ups: which one stands out, if any. Rests on the verdicts (Holm over all pairs); tests nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from .motions import words


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
    return [one for (side, motion), some in found.items() if (one := _one(side, motion, some, words(side, motion)))]


def _one(side: str, motion: str, rows: Sequence[Mapping[str, Any]], what: str) -> dict[str, Any] | None:
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
    if best is not None:
        level: list[str] = []
        text = f"‘{best}’ stands out: clearly more room than every other set-up"
    elif not any(beaten.values()):
        level = unbeaten
        text = "no set-up stands out: none is clearly better than another"
    else:
        level = unbeaten
        last = [name for name in names if name not in unbeaten]
        worse = f"{_list(last)} {'is' if len(last) == 1 else 'are'} clearly worse than at least one of these"
        text = f"no single set-up stands out: {_list(unbeaten)} are not clearly apart, and {worse}"
    sentence = f"{what[0].upper()}{what[1:]}: {text}."
    return {"side": side, "motion": motion, "setup": best, "level_with": level, "sentence": sentence}


def _list(names: Sequence[str]) -> str:
    quoted = [f"‘{name}’" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"
