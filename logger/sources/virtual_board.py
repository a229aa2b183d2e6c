"""The firmware of a virtual clip: what `firmware_notes/` asks of a clip, as frames at given times. No input or output.

Samples lie on one grid of time, so that clips on one leg see the same movement: sample k of a board at `rate` samples
a second of its own clock is taken at k / (rate * (1 + drift)) [s of the host].
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from ..errors import WireError
from ..virtual_clip import GRAVITY
from ..wire import (
    SEQUENCE_SPAN,
    TICK_SPAN_US,
    Hello,
    Identify,
    Reply,
    Result,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    Unknown,
    decode,
    encode,
    samples_that_fit,
)
from ..wire.codec import kind_of
from .virtual_counts import ACC_SCALE, GYR_SCALE, CountsOf

ACC_FULL_MG = round(ACC_SCALE / GRAVITY * 32768 * 1000)
GYR_FULL_DDPS = round(float(np.rad2deg(GYR_SCALE)) * 32768 * 10)
SLOWEST_HZ, FASTEST_HZ = 100, 400
GIVES_UP_S = 300.0  # without a link for so long a running clip stops [s]
_MOST_BACKLOG_S = 5.0  # what a board that was not asked for so long has dropped [s]


@dataclass(frozen=True, slots=True)
class BoardFaults:
    """How a board is worse than it should be.

    drift_ppm : its clock is so much too fast. first_tick_us : its tick at time 0 [us]. battery_percent : charge at
    time 0; battery_per_hour : what it loses [%]. major : of the wire format it claims to speak.
    """

    drift_ppm: float = 0.0
    first_tick_us: int = 0
    battery_percent: float = 90.0
    battery_per_hour: float = 5.0
    major: int = 1


class VirtualBoard:
    """One clip. Times are host times [s] on one axis, whose zero is the zero of the samples; they must not go back.

    identity : 12 hexadecimal digits. counts_of : where its samples come from. payload : largest frame of the link
    [bytes]. running : sends samples from the beginning.
    """

    def __init__(
        self,
        identity: str,
        counts_of: CountsOf,
        rate_hz: int = 200,
        payload: int = 244,
        faults: BoardFaults | None = None,
        running: bool = False,
    ) -> None:
        self.identity = identity
        self.rate_hz = rate_hz
        self.commands = 0
        self.blinks_until_s = -math.inf
        self.dropped = 0
        self.running = False
        self._counts_of = counts_of
        self._payload = payload
        self._faults = faults or BoardFaults()
        self._linked = False
        self._unlinked_s: float | None = None
        self._waiting: deque[bytes] = deque()
        self._hello_s = -math.inf
        self._first = self._next = 0  # samples on the grid: number 0, the next to be sent
        self._starts_running = running

    def link(self, up: bool, now_s: float) -> None:
        """The link comes up or breaks. Samples taken meanwhile are counted as dropped."""
        if up == self._linked:
            return
        if up:
            self._drop_until(now_s)
            self._hello_s = now_s
        else:
            self._unlinked_s = now_s
            self._waiting.clear()
        self._linked = up
        if up and self._starts_running:
            self._starts_running = False
            self._start(now_s)

    def receive(self, data: bytes, now_s: float) -> None:
        """One command as it arrives; damaged ones and frames that are no commands are ignored."""
        try:
            frame = decode(data)
        except WireError:
            return
        match frame:
            case Identify():
                self.blinks_until_s = now_s + frame.seconds
                self._answer(kind_of(Identify), frame.token, Result.DONE, 0, now_s)
            case Start():
                if not self.running:
                    self._start(now_s)
                self._answer(kind_of(Start), frame.token, Result.DONE, 0, now_s)
            case Stop():
                if self.running:
                    self._take(now_s, all_of_it=True)
                self.running = False
                self._answer(kind_of(Stop), frame.token, Result.DONE, 0, now_s)
            case SetRate():
                result = Result.DONE
                if self.running:
                    result = Result.NOT_NOW
                elif not SLOWEST_HZ <= frame.rate_hz <= FASTEST_HZ:
                    result = Result.VALUE_REFUSED
                else:
                    self.rate_hz = frame.rate_hz
                self._answer(kind_of(SetRate), frame.token, result, self.rate_hz, now_s)
                if result is Result.DONE:
                    self._waiting.append(encode(self._hello()))
            case Unknown() if 0x40 <= frame.kind < 0x80 and frame.body:
                self._answer(frame.kind, frame.body[0], Result.UNKNOWN_COMMAND, 0, now_s)

    def due(self, now_s: float) -> list[bytes]:
        """Frames that have gone out by `now_s` since the last call, in order; none while there is no link."""
        if not self._linked:
            if self.running and self._unlinked_s is not None and now_s - self._unlinked_s > GIVES_UP_S:
                self._drop_until(self._unlinked_s + GIVES_UP_S)
                self.running = False
            return []
        if self.running:
            self._take(now_s)
        while self._hello_s <= now_s:
            self._waiting.append(encode(self._hello()))
            self._waiting.append(encode(self._status(now_s)))
            self._hello_s = max(self._hello_s + 1.0, now_s - 1.0)
        frames = list(self._waiting)
        self._waiting.clear()
        return frames

    def next_due_s(self, now_s: float) -> float:
        """When there is something to send again [s]."""
        if not self._linked:
            return now_s + 0.02
        if not self.running:
            return self._hello_s
        return min(self._hello_s, (self._next + self.samples_a_frame() - 1) / self._true_rate())

    def samples_a_frame(self) -> int:
        """As many as fit, at most 50 ms of them."""
        return max(1, min(samples_that_fit(self._payload), 20, self.rate_hz // 20))

    def battery_percent(self, now_s: float) -> int:
        """Its charge at a time [%]."""
        left = self._faults.battery_percent - self._faults.battery_per_hour * max(0.0, now_s) / 3600
        return round(min(100.0, max(0.0, left)))

    def tick_us(self, at_s: float) -> int:
        """Its clock at a time [us]."""
        return round(at_s * (1 + self._faults.drift_ppm * 1e-6) * 1e6 + self._faults.first_tick_us) % TICK_SPAN_US

    def _true_rate(self) -> float:
        return self.rate_hz * (1 + self._faults.drift_ppm * 1e-6)

    def _taken(self, now_s: float) -> int:
        """How many samples of the grid have been taken."""
        return math.floor(now_s * self._true_rate() + 1e-6) + 1

    def _start(self, now_s: float) -> None:
        self.running, self.dropped = True, 0
        self._first = self._next = self._taken(now_s)

    def _drop_until(self, now_s: float) -> None:
        if self.running and (missed := self._taken(now_s) - self._next) > 0:
            self.dropped += missed
            self._next += missed

    def _take(self, now_s: float, all_of_it: bool = False) -> None:
        """Put the frames that are full by now (and at a stop what is left) among those that wait."""
        taken = self._taken(now_s)
        if taken - self._next > _MOST_BACKLOG_S * self._true_rate():
            self._drop_until(now_s - _MOST_BACKLOG_S)
        size = self.samples_a_frame()
        count = taken - self._next
        count -= 0 if all_of_it else count % size
        if count <= 0:
            return
        counts = self._counts_of(self._next, count, self._true_rate())
        for row in range(0, count, size):
            number = self._next + row
            tick = self.tick_us(number / self._true_rate())
            frame = Samples((number - self._first) % SEQUENCE_SPAN, tick, counts[row : row + size])
            self._waiting.append(encode(frame))
        self._next += count

    def _hello(self) -> Hello:
        return Hello(self.identity, (1, 0), self.rate_hz, ACC_FULL_MG, GYR_FULL_DDPS, 0, self._faults.major)

    def _status(self, now_s: float) -> Status:
        return Status(self.running, False, False, self.battery_percent(now_s), self.dropped, 30.0)

    def _answer(self, kind: int, token: int, result: Result, value: int, now_s: float) -> None:
        self.commands += 1
        self._waiting.append(encode(Reply(kind, token, result, value, self.tick_us(now_s))))


def identity_of(number: int) -> str:
    """The identity of the virtual clip with a number: locally administered, nobody's own."""
    return f"020000{number:06x}"
