"""Placement map, edges, keep-clear volumes, learning and suggestions."""

from dataclasses import replace

import numpy as np
import pytest
from footroom.analysis.fit import KNOBS, fit_of
from footroom.analysis.keep_clear import OTHER_LEG, Cylinder, clearances, volumes_of
from footroom.analysis.known_ends import known_ends
from footroom.analysis.learning import Correction, Observation, learn, log_evidence, predict, score
from footroom.analysis.measured_fit import Measured, learn_person, predict_next, predicted_before, score_of
from footroom.analysis.motions import MOTION
from footroom.analysis.next_step import STEPS, NoSuggestion, State, Suggestion, suggest
from footroom.analysis.placement import (
    MODELLED,
    OUT_OF_REACH,
    Yardstick,
    leg_map,
    placement_map,
    rooms,
    toward_end_deg,
)
from footroom.analysis.placement_doubt import geometry_sd_deg
from footroom.analysis.placement_edges import reach_stretch, sensitivity, spacing_stretch
from footroom.logger.errors import InputError
from footroom.logger.models import SIDES, Clip, FootPlace, KeepClear, Participant, Phase, Session, Setup
from footroom.logger.person_notes import PersonNotes

PERSON = Participant(id="dunnock", stature_cm=175, thigh_length_cm=43, shank_length_cm=42.5)
SETUP = Setup(
    name="a", throne_height_cm=50, reach_cm=45, spacing_cm=46, footboard_pitch_deg=20, foot_splay_deg=14, shoe_heel_cm=2
)
ROOMY = {
    "ankle_dorsiflexion": 25.0, "ankle_plantarflexion": 55.0, "hip_flexion": 115.0, "hip_horizontal_abduction": 45.0,
    "hip_internal_rotation": 40.0, "hip_external_rotation": 45.0,
}  # fmt: skip


def yardstick(corrections=None, **ends):
    return Yardstick({(s, m): {**ROOMY, **ends}[m] for s in SIDES for m in MODELLED}, corrections=corrections or {})


def certain(sd=0.5):
    """Corrections of somebody measured so often that little is left open."""
    return {
        (s, m): Correction(covariance=((sd**2, 0.0), (0.0, 0.02**2)), observations=20, posture_sd=1.0)
        for s in SIDES
        for m in MODELLED
    }


# The map --------------------------------------------------------------------------------------------------------


def test_the_map_says_what_the_leg_alone_says_at_every_place():
    fit, yard = fit_of(PERSON, SETUP), yardstick()
    whole = placement_map(fit, yard, reach_cm=np.array([40.0, 45.0, 49.0]), spacing_cm=np.array([40.0, 46.0]))
    here = rooms(fit, yard, "left")
    for motion, room in here.items():
        assert whole.legs["left"].room[motion][1, 1] == pytest.approx(room, abs=1e-9), motion
    spare = {motion: room - MOTION[motion].zone_deg for motion, room in here.items()}
    tightest = min(spare, key=lambda motion: spare[motion])
    assert whole.legs["left"].spare[1, 1] == pytest.approx(spare[tightest])
    assert whole.legs["left"].smallest[1, 1] == pytest.approx(min(here.values()))
    assert whole.legs["left"].what_limits(1, 1) == tightest
    assert whole.clear.shape == (3, 2)


def test_cutting_the_map_into_strips_changes_nothing():
    fit, yard = fit_of(PERSON, SETUP), yardstick()
    reach, spacing = np.linspace(20, 90, 130), np.linspace(15, 110, 140)
    cut, whole = (
        placement_map(fit, yard, reach_cm=reach, spacing_cm=spacing).legs["right"],
        leg_map(fit, yard, "right", reach[:, None], spacing[None, :]),
    )
    np.testing.assert_array_equal(cut.spare, whole.spare)
    np.testing.assert_array_equal(cut.limit, whole.limit)
    assert np.isnan(cut.spare[-1]).all() and cut.what_limits(129, 0) == OUT_OF_REACH
    assert not cut.clear[-1].any()


def test_a_shorter_reach_leaves_less_dorsiflexion_and_the_other_end_more():
    """Common practice, no source."""
    line = leg_map(fit_of(PERSON, SETUP), yardstick(), "right", np.linspace(36, 52, 9)[:, None], np.array([[46.0]]))
    assert np.all(np.diff(line.room["ankle_dorsiflexion"][:, 0]) > 0)
    assert np.all(np.diff(line.room["ankle_plantarflexion"][:, 0]) < 0)


