"""Cycles of movement of one set-up against another: a ratio within one wearing, with its words."""

import pytest
from footroom.analysis.beside import beside
from footroom.analysis.cycle_ratio import cycle_ratio, with_cycle_ratios
from footroom.analysis.cycles import RATIO_WORDS
from footroom.analysis.setups import Variant
from footroom.logger.models import Setup

NEAR, FAR = Setup(name="near"), Setup(name="far")


def variant(setup, *sessions):
    return Variant(setup.name, setup.name, tuple((session, setup) for session in sessions))


def exposure(**damage):
    """{set-up: {side: {motion: figures}}} with damage {set-up: {exponent: sum}}"""
    return {
        "setups": {
            name: {"right": {"ankle_dorsiflexion": {"relative_cycle_damage": {"exponent": 5, "per_minute": sums}}}}
            for name, sums in damage.items()
        }
    }


def sums(low, middle, high):
    return {"3": low, "5": middle, "9": high}


def test_ratio_by_hand():
    """2 and 8 times as much in two sessions: 4 as a geometric mean; a session with one set-up only does not count."""
    exposures = {
        "s1": exposure(near=sums(10.0, 10.0, 10.0), far=sums(15.0, 20.0, 30.0)),
        "s2": exposure(near=sums(10.0, 10.0, 10.0), far=sums(15.0, 80.0, 120.0)),
        "s3": exposure(near=sums(10.0, 10.0, 10.0)),
    }
    a, b = variant(NEAR, "s1", "s2", "s3"), variant(FAR, "s1", "s2")
    found = cycle_ratio(a, b, "right", "ankle_dorsiflexion", exposures)
    assert found["sessions"] == 2
    assert found["by_exponent"] == pytest.approx({"3": 1.5, "5": 4.0, "9": 6.0})
    assert "add up to 4.0 times as much on ‘far’ as on ‘near’" in found["sentence"]
    assert "1.5 to 6.0 times for powers from 3 to 9" in found["sentence"]
    assert "session by session 2.0 to 8.0" in found["sentence"]
    assert "not tested" in found["sentence"]
    assert found["sentence"].endswith(RATIO_WORDS)
    back = cycle_ratio(b, a, "right", "ankle_dorsiflexion", exposures)
    assert back["by_exponent"]["5"] == pytest.approx(0.25)


def test_a_ratio_that_changes_sides_or_is_near_one_says_nothing():
    for ratio in (sums(0.9, 1.3, 2.0), sums(1.01, 1.05, 1.09)):
        exposures = {"s1": exposure(near=sums(1.0, 1.0, 1.0), far=ratio)}
        found = cycle_ratio(variant(NEAR, "s1"), variant(FAR, "s1"), "right", "ankle_dorsiflexion", exposures)
        assert "no clearly different amount" in found["sentence"]


@pytest.mark.parametrize(
    "exposures",
    [
        {},
        {"s1": exposure(near=sums(1.0, 1.0, 1.0))},
        {"s1": exposure(near=sums(1.0, 1.0, 1.0), far=sums(0.0, 0.0, 0.0))},
        {"s1": exposure(near=None, far=sums(1.0, 1.0, 1.0))},
        {"s1": exposure(near={"3": 1.0}, far={"3": 2.0})},
    ],
)
def test_what_is_not_known_gives_no_ratio(exposures):
    assert cycle_ratio(variant(NEAR, "s1"), variant(FAR, "s1"), "right", "ankle_dorsiflexion", exposures) is None


def test_both_ends_of_a_joint_angle_say_it_once_and_shares_never():
    exposures = {"s1": exposure(near=sums(1.0, 1.0, 1.0), far=sums(2.0, 2.0, 2.0))}
    rows = [
        {"setup_a": "near", "setup_b": "far", "side": "right", "motion": motion, "measure": measure}
        for motion in ("ankle_dorsiflexion", "ankle_plantarflexion")
        for measure in ("median_room_deg", "share_near_end")
    ]
    found = with_cycle_ratios(rows, exposures, [variant(NEAR, "s1"), variant(FAR, "s1")])
    assert [row["cycle_ratio"] is not None for row in found] == [True, False, False, False]
    order = {"a_first": 0, "b_first": 0, "later_deg": None}
    room = found[0] | {
        "order": order, "warm_up_deg": None, "drift_deg": None, "share_difference_by_room_deg": None,
    }  # fmt: skip
    assert beside(room, None) == [found[0]["cycle_ratio"]["sentence"]]
