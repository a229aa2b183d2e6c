"""Figures of the end zone with their bands: by hand, and against every line in the band one by one."""

import numpy as np
import pytest
from footroom.analysis.end_zone import ZONE_FIGURES, banded_zone_figures, zone_figures
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

NAN = float("nan")
# 4 s at 8, 1 s at 16, 1 s at 8, 5 s at 18 deg; 10 samples a second.
HAND = np.repeat([8.0, 16.0, 8.0, 18.0], [40, 10, 10, 50])


def test_by_hand():
    """Line at 15, moved to 11, 13, 17 and 19: two stays twice, then one, then none."""
    figures, bands = banded_zone_figures(HAND, 15.0, 0.1, 4.0)
    assert set(figures) == set(ZONE_FIGURES)
    assert figures["stays"] == 2
    assert bands["stays"] == [0, 2]
    assert bands["longest_stay_s"] == pytest.approx([0.0, 5.0])
    assert bands["median_stay_s"] == pytest.approx([3.0, 5.0])  # none where there was no stay
    assert figures["degree_seconds_past"] == pytest.approx(1 * 1 + 3 * 5)
    assert bands["degree_seconds_past"] == pytest.approx([0.0, 5 * 1 + 7 * 5])
    assert figures["seconds_per_minute"] == pytest.approx(60 * 6 / 11)
    assert bands["gap_share"] == pytest.approx([5 / 11, 1.0])
    assert bands["held_stays"] == [0, 1]
    stays = figures["stays_by_duration"]
    assert stays["share"] == pytest.approx([0, 1 / 11, 5 / 11, 0, 0, 0])
    assert (stays["low"], stays["high"]) == ([0.0] * 6, pytest.approx(stays["share"]))


def test_without_an_offset_the_band_is_the_figure():
    figures, bands = banded_zone_figures(HAND, 15.0, 0.1, 0.0)
    assert {name: [figures[name]] * 2 for name in bands} == bands


def test_a_figure_without_a_value_at_any_line_has_no_band():
    _, bands = banded_zone_figures(np.zeros(20), 15.0, 0.1, 4.0)
    assert "median_stay_s" not in bands
    assert bands["longest_gap_s"] == pytest.approx([2.0, 2.0])


@settings(max_examples=60, deadline=None)
@given(
    hnp.arrays(float, st.integers(2, 60), elements=st.one_of(st.floats(-40, 40, width=32), st.just(NAN))),
    st.floats(-20, 20),
    st.floats(0, 8),
)
def test_every_figure_lies_in_its_band_and_what_grows_with_the_zone_is_exact(trace, line, half):
    if np.isnan(trace).all():
        trace[0] = 0.0
    figures, bands = banded_zone_figures(trace, line, 0.1, half)
    for name, (low, high) in bands.items():
        assert figures[name] is None or low <= figures[name] <= high
    wide, narrow = zone_figures(trace, line - half, 0.1), zone_figures(trace, line + half, 0.1)
    for name in ("seconds_per_minute", "degree_seconds_past", "longest_stay_s", "held_share"):
        assert bands[name] == [narrow[name], wide[name]], name
    assert bands["gap_share"] == [wide["gap_share"], narrow["gap_share"]]