def test_the_stroke_decides_each_end_by_its_own_tightest_moment():
    poses = fit_of(PERSON, SETUP).poses("right")
    ankle = {name: np.degrees(pose.ankle_dorsiflexion) for name, pose in poses.items()}
    assert toward_end_deg(poses, "ankle_dorsiflexion") == pytest.approx(ankle["rest"])
    assert toward_end_deg(poses, "ankle_plantarflexion") == pytest.approx(-ankle["contact"])


def test_a_map_without_any_end_is_refused():
    with pytest.raises(ValueError, match="no end of the left leg is known"):
        leg_map(fit_of(PERSON, SETUP), Yardstick({}), "left", np.array([[45.0]]), np.array([[46.0]]))


# Edges and knobs ------------------------------------------------------------------------------------------------


def test_nearest_reach_is_where_the_ankle_meets_its_end_zone():
    fit, yard = fit_of(PERSON, SETUP), yardstick(certain(), ankle_dorsiflexion=20.0)
    found = reach_stretch(fit, yard, "right")
    assert found.low is not None and found.low.limit == "ankle_dorsiflexion" and found.low.side == "right"
    at_edge = rooms(fit.moved("reach_cm", found.low.cm - 45.0), yard, "right")
    assert at_edge["ankle_dorsiflexion"] == pytest.approx(5.0, abs=0.05), "the width of the end zone"
    assert 1.5 < found.low.plus_minus_cm < 3.0, "0.5 deg at about 1.3 deg per cm, and a tape of 0.8 cm: 1.96 * 0.9"
    assert found.low.cm < 45 < found.high.cm or not found.holds_now


def test_an_edge_is_less_sure_for_somebody_never_measured():
    fit = fit_of(PERSON, SETUP)
    known = reach_stretch(fit, yardstick(certain(), ankle_dorsiflexion=20.0), "right").low
    guessed = reach_stretch(fit, yardstick(ankle_dorsiflexion=20.0), "right").low
    assert guessed.cm == pytest.approx(known.cm)
    assert guessed.plus_minus_cm > 2 * known.plus_minus_cm


def test_widest_spacing_is_where_a_hip_meets_its_end_zone_and_no_place_is_said_with_the_reason():
    fit = fit_of(PERSON, SETUP)
    wide = spacing_stretch(fit, yardstick(certain(), hip_horizontal_abduction=34.0))
    assert wide.high.limit == "hip_horizontal_abduction" and wide.high.cm > 46
    none = spacing_stretch(fit, yardstick(ankle_dorsiflexion=2.0))
    assert none.low is None and not none.holds_now
    assert "ankle dorsiflexion" in none.reason and "nowhere within 25 cm" in none.reason


def test_sensitivity_follows_the_knobs_of_the_trade():
    """Our own planar arithmetic: reach +1 cm about 1.3 deg of dorsiflexion room, throne +1 cm 1.3 deg of hip flexion,
    pitch +1 deg costs 1 deg; throne and ankle, reach and hip nearly independent."""
    effect = sensitivity(fit_of(PERSON, SETUP), yardstick())
    assert set(effect) == set(KNOBS)
    right = {knob: by_side["right"] for knob, by_side in effect.items()}
    assert right["reach_cm"]["ankle_dorsiflexion"] == pytest.approx(1.4, abs=0.2)
    assert right["throne_height_cm"]["hip_flexion"] == pytest.approx(1.35, abs=0.2)
    assert right["footboard_pitch_deg"]["ankle_dorsiflexion"] == pytest.approx(-1.0, abs=0.1)
    assert right["spacing_cm"]["hip_horizontal_abduction"] < -0.5
    assert abs(right["reach_cm"]["hip_flexion"]) < 0.3
    assert right["shoe_drop_mm"]["ankle_dorsiflexion"] == pytest.approx(0.3, abs=0.1)
    assert right["reach_cm"]["ankle_plantarflexion"] == pytest.approx(-right["reach_cm"]["ankle_dorsiflexion"], abs=0.1)


def test_one_foot_moves_alone_and_an_unknown_knob_is_refused():
    fit = fit_of(PERSON, SETUP)
    moved = fit.moved("reach_cm", 3.0, ("left",))
    assert moved.legs["left"].reach == pytest.approx(0.48) and moved.legs["right"].reach == pytest.approx(0.45)
    with pytest.raises(ValueError, match="'colour' is no knob"):
        fit.moved("colour", 1.0)


