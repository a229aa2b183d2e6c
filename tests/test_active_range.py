"""Repetitions and the end of active range, on traces whose ends are known because we drew them."""

import numpy as np
import pytest
from footroom.analysis.active_range import (
    ActiveEnd,
    RangeCheck,
    choose_active_end,
    end_of_repetitions,
    measure_active_end,
    spread_end,
)
from footroom.analysis.motions import MOTION, SIDED_MOTIONS, angle_column, toward_end
from footroom.analysis.norms import NORMS, norm
from footroom.analysis.repetitions import Repetition, find_repetitions
from footroom.logger.errors import InputError
from footroom.logger.models import MOTIONS, PHASE_NAMES
from hypothesis import given, settings
from hypothesis import strategies as st

RATE = 100


def lifts(ends, *, rest=-10.0, hold_s=1.5, ramp_s=1.0, pause_s=1.5, noise=0.0, seed=3):
    """A trace that rests, goes to each end, holds it and comes back; (time, trace)."""
    pieces = [np.full(int(pause_s * RATE), rest)]
    for end in ends:
        up = rest + (end - rest) * (1 - np.cos(np.linspace(0, np.pi, int(ramp_s * RATE)))) / 2
        pieces += [up, np.full(int(hold_s * RATE), float(end)), up[::-1], np.full(int(pause_s * RATE), rest)]
    trace = np.concatenate(pieces)
    trace = trace + np.random.default_rng(seed).normal(0, noise, trace.size)
    return np.arange(trace.size) / RATE, trace


def whole(time):
    return [(float(time[0]), float(time[-1]) + 0.01)]


def test_every_repetition_is_found_and_has_its_held_end():
    time, trace = lifts([12, 13, 15, 14, 16], noise=0.2)
    found = find_repetitions(time, trace, whole(time))
    assert [round(rep.held_deg) for rep in found] == [12, 13, 15, 14, 16]
    assert all(rep.held for rep in found)
    assert all(rep.peak_deg >= rep.held_deg for rep in found)


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        ([5, 8, 15, 14, 16], 15.0),  # five: the first two are practice, 15 14 16 count
        ([10, 10, 13, 15, 17, 19], 17.0),  # six: the last three
        ([8, 15, 14, 16], 15.0),  # four: the first is practice
        ([12, 15, 18], 15.0),
        ([12, 15], 13.5),
        ([12], 12.0),
    ],
)
def test_mean_of_the_last_three_after_practice(ends, expected):
    time, trace = lifts(ends)
    end = measure_active_end(time, trace, whole(time)).end
    assert end is not None
    assert end.value_deg == pytest.approx(expected, abs=0.01)
    assert len(end.repetitions) == len(ends)
    assert end.source == "this session"
    assert end.used == min(3, len(ends))


def test_median_and_best_of_three():
    reps = [Repetition(i, i + 1.0, value, value, True) for i, value in enumerate([30.0, 5.0, 10.0, 12.0, 20.0, 11.0])]
    by_method = {m: end_of_repetitions(reps, method=m).end for m in ("mean_of_last_three", "median", "best_of_n")}
    values = {m: end.value_deg for m, end in by_method.items() if end is not None}
    assert values == pytest.approx({"mean_of_last_three": 43 / 3, "median": 11.5, "best_of_n": 20.0})


def test_standard_error_is_that_of_the_used_repetitions():
    reps = [Repetition(i, i + 1.0, value, value, True) for i, value in enumerate([12.0, 14.0, 16.0])]
    end = end_of_repetitions(reps).end
    assert end is not None
    assert (end.sd_deg, end.standard_error_deg) == pytest.approx((2.0, 2.0 / np.sqrt(3)))


def test_fewer_than_three_are_used_and_it_says_how_to_do_better():
    time, trace = lifts([12, 14])
    check = measure_active_end(time, trace, whole(time))
    assert check.end is not None
    assert any("2 repetitions instead of three" in text and "stop if it hurts" in text for text in check.messages)


def test_one_repetition_has_no_standard_error():
    time, trace = lifts([12])
    end = measure_active_end(time, trace, whole(time)).end
    assert end is not None
    assert end.sd_deg is None
    assert end.standard_error_deg is None


