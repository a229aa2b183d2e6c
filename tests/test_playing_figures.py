"""What a foot did in one set-up, from made angles through the session's shape: figures, or the reason why not."""

import json

import numpy as np
import pytest
from analysed import session_of
from footroom.analysis.active_range import ActiveEnd
from footroom.analysis.offset_band import UNSEEN_SLIP_DEG
from footroom.analysis.playing_figures import playing_figures
from footroom.analysis.session_angles import SessionAngles
from footroom.analysis.timebase import Grid

RATE = 100.0
PHASES = [
    {"name": "rest_on_pedal", "start_s": 1, "end_s": 6, "setup": "near"},
    {"name": "lift_test", "start_s": 6, "end_s": 20, "setup": "near"},
    {"name": "playing", "start_s": 20, "end_s": 80, "setup": "near", "exercise": "eighths", "tempo_bpm": 120},
    {"name": "playing", "start_s": 80, "end_s": 90, "setup": "far"},
    {"name": "end_range", "start_s": 90, "end_s": 104},
]
SETUPS = [{"name": "near"}, {"name": "far"}]
ENDS = {"right": {"ankle_dorsiflexion": ActiveEnd(18.0, "this session")}}


def lifts(t, start, height):
    return height * sum(
        np.clip(np.minimum(t - start - 1 - 4 * i, start + 3.4 + 4 * i - t) / 0.6, 0, 1) for i in range(3)
    )


def ankle():
    """Rest at 10, three lifts of 6, 4 strokes a second by 5 deg, three lifts to 20 at the end."""
    t = np.arange(round(105 * RATE)) / RATE
    trace = 10.0 + lifts(t, 6, 6.0) + lifts(t, 90, 10.0)
    playing = (t >= 20) & (t < 80)
    trace[playing] -= 5.0 * np.maximum(0, np.sin(2 * np.pi * 2 * t[playing])) ** 4
    return trace + np.random.default_rng(1).normal(0, 0.05, t.size)


def figures_of(columns, ends=ENDS, shifts=None, **more):
    n = next(iter(columns.values())).size
    session = session_of(["right_foot", "right_shank"], PHASES, setups=SETUPS, **more)
    sure = {name: np.full(n, 1.5) for name in columns}
    angles = SessionAngles(Grid(0.0, RATE, n), dict(columns), sure, {}, set(), {})
    found = playing_figures(session, angles, ends, 60.0, shifts or {})
    assert json.dumps(found, allow_nan=False)
    return found


def test_figures_of_a_made_session():
    found = figures_of({"right_ankle_dorsiflexion": ankle()})["near"]["right"]
    assert found["strokes"]["count"] == 120
    assert found["strokes"]["rate_per_s"] == pytest.approx(2.0, rel=0.01)
    assert found["strokes"]["excursion_deg"]["50"] == pytest.approx(5.0, abs=0.3)
    rest = found["room_at_rest"]
    assert (rest["angle_deg"], rest["room_deg"]) == pytest.approx((10.0, 8.0), abs=0.1)
    assert np.ptp(rest["band_room_deg"]) == pytest.approx(2 * np.hypot(4.0, UNSEEN_SLIP_DEG))
    assert found["lift_test"]["gained_deg"] == pytest.approx(6.0, abs=0.3)
    assert (found["lift_test"]["lifted"], found["lift_test"]["held"]) == (True, 3)
    assert found["range_change_deg"] == pytest.approx(2.0, abs=0.3)
    low, high = found["band_range_change_deg"]
    assert low < found["range_change_deg"] < high
    [exercise] = found["by_exercise"]
    assert (exercise["exercise"], exercise["strokes"]) == ("eighths", 120)
    assert exercise["timing"]["grid_per_beat"] == 1.0
    assert exercise["timing"]["worth_saying"] is False
    assert found["knee"] is None
    assert "hip and knee" in found["not_known"]["knee"]


def test_a_check_at_the_end_narrows_what_rests_on_it():
    columns = {"right_ankle_dorsiflexion": ankle()}
    unchecked = figures_of(columns)["near"]["right"]
    checked = figures_of(columns, shifts={"right_foot": 0.5, "right_shank": 0.4})["near"]["right"]
    for name in ("room_at_rest", "band_range_change_deg"):
        bands = [one["band_room_deg"] if name == "room_at_rest" else one for one in (checked[name], unchecked[name])]
        assert np.ptp(bands[0]) < np.ptp(bands[1])
    assert checked["lift_test"] == unchecked["lift_test"]


def test_rest_and_lifts_of_one_setup_are_not_those_of_another():
    far = figures_of({"right_ankle_dorsiflexion": ankle()})["far"]["right"]
    assert far["room_at_rest"] is None
    assert far["lift_test"] is None
    assert "no lift test was recorded" in far["not_known"]["lift_test"]
    assert far["strokes"] is None
    assert "no stroke was found" in far["not_known"]["strokes"]


def test_knee_and_its_offset_in_cm():
    n = round(105 * RATE)
    flat = {f"right_{name}": np.full(n, value) for name, value in (
        ("hip_flexion", 80.0), ("hip_adduction", 0.0), ("hip_rotation", -6.0), ("knee_flexion", 80.0)
    )}  # fmt: skip
    columns = {"right_ankle_dorsiflexion": ankle(), **flat}
    found = figures_of(columns, participant={"id": "p01", "shank_length_cm": 42})["near"]["right"]["knee"]
    tilt = found["side_tilt_deg"]["50"]
    # 1.5 deg of the shank's lean; it leans ahead by 80 - 80 = 0 deg, so the 1.5 deg of azimuth add nothing.
    assert found["side_tilt_half_width_deg"] == pytest.approx(1.5, abs=0.02)
    assert found["knee_offset_half_width_cm"] == pytest.approx(42 * np.sin(np.radians(1.5)), abs=0.05)
    # External rotation of a bent knee carries the foot inward, so the knee is farther out: sin 6 x sin 80 of a shank.
    assert tilt == pytest.approx(np.degrees(np.arcsin(np.sin(np.radians(6)) * np.sin(np.radians(80)))), abs=0.1)
    assert found["knee_offset_cm"]["50"] == pytest.approx(42 * np.sin(np.radians(tilt)))
    unmeasured = figures_of(columns)["near"]["right"]
    assert unmeasured["knee"]["knee_offset_cm"] is unmeasured["knee"]["knee_offset_half_width_cm"] is None
    assert "length of the shank" in unmeasured["not_known"]["knee_offset_cm"]


@pytest.mark.parametrize("n", [round(105 * RATE), 2, 1])
def test_angles_that_are_not_known_give_reasons_and_no_numbers(n):
    found = figures_of({"right_ankle_dorsiflexion": np.full(n, np.nan)})
    for sides in found.values():
        figures = sides["right"]
        for name in ("strokes", "heel", "room_at_rest", "lift_test", "knee", "range_change_deg"):
            assert figures[name] is None, name
            assert name == "heel" or figures["not_known"][name], name
        assert set(figures["trends"].values()) == {None}
        assert all(row["strokes"] == 0 and row["evenness"] is None for row in figures["by_exercise"])


def test_no_ankle_angle_no_side():
    assert figures_of({"left_hip_flexion": np.zeros(1000)}) == {"near": {}, "far": {}}
