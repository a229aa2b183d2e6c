"""Figures by value: no Dash, no files, no browser."""

from __future__ import annotations

import numpy as np
import pytest
from footroom.dashboard.figures.room import rebinned, room_figure, share_figure
from footroom.dashboard.figures.theme import SEQUENTIAL, level_of
from footroom.dashboard.figures.traces import End, Span, phase_labels, thin, time_ticks, trace_figure
from hypothesis import given
from hypothesis import strategies as st


def setup(name="near", median=4.0, **changes):
    base = {
        "name": name,
        "median_room_deg": median,
        "band_room_deg": (median - 4, median + 4),
        "session_rooms_deg": [median - 0.5, median + 0.5],
        "edges_deg": [-1.0, 0.0, 1.0, 5.0, 6.0],
        "shares": [0.1, 0.2, 0.3, 0.4],
        "share_near_end": 0.6,
        "band_near_end": (0.2, 0.9),
        "session_shares": [0.55, 0.65],
    }
    return base | changes


def test_rebinning_keeps_the_whole_and_puts_each_bin_where_its_middle_lies():
    edges, shares = rebinned([0.0, 0.5, 1.0, 1.5, 2.0], [0.1, 0.2, 0.3, 0.4], 1.0)
    assert edges.tolist() == [0.0, 1.0]
    assert shares.tolist() == pytest.approx([0.3, 0.7])


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60), st.floats(-40, 40), st.sampled_from([0.25, 0.5, 1.0]))
def test_rebinning_never_loses_time(shares, start, width):
    edges = start + width * np.arange(len(shares) + 1)
    assert rebinned(edges, shares, 1.0)[1].sum() == pytest.approx(sum(shares))


def test_nothing_to_rebin_gives_nothing():
    assert [part.size for part in rebinned([], [], 1.0)] == [0, 0]


@pytest.mark.parametrize(("room", "level"), [(-0.1, 3), (0, 2), (4.9, 2), (5, 1), (9.9, 1), (10, 0)])
def test_levels_of_the_scale(room, level):
    assert level_of(room, 5.0) == level


def test_the_scale_gets_steadily_darker():
    """Relative luminance by WCAG 2.2 (w3.org/TR/WCAG22, definition of relative luminance)."""

    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    values = [luminance(colour) for colour in SEQUENTIAL]
    assert all((a + 0.05) / (b + 0.05) > 1.4 for a, b in zip(values, values[1:], strict=False))


def test_room_figure_shows_bars_band_sessions_median_and_zone():
    figure = room_figure([setup(), setup("far", 8.0)], 5.0)
    bars = [trace for trace in figure.data if trace.type == "bar"]
    assert [bar.name for bar in bars] == ["near", "far"]
    assert list(bars[0].marker.color) == [SEQUENTIAL[3], SEQUENTIAL[2], SEQUENTIAL[2], SEQUENTIAL[1]]
    assert sum(bars[0].y) == pytest.approx(1.0 / 0.4 * 0.42)
    lines = [trace for trace in figure.data if trace.type == "scatter" and trace.mode == "lines"]
    assert list(lines[1].x) == [4.0, 12.0]
    texts = [note.text for note in figure.layout.annotations]
    assert any("<b>far</b>" in text and "8.0°" in text and "4.0 to 12.0°" in text for text in texts)
    assert "end zone: less than 5° left" in texts
    low, high = figure.layout.xaxis.range
    assert low < -1 and high >= 12


def test_room_figure_without_a_histogram_or_zone_still_shows_the_median():
    figure = room_figure([setup(edges_deg=[], shares=[])], None)
    assert not [trace for trace in figure.data if trace.type == "bar"]
    assert [note.text for note in figure.layout.annotations][-1] == "the legs touch"
    assert [shape.type for shape in figure.layout.shapes] == ["line"]


def test_names_are_shown_as_they_are_not_as_markup():
    text = room_figure([setup(name="<b>&")], 5.0).layout.annotations[0].text
    assert "&lt;b&gt;&amp;" in text


def test_share_figure_is_in_percent_and_leaves_out_what_is_unknown():
    figure = share_figure([setup(), setup("far", share_near_end=None, band_near_end=None, session_shares=[])])
    assert [list(trace.x) for trace in figure.data] == [pytest.approx([20.0, 90.0]), pytest.approx([55, 65]), [60.0]]
    assert len(figure.layout.annotations) == 1


