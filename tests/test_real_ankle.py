"""A real ankle with an optical encoder, from the import folder to the answer.

Source: Zare Banadkouki, Zareinejad, Bahrami 2025, ICROM; recording described in ../shared/data/README.md. It has no
calibration moves: a still second, then walking. So the hinge axes come from the motion, their signs from typed hints.
"""

import shutil

import numpy as np
import pytest
from analysed import result_of, rmse
from footroom.analysis.pipeline import analyze_session
from footroom.dashboard.command import run
from footroom.logger.csv_import import import_folder
from footroom.logger.logbook import Logbook
from reference_data import reference_folder

COLUMN = "right_ankle_dorsiflexion"


@pytest.fixture(scope="module")
def ankle(tmp_path_factory):
    """(analysed, encoder angle at the analysis' times while playing, which of them)."""
    source = reference_folder("ankle_encoder")
    logbook = Logbook.create(tmp_path_factory.mktemp("ankle"))
    session_id = import_folder(source, logbook)
    assert analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    encoder = np.loadtxt(source / "reference.csv", delimiter=",", skiprows=1)
    time = result.angles["time_s"].to_numpy()
    playing = (time >= 1.0) & (time < 179.9)
    return result, np.interp(time[playing], encoder[:, 0], encoder[:, 1]), playing


def test_angle_against_the_encoder(ankle):
    result, encoder, playing = ankle
    found = result.angles[COLUMN].to_numpy()[playing]
    known = np.isfinite(found)
    assert known.mean() > 0.99
    error = (found - encoder)[known]
    assert rmse(error - error.mean()) <= 0.9
    assert abs(error.mean()) <= 1.0  # the zero rests on one still second


def test_share_near_the_end_against_the_encoder(ankle):
    result, encoder, _ = ankle
    figures = result.exposure["setups"]["walking"]["right"]["ankle_dorsiflexion"]
    assert (figures["active_end_deg"], figures["range_source"], figures["zone_deg"]) == (15.0, "typed", 5.0)
    true_share = float(np.mean(15.0 - encoder < 5.0))
    assert 0.1 < true_share < 0.3
    assert figures["share_near_end"] == pytest.approx(true_share, abs=0.03)
    low, high = figures["band_near_end"]
    assert low <= true_share <= high
    assert figures["median_room_deg"] == pytest.approx(np.median(15.0 - encoder), abs=1.0)
    low, high = figures["band_median_room_deg"]
    assert low <= np.median(15.0 - encoder) <= high


@pytest.mark.parametrize("room", ["7.5", "5", "2.5"])
def test_the_encoders_share_is_inside_the_band_at_every_line(ankle, room):
    result, encoder, _ = ankle
    figures = result.exposure["setups"]["walking"]["right"]["ankle_dorsiflexion"]
    true_share = float(np.mean(15.0 - encoder < float(room)))
    assert 0.0 < true_share < 0.6
    low, high = figures["band_by_room_deg"][room]
    assert low <= true_share <= high
    assert low < figures["share_by_room_deg"][room] < high
    assert figures["share_by_room_deg"][room] == pytest.approx(true_share, abs=0.04)


def test_it_says_how_the_axes_were_found(ankle):
    result, _, _ = ankle
    assert set(result.quality["axes"]) == {"right_foot", "right_shank"}
    for axis in result.quality["axes"].values():
        assert "hinge" in axis["method"]
        assert 0.0 < axis["error_deg"] < 5.0


def test_one_hint_is_enough(ankle, tmp_path):
    """Without the shank's hint its sign comes from the foot's: both turn alike across the hinge."""
    folder = tmp_path / "one-hint"
    shutil.copytree(reference_folder("ankle_encoder"), folder)
    toml = (folder / "import.toml").read_text(encoding="utf-8")
    head, _, tail = toml.rpartition('right_axis = "+z"\n')
    (folder / "import.toml").write_text(head + tail, encoding="utf-8")
    logbook = Logbook.create(tmp_path / "logbook")
    session_id = import_folder(folder, logbook)
    analyze_session(logbook, session_id)
    one = result_of(logbook, session_id)
    assert np.allclose(one.angles[COLUMN], ankle[0].angles[COLUMN], atol=0.01, equal_nan=True)


def test_without_any_hint_the_sign_is_open_and_nothing_is_guessed(tmp_path):
    folder = tmp_path / "no-hint"
    shutil.copytree(reference_folder("ankle_encoder"), folder)
    toml = (folder / "import.toml").read_text(encoding="utf-8")
    (folder / "import.toml").write_text(toml.replace('right_axis = "+z"\n', ""), encoding="utf-8")
    logbook = Logbook.create(tmp_path / "logbook")
    session_id = import_folder(folder, logbook)
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    assert list(result.angles.columns) == ["time_s"]
    assert any("give right_axis in import.toml" in reason for reason in result.withheld().values())
    assert result.exposure["setups"]["walking"] == {}


def test_one_set_up_cannot_be_compared(ankle, capsys):
    result, _, _ = ankle
    status = run(["compare", "--logbook", str(result.logbook.path), "--participant", "ankle-encoder"])
    said = capsys.readouterr()
    assert status == 2
    assert said.out == ""
    assert "one set-up only (walking)" in said.err


def test_hints_that_face_opposite_ways_are_said_and_give_no_angle(tmp_path):
    folder = shutil.copytree(reference_folder("ankle_encoder"), tmp_path / "opposite")
    toml = (folder / "import.toml").read_text(encoding="utf-8")
    (folder / "import.toml").write_text(toml.replace('right_axis = "+z"', 'right_axis = "-z"', 1), encoding="utf-8")
    logbook = Logbook.create(tmp_path / "logbook")
    session_id = import_folder(folder, logbook)
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    assert "right ankle dorsiflexion" in result.withheld()
    assert any("by their right_axis they face opposite ways" in message for message in result.quality["messages"])
