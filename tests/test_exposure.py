"""Exposure near the end of range, against arithmetic that can be done by hand."""

import json
import math

import numpy as np
import pytest
from footroom.analysis.active_range import ActiveEnd
from footroom.analysis.episodes import stays
from footroom.analysis.exposure import (
    FRACTION_SWEEP,
    ROOM_SWEEP_DEG,
    NotKnown,
    merge_spans,
    motion_exposure,
    zone_from_fraction,
)
from footroom.analysis.offset_band import Band, offset_band
from footroom.logger.errors import InputError
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

RATE = 10.0
BAND = Band(4.0, "a range check in the same session")


def expose(angle, *, end=20.0, zone=5.0, band=BAND, rate=RATE, spans=None, block_s=60.0, start=0.0, **more):
    """Figures of a trace on a uniform grid; the whole of it is playing unless spans say otherwise."""
    angle = np.asarray(angle, dtype=float)
    time = start + np.arange(angle.size) / rate
    active = end if isinstance(end, ActiveEnd) else ActiveEnd(end, "this session")
    spans = [(time[0], time[-1] + 1 / rate)] if spans is None else spans
    return motion_exposure(time, angle, spans, active, zone_deg=zone, band=band, block_s=block_s, **more)


def known(angle, **more):
    figures = expose(angle, **more)
    assert isinstance(figures, dict), figures
    return figures


# ---- by hand: 10 s at 10 degrees, 5 s at 16, 4 s at 21, 1 s at 10; end 20, zone 5
HAND = np.repeat([10.0, 16.0, 21.0, 10.0], [100, 50, 40, 10])


def test_hand_case():
    figures = known(HAND)
    expected = {
        "known_s": 20.0,
        "playing_s": 20.0,
        "share_near_end": 9 / 20,
        "share_past_end": 4 / 20,
        "band_near_end": [4 / 20, 9 / 20],  # room < 1 and room < 9
        "band_past_end": [0.0, 4 / 20],  # room < -4 and room < 4
        "seconds_per_minute": 27.0,
        "entries_per_minute": 3.0,
        "stays": 1,
        "longest_stay_s": 9.0,
        "held_share": 9 / 20,
        "median_room_deg": 10.0,
        "band_median_room_deg": [6.0, 14.0],
        "p05_room_deg": -1.0,
        "degree_seconds_past": 5 * 1.0 + 4 * 6.0,
        "band_half_width_deg": 4.0,
        "zone_deg": 5.0,
        "active_end_deg": 20.0,
        "range_source": "this session",
        "zone_flag": None,
    }
    for key, value in expected.items():
        assert figures[key] == (pytest.approx(value) if isinstance(value, float | int | list) else value), key
    assert figures["share_by_room_deg"] == pytest.approx(
        {"0": 0.2, "2.5": 0.2, "5": 0.45, "7.5": 0.45, "10": 0.45, "15": 1.0}
    )
    fractions = figures["share_by_fraction"]
    assert fractions["0.50"] == 1.0  # angle >= 10
    assert fractions["0.80"] == pytest.approx(0.45)  # angle >= 16
    assert fractions["0.85"] == pytest.approx(0.2)
    assert fractions["1.10"] == 0.0


def test_every_figure_of_the_hand_case_has_its_band():
    """The line at 15 moved to 11, 13, 17 and 19; 16 and 21 deg of the trace lie beyond it, or 21 alone."""
    figures = known(HAND)
    bands = figures["bands"]
    assert bands["seconds_per_minute"] == pytest.approx([12.0, 27.0])
    assert bands["p05_room_deg"] == pytest.approx([figures["p05_room_deg"] - 4, figures["p05_room_deg"] + 4])
    assert bands["longest_stay_s"] == pytest.approx([4.0, 9.0])
    assert bands["held_share"] == pytest.approx([0.0, 9 / 20])  # 4 s are not held
    assert figures["band_by_fraction"]["0.75"] == [4 / 20, 9 / 20]  # at 19 and at 11 deg
    [block] = figures["blocks"]
    assert block["band_near_end"] == figures["band_near_end"]


def test_no_zone_no_band_of_it():
    for figures in (known(HAND, end=ActiveEnd(20.0, "typed", contact=True)), known(HAND, zone=25.0)):
        assert set(figures["bands"]) == {"p05_room_deg"}
        assert figures["blocks"][0]["band_near_end"] is None


