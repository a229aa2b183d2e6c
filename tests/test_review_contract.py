"""What a reviewer found against the contract: clocks inside each leg, absent motions named, one sentence a fault."""

import dataclasses

import numpy as np
import pytest
from analysed import analysed, rmse, store
from footroom.analysis.clocks import FITTED_S, RateSize, clocks, neighbours
from footroom.analysis.motions import words
from footroom.dashboard.command import run
from footroom.logger.logbook import Logbook
from physics_leg import Person, PhysicsParameters, SetupScript, simulate
from physics_model import require_mujoco

SIX = [f"{side}_{segment}" for side in ("left", "right") for segment in ("foot", "shank", "thigh")]
MOTIONS = {
    "ankle_dorsiflexion",
    "ankle_plantarflexion",
    "hip_flexion",
    "hip_horizontal_abduction",
    "hip_horizontal_adduction",
    "hip_internal_rotation",
    "hip_external_rotation",
}


@pytest.fixture(scope="module")
def two_legs():
    require_mujoco()
    setups = (SetupScript(playing_s=30.0),)
    return simulate(PhysicsParameters(seed=3, sides=("right", "left"), setups=setups, person=Person(cross_deg=1.0)))


def late(physics, name, by_s):
    """The same recordings, one clip stamped later by `by_s`."""
    moved = dataclasses.replace(physics.clips[name], time_s=physics.clips[name].time_s + by_s)
    return {clip: moved if clip == name else record for clip, record in physics.clips.items()}


