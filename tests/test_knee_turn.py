"""A knee that turns to clear a drum: the least turn, the map and its edges with it, and what sessions teach then."""

from dataclasses import replace

import numpy as np
import pytest
from footroom.analysis.fit import fit_of
from footroom.analysis.keep_clear import Cylinder, clearances
from footroom.analysis.knee_turn import clearing
from footroom.analysis.measured_fit import Measured, learn_person, predict_next
from footroom.analysis.placement import MODELLED, leg_map, rooms, toward_end_deg
from footroom.analysis.placement_doubt import rooms_plus_minus_deg, turn_sd_deg
from footroom.analysis.placement_edges import reach_stretch, spacing_stretch
from footroom.analysis.seated_leg import knee_circle, leg_pose, on_circle
from footroom.logger.models import SIDES, Participant
from test_placement import PERSON, SETUP, certain, drum, yardstick


def turn_deg(fit, side="right"):
    return float(np.degrees(fit.clearing(side).turn))


def test_a_larger_snare_demands_more_hip_abduction():
    """Common practice, no source: the knee has to turn outward, and the hip's room goes."""
    fits = [fit_of(PERSON, drum(snare_diameter_in=inches)) for inches in (10, 12, 14)]
    turns = [turn_deg(fit) for fit in fits]
    left = [rooms(fit, yardstick(), "right")["hip_horizontal_abduction"] for fit in fits]
    assert turns == sorted(turns) and turns[2] > turns[0]
    assert left == sorted(left, reverse=True) and left[2] < left[0]
    assert turn_deg(fit_of(PERSON, SETUP)) == 0.0


TALL = Participant(id="wigeon", stature_cm=172)


def close_snare(**changes):
    """A 14 in snare 40 cm ahead of the hips, rim at 70."""
    return fit_of(
        TALL,
        drum(reach_cm=44, snare_forward_cm=40, snare_rim_cm=70, **changes).model_copy(update={"shoe_heel_cm": 2.5}),
    )


def distance_m(fit, side, turns_deg, reach_cm=None, spacing_cm=None):
    """To the nearest thing at these turns of the knee."""
    leg = fit.legs[side]
    reach = leg.reach if reach_cm is None else reach_cm / 100
    gap = fit.spacing if spacing_cm is None else spacing_cm / 100
    pose = leg_pose(fit.body, fit.seat, leg.pedal, reach, gap, swivel=np.radians(turns_deg), hold=leg.hold)
    return np.minimum.reduce(
        [*np.broadcast_arrays(*clearances(pose, fit.body, fit.hip_height, side, fit.volumes).values())]
    )


@pytest.mark.parametrize(("side", "sign"), [("right", 1.0), ("left", 1.0), ("right", -1.0)])
def test_the_least_turn_that_clears_is_found_all_over_the_map(side, sign):
    """Against trying every tenth of a degree; outward for a snare between the knees, inward for a tom outside."""
    fit = close_snare()
    if sign < 0:
        fit = replace(fit, volumes=(Cylinder("the floor tom", 0.42, 0.46, 0.18, 0.2, 0.7),))
    reach, spacing = np.arange(36.0, 62.0, 4.0), np.arange(36.0, 66.0, 5.0)
    found = leg_map(fit, yardstick(), side, reach[:, None], spacing[None, :])
    tenths = np.arange(0.0, 30.05, 0.1)
    turned = 0
    for i, j in np.ndindex(found.turn.shape):
        free = distance_m(fit, side, sign * tenths, reach[i], spacing[j])
        least = float(tenths[np.argmax(free >= 0)]) if (free >= 0).any() else None
        if least is None:
            assert found.turn[i, j] == 0 and found.leeway[i, j] < 0
        elif least:
            turned += 1
            turn = sign * found.turn[i, j]
            assert distance_m(fit, side, sign * turn, reach[i], spacing[j]) >= 0 and turn > least - 0.11
            assert (free[tenths < turn - 0.3] < 0.0005).all(), "no lesser turn clears by more than half a millimetre"
            assert found.clearance[i, j] < 0.003
    assert turned >= 6