def test_room_of_exactly_the_zone_is_outside_and_the_end_itself_is_not_past():
    figures = known(np.full(100, 15.0))
    assert figures["share_near_end"] == 0.0
    assert known(np.full(100, 20.0))["share_past_end"] == 0.0
    assert known(np.full(100, 20.0))["share_by_fraction"]["1.00"] == 1.0


@pytest.mark.parametrize(("fraction", "share"), [(0.9, 0.143566), (0.8, 0.204833), (0.5, 0.333333)])
def test_sine_share_above_a_fraction_of_its_amplitude(fraction, share):
    """acos(c)/pi: elementary, computed with the standard library (facts.md section 4 lists the same digits)."""
    assert math.acos(fraction) / math.pi == pytest.approx(share, abs=1e-6)
    angle = 20.0 * np.sin(2 * np.pi * np.arange(200_000) / 2_000 + 1e-4)
    figures = known(angle, rate=100.0)
    assert figures["share_by_fraction"][f"{fraction:.2f}"] == pytest.approx(share, abs=1e-3)
    by_room = known(angle, rate=100.0, zone=20.0 * (1 - fraction))
    assert by_room["share_near_end"] == pytest.approx(share, abs=1e-3)


def test_amplitude_distribution_of_ramp_and_sine():
    """Ramp 0..100 -> 10/50/90; sine -> -0.951057 / 0 / 0.951057 (facts.md section 4, computed there with numpy)."""
    ramp = known(np.linspace(0, 100, 10_001), end=120.0)["angle_percentiles_deg"]
    assert ramp == pytest.approx({"10": 10.0, "50": 50.0, "90": 90.0})
    sine = known(np.sin(2 * np.pi * np.arange(100_000) / 1_000), end=2.0, zone=1.0)["angle_percentiles_deg"]
    assert sine == pytest.approx({"10": -0.951057, "50": 0.0, "90": 0.951057}, abs=1e-3)


def test_percentiles_of_room_agree_with_numpy():
    angle = np.random.default_rng(5).normal(8, 6, 997)
    figures = known(angle)
    assert figures["median_room_deg"] == pytest.approx(np.median(20 - angle))
    assert figures["p05_room_deg"] == pytest.approx(np.percentile(20 - angle, 5))


# ---- what is not known adds nothing


def test_missing_samples_add_no_time():
    angle = np.concatenate([HAND, np.full(100, np.nan)])
    figures, whole = known(angle), known(HAND)
    assert (figures["known_s"], figures["playing_s"]) == pytest.approx((20.0, 30.0))
    for key in ("share_near_end", "median_room_deg", "entries_per_minute", "degree_seconds_past"):
        assert figures[key] == pytest.approx(whole[key]), key


def test_a_gap_ends_a_stay():
    angle = np.full(100, 18.0)
    angle[40:50] = np.nan
    figures = known(angle)
    assert figures["stays"] == 2
    assert figures["longest_stay_s"] == pytest.approx(5.0)
    assert figures["share_near_end"] == 1.0


def test_a_stay_does_not_cross_from_one_playing_span_to_the_next():
    figures = known(np.full(100, 18.0), spans=[(0.0, 3.0), (5.0, 9.0)])
    assert (figures["stays"], figures["longest_stay_s"]) == (2, pytest.approx(4.0))
    assert figures["playing_s"] == pytest.approx(7.0)


def test_overlapping_spans_count_once():
    assert merge_spans([(5, 9), (0, 3), (2, 4)]) == [(0, 4), (5, 9)]
    assert known(np.full(100, 18.0), spans=[(0.0, 6.0), (4.0, 8.0)])["playing_s"] == pytest.approx(8.0)


def test_infinite_angles_are_not_known():
    angle = HAND.copy()
    angle[:10] = np.inf
    figures = known(angle)
    assert figures["known_s"] == pytest.approx(19.0)
    assert json.dumps(figures, allow_nan=False)


@pytest.mark.parametrize(
    ("angle", "spans", "reason"),
    [
        (np.full(50, np.nan), None, "none of the 5 s of playing gave a known angle"),
        (np.zeros(50), [(100.0, 200.0)], "no playing phase lies within the recording"),
        (np.zeros(50), [], "no playing phase lies within the recording"),
        (np.zeros(1), None, "fewer than two samples"),
        (np.zeros(0), [(0.0, 1.0)], "fewer than two samples"),
    ],
)
def test_no_known_time_gives_a_reason_and_no_number(angle, spans, reason):
    figures = expose(angle, spans=spans)
    assert isinstance(figures, NotKnown)
    assert reason in figures.reason


