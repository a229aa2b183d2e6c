"""The logbook folder: what it holds, whom it refuses, and what it says of damage."""

from __future__ import annotations

import json
import logging
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from footroom.logger import files
from footroom.logger.errors import (
    InputError,
    LogbookBusy,
    LogbookError,
    LogbookFromFuture,
    NotInLogbook,
)
from footroom.logger.logbook import Logbook
from footroom.logger.models import Clip, Participant, Phase, Session, Setup, is_identifier
from footroom.logger.recording import RawClip
from footroom.logger.settings import SETTINGS, ZONE_MOTIONS
from footroom.logger.toml_lines import TomlLines
from hypothesis import given
from hypothesis import strategies as st


def draft(participant: str = "robin", recorded_at: str = "2026-11-20T18:30:00+01:00", **lengths: float) -> Session:
    return Session(
        id="draft",
        participant=Participant.model_validate({"id": participant, **lengths}),
        recorded_at=datetime.fromisoformat(recorded_at),
        setups=[Setup(name="near"), Setup(name="far", reach_cm=60)],
        clips=[Clip(segment="foot", side="right", file="draft"), Clip(segment="pelvis", file="draft")],
        phases=[Phase(name="playing", start_s=0, end_s=1, setup="near")],
    )


def samples(n: int = 50) -> RawClip:
    counts = np.arange(n, dtype=np.int16)
    three = np.column_stack([counts, -counts, counts])
    return RawClip.from_arrays(np.arange(n) * 5000, three, three, "g", "deg/s", time_scale=1e-6, acceleration_scale=0.5)


def add(logbook: Logbook, session: Session | None = None) -> str:
    return logbook.add_session(session or draft(), {"right_foot": samples(), "pelvis": samples(30)})


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    return Logbook.create(tmp_path / "L")


# Making and opening


def test_a_new_logbook_is_one_readable_file_with_every_setting_shown(tmp_path: Path) -> None:
    logbook = Logbook.open(tmp_path / "deep" / "L", create=True)
    assert [path.name for path in logbook.path.iterdir()] == ["logbook.toml"]
    text = (logbook.path / "logbook.toml").read_text(encoding="utf-8")
    assert "schema_version = 1" in text
    for name in [*(setting.name for setting in SETTINGS), *ZONE_MOTIONS]:
        assert f"# {name} = " in text
    assert logbook.settings() == {"schema_version": 1, "analysis": {"zone_deg": {}}}
    shown = text.replace("# block_s", "block_s").replace("# ankle_dorsiflexion", "ankle_dorsiflexion")
    (logbook.path / "logbook.toml").write_text(shown, encoding="utf-8")
    assert logbook.settings()["analysis"] == {"block_s": 60.0, "zone_deg": {"ankle_dorsiflexion": 5.0}}


def test_opening_what_is_no_logbook(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "x").write_text("x", encoding="utf-8")
    for name, says in (
        ("nowhere", "nowhere does not exist, so it is no logbook; name"),
        ("file", "file is a file, so it is no logbook"),
        ("other", "other is no logbook .it holds no logbook.toml.; name"),
    ):
        with pytest.raises(LogbookError, match=says):
            Logbook(tmp_path / name)
        with pytest.raises(LogbookError, match=says):
            Logbook.open(tmp_path / name)
    with pytest.raises(LogbookError, match="other holds other things .x. and is no logbook; choose"):
        Logbook.open(tmp_path / "other", create=True)
    Logbook.create(tmp_path / "L")
    with pytest.raises(LogbookError, match="L is a logbook already"):
        Logbook.create(tmp_path / "L")
    assert Logbook.open(tmp_path / "L", create=True).session_ids() == []


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("schema_version = 2\n", LogbookFromFuture, "newer Footroom .schema 2, this one reads up to 1.; update with"),
        ("schema_version = 0\n", LogbookError, "states no usable schema_version; restore the line"),
        ("[analysis]\n", LogbookError, "states no usable schema_version"),
        ("schema_version = true\n", LogbookError, "states no usable schema_version"),
        ("schema_version = 1\n[analysis\n", InputError, r"logbook.toml, line 2: not valid TOML"),
    ],
)
def test_a_logbook_that_cannot_be_opened(logbook: Logbook, text: str, error: type[Exception], says: str) -> None:
    (logbook.path / "logbook.toml").write_text(text, encoding="utf-8")
    with pytest.raises(error, match=says):
        Logbook(logbook.path)


