"""The leg in the physics engine: closed chain, set-up geometry, script, tape, folder.

Plane geometry of the seated leg: a two-link drawing of our own, tolerances stated beside it.
"""

import sys
import tomllib

import numpy as np
import pandas as pd
import pytest
from clip_noise import PERFECT
from physics_cases import HEEL_UP, SHORT
from physics_leg import (
    Person,
    PhysicsParameters,
    SetupScript,
    Strokes,
    replace,
    simulate,
)
from physics_model import Lengths, SeatedBody, leg_signs, require_mujoco
from physics_motion import wander
from physics_pose import PedalGeometry, seated_leg
from scipy.signal import find_peaks
from scipy.spatial.transform import Rotation

STILL_PERSON = Person(posture_sd_deg=0.0, knee_splay_sd_deg=0.0, settle_deg=0.0)


@pytest.fixture(autouse=True)
def _engine():
    require_mujoco()


@pytest.fixture(scope="module")
def short():
    require_mujoco()
    return simulate(SHORT)


@pytest.fixture(scope="module")
def heel_up():
    require_mujoco()
    return simulate(HEEL_UP)


# Closed chain and set-up geometry -------------------------------------------------------------------------------


def rest(setup, person=STILL_PERSON, sides=("right", "left")):
    """The rest on the pedal of a still person, at 100 Hz."""
    setup = replace(setup, playing_s=3.0, rest_s=1.0)
    session = simulate(
        PhysicsParameters(
            sides=sides, both_at_once=True, rate_hz=100.0, errors=PERFECT, moves=(), ranges=(), end_checks=False,
            person=person, setups=(setup,),
        )
    )  # fmt: skip
    return session, session.within("rest_on_pedal")


def test_heel_stays_on_its_hinge_when_playing_heel_down(short):
    heel = short.points["right_heel"][short.within("rest_on_pedal") | short.within("playing")]
    assert np.abs(heel - heel[0]).max() < 1e-3
    assert heel[0, 1] == pytest.approx(0.02, abs=1e-3)


def test_ball_stays_and_heel_floats_when_playing_heel_up(heel_up):
    for side in ("right", "left"):
        ball = heel_up.points[f"{side}_ball"][heel_up.within("rest_on_pedal") | heel_up.within("playing")]
        assert np.abs(ball - ball[0]).max() < 1e-3
    heel = heel_up.points["right_heel"]
    assert np.abs(heel[heel_up.within("rest_on_pedal"), 1] - 0.02).max() < 1e-3
    assert heel[heel_up.within("playing"), 1].max() > 0.06


def test_reach_and_spacing_are_as_asked():
    setup = SetupScript(reach_cm=44.0, spacing_cm=52.0, splay_deg=20.0)
    session, at = rest(setup)
    body = SeatedBody(("right",), Lengths(), {})
    assert body.model.body("right_thigh").pos[0] == 0.0, "hip centres stand at x = 0"
    ball = session.points["right_ball"][at], session.points["left_ball"][at]
    np.testing.assert_allclose(ball[0][:, 2] - ball[1][:, 2], 0.52, atol=1e-9)
    foot = session.orientations["right_foot"][at]
    ankle = session.points["right_heel"][at] - foot @ np.array([-0.04, -0.10, 0.0])
    np.testing.assert_allclose(ankle[:, 0], 0.44, atol=1e-9)
    toes = foot[:, :, 0]
    np.testing.assert_allclose(np.degrees(np.arctan2(toes[:, 2], toes[:, 0])), 20.0, atol=1e-9)


STRAIGHT = SetupScript(reach_cm=45.0, spacing_cm=18.0, splay_deg=0.0, pitch_deg=20.0)


def lean_deg(session, at, side="right"):
    up = session.orientations[f"{side}_shank"][at][:, :, 1]
    return np.degrees(np.arctan2(up[:, 0], up[:, 1]))