def test_a_quick_flick_is_marked_as_not_held_and_left_out_when_three_others_are_held():
    time, trace = lifts([15] * 5)
    _, flick = lifts([25], hold_s=0.0, ramp_s=0.3)
    trace = np.concatenate([trace, flick])
    time = np.arange(trace.size) / RATE
    check = measure_active_end(time, trace, whole(time))
    assert check.end is not None
    assert [rep.held for rep in check.end.repetitions] == [True] * 5 + [False]
    assert check.end.value_deg == pytest.approx(15.0, abs=0.01)
    assert any("not held for a second" in text for text in check.messages)


def test_a_knock_does_not_move_the_end():
    time, trace = lifts([15, 15, 15])
    knocked = trace.copy()
    knocked[int(3.2 * RATE) : int(3.2 * RATE) + 5] += 40
    end = measure_active_end(time, knocked, whole(time)).end
    assert end is not None
    assert end.value_deg == pytest.approx(15.0, abs=0.05)


def test_an_invalid_repetition_is_kept_in_the_result_and_not_used():
    time, trace = lifts([15, 15, 30])
    end = measure_active_end(time, trace, whole(time), invalid=[(12.5, 12.6)]).end
    assert end is not None
    assert [rep.invalid for rep in end.repetitions] == [False, False, True]
    assert end.value_deg == pytest.approx(15.0, abs=0.01)


def test_repetitions_over_several_spans_count_together_and_in_order():
    time, trace = lifts([10, 12, 14])
    found = find_repetitions(time, trace, [(11.5, 17.0), (0.0, 11.5)])
    assert [round(rep.held_deg) for rep in found] == [10, 12, 14]


def test_a_still_span_an_unknown_span_and_a_span_outside_hold_no_repetition():
    time, trace = lifts([15, 15])
    assert find_repetitions(time, np.full_like(trace, 3.0), whole(time)) == ()
    assert find_repetitions(time, np.full_like(trace, np.nan), whole(time)) == ()
    assert find_repetitions(time, trace, [(500.0, 600.0)]) == ()
    check = measure_active_end(time, np.full_like(trace, np.nan), whole(time))
    assert check.end is None
    assert "no repetition was found" in check.messages[0]


def test_a_gap_inside_a_hold_costs_only_that_repetition():
    time, trace = lifts([15, 16, 17])
    trace[int(2.6 * RATE) : int(3.9 * RATE)] = np.nan
    values = [rep.held_deg for rep in find_repetitions(time, trace, whole(time)) if rep.held]
    assert values == pytest.approx([16.0, 17.0], abs=0.01)


@pytest.mark.parametrize(("gap_s", "count"), [(0.5, 1), (1.5, 2)])
def test_a_short_gap_does_not_split_a_repetition_and_a_long_one_does(gap_s, count):
    time, trace = lifts([15], hold_s=5.0)
    trace[int(4.5 * RATE) : int((4.5 + gap_s) * RATE)] = np.nan
    assert [rep.held_deg for rep in find_repetitions(time, trace, whole(time))] == pytest.approx([15.0] * count)


def test_a_second_mostly_unknown_has_no_value():
    time, trace = lifts([15, 16])
    first = np.arange(trace.size) < 5.5 * RATE
    trace[first & (np.arange(trace.size) % 2 == 0)] = np.nan
    assert [rep.held_deg for rep in find_repetitions(time, trace, whole(time))] == pytest.approx([16.0])


def test_the_end_counts_and_not_a_steadier_halt_on_the_way():
    tremor = 16.0 + 0.8 * np.sin(2 * np.pi * 6 * np.arange(150) / RATE)
    rest = np.full(200, -10.0)
    trace = np.concatenate([rest, np.full(150, 12.0), tremor, rest])
    time = np.arange(trace.size) / RATE
    found = find_repetitions(time, trace, whole(time))
    assert [rep.held_deg for rep in found] == pytest.approx([16.0], abs=0.3)
    assert found[0].held


@settings(max_examples=30, deadline=None)
@given(shift=st.floats(-40, 40), ends=st.lists(st.floats(8, 30), min_size=3, max_size=6))
def test_shifting_the_trace_shifts_the_end(shift, ends):
    time, trace = lifts(ends)
    before = measure_active_end(time, trace, whole(time)).end
    after = measure_active_end(time, trace + shift, whole(time)).end
    assert before is not None
    assert after is not None
    assert after.value_deg - before.value_deg == pytest.approx(shift, abs=1e-6)


