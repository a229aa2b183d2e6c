"""The horizontal triangle hip - knee - ankle: closed by hand, from stature, and by the azimuth it returns."""

import numpy as np
import pytest
from footroom.analysis.tape import OF_STATURE, Tape, tape_of, triangle_azimuth
from footroom.logger.models import FootPlace, Participant, Setup
from hypothesis import given, settings
from hypothesis import strategies as st

MEASURED = {"thigh_length_cm": 42.0, "shank_length_cm": 41.0, "hip_width_cm": 17.0, "ball_to_ankle_cm": 12.0}


def azimuth_of(thigh, shank, twist, tape):
    azimuth, better, misfit = triangle_azimuth(*(np.array([v]) for v in (thigh, shank, np.radians(twist))), tape)
    return np.degrees(azimuth[0]), np.degrees(better[0]), misfit[0]


def tape(forward, outward, thigh=0.42, shank=0.41, measured=True):
    return Tape(forward, outward, thigh, shank, 0.13, 0.095, 0.0, 0.0, 0.085, measured)


# ---- by hand


def test_upright_shank_straight_ahead():
    """Ankle under the knee: the thigh points where the ankle is. atan2(0.15, 0.36) = 22.62 deg; 0.39 m = 5-12-13."""
    azimuth, twist, misfit = azimuth_of(thigh=0.39, shank=0.0, twist=0.0, tape=tape(0.36, 0.15))
    assert azimuth == pytest.approx(22.62, abs=0.005)
    assert (twist, misfit) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_shank_leaning_outward():
    """Thigh 0.40 m ahead of the hip in the horizontal, shank 0.03 m square to it, outward:
    hip to ankle = sqrt(0.40^2 + 0.03^2) = 0.40112 m, seen atan(0.03 / 0.40) = 4.289 deg outside the thigh.
    The tape puts the ankle at 20 deg: forward 0.40112 cos 20 = 0.37693, outward 0.40112 sin 20 = 0.13719.
    So the thigh points to 20 - 4.289 = 15.711 deg."""
    azimuth, twist, misfit = azimuth_of(thigh=0.40, shank=0.03, twist=90.0, tape=tape(0.37693, 0.13719))
    assert azimuth == pytest.approx(15.711, abs=0.01)
    assert twist == pytest.approx(90.0, abs=0.1)
    assert misfit == pytest.approx(0.0, abs=1e-4)


def test_shank_leaning_back_along_the_thigh_shortens_the_way():
    """Foot tucked 0.05 m back under the thigh: 0.40 - 0.05 = 0.35 m, along the thigh, at the tape's bearing."""
    azimuth, _, misfit = azimuth_of(thigh=0.40, shank=0.05, twist=180.0, tape=tape(0.35, 0.0))
    assert azimuth == pytest.approx(0.0, abs=1e-6)
    assert misfit == pytest.approx(0.0, abs=1e-9)


def test_one_centimetre_of_spacing_turns_the_thigh():
    """1 cm outward at 0.42 m is atan(0.01 / 0.42) = 1.364 deg (one centimetre = 1.4 deg, as the design says)."""
    near, _, _ = azimuth_of(0.42, 0.0, 0.0, tape(0.42, 0.0))
    far, _, _ = azimuth_of(0.42, 0.0, 0.0, tape(0.42, 0.01))
    assert far - near == pytest.approx(1.364, abs=0.001)


def test_a_tape_that_does_not_fit_is_reported():
    """Sides 0.40 and 0 against a tape of 0.45 m: 5 cm are missing, and no twist can supply them."""
    _, twist, misfit = azimuth_of(0.40, 0.0, 0.0, tape(0.45, 0.0))
    assert misfit == pytest.approx(0.05)
    assert twist == 0.0


def test_a_wrong_twist_is_moved_toward_the_tape_and_not_past_it():
    """True twist 60, tie says 66; the tape knows the length."""
    thigh, shank, true = 0.38, 0.12, np.radians(60.0)
    base = np.hypot(thigh + shank * np.cos(true), shank * np.sin(true))
    _, better, misfit = azimuth_of(thigh, shank, 66.0, tape(base, 0.0))
    assert misfit > 0
    assert 60.0 < better < 66.0


def test_a_tape_from_stature_weighs_less():
    thigh, shank, true = 0.38, 0.12, np.radians(60.0)
    base = np.hypot(thigh + shank * np.cos(true), shank * np.sin(true))
    measured, guessed = (azimuth_of(thigh, shank, 66.0, tape(base, 0.0, measured=m))[1] for m in (True, False))
    assert abs(measured - 60) < abs(guessed - 60)


