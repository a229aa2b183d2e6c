"""How a set-up felt to the person who played on it, beside the verdict: the person decides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .setups import Variant

FEELINGS = ("comfort", "balance", "control")


@dataclass(frozen=True)
class Felt:
    """scores: {comfort | balance | control: mean over sessions, 0-10}. notes: what was written, in order of time.

    chosen: sessions in which the person would keep this set-up; asked: those in which a choice was noted.
    """

    scores: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    chosen: int = 0
    asked: int = 0

    def as_json(self) -> dict[str, Any]:
        """Plain data: every score, null where it was not given."""
        scores = {name: self.scores.get(name) for name in FEELINGS}
        return {**scores, "notes": list(self.notes), "chosen": self.chosen, "asked": self.asked}


def felt(variant: Variant) -> Felt:
    """What was noted of a set-up over its sessions."""
    scores: dict[str, float] = {}
    for name in FEELINGS:
        every = [getattr(setup, f"{name}_0_10", None) for _, setup in variant.setups]
        given = [float(score) for score in every if score is not None]
        if given:
            scores[name] = math.fsum(given) / len(given)
    choices = [choice for _, setup in variant.setups if (choice := getattr(setup, "chosen", None)) is not None]
    notes = dict.fromkeys(note for _, setup in variant.setups if (note := getattr(setup, "note", None)))
    return Felt(scores, tuple(notes), sum(choices), len(choices))


def felt_words(label: str, one: Mapping[str, Any]) -> str:
    """`far: comfort 7, control 8, chosen in 3 of 4 sessions`; empty where nothing was noted. one: `Felt.as_json`."""
    parts = [f"{name} {one[name]:.1f}".removesuffix(".0") for name in FEELINGS if one[name] is not None]
    if one["asked"]:
        parts.append(f"chosen in {one['chosen']} of {one['asked']} " + ("session" if one["asked"] == 1 else "sessions"))
    parts += [f"“{note}”" for note in one["notes"]]
    return f"{label}: {', '.join(parts)}" if parts else ""