def wandering(seed, seconds=400.0, rate_hz=50.0):
    """A size of angular rate that comes and goes as moves do [rad/s]."""
    rng = np.random.default_rng(seed)
    n = round(seconds * rate_hz)
    smooth = np.convolve(rng.normal(size=n), np.hanning(25) / 12.0, mode="same")
    loud = np.repeat(rng.uniform(0.1, 2.0, n // 200 + 1), 200)[:n]
    return np.abs(smooth) * loud


def test_every_leg_has_a_chain_of_its_own_without_a_pelvis():
    reached = neighbours(SIX)
    assert {pair[1] for pair in reached} == set(SIX) - {"left_foot", "right_foot"}
    assert ("right_foot", "right_shank") in reached


def test_a_pelvis_ties_both_legs_to_the_first_clip():
    assert {other for _, other in neighbours([*SIX, "pelvis"])} == {*SIX, "pelvis"} - {"left_foot"}


@pytest.mark.parametrize("late_s", [-9.0, -0.6, 0.3, 12.4])
def test_a_foot_that_mostly_moves_alone_still_shows_its_shank_s_clock(late_s):
    """Half the foot's motion is its own, so that whole recordings correlate at about a half only."""
    shank, own = wandering(1), 1.2 * wandering(2)
    own[4000:9000] = 0.0  # moves that turn both as one
    sizes = {"right_foot": RateSize(0.0, shank + own), "right_shank": RateSize(late_s, shank)}
    clock = clocks(sizes, {"right_foot": [(90.0, 170.0)]})["right_shank"]
    assert clock.offset_s == pytest.approx(-late_s, abs=0.02)
    assert not clock.unlike


@pytest.mark.parametrize(("late_s", "believed"), [(0.03, False), (-0.06, False), (0.3, True)])
def test_clocks_fitted_from_arrivals_are_believed_against_small_shifts_of_the_motion(late_s, believed):
    shank = wandering(1)
    sizes = {"right_foot": RateSize(0.0, shank), "right_shank": RateSize(late_s, shank)}
    alike = {"right_foot": [(90.0, 170.0)]}
    assert clocks(sizes, alike)["right_shank"].offset_s == pytest.approx(-late_s, abs=0.02)
    found = clocks(sizes, alike, FITTED_S)["right_shank"].offset_s
    assert found == pytest.approx(-late_s if believed else 0.0, abs=0.02)


def test_neighbours_that_never_move_alike_are_left_alone_and_said():
    sizes = {"right_foot": RateSize(0.0, wandering(1)), "right_shank": RateSize(0.0, wandering(2))}
    clock = clocks(sizes, {"right_foot": [(90.0, 170.0)]})["right_shank"]
    assert (clock.offset_s, clock.skew) == (0.0, 0.0)
    assert clock.unlike


@pytest.mark.parametrize("name", ["right_shank", "left_shank"])
def test_a_shank_s_clock_is_found_on_either_leg_whichever_clip_is_listed_first(two_legs, tmp_path, name):
    result = analysed(tmp_path / "late", two_legs, clips=late(two_legs, name, 1.1))
    assert any(f"{name} ran on another clock: shifted by -1.1" in m for m in result.quality["messages"])
    side = name.split("_")[0]
    assert rmse(result.errors(two_legs, f"{side}_ankle_dorsiflexion")) <= 0.6


def test_motions_without_their_clips_are_named_with_the_reason(two_legs, tmp_path):
    pair = {n: r for n, r in two_legs.clips.items() if n in ("left_foot", "left_shank")}
    phases = [p for p in two_legs.phases if p.side != "right"]
    result = analysed(tmp_path / "pair", two_legs, clips=pair, phases=phases)
    found = set(result.exposure["setups"]["near"]["left"])
    withheld = result.withheld()
    assert "ankle_dorsiflexion" in found
    assert {words("left", motion) for motion in MOTIONS - found} <= set(withheld)
    assert withheld["left hip flexion"] == "no thigh clip is worn on the left"
    assert not any(what.startswith("right") for what in withheld), "nothing is worn there"


def test_a_leg_that_cannot_be_aligned_names_its_motions_and_why(two_legs, tmp_path):
    phases = [p for p in two_legs.phases if "rotation" not in p.name]
    withheld = analysed(tmp_path / "norotation", two_legs, phases=phases).withheld()
    for side in ("right", "left"):
        assert "the thigh's long axis is unknown" in withheld[f"{side} hip internal rotation"]
    assert "both hips" in withheld["hip spread"]


def test_an_unusable_setting_is_one_sentence_however_many_sessions(two_legs, tmp_path, capsys):
    logbook = Logbook.create(tmp_path / "book")
    for _ in range(2):
        store(logbook, two_legs.clips, two_legs.phases, participant=two_legs.participant, setups=two_legs.setups)
    (logbook.path / "logbook.toml").write_text("schema_version = 1\n[analysis]\nblock_s = -5\n", encoding="utf-8")
    assert run(["analyze", "--logbook", str(logbook.path)]) == 2
    err = capsys.readouterr().err.strip()
    assert err.count("block_s") == 1
    assert len(err.splitlines()) == 1
    assert "line 3" in err


def test_a_shank_on_a_clock_of_its_own_with_no_time_in_common_is_brought_along(two_legs, tmp_path):
    result = analysed(tmp_path / "apart", two_legs, clips=late(two_legs, "right_shank", 700.0))
    assert any("right_shank ran on another clock: shifted by -700.0" in m for m in result.quality["messages"])
    assert rmse(result.errors(two_legs, "right_ankle_dorsiflexion")) <= 0.6


def test_a_thigh_lifted_over_a_hanging_shank_makes_no_strangers(two_legs, tmp_path):
    """Without rotation moves only thigh lifts are left, in which the shank need not turn: nothing is claimed."""
    phases = [p for p in two_legs.phases if "rotation" not in p.name]
    found = analysed(tmp_path / "lifts", two_legs, phases=phases).withheld()
    assert not any("did not move alike" in reason for reason in found.values())


ROTATIONS = ("range_internal_rotation", "range_external_rotation")


@pytest.mark.parametrize("swapped", [ROTATIONS, ROTATIONS[:1]], ids=["both", "one"])
def test_rotation_moves_named_the_other_way_round_are_said_and_spoil_no_other_angle(two_legs, tmp_path, swapped):
    """Gravity and the lifts tell which end of a sitting thigh is the knee, whatever the rotation moves are called."""
    other = dict(zip(ROTATIONS, ROTATIONS[::-1], strict=True))
    phases = [
        dataclasses.replace(p, name=other[p.name]) if p.side == "right" and p.name in swapped else p
        for p in two_legs.phases
    ]
    result = analysed(tmp_path / "swapped", two_legs, phases=phases)
    assert rmse(result.errors(two_legs, "right_hip_flexion")) < 2.0
    assert result.exposure["ranges"]["right"]["hip_flexion"]["source"] == "this session"
    if swapped == ROTATIONS:  # one of two phases of one name is left out without a word about both
        said = " ".join(result.quality["messages"])
        assert "rotation moves turned the other way than their names say; were internal and external" in said
        for motion in ("internal rotation", "external rotation"):
            assert f"Right hip {motion}: in the range phase the joint moved the other way" in said
