"""`footroom compare` as a person calls it: text, JSON, and one sentence where it cannot answer."""

import json

import pytest
from comparison_data import FAR, NEAR, fill, paired, separate, session
from footroom.dashboard.command import run
from footroom.dashboard.store import Store
from footroom.logger.cautions import CAUTION
from footroom.logger.logbook import Logbook
from footroom.logger.models import Phase

ROOMS = ([8.0, 6.5, 9.0, 7.0], [12.5, 10.0, 13.0, 11.8])


def compare(path, *more):
    return run(["compare", "--logbook", str(path), "--participant", "pupil", *more])


def test_json_is_strict_and_holds_the_pairs(tmp_path, capsys):
    assert compare(fill(tmp_path / "log", *paired(*ROOMS)), "--json") == 0
    answer = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    assert answer["participant"] == "pupil"
    first = answer["pairs"][0]
    assert (first["setup_a"], first["setup_b"], first["verdict"]) == ("near", "far", "clear difference")
    assert first["primary"] is True


def test_text_gives_the_sentence_the_reason_and_the_caution(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    assert compare(fill(tmp_path / "log", *paired(*ROOMS))) == 0
    out = capsys.readouterr().out
    assert "With the pedal 3 cm farther (‘far’) your right ankle kept 4.2 degrees more room" in out
    assert "For the coach: Right ankle dorsiflexion, far against near" in out
    assert "For the scientist: median room [deg]" in out
    assert "Why: 4 sessions with both set-ups in one wearing" in out
    assert CAUTION in out
    assert "Beside it: ‘near’ came first in 2 and ‘far’ in 2 of the sessions with both" in out
    assert "30 -> 30 % [+0, +0], no clear" in out
    assert "Time near the end: no clear difference; up to 1 percentage point may have been missed." in out


def test_order_drift_and_the_line_stand_beside_the_verdict(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "2000")
    exposures, sessions = paired(*ROOMS, share=0.98)
    for item, one in zip(exposures, sessions, strict=True):
        one.phases = [
            Phase(name="playing", start_s=200.0 * i, end_s=200.0 * i + 60, setup=name)
            for i, name in enumerate(("near", "far", "near"))
        ]
        blocks = [
            {"start_s": start, "known_s": 60.0, "median_room_deg": 8.0 + more, "share_near_end": 0.98}
            for start, more in ((0.0, 0.0), (400.0, 3.0))
        ]
        lines = {"2.5": 0.9, "5": 0.98, "7.5": 0.99, "10": 1.0}
        for name, shares in (("near", lines), ("far", lines | {"2.5": 0.8})):
            item["setups"][name]["right"]["ankle_dorsiflexion"]["share_by_room_deg"] = shares
        item["setups"]["near"]["right"]["ankle_dorsiflexion"]["blocks"] = blocks
    assert compare(fill(tmp_path / "log", exposures, sessions)) == 0
    out = capsys.readouterr().out
    assert "On a set-up returned to at the end room had drifted by +3.0 degrees." in out
    assert "From the first to the last block on a set-up room changed by +3.0 degrees." in out
    assert "above 95 % on both, where it can show none: judge on room" in out
    assert "‘far’ against ‘near’ in percentage points: -10 below 2.5 degrees, +0 below 5 degrees" in out
    assert "98 -> 98 %, saturated" in out


def test_a_norm_is_an_answer_that_says_so(tmp_path, capsys):
    assert compare(fill(tmp_path / "log", *paired(*ROOMS, range_source="norm")), "--json") == 0
    first = json.loads(capsys.readouterr().out)["pairs"][0]
    assert (first["verdict"], first["range_sources"]) == ("clear difference", ["norm"])
    assert "published norm, not this person's own" in first["reason"]


def test_sessions_not_alike_meet_only_when_asked(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    path = fill(tmp_path / "log", *paired(*ROOMS, NEAR | {"footwear": "socks"}, FAR | {"footwear": "shoes"}))
    assert compare(path) == 0
    unasked = capsys.readouterr().out
    assert "were not compared for your right ankle: footwear or exercise differ" in unasked
    assert "`footroom compare --mixed` compares them all the same" in unasked
    assert compare(path, "--mixed") == 0
    asked = capsys.readouterr().out
    assert "Sessions that are not alike were compared, because --mixed asked for it." in asked
    assert "the footwear differs (socks on near, shoes on far)" in asked


def test_names_in_square_brackets_are_printed_as_they_are(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    odd = FAR | {"name": "[bold]far"}
    assert compare(fill(tmp_path / "log", *paired(*ROOMS, NEAR, odd))) == 0
    assert "near -> [bold]far" in capsys.readouterr().out


def test_not_enough_data_is_an_answer(tmp_path, capsys):
    assert compare(fill(tmp_path / "log", *paired([8.0], [12.0])), "--json") == 0
    pairs = json.loads(capsys.readouterr().out)["pairs"]
    assert {pair["verdict"] for pair in pairs} == {"not enough data"}


def refused(capsys):
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 1
    return captured.err


def test_too_little_playing_is_said_with_how_much_it_takes(tmp_path, capsys, caplog):
    exposures, sessions = paired(*ROOMS)
    for item in exposures:
        for figures in item["setups"].values():
            figures["right"]["ankle_dorsiflexion"] |= {"known_s": 18.0, "blocks": []}
    assert compare(fill(tmp_path / "log", exposures, sessions), "--json") == 0
    assert json.loads(capsys.readouterr().out)["pairs"] == []
    assert compare(tmp_path / "log") == 0
    assert "for long enough (half a block, 30 s unless you set block_s); play longer on each" in caplog.text


def test_one_set_up_only(tmp_path, capsys):
    assert compare(fill(tmp_path / "log", *separate([8.0, 7.0], []))) == 2
    assert "pupil has played on one set-up only (near)" in refused(capsys)


def test_nothing_analysed(tmp_path, capsys):
    _, sessions = paired(*ROOMS)
    assert compare(fill(tmp_path / "log", [], sessions)) == 2
    assert "run `footroom analyze" in refused(capsys)


def test_some_sessions_not_analysed_are_named_and_left_out(tmp_path, capsys, caplog):
    exposures, sessions = paired(*ROOMS)
    assert compare(fill(tmp_path / "log", exposures[:3], sessions), "--json") == 0
    assert json.loads(capsys.readouterr().out)["pairs"][0]["n_pairs"] == 3
    assert "left out, not analysed yet" in caplog.text
    assert "pupil-3" in caplog.text


def spoilt(path, change):
    """The figures of pupil-1 on the nearer set-up, changed by hand."""
    file = path / "sessions" / "pupil-1" / "derived" / "exposure.json"
    data = json.loads(file.read_text(encoding="utf-8"))
    change(data, data["setups"]["near"]["right"]["ankle_dorsiflexion"])
    file.write_text(json.dumps(data), encoding="utf-8")


@pytest.mark.parametrize(
    "change",
    [
        lambda _, one: one.update(median_room_deg="wide"),
        lambda _, one: one.update(known_s=float("nan")),
        lambda _, one: one.update(blocks="none"),
        lambda _, one: one["blocks"].append(7),
        lambda _, one: one["blocks"][0].update(median_room_deg=[8.0]),
        lambda _, one: one.update(band_near_end=[0.1]),
        lambda _, one: one.update(share_by_room_deg=[0.1]),
        lambda data, _: data["setups"]["near"].update(right=[]),
        lambda data, _: data["setups"]["near"].update(middle={}),
        lambda data, _: data["setups"]["near"]["right"].update(hip_flexion=None),
        lambda data, _: data["setups"].update(near=None),
        lambda data, _: data.update(quality={"slips": "many"}),
    ],
)
def test_figures_changed_by_hand_are_refused_with_the_remedy(tmp_path, capsys, change):
    path = fill(tmp_path / "log", *paired(*ROOMS))
    spoilt(path, change)
    assert compare(path) == 2
    assert "is not complete or damaged; run `footroom analyze pupil-1 --force`" in refused(capsys)
    assert "not complete" in (Store(path).entry("pupil-1").problem or "")


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("schema_version", 99, "newer"),
        ("recorded_at", "2026-11-02T18:00:00", "timezone"),
        ("phases", [{"name": "playing", "start_s": 0, "end_s": 9, "setup": "gone"}], "gone, which is no set-up of it"),
        ("setups", [], "names no set-up"),
    ],
)
def test_a_session_that_cannot_be_read_is_named_and_left_out(tmp_path, capsys, caplog, key, value, said):
    path = fill(tmp_path / "log", *paired(*ROOMS))
    file = path / "sessions" / "pupil-1" / "session.json"
    file.write_text(json.dumps(json.loads(file.read_text(encoding="utf-8")) | {key: value}), encoding="utf-8")
    assert compare(path, "--json") == 0
    assert json.loads(capsys.readouterr().out)["pairs"][0]["n_pairs"] == 3
    assert "left out: " in caplog.text and "pupil-1" in caplog.text and said in caplog.text


def test_notes_without_a_time_zone_are_refused(tmp_path, capsys):
    path = fill(tmp_path / "log", *paired(*ROOMS))
    noted = {"recorded_at": "2026-11-20T10:00:00", "setup": {"name": "far", "comfort_0_10": 7}}
    text = json.dumps({"participant": "pupil", "setups": [noted]})
    (path / "participants" / "pupil.notes.json").write_text(text, encoding="utf-8")
    assert compare(path) == 2
    assert "`setups.0.recorded_at` cannot be used (Input should have timezone info)" in refused(capsys)


def test_unknown_participant(tmp_path, capsys):
    path = fill(tmp_path / "log", *paired(*ROOMS))
    assert run(["compare", "--logbook", str(path), "--participant", "nobody"]) == 2
    assert "no participant 'nobody'" in refused(capsys)


def test_participant_without_a_session(tmp_path, capsys):
    book = Logbook.create(tmp_path / "log")
    book.save_participant(session(0, [NEAR]).participant)
    assert compare(tmp_path / "log") == 2
    assert "pupil has no session" in refused(capsys)


@pytest.mark.parametrize(
    ("text", "said"),
    [("{", "cannot be read"), ("[]", "is not complete"), ('{"session": "other", "setups": {}}', "is not complete")],
)
def test_damaged_figures_are_named_with_their_file(tmp_path, capsys, text, said):
    path = fill(tmp_path / "log", *paired(*ROOMS))
    damaged = path / "sessions" / "pupil-1" / "derived" / "exposure.json"
    damaged.write_text(text, encoding="utf-8")
    assert compare(path) == 2
    error = refused(capsys)
    assert said in error
    assert "footroom analyze pupil-1 --force" in error
    assert "exposure.json" in error
