"""`footroom record` from the options to the figures: virtual clips, serial ports, Bluetooth; and every refusal.

The person is a virtual drummer who does what the guide asks, so the truth is known: the ankle angle at the held ends of
the range check and while playing.
"""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from footroom.analysis.pipeline import analyze_session, read_exposure
from footroom.dashboard import command
from footroom.logger.errors import InputError
from footroom.logger.logbook import Logbook
from footroom.logger.models import Participant, Phase, Session, Setup
from footroom.logger.person_notes import read_notes
from footroom.logger.recorder import record as record_module
from footroom.logger.recorder import session_run, virtual_person
from footroom.logger.recorder.folders import only_recording, recording_folders
from footroom.logger.recorder.journal import read_journal
from footroom.logger.recorder.plan import Pace, Wish, make_plan
from footroom.logger.recorder.record import Outcome, Tools, clock_of, record, wait_until_ready
from footroom.logger.recorder.screen import PlainScreen
from footroom.logger.recorder.stream_file import read_stream
from footroom.logger.recorder.subject import Subject, about_of, ends_by_hand, exchange, subject_of, worn_by
from footroom.logger.recorder.watch import Watch
from footroom.logger.sources import bluetooth_links, serial_source
from footroom.logger.sources.bluetooth import BluetoothSource
from footroom.logger.sources.listening import listen
from footroom.logger.sources.serial_source import SerialSource
from footroom.logger.sources.virtual import VirtualSource
from footroom.logger.sources.virtual_board import identity_of
from footroom.logger.virtual_drummer import VirtualDrummer
from footroom.logger.virtual_leg import ANGLE_NAMES
from footroom.logger.worn import read_worn, wear
from private_bus import needs_dbus, private_bluez
from pty_remote import pty_clips
from warped import warped

BRIEF = Pace(
    ready_s=1.6, move_s=1.6, count_s=0.4, still_s=3, still_again_s=3, rest_s=3, moves=3, practice=0, kept=3, lifts=1
)
NEEDED = ("still", "ankle_taps", "knee_kicks", "range_dorsiflexion", "playing", "end_still")
OBEYS = json.dumps({"obeys": True}).replace(" ", "")
ANKLE = ("right_foot", "right_shank")
DORSIFLEXION = ANGLE_NAMES.index("ankle_dorsiflexion")


def truth_of(drummer, phases, zero_s):
    """{set-up: true median room [deg]} of the right ankle, from what the drummer did in the session's phases."""
    # when they really began: under load they hear of it late
    start = next(part.start_s for part in drummer._parts if part.phase == "range_dorsiflexion")
    held = [start + BRIEF.lead_s + k * sum(BRIEF.range_times) + BRIEF.range_times[0] + 1.1 for k in range(BRIEF.kept)]

    def angle(t):
        return np.rad2deg(drummer.angles("right", np.asarray(t))[:, DORSIFLEXION])

    end = float(np.mean(angle(held)))
    room = {}
    for phase in phases:
        if phase.name == "playing":
            t = np.arange(phase.start_s + zero_s, phase.end_s + zero_s, 0.01)
            room[phase.setup] = end - float(np.median(angle(t)))
    return room


def agrees(book, session_id, drummer, zero_s):
    """The analysed room on each set-up against the truth: within its band, and near."""
    analyze_session(book, session_id)
    exposure = read_exposure(book, session_id)
    assert exposure is not None
    truth = truth_of(drummer, book.session(session_id).phases, zero_s)
    assert set(truth) == {"near", "far"} and abs(truth["near"] - truth["far"]) > 3
    for name, room in truth.items():
        found = exposure["setups"][name]["right"]["ankle_dorsiflexion"]
        low, high = found["band_median_room_deg"]
        assert found["range_source"] == "this session" and low <= room <= high
        assert found["median_room_deg"] == pytest.approx(room, abs=1.0), name  # RMSE of the ankle is below 0.8 deg
    return exposure


@pytest.fixture
def patient(monkeypatch):
    """Where time runs faster, a moment in which the computer does something else is no silence yet."""
    monkeypatch.setattr(bluetooth_links, "SILENT_S", 20.0)
    monkeypatch.setattr(serial_source, "SILENT_S", 20.0)