# ---- property: with an exact twist and an exact tape the triangle closes


@given(
    thigh=st.floats(0.30, 0.48),
    shank=st.floats(0.0, 0.20),
    twist=st.floats(-180, 180),
    azimuth=st.floats(-30, 60),
)
@settings(max_examples=300, deadline=None)
def test_the_azimuth_closes_the_triangle(thigh, shank, twist, azimuth):
    a, t = np.radians([azimuth, twist])
    knee = thigh * np.array([np.cos(a), np.sin(a)])
    ankle = knee + shank * np.array([np.cos(a + t), np.sin(a + t)])
    found, better, misfit = azimuth_of(thigh, shank, twist, tape(*ankle))
    assert found == pytest.approx(azimuth, abs=1e-6)
    assert better == pytest.approx(twist, abs=1e-6)
    assert misfit == pytest.approx(0.0, abs=1e-9)


@given(
    thigh=st.floats(0.30, 0.48),
    shank=st.floats(0.0, 0.20),
    twist=st.floats(-180, 180),
    forward=st.floats(0.2, 0.6),
    outward=st.floats(-0.1, 0.3),
)
@settings(max_examples=200, deadline=None)
def test_any_numbers_give_a_number(thigh, shank, twist, forward, outward):
    assert np.isfinite(azimuth_of(thigh, shank, twist, tape(forward, outward))).all()


# ---- from what was typed


def test_lengths_measured():
    """Spacing 48 cm: ball 24 out, hip centre 8.5 out: 15.5 cm. No splay, so the ankle is as far out as the ball."""
    found, reason = tape_of(
        Participant(id="p", **MEASURED), Setup(name="near", reach_cm=44.0, spacing_cm=48.0), "right"
    )
    assert reason == ""
    assert found is not None and found.measured
    assert (found.forward_m, found.outward_m) == pytest.approx((0.44, 0.155))
    assert (found.thigh_m, found.shank_m) == pytest.approx((0.42, 0.41))
    distance, bearing = found.ankle()
    assert distance == pytest.approx(np.hypot(0.44, 0.155))
    assert np.degrees(bearing) == pytest.approx(19.41, abs=0.01)


def test_a_lifted_heel_carries_the_ankle_forward():
    """Sole from level to 20 deg toes down about the ball: 13 (1 - cos 20) + 9.5 sin 20 = 0.78 + 3.25 = 4.03 cm."""
    level = tape(0.40, 0.0)
    distance, bearing = level.ankle(np.radians([0.0, -20.0]))
    assert distance == pytest.approx([0.40, 0.4403], abs=1e-4)
    assert bearing == pytest.approx([0.0, 0.0])


def test_splay_brings_the_ankle_in_under_the_ball():
    """Flat board, toes 30 deg out, ball 12 cm ahead of the ankle: the ankle is 12 sin 30 = 6 cm further in."""
    setup = Setup(name="near", reach_cm=44.0, spacing_cm=48.0, foot_splay_deg=30.0, footboard_pitch_deg=0.0)
    found, _ = tape_of(Participant(id="p", **MEASURED), setup, "right")
    assert found.outward_m == pytest.approx(0.155 - 0.06)


def test_a_pitched_board_tips_the_ankle_back():
    """The same at 18 deg of pitch: the ball is 12 cos 18 + 9.5 sin 18 = 14.35 cm ahead in the horizontal."""
    setup = Setup(name="near", reach_cm=44.0, spacing_cm=48.0, foot_splay_deg=30.0, footboard_pitch_deg=18.0)
    found, _ = tape_of(Participant(id="p", **MEASURED), setup, "right")
    assert found.outward_m == pytest.approx(0.155 - 0.1435 / 2, abs=1e-4)


def test_lengths_from_stature():
    """Drillis & Contini 1966 (as in Winter 2009, Fig 4.1; from memory): thigh 0.245, shank 0.246 of stature;
    hip breadth 0.191, half of it between the joint centres. 170 cm: 41.65, 41.82 and 16.24 cm."""
    assert OF_STATURE["thigh_length_cm"] == 0.245 and OF_STATURE["shank_length_cm"] == 0.246
    assert OF_STATURE["hip_width_cm"] == pytest.approx(0.191 / 2)
    found, reason = tape_of(
        Participant(id="p", stature_cm=170.0), Setup(name="near", reach_cm=44.0, spacing_cm=48.0), "right"
    )
    assert reason == ""
    assert not found.measured
    assert (found.thigh_m, found.shank_m) == pytest.approx((0.4165, 0.4182), abs=1e-4)
    assert found.outward_m == pytest.approx(0.24 - 0.1624 / 2, abs=1e-4)
    assert (
        found.base_sd_m
        > tape_of(Participant(id="p", **MEASURED), Setup(name="n", reach_cm=44, spacing_cm=48), "right")[0].base_sd_m
    )


