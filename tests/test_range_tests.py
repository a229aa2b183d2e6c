"""Recorded range checks and ranges typed by hand on one sheet: repetitions, methods, heights, what is not valid."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from footroom.analysis.fitting_reports import range_report
from footroom.analysis.range_sheet import end_of_typed, summary_of
from footroom.analysis.range_table import print_range_sheet
from footroom.analysis.range_tests import by_hand, range_tests
from footroom.analysis.range_validity import knee_sentence, straight_knee_spans
from footroom.logger.errors import InputError
from footroom.logger.models import Clip, Participant, Phase, Session, Setup
from footroom.logger.person_notes import NotedRange, NotedSetup, PersonNotes

START = datetime(2026, 11, 3, 18, 30, tzinfo=UTC)
HELD = [13.0, 15.0, 16.0, 17.0, 16.6]


def session(number=0, height=50.0, **more):
    return Session(
        id=f"siskin-{number}", participant=Participant(id="siskin"), recorded_at=START + timedelta(days=7 * number),
        setups=[Setup(name="near", throne_height_cm=height, footwear="socks")],
        clips=[Clip(segment="foot", side="right", file="f")],
        phases=[Phase(name="playing", start_s=0, end_s=60)], **more,
    )  # fmt: skip


def exposure(held, invalid=(), source="this session", side="right", motion="ankle_dorsiflexion", **more):
    repetitions = [
        {
            "start_s": 10.0 * i, "end_s": 10.0 * i + 5, "held_deg": value, "peak_deg": value + 1, "held": True,
            "invalid": i in invalid, "practice": False, "used": False,
        }
        for i, value in enumerate(held)
    ]  # fmt: skip
    end = {"value_deg": 16.0, "source": source, "repetitions": repetitions, "messages": []}
    return {"ranges": {side: {motion: end}}, **more}


def noted(values, days=3, height=None, **more):
    return NotedRange(
        recorded_at=START + timedelta(days=days), side="right", motion="ankle_dorsiflexion",
        repetitions_deg=values, throne_height_cm=height, **more,
    )  # fmt: skip


def test_a_recorded_check_shows_every_repetition_practice_ones_marked():
    [test] = range_tests([session()], {"siskin-0": exposure(HELD)}, [])
    assert [one.practice for one in test.repetitions] == [True, True, False, False, False]
    assert test.kept_deg == (16.0, 17.0, 16.6) and (test.how, test.footwear) == ("clips", "socks")
    found = summary_of(test)
    assert found.end_deg == pytest.approx((16 + 17 + 16.6) / 3)
    assert found.growth_deg == pytest.approx(3.6) and found.plateau


@pytest.mark.parametrize(
    ("method", "end"), [("mean_of_last_three", (16 + 17 + 16.6) / 3), ("median", 16.6), ("best_of_n", 17.0)]
)
def test_the_end_is_formed_as_asked_from_recorded_and_from_typed_ones(method, end):
    [recorded] = range_tests([session()], {"siskin-0": exposure(HELD)}, [], method=method)
    assert summary_of(recorded, method).end_deg == pytest.approx(end)
    assert end_of_typed(HELD[2:], method) == pytest.approx(end)
    with pytest.raises(InputError, match="'longest' is no way to form an active end; use one of mean_of_last_three"):
        end_of_typed(HELD, "longest")  # type: ignore[arg-type]


def test_what_is_not_from_this_sessions_own_check_is_no_measurement():
    for source in ("norm", "earlier session"):
        assert range_tests([session()], {"siskin-0": exposure(HELD, source=source)}, []) == []


def test_invalid_repetitions_are_shown_and_do_not_count():
    [test] = range_tests([session()], {"siskin-0": exposure([15.0, 4.0, 15.5, 16.0], invalid=[1])}, [])
    found = summary_of(test)
    assert found.end_deg == pytest.approx(15.75) and 4.0 not in found.repetitions_deg
    assert "1 of 4 repetitions were not valid and do not count" in found.messages


def test_a_range_typed_at_import_counts_unless_the_same_motion_was_recorded():
    typed = {"right": {"ankle_dorsiflexion": 12.0, "hip_flexion": 105.0}}
    found = range_tests([session(typed_range_deg=typed)], {"siskin-0": exposure(HELD)}, [])
    assert {(one.motion, one.how) for one in found} == {
        ("ankle_dorsiflexion", "clips"), ("hip_flexion", "typed at import"),
    }  # fmt: skip


def sheet(notes=(), setups=(), **given):
    people = PersonNotes(participant="siskin", ranges=list(notes), setups=list(setups))
    return range_report("siskin", [session()], {"siskin-0": exposure(HELD, **given)}, people)


def test_the_sheet_shows_the_latest_with_what_was_before_by_whatever_means():
    found = sheet([noted([14, 15, 15.5], instrument="phone")])
    [row] = found["ranges"]
    assert (row["how"], row["end_deg"]) == ("phone", 14.8)
    assert row["repetitions"][0]["peak_deg"] is None
    [before] = row["history"]
    assert (before["how"], before["session"], before["end_deg"]) == ("clips", "siskin-0", 16.5)


def test_a_throne_more_than_a_centimetre_away_makes_it_another_height():
    moved = NotedSetup(recorded_at=START + timedelta(days=1), setup=Setup(name="near", throne_height_cm=52))
    assert sheet(setups=[moved])["ranges"][0]["other_height"] is True
    near = NotedSetup(recorded_at=START + timedelta(days=1), setup=Setup(name="near", throne_height_cm=51))
    assert sheet(setups=[near])["ranges"][0]["other_height"] is False
    unknown = sheet([noted([14, 15, 15.5])], setups=[moved])
    assert unknown["ranges"][0]["other_height"] is False, "not known where"


def test_the_lift_test_and_the_slide_stand_on_the_sheet_and_in_words(capsys):
    figures = {"lift_test": {"lifts_deg": [1.0, 1.4, 1.2], "gained_deg": 1.2, "lifted": False,
                             "band_gained_deg": [0.0, 3.24]}, "room_at_rest": None}  # fmt: skip
    slide = {
        "repetitions": [{"tilted": True}, {"tilted": False}], "widest_cm": 61.2, "widest_spread_deg": 48.0,
        "narrowest_cm": 18.0, "plus_minus_cm": 6.2, "reason": None, "messages": [],
    }  # fmt: skip
    found = sheet(playing={"near": {"right": figures}}, slide=slide)
    assert found["on_the_pedal"][0]["lifted_deg"] == 1.2
    print_range_sheet(found)
    said = capsys.readouterr().out
    assert (
        "On the pedal, near, right foot (siskin-0): the foot can be lifted 1.2 deg (95 %: 0.0 to 3.2), hardly lifted."
        in said
    )
    assert "ball to ball 18 to 61 +- 6 cm, legs 48 deg apart at the widest; 1 of 2 with a shank tilted" in said
    assert "repetitions (13.0), (15.0), 16.0, 17.0, 16.6" in said and "without a clinician" in said


def test_typed_values_are_kept_as_repetitions_of_which_the_last_three_count():
    assert [one.used for one in by_hand([1, 2, 3, 4])] == [False, True, True, True]


# Was it the test it is meant to be? --------------------------------------------------------------------------------

TIME = np.arange(0, 20, 0.01)


def test_a_straight_knee_is_found_where_it_lasts_and_only_within_the_test():
    """Baumbach et al. 2014, BMC Musculoskelet Disord 15:246: 20 deg of knee flexion take the calf's limit away."""
    knee = np.where((TIME > 5) & (TIME < 8), 12.0, 88.0)
    knee[(TIME > 15) & (TIME < 15.2)] = 10.0  # too short
    [span] = straight_knee_spans(TIME, knee, [(0.0, 18.0)])
    assert span == pytest.approx((5.0, 8.0), abs=0.03)
    assert straight_knee_spans(TIME, knee, [(9.0, 18.0)]) == []
    assert straight_knee_spans(TIME, np.full(TIME.size, np.nan), [(0.0, 18.0)]) == []


def test_what_the_knee_did_is_said():
    knee = np.full(TIME.size, 40.0)
    whole = [slice(0, TIME.size)]
    assert "straighter than 20 deg" in knee_sentence("ankle_dorsiflexion", knee, whole, [(1.0, 2.0)])
    assert knee_sentence("ankle_dorsiflexion", knee, whole, []) == ""
    assert "stood at 40 deg instead of about 90" in knee_sentence("hip_internal_rotation", knee, whole, [])
    assert knee_sentence("hip_internal_rotation", knee + 48, whole, []) == ""
    assert knee_sentence("hip_internal_rotation", np.full(TIME.size, np.nan), whole, []) == ""