@pytest.mark.parametrize("pitch", [0.0, 12.0, 24.0])
@pytest.mark.parametrize("reach", [40.0, 45.0])
def test_dorsiflexion_at_rest_is_pitch_plus_lean_of_the_shank(pitch, reach):
    """Plane geometry (heel down, leg straight ahead); tolerance 0.5 deg is ours."""
    session, at = rest(replace(STRAIGHT, pitch_deg=pitch, reach_cm=reach), sides=("right",))
    dorsiflexion = session.truth.right_ankle_dorsiflexion[at]
    np.testing.assert_allclose(dorsiflexion, pitch + lean_deg(session, at), atol=0.5)


def test_five_centimetres_of_reach_and_of_throne():
    """Two-link plane figures for thigh 43, shank 42, ankle 10 cm: about -7 deg of ankle, about 6.5 deg of hip."""
    values = {}
    for name, setup in {
        "as it is": STRAIGHT,
        "farther": replace(STRAIGHT, reach_cm=50.0),
        "higher": replace(STRAIGHT, seat_change_cm=5.0),
    }.items():
        session, at = rest(setup, sides=("right",))
        values[name] = session.truth[at].mean()
    change = {name: values[name] - values["as it is"] for name in ("farther", "higher")}
    assert change["farther"].right_ankle_dorsiflexion == pytest.approx(-7.0, abs=1.0)
    assert abs(change["farther"].right_hip_flexion) < 1.2
    assert change["higher"].right_hip_flexion == pytest.approx(-6.5, abs=1.0)


def test_a_pedal_out_of_reach_is_refused():
    far = PedalGeometry(hip_height=0.6, reach=0.9, spacing=0.4, pitch=0.3, splay=0.0)
    nothing = np.zeros(1)
    with pytest.raises(ValueError, match="out of the leg's reach"):
        far.leg_angles("right", np.eye(3)[None], nothing, nothing, nothing, False, Lengths())


@pytest.mark.parametrize("side", ["right", "left"])
def test_seated_sole_is_flat_however_the_leg_is_held(side):
    leg = seated_leg(side, 0.61, lean=0.05, adduction=0.04, rotation=-0.06, heading=0.1)
    body = SeatedBody((side,), Lengths(), {})
    positions = np.zeros((1, body.model.nq))
    positions[0, body.leg_index(side)] = leg * leg_signs(side)
    foot = Rotation.from_quat(body.run(positions)[0][f"{side}_foot"][0], scalar_first=True).as_matrix()
    np.testing.assert_allclose(foot[:, 1], (0, 1, 0), atol=1e-9)


# The script -----------------------------------------------------------------------------------------------------


def test_session_begins_seated_with_sloping_thigh_and_vertical_shank(short):
    first = short.truth[short.within("still")].mean()
    np.testing.assert_allclose(first.right_hip_flexion, 78.0, atol=1e-6)
    np.testing.assert_allclose(first[["right_ankle_dorsiflexion", "right_hip_rotation"]], 0.0, atol=1e-6)
    assert np.abs(lean_deg(short, short.within("still"))).max() < 1e-6


@pytest.mark.parametrize(
    ("phase", "column", "direction"),
    [
        ("ankle_taps", "right_ankle_dorsiflexion", -1),
        ("knee_kicks", "right_knee_flexion", -1),
        ("thigh_lifts", "right_hip_flexion", 1),
        ("range_dorsiflexion", "right_ankle_dorsiflexion", 1),
        ("range_internal_rotation", "right_hip_rotation", 1),
    ],
)
def test_moves_begin_in_the_agreed_direction_and_come_five_times(short, phase, column, direction):
    curve = direction * short.truth.loc[short.within(phase), column].to_numpy()
    curve = curve - curve[0]
    assert curve.min() > -0.1 * curve.max()
    peaks, _ = find_peaks(curve, height=0.5 * curve.max(), distance=300, plateau_size=1)
    assert len(peaks) == 5


