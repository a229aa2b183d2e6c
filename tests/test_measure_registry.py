"""The registry of measures: complete, with a source each, and on a page each. Looks at a checkout."""

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from footroom.analysis.active_range import ActiveEnd
from footroom.analysis.cycles import count_cycles
from footroom.analysis.exposure import motion_exposure
from footroom.analysis.measure_registry import MOTION_MEASURES, PLAYING_MEASURES, REGISTRY
from footroom.analysis.motion_detail import motion_detail
from footroom.analysis.offset_band import Band
from footroom.analysis.pipeline import analyze_session, read_exposure
from footroom.logger.csv_import import import_folder
from footroom.logger.logbook import Logbook
from reference_data import REPOSITORY

PAGES = "\n".join(p.read_text(encoding="utf-8") for p in sorted((REPOSITORY / "docs" / "measures").glob("*.md")))


@pytest.mark.parametrize("measure", [*MOTION_MEASURES, *PLAYING_MEASURES], ids=lambda m: m.name)
def test_each_measure_has_its_line_its_unit_its_sentence_and_its_source(measure):
    lines = [line for line in PAGES.splitlines() if line.startswith("|") and f"`{measure.name}`" in line.split("|")[1]]
    assert lines, f"{measure.name} has no line in docs/measures"
    assert measure.unit in {cell.strip() for line in lines for cell in line.split("|")}, measure.name
    assert measure.plain.endswith(".")
    assert measure.definition.endswith(".")
    assert measure.source.strip()
    assert measure.direction in ("more", "less", "")


def test_no_name_means_two_things():
    assert len(REGISTRY) == len(MOTION_MEASURES) + len(PLAYING_MEASURES)


def test_every_figure_of_a_motion_is_registered():
    time_s = np.arange(0, 60, 0.01)
    end = ActiveEnd(15.0, "typed")
    trace = 12 + 3 * np.sin(time_s)
    figures = motion_exposure(time_s, trace, [(0, 60)], end, zone_deg=5, band=Band(4.0, "a test"))
    assert isinstance(figures, dict)
    figures |= motion_detail(trace, 0.01, end, 4.0, count_cycles(trace), figures["blocks"], [(None, None)])
    assert set(figures) | {"label", "angle_half_width_deg"} == {m.name for m in MOTION_MEASURES}


WITHOUT_BAND = {"active_end_deg", "angle_percentiles_deg", "room_histogram", "median_cycle_deg", "cycles_per_minute"}
"""Of the angle itself (`angle_half_width_deg`), for drawing, or of differences of angles, which no offset changes."""


def test_every_exposure_figure_carries_its_band():
    """A figure in degrees, seconds, shares or counts has its band in `bands`, beside it, or in it."""
    time_s = np.arange(0, 60, 0.01)
    end, trace = ActiveEnd(15.0, "typed"), 12 + 3 * np.sin(time_s)
    figures = motion_exposure(time_s, trace, [(0, 60)], end, zone_deg=5, band=Band(4.0, "a test"))
    figures |= motion_detail(trace, 0.01, end, 4.0, count_cycles(trace), figures["blocks"], [("eighths", 90.0)])
    given = {"zone_deg", "known_s", "playing_s", "block_s", "band_half_width_deg", "angle_half_width_deg"}
    beside = {"median_room_deg": "band_median_room_deg", "share_near_end": "band_near_end"}
    beside |= {"share_past_end": "band_past_end"}
    beside |= {f"share_by_{what}": f"band_by_{what}" for what in ("room_deg", "fraction")}
    for measure in MOTION_MEASURES:
        name = measure.name
        if measure.unit == "-" and name not in ("stays", "held_stays", "stays_by_duration", "by_exercise"):
            continue
        if name in given | WITHOUT_BAND | set(beside.values()) or name in ("relative_cycle_damage", "room_trend"):
            continue  # given, or a ratio and a trend with an interval of its own
        value = figures[name]
        if name in ("level_duration", "stays_by_duration"):
            assert np.all(np.array(value["low"]) <= value["share"]) and np.all(
                np.array(value["high"]) >= value["share"]
            )
        elif name == "by_exercise":
            assert value[0]["band_near_end"][0] <= value[0]["share_near_end"] <= value[0]["band_near_end"][1]
            assert np.ptp(value[0]["band_mean_block_room_deg"]) == pytest.approx(8.0)
        elif name in beside:
            assert figures[beside[name]] is not None, name
        else:
            low, high = figures["bands"][name]
            assert low <= value <= high, name


def test_every_figure_of_an_analysed_session_is_registered(tmp_path):
    logbook = Logbook.open(tmp_path / "L", create=True)
    session_id = import_folder(Path(str(files("footroom.sample_sessions"))) / "example_import", logbook)
    analyze_session(logbook, session_id)
    exposure = read_exposure(logbook, session_id)
    found = set()
    for sides in exposure["playing"].values():
        for figures in sides.values():
            found |= set(figures) | set(figures["strokes"]) | set(figures["trends"]) | set(figures["knee"] or ())
            assert figures["strokes"]["count"] > 10
            # What is null has its reason.
            missing = {name for name in ("lift_test", "knee", "range_change_deg") if figures[name] is None}
            assert missing <= set(figures["not_known"])
            no_trend = {f"trend of {name}" for name, trend in figures["trends"].items() if trend is None}
            assert no_trend <= set(figures["not_known"])
    assert found
    assert found <= set(REGISTRY)


def test_the_page_of_playing_says_what_the_registry_says():
    told = [line for line in PAGES.splitlines() if line.startswith("| `") and line.count(" | ") == 4]
    playing = [line for line in told if (REGISTRY.get(line.split("`")[1]) or MOTION_MEASURES[0]) in PLAYING_MEASURES]
    assert len(playing) == len(PLAYING_MEASURES)
    for line in playing:
        m = REGISTRY[line.split("`")[1]]
        assert line == f"| `{m.name}` | {m.unit} | {m.direction} | {m.plain} {m.definition} | {m.source} |"


@pytest.mark.parametrize("trace", [np.full(500, np.nan), np.zeros(0), np.array([1.0])])
def test_a_motion_of_which_little_is_known_gets_no_made_up_figures(trace):
    end = ActiveEnd(15.0, "typed")
    found = motion_detail(trace, 0.01, end, 4.0, count_cycles(trace), [], [])
    assert found["room_trend"] is None
    assert found["by_exercise"] == []
    assert found["median_cycle_deg"] is None
    if not np.isfinite(trace).any():
        assert found["level_duration"] is None
        assert found["cycles_per_minute"] is None