def test_one_measured_length_does_not_hide_that_others_are_estimated():
    found, _ = tape_of(
        Participant(id="p", stature_cm=170.0, thigh_length_cm=44.0),
        Setup(name="near", reach_cm=44.0, spacing_cm=48.0),
        "right",
    )
    assert found.thigh_m == pytest.approx(0.44)
    assert not found.measured


@pytest.mark.parametrize(
    ("geometry", "reason"),
    [
        ({}, "set-up 'near' has no reach_cm and no spacing_cm"),
        ({"reach_cm": 44.0}, "set-up 'near' has no spacing_cm"),
        ({"spacing_cm": 48.0}, "set-up 'near' has no reach_cm"),
    ],
)
def test_missing_tape_gives_the_reason(geometry, reason):
    found, said = tape_of(Participant(id="p", **MEASURED), Setup(name="near", **geometry), "right")
    assert found is None
    assert said == reason


@pytest.mark.parametrize(
    ("noted", "sole_cm"),
    [({}, 2.5), ({"footwear": "Socks"}, 0.0), ({"footwear": "barefoot"}, 0.0), ({"shoe_heel_cm": 1.2}, 1.2)],
)
def test_the_ankle_stands_on_the_sole_that_was_noted_for_its_foot(noted, sole_cm):
    """Bare, 0.039 of stature (Drillis & Contini): 6.63 cm of 170; 7 cm where the stature is not known (ours)."""
    setup = Setup(name="near", reach_cm=44.0, spacing_cm=48.0, right=FootPlace(**noted))
    known = Participant(id="p", stature_cm=170.0)
    assert tape_of(known, setup, "right")[0].ankle_m == pytest.approx((6.63 + sole_cm) / 100)
    assert tape_of(known, setup, "left")[0].ankle_m == pytest.approx(0.0913)
    assert tape_of(Participant(id="p", **MEASURED), setup, "right")[0].ankle_m == pytest.approx((7 + sole_cm) / 100)


def test_a_foot_that_stands_elsewhere_has_its_own_tape():
    """The left pedal 6 cm farther and steeper; the right one as the set-up says."""
    left = FootPlace(reach_cm=50.0, footboard_pitch_deg=26.0, foot_splay_deg=15.0)
    setup = Setup(name="near", reach_cm=44.0, spacing_cm=48.0, footboard_pitch_deg=18.0, left=left)
    right_tape, left_tape = (tape_of(Participant(id="p", **MEASURED), setup, side)[0] for side in ("right", "left"))
    assert (right_tape.forward_m, left_tape.forward_m) == (0.44, 0.50)
    assert np.degrees([right_tape.rest_pitch_rad, left_tape.rest_pitch_rad]) == pytest.approx([18.0, 26.0])
    assert np.degrees([right_tape.splay_rad, left_tape.splay_rad]) == pytest.approx([0.0, 15.0])


@pytest.mark.parametrize("missing", MEASURED)
def test_a_missing_length_without_stature_gives_the_reason(missing):
    lengths = {k: v for k, v in MEASURED.items() if k != missing}
    found, said = tape_of(Participant(id="p", **lengths), Setup(name="near", reach_cm=44.0, spacing_cm=48.0), "right")
    assert found is None
    assert said == f"neither {missing} nor stature_cm of 'p' is known"


def test_a_foot_turned_about_its_ball_carries_the_ankle():
    """Flat board, ball 13 cm ahead of the ankle. Toes 10 deg out: the ankle goes 13 sin 10 = 2.257 cm in and
    13 (1 - cos 10) = 0.197 cm forward: 40.197 ahead, 2.257 inside."""
    distance, bearing = tape(0.40, 0.0).ankle(turn_rad=np.radians([0.0, 10.0]))
    assert distance == pytest.approx([0.40, np.hypot(0.40197, 0.02257)], abs=1e-5)
    assert np.degrees(bearing) == pytest.approx([0.0, -3.214], abs=1e-3)
