"""The sample evenings: the same from the same seed, as their README says, and possible for a person."""

import csv
import itertools
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from footroom.logger.csv_import import import_folder
from footroom.logger.errors import LogbookError
from footroom.logger.logbook import Logbook
from footroom.logger.models import PHASE_NAMES
from footroom.logger.virtual_clip import GRAVITY
from footroom.sample_sessions import build
from footroom.sample_sessions.clips import simulate
from footroom.sample_sessions.evening import RANGE_PHASE, plan_evening
from footroom.sample_sessions.example import plan_example, write_example
from footroom.sample_sessions.moves import COLUMN
from footroom.sample_sessions.music import press_curve, routine
from footroom.sample_sessions.pupils import HERON, ORDERS, PUPILS, SHOWN_MOTIONS, WREN
from footroom.sample_sessions.truth import (
    all_true_rooms,
    difference_table,
    played_angles,
    toward_end,
    true_differences,
    true_rooms,
    truth_table,
)
from scipy import stats

HERE = Path(str(resources.files("footroom.sample_sessions")))
SETUPS = ("near", "far", "wide")
FEET = (("wren", "right"), ("heron", "right"), ("heron", "left"))


@pytest.fixture(scope="module")
def rows():
    return all_true_rooms()


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """One evening of one pupil in a logbook, with what the progress callback was told."""
    path = tmp_path_factory.mktemp("samples") / "logbook"
    told = []
    ids = build(path, lambda *call: told.append(call), pupils=[WREN], evenings=[0])
    return path, ids, told


# --- in the logbook -------------------------------------------------------------------------------------------------


def test_build_makes_sessions_with_speaking_ids_and_tells_how_far_it_is(built):
    path, ids, told = built
    assert ids == ["wren-2026-10-28"] == Logbook(path).session_ids()
    assert told == [(0, 1), (1, 1)]


def test_building_again_adds_nothing(built):
    path, ids, _ = built
    assert build(path, pupils=[WREN], evenings=[0]) == ids
    assert Logbook(path).session_ids() == ids


def test_a_session_has_everything_an_evening_needs(built):
    path, ids, _ = built
    session = Logbook(path).session(ids[0])
    assert [clip.name for clip in session.clips] == ["right_foot", "right_shank", "right_thigh"]
    assert {setup.name for setup in session.setups} == set(SETUPS)
    names = [phase.name for phase in session.phases]
    assert set(names) == set(PHASE_NAMES) - {"slide"}
    played = [phase for phase in session.phases if phase.name == "playing"]
    assert [phase.setup for phase in played] == list(ORDERS[0])
    for phase in played:
        assert 120 <= phase.end_s - phase.start_s <= 180
        before = [p for p in session.phases if p.end_s <= phase.start_s][-3:]
        assert [p.name for p in before] == ["still", "rest_on_pedal", "lift_test"]
    assert all(a.end_s < b.start_s for a, b in itertools.pairwise(session.phases))
    assert names[-2:] == ["end_still", "end_range"]


def test_clips_feel_gravity_in_the_still_pose_and_move_like_feet_in_play(built):
    """Bounds: our plausibility bounds, no source (still 0.97-1.03 g, foot gyroscope peak 100-600 deg/s)."""
    path, ids, _ = built
    logbook = Logbook(path)
    session = logbook.session(ids[0])
    for clip in session.clips:
        samples = logbook.read_clip(ids[0], clip.name)
        assert np.median(np.diff(samples.time_s)) == pytest.approx(1 / 200)
        still = session.phases[0]
        inside = (samples.time_s > still.start_s) & (samples.time_s < still.end_s)
        assert 0.97 < np.linalg.norm(samples.acc[inside], axis=1).mean() / GRAVITY < 1.03
        assert samples.time_s[-1] >= session.phases[-1].end_s
    foot = logbook.read_clip(ids[0], "right_foot")
    playing = next(phase for phase in session.phases if phase.name == "playing")
    inside = (foot.time_s > playing.start_s) & (foot.time_s < playing.end_s)
    assert 100 < np.degrees(np.linalg.norm(foot.gyr[inside], axis=1).max()) < 600


