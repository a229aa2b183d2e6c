"""From stored clips to derived/: what the files hold, when work is skipped, and what bad sessions do.

The clips are cheap ones around one ankle; how near angles come is tested in test_angle_accuracy.py.
"""

import json
import shutil
from datetime import UTC, datetime, timedelta

import ankle_clips
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from analysed import result_of, silent, store
from footroom.analysis import pipeline, tracks
from footroom.analysis.pipeline import analyze_session, read_exposure
from footroom.dashboard.command import run
from footroom.logger.errors import AnalysisError, InputError, LogbookBusy, NotInLogbook
from footroom.logger.logbook import Logbook

WHEN = datetime(2026, 11, 20, 18, 30, tzinfo=UTC)
COLUMN = "right_ankle_dorsiflexion"
SWEEP_ROOM = {"0", "2.5", "5", "7.5", "10", "15"}


def add(logbook, *, without=(), clips=None, days=0, **more):
    """Store the ankle session without the named phases; returns its id."""
    phases = [p for p in ankle_clips.PHASES if p["name"] not in without]
    given = {"setups": ankle_clips.SETUPS, "recorded_at": WHEN + timedelta(days=days)} | more
    return store(logbook, clips or ankle_clips.clips(), phases, **given)


@pytest.fixture
def logbook(tmp_path):
    return Logbook.create(tmp_path / "logbook")


@pytest.fixture(scope="module")
def analysed_book(tmp_path_factory):
    """(logbook, session id) analysed once; tests copy it before they change anything."""
    logbook = Logbook.create(tmp_path_factory.mktemp("book") / "logbook")
    session_id = add(logbook)
    assert analyze_session(logbook, session_id) is True
    return logbook, session_id


@pytest.fixture
def book(analysed_book, tmp_path):
    shutil.copytree(analysed_book[0].path, tmp_path / "copy")
    return Logbook(tmp_path / "copy"), analysed_book[1]


def dorsiflexion(logbook, session_id, setup="near"):
    return read_exposure(logbook, session_id)["setups"][setup]["right"]["ankle_dorsiflexion"]


# ---- what the files hold


def no_constants(text):
    raise ValueError(f"{text} is not strict JSON")


def test_exposure_holds_every_agreed_key(analysed_book):
    logbook, session_id = analysed_book
    text = (logbook.derived_folder(session_id) / "exposure.json").read_text(encoding="utf-8")
    data = json.loads(text, parse_constant=no_constants)
    assert {"session", "setups", "quality", "parameters", "versions"} <= set(data)
    assert data["session"] == session_id
    assert set(data["setups"]) == {"near", "far"}
    assert {"slips", "axes", "gaps", "withheld", "messages"} <= set(data["quality"])
    assert data["parameters"]["zone_deg"]["ankle_dorsiflexion"] == 5.0
    assert data["parameters"]["block_s"] == 60.0
    assert {"footroom", "vqf"} <= set(data["versions"])
    figures = data["setups"]["near"]["right"]["ankle_dorsiflexion"]
    agreed = {"active_end_deg", "range_source", "zone_deg", "share_near_end", "share_past_end", "band_near_end"}
    agreed |= {"share_by_room_deg", "share_by_fraction", "median_room_deg", "band_median_room_deg"}
    assert agreed <= set(figures)
    assert set(figures["share_by_room_deg"]) == SWEEP_ROOM
    assert {"0.50", "1.00", "1.10"} <= set(figures["share_by_fraction"])
    for clip in ("right_foot", "right_shank"):
        assert {"method", "share_explained"} <= set(data["quality"]["axes"][clip])


def test_figures_agree_with_the_played_angle(analysed_book):
    """near: 11 + 5 sin, end 18: room 7 - 5 sin; median 7; room < 5 where sin > 0.4: acos(0.4) / pi = 0.369 of time."""
    figures = dorsiflexion(*analysed_book)
    assert figures["range_source"] == "this session"
    assert figures["active_end_deg"] == pytest.approx(18.0, abs=0.4)
    assert figures["median_room_deg"] == pytest.approx(7.0, abs=0.4)
    assert figures["share_near_end"] == pytest.approx(np.arccos(0.4) / np.pi, abs=0.04)
    assert figures["share_past_end"] == 0.0
    low, high = figures["band_near_end"]
    assert low < figures["share_near_end"] < high
    far = dorsiflexion(*analysed_book, setup="far")
    assert far["median_room_deg"] - figures["median_room_deg"] == pytest.approx(5.0, abs=0.1)