def test_a_turned_knee_worked_out_by_hand():
    """A level thigh of 60 cm straight ahead, the shank of 60 upright: the line from hip to ankle falls at 45 deg and is
    84.85 long, the knee sqrt(60^2 - 42.43^2) = 42.43 off its middle. Turned by t it is 30 + 30 cos t ahead, -30 + 30
    cos t up and 42.43 sin t outward. Limbs without thickness: it clears a post where that is as far from the thigh's
    line, seen from above, as the post is thick."""
    knee, ankle = (np.array(0.6), np.array(0.0), np.array(0.0)), (np.array(0.6), np.array(-0.6), np.array(0.0))
    for turn in (0.0, 10.0, 25.0):
        t = np.radians(turn)
        expected = (0.3 + 0.3 * np.cos(t), -0.3 + 0.3 * np.cos(t), 0.6 / np.sqrt(2) * np.sin(t))
        assert on_circle(knee_circle(knee, ankle), np.array(t)) == pytest.approx(expected, abs=1e-12)
    fit = fit_of(PERSON, SETUP)
    body = replace(fit.body, thigh=0.6, shank=0.6, thigh_radius=0.0, shank_radius=0.0, foot_half_breadth=0.0)
    pose = replace(fit.poses("right")["rest"], knee=knee, ankle=ankle, ball=(ankle[0] + 0.1, ankle[1], ankle[2]))
    post = Cylinder("post", 0.45, body.hip_width / 2 - 0.03, 0.05, 0.45, 0.65)  # 3 cm inward of the thigh, 5 thick
    t = float(clearing(pose, body, 0.6, "right", (post,)).turn)
    ahead, out = 0.3 + 0.3 * np.cos(t), 0.6 / np.sqrt(2) * np.sin(t)
    from_the_line = (0.45 * out + 0.03 * ahead) / np.hypot(ahead, out)
    assert from_the_line == pytest.approx(0.05, abs=0.001)
    assert np.degrees(t) == pytest.approx(np.degrees(np.arcsin(0.0268 / 0.4243)), abs=0.3), "2.68 cm out at the knee"


def test_the_map_turns_a_knee_that_a_drum_is_in_the_way_of():
    """An auditor's case: nothing on the map was clear nearer than 58 cm although turning the knee clears it."""
    fit, yard = close_snare(), yardstick(certain())
    found = reach_stretch(fit, yard, "right")
    assert found.low.cm < 43 and found.high.cm > 50 and found.holds_now
    assert found.low.limit == "ankle_dorsiflexion"
    assert found.low.turned_for == "the snare drum" and 10 < found.low.turned_deg < 20
    here = leg_map(fit, yard, "right", np.array([[44.0]]), np.array([[46.0]]))
    assert here.clear[0, 0] and here.turned_for(0, 0) == "the snare drum"
    assert here.turn[0, 0] == pytest.approx(turn_deg(fit))
    free = rooms(replace(fit, volumes=()), yard, "right")
    for motion, room in rooms(fit, yard, "right").items():
        assert here.room[motion][0, 0] == pytest.approx(room, abs=1e-9), "the map and the place agree"
        assert (room < free[motion]) == (
            motion in {"hip_horizontal_abduction", "hip_external_rotation", "ankle_dorsiflexion"}
        )


def test_the_drum_not_the_hip_is_the_limit_where_no_turn_within_the_hips_clear_range_clears_it():
    stiff = yardstick(certain(), hip_horizontal_abduction=32.0)
    place = np.array([[44.0]]), np.array([[46.0]])
    fit = close_snare()
    alone = leg_map(replace(fit, volumes=()), stiff, "right", *place)
    found = leg_map(fit, stiff, "right", *place)
    assert alone.clear[0, 0] and not found.clear[0, 0]
    assert found.what_limits(0, 0) == "the snare drum" and found.leeway[0, 0] < 0
    assert found.spare[0, 0] == pytest.approx(found.leeway[0, 0]), "how far the hip would be in its end zone"


def test_a_drum_no_turn_clears_is_the_limit_and_its_edge_is_that_far_unsure():
    fit, yard = fit_of(PERSON, drum(snare_diameter_in=24)), yardstick(certain(), hip_horizontal_abduction=80.0)
    line = np.linspace(30, 90, 61)
    found = leg_map(fit, yard, "left", np.array([[45.0]]), line[None, :])
    assert np.isnan(fit.clearing("left").turn) and fit.turn("left") == 0.0
    assert found.what_limits(0, 0) == "the snare drum" and not found.clear[0, 0]
    edge = spacing_stretch(fit, yard).low
    assert edge is None or (edge.limit == "the snare drum" and edge.plus_minus_cm > 1)


