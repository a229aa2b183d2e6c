"""What commands and screens show of a fitting, brought together from sessions, their figures and the notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..logger.models import Session
from ..logger.person_notes import PersonNotes, known_setups
from .active_range import Method
from .range_report import on_the_pedal, range_sheet
from .range_tests import range_tests


def throne_height_now(sessions: Sequence[Session], notes: PersonNotes) -> float | None:
    """Loaded seat height of the set-up noted or recorded last that has one [cm]."""
    heights = [setup.seat_height_cm for _, setup in known_setups(sessions, notes).values()]
    known = [height for height in heights if height is not None]
    return known[-1] if known else None


def range_report(
    participant: str,
    sessions: Sequence[Session],
    exposures: Mapping[str, Mapping[str, Any]],
    notes: PersonNotes,
    *,
    method: Method = "mean_of_last_three",
) -> dict[str, Any]:
    """The range sheet with what was measured on the pedal and in the slide. Strict JSON.

    exposures : {session id: exposure.json}. Raises InputError for an unknown method.
    """
    tests = range_tests(sessions, exposures, notes.ranges, method=method)
    sheet = range_sheet(participant, tests, method=method, throne_height_cm=throne_height_now(sessions, notes))
    sheet["on_the_pedal"] = on_the_pedal(sessions, exposures)
    sheet["slides"] = [
        {"recorded_at": session.recorded_at.isoformat(), "session": session.id, **exposures[session.id]["slide"]}
        for session in sessions
        if exposures.get(session.id, {}).get("slide") is not None
    ]
    return sheet