def test_angles_are_columns_of_floats_on_an_even_axis(analysed_book):
    logbook, session_id = analysed_book
    path = logbook.derived_folder(session_id) / "angles.parquet"
    schema = pq.read_schema(path)
    assert schema.names[0] == "time_s"
    assert all(str(kind) in ("float", "double") for kind in schema.types)
    assert schema.field(COLUMN).metadata[b"unit"] == b"deg"
    assert schema.field("time_s").metadata[b"unit"] == b"s"
    time = pd.read_parquet(path)["time_s"]
    assert time[0] == 0.0
    assert np.allclose(np.diff(time), 0.01)


def test_angle_columns_carry_the_agreed_names_and_known_angles_are_right(analysed_book):
    result = result_of(*analysed_book)
    assert COLUMN in result.angles
    found = result.angles[COLUMN].to_numpy(dtype=float)
    true = ankle_clips.true_dorsiflexion(result.angles["time_s"].to_numpy())
    assert np.nanmax(np.abs(found - true)) < 0.7
    assert np.isfinite(found).mean() > 0.99


def test_time_of_results_keeps_the_zero_of_the_recording(logbook):
    """The clips' clock starts at 1000 s: so do the results, and the phases fit."""
    later = [p | {"start_s": p["start_s"] + 1000.0, "end_s": p["end_s"] + 1000.0} for p in ankle_clips.PHASES]
    session_id = store(logbook, ankle_clips.clips(start_s=1000.0), later, setups=ankle_clips.SETUPS)
    analyze_session(logbook, session_id)
    assert result_of(logbook, session_id).angles["time_s"].iloc[0] == pytest.approx(1000.0)
    assert dorsiflexion(logbook, session_id)["median_room_deg"] == pytest.approx(7.0, abs=0.4)


def test_a_gap_is_null_time_not_numbers(logbook):
    clips = ankle_clips.clips()
    clips["right_shank"] = silent(clips["right_shank"], 56.0, 60.0)
    session_id = add(logbook, clips=clips)
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    time = result.angles["time_s"]
    assert result.angles[COLUMN][(time > 56.02) & (time < 59.98)].isna().all()
    (gap,) = result.quality["gaps"]
    assert gap["clip"] == "right_shank"
    assert (gap["start_s"], gap["end_s"]) == pytest.approx((56.0, 60.0), abs=0.02)
    assert dorsiflexion(logbook, session_id)["known_s"] == pytest.approx(12.0, abs=0.1)


def test_playing_of_one_side_counts_for_that_side_only(logbook):
    phases = [p | ({"side": "left"} if p.get("setup") == "far" else {}) for p in ankle_clips.PHASES]
    session_id = store(logbook, ankle_clips.clips(), phases, setups=ankle_clips.SETUPS)
    analyze_session(logbook, session_id)
    setups = read_exposure(logbook, session_id)["setups"]
    assert "ankle_dorsiflexion" in setups["near"]["right"]
    assert "right" not in setups["far"]


# ---- again


def test_an_unchanged_session_is_left_alone(book):
    logbook, session_id = book
    before = {p: p.stat().st_mtime_ns for p in logbook.derived_folder(session_id).iterdir()}
    assert analyze_session(logbook, session_id) is False
    assert {p: p.stat().st_mtime_ns for p in logbook.derived_folder(session_id).iterdir()} == before


def test_force_does_it_again_with_the_same_result(book):
    logbook, session_id = book
    exposure = logbook.derived_folder(session_id) / "exposure.json"
    angles = logbook.derived_folder(session_id) / "angles.parquet"
    before = exposure.read_bytes(), angles.read_bytes()
    assert analyze_session(logbook, session_id, force=True) is True
    assert (exposure.read_bytes(), angles.read_bytes()) == before


def test_changed_settings_are_noticed(book):
    logbook, session_id = book
    wide = "schema_version = 1\n[analysis]\n[analysis.zone_deg]\nankle_dorsiflexion = 8\n"
    (logbook.path / "logbook.toml").write_text(wide, encoding="utf-8")
    narrow_share = dorsiflexion(logbook, session_id)["share_near_end"]
    assert analyze_session(logbook, session_id) is True
    figures = dorsiflexion(logbook, session_id)
    assert figures["zone_deg"] == 8.0
    assert figures["share_near_end"] > narrow_share
    assert read_exposure(logbook, session_id)["parameters"]["zone_deg"]["ankle_dorsiflexion"] == 8.0
    assert analyze_session(logbook, session_id) is False


def test_changed_metadata_are_noticed(book):
    logbook, session_id = book
    path = logbook.session_folder(session_id) / "session.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["phases"] = [p for p in data["phases"] if p["name"] != "range_dorsiflexion"]
    data["typed_range_deg"] = {"right": {"ankle_dorsiflexion": 20.0}}
    path.write_text(json.dumps(data), encoding="utf-8")
    assert analyze_session(logbook, session_id) is True
    assert dorsiflexion(logbook, session_id)["active_end_deg"] == 20.0