def test_active_ends_are_those_of_the_held_repetitions(short):
    ends = short.repetition_ends
    kept = ends[(ends.motion == "ankle_dorsiflexion") & (ends.phase == "range_dorsiflexion")].end_deg
    assert len(kept) == 5
    assert short.active_end_deg["right"]["ankle_dorsiflexion"] == pytest.approx(kept.iloc[-3:].mean())
    assert 0.2 < kept.std() < 3.5
    assert kept.mean() == pytest.approx(18.0, abs=2.5)
    assert (ends.phase == "end_range").sum() == 2


def test_all_range_moves_reach_their_ends():
    person = Person(repetition_sd_deg=0.0, warm_up_deg=0.0, cross_deg=0.0)
    session = simulate(
        PhysicsParameters(
            sides=("left",), rate_hz=50.0, repetitions=3, moves=(), errors=PERFECT, end_checks=False,
            person=person, setups=(SetupScript(playing_s=3.0),),
        )
    )  # fmt: skip
    expected = {
        "ankle_dorsiflexion": 18.0, "ankle_plantarflexion": 45.0, "hip_flexion": 105.0,
        "hip_internal_rotation": 34.0, "hip_external_rotation": 38.0, "hip_horizontal_abduction": 35.0,
    }  # fmt: skip
    assert session.active_end_deg["left"] == pytest.approx(expected, abs=0.01)


def test_every_stroke_asked_for_is_in_the_ankle(short):
    at = short.within("playing")
    strokes = short.strokes["right"]
    down = -short.truth.right_ankle_dorsiflexion[at].to_numpy()
    peaks, _ = find_peaks(down, prominence=2.0, distance=12)
    assert len(strokes) > 30
    assert len(peaks) == len(strokes)
    times = short.truth.time_s[at].to_numpy()[peaks]
    np.testing.assert_allclose(times, strokes.time_s, atol=0.03)


def test_a_third_of_the_strokes_is_below_eight_degrees():
    starts, lengths, amplitudes = Strokes().draw(3000.0, np.random.default_rng(1))
    assert (amplitudes < 8.0).mean() == pytest.approx(1 / 3, abs=0.03)
    assert amplitudes.min() >= 3.0
    assert amplitudes.max() <= 20.0
    assert np.all(starts[1:] >= starts[:-1] + lengths[:-1]), "strokes must not overlap"
    interval = np.diff(starts)
    assert 1 / 6.2 < interval.min() < 0.2
    assert (interval > 0.8).sum() > 100, "rests between bursts"


def test_slow_wander_has_the_asked_spread():
    t = np.arange(0.0, 20_000.0, 0.5)
    curve = wander(t, 3.0, 40.0, np.random.default_rng(5))
    assert curve.std() == pytest.approx(3.0, rel=0.1)
    assert np.corrcoef(curve[:-20], curve[20:])[0, 1] > 0.7, "10 s apart it has hardly moved"


def test_knee_splay_is_the_asked_change_of_the_thigh(heel_up):
    geometry = SetupScript().geometry(Person().hip_height_m)
    factor = geometry.swivel_per_azimuth("left", Lengths())
    nothing = np.zeros(1)
    square = np.eye(3)[None]
    a, b = (
        geometry.leg_angles("left", square, nothing, nothing, np.array([x]), False, Lengths())
        for x in (0.0, np.radians(3.0) * factor)
    )
    outward = [np.degrees(np.arctan2(-np.sin(x[0, 1]), np.sin(x[0, 0]) * np.cos(x[0, 1]))) for x in (a, b)]
    assert outward[1] - outward[0] == pytest.approx(3.0, abs=0.1)


