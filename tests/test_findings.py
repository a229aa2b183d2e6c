"""What was noticed in a session: each thing for the person who played, and with its numbers."""

import re

import pytest
from footroom.analysis.findings import findings
from footroom.analysis.observations import observe
from footroom.analysis.phrases import clock
from footroom.logger.models import Session, Setup

JARGON = re.compile(r"\bdeg\b|standard error|percentile|median|NaN|_|dorsiflexion|orientation|saturated")
"""What a drummer should not have to read."""


def session(*heights):
    setups = [Setup(name=f"s{i}", throne_height_cm=height) for i, height in enumerate(heights)] or [Setup(name="near")]
    return Session(
        id="s",
        participant={"id": "p01"},
        recorded_at="2026-11-20T18:30:00+01:00",
        setups=setups,
        clips=[],
        phases=[],
    )


def motion(**figures):
    return {"setups": {"near": {"right": {"ankle_dorsiflexion": {"share_near_end": 0.2} | figures}}}}


def quality(**parts):
    return {"quality": parts}


def checked(used, value=15.0, side="right"):
    repetitions = [{"used": i < used} for i in range(4)]
    end = {"value_deg": value, "source": "this session", "repetitions": repetitions, "standard_error_deg": 1.25}
    return {side: {"ankle_dorsiflexion": end}}


CASES = [
    (
        quality(slips=[{"clip": "right_shank", "time_s": 740.5, "turn_deg": 17.1}]),
        "slip", "right shank turned on the leg by about 17° near 12:20", "right_shank: turn 17.1 deg at 740.5 s",
    ),
    (quality(slips=[{"clip": "left_foot"}]), "slip", "left foot turned on the leg.", "turn not known deg"),
    (
        quality(gaps=[{"clip": "right_foot", "start_s": 200.0, "end_s": 220.0}]),
        "gap", "right foot recorded nothing from 3:20 to 3:40 (20 s); nothing is filled in", "200.00 to 220.00 s",
    ),
    (quality(gaps=[{"clip": None}]), "gap", "Nothing was recorded for a while", "samples missing"),
    (
        quality(limits=[{"clip": "left_foot", "sensor": "gyroscope", "limit": 250.0, "unit": "deg/s", "times": 34,
                         "share": 0.004}]),
        "limit", "left foot could not measure all of your fastest moves: its fastest turns look too small",
        "left_foot: gyroscope at its limit of 250 deg/s 34 times, 0.40 % of its samples",
    ),
    (
        quality(axes={"right_foot": {"method": "ankle taps", "share_explained": 0.82, "error_deg": 2.0}}),
        "axis", "axis of the right foot is not well determined: 82 %", "share of rotation about one axis 0.82",
    ),
    (
        quality(end_checks=[{"clip": "right_foot", "turn_deg": 0.4}, {"clip": "right_shank", "turn_deg": 1.9}]),
        "end check", "sat as at the start: right foot and right shank", "right_foot 0.4 deg, right_shank 1.9 deg",
    ),
    (quality(end_checks=[{"clip": "right_foot", "turn_deg": 3.4}]), "end check", "bands are wider by that", "3.4 deg"),
    (quality(end_checks=[{"clip": "right_foot", "turn_deg": 8.0}]), "end check", "less sure", "8.0 deg"),
    ({"ranges": checked(2)}, "repetitions", "2 held movements; three make it surer", "2 of 4 repetitions kept"),
    (
        {"ranges": checked(3) | checked(3, 27.0, "left")},
        "range", "Your feet lift 12° differently", "right 15.0, left 27.0 deg",
    ),
    (
        motion(angle_percentiles_deg={"10": -20.0, "50": 10.0, "90": 51.0}),
        "implausible", "check which clip is where", "90th percentile -20 and 51 deg",
    ),
    (
        {"playing": {"near": {"left": {"strokes": {"excursion_deg": {"50": 1.2}}}}}},
        "implausible", "move the ankle by 1°", "median excursion 1.2 deg",
    ),
    (
        {"playing": {"near": {"left": {"strokes": {"fast_is_unusual": True, "fast_rate_per_s": 9.5}}}}},
        "implausible", "faster than nearly anyone", "5th percentile 9.5 a second",
    ),
    (
        {"playing": {"near": {"left": {"lift_test": {"lifts_deg": [6.0, 6.2], "held": 1}}}}},
        "repetitions", "the left foot stayed up for a second 1 time; three make it surer", "1 of 2 lifts held",
    ),
    (motion(zone_flag="the zone is narrow"), "end zone", "time near the end says little", "zone is narrow (‘near’)"),
    (motion(known_s=20.0), "short", "‘near’ was played for 20 s only", "less than half a block of 60 s"),
    (motion(share_near_end=0.97), "saturated", "Nearly always near the end", "above 95 % on every set-up"),
    (motion(share_near_end=0.002), "saturated", "Hardly ever near the end", "below 1 % on every set-up"),
]  # fmt: skip