# Settings


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("[analysis]\nblock_s = 5\n", 3, "`analysis.block_s` = 5 cannot be used; it is a number from 10 to 600 .s."),
        ('[analysis]\nblock_s = "60"\n', 3, "`analysis.block_s` = '60' cannot be used"),
        ("[analysis]\nblock_s = nan\n", 3, "`analysis.block_s` = nan cannot be used"),
        ("[analysis]\nblock_s = true\n", 3, "`analysis.block_s` = True cannot be used"),
        ("[analysis.zone_deg]\nhip_flexion = -1\n", 3, "`zone_deg.hip_flexion` = -1 cannot .* from 0.5 to 45 .deg."),
        ("[analysis.zone_deg]\nknee = 5\n", 3, "`knee` in zone_deg is no motion; use one of ankle_dorsiflexion,"),
        ("[analysis]\nzone_deg = 5\n", 3, "`analysis.zone_deg` must be a table; write"),
        ("analysis = 1\n", 2, "`analysis` must be a table"),
    ],
)
def test_settings_that_cannot_be_used(logbook: Logbook, text: str, line: int, says: str) -> None:
    (logbook.path / "logbook.toml").write_text("schema_version = 1\n" + text, encoding="utf-8")
    with pytest.raises(InputError, match=says) as refused:
        logbook.settings()
    assert refused.value.path == logbook.path / "logbook.toml"
    assert refused.value.line == line


def test_unknown_settings_are_kept_and_warned_of(logbook: Logbook, caplog: pytest.LogCaptureFixture) -> None:
    text = "schema_version = 1\ncolour = 1\n[analysis]\nzone_deg = {hip_spread = 12}\nblok_s = 60\n"
    (logbook.path / "logbook.toml").write_text(text, encoding="utf-8")
    with caplog.at_level(logging.WARNING, logger="footroom"):
        settings = Logbook(logbook.path).settings()
    assert settings["analysis"] == {"zone_deg": {"hip_spread": 12.0}, "blok_s": 60}
    assert settings["colour"] == 1
    assert [message.split(": ", 1)[1] for message in caplog.messages] == [
        "setting `colour` is not known to this Footroom and has no effect.",
        "setting `analysis.blok_s` is not known to this Footroom and has no effect.",
    ]
    assert "logbook.toml, line 5: " in caplog.messages[1]


# Sessions


def test_a_session_is_stored_whole_in_the_agreed_places(logbook: Logbook) -> None:
    session_id = add(logbook)
    assert session_id == "robin-2026-11-20"
    there = {str(p.relative_to(logbook.path).as_posix()) for p in logbook.path.rglob("*") if p.is_file()}
    assert there - {".locks/_adding.lock"} == {
        "logbook.toml",
        "participants/robin.json",
        f"sessions/{session_id}/session.json",
        f"sessions/{session_id}/clips/right_foot.arrow",
        f"sessions/{session_id}/clips/pelvis.arrow",
    }
    session = logbook.session(session_id)
    expected = draft()
    assert session.model_dump(exclude={"id", "clips"}) == expected.model_dump(exclude={"id", "clips"})
    assert [clip.file for clip in session.clips] == ["clips/right_foot.arrow", "clips/pelvis.arrow"]
    read = logbook.read_clip(session_id, "pelvis")
    np.testing.assert_allclose(read.acc[:, 1], -np.arange(30) * 0.5 * 9.80665)
    np.testing.assert_allclose(read.time_s, np.arange(30) * 0.005)
    assert logbook.session_folder(session_id) == logbook.path / "sessions" / session_id
    assert logbook.derived_folder(session_id) == logbook.session_folder(session_id) / "derived"