def test_one_known_sample_is_enough_for_strict_json():
    angle = np.full(50, np.nan)
    angle[7] = 17.0
    figures = known(angle)
    assert figures["known_s"] == pytest.approx(0.1)
    assert figures["share_near_end"] == 1.0
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures


# ---- blocks


def test_spans_are_cut_into_equal_blocks():
    angle = np.concatenate([np.full(600, 10.0), np.full(600, 18.0), np.full(300, np.nan)])
    figures = known(angle, spans=[(0.0, 120.0), (120.5, 150.0)])
    assert [(b["start_s"], b["end_s"]) for b in figures["blocks"]] == [
        pytest.approx(pair) for pair in [(0, 60), (60, 120), (120.5, 150)]
    ]
    assert [b["median_room_deg"] for b in figures["blocks"]] == [10.0, 2.0, None]
    assert [b["share_near_end"] for b in figures["blocks"]] == [0.0, 1.0, None]
    assert [b["known_s"] for b in figures["blocks"]] == pytest.approx([60.0, 60.0, 0.0])


@pytest.mark.parametrize(("seconds", "count"), [(20, 1), (60, 1), (89, 1), (90, 2), (150, 3), (180, 3)])
def test_blocks_are_as_near_to_their_length_as_whole_numbers_allow(seconds, count):
    lengths = [b["end_s"] - b["start_s"] for b in known(np.zeros(seconds * 10))["blocks"]]
    assert len(lengths) == count
    assert lengths == pytest.approx([seconds / count] * count, abs=0.11)


# ---- the histogram


def test_histogram_has_one_degree_classes_and_holds_all_time():
    histogram = known(HAND)["room_histogram"]
    assert histogram["edges_deg"] == list(range(-1, 12))
    shares = dict(zip(histogram["edges_deg"], histogram["share"], strict=False))
    assert (shares[-1.0], shares[4.0], shares[10.0]) == pytest.approx((0.2, 0.25, 0.55))
    assert sum(histogram["share"]) == pytest.approx(1.0)


# ---- flags and ends that are no ends


def test_contact_has_no_end_zone():
    figures = known(HAND, end=ActiveEnd(20.0, "this session", contact=True))
    assert figures["share_near_end"] is None
    assert figures["band_near_end"] is None
    assert set(figures["share_by_room_deg"]) == set(ROOM_SWEEP_DEG)
    assert set(figures["share_by_fraction"]) == set(FRACTION_SWEEP)
    assert set(figures["share_by_room_deg"].values()) == {None}
    assert figures["blocks"][0]["share_near_end"] is None
    assert figures["median_room_deg"] == pytest.approx(10.0)


def test_zone_narrower_than_the_repetitions_allow_is_flagged():
    wide = known(HAND, end=ActiveEnd(20.0, "this session", standard_error_deg=2.6))
    assert "narrower than twice the standard error" in wide["zone_flag"]
    assert known(HAND, end=ActiveEnd(20.0, "this session", standard_error_deg=2.5))["zone_flag"] is None


ZONE_FIGURES = (
    "share_near_end", "band_near_end", "seconds_per_minute", "entries_per_minute", "longest_stay_s", "stays",
    "held_share", "degree_seconds_past",
)  # fmt: skip


def test_a_zone_as_wide_as_the_range_gives_no_number_and_the_reason():
    figures = known(np.full(50, 1.0), end=4.0)
    assert "as wide as the whole range from neutral (4.0 deg), so time in it is not given" in figures["zone_flag"]
    assert {figures[name] for name in ZONE_FIGURES} == {None}
    assert {block["share_near_end"] for block in figures["blocks"]} == {None}
    assert figures["share_past_end"] == 0.0
    assert figures["share_by_room_deg"]["2.5"] == 0.0  # a line within the range
    assert figures["median_room_deg"] == pytest.approx(3.0)


@pytest.mark.parametrize("end", [0.0, -3.0])
def test_a_range_of_zero_has_room_but_no_zone_and_no_fractions(end):
    figures = known(np.full(50, -10.0), end=end)
    assert figures["median_room_deg"] == pytest.approx(end + 10.0)
    assert {figures[name] for name in (*ZONE_FIGURES, "share_past_end", "band_past_end")} == {None}
    assert set(figures["share_by_fraction"].values()) == {None}
    assert "does not reach beyond neutral, so there is no end zone" in figures["zone_flag"]


