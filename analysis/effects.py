"""What else than the set-up may make a difference: order of playing, warming up, drift of an evening.

None of these is taken off the difference; they are shown, so that a reader can weigh it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..logger.models import Session
from .motions import BOTH
from .observations import Observation
from .setups import Variant


@dataclass(frozen=True)
class Effects:
    """All in degrees of room; None where it cannot be known.

    a_first, b_first: sessions with both set-ups in which one was played before the other. later_deg: how much more
    room what was played later had, apart from the set-up (needs both orders). warm_up_deg: last block minus first
    block on one set-up, mean over sessions. drift_deg: on a set-up that was returned to after another one, the last
    visit minus the first, mean over sessions. returns: how many of these there are.
    """

    a_first: int = 0
    b_first: int = 0
    later_deg: float | None = None
    warm_up_deg: float | None = None
    drift_deg: float | None = None
    returns: int = 0


@dataclass(frozen=True)
class Playing:
    """When set-ups were played in one session: {set-up name: [(start, end) of each visit]} [s], in order of time."""

    visits: Mapping[str, Sequence[tuple[float, float]]]

    def middle(self, name: str) -> float | None:
        """The middle of all visits' starts [s]; None where it was not played."""
        starts = [start for start, _ in self.visits.get(name, ())]
        return sum(starts) / len(starts) if starts else None


def playing_of(session: Session) -> Playing:
    """Playing phases of a session as visits: neighbouring phases on one set-up are one visit."""
    visits: dict[str, list[tuple[float, float]]] = {}
    last: str | None = None
    for phase in sorted((p for p in session.phases if p.name == "playing"), key=lambda p: (p.start_s, p.end_s)):
        name = session.setup_of(phase).name
        mine = visits.setdefault(name, [])
        if name == last and mine:
            mine[-1] = (mine[-1][0], max(mine[-1][1], phase.end_s))
        else:
            mine.append((phase.start_s, phase.end_s))
        last = name
    return Playing(visits)


def effects(
    a: Variant,
    b: Variant,
    of_a: Mapping[str, Observation],
    of_b: Mapping[str, Observation],
    playing: Mapping[str, Playing],
) -> Effects:
    """Order, warm-up and drift behind one comparison, {session id: observation} of each side."""
    later: dict[bool, list[float]] = {True: [], False: []}
    for key in of_a.keys() & of_b.keys():
        starts = playing[key].middle(a.name), playing[key].middle(b.name)
        if starts[0] is not None and starts[1] is not None:
            room = of_b[key].values["median_room_deg"] - of_a[key].values["median_room_deg"]
            later[starts[0] < starts[1]].append(room)
    warm = [one.warm_up_deg for one in (*of_a.values(), *of_b.values()) if one.warm_up_deg is not None]
    drifts = [
        drift
        for variant, seen in ((a, of_a), (b, of_b))
        for key, one in seen.items()
        if (drift := _drift(one, playing[key].visits.get(variant.name, ()))) is not None
    ]
    both_orders = later[True] and later[False]
    return Effects(
        a_first=len(later[True]),
        b_first=len(later[False]),
        later_deg=(_mean(later[True]) - _mean(later[False])) / 2 if both_orders else None,
        warm_up_deg=_mean(warm) if warm else None,
        drift_deg=_mean(drifts) if drifts else None,
        returns=len(drifts),
    )


def left_out_words(count: int) -> list[str]:
    """A clause on sessions that were not alike."""
    left = "1 session of other footwear or exercise was" if count == 1 else (
        f"{count} sessions of other footwear or exercise were"
    )  # fmt: skip
    return [f"{left} left out (compared only when asked for)"] if count else []


def slip_words(side: str, ids: Iterable[str], slips: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[str]:
    """A clause for each session in which a clip of this leg (or of the pelvis) turned on the body."""
    notes: list[str] = []
    for session_id in ids:
        clips = {str(slip.get("clip")) for slip in slips.get(session_id, ())}
        own = sorted(clip for clip in clips if side == BOTH or clip == "pelvis" or clip.startswith(f"{side}_"))
        if own:
            notes.append(
                f"in {session_id} a clip slipped ({', '.join(own).replace('_', ' ')}), so its figures are less sure"
            )
    return notes


def _drift(one: Observation, visits: Sequence[tuple[float, float]]) -> float | None:
    """Mean room of the last visit's blocks minus the first visit's [deg]; None without a return."""
    if len(visits) < 2:
        return None
    rooms = [
        [room for start_s, room in one.blocks if start - 1e-6 <= start_s < end]
        for start, end in (visits[0], visits[-1])
    ]
    return _mean(rooms[1]) - _mean(rooms[0]) if rooms[0] and rooms[1] else None


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
