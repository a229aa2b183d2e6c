"""Virtual clips on pseudo-terminals, as boards on serial ports, in a process of their own.

    python pty_clips.py FOLDER --clips 2 --rate 200

Each clip is FOLDER/clip0, FOLDER/clip1, ...: links, so that a clip that was pulled out comes back under its name. Says
`ready`, then takes one command a line on stdin and answers each with a line (see `Controls`). Linux and macOS only.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import selectors
import sys
import time
import tty
from pathlib import Path

from cobs import cobs
from footroom.logger.sources.virtual_board import VirtualBoard
from footroom.logger.wire import Samples, Start, decode, encode
from virtual_parts import Person, make_boards


class Port:
    """One board behind one pseudo-terminal. Bytes that nobody reads are lost, as on a wire."""

    def __init__(self, link: Path, board: VirtualBoard) -> None:
        self.link, self.board = link, board
        self.text = False
        self.junk = b""
        self.mute = False
        self.master = self.slave = -1
        self.rest = b""
        self.sent = 0
        self.header_s = 0.0

    def plug_in(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.master)
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        new = self.link.with_suffix(".new")
        new.symlink_to(os.ttyname(self.slave))
        new.replace(self.link)
        self.board.link(True, time.monotonic())

    def pull_out(self) -> None:
        if self.master >= 0:
            self.board.link(False, time.monotonic())
            os.close(self.master)
            os.close(self.slave)
            self.master = self.slave = -1
            self.link.unlink()

    def send(self) -> None:
        now = time.monotonic()
        frames = self.board.due(now)
        if self.master < 0:
            return
        for frame in () if self.mute else frames:
            self.sent += 1
            self.write(self.line_of(frame, now) if self.text else cobs.encode(frame) + b"\0")
        if self.junk:
            self.write(self.junk)

    def line_of(self, frame: bytes, now: float) -> bytes:
        """The text form of a samples frame: counts, a header each second."""
        if frame[0] < 0x80:
            return b""
        samples = decode(frame)
        assert isinstance(samples, Samples)
        lines = []
        if now - self.header_s >= 1:
            self.header_s = now
            lines.append(
                f"# clip=board-{self.board.identity[-2:]} rate={self.board.rate_hz} acc=g gyr=deg/s acc_range=16 "
                "gyr_range=2000 numbers=counts battery=71"
            )
        for i, row in enumerate(samples.counts):
            tick = samples.tick_us + round(i * 1e6 / self.board.rate_hz)
            lines.append(",".join(map(str, [tick, *row])))
        return "".join(line + "\n" for line in lines).encode()

    def write(self, data: bytes) -> None:
        with contextlib.suppress(BlockingIOError):  # nobody reads and the buffer is full
            os.write(self.master, data)

    def receive(self) -> None:
        with contextlib.suppress(OSError):
            *packets, self.rest = (self.rest + os.read(self.master, 4096)).split(b"\0")
            for packet in packets:
                with contextlib.suppress(cobs.DecodeError):
                    self.board.receive(cobs.decode(packet), time.monotonic())


class Controls:
    """What a test may ask for: WORD CLIP_NUMBER [VALUE]."""

    def __init__(self, ports: list[Port]) -> None:
        self.ports = ports

    def __call__(self, line: str) -> str:
        word, number, *rest = line.split()
        return str(getattr(self, word)(self.ports[int(number)], *rest))

    def pull(self, port: Port) -> str:
        """The plug is pulled."""
        port.pull_out()
        return "ok"

    def plug(self, port: Port) -> str:
        port.plug_in()
        return "ok"

    def mute(self, port: Port, on: str) -> str:
        """The port is there but nothing comes."""
        port.mute = on == "1"
        return "ok"

    def junk(self, port: Port, hexadecimal: str) -> str:
        """These bytes after every turn, `00` = none."""
        port.junk = b"" if hexadecimal == "00" else bytes.fromhex(hexadecimal)
        return "ok"

    def text(self, port: Port) -> str:
        """From now on it is a board that sends lines of text, from power-up on."""
        port.text = True
        port.board.receive(encode(Start(1)), time.monotonic())
        return "ok"

    def begin(self, port: Port, phase: str, side: str, setup: str) -> str:
        """Whoever wears the clips does this from now on."""
        return Person.begin(phase, side, setup)

    def sent(self, port: Port) -> str:
        """Frames sent, commands received, samples that the board could not send, blinking."""
        board = port.board
        blinks = board.blinks_until_s > time.monotonic()
        return json.dumps({"sent": port.sent, "commands": board.commands, "dropped": board.dropped, "blinks": blinks})


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--clips", type=int, default=1)
    parser.add_argument("--rate", type=int, default=200)
    parser.add_argument("--clip-options", type=json.loads, default={}, help="JSON, for every virtual clip")
    parser.add_argument("--same-ids", action="store_true")
    options = parser.parse_args()
    boards = make_boards(options.clips, options.rate, 248, same_ids=options.same_ids, **options.clip_options)
    ports = [Port(options.folder / f"clip{i}", board) for i, board in enumerate(boards)]
    for port in ports:
        port.plug_in()
    controls = Controls(ports)
    print("ready", flush=True)
    with selectors.DefaultSelector() as selector:
        selector.register(sys.stdin, selectors.EVENT_READ)
        while True:
            for port in ports:
                port.send()
                if port.master >= 0:
                    port.receive()
            now = time.monotonic()
            wait_s = min(0.02, min(port.board.next_due_s(now) for port in ports) - now)
            if selector.select(max(0.001, wait_s)):
                line = sys.stdin.readline()
                if not line:
                    break
                print(controls(line), flush=True)


if __name__ == "__main__":
    main()
