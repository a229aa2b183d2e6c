"""Every measurement of a person's active range there is: range checks with clips, and ranges measured by hand.

Everything in, nothing read here: sessions, their figures and the notes come from the caller.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, cast

from ..logger.models import SIDES, Session, Side
from ..logger.person_notes import NotedRange
from .active_range import Method, end_of_repetitions
from .repetitions import Repetition

How = Literal["clips", "goniometer", "inclinometer", "phone", "other", "typed at import"]


@dataclass(frozen=True)
class RangeTest:
    """One motion of one side, measured once.

    repetitions : in order, practice ones included where they were recorded; of a hand-measured one only `held_deg`
    means anything. how : with what. session, throne_height_cm : of a recorded one. messages : for people.
    """

    side: Side
    motion: str
    when: datetime
    how: How
    repetitions: tuple[Repetition, ...]
    session: str | None = None
    footwear: str | None = None
    throne_height_cm: float | None = None
    pain_0_10: float | None = None
    note: str | None = None
    messages: tuple[str, ...] = ()

    @property
    def kept_deg(self) -> tuple[float, ...]:
        """Held values of the repetitions that count: no practice, none that was invalid [deg]."""
        return tuple(one.held_deg for one in self.repetitions if not one.practice and not one.invalid)


def range_tests(
    sessions: Sequence[Session],
    exposures: Mapping[str, Mapping[str, Any]],
    ranges: Sequence[NotedRange],
    *,
    method: Method = "mean_of_last_three",
) -> list[RangeTest]:
    """All measurements in order of time.

    exposures : {session id: exposure.json}; a session without one shows only what was typed into it.
    method : which repetitions count as `used` in recorded ones. Raises InputError for an unknown method.
    """
    found: list[RangeTest] = []
    for session in sessions:
        recorded = _recorded(session, exposures.get(session.id, {}), method)
        found += [*recorded, *_typed(session, {(one.side, one.motion) for one in recorded})]
    found += [_noted(one) for one in ranges]
    return sorted(found, key=lambda one: one.when.timestamp())


def _recorded(session: Session, exposure: Mapping[str, Any], method: Method) -> list[RangeTest]:
    found: list[RangeTest] = []
    first = session.setups[0] if session.setups else None
    for side in SIDES:
        for motion, end in exposure.get("ranges", {}).get(side, {}).items():
            if end.get("source") != "this session" or not end.get("repetitions"):
                continue
            plain = [Repetition(**{**one, "practice": False, "used": False}) for one in end["repetitions"]]
            formed = end_of_repetitions(plain, method=method).end
            found.append(
                RangeTest(
                    side=side,
                    motion=motion,
                    when=session.recorded_at,
                    how="clips",
                    repetitions=tuple(plain) if formed is None else formed.repetitions,
                    session=session.id,
                    footwear=None if first is None else first.footwear,
                    throne_height_cm=None if first is None else first.seat_height_cm,
                    messages=tuple(end.get("messages", ())),
                )
            )
    return found


def _typed(session: Session, recorded: set[tuple[Side, str]]) -> list[RangeTest]:
    if session.source.get("kind") == "recording":  # took them from the notes, which are listed themselves
        return []
    height = session.setups[0].seat_height_cm if session.setups else None
    return [
        RangeTest(
            side=side,
            motion=motion,
            when=session.recorded_at,
            how="typed at import",
            repetitions=by_hand([value]),
            session=session.id,
            throne_height_cm=height,
        )
        for side, by_motion in session.typed_range_deg.items()
        for motion, value in by_motion.items()
        if (side, motion) not in recorded
    ]


def _noted(one: NotedRange) -> RangeTest:
    return RangeTest(
        side=one.side,
        motion=one.motion,
        when=one.recorded_at,
        how=cast(How, one.instrument),
        repetitions=by_hand(one.repetitions_deg),
        footwear=one.footwear,
        throne_height_cm=one.throne_height_cm,
        pain_0_10=one.pain_0_10,
        note=one.note,
    )


def by_hand(values_deg: Sequence[float]) -> tuple[Repetition, ...]:
    """Kept values measured by hand as repetitions; when each was is not known (times are 0)."""
    last = len(values_deg) - 3
    return tuple(
        Repetition(0.0, 0.0, held_deg=float(value), peak_deg=float(value), held=True, used=index >= last)
        for index, value in enumerate(values_deg)
    )