def test_two_legs_play_at_once_and_the_pelvis_turns_with_them(heel_up):
    assert set(heel_up.clips) == {f"{s}_{p}" for s in ("right", "left") for p in ("foot", "shank", "thigh")} | {
        "pelvis"
    }
    at = heel_up.within("playing")
    pelvis = heel_up.orientations["pelvis"][at][:, :, 0]
    yaw = np.degrees(np.arctan2(-pelvis[:, 2], pelvis[:, 0]))
    assert np.ptp(yaw) > 1.0
    spread = heel_up.truth.hip_spread[at]
    thighs = {s: heel_up.orientations[f"{s}_thigh"][at][:, :, 1] for s in ("right", "left")}
    world = sum(np.degrees(np.arctan2(-k * thighs[s][:, 2], -thighs[s][:, 0])) for s, k in (("right", 1), ("left", -1)))
    assert np.abs(spread - world).max() < 1.0, "spread hardly cares which way the pelvis faces"


def test_one_seed_makes_one_session():
    tiny = replace(HEEL_UP, sides=("right",), setups=(SetupScript(playing_s=4.0),), pelvis_clip=False)
    first = simulate(tiny)
    simulate.cache_clear()
    again, other = simulate(tiny), simulate(replace(tiny, seed=5))
    pd.testing.assert_frame_equal(first.truth, again.truth)
    np.testing.assert_array_equal(first.clips["right_foot"].acc, again.clips["right_foot"].acc)
    assert (first.mounts["right_foot"].rotation.inv() * other.mounts["right_foot"].rotation).magnitude() > 0.05


# Tape and folder ------------------------------------------------------------------------------------------------


def test_tape_errors_are_added_to_the_true_geometry(heel_up):
    assert heel_up.setups == heel_up.true_setups
    wrong = simulate(replace(HEEL_UP, tape_sd_cm=0.5, tape_sd_deg=1.0))
    off = wrong.setups[0]["reach_cm"] - wrong.true_setups[0]["reach_cm"]
    assert 0.0 < abs(off) < 2.0
    bare = simulate(replace(HEEL_UP, with_tape=False))
    assert bare.setups == [{"name": "up"}]
    pd.testing.assert_frame_equal(wrong.truth, heel_up.truth)


def test_import_folder_holds_what_was_simulated(short, tmp_path):
    folder = short.write_import_folder(tmp_path / "session")
    text = tomllib.loads((folder / "import.toml").read_text(encoding="utf-8"))
    assert text["units"] == {"acceleration": "m/s^2", "angular_rate": "rad/s"}
    assert [clip["file"] for clip in text["clip"]] == [f"right_{s}.csv" for s in ("foot", "shank", "thigh")]
    assert text["setup"][0]["reach_cm"] == 46.0
    assert [p["name"] for p in text["phase"]] == [p.name for p in short.phases]
    assert all(p["end_s"] > p["start_s"] for p in text["phase"])
    table = pd.read_csv(folder / "right_foot.csv")
    assert list(table) == ["time_s", "acc_x", "acc_y", "acc_z", "gyr_x", "gyr_y", "gyr_z"]
    np.testing.assert_allclose(table[["gyr_x", "gyr_y", "gyr_z"]], short.clips["right_foot"].gyr, atol=1e-8)
    assert np.all(np.diff(table.time_s) > 0)
    with pytest.raises(FileExistsError, match="is not empty"):
        short.write_import_folder(folder)


def test_practice_only_can_be_cut_out(short):
    start, end = short.span("playing")
    cut = short.cut(start, end)
    assert [p.name for p in cut.phases] == ["playing"]
    assert len(cut.truth) == len(cut.clips["right_foot"].time_s) == len(cut.orientations["right_foot"])
    assert cut.truth.time_s.iloc[0] >= start
    assert cut.within("playing").all()
    assert len(short.truth) > len(cut.truth), "the whole one is untouched"


@pytest.mark.parametrize(("everything", "outcome"), [("1", pytest.fail.Exception), ("0", pytest.skip.Exception)])
def test_a_missing_engine_is_said(monkeypatch, everything, outcome):
    monkeypatch.setitem(sys.modules, "mujoco", None)
    monkeypatch.setenv("FOOTROOM_REQUIRE_ALL", everything)
    with pytest.raises(outcome, match="mujoco is not installed"):
        require_mujoco()
