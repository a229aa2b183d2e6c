"""A small analysed logbook for the dashboard's tests: invented people and numbers, written as the contract says."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from footroom.logger.logbook import Logbook
from footroom.logger.models import Clip, Participant, Phase, Session, Setup

RATE_HZ = 50.0
ENDS = {"ankle_dorsiflexion": 17.0, "ankle_plantarflexion": 38.0, "hip_flexion": 104.0}
ROOM = {  # median room [deg] by set-up
    "near": {"ankle_dorsiflexion": 4.1, "ankle_plantarflexion": 41.0, "hip_flexion": 22.0},
    "far": {"ankle_dorsiflexion": 8.4, "ankle_plantarflexion": 37.0, "hip_flexion": 22.4},
    "wide": {"ankle_dorsiflexion": 8.0, "ankle_plantarflexion": 37.4, "hip_flexion": 21.9},
}
REACH_CM = {"near": 41.0, "far": 45.0, "wide": 44.6}


def figures(motion: str, room: float, seed: int, seconds: float = 120.0) -> dict:
    """Figures of one motion with a median room near `room` [deg], as exposure.json holds them."""
    rooms = room + np.random.default_rng(seed).normal(0, 2.2, 4000)
    edges = np.arange(np.floor(rooms.min()), np.ceil(rooms.max()) + 1)
    share = np.histogram(rooms, edges)[0] / rooms.size
    median = float(np.median(rooms))
    near = float((rooms < 5).mean())
    blocks = [
        {
            "start_s": 60.0 * i,
            "end_s": 60.0 * i + 60,
            "known_s": 60.0,
            "median_room_deg": median,
            "share_near_end": near,
        }
        for i in range(2)
    ]
    return {
        "active_end_deg": ENDS[motion],
        "range_source": "this session",
        "zone_deg": 5.0,
        "share_near_end": near,
        "share_past_end": float((rooms < 0).mean()),
        "band_near_end": [float((rooms < 1).mean()), float((rooms < 9).mean())],
        "median_room_deg": median,
        "band_median_room_deg": [median - 4, median + 4],
        "p05_room_deg": float(np.percentile(rooms, 5)),
        "known_s": seconds,
        "playing_s": seconds,
        "seconds_per_minute": 60 * near,
        "entries_per_minute": 20 * near,
        "longest_stay_s": 3.2,
        "room_histogram": {"edges_deg": edges.tolist(), "share": share.tolist()},
        "blocks": blocks,
        "block_s": 60.0,
        "band_half_width_deg": 4.0,
    }


def write_session(
    logbook: Path,
    participant: str,
    number: int,
    *,
    analysed: bool = True,
    fault: bool = False,
    sides: tuple = ("right",),
) -> str:
    """One evening with three set-ups of 120 s; returns its id."""
    when = datetime(2026, 11, 3, 18, 30, tzinfo=UTC) + timedelta(days=7 * number)
    name = f"{participant}-{when:%Y-%m-%d}"
    setups = list(ROOM)
    phases = [Phase(name="still", start_s=0, end_s=10), Phase(name="range_dorsiflexion", start_s=12, end_s=50)]
    phases += [
        Phase(name="playing", start_s=60 + 130 * i, end_s=180 + 130 * i, setup=setup, exercise="groove", tempo_bpm=96)
        for i, setup in enumerate(setups)
    ]
    session = Session(
        id=name,
        participant=Participant(id=participant, stature_cm=172),
        recorded_at=when,
        setups=[Setup(name=s, reach_cm=REACH_CM[s], throne_height_cm=50, footwear="thin soles") for s in setups],
        clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
        phases=phases,
    )
    folder = logbook / "sessions" / name
    (folder / "derived").mkdir(parents=True)
    (folder / "session.json").write_text(session.model_dump_json(indent=1), encoding="utf-8")
    if not analysed:
        return name
    rng = np.random.default_rng(1000 * number + len(participant))
    exposure: dict = {"session": name, "setups": {}, "parameters": {}, "versions": {}}
    for setup, rooms in ROOM.items():
        shift = float(rng.normal(0, 0.35))
        exposure["setups"][setup] = {
            side: {motion: figures(motion, room + shift, number) for motion, room in rooms.items()} for side in sides
        } | {"both": {}}
    exposure["quality"] = {
        "slips": [{"clip": "right_shank", "time_s": 300.0, "turn_deg": 6.4}] if fault else [],
        "axes": {"right_foot": {"method": "moves", "share_explained": 0.97}},
        "gaps": [{"clip": "right_foot", "start_s": 200.0, "end_s": 220.0}] if fault else [],
        "withheld": [{"what": "right_hip_internal_rotation", "reason": "no hip rotation moves were recorded"}],
        "messages": [],
    }
    (folder / "derived" / "exposure.json").write_text(json.dumps(exposure), encoding="utf-8")
    time = np.arange(0, 450, 1 / RATE_HZ)
    table = {"time_s": time}
    for side in sides:
        ankle = 9 + 4 * np.sin(2 * np.pi * 1.6 * time) + rng.normal(0, 0.3, time.size)
        if fault:
            ankle[(time > 200) & (time < 220)] = np.nan
        table[f"{side}_ankle_dorsiflexion"] = ankle
        table[f"{side}_hip_flexion"] = 82 + np.sin(time / 9)
    pq.write_table(pa.table(table), folder / "derived" / "angles.parquet")
    return name


def write_logbook(path: Path) -> Path:
    """Two people: wren with four analysed evenings (one with a fault), lark with one not analysed."""
    Logbook.create(path)
    for number in range(4):
        write_session(path, "wren", number, fault=number == 2, sides=("right", "left"))
    write_session(path, "lark", 1, analysed=False)
    return path
