"""Clips on serial ports: the real pyserial over pseudo-terminals, boards in a process of their own."""

import errno
import json
import os
import re
import sys
import time
from pathlib import Path

import pytest
from footroom.logger.errors import SourceError
from footroom.logger.sources import serial_source
from footroom.logger.sources.base import Answered, Connected, Damaged, Gone, Heard, Inbox, Silent, StatusHeard, Trouble
from footroom.logger.sources.listening import listen
from footroom.logger.sources.serial_problems import open_error
from footroom.logger.sources.serial_source import SerialSource
from heard import missing, of, samples, ticks_fit, until
from pty_remote import pty_clips

ONE, TWO, THREE = "020000000000", "020000000001", "020000000002"
needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("ports")


@pytest.fixture(scope="module")
def boards(folder):
    """Three clips at FOLDER/clip0 to clip2, for all tests of this file."""
    with pty_clips(folder, "--clips", 3) as process:
        yield process


@pytest.fixture
def quick(monkeypatch):
    """The waits of a source, shortened: what is tested is what follows, not how long a second is."""
    monkeypatch.setattr(serial_source, "SILENT_S", 0.5)
    monkeypatch.setattr(serial_source, "JUDGED_S", 1.0)


@needs_pty
def test_clips_are_heard_started_pulled_out_and_heard_again_silence_and_garbage_told(boards, folder, quick):
    ports = [str(folder / f"clip{i}") for i in range(3)]
    with listen([SerialSource(port) for port in ports]) as listening:
        events = until(listening, lambda events: len(of(events, Connected)) == 3)
        facts = of(events, Connected, ONE)[0].facts
        assert (facts.kind, facts.place, facts.rate_hz) == ("serial", ports[0], 200)
        assert not of(events, Heard)  # clips wake up stopped
        for clip in (ONE, TWO, THREE):
            listening.command(clip, "start")
        events = until(listening, lambda events: min(samples(events, c) for c in (ONE, TWO, THREE)) >= 40)
        assert {answer.clip: answer.accepted for answer in of(events, Answered)} == {ONE: True, TWO: True, THREE: True}

        boards.tell("pull", 0)
        boards.tell("mute", 1, 1)
        boards.tell("junk", 2, "0102030041ff00")
        events = until(listening, lambda events: of(events, Gone) and of(events, Silent) and of(events, Trouble, THREE))
        assert [event.clip for event in of(events, Gone)] == [ONE]
        assert of(events, Gone)[0].reason == f"the link to {ports[0]} broke; plug it in again."
        assert [facts.clip for facts in listening.clips()] == [TWO, THREE]
        with pytest.raises(SourceError, match=f"no clip '{ONE}' is heard; heard are {TWO}, {THREE}"):
            listening.command(ONE, "stop")
        silent, trouble = of(events, Silent, TWO), of(events, Trouble, THREE)[0]
        assert len(silent) == 1 and 0.5 <= silent[0].silent_s < 3.0
        assert trouble.reason == "garbled" and trouble.problem.startswith(f"garbage on the line {ports[2]}: ")
        assert "use a shorter or better cable" in trouble.problem
        assert sum(event.frames for event in of(events, Damaged, THREE)) > 5 and not of(events, Damaged, TWO)
        assert ticks_fit(of(events, Heard, THREE), 200)  # what did come is right

        boards.tell("junk", 2, "00")
        boards.tell("mute", 1, 0)
        boards.tell("plug", 0)
        again = until(listening, lambda events: min(samples(events, c) for c in (ONE, TWO)) >= 40)
        assert [event.clip for event in of(again, Connected)] == [ONE]  # without a second start: it goes on
        assert of(again, StatusHeard, ONE)[0].dropped  # what it took while nobody was there
        for clip in (ONE, TWO, THREE):
            frames = of(again, Heard, clip)
            assert ticks_fit(frames, 200) and missing(frames[1:]) == 0
        assert json.loads(boards.tell("sent", 0))["commands"] == 1


@needs_pty
def test_lines_of_text_are_recognised_and_take_no_commands(boards, folder):
    boards.tell("text", 2)
    with listen([SerialSource(str(folder / "clip2"))]) as listening:
        events = until(listening, lambda events: samples(events, "board-02") >= 50)
        facts = of(events, Connected)[0].facts
        assert facts.text and facts.battery_percent == 71 and facts.rate_hz == 200
        assert facts.acc_range == pytest.approx(16 * 9.80665)
        ticks = [tick for frame in of(events, Heard) if frame.ticks_us is not None for tick in frame.ticks_us.tolist()]
        assert {(b - a) % 2**32 for a, b in zip(ticks, ticks[1:], strict=False)} == {5000}
        with pytest.raises(SourceError, match="sends lines of text and takes no commands"):
            listening.command("board-02", "start")
        boards.tell("pull", 2)
        assert of(until(listening, lambda events: of(events, Gone)), Gone)[0].clip == "board-02"