@pytest.mark.parametrize("name", ["exposure.json", "angles.parquet"])
def test_a_lost_result_is_made_again(book, name):
    logbook, session_id = book
    (logbook.derived_folder(session_id) / name).unlink()
    assert analyze_session(logbook, session_id) is True
    assert (logbook.derived_folder(session_id) / name).is_file()


def test_a_damaged_result_is_said_and_made_again(book):
    logbook, session_id = book
    path = logbook.derived_folder(session_id) / "exposure.json"
    path.write_text('{"session": "', encoding="utf-8")
    with pytest.raises(InputError, match=f"exposure.json: cannot be read; run `footroom analyze {session_id} --force`"):
        read_exposure(logbook, session_id)
    assert analyze_session(logbook, session_id) is True
    assert dorsiflexion(logbook, session_id)["zone_deg"] == 5.0


def test_no_result_yet_is_none(logbook):
    assert read_exposure(logbook, add(logbook)) is None


def test_two_processes_give_identical_files(book, monkeypatch):
    logbook, session_id = book
    folder = logbook.derived_folder(session_id)
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    monkeypatch.setattr(tracks, "PARALLEL_FROM", 0)  # this session is too short to be shared out otherwise
    analyze_session(logbook, session_id, force=True, jobs=2)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


# ---- what goes wrong


def test_a_session_that_is_being_written_is_left_alone(book):
    logbook, session_id = book
    with logbook.lock(session_id), pytest.raises(LogbookBusy, match="another Footroom is writing session"):
        analyze_session(logbook, session_id, force=True)
    assert analyze_session(logbook, session_id, force=True) is True


def test_no_such_session(logbook):
    with pytest.raises(NotInLogbook, match="wren-2026-01-01"):
        analyze_session(logbook, "wren-2026-01-01")


def test_a_damaged_clip_is_named_and_nothing_is_written(logbook):
    session_id = add(logbook)
    path = logbook.clip_path(session_id, "right_shank")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(InputError, match="right_shank.arrow"):
        analyze_session(logbook, session_id)
    assert not list(logbook.derived_folder(session_id).glob("*"))


def test_no_playing_phase(logbook):
    session_id = add(logbook, without=("playing", "range_dorsiflexion"))
    with pytest.raises(AnalysisError, match="has no playing phase"):
        analyze_session(logbook, session_id)


def test_a_range_check_without_playing_tells_its_ends_and_no_exposure(logbook):
    session_id = add(logbook, without=("playing",))
    analyze_session(logbook, session_id)
    found = read_exposure(logbook, session_id)
    assert not any(found["setups"].values())
    assert found["ranges"]["right"]["ankle_dorsiflexion"]["source"] == "this session"
    assert any(line.startswith("No playing was recorded") for line in found["quality"]["messages"])


def test_no_still_pose_is_withheld_with_the_reason(logbook):
    clips = ankle_clips.clips()
    clips["right_shank"] = silent(clips["right_shank"], -1.0, 5.2)  # nor is the start calm in every clip
    session_id = add(logbook, clips=clips, without=("still",))
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    assert list(result.angles.columns) == ["time_s"]
    assert "no still pose was recorded" in result.withheld()["right leg"]
    assert result.exposure["setups"] == {"near": {}, "far": {}}


def test_a_clip_silent_in_the_still_pose_has_no_zero(logbook):
    clips = ankle_clips.clips()
    clips["right_shank"] = silent(clips["right_shank"], -1.0, 5.2)
    session_id = add(logbook, clips=clips)
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    assert COLUMN not in result.angles
    assert "silent during the still pose" in result.withheld()["right_shank"]


@pytest.mark.parametrize("writes", ["angles", "exposure"])
def test_an_interruption_leaves_no_half_file_and_is_made_up_for(logbook, monkeypatch, writes):
    session_id = add(logbook)

    def stop(*arguments, **_):
        if writes == "angles":
            arguments[1].write_bytes(b"PAR1 half a fi")
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        if writes == "angles":
            patched.setattr(pq, "write_table", stop)
        else:
            patched.setattr(pipeline.files, "write_json", stop)
        with pytest.raises(KeyboardInterrupt):
            analyze_session(logbook, session_id)
    folder = logbook.derived_folder(session_id)
    left = {p.name for p in folder.iterdir()} if folder.is_dir() else set()
    assert left <= {"angles.parquet"}
    if left:
        assert pq.read_table(folder / "angles.parquet").num_rows == 8800
    assert read_exposure(logbook, session_id) is None
    assert analyze_session(logbook, session_id) is True
    assert dorsiflexion(logbook, session_id)["range_source"] == "this session"