def test_the_draft_given_is_not_changed(logbook: Logbook) -> None:
    session = draft()
    before = session.model_dump()
    add(logbook, session)
    assert session.model_dump() == before


def test_sessions_are_ordered_by_time_recorded_not_by_name(logbook: Logbook) -> None:
    late = add(logbook, draft("avocet", "2026-11-21T10:00:00+01:00"))
    same_day = [add(logbook, draft(recorded_at=f"2026-11-20T{hour}:00:00+01:00")) for hour in (20, 18, 19)]
    east = add(logbook, draft("wren", "2026-11-21T01:30:00+09:00"))  # 17:30 in the evening before, by +01:00
    assert same_day == ["robin-2026-11-20", "robin-2026-11-20-2", "robin-2026-11-20-3"]
    assert logbook.session_ids() == [east, same_day[1], same_day[2], same_day[0], late]
    assert logbook.session_ids("robin") == [same_day[1], same_day[2], same_day[0]]
    assert logbook.session_ids("nobody") == []
    assert logbook.participant_ids() == ["avocet", "robin", "wren"]


def test_samples_must_fit_the_clips(logbook: Logbook) -> None:
    with pytest.raises(InputError, match="samples of left_foot do not fit the clips right_foot, pelvis"):
        logbook.add_session(draft(), {"left_foot": samples()})
    assert logbook.session_ids() == []


@pytest.mark.parametrize("name", ["../L", "..", ".", "", "a/b", "a\\b", "C:", "con", "Robin", "robin ", "x" * 65, "\0"])
def test_no_name_leaves_the_folder(logbook: Logbook, name: str) -> None:
    add(logbook)
    for use in (
        logbook.session,
        logbook.session_folder,
        logbook.derived_folder,
        logbook.delete_session,
        lambda n: logbook.read_clip(n, "right_foot"),
        lambda n: logbook.lock(n).__enter__(),
    ):
        with pytest.raises(NotInLogbook, match="no session .*; it holds robin-2026-11-20"):
            use(name)
    for use in (logbook.participant, logbook.delete_participant):
        with pytest.raises(NotInLogbook, match="no participant .*; it knows robin"):
            use(name)
    with pytest.raises(NotInLogbook, match="session robin-2026-11-20 has no clip .*; it has right_foot, pelvis"):
        logbook.read_clip("robin-2026-11-20", name)
    with pytest.raises(ValueError, match="id"):
        Participant(id=name)


@given(st.text(max_size=70))
def test_an_identifier_is_a_plain_file_name_everywhere(text: str) -> None:
    if is_identifier(text):
        assert text == text.lower() and text.isascii() and 0 < len(text) <= 64
        assert text.replace("-", "a").isalnum() and text[0] != "-" != text[-1]
        assert text not in {"con", "prn", "aux", "nul"}
        assert not (text[:3] in {"com", "lpt"} and len(text) == 4 and text[3].isdigit())
    else:
        with pytest.raises(ValueError, match="id"):
            Participant(id=text)


@pytest.mark.parametrize("name", ["p01", "p-1", "robin-2026-11-20-2", "com10", "console", "a", "7"])
def test_good_identifiers(name: str) -> None:
    assert is_identifier(name)


# Damage


def _break(path: Path, how: str) -> None:
    data = json.loads(path.read_text(encoding="utf-8"))
    if how == "cut":
        path.write_text(json.dumps(data, indent=2)[:-20], encoding="utf-8")
    elif how == "no json":
        path.write_text("[]", encoding="utf-8")
    elif how == "bytes":
        path.write_bytes(b'{"id": "\xff"}')
    elif how == "gone":
        path.unlink()
    elif how == "renamed":
        path.parent.rename(path.parent.with_name("other"))
    else:
        data.update({"future": {"schema_version": 7}, "no date": {"recorded_at": "soon"}, "versionless": {}}[how])
        if how == "versionless":
            del data["schema_version"]
        path.write_text(json.dumps(data), encoding="utf-8")


