"""How a set-up felt to the person who played on it, beside the verdict: the person decides."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..logger.models import FELT_0_10, Setup
from .setups import Variant, other_height

FEELINGS = tuple(key.removesuffix("_0_10") for key in FELT_0_10)


@dataclass(frozen=True)
class Felt:
    """scores: {comfort | balance | control: mean over the times it was noted, 0-10}. notes: what was written, by time.

    chosen: how often the person would keep this set-up; asked: how often a choice was noted.
    """

    scores: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    chosen: int = 0
    asked: int = 0

    def as_json(self) -> dict[str, Any]:
        """Plain data: every score, null where it was not given."""
        scores = {name: self.scores.get(name) for name in FEELINGS}
        return {**scores, "notes": list(self.notes), "chosen": self.chosen, "asked": self.asked}


def felt(variant: Variant, typed: Iterable[Setup] = ()) -> Felt:
    """What was noted of a set-up in its sessions, and typed afterwards (set-ups with what was typed only)."""
    scores: dict[str, float] = {}
    height = variant.value("throne_height_cm")
    setups = [setup for _, setup in variant.setups]
    setups += [s for s in typed if s.name == variant.name and not other_height(s.seat_height_cm, height)]
    for name in FEELINGS:
        given = [float(score) for setup in setups if (score := getattr(setup, f"{name}_0_10")) is not None]
        if given:
            scores[name] = math.fsum(given) / len(given)
    choices = [setup.chosen for setup in setups if setup.chosen is not None]
    notes = dict.fromkeys(setup.note for setup in setups if setup.note)
    return Felt(scores, tuple(notes), sum(choices), len(choices))


def felt_words(label: str, one: Mapping[str, Any]) -> str:
    """`far: comfort 7, control 8, chosen 3 of 4 times`; empty where nothing was noted. one: `Felt.as_json`."""
    parts = [f"{name} {one[name]:.1f}".removesuffix(".0") for name in FEELINGS if one[name] is not None]
    if one["asked"]:
        parts.append(f"chosen {one['chosen']} of {one['asked']} " + ("time" if one["asked"] == 1 else "times"))
    parts += [f"“{note}”" for note in one["notes"]]
    return f"{label}: {', '.join(parts)}" if parts else ""
