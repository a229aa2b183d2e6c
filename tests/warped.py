"""Time that runs faster, for a test and the processes it starts: `time.monotonic` for all who call it by that name.

Waits of threads stay real; only clocks are read as if more time had passed. Where the computer is busy, time waits: it
never runs further than `AHEAD_S` past what a process that joined has looked at last, nor while this process stands
still. So nobody is late who would not be late in true time.
"""

from __future__ import annotations

import contextlib
import math
import mmap
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

VARIABLE = "FOOTROOM_TEST_WARP"
AHEAD_S = 0.5  # [s of the faster time]
_TURN_S = 0.01
_real = time.monotonic


class _Clock:
    """The faster time, in three numbers that processes share: offset, limit, and what those who joined have seen.

    Each is eight aligned bytes, so it is read as it was written. The offset is written before the limit and read after
    it: time never runs backwards.
    """

    def __init__(self, path: Path, factor: float) -> None:
        with path.open("r+b") as file:
            self._numbers = memoryview(mmap.mmap(file.fileno(), 24)).cast("d")
        self._factor = factor

    def now(self) -> float:
        limit = self._numbers[1]
        return min(limit, self._numbers[0] + _real() * self._factor)

    def seen(self) -> float:
        """Now, for a process that is waited for from here on."""
        self._numbers[2] = now = self.now()
        return now

    def go_on(self) -> None:
        """Let time run from where it is, for a while."""
        numbers, now, real = self._numbers, self.now(), _real()
        numbers[0] = now - real * self._factor
        numbers[1] = min(now, numbers[2]) + AHEAD_S

    def begin(self) -> None:
        now = _real()
        self._numbers[0], self._numbers[1], self._numbers[2] = now * (1 - self._factor), now + AHEAD_S, math.inf


@contextlib.contextmanager
def warped(factor: float) -> Iterator[None]:
    """From here on a second lasts 1 / factor of one, here and in processes that import this module."""
    with tempfile.TemporaryDirectory(prefix="footroom-time-") as folder:
        path = Path(folder, "clock")
        path.write_bytes(bytes(24))
        clock, over = _Clock(path, factor), threading.Event()
        clock.begin()

        def run() -> None:
            while not over.wait(_TURN_S):
                clock.go_on()

        thread = threading.Thread(target=run, name="faster time", daemon=True)
        thread.start()
        os.environ[VARIABLE] = f"{factor} {path}"
        time.monotonic = clock.now
        try:
            yield
        finally:
            time.monotonic = _real
            del os.environ[VARIABLE]
            over.set()
            thread.join()


def join() -> None:
    """In a process that was started while time ran faster: let it run so here, too."""
    if VARIABLE in os.environ:
        factor, path = os.environ[VARIABLE].split(" ", 1)
        time.monotonic = _Clock(Path(path), float(factor)).seen
