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
    figures |= motion_detail(trace, 0.01, end, 5.0, count_cycles(trace), figures["blocks"], [(None, None)])
    assert set(figures) | {"label"} == {m.name for m in MOTION_MEASURES}


def test_every_figure_of_an_analysed_session_is_registered(tmp_path):
    logbook = Logbook.open(tmp_path / "L", create=True)
    session_id = import_folder(Path(str(files("footroom.sample_sessions"))) / "example_import", logbook)
    analyze_session(logbook, session_id)
    exposure = read_exposure(logbook, session_id)
    found = set()
    for sides in exposure["playing"].values():
        for figures in sides.values():
            found |= set(figures) | set(figures["strokes"]) | set(figures["trends"])
            assert figures["strokes"]["count"] > 10
            # What is null has its reason.
            missing = {name for name in ("lift_test", "knee", "range_change_deg") if figures[name] is None}
            assert missing <= set(figures["not_known"])
            no_trend = {f"trend of {name}" for name, trend in figures["trends"].items() if trend is None}
            assert no_trend <= set(figures["not_known"])
    assert found
    assert found <= set(REGISTRY)


def test_a_measure_without_page_would_be_noticed():
    assert "`no_such_measure_deg`" not in PAGES


@pytest.mark.parametrize("trace", [np.full(500, np.nan), np.zeros(0), np.array([1.0])])
def test_a_motion_of_which_little_is_known_gets_no_made_up_figures(trace):
    end = ActiveEnd(15.0, "typed")
    found = motion_detail(trace, 0.01, end, 5.0, count_cycles(trace), [], [])
    assert found["room_trend"] is None
    assert found["by_exercise"] == []
    assert found["median_cycle_deg"] is None
    if not np.isfinite(trace).any():
        assert found["level_duration"] is None
        assert found["cycles_per_minute"] is None
        assert found["gaps_per_minute"] is None


def test_a_contact_end_has_levels_but_no_stays():
    trace = 12 + 3 * np.sin(np.arange(0, 60, 0.01))
    end = ActiveEnd(15.0, "typed", contact=True)
    found = motion_detail(trace, 0.01, end, 5.0, count_cycles(trace), [], [])
    assert found["level_duration"] is not None
    assert found["gaps_per_minute"] is None
    assert found["stays_by_duration"] is None
