"""A thread that lets media time pass: true speed, faster, or as fast as the reader keeps up."""

from __future__ import annotations

import math
import threading
import time
from abc import ABC, abstractmethod

from .base import Ended, Event, Inbox

STEP_S = 0.02  # media time of a step at true speed [s]: what a sample waits at most
_FAST_STEP_S = 0.25
_MOST_STEP_S = 1.0  # of media time: what cannot be made as fast as asked for comes as fast as it can [s]
_ENOUGH_WAITING = 2_000  # events in the inbox at which an unlimited source waits for its reader


class PacedSource(ABC):
    """What replay and virtual clips share.

    speed : media seconds per second; `math.inf` = as fast as the reader takes. Times of arrival are media times counted
    from the moment of `open`, so that clip ticks and arrival fit together at any speed. reached_s : media time until
    which everything is in the inbox [s].
    """

    place: str

    def __init__(self, speed: float = 1.0) -> None:
        if not speed > 0:
            raise ValueError(f"a speed of {speed} is not above 0")
        self._speed = speed
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.opened_s = 0.0
        self.reached_s = 0.0

    @abstractmethod
    def _begin(self) -> list[Event]:
        """Events at media time 0."""

    @abstractmethod
    def _step(self, media_s: float) -> list[Event] | None:
        """Events until `media_s` [s]; None when it is all over."""

    def open(self, inbox: Inbox) -> None:
        """Begin to play into `inbox`."""
        self._stop.clear()
        self.opened_s, self.reached_s = time.monotonic(), 0.0
        inbox.put_all(self._begin())
        self._thread = threading.Thread(target=self._run, args=(inbox,), name=f"footroom {self.place}", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop playing."""
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None and thread is not threading.current_thread():
            thread.join()

    def media_s(self) -> float:
        """Media time now, at a limited speed [s]."""
        return (time.monotonic() - self.opened_s) * self._speed

    def _run(self, inbox: Inbox) -> None:
        media_s = 0.0
        while not self._stop.is_set():
            if math.isinf(self._speed):
                if inbox.waiting() > _ENOUGH_WAITING:
                    self._stop.wait(0.002)
                    continue
                media_s += _FAST_STEP_S
            else:
                self._stop.wait(STEP_S)
                media_s = min(self.media_s(), media_s + _MOST_STEP_S)
            events = self._step(media_s)
            if events is None:
                inbox.put(Ended("", self.opened_s + media_s, self.place))
                return
            inbox.put_all(events)
            self.reached_s = media_s
