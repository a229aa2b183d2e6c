"""What a reviewer found in spoilt sessions: one sentence each, no number that is not known, the others go on."""

from dataclasses import replace

import ankle_clips
import numpy as np
import pytest
from analysed import result_of, store
from footroom.analysis.hinge import find_hinge
from footroom.analysis.pipeline import analyze_session
from footroom.dashboard.command import run
from footroom.logger.logbook import Logbook
from footroom.logger.unit_checks import stuck_sensor


def analysed_ankle(folder, clips=None, phases=ankle_clips.PHASES):
    logbook = Logbook.create(folder)
    session_id = store(logbook, clips or ankle_clips.clips(), phases, setups=ankle_clips.SETUPS)
    analyze_session(logbook, session_id)
    return result_of(logbook, session_id)


@pytest.mark.parametrize("name", ["right_foot", "right_shank"])
@pytest.mark.parametrize("bias", [0.0, 0.01])
def test_a_gyroscope_that_was_off_gives_no_angle(tmp_path, name, bias):
    clips = ankle_clips.clips()
    clips[name] = replace(clips[name], gyr=np.full_like(clips[name].gyr, bias))
    found = analysed_ankle(tmp_path / "L", clips)
    reasons = [entry["reason"] for entry in found.quality["withheld"] if entry["what"] == name]
    assert "the gyroscope was off: switch it on" in reasons[0]
    assert "the gyroscope was off" in found.withheld()["right ankle dorsiflexion"]
    assert not any(found.exposure["setups"].values())


def test_both_gyroscopes_off_give_no_angle(tmp_path):
    clips = {name: replace(clip, gyr=np.zeros_like(clip.gyr)) for name, clip in ankle_clips.clips().items()}
    found = analysed_ankle(tmp_path / "L", clips)
    assert {"right_foot", "right_shank"} <= set(found.withheld())
    assert not any(found.exposure["setups"].values())


@pytest.mark.parametrize("still", [0, 1])
def test_a_clip_that_never_turned_shows_no_hinge(still):
    rates = [np.random.default_rng(k).normal(size=(2000, 3)) for k in (1, 2)]
    rates[still] = np.zeros((2000, 3))
    hinge = find_hinge(rates[0], rates[1], 100.0)
    assert hinge.why_not == "a clip did not turn at all"
    assert np.isfinite([hinge.first.share_explained, hinge.second.share_explained]).all()


def test_sensors_that_never_change_are_named():
    noise, same = np.random.default_rng(1).normal(size=(100, 3)), np.ones((100, 3))
    assert stuck_sensor(noise, noise) is None
    assert "so the gyroscope was off; switch it on" in (stuck_sensor(noise, same) or "")
    assert "so the accelerometer was off; switch it on" in (stuck_sensor(same, noise) or "")


@pytest.mark.parametrize("seconds", [0.01, 0.5])
def test_playing_of_less_than_a_second_gives_no_figure(tmp_path, seconds):
    phases = [
        phase | {"end_s": phase["start_s"] + seconds} if phase.get("setup") == "far" else phase
        for phase in ankle_clips.PHASES
    ]
    found = analysed_ankle(tmp_path / "L", phases=phases)
    assert "too little for a figure" in found.withheld()["right ankle dorsiflexion on 'far'"]
    assert found.exposure["setups"]["far"] == {}
    assert "ankle_dorsiflexion" in found.exposure["setups"]["near"]["right"]


def test_playing_of_the_other_side_only_is_named(tmp_path):
    phases = [p | {"side": "left"} if p["name"] == "playing" else p for p in ankle_clips.PHASES]
    found = analysed_ankle(tmp_path / "L", phases=phases)
    assert "no playing phase holds for it" in found.withheld()["right ankle dorsiflexion"]
    assert not any(found.exposure["setups"].values())


def test_a_lost_clip_file_spoils_its_session_only(tmp_path, capsys, caplog):
    logbook = Logbook.create(tmp_path / "L")
    clips = ankle_clips.clips()
    first, second = (store(logbook, clips, ankle_clips.PHASES, setups=ankle_clips.SETUPS) for _ in range(2))
    logbook.clip_path(first, "right_foot").unlink()
    assert run(["analyze", "--logbook", str(logbook.path)]) == 1
    out = capsys.readouterr().out
    assert f"{second}: analysed" in out
    assert f"{first}: " not in out
    assert "right_foot.arrow: No such file or directory" in caplog.text
    assert run(["analyze", first, "--logbook", str(logbook.path)]) == 2
    assert "right_foot.arrow" in capsys.readouterr().err


def test_a_setting_that_is_not_known_is_said_once(tmp_path, caplog):
    logbook = Logbook.create(tmp_path / "L")
    text = (logbook.path / "logbook.toml").read_text(encoding="utf-8")
    (logbook.path / "logbook.toml").write_text(text.replace("# block_s = 60", "blocks = 5"), encoding="utf-8")
    for _ in range(3):
        logbook.settings()
    assert caplog.text.count("setting `analysis.blocks` is not known to this Footroom and has no effect") == 1