LINES = {
    "silence": (b"", "no answer", "nothing comes from {port} .1 s.; switch the clip on"),
    "wrong baud": (
        bytes(range(128, 256)) * 2,
        "garbled",
        "{port} at 9600 baud is not a clip's .* baud rate is wrong",
    ),
    "zeros": (b"\x81\x00\x7f\xe1\x00" * 20, "garbled", "{port} .* not a clip's .* try --baud 460800"),
    "another device": (b"$GPGGA,1,2,3\r\n", "garbled", "{port} .* not a clip's .* or another device is there"),
}


@needs_pty
def test_lines_without_a_clip_are_judged(quick):
    pairs = {name: os.openpty() for name in LINES}
    ports = {name: os.ttyname(slave) for name, (_, slave) in pairs.items()}
    try:
        with listen([SerialSource(port, 9600) for port in ports.values()]) as listening:
            end_s = time.monotonic() + 8
            troubles: list[Trouble] = []
            while len(troubles) < len(LINES) and time.monotonic() < end_s:
                for name, (noise, _, _) in LINES.items():
                    os.write(pairs[name][0], noise)
                troubles += of(listening.take(0.05), Trouble)
            assert listening.clips() == []
    finally:
        for pair in pairs.values():
            for end in pair:
                os.close(end)
    told = {trouble.place: trouble for trouble in troubles}
    for name, (_, reason, words) in LINES.items():
        trouble = told[ports[name]]
        assert trouble.reason == reason, name
        assert re.search(words.format(port=ports[name]), trouble.problem), name


@needs_pty
def test_a_busy_port_a_missing_one_and_a_file_are_refused(tmp_path):
    master, slave = os.openpty()
    port = os.ttyname(slave)
    first, second = SerialSource(port), SerialSource(port)
    try:
        first.open(Inbox())
        with pytest.raises(SourceError, match=f"the serial port {port} is busy: another program") as caught:
            second.open(Inbox())
        assert caught.value.reason == "busy"
    finally:
        first.close()
        first.close()  # twice is allowed
        second.close()
        os.close(master)
        os.close(slave)
    with pytest.raises(SourceError, match="there is no serial port .*clip9; plug the clip in") as caught:
        SerialSource(str(tmp_path / "clip9")).open(Inbox())
    assert caught.value.reason == "missing" and caught.value.worth_retrying
    note = tmp_path / "note.txt"
    note.write_text("no port", encoding="utf-8")
    with pytest.raises(SourceError, match=r"note.txt cannot be used as a serial port .*; choose a port"):
        SerialSource(str(note)).open(Inbox())


@needs_pty
def test_a_port_that_belongs_to_others_is_refused(tmp_path):
    port = tmp_path / "port"
    port.touch(mode=0)
    root = os.geteuid() == 0  # who may open everything: be nobody for a moment
    try:
        if root:
            os.seteuid(65534)
        with pytest.raises(SourceError, match="you may not use the serial port .*permission denied") as caught:
            SerialSource(str(port)).open(Inbox())
    finally:
        if root:
            os.seteuid(0)
    assert caught.value.reason == "refused" and not caught.value.worth_retrying


class WindowsError5(Exception):
    """As pyserial 3.5 words it on Windows (serialwin32.py); the system's numbers are in the text only."""


@pytest.mark.parametrize(
    ("error", "platform", "reason", "words"),
    [
        (OSError(errno.EACCES, "denied"), "linux", "refused", "usermod -aG dialout"),
        (OSError(errno.EACCES, "denied"), "darwin", "refused", "allow your user to use it"),
        (OSError(errno.EBUSY, "busy"), "darwin", "busy", "close it"),
        (OSError(errno.ENXIO, "no device"), "linux", "missing", "plug the clip in"),
        (ValueError("Not a valid baudrate: 7"), "linux", "refused", "choose another --baud"),
        (
            WindowsError5("could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)"),
            "win32", "busy", "COM3 is busy",
        ),
        (
            WindowsError5("could not open port 'COM3': FileNotFoundError(2, 'cannot find the file', None, 2)"),
            "win32", "missing", "there is no serial port COM3",
        ),
    ],
)  # fmt: skip
def test_refusals_of_a_port_are_worded_for_each_system(error, platform, reason, words):
    """Linux: the system's numbers. macOS and Windows: from pyserial's source and documentation, not tried there."""
    told = open_error("COM3", error, platform)
    assert told.reason == reason and words in str(told) and str(told).count(".") == 1 and told.place == "COM3"


def test_a_port_of_this_computer_is_listed_only_with_a_usb_device_behind_it(monkeypatch):
    class Port:
        def __init__(self, device: str, vid: int | None) -> None:
            self.device, self.vid = device, vid

    found = [Port("/dev/ttyS0", None), Port("/dev/ttyUSB1", 0x10C4), Port("/dev/ttyACM0", 0x239A)]
    monkeypatch.setattr(serial_source.list_ports, "comports", lambda: found)
    assert serial_source.ports() == ["/dev/ttyACM0", "/dev/ttyUSB1"]
    assert Path("/dev/ttyS0").name not in str(serial_source.ports())
