"""A clip on a serial port: one thread that reads, finds out whether frames or lines of text come, and reconnects.

Linux was tried, over pairs of pseudo-terminals. Windows and macOS are written from pyserial's documentation.
"""

from __future__ import annotations

import threading
import time

import serial
from serial.tools import list_ports

from ..errors import SourceError
from ..wire import StreamReader, TextReader, TextSamples, delimited, looks_like_text
from .base import SILENT_S, ClipFacts, CommandName, Damaged, Event, Gone, Inbox, Silent, SourceKind, Trouble
from .hearing import Hearing
from .serial_problems import disturbed, garbled, no_word, not_said, open_error

DEFAULT_BAUD = 115200
FIRST_RETRY_S, LAST_RETRY_S = 0.2, 3.0  # after a lost link, doubled each time; ours
JUDGED_S = 3.0  # so often the line is judged [s]; a hello comes once a second
_TURN_S = 0.1  # how long a read waits
_GATHER_S = 0.004  # after the first byte; a frame takes 2-20 ms on a UART, and over USB comes in one piece
_MUCH_DAMAGE = 0.05  # share of frames


def ports() -> list[str]:
    """The serial ports of this computer with a USB device behind them, as `SerialSource` takes them.

    Others (an adapter on a built-in port) are there too, but are asked only when somebody names them.
    """
    return sorted(port.device for port in list_ports.comports() if port.vid is not None)


