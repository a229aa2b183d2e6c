"""Level x duration table, lengths of stays and recovery gaps, by hand and against plain counts."""

import numpy as np
import pytest
from footroom.analysis.levels import (
    DURATION_EDGES_S,
    ROOM_EDGES_DEG,
    duration_names,
    level_duration_table,
    level_names,
    recovery_gaps,
    stay_figures,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

NAN = float("nan")


def test_square_wave_fills_two_cells():
    """2 s low, 5 s high, repeated: (low, 1-3 s) 28.571 %, (high, 3-7 s) 71.429 %, all else 0 (arithmetic)."""
    room = np.tile(np.repeat([2.0, 12.0], [20, 50]), 8)
    found = level_duration_table(room, 0.1)
    share = {
        (level, duration): found["share"][i][j]
        for i, level in enumerate(found["levels_deg"])
        for j, duration in enumerate(found["durations_s"])
        if found["share"][i][j]
    }
    assert share == pytest.approx({("0-5", "1-3"): 2 / 7, ("10-15", "3-7"): 5 / 7})


def test_names_of_the_classes():
    assert duration_names() == ["0-1", "1-3", "3-7", "7-15", "15-31", "31+"]
    assert level_names() == ["<0", "0-5", "5-10", "10-15", "15-20", "20+"]


@pytest.mark.parametrize("room", [[], [NAN, NAN]])
def test_no_known_room_gives_no_table(room):
    assert level_duration_table(np.array(room), 0.1) is None


def test_one_sample_is_its_own_stay():
    assert level_duration_table(np.array([NAN, -1.0]), 0.1)["share"][0][0] == 1.0


def test_impossible_input_is_refused():
    with pytest.raises(ValueError, match="step above 0"):
        level_duration_table(np.zeros(4), 0.0)
    with pytest.raises(ValueError, match=r"must be \(n,\)"):
        level_duration_table(np.zeros((4, 1)), 0.1)


def plain_table(room, dt):
    """One sample after the other."""
    table = np.zeros((len(ROOM_EDGES_DEG) + 1, len(DURATION_EDGES_S)))
    level, run = None, 0

    def put():
        if level is not None:
            duration = max(j for j, edge in enumerate(DURATION_EDGES_S) if run * dt >= edge - 1e-9)
            table[level, duration] += run

    for value in room:
        new = None if np.isnan(value) else sum(value >= edge for edge in ROOM_EDGES_DEG)
        if new != level:
            put()
            level, run = new, 0
        run += 1
    put()
    return table / np.isfinite(room).sum()


@settings(deadline=None)
@given(
    room=hnp.arrays(
        np.float64, st.integers(1, 120), elements=st.sampled_from([NAN, -3.0, 0.0, 4.0, 5.0, 12.0, 40.0])
    ).filter(lambda room: bool(np.isfinite(room).any()))
)
def test_table_equals_a_plain_count(room):
    found = np.array(level_duration_table(room, 0.5)["share"])
    assert found == pytest.approx(plain_table(room, 0.5))
    assert found.sum() == pytest.approx(1.0)


def test_the_table_says_where_its_shares_may_lie():
    """Room of 4 deg for 10 s and of 12 deg for 10 s, known to 3 deg: 1 to 7, and 9 to 15."""
    found = level_duration_table(np.repeat([4.0, 12.0], 100), 0.1, 3.0)
    column = DURATION_EDGES_S.index(7.0)
    rows = {name: [row[column] for row in found[name]] for name in ("low", "share", "high")}
    assert rows["share"] == [0.0, 0.5, 0.0, 0.5, 0.0, 0.0]
    assert rows["low"] == [0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert rows["high"] == [0.0, 0.5, 0.5, 0.5, 0.5, 0.0]
    sure = level_duration_table(np.repeat([4.0, 12.0], 100), 0.1)
    assert sure["low"] == sure["share"] == sure["high"]


def test_held_and_repeated_stays():
    """10 s of which stays of 0.5, 0.5, 2 and 5 s are in the zone."""
    inside = np.zeros(100, dtype=bool)
    inside[0:5] = inside[10:15] = inside[20:40] = inside[45:95] = True
    found = stay_figures(inside, 0.1, 10.0)
    assert found["median_stay_s"] == pytest.approx(1.25)
    assert (found["stays"], found["held_stays"], found["longest_stay_s"]) == (4, 1, pytest.approx(5.0))
    assert (found["held_share"], found["entries_per_minute"]) == (pytest.approx(0.5), pytest.approx(24.0))
    assert found["repeated_share"] == pytest.approx(0.3)
    assert found["stays_by_duration"]["count"] == [2, 1, 1, 0, 0, 0]
    assert found["stays_by_duration"]["share"] == pytest.approx([0.1, 0.2, 0.5, 0, 0, 0])


def test_exactly_four_seconds_is_not_held():
    assert stay_figures(np.ones(40, dtype=bool), 0.1, 4.0)["held_stays"] == 0
    assert stay_figures(np.ones(41, dtype=bool), 0.1, 4.1)["held_stays"] == 1


def test_no_stay_has_no_median():
    found = stay_figures(np.zeros(10, dtype=bool), 0.1, 1.0)
    assert (found["median_stay_s"], found["stays"], found["longest_stay_s"]) == (None, 0, 0.0)


def test_recovery_gaps_by_hand():
    """In, 0.1 s out (too short), in, 1 s out, in, unknown, 0.5 s out: two gaps in 6 s of known time."""
    inside = np.zeros(70, dtype=bool)
    inside[0:10] = inside[11:25] = inside[35:55] = True
    known = np.ones(70, dtype=bool)
    known[55:65] = False
    found = recovery_gaps(inside, known, 0.1)
    assert found["gaps_per_minute"] == pytest.approx(20.0)
    assert found["gap_share"] == pytest.approx(1.5 / 6)
    assert (found["median_gap_s"], found["longest_gap_s"]) == pytest.approx((0.75, 1.0))
    assert found["longest_without_gap_s"] == pytest.approx(2.5)


def test_never_in_the_zone_is_one_gap():
    found = recovery_gaps(np.zeros(50, dtype=bool), np.ones(50, dtype=bool), 0.1)
    assert (found["gap_share"], found["longest_gap_s"]) == (1.0, pytest.approx(5.0))
    assert found["longest_without_gap_s"] is None


def test_always_in_the_zone_has_no_gap():
    found = recovery_gaps(np.ones(50, dtype=bool), np.ones(50, dtype=bool), 0.1)
    assert (found["gaps_per_minute"], found["longest_gap_s"]) == (0.0, None)
    assert found["longest_without_gap_s"] == pytest.approx(5.0)
