"""The slide: ball to ball from hip and knee angles, tilted repetitions marked, and why it is not known."""

import json
from dataclasses import replace

import numpy as np
import pytest
from footroom.analysis.quality import Quality
from footroom.analysis.session_angles import SessionAngles
from footroom.analysis.session_exposure import active_ends
from footroom.analysis.slide import NEEDED, slide_figures
from footroom.analysis.timebase import Grid
from footroom.logger.models import Clip, Participant, Phase, Session, Setup
from footroom.logger.virtual_leg import LegAngles, LegSize, leg_from_angles, thigh_angles

RATE = 50.0
TIME = np.arange(0, 60, 1 / RATE)
SIZE = LegSize.from_stature(1.74)
PERSON = Participant(
    id="siskin", stature_cm=174, thigh_length_cm=100 * SIZE.thigh, shank_length_cm=100 * SIZE.shank,
    ball_to_ankle_cm=100 * SIZE.ball_to_ankle, hip_width_cm=100 * SIZE.hip_width,
)  # fmt: skip


def apart(repetition_s=10.0, widest=25.0):
    """Azimuth of each thigh [deg]: apart, held for three seconds, together, again and again."""
    within = TIME % repetition_s
    return widest * np.clip(np.minimum(within - 1, 7 - within) / 1.5, 0, 1)


def legs(azimuth, lean_deg=0.0):
    """Angles of a leg whose shank stands upright but for `lean_deg` of internal rotation; and its ball outward [m]."""
    flexion, adduction = thigh_angles(np.radians(-5.0), np.radians(azimuth))
    rotation = np.arctan2(np.cos(flexion) * np.sin(adduction), np.sin(flexion)) + np.radians(lean_deg)
    knee = np.full(TIME.size, np.radians(85.0))
    zero = np.zeros(TIME.size)
    angles = LegAngles(flexion, adduction, rotation, knee, zero, zero, zero, zero)
    pose = leg_from_angles(angles, SIZE, "right", 0.56)
    # The foot points where the thigh points; no clip on the foot says otherwise.
    outward = pose.ankle[:, 2] - SIZE.hip_width / 2 + SIZE.ball_to_ankle * np.sin(np.radians(azimuth))
    return dict(zip(NEEDED, (*np.degrees([flexion, adduction, rotation, knee]), azimuth), strict=True)), outward


def measured(lean_deg=0.0, sides=("right", "left"), uncertainty=3.0, **more):
    angles, outward = legs(apart(), lean_deg)
    columns = {f"{side}_{name}": column for side in sides for name, column in angles.items()} | more
    sure = {name: np.full(TIME.size, uncertainty) for name in columns}
    return SessionAngles(Grid(0.0, RATE, TIME.size), columns, sure, {}, set(), {}), outward


def session(*phases, person=PERSON):
    return Session(
        id="siskin-1", participant=person, recorded_at="2026-11-03T18:30:00Z", setups=[Setup(name="near")],
        clips=[Clip(segment="thigh", side=side, file=side) for side in ("right", "left")],
        phases=[Phase(name="playing", start_s=55, end_s=59), *phases],
    )  # fmt: skip


SLIDE = Phase(name="slide", start_s=0.0, end_s=50.0)


def test_ball_to_ball_is_that_of_the_leg_itself():
    angles, outward = measured()
    found = slide_figures(session(SLIDE), angles)
    width = 100 * (SIZE.hip_width + 2 * outward)
    assert len(found["repetitions"]) == 5 and found["reason"] is None
    assert found["widest_cm"] == pytest.approx(width.max(), abs=0.2)
    assert found["narrowest_cm"] == pytest.approx(width.min(), abs=0.2)
    assert found["widest_spread_deg"] == pytest.approx(50, abs=1)
    # by hand: a 3 deg azimuth swings thigh + ball (0.426 + 0.124 m) by 2.9 cm on each side; with two lengths 2 x 0.8
    assert found["plus_minus_cm"] == pytest.approx(np.sqrt(2 * 2.88**2 + 1.6**2), abs=0.1)
    json.dumps(found, allow_nan=False)


@pytest.mark.parametrize(("lean", "tilted"), [(6.0, False), (14.0, True), (-14.0, True)])
def test_a_shank_that_leans_more_than_ten_degrees_is_marked(lean, tilted):
    found = slide_figures(session(SLIDE), measured(lean)[0])
    assert [one["tilted"] for one in found["repetitions"]] == [tilted] * 5
    if tilted:
        assert found["widest_cm"] is None and "leaned more than 10 deg" in found["reason"]
        assert "5 repeated with the shank upright would count" in found["messages"]


def test_one_tilted_repetition_does_not_count():
    straight, leaning = legs(apart())[0], legs(apart(), 15.0)[0]
    one = (TIME > 20) & (TIME < 30)
    columns = {
        f"{side}_{name}": np.where(one, leaning[name], straight[name]) for side in ("right", "left") for name in NEEDED
    }
    angles = replace(measured()[0], columns=columns)
    found = slide_figures(session(SLIDE), angles)
    assert [rep["tilted"] for rep in found["repetitions"]] == [False, False, True, False, False]
    assert found["widest_cm"] == pytest.approx(slide_figures(session(SLIDE), measured()[0])["widest_cm"], abs=0.1)


def test_why_a_slide_is_not_known():
    assert slide_figures(session(), measured()[0]) is None, "there was none"
    alone = slide_figures(session(SLIDE), measured(sides=("right",))[0])
    assert alone["widest_cm"] is None and "on both legs" in alone["reason"]
    nobody = slide_figures(session(SLIDE, person=Participant(id="siskin")), measured()[0])
    assert "neither the stature nor" in nobody["reason"]
    lost = measured()[0]
    lost.columns["left_hip_horizontal_abduction"] = np.full(TIME.size, np.nan)
    assert "heading of a leg was not known" in slide_figures(session(SLIDE), lost)["reason"]


# The knee in the range check, through the ends of a session -------------------------------------------------------


def ends_with_knee(knee_deg, motion="ankle_dorsiflexion", phase="range_dorsiflexion"):
    trace = apart(widest=18.0)
    column = {"ankle_dorsiflexion": "ankle_dorsiflexion", "hip_internal_rotation": "hip_rotation"}[motion]
    columns = {f"right_{column}": trace, "right_knee_flexion": knee_deg}
    angles = replace(measured()[0], columns=columns, uncertainty={})
    quality = Quality()
    found = active_ends(session(Phase(name=phase, start_s=0.0, end_s=50.0)), angles, {}, quality)
    return found["right"][motion], quality.messages


def test_a_repetition_with_a_straight_knee_does_not_make_the_end():
    knee = np.where((TIME > 30) & (TIME < 40), 8.0, 85.0)
    end, messages = ends_with_knee(knee)
    assert [one.invalid for one in end.repetitions] == [False, False, False, True, False]
    assert end.used == 2 and not end.repetitions[3].used
    assert any("straighter than 20 deg" in message for message in messages)
    bent, quiet = ends_with_knee(np.full(TIME.size, 85.0))
    assert bent.used == 3 and not any("knee" in message for message in quiet)


def test_all_repetitions_with_a_straight_knee_leave_the_norm_with_the_reason():
    end, messages = ends_with_knee(np.full(TIME.size, 5.0))
    assert end.source == "norm" and any("straighter than 20 deg" in message for message in messages)


def test_hip_rotation_away_from_a_square_knee_is_said():
    end, messages = ends_with_knee(np.full(TIME.size, 45.0), "hip_internal_rotation", "range_internal_rotation")
    assert end.source == "this session"
    assert any("stood at 45 deg instead of about 90" in message for message in messages)