@pytest.mark.parametrize("zone", [0.0, -2.0, float("nan"), float("inf")])
def test_an_impossible_zone_is_refused(zone):
    with pytest.raises(InputError, match="the end zone of ankle_dorsiflexion is .* give a width above 0"):
        expose(HAND, zone=zone, motion="ankle_dorsiflexion")


@pytest.mark.parametrize("block_s", [0.0, -60.0, float("nan")])
def test_an_impossible_block_is_refused(block_s):
    with pytest.raises(InputError, match="blocks of .* s cannot be made"):
        expose(HAND, block_s=block_s)


def test_an_end_that_is_no_number_is_refused():
    with pytest.raises(InputError, match="is not a number"):
        expose(HAND, end=float("nan"))


def test_an_uneven_grid_and_wrong_lengths_are_refused():
    end = ActiveEnd(20.0, "typed")
    with pytest.raises(ValueError, match="uniform"):
        motion_exposure(np.array([0.0, 1.0, 3.0]), np.zeros(3), [(0, 4)], end, zone_deg=5, band=BAND)
    with pytest.raises(ValueError, match="uniform"):
        motion_exposure(np.zeros(3), np.zeros(3), [(0, 4)], end, zone_deg=5, band=BAND)
    with pytest.raises(ValueError, match="one length"):
        motion_exposure(np.arange(3.0), np.zeros(4), [(0, 4)], end, zone_deg=5, band=BAND)


def test_zone_from_fraction():
    assert zone_from_fraction(20.0, 0.8) == pytest.approx(4.0)
    with pytest.raises(InputError, match="between 0 and 1"):
        zone_from_fraction(20.0, 1.0)
    with pytest.raises(InputError, match="has no fractions"):
        zone_from_fraction(0.0, 0.8)


# ---- properties

ANGLES = hnp.arrays(
    np.float64,
    st.integers(2, 120),
    elements=st.one_of(st.floats(-60, 60).map(lambda value: round(value, 3)), st.just(float("nan"))),
).filter(lambda angle: bool(np.isfinite(angle).any()))


@settings(deadline=None)
@given(angle=ANGLES, end=st.floats(5.5, 40).map(lambda v: round(v, 3)), half=st.floats(0, 15))
def test_shares_grow_with_room_and_bands_hold_the_share(angle, end, half):
    figures = known(angle, end=end, band=Band(half, "test"))
    by_room = [figures["share_by_room_deg"][key] for key in ROOM_SWEEP_DEG]
    assert by_room == sorted(by_room)
    by_fraction = [figures["share_by_fraction"][key] for key in FRACTION_SWEEP]
    assert by_fraction == sorted(by_fraction, reverse=True)
    for band, share in (("band_near_end", "share_near_end"), ("band_past_end", "share_past_end")):
        assert 0.0 <= figures[band][0] <= figures[share] <= figures[band][1] <= 1.0
    assert figures["share_past_end"] <= figures["share_near_end"]
    assert sum(figures["room_histogram"]["share"]) == pytest.approx(1.0)
    assert figures["longest_stay_s"] <= figures["known_s"] + 1e-9
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures


@settings(deadline=None)
@given(angle=ANGLES, shift=st.integers(-14, 30))  # the end stays beyond the zone of 5 deg
def test_shifting_angle_and_end_together_changes_no_room(angle, shift):
    angle = np.round(angle * 8) / 8  # eighths are exact, so that nothing moves across a line by rounding
    before, after = known(angle), known(angle + shift, end=20.0 + shift)
    for key in ("share_near_end", "share_past_end", "median_room_deg", "share_by_room_deg", "stays"):
        assert before[key] == pytest.approx(after[key]), key
    assert before["room_histogram"]["edges_deg"] == after["room_histogram"]["edges_deg"]
    assert before["room_histogram"]["share"] == pytest.approx(after["room_histogram"]["share"])


@settings(deadline=None)
@given(angle=ANGLES, start=st.floats(0, 1e5))
def test_when_it_was_played_does_not_matter(angle, start):
    spans = [(start - 1.0, start + 1e4)]
    before, after = known(angle), known(angle, start=start, spans=spans)
    for key in ("share_near_end", "median_room_deg", "stays"):
        assert before[key] == pytest.approx(after[key]), key


@settings(deadline=None)
@given(inside=hnp.arrays(np.bool_, st.integers(0, 60)))
def test_stays_equal_a_plain_count(inside):
    lengths, run = [], 0
    for flag in [*inside.tolist(), False]:
        if flag:
            run += 1
        elif run:
            lengths.append(run * 0.5)
            run = 0
    assert stays(inside, 0.5).length_s.tolist() == lengths


