"""One clip at one place on its way to the disk: what waits, what is written, what could not be."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ..sources.base import Heard
from .stream_file import MOST_SAMPLES, StreamFile

LONGEST_WAIT_S = 300.0  # of frames that the disk does not take; then the oldest are given up [s]


class Stream:
    """Frames of one clip at one place. The file is made with the first batch.

    path, token, facts : of the file. given_up : frames that waited too long, or could not be written in the end.
    last_s : host time at which the last frame came [s]. stuck : the disk refused the last time.
    """

    def __init__(self, path: Path, token: str, facts: dict[str, Any]) -> None:
        self.path, self.token, self.facts = path, token, facts
        self.given_up = 0
        self.last_s = 0.0
        self.stuck = False
        self._file: StreamFile | None = None
        self._waiting: deque[Heard] = deque()

    def add(self, heard: Heard) -> None:
        """A frame came."""
        self._waiting.append(heard)
        self.last_s = heard.arrived_s

    @property
    def waits_s(self) -> float:
        """How much waits in memory [s]."""
        return self._waiting[-1].arrived_s - self._waiting[0].arrived_s if self._waiting else 0.0

    def save(self) -> None:
        """Write what waits, in batches that are on the disk one by one. Raises OSError; the rest goes on waiting."""
        try:
            while self._waiting:
                if self._file is None:
                    self._file = StreamFile(self.path, self.token, self.facts)
                batch = list(_as_many_as_fit(self._waiting))
                self._file.append(batch)
                for _ in batch:
                    self._waiting.popleft()
        except OSError:
            self.stuck = True
            while self.waits_s > LONGEST_WAIT_S:
                self._waiting.popleft()
                self.given_up += 1
            raise
        self.stuck = False

    def close(self) -> None:
        """Write what waits and end the stream. Raises OSError; the file is closed even so, and what waited is lost."""
        try:
            self.save()
        finally:
            self.given_up += len(self._waiting)
            self._waiting.clear()
            if self._file is not None:
                self._file.close()


def _as_many_as_fit(waiting: deque[Heard]) -> Iterator[Heard]:
    """The next frames of one batch: of one kind (with or without ticks of their own), and not too many."""
    samples, own = 0, waiting[0].ticks_us is not None
    for heard in waiting:
        samples += len(heard.counts)
        if (heard.ticks_us is not None) != own or (samples > MOST_SAMPLES and heard is not waiting[0]):
            return
        yield heard
