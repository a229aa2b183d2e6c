"""`footroom clips`: real processes' clips over pseudo-terminals and the fake Bluetooth service, and every refusal."""

from __future__ import annotations

import errno
import json
import os
import sys

import pytest
import serial
from footroom.dashboard import command
from footroom.logger.logbook import Logbook
from footroom.logger.worn import read_worn
from private_bus import needs_dbus, private_bluez, private_bus
from pty_remote import pty_clips

needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")

EXPECT_TWO = ("--expect", 2, "--seconds", 20)  # ends long before


def run(capsys, *arguments):
    """(exit status, stdout, stderr as one line) of `footroom clips ...`."""
    status = command.run(["clips", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, " ".join(err.split())


@needs_pty
def test_clips_on_serial_ports_are_listed_with_where_they_are_worn(capsys, tmp_path):
    book = tmp_path / "L"
    assert run(capsys, "wear", "020000000001", "shank", "left", "--logbook", book)[0] == 0
    with pty_clips(tmp_path, "--clips", 2, "--rate", 400):
        ports = [tmp_path / "clip0", tmp_path / "clip1"]
        named = [word for port in ports for word in ("--source", f"serial:{port}")]
        status, out, err = run(capsys, *named, *EXPECT_TWO, "--json", "--logbook", book)
    assert (status, err) == (0, "")
    first, second = json.loads(out)["clips"]
    assert first["clip"] == "020000000000" and second["clip"] == "020000000001"
    assert first["kind"] == "serial" and first["place"] == str(ports[0])
    assert first["rate_hz"] == 400 and 0 <= first["battery_percent"] <= 100 and first["running"] is False
    assert first["acc_range_g"] == 16 and first["gyr_range_deg_s"] == 2000 and first["wire_format"] == "1.0"
    assert first["worn"] == {} and second["worn"] == {"": "left_shank"}


@needs_pty
def test_a_clip_on_a_serial_port_blinks_for_as_long_as_it_is_told(capsys, tmp_path):
    with pty_clips(tmp_path) as clips:
        status, out, err = run(capsys, "blink", "020000000000", "--source", tmp_path / "clip0", "--seconds", 60)
        said = json.loads(clips.tell("sent", 0))
    assert (status, out.strip(), err) == (0, "020000000000 blinks for 60 s.", "")
    assert said["blinks"] and said["commands"] == 1


@needs_dbus
def test_clips_over_bluetooth_are_listed_and_blink(capsys):
    with private_bluez("--clips", 2) as bluez:
        status, out, err = run(capsys, "--source", "bluetooth", *EXPECT_TWO)
        assert (status, err) == (0, "")
        rows = [line.split() for line in out.splitlines() if "bluetooth" in line]
        assert [row[0] for row in rows] == ["020000000000", "020000000001"]
        for row in rows:
            assert "dBm" in row and "%" in row and row[row.index("Hz") - 1] == "200"
        assert run(capsys, "blink", "020000000001", "--source", "bluetooth")[:2] == (
            0,
            "020000000001 blinks for 10 s.\n",
        )
        assert [json.loads(bluez.tell("sent", i))["commands"] for i in (0, 1)] == [0, 1]


@needs_dbus
def test_two_clips_with_one_id_are_refused_with_both_places(capsys):
    with private_bluez("--clips", 2, "--same-ids"):
        status, _, err = run(capsys, "--source", "bluetooth", *EXPECT_TWO)
        assert status == 2
        assert "2 clips call themselves '020000000000'" in err
        assert "02:00:00:00:00:00" in err and "02:00:00:00:00:01" in err and "give one of them an id of its own" in err


@needs_dbus
@pytest.mark.parametrize(
    ("options", "source", "said"),
    [
        (["--no-adapter"], "bluetooth", "no Bluetooth adapter in this computer; plug one in"),
        (["--off"], "bluetooth", "is switched off; switch it on"),
        ([], "bluetooth:hci7", "no Bluetooth adapter hci7 in this computer"),
    ],
)
def test_an_adapter_that_cannot_be_used_is_named_with_the_remedy(capsys, options, source, said):
    with private_bluez(*options):
        status, out, err = run(capsys, "--source", source, "--seconds", 1)
    assert (status, out) == (2, "") and said in err


@needs_dbus
def test_no_bluetooth_service_at_all(capsys):
    with private_bus():
        status, _, err = run(capsys, "--source", "bluetooth", "--seconds", 1)
    assert status == 2 and "Bluetooth service does not answer; start it" in err


@needs_dbus
def test_another_major_version_of_the_wire_format_is_said(capsys):
    with private_bluez("--faults", '{"major":2}'):
        status, out, err = run(capsys, "--source", "bluetooth", "--seconds", 20)
    assert (status, out) == (2, "")
    assert "speaks version 2.0 of the wire format, and this Footroom version 1; update Footroom" in err


@needs_pty
def test_a_line_of_noise_is_a_wrong_baud_rate_or_another_device(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("footroom.logger.sources.serial_source.JUDGED_S", 0.6)
    with pty_clips(tmp_path) as clips:
        clips.tell("mute", 0, 1)
        clips.tell("junk", 0, "fe37")
        status, out, err = run(capsys, "--source", tmp_path / "clip0", "--seconds", 20)
    assert (status, out) == (2, "") and "115200 baud is not a clip's" in err and "the baud rate is wrong" in err


@needs_pty
def test_a_port_that_is_busy_missing_or_forbidden(capsys, tmp_path, monkeypatch):
    with pty_clips(tmp_path):
        port = tmp_path / "clip0"
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


def test_an_unknown_clip_is_refused_with_those_that_are_heard(capsys, monkeypatch):
    monkeypatch.setattr("footroom.logger.clips.blink.__defaults__", (1.2,))
    status, _, err = run(capsys, "blink", "nobody", "--source", "virtual:right_foot")
    assert status == 2 and "no clip 'nobody' is heard; heard are 020000000000" in err


def test_virtual_clips_and_a_table(capsys):
    status, out, err = run(capsys, "--source", "virtual:right_foot,pelvis", *EXPECT_TWO)
    assert (status, err) == (0, "")
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
    assert (status, out, err) == (0, "a2 is worn on the right foot on wren.\n", "")
    assert "a1 was there until now" in run(capsys, "wear", "a3", "foot", "right", "--logbook", book)[2]
    assert read_worn(book).places("wren") == {"a2": "right_foot"} and read_worn(book).places() == {"a3": "right_foot"}
    assert run(capsys, "take-off", "a2", "--logbook", book)[:2] == (0, "a2 is worn nowhere.\n")
    status, _, err = run(capsys, "take-off", "a2", "--logbook", book)
    assert status == 2 and "a2 is not worn as far as" in err
    assert Logbook(book).session_ids() == []