def test_lengths_from_stature_are_less_sure_than_measured_ones():
    measured = geometry_sd_deg(fit_of(PERSON, SETUP), "right")
    guessed = geometry_sd_deg(fit_of(Participant(id="p", stature_cm=175), SETUP), "right")
    assert all(0 < measured[motion] < guessed[motion] for motion in ("ankle_dorsiflexion", "hip_flexion"))


# Geometry -------------------------------------------------------------------------------------------------------


def test_each_foot_has_its_own_place_and_what_is_assumed_is_named():
    setup = SETUP.model_copy(update={"left": FootPlace(reach_cm=49, footboard_pitch_deg=16)})
    fit = fit_of(PERSON, setup)
    assert fit.legs["left"].reach == pytest.approx(0.49) and fit.legs["right"].reach == pytest.approx(0.45)
    assert np.degrees(fit.legs["left"].pedal.pitch) == pytest.approx(16)
    assert fit.assumed == ("heel on the floor", "shoe without drop")


@pytest.mark.parametrize(("footwear", "sole_cm"), [("Socks", 0.0), ("barefoot", 0.0), ("thin-soled shoes", 2.5)])
def test_no_sole_is_assumed_under_socks(footwear, sole_cm):
    fit = fit_of(PERSON, SETUP.model_copy(update={"shoe_heel_cm": None, "footwear": footwear}))
    assert fit.legs["right"].pedal.sole == pytest.approx(sole_cm / 100)
    assert any("sole" in one for one in fit.assumed) == (sole_cm > 0)


def test_an_unloaded_seat_less_what_it_gives_is_the_loaded_height():
    loose = SETUP.model_copy(update={"throne_height_cm": None, "seat_unloaded_cm": 54.0, "seat_compression_cm": 4.0})
    assert loose.seat_height_cm == 50
    assert rooms(fit_of(PERSON, loose), yardstick(), "right") == rooms(fit_of(PERSON, SETUP), yardstick(), "right")


def test_missing_geometry_and_a_pedal_out_of_reach_are_refused_with_the_way_out():
    with pytest.raises(InputError, match="'a' has no throne_height_cm, no reach_cm \\(left\\)"):
        fit_of(PERSON, Setup(name="a", spacing_cm=40, right=FootPlace(reach_cm=40)))
    with pytest.raises(InputError, match="the right leg .* cannot sit 50 cm high with its foot 95 cm ahead"):
        fit_of(PERSON, SETUP.model_copy(update={"reach_cm": 95.0}))


# Keeping clear --------------------------------------------------------------------------------------------------


def drum(**changes):
    snare = {"snare_diameter_in": 14, "snare_forward_cm": 48, "snare_rim_cm": 66}
    return SETUP.model_copy(update={**snare, **changes})


def test_distance_to_a_drum_worked_out_by_hand():
    """A level thigh 43 cm long, 20 cm outward of the middle; a drum of radius 10 centred 43 ahead on the middle line is
    20 - 10 - the thigh's thickness at the knee (0.7 * 8) away = 4.4 cm."""
    fit = fit_of(PERSON, SETUP)
    body = replace(fit.body, thigh=0.43, shank=0.43, hip_width=0.40, thigh_radius=0.08, shank_radius=0.0)
    body = replace(body, foot_half_breadth=0.0)
    zero, one = np.zeros(1), np.ones(1)
    pose = replace(
        fit.poses("right")["rest"], knee=(0.43 * one, zero, zero), ankle=(0.43 * one, -0.43 * one, zero),
        ball=(0.5 * one, -0.5 * one, zero),
    )  # fmt: skip
    near = Cylinder("drum", 0.43, 0.0, 0.10, 0.45, 0.60)
    for side in SIDES:
        assert clearances(pose, body, 0.5, side, (near,))["drum"] == pytest.approx(0.044, abs=1e-9)
    high = replace(near, bottom=0.60, top=0.7)
    assert np.isinf(clearances(pose, body, 0.5, "right", (high,))["drum"])
    to_the_right = replace(near, right=0.4)
    assert clearances(pose, body, 0.5, "right", (to_the_right,))["drum"] == pytest.approx(0.044, abs=1e-9)
    assert clearances(pose, body, 0.5, "left", (to_the_right,))["drum"] > 0.4
    assert clearances(pose, body, 0.5, "left", ())[OTHER_LEG] == pytest.approx(0.20)