def test_an_edge_that_a_turned_knee_makes_knows_the_hip_and_the_drum_less_well_than_either():
    fit = close_snare()
    sure, unsure = (reach_stretch(fit, yardstick(certain(sd)), "right").high for sd in (0.01, 3.0))
    assert sure.limit == unsure.limit == "the snare drum" and sure.cm == pytest.approx(unsure.cm)
    alone = reach_stretch(replace(fit, volumes=()), yardstick(certain(0.01)), "right").high
    assert alone.plus_minus_cm < sure.plus_minus_cm < unsure.plus_minus_cm


def test_where_a_knee_turns_the_prediction_knows_less_and_says_so():
    """2 cm of doubt about the drum are some 4 deg of turn here: its interval is wider than without the drum."""
    fit = close_snare()
    learned = learn_person([evening_with(fit, turn_deg(fit), number) for number in range(3)])
    beside, clear_of_it = (
        predict_next(learned, evening_with(one, 0.0, 9))["right", "hip_external_rotation"]
        for one in (fit, replace(fit, volumes=()))
    )
    half = [(made.interval_deg[1] - made.interval_deg[0]) / 2 for made in (beside, clear_of_it)]
    drum_sd = turn_sd_deg(fit, "right")["hip_external_rotation"]
    assert 3 < drum_sd < 8 and half[0] > half[1]
    assert turn_sd_deg(replace(fit, volumes=()), "right")["hip_external_rotation"] == 0.0
    assert rooms_plus_minus_deg(fit, yardstick(certain()), "right")["hip_external_rotation"] > 1.96 * drum_sd


def evening_with(fit, knee_out_deg, number):
    """A measured set-up of somebody whose knees are this far out of the default pose, nothing else different."""
    plain = replace(fit, volumes=())
    angles = {}
    for side in SIDES:
        leg = replace(plain.legs[side], swivel=float(np.radians(knee_out_deg)))
        poses = replace(plain, legs={**plain.legs, side: leg}).poses(side)
        angles |= {(side, motion): float(toward_end_deg(poses, motion)) for motion in MODELLED}
    return Measured(f"evening {number}", f"{number}", fit, angles)


def test_a_turn_for_a_drum_is_not_learned_as_a_habit_and_comes_once():
    """Three evenings with the knee turned just past the snare: where it stands that is predicted, elsewhere nothing is
    added to the model."""
    fit = close_snare()
    turn = turn_deg(fit)
    learned = learn_person([evening_with(fit.moved("reach_cm", by), turn, by) for by in (-0.5, 0.0, 0.5)])
    abduction = learned.corrections["right", "hip_horizontal_abduction"]
    assert abs(abduction.offset_deg) < 0.5 and learned.habits["right"] == 0.0
    again = predict_next(learned, evening_with(fit, turn, 9))["right", "hip_horizontal_abduction"]
    assert again.predicted_deg == pytest.approx(again.measured_deg, abs=0.5)
    elsewhere = predict_next(learned, evening_with(replace(fit, volumes=()), 0.0, 9))["right", "hip_external_rotation"]
    assert elsewhere.predicted_deg == pytest.approx(elsewhere.measured_deg, abs=0.7)


def test_a_knee_that_is_out_by_habit_is_turned_for_a_drum_by_the_rest_only():
    fit = close_snare()
    turn = turn_deg(fit)
    free = [evening_with(replace(fit.moved("reach_cm", by), volumes=()), 10.0, by) for by in (-1.0, 0.0, 1.0)]
    learned = learn_person(free)
    habit = np.degrees(learned.habits["right"])
    assert 7 < habit < 10, "shrunk toward none"
    held = learned.applied(fit)
    assert turn_deg(held) == pytest.approx(turn - habit, abs=0.2)
    beside = predict_next(learned, evening_with(fit, turn, 9))["right", "hip_horizontal_abduction"]
    assert beside.predicted_deg == pytest.approx(beside.measured_deg, abs=1.0), "turned by the whole, not by more"
