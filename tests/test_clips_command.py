"""`footroom clips`: real processes' clips over pseudo-terminals and the fake Bluetooth service, and every refusal."""

from __future__ import annotations

import errno
import json
import os
import sys
import time

import pytest
import serial
from footroom.dashboard import command
from footroom.logger.logbook import Logbook
from footroom.logger.sources.base import ClipFacts, Connected, SourceKind, Trouble
from footroom.logger.worn import read_worn
from private_bus import needs_dbus, private_bluez
from pty_remote import pty_clips

needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")

ONE, TWO = "020000000000", "020000000001"
EXPECT_TWO = ("--expect", 2, "--seconds", 20)  # ends long before


def run(capsys, *arguments):
    """(exit status, stdout, stderr as one line) of `footroom clips ...`."""
    status = command.run(["clips", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, " ".join(err.split())


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """What comes together here comes at once."""
    monkeypatch.setattr("footroom.logger.clips.MORE_S", 0.15)


@pytest.fixture(scope="module")
def ports(tmp_path_factory):
    """Two clips on pseudo-terminals, for the whole file."""
    folder = tmp_path_factory.mktemp("ports")
    with pty_clips(folder, "--clips", 2, "--rate", 400) as clips:
        clips.folder = folder
        yield clips


@pytest.fixture(scope="module")
def bluez():
    """Two clips behind the fake Bluetooth service, for the whole file."""
    with private_bluez("--clips", 2) as bluez:
        yield bluez


@needs_pty
def test_clips_on_serial_ports_are_listed_with_where_they_are_worn(capsys, tmp_path, ports):
    book = tmp_path / "L"
    assert run(capsys, "wear", TWO, "shank", "left", "--logbook", book)[0] == 0
    named = [word for i in (0, 1) for word in ("--source", f"serial:{ports.folder / f'clip{i}'}")]
    status, out, err = run(capsys, *named, *EXPECT_TWO, "--json", "--logbook", book)
    assert (status, err) == (0, "")
    first, second = json.loads(out)["clips"]
    assert first["clip"] == ONE and second["clip"] == TWO
    assert first["kind"] == "serial" and first["place"] == str(ports.folder / "clip0")
    assert first["rate_hz"] == 400 and 0 <= first["battery_percent"] <= 100 and first["running"] is False
    assert first["acc_range_g"] == 16 and first["gyr_range_deg_s"] == 2000 and first["wire_format"] == "1.0"
    assert first["worn"] == {} and second["worn"] == {"": "left_shank"}


@needs_pty
def test_a_clip_on_a_serial_port_blinks_for_as_long_as_it_is_told(capsys, ports):
    before = json.loads(ports.tell("sent", 0))
    status, out, err = run(capsys, "blink", ONE, "--source", ports.folder / "clip0", "--seconds", 60)
    after = json.loads(ports.tell("sent", 0))
    assert (status, out, err) == (0, f"{ONE} blinks for 60 s.\n", "")
    assert not before["blinks"] and after["blinks"] and after["commands"] == before["commands"] + 1


@needs_pty
def test_a_line_of_noise_is_a_wrong_baud_rate_or_another_device(capsys, ports, monkeypatch):
    monkeypatch.setattr("footroom.logger.sources.serial_source.JUDGED_S", 0.4)
    ports.tell("mute", 0, 1)
    ports.tell("junk", 0, "fe37")
    try:
        status, out, err = run(capsys, "--source", ports.folder / "clip0", "--seconds", 20)
    finally:
        ports.tell("mute", 0, 0)
        ports.tell("junk", 0, "00")
    assert (status, out) == (2, "") and "115200 baud is not a clip's" in err and "the baud rate is wrong" in err


@needs_pty
def test_a_port_that_is_busy_missing_or_forbidden(capsys, tmp_path, ports, monkeypatch):
    port = ports.folder / "clip0"
    with serial.Serial(str(port), exclusive=True):
        status, _, err = run(capsys, "--source", port)
        assert status == 2 and f"the serial port {port} is busy" in err
    status, _, err = run(capsys, "--source", tmp_path / "clip9")
    assert status == 2 and f"there is no serial port {tmp_path / 'clip9'}; plug the clip in" in err
    real = os.open

    def forbidden(path, *rest, **more):
        if str(path) == "/dev/forbidden":
            raise PermissionError(errno.EACCES, "Permission denied", path)
        return real(path, *rest, **more)

    monkeypatch.setattr(os, "open", forbidden)  # tests may run as a user who may open everything
    status, _, err = run(capsys, "--source", "/dev/forbidden")
    assert status == 2 and "you may not use the serial port /dev/forbidden (permission denied); add yourself" in err


@needs_dbus
def test_clips_over_bluetooth_are_listed_and_blink(capsys, bluez):
    status, out, err = run(capsys, "--source", "bluetooth", *EXPECT_TWO)
    assert (status, err) == (0, "")
    rows = [line.split() for line in out.splitlines() if "bluetooth" in line]
    assert [row[0] for row in rows] == [ONE, TWO]
    for row in rows:
        assert "dBm" in row and "%" in row and row[row.index("Hz") - 1] == "200"
    assert run(capsys, "blink", TWO, "--source", "bluetooth")[:2] == (0, f"{TWO} blinks for 10 s.\n")
    assert [json.loads(bluez.tell("sent", i))["commands"] for i in (0, 1)] == [0, 1]


@needs_dbus
def test_an_adapter_that_cannot_be_used_ends_with_status_2(capsys, bluez):
    said = {}
    try:
        for state in ("off", "gone"):
            bluez.tell("adapter", state)
            status, out, said[state] = run(capsys, "--source", "bluetooth", "--seconds", 1)
            assert (status, out) == (2, "")
    finally:
        bluez.tell("adapter", "on")
    assert "is switched off; switch it on" in said["off"]
    assert "no Bluetooth adapter in this computer; plug one in" in said["gone"]


class Saying:
    """A source that has only these events to say, and these clips."""

    kind: SourceKind = "bluetooth"

    def __init__(self, events=(), clips=()):
        self.place, self._events, self._clips = "somewhere", events, clips

    def open(self, inbox):
        now = time.monotonic()
        inbox.put_all([*(Connected(facts.clip, now, facts) for facts in self._clips), *self._events])

    def clips(self):
        return list(self._clips)

    def command(self, clip, name, value=None):
        """Taken, and never answered."""

    def close(self): ...


def clip(clip_id, place):
    return ClipFacts(clip=clip_id, kind="bluetooth", place=place, rate_hz=200, acc_scale=0.01, gyr_scale=0.001)


def trouble(problem, reason):
    return Trouble("", 0.0, "somewhere", problem, reason)


def hear_these(monkeypatch, *sources):
    monkeypatch.setattr("footroom.logger.sources.choose.choose_sources", lambda *_, **__: list(sources))


def test_two_clips_with_one_id_end_with_status_2_and_both_are_listed(capsys, monkeypatch):
    hear_these(monkeypatch, Saying(clips=[clip(ONE, "A"), clip(ONE, "B")]))
    status, out, err = run(capsys, *EXPECT_TWO)
    assert status == 2 and len([line for line in out.splitlines() if ONE in line]) == 2
    assert f"2 clips call themselves '{ONE}' (A and B); give one of them an id of its own" in err


def test_what_is_wrong_with_a_clip_is_refused_even_when_others_are_well(capsys, monkeypatch):
    hear_these(monkeypatch, Saying([trouble("another version; update.", "version")], [clip(ONE, "A")]))
    status, out, err = run(capsys, "--seconds", 0.1)
    assert status == 2 and ONE in out and err == "footroom: another version; update."


@pytest.mark.parametrize(("named", "status", "begins"), [((), 0, "Note: "), (("--source", "x"), 2, "footroom: ")])
def test_a_way_that_nobody_named_and_that_does_not_work_is_only_a_note(capsys, monkeypatch, named, status, begins):
    hear_these(monkeypatch, Saying([trouble("it is off; switch it on.", "off")]), Saying(clips=[clip(ONE, "A")]))
    done, out, err = run(capsys, *named, "--seconds", 0.1)
    assert (done, err) == (status, f"{begins}it is off; switch it on.") and ONE in out


def test_nothing_heard_says_so(capsys, monkeypatch):
    hear_these(monkeypatch, Saying())
    status, out, err = run(capsys, "--seconds", 0.1)
    assert (status, out) == (0, "") and "No clip is heard. Switch one on" in err
    status, out, err = run(capsys, "--seconds", 0.1, "--json")
    assert (status, json.loads(out), err) == (0, {"clips": [], "problems": []}, "")


def test_a_clip_that_does_not_answer_is_asked_three_times_and_then_refused(capsys, monkeypatch):
    silent = Saying(clips=[clip(ONE, "A")])
    asked = []
    silent.command = lambda *words: asked.append(words)
    hear_these(monkeypatch, silent)
    monkeypatch.setattr("footroom.logger.clips.ANSWER_S", 0.15)
    status, _, err = run(capsys, "blink", ONE)
    assert status == 2 and f"the clip {ONE} (A) does not answer; bring it nearer" in err
    assert asked == [(ONE, "identify", 10)] * 3


def test_an_unknown_clip_is_refused_with_those_that_are_heard(capsys, monkeypatch):
    monkeypatch.setattr("footroom.logger.clips.PATIENCE_S", 0.3)
    status, _, err = run(capsys, "blink", "nobody", "--source", "virtual:right_foot")
    assert status == 2 and "no clip 'nobody' is heard; heard are 020000000000" in err


def test_virtual_clips_and_a_table(capsys):
    status, out, err = run(capsys, "--source", "virtual:right_foot,pelvis", *EXPECT_TWO, "--logbook", "nowhere")
    assert (status, err) == (0, "Note: there is no logbook nowhere yet, so nobody knows where the clips are worn.")
    assert "virtual right_foot" in out and "virtual pelvis" in out and "90 %" in out and "200 Hz" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--source", "smoke"], "--source smoke is no way to hear clips; use one of serial, serial:PORT"),
        (["--source", "virtual:ear"], "no clip is worn at ear"),
        (["--source", "replay:x"], "write replay:SESSION and name the --logbook"),
        (["wear", "a1", "foot", "--logbook", "L"], "which foot? Add `right` or `left`"),
        (["wear", "a1", "toe", "right", "--logbook", "L"], "the segment 'toe' cannot be used"),
        (["take-off", "a1", "--logbook", "L"], "L does not exist, so it is no logbook"),
        (["--seconds", "0"], "--seconds"),
    ],
)
def test_what_cannot_be_meant_is_one_sentence(capsys, tmp_path, monkeypatch, arguments, said):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "") and said in err


def test_wearing_is_remembered_told_and_forgotten(capsys, tmp_path):
    book = tmp_path / "L"
    assert run(capsys, "wear", "a1", "foot", "right", "--logbook", book) == (0, "a1 is worn on the right foot.\n", "")
    status, out, err = run(capsys, "wear", "a2", "foot", "right", "--logbook", book, "--participant", "wren")
    assert (status, out, err) == (0, "a2 is worn on the right foot by wren.\n", "")
    assert "a1 was there until now" in run(capsys, "wear", "a3", "foot", "right", "--logbook", book)[2]
    assert read_worn(book).places("wren") == {"a2": "right_foot"} and read_worn(book).places() == {"a3": "right_foot"}
    assert run(capsys, "take-off", "a2", "--logbook", book)[:2] == (0, "a2 is worn nowhere.\n")
    status, _, err = run(capsys, "take-off", "a2", "--logbook", book)
    assert status == 2 and "a2 is not worn as far as" in err
    assert Logbook(book).session_ids() == []
