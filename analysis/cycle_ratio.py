"""How much the movement of a joint adds up to on one set-up against another: beside a comparison, never a verdict.

The ratio of relative cycle damage (`cycles.py`) per session in which one wearing holds both set-ups; the geometric mean
over these. Nothing is tested, and no single power is right: a ratio that is not above 1, or not below it, for every
power from 3 to 9 says nothing, and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from .cycles import EXPONENT, RATIO_WORDS, damage_ratio
from .motions import MOTION
from .setups import Variant

_SAME = 1.1
"""A ratio nearer to 1 than this, either way, is as much on both (ours)."""


def with_cycle_ratios(
    rows: Sequence[dict[str, Any]], exposures: Mapping[str, Mapping[str, Any]], used: Sequence[Variant]
) -> list[dict[str, Any]]:
    """The rows of a comparison, each with `cycle_ratio`: {"by_exponent", "sessions", "sentence"}, or None.

    exposures : {session id: parsed exposure.json}. used : the set-ups compared. Only rows of room have one, and of the
    two ends of a joint angle only the first: the cycles of both are the same.
    """
    by_label = {variant.label: variant for variant in used}
    done: set[tuple[str, str, str, str]] = set()
    out: list[dict[str, Any]] = []
    for row in rows:
        found = None
        motion = MOTION.get(row["motion"])
        if row["measure"] == "median_room_deg" and motion is not None:
            key = (row["setup_a"], row["setup_b"], row["side"], motion.angle)
            if key not in done:
                done.add(key)
                a, b = by_label[row["setup_a"]], by_label[row["setup_b"]]
                found = cycle_ratio(a, b, row["side"], row["motion"], exposures)
        out.append(row | {"cycle_ratio": found})
    return out


def cycle_ratio(
    a: Variant, b: Variant, side: str, motion: str, exposures: Mapping[str, Mapping[str, Any]]
) -> dict[str, Any] | None:
    """The second set-up's relative cycle damage over the first's, by exponent; None where no session has both."""
    places = dict(a.setups)
    ratios: list[dict[str, float]] = []
    for session, setup in b.setups:
        if session not in places or session not in exposures:
            continue
        first, second = (_damage(exposures[session], name, side, motion) for name in (places[session].name, setup.name))
        ratio = damage_ratio(first, second)
        if ratio is not None and all(value > 0.0 for value in ratio.values()):
            ratios.append(ratio)
    if not ratios:
        return None
    shared = [m for m in ratios[0] if all(m in ratio for ratio in ratios)]
    mean = {m: math.exp(math.fsum(math.log(ratio[m]) for ratio in ratios) / len(ratios)) for m in shared}
    if f"{EXPONENT}" not in mean:
        return None
    each = [ratio[f"{EXPONENT}"] for ratio in ratios]
    return {"by_exponent": mean, "sessions": len(ratios), "sentence": _sentence(a.label, b.label, mean, each)}


def _damage(exposure: Mapping[str, Any], setup: str, side: str, motion: str) -> dict[str, float] | None:
    figures = exposure["setups"].get(setup, {}).get(side, {}).get(motion) or {}
    return (figures.get("relative_cycle_damage") or {}).get("per_minute")


def _sentence(a: str, b: str, mean: Mapping[str, float], each: Sequence[float]) -> str:
    low, high = min(mean.values()), max(mean.values())
    middle = mean[f"{EXPONENT}"]
    powers = f"{_times(low)} to {_times(high)} times for powers from {min(mean, key=int)} to {max(mean, key=int)}"
    if low < 1.0 < high or 1 / _SAME < middle < _SAME:
        found = f"Cycles of movement add up to no clearly different amount on ‘{a}’ and ‘{b}’ ({powers})"
    else:
        found = f"Cycles of movement add up to {_times(middle)} times as much on ‘{b}’ as on ‘{a}’ ({powers}"
        found += (
            f"; session by session {_times(min(each))} to {_times(max(each))})" if len(each) > 1 else "; one session)"
        )
    return f"{found}; not tested. {RATIO_WORDS}"


def _times(ratio: float) -> str:
    return f"{ratio:.0f}" if ratio >= 9.95 else f"{ratio:.1f}" if ratio >= 0.995 else f"{ratio:.2g}"
