"""A session's figures over all set-ups: as if all playing had been looked at as one."""

import numpy as np
import pytest
from footroom.analysis.active_range import ActiveEnd
from footroom.analysis.exposure import motion_exposure
from footroom.analysis.offset_band import Band
from footroom.analysis.whole_session import RATES, whole_session
from hypothesis import given, settings
from hypothesis import strategies as st

END, DT = ActiveEnd(20.0, "this session"), 0.05


def figures(trace):
    time_s = np.arange(len(trace)) * DT
    found = motion_exposure(
        time_s, trace, [(0.0, len(trace) * DT)], END, zone_deg=5.0, band=Band(4.0, "a test"), block_s=10.0
    )
    assert isinstance(found, dict)
    return found


def swing(seed, seconds):
    """Strokes of many sizes about a wandering middle, 20 deg being the end; it begins and ends away from there."""
    rng, t = np.random.default_rng(seed), np.arange(round(seconds / DT)) * DT
    size = np.interp(t, t[::40], rng.uniform(1.0, 7.0, len(t[::40])))
    trace = 13.0 + rng.normal() + size * np.sin(2 * np.pi * t / 1.3)
    trace[:2] = trace[-2:] = 2.0
    return trace


@given(st.integers(0, 10_000), st.floats(20, 90), st.floats(20, 90))
@settings(max_examples=40, deadline=None)
def test_two_set_ups_together_are_one_long_playing(seed, first_s, second_s):
    near, far = swing(seed, first_s), swing(seed + 1, second_s) - 3.0
    one = {"right": {"ankle_dorsiflexion": figures(near)}}
    two = {"right": {"ankle_dorsiflexion": figures(far)}, "left": {"ankle_dorsiflexion": figures(far)}}
    found = whole_session({"near": one, "far": two})
    assert list(found) == ["right"]  # the left foot played on one set-up only
    found, long = found["right"]["ankle_dorsiflexion"], figures(np.concatenate([near, far]))
    for name in ("known_s", "share_near_end", "share_past_end", "band_near_end", "band_past_end", *RATES):
        assert found[name] == pytest.approx(long[name], abs=1e-9), name
    assert found["median_room_deg"] == pytest.approx(long["median_room_deg"], abs=1.0)  # in the same class of 1 deg
    assert np.ptp(found["band_median_room_deg"]) == pytest.approx(8.0)
    low, high = found["bands"]["seconds_per_minute"]
    assert [low, high] == pytest.approx(long["bands"]["seconds_per_minute"], abs=1e-9)


def test_nothing_is_said_of_one_set_up_or_without_an_end_zone():
    one = {"right": {"ankle_dorsiflexion": figures(swing(1, 30))}}
    assert whole_session({"near": one}) == {}
    assert whole_session({}) == {}
    without = {"right": {"ankle_dorsiflexion": one["right"]["ankle_dorsiflexion"] | {"share_near_end": None}}}
    found = whole_session({"near": one, "far": without})["right"]["ankle_dorsiflexion"]
    assert found["share_near_end"] is None and found["share_past_end"] is not None