@pytest.mark.parametrize(("exposure", "about", "plain", "detail"), CASES)
def test_each_finding_is_said_twice(exposure, about, plain, detail):
    (found,) = findings(exposure, session())
    assert found["about"] == about
    assert plain in found["plain"]
    assert detail in found["detail"]
    assert not JARGON.search(found["plain"]), found["plain"]
    assert found["plain"][-1] in ".?"
    assert found["detail"].endswith(".")


@pytest.mark.parametrize(
    "exposure",
    [
        {},
        motion(known_s=30.0),
        motion(known_s=20.0) | {"parameters": {"block_s": 30.0}},
        motion(angle_percentiles_deg={"10": -20.0, "50": 10.0, "90": 20.0}, zone_flag=None),
        motion(share_near_end=None),  # legs touch: no end zone
        {"ranges": checked(3)},
        {"ranges": checked(3) | checked(3, 18.0, "left")},
        {"playing": {"near": {"left": {"strokes": None, "lift_test": None}}}},
        {"playing": {"near": {"left": {"lift_test": {"lifts_deg": [6.0, 6.2, 5.9], "held": 3}}}}},
        {"playing": {"near": {"left": {"lift_test": {"lifts_deg": [], "held": 0}}}}},  # hardly lifts: said by the test
        quality(axes={"right_foot": {"method": "hinge", "share_explained": None}}),
    ],
)
def test_what_is_ordinary_is_not_said(exposure):
    assert findings(exposure, session(50.0, 50.5)) == []


def test_a_share_is_saturated_only_where_it_is_so_on_every_set_up():
    exposure = motion(share_near_end=0.0)
    exposure["setups"]["far"] = {"right": {"ankle_dorsiflexion": {"share_near_end": 0.3}}}
    assert findings(exposure, session()) == []


def test_another_throne_height_is_said():
    (found,) = findings({}, session(50.0, 53.0, None))
    assert "different heights (‘s0’ 50 cm, ‘s1’ 53 cm)" in found["plain"]
    assert "never pooled" in found["detail"]


def test_times_as_on_a_clock():
    assert [clock(s) for s in (0.0, 59.6, 740.5, 3723.0)] == ["0:00", "1:00", "12:20", "1:02:03"]


@pytest.mark.parametrize("known_s", [0.0, 20.0, 29.9])
def test_playing_shorter_than_half_a_block_is_not_compared(known_s):
    block = {"start_s": 0.0, "end_s": known_s, "known_s": known_s, "median_room_deg": 5.0, "share_near_end": 0.2}
    figures = {"known_s": known_s, "block_s": 60.0, "blocks": [block], "median_room_deg": 5.0, "share_near_end": 0.2}
    assert observe(figures) is None
    longer = figures | {"known_s": 30.0, "blocks": [block | {"known_s": 30.0}]}
    assert observe(longer).values["median_room_deg"] == 5.0


def test_many_motions_hardly_near_the_end_are_told_by_the_one_that_is_not():
    shares = {"ankle_dorsiflexion": 0.2, "ankle_plantarflexion": 0.0, "hip_flexion": 0.0}
    shares |= {"hip_horizontal_abduction": 0.0, "hip_internal_rotation": 0.0, "hip_external_rotation": 0.0}
    figures = {name: {"share_near_end": share} for name, share in shares.items()}
    (found,) = findings({"setups": {"near": {"right": figures}}}, session())
    assert found["plain"].startswith(
        "Hardly ever near the end: every motion with an end zone except your right ankle, lifting the toes. Time near"
    )
    assert "right hip external rotation" in found["detail"]
    figures["ankle_dorsiflexion"] = {"share_near_end": 0.0}
    (found,) = findings({"setups": {"near": {"right": figures}}}, session())
    assert found["plain"].startswith("Hardly ever near the end: every motion with an end zone. Time near")