def test_build_refuses_a_folder_that_holds_other_things(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", encoding="utf-8")
    with pytest.raises(LogbookError, match=r"letter\.txt"):
        build(tmp_path, pupils=[WREN], evenings=[0])
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


# --- the movement ---------------------------------------------------------------------------------------------------


def test_the_seed_makes_the_evening():
    t = np.arange(0, 300, 0.5)
    one, same, other = (plan_evening(WREN, 1, seed).angles("right", t) for seed in (7, 7, 8))
    np.testing.assert_array_equal(one, same)
    assert not np.allclose(one, other)


def test_a_coarse_look_and_a_fine_one_see_the_same_movement():
    evening = plan_evening(HERON, 0, playing_s=60)
    fine = evening.angles("left", np.arange(0, evening.duration_s, 0.05))
    coarse = evening.angles("left", np.arange(0, evening.duration_s, 0.25))
    np.testing.assert_allclose(fine[::5][: len(coarse)], coarse, atol=1e-9)


@pytest.mark.parametrize("pupil", PUPILS, ids=lambda pupil: pupil.id)
def test_the_evening_has_no_jumps(pupil):
    """Between two looks 5 ms apart no joint turns by more than 3 deg (600 deg/s, our bound, no source)."""
    evening = plan_evening(pupil, 0, playing_s=60)
    t = np.arange(0, evening.duration_s, 0.005)
    for side in pupil.sides:
        assert np.abs(np.degrees(np.diff(evening.angles(side, t), axis=0))).max() < 3.0


@pytest.mark.parametrize("pupil", PUPILS, ids=lambda pupil: pupil.id)
def test_range_check_reaches_the_planned_ends(pupil):
    evening = plan_evening(pupil, 0, playing_s=60)
    for side, motion in itertools.product(pupil.sides, RANGE_PHASE):
        phases = [p for p in evening.phases() if p.name == RANGE_PHASE[motion] and p.side in (None, side)]
        t = np.arange(phases[0].start_s, phases[0].end_s, 0.01)
        reached = toward_end(motion, evening.angles(side, t)).max()
        held = evening.held_deg[side][motion]
        assert len(held) == 5
        assert reached == pytest.approx(held.max(), abs=1.0)  # a body sways a little


def test_orders_are_turned():
    assert all(sorted(order) == sorted(SETUPS) for order in ORDERS)
    assert {order[0] for order in ORDERS} == set(SETUPS)
    followed = {pair for order in ORDERS for pair in itertools.pairwise(order)}
    assert followed == set(itertools.permutations(SETUPS, 2))


def test_playing_is_possible_for_an_ankle():
    """Our plausibility bounds, no source: -45 to +25 deg seated; heel-down strokes 3-12 deg."""
    evening = plan_evening(HERON, 2)
    for setup, side in itertools.product(SETUPS, HERON.sides):
        ankle = np.degrees(played_angles(evening, setup, side)[:, COLUMN["ankle_dorsiflexion"]])
        assert ankle.min() > -45 and ankle.max() < 25
    strokes = routine("right", 60.0, 100.0, np.random.default_rng(1))
    assert 60 / np.diff(strokes.onset_s).min() < 13 * 60  # no faster than 13 strokes a second
    assert strokes.depth_deg.min() >= 3 and strokes.depth_deg.max() <= 9
    t = np.arange(0, 60, 0.005)
    down = press_curve(t, strokes)
    assert np.interp(strokes.onset_s[0], t, down) == pytest.approx(strokes.depth_deg[0], rel=0.05)
    assert down.min() == 0.0


def test_heel_up_passages_only_where_the_pupil_plays_them():
    """With the heel up the ankle points down by 20 deg and more; the heel-down pupil never gets there."""
    for pupil, wanted in ((WREN, False), (HERON, True)):
        ankle = np.degrees(played_angles(plan_evening(pupil, 0), "near", "right")[:, COLUMN["ankle_dorsiflexion"]])
        assert (np.mean(ankle < -15) > 0.05) == wanted


# --- the faults -----------------------------------------------------------------------------------------------------


def test_the_dropped_clip_is_silent_for_twenty_seconds_where_the_readme_says():
    evening = plan_evening(WREN, 2, playing_s=90)
    clips = simulate(evening)
    time = clips["right_foot"][0]
    gap = int(np.argmax(np.diff(time)))
    assert time[gap + 1] - time[gap] == pytest.approx(20.0, abs=0.01)
    assert time[gap] == pytest.approx(evening.playing_start("far") + 55.0, abs=0.02)
    assert np.diff(clips["right_shank"][0]).max() == pytest.approx(1 / 200)


def test_the_turned_clip_shows_in_the_still_pose_at_the_end():
    """Gravity in the clip between first and last still pose: about 6 deg on the turned shank, little elsewhere."""
    evening = plan_evening(HERON, 1, playing_s=110)
    clips = simulate(evening)
    first, last = (next(p for p in evening.phases() if p.name == name) for name in ("still", "end_still"))
    tilt = {}
    for name, (time, acc, _) in clips.items():
        ups = [acc[(time > p.start_s) & (time < p.end_s)].mean(axis=0) for p in (first, last)]
        a, b = (up / np.linalg.norm(up) for up in ups)
        tilt[name] = np.degrees(np.arccos(a @ b))
    assert max(tilt, key=tilt.__getitem__) == "right_shank"
    assert tilt["right_shank"] > 4.0
    assert max(angle for name, angle in tilt.items() if name != "right_shank") < 4.0


# --- the true answers ----------------------------------------------------------------------------------------------


def test_the_readme_tells_the_truth(rows):
    readme = (HERE / "README.md").read_text(encoding="utf-8")
    assert truth_table(rows) in readme
    assert difference_table(rows) in readme


def test_every_setup_side_and_motion_has_its_true_answer(rows):
    per_evening = len(SETUPS) * len(SHOWN_MOTIONS)
    assert len(rows) == 4 * (1 + 2) * per_evening
    assert all(0.0 <= row.share_near_end <= 1.0 for row in rows)


@pytest.mark.parametrize(("pupil", "side"), FEET)
def test_near_and_far_truly_differ_and_far_and_wide_do_not(rows, pupil, side):
    """Paired t over the four evenings (scipy as reference), on the true median room."""
    clear = true_differences(rows, "near", "far", pupil, side, "ankle_dorsiflexion")
    unclear = true_differences(rows, "far", "wide", pupil, side, "ankle_dorsiflexion")
    assert clear.min() > 3.0 and stats.ttest_1samp(clear, 0.0).pvalue < 0.01
    assert abs(unclear.mean()) < 1.5 and stats.ttest_1samp(unclear, 0.0).pvalue > 0.1


@pytest.mark.parametrize("pupil", ["wren", "heron"])
def test_the_bass_drum_foot_has_little_room_near_and_more_far(rows, pupil):
    def share(setup):
        wanted = (pupil, setup, "right", "ankle_dorsiflexion")
        return np.mean([r.share_near_end for r in rows if (r.pupil, r.setup, r.side, r.motion) == wanted])

    assert 0.30 <= share("near") <= 0.60
    assert 0.05 <= share("far") <= 0.15


# --- the example import folder -----------------------------------------------------------------------------------


def test_the_example_folder_can_be_imported(tmp_path):
    session_id = import_folder(HERE / "example_import", tmp_path / "logbook")
    session = Logbook(tmp_path / "logbook").session(session_id)
    assert session_id == "robin-2026-10-28"
    assert session.warnings == []
    assert [clip.name for clip in session.clips] == ["right_foot", "right_shank"]
    assert sum(path.stat().st_size for path in (HERE / "example_import").iterdir()) < 1.2e6


def test_the_example_folder_is_what_the_script_writes(tmp_path):
    """Numbers to the last digit but one: other processors may round the last one otherwise."""
    write_example(tmp_path / "again")
    kept = HERE / "example_import"
    assert (tmp_path / "again" / "import.toml").read_text("utf-8") == (kept / "import.toml").read_text("utf-8")
    for name in ("right_foot.csv", "right_shank.csv"):
        one, other = (
            [*csv.reader((folder / name).read_text("utf-8").splitlines())] for folder in (tmp_path / "again", kept)
        )
        assert one[0] == other[0]
        np.testing.assert_allclose(np.array(one[1:], float), np.array(other[1:], float), atol=2e-3)


def test_the_readme_tells_the_truth_of_the_example_too():
    (row,) = true_rooms(plan_example())
    end, room = f"active end {row.active_end_deg:.1f} deg", f"median room {row.median_room_deg:.1f} deg"
    told = f"{end}, {room}, share near end {row.share_near_end:.0%}."
    assert (row.setup, row.motion) == ("practice", "ankle_dorsiflexion")
    assert told in " ".join((HERE / "README.md").read_text(encoding="utf-8").split())