def test_only_what_is_fully_known_is_kept_clear_of():
    assert volumes_of(SETUP) == ()
    tom = KeepClear(name="floor tom", forward_cm=40, right_cm=55, diameter_cm=40, bottom_cm=20, top_cm=66)
    stood = drum(stand_spread_cm=36, keep_clear=[tom])
    assert [v.name for v in volumes_of(stood)] == ["the snare drum", "the snare stand", "floor tom"]
    assert volumes_of(drum(snare_rim_cm=None)) == ()


def test_legs_held_together_are_in_each_others_way():
    found = leg_map(fit_of(PERSON, SETUP), yardstick(), "right", np.array([[45.0]]), np.array([[14.0, 46.0]]))
    assert found.what_limits(0, 0) == OTHER_LEG and found.clearance[0, 1] > 0


# Learning -------------------------------------------------------------------------------------------------------


def test_nothing_measured_leaves_the_model_alone():
    assert learn([]).angle_deg(12.0) == 12.0
    assert learn([]).sd_deg(12.0) == pytest.approx(5.0)


def test_one_session_is_shrunk_as_bayes_rule_says():
    """Prior SD 5, posture 2, wearing 1.5: of 8 deg seen once, 25 / (25 + 4 + 2.25) = 0.8 are kept; the variance left is
    1 / (1 / 25 + 1 / 6.25)."""
    once = learn([Observation("s", 10.0, 18.0)])
    assert once.offset_deg == pytest.approx(0.8 * 8)
    assert once.sd_deg(10.0) == pytest.approx(np.sqrt(1 / (1 / 25 + 1 / 6.25)))
    assert once.gain == 0


def test_many_sessions_find_offset_and_gain_and_little_data_stays_near_the_model():
    rng = np.random.default_rng(2)
    model = rng.uniform(0, 30, 40)
    seen = [Observation(f"{i}", m, 6 + 1.2 * m + rng.normal(0, 1)) for i, m in enumerate(model)]
    many, few = learn(seen), learn(seen[:2])
    assert many.angle_deg(20.0) == pytest.approx(30.0, abs=1.0)
    assert many.gain == pytest.approx(0.2, abs=0.05)
    assert abs(few.gain) < abs(many.gain)
    assert many.sd_deg(15.0) < few.sd_deg(15.0) < learn([]).sd_deg(15.0)


def test_set_ups_of_one_wearing_teach_less_about_the_offset_than_as_many_wearings():
    one = learn([Observation("s", m, m + 4) for m in (8.0, 10.0, 12.0)])
    three = learn([Observation(f"{m}", m, m + 4) for m in (8.0, 10.0, 12.0)])
    assert three.sd_deg(10.0) < one.sd_deg(10.0)


def test_a_person_who_varies_more_gets_wider_intervals():
    rng = np.random.default_rng(4)
    steady, lively = (
        learn([Observation(f"{i}", 10.0 + i, 10.0 + i + rng.normal(0, sd)) for i in range(12)]) for sd in (1.0, 8.0)
    )
    assert lively.posture_sd > 4 > 2 > steady.posture_sd
    assert lively.sd_deg(12.0, measured=True) > 2 * steady.sd_deg(12.0, measured=True)


def test_evidence_is_the_normal_density_and_unknown_values_are_refused():
    """One observation 3 deg off: normal with variance 4 + 2.25 + 25."""
    from scipy.stats import norm

    assert log_evidence([Observation("s", 5.0, 8.0)]) == pytest.approx(norm(0, np.sqrt(31.25)).logpdf(3.0))
    with pytest.raises(ValueError, match="must be finite"):
        learn([Observation("s", np.nan, 8.0)])


def test_the_score_counts_errors_and_what_the_intervals_held():
    known = Correction(offset_deg=2.0, covariance=((0.0, 0.0), (0.0, 0.0)), posture_sd=3.0, wearing_sd=4.0)
    hit, miss = predict(known, "a", 10.0, 15.0), predict(known, "b", 10.0, 25.0)
    assert hit.interval_deg == pytest.approx((12 - 1.645 * 5, 12 + 1.645 * 5))
    assert (hit.held, miss.held) == (True, False)
    found = score([hit, miss])
    assert found.rmse_deg == pytest.approx(np.sqrt((3**2 + 13**2) / 2))
    assert found.model_rmse_deg == pytest.approx(np.sqrt((5**2 + 15**2) / 2))
    assert found.share_held == 0.5
    assert score([]).rmse_deg is None