# ---- offset bands


@pytest.mark.parametrize(
    ("motion", "source", "options", "checked", "unchecked"),
    [
        ("ankle_dorsiflexion", "this session", {}, 4.0, 6.0),
        ("ankle_dorsiflexion", "earlier session", {}, 7.0, 8.3),
        ("ankle_dorsiflexion", "typed", {}, 7.0, 8.3),
        ("ankle_dorsiflexion", "norm", {}, 12.0, 12.8),
        ("hip_flexion", "this session", {}, 6.0, 7.5),
        ("hip_internal_rotation", "this session", {}, 6.0, 7.5),
        ("hip_external_rotation", "this session", {"by_shank": False}, 10.0, 11.0),
        ("hip_spread", "this session", {}, 5.0, 6.7),
        ("hip_horizontal_abduction", "this session", {}, 9.0, 10.1),
    ],
)
def test_default_half_widths(motion, source, options, checked, unchecked):
    """The table of the module: ours, no published source; the ankle's from `benchmarks/offset_band.py`.

    Unchecked: in quadrature with the smallest slip that would have been found, 4.5 deg.
    """
    band = offset_band(motion, source, end_shift_deg=0.5, **options)
    assert band.half_width_deg == checked
    assert "found the clips in place" in band.rests_on
    wider = offset_band(motion, source, **options)
    assert wider.half_width_deg == pytest.approx(math.hypot(checked, 4.5)) == pytest.approx(unchecked, abs=0.06)
    assert "may have slipped by 4.5 deg unseen" in wider.rests_on


def test_no_band_is_narrower_than_the_angle_is_known():
    """A hip whose heading is not sure carries that into its figures."""
    sure = offset_band("hip_spread", "this session", end_shift_deg=0.5, angle_deg=3.0)
    unsure = offset_band("hip_spread", "this session", end_shift_deg=0.5, angle_deg=8.2)
    assert (sure.half_width_deg, unsure.half_width_deg) == (5.0, 8.2)
    assert "itself known to within 8.2 deg" in unsure.rests_on
    assert "itself known" not in sure.rests_on


def test_good_repetitions_and_end_checks_narrow_the_ankle_band_and_bad_ones_widen_it():
    good = offset_band(
        "ankle_dorsiflexion", "this session", standard_error_deg=0.5, repetitions_used=3, end_shift_deg=0.2
    )
    bad = offset_band(
        "ankle_dorsiflexion", "this session", standard_error_deg=0.5, repetitions_used=3, end_shift_deg=-4
    )
    assert 2.0 <= good.half_width_deg < 6.0 < bad.half_width_deg
    assert "3 repetitions and an end check that moved 0.2 deg" in good.rests_on


@pytest.mark.parametrize("checked", [False, True])
def test_the_ankle_band_covers_offsets_it_was_not_told(checked):
    """400 offsets between range and playing from N(0, s), s from 1 to 4 deg: 93 to 99 % within (ours, no source)."""
    rng = np.random.default_rng(6)
    within, spent, needed = 0, 0.0, 0.0
    for _ in range(400):
        s = rng.uniform(1, 4)
        offset = rng.normal(0, s)
        repetitions = rng.normal(0, 1.2, 3)
        band = offset_band(
            "ankle_dorsiflexion",
            "this session",
            standard_error_deg=float(np.std(repetitions, ddof=1) / math.sqrt(3)),
            repetitions_used=3,
            end_shift_deg=abs(offset + rng.normal(0, 2.0)) if checked else None,
        )
        error = abs(offset - repetitions.mean())
        within += error <= band.half_width_deg
        spent += interval_score(band.half_width_deg, error)
        needed += interval_score(1.96 * math.hypot(s, 1.2 / math.sqrt(3)), error)
    assert 0.93 <= within / 400 <= 0.99
    assert spent <= 1.3 * needed


def interval_score(half, error):
    """Of a 95 % interval (Gneiting & Raftery 2007, J Am Stat Assoc 102:359-378): its width, and 40 times each miss."""
    return 2 * half + 40 * max(0.0, error - half)


def test_a_shifted_pose_widens_the_hip_band_only_beyond_two_degrees():
    assert offset_band("hip_flexion", "this session", end_shift_deg=1.9).half_width_deg == 6.0
    assert offset_band("hip_flexion", "this session", end_shift_deg=8.0).half_width_deg == pytest.approx(10.0)
