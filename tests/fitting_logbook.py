"""A small fitting logbook for the pages' tests: one person with two analysed evenings and notes, one with notes only.

Invented numbers, written as the contract says; the evenings' angles are the model's own, 3 deg off at the ankle.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

from footroom.analysis.fit import fit_of
from footroom.analysis.placement import MODELLED, toward_end_deg
from footroom.logger.logbook import Logbook
from footroom.logger.models import SIDES, Clip, FootPlace, KeepClear, Participant, Phase, Session, Setup
from footroom.logger.person_notes import NotedRange, NotedSetup, note_ranges, note_setup

PERSON = Participant(id="siskin", stature_cm=172, thigh_length_cm=42, shank_length_cm=42)
START = datetime(2026, 11, 3, 18, 30, tzinfo=UTC)
ENDS = {
    "ankle_dorsiflexion": 21.0, "ankle_plantarflexion": 50.0, "hip_flexion": 110.0, "hip_horizontal_abduction": 38.0,
    "hip_internal_rotation": 33.0, "hip_external_rotation": 36.0,
}  # fmt: skip
SLIDE = {
    "repetitions": [
        {"start_s": 1.0, "end_s": 4.0, "widest_cm": width, "spread_deg": 48.0, "tilted": tilt > 10,
         "side_tilt_deg": {"right": tilt, "left": 1.0}}
        for width, tilt in ((60.0, 2.0), (62.0, 1.5), (71.0, 14.0), (61.0, 0.5))
    ],
    "widest_cm": 61.0, "widest_spread_deg": 48.0, "narrowest_cm": 18.0, "plus_minus_cm": 6.0, "reason": None,
    "messages": ["1 repeated with the shank upright would count"],
}  # fmt: skip


def setup(name, reach, **more):
    geometry = {
        "throne_height_cm": 50, "spacing_cm": 46, "footboard_pitch_deg": 20, "foot_splay_deg": 14, "reach_cm": reach,
    }  # fmt: skip
    return Setup(name=name, **{**geometry, **more})


def repetitions(values):
    return [
        {"start_s": 9.0 * i, "end_s": 9.0 * i + 5, "held_deg": v, "peak_deg": v + 1.2, "held": True,
         "invalid": i == 2, "practice": i < 2, "used": i > 2}
        for i, v in enumerate(values)
    ]  # fmt: skip


def evening(root, number, name, reach):
    """One analysed evening on one set-up."""
    placed = setup(name, reach)
    fit = fit_of(PERSON, placed)
    when = START + timedelta(days=7 * number)
    session = Session(
        id=f"siskin-{when:%Y-%m-%d}", participant=PERSON, recorded_at=when, setups=[placed],
        clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
        phases=[Phase(name="playing", start_s=0, end_s=60)],
    )  # fmt: skip
    figures, ranges = {}, {}
    for side in SIDES:
        for motion in MODELLED:
            angle = float(toward_end_deg(fit.poses(side), motion)) + 3.0 * (motion == "ankle_dorsiflexion")
            end = ENDS[motion]
            figures.setdefault(side, {})[motion] = {
                "active_end_deg": end, "range_source": "this session", "median_room_deg": end - angle,
            }  # fmt: skip
            values = [end - 4, end - 1, end - 9, end + 0.4, end, end - 0.4]
            ranges.setdefault(side, {})[motion] = {
                "value_deg": end, "source": "this session", "repetitions": repetitions(values), "messages": [],
            }  # fmt: skip
    lift = {"rest_deg": 14.0, "lifts_deg": [1.2, 1.0, 1.4], "held": 3, "gained_deg": 1.2, "lifted": False}
    playing = {name: {"right": {"lift_test": lift, "room_at_rest": {"angle_deg": 14.0, "room_deg": 6.0}}}}
    exposure = {
        "session": session.id, "setups": {name: figures}, "ranges": ranges, "playing": playing,
        "slide": SLIDE if number == 1 else None,
    }  # fmt: skip
    folder = root / "sessions" / session.id
    (folder / "derived").mkdir(parents=True)
    (folder / "session.json").write_text(session.model_dump_json(), encoding="utf-8")
    (folder / "derived" / "exposure.json").write_text(json.dumps(exposure), encoding="utf-8")


def write_fitting_logbook(path):
    """siskin: two evenings, three set-ups, a range by hand; linnet: a throne height only. Returns `path`."""
    book = Logbook.create(path)
    for number, (name, reach) in enumerate((("near", 41.0), ("far", 44.0))):
        evening(path, number, name, reach)
    book.save_participant(PERSON)
    drums = {
        "snare_diameter_in": 14, "snare_forward_cm": 46, "snare_rim_cm": 72, "stand_spread_cm": 24,
        "keep_clear": [KeepClear(name="floor tom", forward_cm=25, right_cm=52, diameter_cm=36, top_cm=55)],
    }  # fmt: skip
    felt = {"comfort_0_10": 6, "balance_0_10": 7, "control_0_10": 5, "note": "a bit close"}
    later = START + timedelta(days=9)
    versions = (
        setup("near", 41, throne_settled=True, **felt),
        setup("high", 47, throne_height_cm=54),
        setup("near", 41, throne_settled=True, chosen=True, left=FootPlace(reach_cm=42), **felt, **drums),
    )  # fmt: skip
    for hours, version in enumerate(versions):
        note_setup(book, "siskin", NotedSetup(recorded_at=later + timedelta(hours=hours), setup=version))
    noted = NotedRange(
        recorded_at=later, side="left", motion="ankle_dorsiflexion", repetitions_deg=[12, 12.5, 13],
        instrument="inclinometer", footwear="barefoot", throne_height_cm=54,
    )  # fmt: skip
    note_ranges(book, "siskin", [noted])
    book.save_participant(Participant(id="linnet", stature_cm=165))
    note_setup(book, "linnet", NotedSetup(recorded_at=later, setup=Setup(name="first", throne_height_cm=48)))
    return path
