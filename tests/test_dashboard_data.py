"""What the screens read and how sessions are gathered: the store, the cards, the words on quality."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from dashboard_logbook import figures, write_logbook, write_session
from footroom.dashboard.pages.session import came_from, in_short
from footroom.dashboard.pages.session_traces import ends_of, part_window, read_ahead, zoomed_window
from footroom.dashboard.store import Store, read_entry
from footroom.dashboard.summary import cards, quality_level, setup_figures
from footroom.dashboard.wording import NBSP
from footroom.logger.errors import LogbookError, NotInLogbook
from footroom.logger.logbook import Logbook
from footroom.logger.models import Session
from plotly.utils import PlotlyJSONEncoder


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return Store(write_logbook(tmp_path_factory.mktemp("store") / "class"))


def test_a_folder_that_is_no_logbook_is_refused(tmp_path):
    with pytest.raises(LogbookError, match=r"is no logbook"):
        Store(tmp_path)


def test_people_and_sessions_in_order(store):
    assert store.participants() == ["lark", "wren"]
    entries = store.entries("wren")
    assert [entry.session.id for entry in entries] == sorted(entry.session.id for entry in entries)
    assert all(entry.exposure and entry.participant == "wren" for entry in entries)


def test_what_is_not_analysed_says_so(store):
    entry = store.entries("lark")[0]
    assert entry.exposure is None and "run `footroom analyze`" in str(entry.problem)
    assert store.angle_columns(entry.session.id) == []


@pytest.mark.parametrize("text", ["{", "[]", '{"session": "x"}', '"a"'])
def test_damaged_figures_are_a_sentence_not_a_crash(tmp_path, text):
    Logbook.create(tmp_path / "L")
    name = write_session(tmp_path / "L", "wren", 0)
    (tmp_path / "L" / "sessions" / name / "derived" / "exposure.json").write_text(text, encoding="utf-8")
    assert "footroom analyze --force" in str(Store(tmp_path / "L").entry(name).problem)


def test_an_unknown_session_is_a_sentence(store):
    with pytest.raises(NotInLogbook):
        store.entry("nobody-2026-01-01")
    assert "nobody-2026-01-01" in str(read_entry(store, "nobody-2026-01-01"))


def test_angles_are_kept_until_their_file_changes(tmp_path):
    Logbook.create(tmp_path / "L")
    name = write_session(tmp_path / "L", "wren", 0)
    store = Store(tmp_path / "L")
    time, columns = store.angles(name, ["right_ankle_dorsiflexion"])
    assert time.dtype == np.float64 and columns["right_ankle_dorsiflexion"].shape == time.shape
    assert store.angles(name, ["right_ankle_dorsiflexion"])[0] is time
    import os

    path = tmp_path / "L" / "sessions" / name / "derived" / "angles.parquet"
    os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns + 10**9))
    assert store.angles(name, ["right_ankle_dorsiflexion"])[0] is not time


def test_only_the_last_sessions_are_kept_in_memory(store):
    names = [entry.session.id for entry in store.entries("wren")]
    for name in names:
        store.angles(name, ["right_ankle_dorsiflexion"])
    assert {key[0] for key in store._angles} == set(names[-3:])


def test_cards_gather_sessions_equally_and_put_what_is_judged_first(store):
    entries = store.entries("wren")
    row = {"side": "left", "motion": "hip_flexion", "measure": "median_room_deg", "primary": True}
    found = cards([e.exposure for e in entries], [e.session for e in entries], [row])
    assert (found[0].side, found[0].motion, found[0].primary) == ("left", "hip_flexion", True)
    assert [(card.side, card.motion) for card in found[1:3]] == [
        ("right", "ankle_dorsiflexion"),
        ("left", "ankle_dorsiflexion"),
    ]
    near = found[1].setups[0]
    rooms = [e.exposure["setups"]["near"]["right"]["ankle_dorsiflexion"]["median_room_deg"] for e in entries]
    assert near.name == "near" and near.session_rooms_deg == rooms
    assert near.median_room_deg == pytest.approx(np.mean(rooms))
    assert sum(near.shares) == pytest.approx(1.0)


def test_a_setup_name_with_two_throne_heights_is_two_setups(tmp_path):
    Logbook.create(tmp_path / "L")
    names = [write_session(tmp_path / "L", "wren", number) for number in range(2)]
    path = tmp_path / "L" / "sessions" / names[1] / "session.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["setups"][0]["throne_height_cm"] = 54
    path.write_text(json.dumps(data), encoding="utf-8")
    entries = Store(tmp_path / "L").entries("wren")
    card = cards([e.exposure for e in entries], [e.session for e in entries], [])[0]
    assert [one.name for one in card.setups if one.name.startswith("near")] == [
        "near (throne 50 cm)",
        "near (throne 54 cm)",
    ]


def test_a_motion_without_an_end_zone_keeps_its_room():
    contact = figures("hip_flexion", 20.0, 1) | {"share_near_end": None, "band_near_end": None, "share_past_end": None}
    one = setup_figures("near", [contact, contact])
    assert one.share_near_end is None and one.band_near_end is None
    assert one.median_room_deg == pytest.approx(contact["median_room_deg"])


def exposure_with(**quality):
    return {"setups": {"near": {"right": {"hip_flexion": {}}}}, "quality": quality}


@pytest.mark.parametrize(
    ("exposure", "level", "why"),
    [
        (None, "not analysed", "footroom analyze"),
        (exposure_with(), "good", ""),
        (exposure_with(slips=[{"clip": "right_foot"}]), "look at this", "turned on the leg"),
        (exposure_with(gaps=[{}]), "look at this", "missing"),
        (
            {"setups": {"near": {"right": {}}}, "quality": {"withheld": [{"reason": "no range"}]}},
            "withheld",
            "no range",
        ),
        (
            {"setups": {"near": {}}, "playing": {"near": {}}, "ranges": {"right": {"hip_flexion": {}}}},
            "good",
            "no playing",
        ),
    ],
)
def test_quality_in_words(exposure, level, why):
    found, reason = quality_level(exposure)
    assert found == level and why in reason


def test_a_session_in_short_has_the_share_and_the_room_with_their_bands_for_each_set_up():
    figures = {"zone_deg": 5, "share_near_end": 0.471, "band_near_end": [0.12, 0.59]}
    near = figures | {"median_room_deg": 5.2, "band_median_room_deg": [2.4, 8.0]}
    far = figures | {"share_near_end": 0.105, "band_near_end": [0.02, 0.2], "median_room_deg": None}
    setups = {name: {"right": {"ankle_dorsiflexion": one}} for name, one in (("near", near), ("far", far))}
    found = in_short({"setups": setups})
    assert found is not None
    text = json.loads(json.dumps(found, cls=PlotlyJSONEncoder))["props"]["children"][1]["props"]["children"][1]
    text = text.replace(NBSP, " ")
    assert "Playing time with less than 5° left: 47 % (12 to 59 %) with ‘near’, 10 % (2 to 20 %) with ‘far’." in text
    assert "Room left, half of the time more: 5.2° (2.4 to 8.0°) with ‘near’." in text
    assert in_short({"setups": {"near": {"right": {"hip_flexion": near}}}}) is None


def test_ends_carry_the_sign_of_their_column(store):
    exposure = store.entries("wren")[0].exposure
    ends = ends_of(exposure, "right_ankle_dorsiflexion")
    assert [(end.angle_deg, end.direction) for end in ends] == [(17.0, 1), (-38.0, -1)]
    assert ends_of(exposure, "right_knee_flexion") == []


@pytest.mark.parametrize(
    ("relayout", "window"),
    [
        ({"xaxis.range[0]": 3.0, "xaxis.range[1]": 5.0}, (3.0, 5.0)),
        ({"xaxis2.range": [1, 2]}, (1.0, 2.0)),
        ({"xaxis2.autorange": True}, (0.0, 9.0)),
        ({"autosize": True}, None),
        ({"xaxis.range[0]": 5.0, "xaxis.range[1]": 5.0}, None),
        ({"yaxis.range[0]": 0.0, "yaxis.range[1]": 1.0}, None),
        (None, None),
    ],
)
def test_what_a_zoom_asks_for(relayout, window):
    assert zoomed_window(relayout, (0.0, 9.0)) == window


def test_parts_of_a_session():
    assert part_window("all") is None and part_window(None) is None
    assert part_window("60.0:180.0") == (60.0, 180.0)


def test_the_graphs_library_is_the_version_that_plotly_carries():
    import plotly

    whole = (Path(plotly.__file__).parent / "package_data" / "plotly.min.js").read_bytes()[:200].decode()
    flat = (files("footroom.dashboard.assets") / "plotly-cartesian.min.js").read_text(encoding="utf-8")[:200]
    version = re.compile(r"plotly\.js (?:\(cartesian - minified\) )?v([0-9.]+)")
    assert version.search(flat)[1] == version.search(whole)[1]


def test_a_session_is_read_ahead_and_what_is_missing_is_left_to_the_page(store):
    store = Store(store.path)
    read_ahead(store, "nobody-2026-01-01")
    assert not store._angles
    read_ahead(store, "wren-2026-11-17")
    assert {name for _, name in store._angles} >= {"time_s", "right_ankle_dorsiflexion"}


@pytest.mark.parametrize(("heard_through", "says"), [("virtual", True), ("serial+virtual", True), ("serial", False)])
def test_a_recording_of_virtual_clips_is_said_to_be_of_nobody(heard_through, says):
    session = Session(
        id="s",
        participant={"id": "p01"},
        recorded_at="2026-11-20T18:00:00Z",
        setups=[],
        clips=[],
        phases=[],
        source={"kind": "recording", "heard_through": heard_through},
    )
    said = came_from(session)
    assert (said is not None) == says
    assert said is None or "nobody wore them" in said.children
