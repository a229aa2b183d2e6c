"""Sessions and exposure figures made by hand for the tests of comparison."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from footroom.logger.logbook import Logbook
from footroom.logger.models import Clip, Participant, Phase, Session, Setup

NEAR = {"name": "near", "reach_cm": 40.0, "throne_height_cm": 48.0}
FAR = {"name": "far", "reach_cm": 43.0, "throne_height_cm": 48.0}


def session(number: int, setups: list[dict[str, Any]], *, reverse: bool | None = None, **phase: Any) -> Session:
    """Session `pupil-NUMBER`; the order of playing turns with the number unless `reverse` says."""
    turned = number % 2 == 1 if reverse is None else reverse
    order = list(reversed(setups)) if turned else setups
    return Session(
        id=f"pupil-{number}",
        participant=Participant(id="pupil"),
        recorded_at=datetime(2026, 11, 1, 18, tzinfo=UTC) + timedelta(days=number),
        setups=[Setup(**setup) for setup in setups],
        clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
        phases=[
            Phase(name="playing", start_s=100.0 * i, end_s=100.0 * i + 60, setup=setup["name"], **phase)
            for i, setup in enumerate(order)
        ],
    )


def figures(room: float, share: float | None = 0.3, **more: Any) -> dict[str, Any]:
    """One motion of exposure.json: one block, both measures."""
    near = [0.0, 0.0] if share is None else [max(0.0, share - 0.1), min(1.0, share + 0.1)]
    block = {"start_s": 0.0, "end_s": 60.0, "known_s": 60.0, "median_room_deg": room, "share_near_end": share}
    return {
        "median_room_deg": room,
        "share_near_end": share,
        "known_s": 60.0,
        "block_s": 60.0,
        "blocks": [block],
        "zone_deg": 5.0,
        "range_source": "this session",
        "band_half_width_deg": 4.0,
        "band_near_end": near,
    } | more


def exposure(number: int, setups: dict[str, dict[str, dict[str, dict[str, Any]]]]) -> dict[str, Any]:
    """exposure.json of session `pupil-NUMBER`: {set-up: {side: {motion: figures}}}."""
    return {"session": f"pupil-{number}", "setups": setups}


def right_ankle(room: float, share: float | None = 0.3, **more: Any) -> dict[str, dict[str, dict[str, Any]]]:
    """Only right ankle dorsiflexion."""
    return {"right": {"ankle_dorsiflexion": figures(room, share, **more)}}


def paired(rooms_a: list[float], rooms_b: list[float], a: dict[str, Any] = NEAR, b: dict[str, Any] = FAR, **more: Any):
    """(exposures, sessions): each session holds both set-ups; only right ankle dorsiflexion."""
    sessions = [session(i, [a, b]) for i in range(len(rooms_a))]
    exposures = [
        exposure(i, {a["name"]: right_ankle(x, **more), b["name"]: right_ankle(y, **more)})
        for i, (x, y) in enumerate(zip(rooms_a, rooms_b, strict=True))
    ]
    return exposures, sessions


def separate(
    rooms_a: list[float], rooms_b: list[float], a: dict[str, Any] = NEAR, b: dict[str, Any] = FAR, **more: Any
):
    """(exposures, sessions): each session holds one set-up."""
    sessions, exposures = [], []
    for setup, rooms in ((a, rooms_a), (b, rooms_b)):
        for room in rooms:
            number = len(sessions)
            sessions.append(session(number, [setup]))
            exposures.append(exposure(number, {setup["name"]: right_ankle(room, **more)}))
    return exposures, sessions


def fill(path: Path, exposures: list[dict[str, Any]], sessions: list[Session]) -> Path:
    """A logbook with these sessions and their derived figures, as the folder layout says."""
    book = Logbook.create(path)
    by_id = {item["session"]: item for item in exposures}
    for one in sessions:
        folder = path / "sessions" / one.id
        (folder / "derived").mkdir(parents=True)
        (folder / "session.json").write_text(one.model_dump_json(exclude_none=True), encoding="utf-8")
        if one.id in by_id:
            (folder / "derived" / "exposure.json").write_text(json.dumps(by_id[one.id]), encoding="utf-8")
    book.save_participant(sessions[0].participant)
    return path
