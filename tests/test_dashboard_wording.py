"""Sentences and number formats of the screens."""

from __future__ import annotations

import pytest
from footroom.dashboard.wording import (
    CAUTION,
    clock,
    degree_span,
    degrees,
    geometry,
    joint,
    motion_title,
    number,
    percent,
    percent_span,
    share_sentence,
    signed_degrees,
)


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_shares_are_told_as_the_consequence():
    assert plain(share_sentence(5.0, {"near": 0.384, "far": 0.09, "wide": None}, {"near": (0.09, 0.6)})) == (
        "Playing time with less than 5° left: 38 % (9 to 60 %) with ‘near’, 9 % with ‘far’."
    )
    assert share_sentence(5.0, {"near": None}, {}) == "Time near the end of the range: not known."


@pytest.mark.parametrize(
    ("share", "text"),
    [(0, "0 %"), (0.001, "under 1 %"), (0.184, "18 %"), (0.9991, "over 99 %"), (1, "100 %"), (None, "–")],
)
def test_percent(share, text):
    assert plain(percent(share)) == text


@pytest.mark.parametrize(
    ("value", "text"), [(3.14, "3.1°"), (-2.0, "−2.0°"), (-0.04, "0.0°"), (None, "–"), (float("nan"), "–")]
)
def test_degrees_have_a_real_minus_and_no_negative_zero(value, text):
    assert degrees(value) == text


@pytest.mark.parametrize(("seconds", "text"), [(0, "0:00"), (75.4, "1:15"), (3723, "1:02:03"), (-1, "0:00")])
def test_clock(seconds, text):
    assert clock(seconds) == text


def test_spans_titles_and_geometry():
    assert degree_span((-1.0, 5.04)) == "−1.0 to 5.0°" and degree_span(None) == "–"
    assert degree_span((-1.0, 5.04), signed=True) == "−1.0 to +5.0°" and signed_degrees(-0.04) == "0.0°"
    assert plain(percent_span([0.04, 0.312])) == "4 to 31 %" and percent_span(None) == "–"
    assert number(-12.34, 1) == "−12.3"
    assert joint("both", "hip_spread") == "hips"
    assert motion_title("left", "hip_internal_rotation") == "Left hip, turned inward"
    assert plain(geometry({"reach_cm": 41.0, "footboard_pitch_deg": 20, "footwear": "socks"})) == (
        "reach 41 cm, footboard pitch 20°, socks"
    )
    assert geometry({}) == ""
    own = {"seat_unloaded_cm": 52.0, "seat_compression_cm": 3, "reach_cm": 41.0, "left": {"reach_cm": 44.5}}
    assert plain(geometry(own)) == "seat unloaded 52 cm, gives by 3 cm, reach 41 cm; left foot: reach 44.5 cm"
    assert plain(geometry({"right": {"reach_cm": 40, "footwear": "socks"}})) == "right foot: reach 40 cm, socks"


def test_the_caution_says_what_footroom_is_not():
    for words in ("not a medical device", "no diagnosis", "no treatment", "no injury prediction", "Stop on pain"):
        assert words in CAUTION
