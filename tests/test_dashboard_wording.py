"""Sentences and number formats of the screens."""

from __future__ import annotations

import pytest
from footroom.dashboard.wording import (
    CAUTION,
    basis_sentence,
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
    verdict_sentence,
)


def row(**changes):
    base = {
        "setup_a": "near",
        "setup_b": "far",
        "side": "right",
        "motion": "ankle_dorsiflexion",
        "measure": "median_room_deg",
        "primary": True,
        "basis": "same wearing",
        "sessions_a": 4,
        "sessions_b": 4,
        "difference": 3.1,
        "interval": [1.2, 5.0],
        "unit": "deg",
        "verdict": "clear difference",
        "reason": "paired over 4 wearings",
        "needed": None,
    }
    return base | changes


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_clear_difference_names_the_setup_with_more_room():
    assert plain(verdict_sentence(row())) == (
        "With ‘far’ your right ankle (toes up) kept 3.1° more room than with ‘near’ "
        "(95 % interval 1.2 to 5.0°): clear difference."
    )


def test_a_negative_clear_difference_is_told_from_the_other_side():
    sentence = verdict_sentence(row(difference=-3.1, interval=[-5.0, -1.2]))
    assert sentence.startswith("With ‘near’ your right ankle (toes up) kept 3.1° more room than with ‘far’")
    assert "1.2 to 5.0°" in sentence


def test_no_clear_difference_says_what_could_have_been_missed():
    sentence = verdict_sentence(row(difference=0.3, interval=[-1.4, 2.0], verdict="no clear difference"))
    assert sentence == (
        "No clear difference between ‘near’ and ‘far’ for your right ankle (toes up): "
        "a difference of up to 2.0° could have been missed."
    )


@pytest.mark.parametrize(
    ("needed", "end"),
    [(2, ": about 2 more sessions would settle it."), (1, ": about 1 more session would settle it."), (None, "up).")],
)
def test_not_enough_data_says_how_many_more(needed, end):
    sentence = verdict_sentence(row(verdict="not enough data", interval=None, needed=needed))
    assert sentence.startswith("Not enough data to tell ‘near’ and ‘far’ apart")
    assert sentence.endswith(end)


def test_the_basis_names_wearing_sessions_interval_and_reason():
    text = plain(basis_sentence(row(sessions_b=3, basis="separate wearings")))
    assert "4 sessions with ‘near’ and 3 sessions with ‘far’" in text
    assert "separate wearings" in text and "3.1° (95 % interval 1.2 to 5.0°)" in text
    assert text.endswith("Paired over 4 wearings.")


def test_shares_are_told_as_the_consequence():
    assert plain(share_sentence(5.0, {"near": 0.384, "far": 0.09, "wide": None})) == (
        "Playing time with less than 5° left: 38 % with ‘near’, 9 % with ‘far’."
    )
    assert share_sentence(5.0, {"near": None}) == "Time near the end of the range: not known."


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
    assert plain(percent_span([0.04, 0.312])) == "4 to 31 %" and percent_span(None) == "–"
    assert number(-12.34, 1) == "−12.3"
    assert joint("both", "hip_spread") == "hips"
    assert motion_title("left", "hip_internal_rotation") == "Left hip, turned inward"
    assert plain(geometry({"reach_cm": 41.0, "footboard_pitch_deg": 20, "footwear": "socks"})) == (
        "reach 41 cm, footboard pitch 20°, socks"
    )
    assert geometry({}) == ""


def test_the_caution_says_what_footroom_is_not():
    for words in ("not a medical device", "no diagnosis", "no treatment", "no injury prediction", "Stop on pain"):
        assert words in CAUTION