def test_thinning_keeps_extremes_and_ends():
    time = np.arange(0, 3600, 0.01)
    values = np.sin(time).astype(np.float32)
    values[123_456] = 9.0
    values[300_001] = -7.0
    x, y = thin(time, values, 1000)
    assert x.size <= 1000
    assert y.max() == 9.0 and y.min() == -7.0
    assert x[0] == time[0] and x[-1] == time[-1]


def test_gaps_are_left_blank_and_nothing_is_drawn_across_them():
    time = np.arange(0, 100, 0.01)
    values = np.ones(time.size, dtype=np.float32)
    values[(time > 40) & (time < 45)] = np.nan
    x, y = thin(time, values, 200)
    breaks = np.flatnonzero(np.isnan(y))
    assert breaks.size == 1
    assert x[breaks[0] - 1] == pytest.approx(40.0) and x[breaks[0] + 1] == pytest.approx(45.0)
    assert not ((x > 40.01) & (x < 44.99)).any()


def test_a_gap_in_time_without_missing_samples_is_a_gap_too():
    x, y = thin(np.array([0.0, 0.01, 5.0, 5.01]), np.ones(4, dtype=np.float32))
    assert np.isnan(y).tolist() == [False, False, True, False, False]
    assert np.isnan(x[2])


def test_a_lost_sample_is_not_a_gap():
    time = np.arange(0, 1, 0.01)
    values = np.ones(time.size, dtype=np.float32)
    values[50] = np.nan
    assert not np.isnan(thin(time, values)[1]).any()


@pytest.mark.parametrize("values", [np.full(5, np.nan), np.empty(0)])
def test_nothing_known_gives_nothing(values):
    x, y = thin(np.arange(values.size, dtype=float), values)
    assert x.size == y.size == 0


def test_a_window_shows_finer_samples_of_itself_only():
    time = np.arange(0, 1000, 0.01)
    values = np.sin(50 * time).astype(np.float32)
    x, _ = thin(time, values, 500, (400.0, 402.0))
    assert x.min() >= 399.98 and x.max() <= 402.02
    assert x.size == pytest.approx(202, abs=3)


@pytest.mark.parametrize(
    ("window", "words"),
    [
        ((0, 450), ["0:00", "2:00", "4:00", "6:00"]),
        ((0, 7200), ["0:00", "30:00", "1:00:00", "1:30:00", "2:00:00"]),
        ((61.3, 62.1), ["1:01.4", "1:01.6", "1:01.8", "1:02"]),
    ],
)
def test_time_ticks(window, words):
    places, found = time_ticks(window)
    assert found == words
    assert all(window[0] <= place <= window[1] for place in places)


def test_phase_labels_stand_in_the_middle_of_what_is_seen():
    spans = [Span(0, 100, "near"), Span(100, 101, "far"), Span(120, 200, "")]
    assert phase_labels(spans, (0, 200)) == ([50.0], ["near"])
    assert phase_labels(spans, (60, 100)) == ([80.0], ["near"])


def test_trace_figure_shades_the_end_zone_toward_its_end():
    time = np.arange(0, 10, 0.01)
    columns = {"right_ankle_dorsiflexion": 10 + 8 * np.sin(time), "left_ankle_dorsiflexion": -20 + np.sin(time)}
    ends = {
        "right_ankle_dorsiflexion": [End(17, 5, 1, "end of range")],
        "left_ankle_dorsiflexion": [End(-24, 5, -1, "end of range")],
    }
    figure = trace_figure(time, columns, ends, [Span(1, 9, "near")], {})
    zones = [(s.yref, s.y0, s.y1) for s in figure.layout.shapes if s.xref == "paper"]
    assert ("y2", 12, 17) in zones and ("y3", -24, -19) in zones
    assert any(ref == "y2" and low == 17 and high > 17 for ref, low, high in zones)
    assert any(ref == "y3" and high == -24 and low < -24 for ref, low, high in zones)
    assert any("end of range −24°" in note.text for note in figure.layout.annotations)
    assert list(figure.data[-1].text) == ["near"]
    assert figure.layout.xaxis3.matches == "x"
