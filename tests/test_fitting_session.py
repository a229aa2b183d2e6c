"""A fitting session from an empty logbook, with clips on the virtual legs: throne, slide, range, map, step, gain.

Everything goes through the commands that a coach types; the virtual drummer's own leg is the truth.
"""

import json

import numpy as np
import pytest
from footroom.dashboard.app import page_at
from footroom.dashboard.command import run
from footroom.dashboard.store import Store
from footroom.logger.logbook import Logbook
from footroom.logger.virtual_drummer import ENDS_DEG
from footroom.logger.virtual_leg import LegAngles, leg_from_angles
from virtual_evening import PITCH_DEG, SPLAY_DEG, Sitter, evening, write

SITTER = Sitter()
GEOMETRY = ["spacing_cm=42", f"footboard_pitch_deg={PITCH_DEG}", f"foot_splay_deg={SPLAY_DEG}"]


def typed(capsys, path, *arguments):
    capsys.readouterr()
    assert run([*arguments, "--logbook", str(path), "--participant", "siskin", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def recorded(path, number, setups, **more):
    made = evening(SITTER, setups, number, playing_s=42, seed=number, **more)
    assert run(["import", str(write(made, path.parent / f"evening-{number}")), "--logbook", str(path)]) == 0
    assert run(["analyze", "--logbook", str(path)]) == 0
    return made


def true_width_cm(made, time_s):
    """Ball to ball of the drummer's own feet [cm]."""
    out = {}
    for side in ("right", "left"):
        angles = LegAngles.from_array(made.drummer.angles(side, time_s))
        pose = leg_from_angles(angles, SITTER.size, side, SITTER.hip_height)
        out[side] = pose.ankle + pose.foot @ np.array([SITTER.size.ball_to_ankle, -SITTER.size.ankle_height, 0.0])
    return 100 * (out["right"] - out["left"])[:, 2]


def test_a_fitting_session_from_an_empty_logbook_to_a_verified_gain(tmp_path, capsys):
    path = tmp_path / "evening-class"
    lengths = [
        word for key, value in SITTER.participant.items() if key != "id" for word in ("--person", f"{key}={value}")
    ]

    # The throne first: pedals that are noted before it is settled are noted, and it is said.
    typed(capsys, path, "setup", "near", "throne_height_cm=47", "thigh_slope_deg=-5", "balance_0_10=8", *lengths)
    early = typed(capsys, path, "setup", "near", "reach_cm=40", *GEOMETRY)
    assert "not settled yet" in early["warnings"][0]
    assert "not marked as settled" in typed(capsys, path, "placement")["why_no_suggestion"]
    assert typed(capsys, path, "setup", "near", "throne_settled=true")["warnings"] == []

    # An evening with clips: slide, range check, lift tests, two set-ups.
    made = recorded(path, 0, {"near": (40, 42), "mid": (41.5, 42)}, slide=True)
    sheet = typed(capsys, path, "range")
    ends = {(row["side"], row["motion"]): row for row in sheet["ranges"]}
    assert len(ends) == 12
    for phase, motion in (
        ("range_dorsiflexion", "ankle_dorsiflexion"),
        ("range_internal_rotation", "hip_internal_rotation"),
    ):
        for side in ("right", "left"):
            assert ends[side, motion]["end_deg"] == pytest.approx(ENDS_DEG[phase], abs=1.5)
            assert sum(one["practice"] for one in ends[side, motion]["repetitions"]) == 2
    [slide] = sheet["slides"]
    assert len(slide["repetitions"]) >= 3 and not any(one["tilted"] for one in slide["repetitions"])
    for one in slide["repetitions"]:
        true = np.percentile(true_width_cm(made, np.linspace(one["start_s"], one["end_s"], 200)), 80)
        assert one["widest_cm"] == pytest.approx(true, abs=slide["plus_minus_cm"])
    lifts = {(one["setup"], one["side"]): one["lifted_deg"] for one in sheet["on_the_pedal"]}
    assert set(lifts) == {(setup, side) for setup in ("near", "mid") for side in ("right", "left")}
    assert all(6 < lifted < 11 for lifted in lifts.values())

    # The map and the step to try.
    before = typed(capsys, path, "placement", "--setup", "near")
    assert before["learned"]["sessions"] == 1 and before["map"] is not None
    assert (
        before["reach_cm"]["left"]["from"]["limit"] == "ankle_dorsiflexion"
        and not before["reach_cm"]["left"]["now_is_clear"]
    )
    step = before["suggestion"]
    assert step["knob"] == "reach_cm" and 2 <= step["by"] <= 4
    assert "Then measure again." in step["sentence"]

    # The third set-up stands where the step led, is measured, and the gain is what was expected.
    reach = 40 + step["by"]
    typed(capsys, path, "setup", "next", "throne_height_cm=47", f"reach_cm={reach}", *GEOMETRY)
    recorded(path, 1, {"next": (reach, 42)}, ranges=False)
    after = typed(capsys, path, "placement", "--setup", "next")
    assert after["throne_settled"] is True, "the same height as the one that was settled"
    side, motion = step["helps"]["side"], step["helps"]["motion"]
    gain = after["measured_room_deg"][side][motion] - before["measured_room_deg"][side][motion]
    low, high = step["helps"]["interval_deg"]
    assert low < gain < high and gain > 2
    score = after["learned"]["score"]
    assert score["rmse_deg"] <= 3 and score["rmse_deg"] < score["model_alone_rmse_deg"]

    # The choice is kept, and the pages tell the same.
    chosen = ("setup", "next", "comfort_0_10=8", "control_0_10=7", "chosen=true")
    assert typed(capsys, path, *chosen)["setups"][0]["chosen"] is True
    store = Store(Logbook.open(path).path)
    for address in ("/range", "/setup", "/placement", "/"):
        page = page_at(store, address, "?participant=siskin")
        assert page.found and page.title != "Cannot be shown", address
