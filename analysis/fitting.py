"""What a logbook holds about one person, brought to the model: ends of range, measured set-ups, what they taught.

Everything in, nothing read here: sessions, their exposure figures and the notes come from the caller.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import numpy as np

from ..logger.errors import InputError
from ..logger.models import SIDES, Participant, Session, Setup, Side
from ..logger.person_notes import PersonNotes, known_setups
from .fit import Fit, fit_of
from .known_ends import KnownEnd, in_shoe, known_ends, unusual_ends
from .learning import Score
from .measured_fit import Learned, Measured, Scored, learn_person, predicted_before, score_of
from .next_step import State
from .placement import MODELLED, Joint, Yardstick
from .seated_leg import Stroke, Way
from .setups import SAME_THRONE_CM

SAME_PLACE = {"reach_cm": 0.5, "spacing_cm": 0.5, "footboard_pitch_deg": 1.0, "throne_height_cm": SAME_THRONE_CM}
"""Differences below which a set-up is the same one [cm, deg] (ours)."""


@dataclass(frozen=True)
class Fitting:
    """A person on one set-up with all that is known. notes : sentences about what was left out or assumed.

    slide : the figures of the last slide that found a width, with its `session`; None without one.
    """

    person: Participant
    setup: Setup
    fit: Fit
    ends: Mapping[Joint, KnownEnd]
    learned: Learned
    measured: tuple[Measured, ...]
    scored: tuple[Scored, ...]
    state: State
    notes: tuple[str, ...]
    zones: Mapping[str, float] = field(default_factory=dict)
    slide: Mapping[str, Any] | None = None

    @property
    def score(self) -> Score:
        """How well predictions of measured sessions came true."""
        return score_of(self.scored)

    @property
    def yardstick(self) -> Yardstick:
        """What the map is held against."""
        base = Yardstick({})
        return Yardstick(
            ends={joint: end.deg for joint, end in self.ends.items()},
            zones={**base.zones, **self.zones},
            end_sd={joint: end.sd_deg for joint, end in self.ends.items()},
            corrections=self.learned.corrections,
        )


def feet_of(setup: Setup) -> tuple[Side, ...]:
    """The feet whose reach is known."""
    return tuple([side for side in SIDES if setup.of_foot(side, "reach_cm") is not None])


def pick_setup(known: Mapping[str, tuple[datetime, Setup]], name: str | None) -> Setup:
    """The named set-up; else the last one marked as chosen, else the last with throne, reach and spacing.

    Raises InputError when there is none.
    """
    if name is not None:
        if name not in known:
            there = f"known are {', '.join(known)}" if known else "none is known yet"
            raise InputError(f"there is no set-up {name!r}; {there}.")
        return known[name][1]
    setups = [setup for _, setup in known.values()]
    whole = [s for s in setups if s.seat_height_cm and s.spacing_cm and any(s.of_foot(f, "reach_cm") for f in SIDES)]
    best = [s for s in whole if s.chosen] or whole
    if not best:
        raise InputError(
            "no set-up with throne height, reach and spacing is known; measure one and note it with `footroom setup`."
        )
    return best[-1]


def gather(
    person: Participant,
    setup: Setup,
    sessions: Sequence[Session],
    exposures: Mapping[str, Mapping[str, Any]],
    notes: PersonNotes,
    *,
    zones: Mapping[str, float] | None = None,
    way: Way | None = None,
) -> Fitting:
    """Bring everything known about a person to one set-up.

    sessions : the person's, by time. exposures : {session id: exposure.json}. zones : widths of end zones [deg]. way :
    heel-down or heel-up; None takes what was measured last on this set-up, else heel-down.
    Ends: the latest of a range check and one measured by hand; a published norm only where there is neither, and then
    nothing is suggested from it. A side of which only norms are known is left out when the other has its own.
    Raises InputError as `fit_of` does.
    """
    stroke = Stroke(way=way or _usual_way(sessions, exposures, setup.name))
    fit = fit_of(person, setup, sides=feet_of(setup) or SIDES, stroke=stroke)
    said = [f"assumed: {', '.join(fit.assumed)}"] if fit.assumed else []
    measured: list[Measured] = []
    for session in sessions:
        for one in session.setups:
            rooms = exposures.get(session.id, {}).get("setups", {}).get(one.name)
            if rooms is None:
                continue
            away = _height_apart(one, setup)
            if away is not None and away > SAME_THRONE_CM:
                said.append(f"{session.id}, {one.name}: another throne height ({away:.0f} cm apart), not learned from")
                continue
            try:
                how = way_of(exposures[session.id], one.name) or stroke.way
                placed = fit_of(person, one, sides=feet_of(one), stroke=Stroke(way=how))
            except InputError as error:
                said.append(f"{session.id}, {one.name}: not learned from ({error})")
                continue
            angles = _angles(placed, rooms)
            if angles:
                measured.append(Measured(session.id, one.name, placed, angles))
    learned = learn_person(measured)
    ends = known_ends(sessions, exposures, notes, fit, setup)
    own = {side for (side, _), end in ends.items() if end.source != "norm"}
    if own and own != set(fit.legs):
        ends = {joint: end for joint, end in ends.items() if joint[0] in own}
        for side in set(fit.legs) - own:
            said.append(f"nothing is known of the {side} side's own range: it is left out")
        fit = replace(fit, legs={side: leg for side, leg in fit.legs.items() if side in own})
    if any(end.other_height for end in ends.values()):
        said.append("some ends of range were measured at another throne height; check them again at this one")
    said += unusual_ends(ends)
    known_here = [m for m in measured if _same(m, sessions, setup)]
    rooms_here: dict[Joint, float] = {}
    for joint, end in ends.items():
        seen = [m.angle_deg[joint] for m in known_here if joint in m.angle_deg]
        if seen:
            rooms_here[joint] = end.deg - float(np.mean(seen))
    state = State(
        measured=rooms_here,
        sessions=max(len({m.session for m in known_here}), 1),
        throne_settled=is_settled(setup, known_setups(sessions, notes)),
        sources={joint: end.source for joint, end in ends.items()},
    )
    return Fitting(
        person=person,
        setup=setup,
        fit=learned.applied(fit),
        ends=ends,
        learned=learned,
        measured=tuple(measured),
        scored=tuple(predicted_before(measured)),
        state=state,
        notes=tuple(dict.fromkeys(said)),
        zones=dict(zones or {}),
        slide=_last_slide(sessions, exposures),
    )


def _last_slide(sessions: Sequence[Session], exposures: Mapping[str, Mapping[str, Any]]) -> Mapping[str, Any] | None:
    for session in reversed(sessions):
        slide = exposures.get(session.id, {}).get("slide")
        if slide is not None and slide["widest_cm"] is not None:
            return {"session": session.id, **slide}
    return None


def is_settled(setup: Setup, known: Mapping[str, tuple[datetime, Setup]]) -> bool:
    """Whether the throne's height is settled: marked so on this set-up, or, unless denied, on another of its height."""
    if setup.throne_settled is not None:
        return setup.throne_settled
    heights = [other for _, other in known.values() if other.throne_settled]
    return any((apart := _height_apart(setup, other)) is not None and apart <= SAME_THRONE_CM for other in heights)


