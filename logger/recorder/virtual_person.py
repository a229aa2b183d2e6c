"""Somebody who does not exist, to try a recording with: sits where the set-ups say, and does what the guide asks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Protocol

from ..models import Participant, Setup, Side
from ..sources.virtual import VirtualSource
from ..virtual_drummer import Throne, VirtualDrummer
from ..virtual_leg import LegSize, PedalPlace

HIP_HEIGHT_M = 0.56
REACHES_M = (0.44, 0.50, 0.47, 0.53)
"""Of set-ups whose reach is not known, in turn [m]."""
NOBODY = "Virtual clips: nobody was measured."


class Follower(Protocol):
    """Whoever does what the guide asks for and is no person."""

    def begin(self, phase: str, at_s: float, side: Side | None = None, setup: str | None = None) -> None:
        """Do this from host time `at_s` [s] on."""
        ...


class VirtualFollower:
    """The drummer of virtual clips."""

    def __init__(self, source: VirtualSource) -> None:
        self._source = source

    def begin(self, phase: str, at_s: float, side: Side | None = None, setup: str | None = None) -> None:
        """Do this from host time `at_s` [s] on."""
        self._source.drummer.begin(phase, at_s - self._source.opened_s, side, setup)


def virtual_person(places: Sequence[str], setups: Mapping[str, Setup], speed: float = 1.0) -> VirtualSource:
    """Clips at these places on somebody who sits on these set-ups. Raises ValueError for a place that is none."""
    thrones = {name: _pedal(setup, number) for number, (name, setup) in enumerate(setups.items())}
    drummer = VirtualDrummer(Throne(size=_size(), hip_height=HIP_HEIGHT_M, setups=thrones))
    return VirtualSource(places, drummer, speed=speed)


def measured(setups: Mapping[str, Setup], throne: Throne) -> dict[str, Setup]:
    """The set-ups with what a tape would say of them, where nothing is known."""
    found: dict[str, Setup] = {}
    for name, setup in setups.items():
        pedal = throne.setups[name]
        told = {
            "reach_cm": round(pedal.reach * 100, 1),
            "spacing_cm": round(pedal.spacing * 100, 1),
            "footboard_pitch_deg": round(math.degrees(pedal.pitch), 1),
            "foot_splay_deg": round(math.degrees(pedal.splay), 1),
        }
        missing = {key: value for key, value in told.items() if getattr(setup, key) is None}
        found[name] = setup.model_copy(update=missing)
    return found


def with_lengths(person: Participant) -> Participant:
    """The person with the lengths of the virtual legs."""
    size = _size()
    told = {
        "stature_cm": 174.0,
        "thigh_length_cm": round(size.thigh * 100, 1),
        "shank_length_cm": round(size.shank * 100, 1),
        "ball_to_ankle_cm": round(size.ball_to_ankle * 100, 1),
        "hip_width_cm": round(size.hip_width * 100, 1),
    }
    return person.model_copy(update=told)


def _size() -> LegSize:
    return LegSize.from_stature(1.74)


def _pedal(setup: Setup, number: int) -> PedalPlace:
    def metres(value: float | None, otherwise: float) -> float:
        return otherwise if value is None else value / 100

    def radians(value: float | None, otherwise: float) -> float:
        return otherwise if value is None else math.radians(value)

    return PedalPlace(
        hip_height=HIP_HEIGHT_M,
        reach=metres(setup.reach_cm, REACHES_M[number % len(REACHES_M)]),
        spacing=metres(setup.spacing_cm, 0.42),
        pitch=radians(setup.footboard_pitch_deg, 0.26),
        splay=radians(setup.foot_splay_deg, 0.17),
    )
