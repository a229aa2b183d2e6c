"""Turning points, rainflow cycles and their relative damage, against ASTM E1049-85 and two public libraries."""

import fatpack
import numpy as np
import pytest
import rainflow
from footroom.analysis.cycles import (
    EXPONENTS,
    RATIO_WORDS,
    Cycles,
    count_cycles,
    cycle_histogram,
    damage_index,
    damage_ratio,
)
from footroom.analysis.turning_points import turning_points
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

NAN = float("nan")
E1049 = np.array([-2.0, 1, -3, 5, -1, 3, -4, 4, -2])
"""Series of ASTM E1049-85, 5.4.4 (its table of ranges: 3, 4, 6, 8, 9; table from memory, as two libraries give it)."""


def table(cycles):
    """{range: count}"""
    out = {}
    for size, count in zip(cycles.range_deg.tolist(), cycles.count.tolist(), strict=True):
        out[round(size, 6)] = out.get(round(size, 6), 0.0) + count
    return dict(sorted(out.items()))


def plain_turning_points(trace, smallest):
    """The same rule, one range at a time from the smallest up: slow and clear."""
    runs, current = [], []
    for i, value in enumerate(trace):
        if np.isnan(value):
            runs.append(current)
            current = []
        elif not current or value != trace[current[-1]]:
            current.append(i)
    kept = []
    for run in [*runs, current]:
        points = [
            i
            for k, i in enumerate(run)
            if k in (0, len(run) - 1) or (trace[i] - trace[run[k - 1]]) * (trace[run[k + 1]] - trace[i]) < 0
        ]
        while True:
            size = [abs(trace[b] - trace[a]) for a, b in zip(points, points[1:], strict=False)]
            small = [
                k
                for k in range(1, len(size) - 1)
                if size[k] < smallest and size[k] <= size[k - 1] and size[k] <= size[k + 1]
            ]
            if not small:
                break
            k = min(small, key=lambda k: size[k])
            del points[k : k + 2]
        while len(points) > 1 and abs(trace[points[1]] - trace[points[0]]) < smallest:
            del points[0]
        while len(points) > 1 and abs(trace[points[-1]] - trace[points[-2]]) < smallest:
            del points[-1]
        kept += points if len(points) > 1 else []
    return kept


# ---- turning points


def test_turning_points_by_hand():
    assert turning_points(E1049, 0.1).tolist() == list(range(9))
    assert turning_points(np.array([0.0, 1, 2, 3]), 0.5).tolist() == [0, 3]
    assert turning_points(np.array([0.0, 5, 5, 5, 0]), 1.0).tolist() == [0, 1, 4]
    assert turning_points(np.array([0.0, 5, 4.8, 9, 0]), 1.0).tolist() == [0, 3, 4]
    assert turning_points(np.array([0.0, 5, NAN, 5, 0]), 1.0).tolist() == [0, 1, 3, 4]


@pytest.mark.parametrize("trace", [[], [1.0], [NAN, NAN], [2.0, 2.0, 2.0], [0.0, 0.3, 0.0, 0.3], [0.0, NAN, 9.0]])
def test_what_does_not_move_has_no_turning_points(trace):
    assert turning_points(np.array(trace), 1.0).size == 0


def test_impossible_input_to_turning_points_is_refused():
    with pytest.raises(ValueError, match="above 0 deg"):
        turning_points(np.zeros(5), 0.0)
    with pytest.raises(ValueError, match=r"must be \(n,\)"):
        turning_points(np.zeros((5, 2)), 1.0)


WIGGLES = hnp.arrays(
    np.float64,
    st.integers(0, 60),
    elements=st.one_of(st.integers(-12, 12).map(lambda v: v / 2), st.just(NAN)),
)


@settings(deadline=None)
@given(trace=WIGGLES, smallest=st.sampled_from([0.6, 1.2, 3.2]))
def test_turning_points_are_those_of_the_plain_rule(trace, smallest):
    """Levels, not places: of equally small ranges either may be dropped first, and the same heights remain."""
    found = trace[turning_points(trace, smallest)]
    assert found.tolist() == trace[plain_turning_points(trace, smallest)].tolist()


def test_a_swelling_wiggle_takes_the_plain_loop_and_ends_alike():
    """Each pass can drop only one pair of a slowly swelling oscillation."""
    swell = np.linspace(0.01, 0.9, 401) * np.where(np.arange(401) % 2, 1, -1)
    trace = np.r_[-5.0, 5.0, swell[::-1], swell, -5.0, 5.0]
    assert trace[turning_points(trace, 2.0)].tolist() == trace[plain_turning_points(trace, 2.0)].tolist()


# ---- rainflow


def test_the_series_of_the_standard():
    cycles = count_cycles(E1049)
    assert table(cycles) == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}
    assert cycles.total == 4.0
    found = sorted(zip(cycles.range_deg.tolist(), cycles.mean_deg.tolist(), cycles.count.tolist(), strict=True))
    assert found == sorted(
        [(3, -0.5, 0.5), (4, -1.0, 0.5), (4, 1.0, 1.0), (8, 1.0, 0.5), (9, 0.5, 0.5), (8, 0.0, 0.5), (6, 1.0, 0.5)]
    )