@pytest.mark.parametrize(
    ("how", "error", "says"),
    [
        ("cut", LogbookError, r"session.json, line \d+: not valid JSON .*; correct it or restore it from a copy"),
        ("no json", LogbookError, "session.json: holds no JSON object; restore"),
        ("bytes", LogbookError, "session.json: not UTF-8 text; restore"),
        ("gone", LogbookError, "session.json is missing; restore it from a copy or delete its folder"),
        ("renamed", LogbookError, "folder is called other but its session says robin-2026-11-20; rename"),
        ("future", LogbookFromFuture, "session robin-2026-11-20 .*newer Footroom .schema 7.*pip install --upgrade"),
        ("versionless", LogbookError, "states no usable schema_version"),
        ("no date", LogbookError, "session.json: `recorded_at` cannot be used .*; correct it"),
    ],
)
def test_a_damaged_session_is_told_of_and_does_not_hide_the_others(
    logbook: Logbook, how: str, error: type[Exception], says: str
) -> None:
    damaged = add(logbook)
    good = add(logbook, draft("wren"))
    assert logbook.problems() == []
    _break(logbook.session_folder(damaged) / "session.json", how)
    name = "other" if how == "renamed" else damaged
    with pytest.raises(error, match=says) as refused:
        logbook.session(name)
    assert logbook.session_ids() == [good]
    assert logbook.problems() == [str(refused.value)]
    assert "\n" not in str(refused.value)
    if how != "renamed":
        assert add(logbook) == "robin-2026-11-20-2"
        assert logbook.delete_participant("robin") == ["robin-2026-11-20", "robin-2026-11-20-2"]
        assert logbook.problems() == []
        assert logbook.session_ids() == [good]


def test_a_damaged_participant_file(logbook: Logbook) -> None:
    add(logbook)
    (logbook.path / "participants" / "robin.json").write_text('{"id": "robin", "stature_cm": 17}', encoding="utf-8")
    with pytest.raises(LogbookError, match="robin.json: `stature_cm` cannot be used .*; correct"):
        logbook.participant("robin")
    (logbook.path / "participants" / "robin.json").unlink()
    assert logbook.participant("robin").id == "robin"


def test_lengths_are_remembered_and_typed_ones_win(logbook: Logbook) -> None:
    first = add(logbook, draft(stature_cm=170, hip_width_cm=17))
    second = add(logbook, draft(stature_cm=172))
    assert logbook.session(first).participant.stature_cm == 170
    assert logbook.session(second).participant.hip_width_cm == 17
    assert logbook.participant("robin").stature_cm == 172


# Deleting


def test_deleting_a_session_leaves_no_trace_of_it(logbook: Logbook) -> None:
    session_id = add(logbook)
    other = add(logbook)
    with logbook.lock(session_id):
        pass
    files.write_json(logbook.derived_folder(session_id) / "exposure.json", {})
    logbook.delete_session(session_id)
    assert logbook.session_ids() == [other]
    assert not [path for path in logbook.path.rglob("*") if path.stem == session_id]
    with pytest.raises(NotInLogbook, match=f"no session '{session_id}'"):
        logbook.delete_session(session_id)
    assert logbook.participant("robin").id == "robin"


def test_deleting_a_person_leaves_no_trace_and_takes_nobody_else(logbook: Logbook) -> None:
    theirs = [add(logbook), add(logbook)]
    add(logbook, draft("robin-2"))
    add(logbook, draft("wren"))
    assert logbook.delete_participant("robin") == theirs
    assert logbook.participant_ids() == ["robin-2", "wren"]
    assert logbook.session_ids() == ["robin-2-2026-11-20", "wren-2026-11-20"]
    assert not [path for path in logbook.path.rglob("*") if path.stem in ("robin", *theirs)]
    with pytest.raises(NotInLogbook, match="no participant 'robin' in .*; it knows robin-2, wren"):
        logbook.delete_participant("robin")