def test_ctrl_c_ends_the_command_with_130(logbook, monkeypatch, capsys):
    add(logbook)

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(pipeline, "session_angles", stop)
    assert run(["analyze", "--logbook", str(logbook.path)]) == 130
    assert capsys.readouterr().out == ""


# ---- where the end of range comes from: this session's check, typed, an earlier session, a norm


def test_own_range_check_beats_a_typed_one(logbook):
    session_id = add(logbook, typed_range_deg={"right": {"ankle_dorsiflexion": 25.0}})
    analyze_session(logbook, session_id)
    assert dorsiflexion(logbook, session_id)["range_source"] == "this session"


def test_a_typed_end_beats_an_earlier_session(logbook):
    analyze_session(logbook, add(logbook))
    later = add(
        logbook, without=("range_dorsiflexion",), days=7, typed_range_deg={"right": {"ankle_dorsiflexion": 25.0}}
    )
    analyze_session(logbook, later)
    figures = dorsiflexion(logbook, later)
    assert (figures["range_source"], figures["active_end_deg"]) == ("typed", 25.0)


def test_the_range_of_an_earlier_session_is_used_and_its_band_is_wider(logbook):
    first = add(logbook)
    analyze_session(logbook, first)
    later = add(logbook, without=("range_dorsiflexion",), days=7)
    analyze_session(logbook, later)
    own, borrowed = dorsiflexion(logbook, first), dorsiflexion(logbook, later)
    assert borrowed["range_source"] == "earlier session"
    assert borrowed["active_end_deg"] == pytest.approx(own["active_end_deg"], abs=1e-6)
    widths = [f["band_median_room_deg"][1] - f["band_median_room_deg"][0] for f in (own, borrowed)]
    assert widths[0] < widths[1]


def test_a_later_session_and_another_person_lend_nothing(logbook):
    analyze_session(logbook, add(logbook, days=7))
    analyze_session(logbook, add(logbook, days=-7, participant={"id": "p02"}))
    session_id = add(logbook, without=("range_dorsiflexion",))
    analyze_session(logbook, session_id)
    assert dorsiflexion(logbook, session_id)["range_source"] == "norm"


def test_an_earlier_range_that_arrives_late_is_noticed(logbook):
    later = add(logbook, without=("range_dorsiflexion",), days=7)
    analyze_session(logbook, later)
    assert dorsiflexion(logbook, later)["range_source"] == "norm"
    analyze_session(logbook, add(logbook))
    assert analyze_session(logbook, later) is True
    assert dorsiflexion(logbook, later)["range_source"] == "earlier session"


def test_a_borrowed_end_is_not_lent_on(logbook):
    """Each session rests on a measured check, not on a chain of borrowings: the third names the first's end."""
    for days, without in ((0, ()), (7, ("range_dorsiflexion",)), (14, ("range_dorsiflexion",))):
        session_id = add(logbook, without=without, days=days)
        analyze_session(logbook, session_id)
    assert dorsiflexion(logbook, session_id)["range_source"] == "earlier session"
    ends = read_exposure(logbook, session_id)["ranges"]["right"]["ankle_dorsiflexion"]
    assert ends["value_deg"] == pytest.approx(18.0, abs=0.4)


def test_a_norm_is_labelled_as_no_measure_of_this_person(logbook):
    session_id = add(logbook, without=("range_dorsiflexion",))
    analyze_session(logbook, session_id)
    figures = dorsiflexion(logbook, session_id)
    assert figures["range_source"] == "norm"
    notes = read_exposure(logbook, session_id)["quality"]["notes"]
    assert any("Right ankle dorsiflexion" in n and "published mean, not this person's range" in n for n in notes)


# ---- the command


def test_one_bad_session_does_not_stop_the_others(logbook, capsys):
    good, bad = add(logbook), add(logbook, days=1)
    path = logbook.clip_path(bad, "right_foot")
    path.write_bytes(path.read_bytes()[:1000])
    assert run(["analyze", "--logbook", str(logbook.path)]) == 1
    assert f"{good}: analysed" in capsys.readouterr().out
    assert read_exposure(logbook, good) is not None
    assert run(["analyze", bad, "--logbook", str(logbook.path)]) == 2
    assert "right_foot.arrow" in capsys.readouterr().err


def test_figures_withheld_are_no_failure(logbook, capsys):
    clips = ankle_clips.clips()
    clips["right_shank"] = silent(clips["right_shank"], -1.0, 5.2)
    session_id = add(logbook, clips=clips, without=("still",))
    assert run(["analyze", session_id, "--logbook", str(logbook.path)]) == 0
    assert "withheld" in capsys.readouterr().out
    assert run(["analyze", "--logbook", str(logbook.path)]) == 0
    assert f"{session_id}: unchanged" in capsys.readouterr().out