def test_arrays_of_different_length_are_refused():
    with pytest.raises(ValueError, match="one length"):
        find_repetitions(np.arange(5.0), np.zeros(4), [(0, 1)])


def test_an_unknown_method_is_refused():
    with pytest.raises(InputError, match="'best' is no way to form an active end; use one of mean_of_last_three"):
        end_of_repetitions([], method="best")  # pyright: ignore[reportArgumentType]


# ---- which end is used


MEASURED = RangeCheck(ActiveEnd(17.0, "this session"))
EARLIER = ActiveEnd(16.0, "this session")


@pytest.mark.parametrize(
    ("known", "value", "source"),
    [
        ({"check": MEASURED, "typed_deg": 15.0, "earlier": EARLIER}, 17.0, "this session"),
        ({"typed_deg": 15.0, "earlier": EARLIER}, 15.0, "typed"),
        ({"earlier": EARLIER}, 16.0, "earlier session"),
        ({}, 12.2, "norm"),
    ],
)
def test_precedence(known, value, source):
    end, why = choose_active_end("ankle_dorsiflexion", **known)
    assert why is None
    assert end is not None
    assert (end.value_deg, end.source) == (value, source)


def test_a_range_check_without_repetitions_gives_way_and_is_mentioned():
    end, _ = choose_active_end("ankle_dorsiflexion", check=RangeCheck(None, ("no repetition was found",)), typed_deg=15)
    assert end is not None
    assert end.source == "typed"
    assert "no repetition was found" in end.messages


def test_a_norm_is_labelled_as_no_target():
    end, _ = choose_active_end("ankle_dorsiflexion")
    assert end is not None
    assert any("no target" in text and "Boone" in text for text in end.messages)


def test_nothing_known_gives_the_reason():
    end, why = choose_active_end("hip_horizontal_abduction")
    assert end is None
    assert why is not None
    assert "range_abduction" in why


def test_adduction_is_contact_unless_told_otherwise():
    usual, _ = choose_active_end("hip_horizontal_adduction", typed_deg=10.0)
    crossed, _ = choose_active_end("hip_horizontal_adduction", typed_deg=10.0, contact=False)
    assert usual is not None
    assert crossed is not None
    assert usual.contact
    assert not crossed.contact


@pytest.mark.parametrize("value", [400.0, -90.0, float("nan"), float("inf")])
def test_an_impossible_typed_end_is_refused(value):
    with pytest.raises(InputError, match="a typed ankle_dorsiflexion end of .* is impossible"):
        choose_active_end("ankle_dorsiflexion", typed_deg=value)


def test_a_lunge_figure_is_questioned():
    """About 40 deg is a weight-bearing lunge: Calatayud et al. 2015, IJSPT 10(2):197-202, 40.6 deg."""
    end, _ = choose_active_end("ankle_dorsiflexion", typed_deg=40.6)
    assert end is not None
    assert any("lunge" in text for text in end.messages)


def test_spread_adds_both_abductions_and_takes_the_weaker_label():
    right = ActiveEnd(40.0, "this session", sd_deg=3.0, standard_error_deg=3.0)
    left = ActiveEnd(35.0, "typed", sd_deg=4.0, standard_error_deg=4.0)
    both = spread_end(right, left)
    assert both is not None
    assert (both.value_deg, both.source, both.standard_error_deg) == (75.0, "typed", 5.0)
    assert spread_end(right, None) is None
    unsure = spread_end(right, ActiveEnd(35.0, "typed"))
    assert unsure is not None
    assert unsure.standard_error_deg is None


# ---- motions and norms


def test_motions_cover_the_agreed_names_and_known_phases():
    assert SIDED_MOTIONS == MOTIONS
    assert {m.range_phase for m in MOTION.values() if m.range_phase} <= set(PHASE_NAMES)


def test_columns_and_directions():
    assert angle_column("ankle_plantarflexion", "left") == "left_ankle_dorsiflexion"
    assert angle_column("hip_spread", "both") == "hip_spread"
    np.testing.assert_array_equal(toward_end("hip_external_rotation", np.array([-30.0, np.nan])), [30.0, np.nan])


def test_norms_state_where_they_come_from():
    assert all(row.source and row.conditions and row.how_sure for row in NORMS)
    for name in ("ankle_dorsiflexion", "ankle_plantarflexion", "hip_flexion", "hip_internal_rotation"):
        assert norm(name) is not None
    assert norm("hip_horizontal_abduction") is None
