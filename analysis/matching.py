"""Which sessions of two set-ups are alike but for the set-up: footwear, exercise, throne height of a reused name.

What is not alike is compared only when asked for, and then said. Tempo and order are named, not matched.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..logger.models import SIDES, Session
from .setups import SAME_THRONE_CM, Variant, played

Condition = tuple[tuple[str, ...], frozenset[str]]
"""Footwear of each foot (empty: not noted) and exercises (empty: not noted)."""


@dataclass(frozen=True)
class Matched:
    """What of a pair of set-ups may be compared: session ids, in order of time.

    a, b: with the sessions used. pairs: sessions with both. only_a, only_b: for separate wearings (sessions with both
    included). barrier: why nothing may be compared unasked, else None. left_out: how many sessions are not
    alike, (of those with both, of those for separate wearings).
    """

    a: Variant
    b: Variant
    pairs: frozenset[str]
    only_a: frozenset[str]
    only_b: frozenset[str]
    barrier: str | None = None
    left_out: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class Conditions:
    """{(session id, set-up name): condition}."""

    of: Mapping[tuple[str, str], Condition] = field(default_factory=dict)

    def at(self, session_id: str, variant: Variant) -> Condition:
        """The condition of a set-up in a session."""
        return self.of[session_id, variant.name]


def conditions(sessions: Sequence[Session]) -> Conditions:
    """Footwear and exercises of every set-up played on in every session."""
    found: dict[tuple[str, str], Condition] = {}
    for session in sessions:
        for setup in session.setups:
            worn = tuple(setup.of_foot(side, "footwear") or "" for side in SIDES)
            found[session.id, setup.name] = worn, frozenset(played(session, setup.name, "exercise"))
    return Conditions(found)


def match(a: Variant, b: Variant, known: Conditions, *, mixed: bool = False) -> Matched:
    """The sessions of two set-ups that may be compared; all of them when `mixed` is asked for."""
    ids_a, ids_b = a.sessions(), b.sessions()
    everything = Matched(a, b, frozenset(ids_a & ids_b), frozenset(ids_a), frozenset(ids_b))
    if mixed:
        return everything
    if a.split or b.split:
        heights = a.value("throne_height_cm"), b.value("throne_height_cm")
        if heights[0] is None or heights[1] is None or abs(heights[1] - heights[0]) > SAME_THRONE_CM:
            return replace(everything, barrier="one name was used at several throne heights, and these two differ")
    pairs = frozenset(key for key in ids_a & ids_b if _alike(known.at(key, a), known.at(key, b)))
    groups = {known.at(key, variant) for variant in (a, b) for key in variant.sessions()}
    sides = [
        tuple(frozenset(key for key in v.sessions() if _alike(known.at(key, v), group)) for v in (a, b))
        for group in sorted(groups, key=lambda group: (group[0], sorted(group[1])))
    ]
    only_a, only_b = max(sides, key=lambda side: (min(map(len, side)), sum(map(len, side))))
    alone = bool(only_a and only_b)
    if not alone:
        only_a = only_b = pairs
    if not (pairs or alone):
        return replace(everything, barrier="footwear or exercise differ")
    left_out = len(ids_a & ids_b) - len(pairs), len((ids_a | ids_b) - (only_a | only_b))
    return Matched(_only(a, pairs | only_a), _only(b, pairs | only_b), pairs, only_a, only_b, left_out=left_out)


def _alike(one: Condition, other: Condition) -> bool:
    shoes = all(x == y for x, y in zip(one[0], other[0], strict=True) if x and y)
    return shoes and (not one[1] or not other[1] or one[1] == other[1])


def _only(variant: Variant, ids: Iterable[str]) -> Variant:
    keep = set(ids)
    return replace(variant, setups=tuple(use for use in variant.setups if use[0] in keep))