def _usual_way(sessions: Sequence[Session], exposures: Mapping[str, Mapping[str, Any]], setup: str) -> Way:
    """As it was played when it was last measured, else heel-down."""
    for session in reversed(sessions):
        way = way_of(exposures.get(session.id, {}), setup)
        if way is not None:
            return way
    return "heel-down"


def way_of(exposure: Mapping[str, Any], setup: str) -> Way | None:
    """How a set-up was played in a session, where every foot that is known played it alike; else None."""
    played = exposure.get("techniques", {}).get(setup, {}).values()
    up, down = "heel-up" in played, "heel-down" in played
    return None if up == down else "heel-up" if up else "heel-down"


def _height_apart(a: Setup, b: Setup) -> float | None:
    if a.seat_height_cm is None or b.seat_height_cm is None:
        return None
    return abs(a.seat_height_cm - b.seat_height_cm)


def _same(one: Measured, sessions: Sequence[Session], setup: Setup) -> bool:
    """Whether a measured set-up stood as this one does."""
    session = next(session for session in sessions if session.id == one.session)
    other = next(s for s in session.setups if s.name == one.setup)
    for key, least in SAME_PLACE.items():
        for side in SIDES:
            a, b = other.of_foot(side, key), setup.of_foot(side, key)
            if a is not None and b is not None and abs(a - b) > least:
                return False
    return True


def _figures(rooms: Mapping[str, Any], side: Side, motion: str) -> Mapping[str, Any] | None:
    """A joint's figures on a set-up; half the spread stands in for one hip's abduction."""
    own = rooms.get(side, {}).get(motion)
    if own is None and motion == "hip_horizontal_abduction":
        spread = rooms.get("both", {}).get("hip_spread")
        if spread is not None:
            known = [key for key in ("active_end_deg", "median_room_deg") if spread.get(key) is not None]
            return {**spread, **{key: spread[key] / 2.0 for key in known}}
    return own


def _angles(fit: Fit, rooms: Mapping[str, Any]) -> dict[Joint, float]:
    """The measured angle toward each end, of the joint itself [deg]."""
    found: dict[Joint, float] = {}
    for side in fit.legs:
        for motion in MODELLED:
            figures = _figures(rooms, side, motion)
            if figures is None or figures.get("median_room_deg") is None or figures.get("active_end_deg") is None:
                continue
            read = float(figures["active_end_deg"]) - float(figures["median_room_deg"])
            found[side, motion] = read - in_shoe(fit, side, motion)
    return found