def measured_evenings(hold="upright", offset=4.0, places=(42, 45, 48, 50)):
    evenings = []
    for i, reach in enumerate(places):
        fit = fit_of(PERSON, SETUP.model_copy(update={"reach_cm": float(reach), "spacing_cm": 44.0 + 3 * i}))
        angles = {
            (s, m): float(toward_end_deg(fit.held(s, hold).poses(s), m)) + (offset if m.startswith("ankle_d") else 0.0)
            for s in SIDES
            for m in MODELLED
        }
        evenings.append(Measured(f"evening {i}", f"{i}", fit, angles))
    return evenings


def test_measured_evenings_correct_the_model_and_the_score_shows_it():
    evenings = measured_evenings()
    learned = learn_person(evenings[:3])
    expected = predict_next(learned, evenings[3])["right", "ankle_dorsiflexion"]
    assert abs(expected.predicted_deg - expected.measured_deg) < 0.6
    assert expected.model_deg == pytest.approx(expected.measured_deg - 4.0)
    found = score_of(predicted_before(evenings))
    assert found.rmse_deg < 0.6 * found.model_rmse_deg
    assert len(found.predictions) == 3 * 12
    assert score_of(predicted_before(evenings[:1])).rmse_deg is None
    assert learn_person([]).corrections == {}


@pytest.mark.parametrize("hold", ["upright", "one plane"])
def test_how_the_leg_is_held_is_seen_in_the_hips(hold):
    learned = learn_person(measured_evenings(hold, offset=0.0, places=(36, 44, 52)))
    assert set(learned.holds.values()) == {hold}
    assert learned.applied(fit_of(PERSON, SETUP)).legs["left"].hold == hold


# What to try next -----------------------------------------------------------------------------------------------


def state(**changes):
    return State(**{"throne_settled": True, **changes})


def tight_ankle(side="right", room=2.0):
    """Ends such that one ankle has `room` left at rest [deg], everything else plenty."""
    fit = fit_of(PERSON, SETUP)
    yard = yardstick(certain())
    end = ROOMY["ankle_dorsiflexion"] - rooms(fit, yard, side)["ankle_dorsiflexion"] + room
    return fit, replace(yard, ends={**yard.ends, (side, "ankle_dorsiflexion"): end})


def test_a_tight_ankle_gets_one_small_step_of_its_own_pedal_with_what_it_costs():
    fit, yard = tight_ankle()
    found = suggest(fit, yard, state())
    assert isinstance(found, Suggestion)
    assert (found.knob, found.sides) in {("reach_cm", ("right",)), ("footboard_pitch_deg", ("right",))}
    assert abs(found.by) in STEPS[found.knob] and found.chance > 0.9
    assert (found.by > 0) == (found.knob == "reach_cm"), "farther, or flatter"
    assert found.helps.motion == "ankle_dorsiflexion" and found.helps.side == "right"
    low, high = found.helps.interval_deg
    assert low < found.helps.change_deg < high and found.helps.change_deg > 2
    assert found.helps.room_now_deg == pytest.approx(2.0, abs=0.2)
    assert found.others[0].motion == "ankle_plantarflexion", "the other end of the same joint pays"
    assert found.others[0].change_deg == pytest.approx(-found.helps.change_deg, abs=0.5)
    untouched = [e for e in found.others if e.side == "left"]
    assert len(untouched) == 6 and all(abs(e.change_deg) < 0.3 for e in untouched)


def test_the_same_question_gets_the_same_answer():
    fit, yard = tight_ankle()
    assert suggest(fit, yard, state()) == suggest(fit, yard, state())


def test_what_was_measured_goes_before_what_the_model_says():
    fit, yard = tight_ankle(room=2.0)
    fine = state(measured={("right", "ankle_dorsiflexion"): 16.0})
    unsure = {key: replace(c, posture_sd=6.0) for key, c in yard.corrections.items()}
    found = suggest(fit, replace(yard, corrections=unsure), fine)
    assert isinstance(found, NoSuggestion) and "every joint keeps clear" in found.reason


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"throne_settled": False}, "throne height is not marked as settled"),
        ({"sources": {("right", "ankle_dorsiflexion"): "norm"}}, "right ankle dorsiflexion is a published norm"),
    ],
)
def test_no_suggestion_comes_with_its_reason(changes, reason):
    fit, yard = tight_ankle()
    found = suggest(fit, yard, state(**changes))
    assert isinstance(found, NoSuggestion) and reason in found.reason


