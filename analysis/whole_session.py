"""A session's exposure over all its set-ups together, from the figures of each.

Times, shares and counts add up, weighed by the known playing; the ends of their bands add up with them, because one
offset moves the line on every set-up of a wearing alike. The median comes from the added histograms of room.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

SHARED = ("active_end_deg", "range_source", "contact", "zone_deg")
"""The same on every set-up of a session."""
BANDED = {"share_near_end": "band_near_end", "share_past_end": "band_past_end"}
RATES = ("seconds_per_minute", "entries_per_minute", "held_share", "repeated_share")
"""Weighed by the known playing, as the shares are."""


def whole_session(setups: Mapping[str, Any]) -> dict[str, Any]:
    """{side: {motion: figures}} of every motion that has figures on two set-ups or more.

    setups : {set-up: {side: {motion: figures}}}, as from `session_exposure`.
    """
    parts: dict[str, dict[str, list[Any]]] = {}
    for sides in setups.values():
        for side, motions in sides.items():
            for motion, figures in motions.items():
                parts.setdefault(side, {}).setdefault(motion, []).append(figures)
    out: dict[str, Any] = {}
    for side, motions in parts.items():
        for motion, figures in motions.items():
            if len(figures) > 1:
                out.setdefault(side, {})[motion] = _together(figures)
    return out


def _together(parts: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    known_s = np.array([part["known_s"] for part in parts])

    def mean(values: Sequence[Any]) -> Any:
        if any(value is None for value in values):
            return None
        return (np.average(np.array(values, dtype=float), axis=0, weights=known_s)).tolist()

    half = max(part["band_half_width_deg"] for part in parts)
    median = _median_room([part["room_histogram"] for part in parts], known_s)
    out: dict[str, Any] = {name: parts[0][name] for name in SHARED}
    out |= {"known_s": float(known_s.sum()), "playing_s": float(sum(part["playing_s"] for part in parts))}
    out |= {"median_room_deg": median, "band_median_room_deg": [median - half, median + half]}
    out["band_half_width_deg"] = half
    for name, band in BANDED.items():
        out[name], out[band] = mean([part[name] for part in parts]), mean([part[band] for part in parts])
    out |= {name: mean([part[name] for part in parts]) for name in RATES}
    out["bands"] = {name: mean([part["bands"].get(name) for part in parts]) for name in RATES}
    return out


def _median_room(histograms: Sequence[Mapping[str, Any]], known_s: Any) -> float:
    """Where half of all known playing lies below, along straight lines between the edges [deg]."""
    edges = np.unique(np.concatenate([one["edges_deg"] for one in histograms]))
    below = [np.interp(edges, one["edges_deg"], np.concatenate([[0.0], np.cumsum(one["share"])])) for one in histograms]
    share = np.average(below, axis=0, weights=known_s)
    return float(np.interp(0.5 * share[-1], share, edges))