def test_nothing_is_deleted_while_a_session_is_being_written(logbook: Logbook) -> None:
    theirs = [add(logbook), add(logbook)]
    with logbook.lock(theirs[1]):
        with pytest.raises(LogbookBusy, match=f"another Footroom is writing session {theirs[1]} in .*; wait"):
            logbook.delete_participant("robin")
        with pytest.raises(LogbookBusy):
            logbook.delete_session(theirs[1])
        assert logbook.session_ids() == theirs
        assert logbook.participant("robin").id == "robin"
    assert logbook.delete_participant("robin") == theirs


# Locks


def test_another_process_cannot_have_a_session_that_is_being_written(logbook: Logbook) -> None:
    session_id, other = add(logbook), add(logbook)
    code = """
import sys
from footroom.logger.errors import LogbookBusy
from footroom.logger.logbook import Logbook
logbook = Logbook(sys.argv[1])
for session_id in sys.argv[2:]:
    try:
        with logbook.lock(session_id):
            print("free")
    except LogbookBusy as busy:
        print("busy", busy.exit_status)
"""

    def ask() -> list[str]:
        command = [sys.executable, "-c", code, str(logbook.path), session_id, other]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()

    with logbook.lock(session_id):
        assert ask() == ["busy 2", "free"]
    assert ask() == ["free", "free"]
    with pytest.raises(RuntimeError, match="stop"), logbook.lock(session_id):
        raise RuntimeError("stop")
    assert ask() == ["free", "free"]


def test_adding_waits_for_nobody_for_ever(logbook: Logbook) -> None:
    with (
        logbook.adding(),
        pytest.raises(LogbookBusy, match="another Footroom is writing the list of sessions"),
        logbook.adding(timeout_s=0.05),
    ):
        pytest.fail("two at a time")


# Files


def test_a_file_is_replaced_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a" / "x.json"
    files.write_json(path, {"ä": [1, None]})
    assert path.read_bytes() == '{\n  "ä": [1, null]\n}\n'.encode()
    with pytest.raises(ValueError, match="JSON compliant"):
        files.write_json(path, {"x": float("nan")})
    with pytest.raises(KeyboardInterrupt), files.new_file(path) as temporary:
        temporary.write_text("half", encoding="utf-8")
        raise KeyboardInterrupt
    assert json.loads(path.read_text(encoding="utf-8")) == {"ä": [1, None]}
    assert [entry.name for entry in path.parent.iterdir()] == ["x.json"]


def test_a_folder_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "s" / "one"
    with pytest.raises(KeyboardInterrupt), files.new_folder(target) as folder:
        (folder / "x").write_text("half", encoding="utf-8")
        assert files.is_leftover(folder) and not target.exists()
        raise KeyboardInterrupt
    assert list((tmp_path / "s").iterdir()) == []
    with files.new_folder(target) as folder:
        (folder / "x").write_text("whole", encoding="utf-8")
    assert (target / "x").read_text(encoding="utf-8") == "whole"
    with pytest.raises(FileExistsError, match="one exists already"), files.new_folder(target):
        pytest.fail("must not be entered")
    files.remove_folder(target)
    assert list((tmp_path / "s").iterdir()) == []
    assert files.remove_leftovers(tmp_path / "nowhere") == 0


# Lines of TOML


def test_lines_of_tables_and_keys_in_toml_as_people_write_it() -> None:
    text = '''# comment
[a]
x = 1
"quoted key" = 2
list = [
  "[[clip]]",
  1,
]
text = """
[b]
y = 1
"""
[[clip]] # first
side = "right"

[[clip]]
  side = "left"
[clip.more]
z = 1
[ range . right ]
k.dotted = 3
'''
    lines = TomlLines(text)
    assert lines.line("a") == 2
    assert lines.line("a", "x") == 3
    assert lines.line("a", "quoted key") == 4
    assert lines.line("a", "list") == 5
    assert lines.line("a", "text") == 9
    assert lines.line("b") is None
    assert lines.line("clip", 0) == 13
    assert lines.line("clip", 1, "side") == 17
    assert lines.line("clip", 1, "more", "z") == 19
    assert lines.line("clip", 1, "missing") == 16
    assert lines.line("range", "right", "k", "dotted") == 21
    assert lines.line("nothing") is None