def test_the_traps_of_the_package():
    """What `rainflow` 3.2 itself says: [0, 1] -> nothing, [1, 1, 1] -> half a cycle of range 0."""
    assert list(rainflow.extract_cycles([0, 1])) == []
    assert rainflow.count_cycles([1, 1, 1]) == [(0, 0.5)]
    assert table(count_cycles(np.array([0.0, 1.0]))) == {1.0: 0.5}
    assert table(count_cycles(np.array([0.0, 1, 2, 3]))) == {3.0: 0.5}
    assert table(count_cycles(np.array([1.0, 1, 1]))) == {}
    assert table(count_cycles(np.array([0.0, 1, 0]))) == {1.0: 1.0}
    assert table(count_cycles(np.array([0.0, 10] * 3 + [0]))) == {10.0: 3.0}


@pytest.mark.parametrize("trace", [[], [3.0], [NAN] * 4, [NAN, 2.0, NAN]])
def test_no_movement_no_cycles(trace):
    cycles = count_cycles(np.array(trace))
    assert (cycles.total, cycles.damage(5)) == (0.0, 0.0)
    assert cycle_histogram(cycles) == {"edges_deg": [], "count": []}


def test_no_cycle_reaches_across_what_is_not_known():
    assert table(count_cycles(np.array([0.0, 8, NAN, 0, 8]))) == {8.0: 1.0}  # two halves
    assert table(count_cycles(np.array([0.0, 8, 0, 8]))) == {8.0: 1.5}


def played(seconds=60, rate=200, seed=3):
    rng = np.random.default_rng(seed)
    t = np.arange(seconds * rate) / rate
    slow = 3 * np.sin(0.3 * t) + np.cumsum(rng.normal(0, 0.01, t.size))
    return slow + 6 * np.abs(np.sin(2 * np.pi * 1.7 * t)) + rng.normal(0, 0.15, t.size)


def test_large_cycles_are_those_of_the_package_on_all_samples():
    trace = played()
    kept = sorted(table(count_cycles(trace, 0.5)).items())
    whole = {}
    for size, _, count, _, _ in rainflow.extract_cycles(trace):
        if size >= 0.5:
            whole[round(size, 6)] = whole.get(round(size, 6), 0.0) + count
    assert kept == sorted(whole.items())
    assert len(kept) > 150


def test_cycles_are_those_of_a_third_hand_by_the_four_point_rule():
    """fatpack 0.7: full cycles, and its residue as halves, are the standard's count (it would close it)."""
    trace = played(20)
    reversals, _ = fatpack.find_reversals(trace, k=100_000)
    full, residue = fatpack.find_rainflow_cycles(reversals)
    sizes = np.r_[np.abs(np.diff(full, axis=1)).ravel(), np.abs(np.diff(residue))]
    counts = np.r_[np.ones(len(full)), np.full(len(residue) - 1, 0.5)]
    for exponent in (1, 3, 5, 9):
        large = sizes >= 0.5
        expected = float(counts[large] @ sizes[large] ** exponent)
        assert count_cycles(trace, 0.5).damage(exponent) == pytest.approx(expected, rel=0.01)


@settings(deadline=None)
@given(trace=WIGGLES)
def test_turning_a_trace_over_or_backwards_leaves_its_full_damage(trace):
    """Upside down the same ranges are counted: one count serves both directions of a joint."""
    assert table(count_cycles(trace)) == table(count_cycles(-trace))


# ---- damage


def test_sums_of_the_standards_series():
    """sum n range^m, computed by hand from the table: 23, 151, 1 094, 8 449, 67 838, 333 369 878."""
    cycles = count_cycles(E1049)
    expected = {1: 23, 2: 151, 3: 1094, 4: 8449, 5: 67838, 9: 333_369_878}
    assert {m: cycles.damage(m) for m in expected} == expected


def test_miners_sum():
    """10 000/20 000 + 500/1 000 + 10/100 = 1.1 (Miner 1945): lives N of three ranges by a power law of exponent 1."""
    lives = np.array([20_000.0, 1_000.0, 100.0])
    cycles = Cycles(1.0 / lives, np.zeros(3), np.array([10_000.0, 500.0, 10.0]))
    assert cycles.damage(1) == pytest.approx(1.1)


def test_damage_adds_up_and_compares_only_as_a_ratio():
    small, large = count_cycles(np.array([0.0, 5] * 50)), count_cycles(np.array([0.0, 10] * 50))
    one, two = damage_index(small, 60.0), damage_index(large, 60.0)
    assert list(one) == [f"{m}" for m in EXPONENTS]
    assert damage_ratio(one, two) == pytest.approx({f"{m}": 2.0**m for m in EXPONENTS})
    assert damage_index(small, 120.0)["3"] == pytest.approx(one["3"] / 2)
    assert two["9"] == pytest.approx(large.total)  # cycles of 10 deg, in one minute
    assert "not a load, a dose or a risk" in RATIO_WORDS


def test_damage_without_time_or_without_cycles_is_not_known():
    none = count_cycles(np.zeros(10))
    assert damage_index(none, 0.0) is None
    assert damage_ratio(None, {"3": 1.0}) is None
    assert damage_ratio(damage_index(none, 60.0), {"3": 1.0}) is None


def test_histogram_of_cycles():
    assert cycle_histogram(count_cycles(E1049), 4.0) == {"edges_deg": [0, 4, 8, 12], "count": [0.5, 2.0, 1.5]}