@pytest.fixture
def no_waiting(monkeypatch):
    """The disk is believed, and the loop looks more often: for virtual clips that are faster than life."""
    monkeypatch.setattr(os, "fdatasync", lambda handle: None, raising=False)
    monkeypatch.setattr(record_module, "TURN_S", 0.002)


def run(capsys, *arguments):
    """(exit status, stdout, stderr as one line) of `footroom record ...`."""
    status = command.run(["record", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, " ".join(err.split())


def test_virtual_clips_on_two_set_ups_become_a_session_that_agrees_with_the_truth(
    tmp_path, capsys, monkeypatch, no_waiting
):
    people = []
    real = virtual_person.virtual_person

    def kept(*arguments):
        people.append(real(*arguments))
        return people[-1]

    monkeypatch.setattr(virtual_person, "virtual_person", kept)
    monkeypatch.setattr(session_run, "PACE", BRIEF)
    status, out, err = run(
        capsys, "--logbook", tmp_path / "L", "--participant", "p01", "--setup", "near", "--setup", "far",
        "--source", "virtual:right_foot,right_shank", "--hands-free", "--minutes", 0.3, "--speed", 25,
        "--exercise", "eighths", "--tempo", 96, "--note", "first try",
    )  # fmt: skip
    assert status == 0, err
    session_id = out.strip().splitlines()[-1]
    book = Logbook(tmp_path / "L")
    session = book.session(session_id)
    assert out == f"{session_id}\n" and session.participant.id == "p01" and session.note == "first try"
    assert "nothing lost" in err and f"Next: footroom analyze {session_id} --logbook {tmp_path / 'L'}" in err
    assert [clip.name for clip in session.clips] == list(ANKLE) and session.source["heard_through"] == "virtual"
    playing = [phase for phase in session.phases if phase.name == "playing"]
    assert [(p.setup, p.block, p.exercise, p.tempo_bpm) for p in playing] == [
        ("near", 1, "eighths", 96.0), ("far", 1, "eighths", 96.0)
    ]  # fmt: skip
    assert [p.end_s - p.start_s for p in playing] == pytest.approx([18, 18], abs=1.0)
    assert {phase.name for phase in session.phases} >= {"range_plantarflexion", "rest_on_pedal", "lift_test"}
    assert session.setups[0].reach_cm == 44.0 and session.participant.stature_cm == 174.0
    assert recording_folders(book.path) == []
    (source,) = people
    exposure = agrees(book, session_id, source.drummer, zero_s(book, session_id, 0.0))
    assert exposure["quality"]["slips"] == []


def zero_s(book, session_id, near_s):
    """The session's zero on the clips' own axis [s]: their tick at the first sample, unwrapped to be near a time."""
    frames = pd.read_parquet(book.session_folder(session_id) / "recording" / "right_foot.parquet")
    tick_us = int(frames.loc[frames["first_row"] == 0, "tick_us"].iloc[0])
    return (tick_us + round((near_s * 1e6 - tick_us) / 2**32) * 2**32) * 1e-6


class Obedient:
    """Asks the person in the clips' process to follow, and does the same with a twin of them."""

    def __init__(self, remote):
        self.remote, self.twin, self.first_s = remote, VirtualDrummer(), None

    def begin(self, phase, at_s, side=None, setup=None):
        begun_s = float(self.remote.tell("begin", 0, phase, side or "-", setup or "-"))
        self.twin.begin(phase, begun_s, side, setup)
        self.first_s = self.first_s or begun_s


def recorded(book_path, sources, remote):
    """A short session on two set-ups, as `footroom record` makes it; (book, session id, follower)."""
    book = Logbook.create(book_path)
    worn = {identity_of(number): place for number, place in enumerate(ANKLE)}
    plan = make_plan(Wish(["near", "far"], ANKLE, 0.2, felt=False), BRIEF)
    plan = replace(plan, steps=tuple(step for step in plan.steps if step.phase in NEEDED))
    about = about_of(
        Subject(Participant(id="p01"), {name: Setup(name=name) for name in ("near", "far")}, ()), worn, None, {}
    )
    follower, watch = Obedient(remote), Watch(worn)
    with listen(sources) as listening:
        tools = Tools(
            listening, PlainScreen(io.StringIO()), clock=clock_of(sources), follower=follower, pace=BRIEF,
            hands_free=True,
        )  # fmt: skip
        assert not [finding for finding in wait_until_ready(tools, watch) if finding.stops]
        outcome = record(book, about, plan, tools, watch)
    assert outcome.ended == "finished" and outcome.kept is not None
    assert all(loss.lost_s == 0 and not loss.gaps for loss in outcome.kept.losses.values()), outcome.kept
    # time runs faster here, and so does the unevenness of arrival
    assert [said for said in outcome.kept.problems if not said.startswith("the clock of")] == []
    return book, outcome.kept.session_id, follower


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")
def test_a_session_over_real_serial_lines_agrees_with_the_truth(tmp_path, patient):
    with warped(5), pty_clips(tmp_path, "--clips", 2, "--clip-options", OBEYS) as clips:
        sources = [SerialSource(str(tmp_path / f"clip{i}")) for i in range(2)]
        book, session_id, follower = recorded(tmp_path / "L", sources, clips)
    agrees(book, session_id, follower.twin, zero_s(book, session_id, follower.first_s))


@needs_dbus
def test_a_session_over_bluetooth_agrees_with_the_truth(tmp_path, patient):
    with warped(5), private_bluez("--clips", 2, "--faults", OBEYS) as bluez:
        book, session_id, follower = recorded(tmp_path / "L", [BluetoothSource()], bluez)
    agrees(book, session_id, follower.twin, zero_s(book, session_id, follower.first_s))


@pytest.fixture
def book(tmp_path):
    """A logbook, and a foot and a shank that have a clip in it."""
    book = Logbook.create(tmp_path / "L")
    for clip, segment in ((identity_of(0), "foot"), (identity_of(1), "shank")):
        wear(book.path, clip, segment, "right")
    return book


def known(book):
    """The same with a person and a set-up that were noted."""
    note = ["setup", "near", "reach_cm=44", "--participant", "p01", "--logbook", str(book.path)]
    assert command.run([*note, "--person", "stature_cm=174"]) == 0
    return book


def options(book, *more, who="p01", setup="near"):
    return ("--logbook", book.path, "--participant", who, "--setup", setup, *more)


def test_each_wrong_order_is_one_sentence_with_its_remedy(capsys, book, tmp_path):
    known(book)
    capsys.readouterr()
    away = ("take-off", identity_of(1), "--logbook", str(book.path))

    def refusal(*arguments):
        status, out, err = run(capsys, *arguments)
        assert (status, out) == (2, "") and err.startswith("footroom: ") and err.endswith((".", ".)"))
        return err

    virtual = ("--source", "virtual", "--hands-free")
    assert "the participant 'p02' is not known; known are p01. --new lets it begin here." in refusal(
        *options(book, *virtual, who="p02")
    )
    assert "the set-up 'naer' is not known (did you mean `near`?); known are near. --new" in refusal(
        *options(book, *virtual, setup="naer")
    )
    assert "'P 1' cannot name a participant; use a pseudonym" in refusal(*options(book, *virtual, who="P 1"))
    assert "'a/b' cannot name a set-up" in refusal(*options(book, *virtual, setup="a/b"))
    assert "give --minutes above 0" in refusal(*options(book, *virtual, "--minutes", 0))
    assert "'all' cannot be recorded alone; say --only slide or --only range." in refusal(
        *options(book, *virtual, "--only", "all")
    )
    assert "--only range is nothing but moves; leave out --practice-only" in refusal(
        *options(book, *virtual, "--only", "range", "--practice-only")
    )
    assert "the slide needs a clip on thigh and shank of both legs; put them on" in refusal(
        *options(book, "--source", "virtual:right_foot,right_shank", "--only", "slide")
    )
    assert "no clip is worn at knee" in refusal(*options(book, "--source", "virtual:knee"))
    assert "so they are recorded alone" in refusal(*options(book, *virtual, "--source", "serial:X"))
    assert "no session 'x' in" in refusal(*options(book, "--source", "replay:x"))
    with only_recording(book.path):
        assert "a recording is running on" in refusal(*options(book, *virtual))
    assert command.run(["clips", *away]) == 0
    capsys.readouterr()
    assert "the right leg has a clip on the foot and none on the shank" in refusal(
        *options(book, "--source", "nowhere/x")
    )
    new = tmp_path / "new"
    assert "no clip has a place yet" in refusal(
        "--logbook", new, "--participant", "p01", "--setup", "near", "--source", "serial:nowhere"
    )
    assert not new.exists()  # nothing is left behind


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")
def test_a_low_battery_and_a_silent_clip_stop_it_before_anything_is_recorded(capsys, book, tmp_path, monkeypatch):
    monkeypatch.setattr(record_module, "PATIENCE_S", 3.0)
    with pty_clips(tmp_path, "--clips", 3, "--clip-options", '{"battery_percent":12,"battery_per_hour":0}') as clips:
        sources = [word for i in (0, 1, 2) for word in ("--source", f"serial:{tmp_path / f'clip{i}'}")]
        status, out, err = run(capsys, *options(book, *sources, "--hands-free"))
        assert (status, out) == (2, "")
        assert f"the right foot ({identity_of(0)}) has 12 % of its charge left" in err and "--anyway" in err
        assert "(1 more like this)" in err
        clips.tell("pull", 1)
        status, _, err = run(capsys, *options(book, *sources[:2], "--hands-free"))
        assert status == 2 and f"the right shank ({identity_of(1)}) is not heard: switch the clip on" in err
    assert recording_folders(book.path) == []


def test_swapped_clips_are_exchanged_in_the_logbook(book):
    wear(book.path, "0a", "foot", "left")
    wear(book.path, "0b", "shank", "left", "p01")
    exchange(book, "p01", (("right_foot", "left_foot"), ("right_shank", "left_shank")))
    assert worn_by(book, "p01") == {
        "0a": "right_foot", "0b": "right_shank", identity_of(0): "left_foot", identity_of(1): "left_shank"
    }  # fmt: skip
    mine = {entry.clip for entry in read_worn(book.path).clips if entry.participant == "p01"}
    assert mine == {"0b"}


def test_a_recording_with_swapped_clips_begins_anew_with_their_places_exchanged(book, capsys, monkeypatch):
    for clip, segment in (("0a", "foot"), ("0b", "shank")):
        wear(book.path, clip, segment, "left")
    seen = []

    def recorded(_, about, plan, tools, watch):
        seen.append(dict(about.worn))
        pairs = (("right_foot", "left_foot"), ("right_shank", "left_shank"))
        return Outcome("swapped", None, pairs) if len(seen) == 1 else Outcome("stopped")

    monkeypatch.setattr(session_run, "record", recorded)
    monkeypatch.setattr(session_run, "wait_until_ready", lambda tools, watch: [])
    monkeypatch.setattr(session_run, "choose_sources", lambda *_, **__: [VirtualSource()])
    status, out, err = run(capsys, *options(book, "--source", "serial:any"))
    assert (status, out) == (0, "") and "Nothing was recorded." in err
    assert seen[0]["0a"] == "left_foot" and seen[1]["0a"] == "right_foot" and seen[1]["0b"] == "right_shank"
    assert list(seen[1].values())[:2] == ["right_foot", "right_shank"]


def test_ranges_measured_by_hand_go_along_until_clips_measured_them(book, capsys):
    known(book)
    by_hand = ["right.ankle_dorsiflexion=14,15,16,17", "--participant", "p01", "--logbook", str(book.path)]
    assert command.run(["range", *by_hand]) == 0
    subject = subject_of(book, "p01", ["near"])
    assert about_of(subject, {"a": "right_foot"}, None, {}).typed_range_deg == {"right": {"ankle_dorsiflexion": 16.0}}
    check = Phase(name="range_dorsiflexion", start_s=0, end_s=10)
    session = Session(
        id="p01-1", participant=Participant(id="p01"), recorded_at=datetime.now().astimezone() + timedelta(hours=1),
        setups=[Setup(name="near")], clips=[], phases=[check],
    )  # fmt: skip
    assert ends_by_hand(read_notes(book, "p01").ranges, [session]) == {}


def test_a_second_ctrl_c_leaves_the_rest_to_recover(tmp_path, capsys, monkeypatch, no_waiting):
    def broken_off(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(record_module, "finish", broken_off)
    monkeypatch.setattr(session_run, "PACE", replace(BRIEF, still_s=1, ready_s=0.5, move_s=0.5))
    status, out, err = run(
        capsys, "--logbook", tmp_path / "L", "--participant", "p01", "--setup", "near", "--practice-only",
        "--source", "virtual:right_foot,right_shank", "--hands-free", "--minutes", 0.1, "--speed", 25,
    )  # fmt: skip
    assert (status, out) == (130, "") and f"is safe: footroom recover --logbook {tmp_path / 'L'}" in err
    assert command.run(["recover", "--logbook", str(tmp_path / "L")]) == 0
    session_id = capsys.readouterr().out.strip().splitlines()[-1]
    assert [phase.name for phase in Logbook(tmp_path / "L").session(session_id).phases][-2:] == ["playing", "end_still"]


def test_set_ups_are_taken_as_noted_without_what_was_felt_then(book, capsys):
    known(book)
    values = ["comfort_0_10=3", "chosen=true", "spacing_cm=46", "--participant", "p01", "--logbook", str(book.path)]
    assert command.run(["setup", "near", *values]) == 0
    subject = subject_of(book, "p01", ["near", "near"])
    assert list(subject.setups) == ["near"] and subject.participant.stature_cm == 174
    near = subject.setups["near"]
    assert (near.reach_cm, near.spacing_cm, near.comfort_0_10, near.chosen) == (44, 46, None, None)
    assert subject.notes == ()
    assert about_of(subject, {"a": "right_foot"}, None, {}).typed_range_deg == {}
    fresh = subject_of(book, "p02", ["any"], new=True)
    assert "Nothing is known yet of where the pedals stand on 'any'" in fresh.notes[0]
    with pytest.raises(InputError, match="two clips have the place right foot"):
        about_of(subject, {"a": "right_foot", "b": "right_foot"}, None, {})


class Recording:
    """`footroom record` in a process of its own, its keys through a pipe."""

    def __init__(self, folder, *more, speed=8):
        words = [
            "record", "--logbook", folder / "L", "--participant", "p01", "--setup", "near", "--practice-only",
            "--source", "virtual:right_foot,right_shank", "--speed", str(speed), *more,
        ]  # fmt: skip
        self.process = subprocess.Popen(
            [sys.executable, "-m", "footroom", *map(str, words)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.said = []

    def until(self, words):
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.said.append(line)
            if words in line:
                return self
        raise AssertionError("".join(self.said))

    def press(self, keys):
        assert self.process.stdin is not None
        self.process.stdin.write(keys)
        self.process.stdin.flush()
        return self

    def end(self):
        out, err = self.process.communicate(timeout=60)
        return self.process.returncode, out, "".join(self.said) + err


@pytest.mark.skipif(sys.platform == "win32", reason="signals are different on Windows")
def test_ctrl_c_while_playing_keeps_what_was_played(tmp_path):
    recording = Recording(tmp_path).until("Before you begin").press("\n").until("Sit still").press("s\n")
    recording.until("Play on").press("\n")
    book = Logbook(tmp_path / "L")
    (folder,) = recording_folders(book.path)
    while not (begun := read_journal(folder).of("begin")):
        time.sleep(0.05)
    while read_stream(folder / "right_foot.arrows").frames.arrived_s[-1] < begun[0].at_s + 2.0:
        time.sleep(0.05)
    recording.process.send_signal(signal.SIGINT)
    status, out, err = recording.end()
    assert status == 130 and "nothing lost" in err, err
    session = book.session(out.strip())
    assert [phase.name for phase in session.phases] == ["playing"] and recording_folders(book.path) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals are different on Windows")
def test_leaving_before_anything_was_recorded_leaves_nothing(tmp_path):
    recording = Recording(tmp_path).until("Before you begin").press("qq")
    status, out, err = recording.end()
    assert (status, out) == (0, "") and err.endswith("Nothing was recorded.\n")
    assert recording_folders(tmp_path / "L") == []


def test_a_keyboard_that_is_gone_lets_it_go_on_by_itself(tmp_path):
    recording = Recording(tmp_path, "--minutes", "0.1", speed=40).until("Before you begin")
    assert recording.process.stdin is not None
    recording.process.stdin.close()
    recording.process.stdin = None
    status, out, err = recording.end()
    assert status == 0 and Logbook(tmp_path / "L").session(out.strip()).phases[-1].name == "end_still", err