class SerialSource:
    """One port, one clip. baud : ignored by clips on USB. retry : get a lost port back.

    A port whose clip is silent, or says nothing that can be read, is told as Trouble; listening goes on.
    """

    kind: SourceKind = "serial"

    def __init__(self, port: str, baud: int = DEFAULT_BAUD, retry: bool = True) -> None:
        self.place = port
        self._baud, self._retry = baud, retry
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._port: serial.Serial | None = None
        self._line = _Line(port, baud)
        self._writing = threading.Lock()

    def open(self, inbox: Inbox) -> None:
        """Open the port and begin to read. Raises SourceError when it is missing, busy or refused."""
        self._stop.clear()
        self._port = self._opened()
        self._thread = threading.Thread(target=self._run, args=(inbox,), name=f"footroom {self.place}", daemon=True)
        self._thread.start()

    def clips(self) -> list[ClipFacts]:
        """The clip heard now, if any."""
        facts = self._line.hearing.facts
        return [] if facts is None else [facts]

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command. Raises SourceError for another clip, a board of text lines, or a port that is gone."""
        hearing, port = self._line.hearing, self._port
        if hearing.clip != clip or port is None:
            raise SourceError(
                f"the clip {clip!r} is not heard on {self.place}; see `footroom clips`.", "unknown clip", clip
            )
        with self._writing:
            try:
                port.write(delimited(hearing.ask(name, value)))
            except (serial.SerialException, OSError) as error:
                raise SourceError(
                    f"{clip} on {self.place} takes no command ({error}); plug it in again.", "lost", self.place
                ) from error

    def close(self) -> None:
        """Stop reading and let go of the port."""
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None and thread is not threading.current_thread():
            thread.join()
        self._let_go()

    def _opened(self) -> serial.Serial:
        try:
            return serial.Serial(self.place, self._baud, timeout=_TURN_S, write_timeout=1.0, exclusive=True)
        except (serial.SerialException, OSError, ValueError) as error:
            raise open_error(self.place, error) from error

    def _let_go(self) -> None:
        port, self._port = self._port, None
        if port is not None:
            try:
                port.close()
            except (serial.SerialException, OSError):
                return  # it was pulled: nothing left to close

    def _run(self, inbox: Inbox) -> None:
        wait_s = FIRST_RETRY_S
        while not self._stop.is_set():
            if self._port is not None:
                self._listen(self._port, inbox)
                self._let_go()
                if not self._retry:
                    return
                wait_s = FIRST_RETRY_S
            if self._stop.wait(wait_s):
                return
            try:
                self._port = self._opened()
            except SourceError as error:
                if wait_s == LAST_RETRY_S:
                    inbox.put(Trouble("", time.monotonic(), self.place, str(error), error.reason))
                wait_s = min(2 * wait_s, LAST_RETRY_S)

    def _listen(self, port: serial.Serial, inbox: Inbox) -> None:
        """Read until the source is closed or the link breaks."""
        self._line = _Line(self.place, self._baud)
        while not self._stop.is_set():
            try:
                data = port.read(1)
                if data:
                    # let the rest of the frame come: fewer turns
                    if not port.in_waiting:
                        self._stop.wait(_GATHER_S)
                    data += port.read(port.in_waiting)
            except (serial.SerialException, OSError):
                reason = f"the link to {self.place} broke; plug it in again."
                now = time.monotonic()
                inbox.put_all(self._line.hearing.gone(now, reason) or [Gone("", now, reason)])
                return
            events = self._line.take(data, time.monotonic())
            if events:
                inbox.put_all(events)


class _Line:
    """Bytes of one line to events, and a judgement every few seconds."""

    def __init__(self, port: str, baud: int) -> None:
        self.hearing = Hearing("serial", port)
        self._port, self._baud = port, baud
        self._reader: StreamReader | TextReader | None = None
        self._undecided = b""
        self._good = self._damaged = self._told_damaged = self._bytes = 0
        self._since_s = self._last_word_s = time.monotonic()
        self._silent = False
        self._told = ""

    def take(self, data: bytes, now_s: float) -> list[Event]:
        """The events of some bytes (or none) that were there at `now_s` [s]."""
        events: list[Event] = []
        self._bytes += len(data)
        if data and self._reader is None:
            data = self._decide(data)
        if data and self._reader is not None:
            frames = self._reader.feed(data)
            for frame in frames:
                self._good += len(frame.counts) if isinstance(frame, TextSamples) else 1
                events += self.hearing.hear(frame, now_s)
            if frames:
                self._last_word_s, self._silent = now_s, False
            if (new := self._reader.damaged - self._told_damaged) > 0:
                self._told_damaged += new
                self._damaged += new
                damage = self._reader.last_damage
                events.append(Damaged(self.hearing.clip, now_s, self._port, new, str(damage or "")))
        quiet_s = now_s - self._last_word_s
        if quiet_s > SILENT_S and not self._silent and self.hearing.facts is not None:
            self._silent = True
            events.append(Silent(self.hearing.clip, now_s, quiet_s))
        if now_s - self._since_s >= JUDGED_S:
            events += self._judge(now_s)
        return events

    def _decide(self, data: bytes) -> bytes:
        """Text or frames? Gives back the bytes that are to be read, b"" while it is open."""
        self._undecided += data
        if looks_like_text(self._undecided):
            self._reader = TextReader()
        elif b"\0" in self._undecided or len(self._undecided) > 600:
            self._reader = StreamReader()
        else:
            return b""
        data, self._undecided = self._undecided, b""
        return data

    def _judge(self, now_s: float) -> list[Event]:
        """What can be said of the last seconds, once until it changes."""
        seconds, good, damaged = now_s - self._since_s, self._good, self._damaged
        problem, reason = "", "garbled"
        if not self._bytes:
            if self.hearing.facts is None:
                problem, reason = no_word(self._port, seconds), "no answer"
        elif not good:
            problem = garbled(self._port, self._baud, self._bytes, seconds)
            self._reader, self._undecided = None, b""  # perhaps it was taken for the wrong kind
            self._told_damaged = 0
        elif damaged > _MUCH_DAMAGE * (good + damaged):
            problem = disturbed(self._port, damaged, good)
        elif self.hearing.facts is None and self.hearing.unexplained:
            problem, reason = not_said(self._port), "no answer"
        self._since_s, self._bytes, self._good, self._damaged = now_s, 0, 0, 0
        told, self._told = self._told, reason if problem else ""
        if not problem or told == reason:
            return []
        return [Trouble(self.hearing.clip, now_s, self._port, problem, reason)]