def test_no_suggestion_where_all_is_well_or_nothing_is_known():
    fit = fit_of(PERSON, SETUP)
    fine = suggest(fit, yardstick(certain()), state())
    assert (
        isinstance(fine, NoSuggestion) and "every joint keeps clear of its end zone for at least half of" in fine.reason
    )
    untaught = {joint: replace(one, observations=0) for joint, one in certain().items()}
    fine = suggest(fit, yardstick(untaught), state())
    assert isinstance(fine, NoSuggestion) and "every joint keeps clear of its end zone; nearest" in fine.reason
    blind = suggest(fit, Yardstick({}), state())
    assert isinstance(blind, NoSuggestion) and "measure the range first" in blind.reason


def test_no_suggestion_when_the_person_varies_more_than_a_step_does():
    fit, yard = tight_ankle()
    vague = {key: replace(c, posture_sd=9.0) for key, c in yard.corrections.items()}
    found = suggest(fit, replace(yard, corrections=vague), state())
    assert isinstance(found, NoSuggestion) and "no single step" in found.reason


def test_no_step_pushes_another_joint_into_its_end_zone():
    """Dorsiflexion 3 deg, plantarflexion 6 deg: what helps one end by 4 takes the other below 5."""
    fit, yard = tight_ankle(room=3.0)
    here = rooms(fit, yard, "right")["ankle_plantarflexion"]
    ends = {**yard.ends, ("right", "ankle_plantarflexion"): ROOMY["ankle_plantarflexion"] - here + 6.0}
    found = suggest(fit, replace(yard, ends=ends), state())
    assert isinstance(found, NoSuggestion) and "without taking it from another joint" in found.reason


def test_a_drum_in_the_way_of_the_step_is_named():
    """Abduction is tight and narrower would help, but there stands the drum."""
    fit = fit_of(PERSON, drum(snare_forward_cm=52, snare_diameter_in=13, snare_rim_cm=62))
    yard = yardstick(certain())
    left = rooms(fit, yard, "right")["hip_horizontal_abduction"]
    ends = {(s, "hip_horizontal_abduction"): ROOMY["hip_horizontal_abduction"] - left + 6 for s in SIDES}
    free, blocked = (
        suggest(f, replace(yard, ends={**yard.ends, **ends}), state()) for f in (replace(fit, volumes=()), fit)
    )
    assert isinstance(free, Suggestion) and free.knob == "spacing_cm" and free.by < 0
    assert isinstance(blocked, NoSuggestion) and "the snare drum, not the joint, is the limit" in blocked.reason


def test_the_hips_bend_asks_for_a_higher_throne():
    fit, yard = fit_of(PERSON, SETUP), yardstick(certain())
    bend = {(s, "hip_flexion"): ROOMY["hip_flexion"] - rooms(fit, yard, s)["hip_flexion"] + 2.0 for s in SIDES}
    found = suggest(fit, replace(yard, ends={**yard.ends, **bend}), state())
    assert isinstance(found, Suggestion) and found.knob == "throne_height_cm" and found.by > 0


def test_a_range_check_recorded_without_playing_gives_the_ends():
    session = Session(
        id="p-1", participant=PERSON, recorded_at="2026-11-20T18:30:00Z", setups=[SETUP],
        clips=[Clip(segment="foot", side="right", file="f")], phases=[Phase(name="still", start_s=0, end_s=1)],
    )  # fmt: skip
    ranges = {"right": {"ankle_dorsiflexion": {"value_deg": 17.0, "source": "this session"}}}
    ranges["right"]["hip_flexion"] = {"value_deg": 99.0, "source": "earlier session"}
    exposures = {
        "p-1": {
            "setups": {SETUP.name: {}},
            "ranges": ranges | {"both": {"hip_spread": ranges["right"]["ankle_dorsiflexion"]}},
        }
    }
    fit = fit_of(PERSON, SETUP)
    ends = known_ends([session], exposures, PersonNotes(participant="p"), fit, SETUP)
    drop = np.degrees(fit.legs["right"].pedal.drop_angle(fit.body))
    assert ends["right", "ankle_dorsiflexion"].source == "range check"
    assert ends["right", "ankle_dorsiflexion"].deg == pytest.approx(17.0 - drop)
    assert ends["left", "hip_horizontal_abduction"].deg == 8.5  # half the spread of both
    assert ends["right", "hip_flexion"].source == "norm"
