"""One recording being made: events in, files out. (Stub: the signatures; the work follows.)"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..sources.base import ClipFacts, Event
from .about import About


class Keeper:
    """A recording being made; holds the logbook's recording lock from creation to `close`.

    about : what it is of. heard : the clips heard already (`Listening.clips()`): their scales are not said again.
    Raises RecordingRunning when another one is running on this logbook, LogbookError when the disk refuses.
    """

    def __init__(self, logbook: Path, about: About, heard: Sequence[ClipFacts] = ()) -> None:
        self.folder: Path = logbook / "recordings"
        raise NotImplementedError

    def take(self, events: Sequence[Event], now_s: float) -> None:
        """Keep what was heard of worn clips. Never raises for one clip's trouble, nor for a full disk."""
        raise NotImplementedError

    def begin(
        self,
        phase: str,
        at_s: float,
        *,
        setup: str | None = None,
        side: str | None = None,
        exercise: str | None = None,
        tempo_bpm: float | None = None,
        block: str | int | None = None,
    ) -> None:
        """A phase begins at host time `at_s` (`time.monotonic`) [s]; the one that runs ends."""
        raise NotImplementedError

    def end(self, at_s: float) -> None:
        """The phase that runs ends."""
        raise NotImplementedError

    def drop_phase(self) -> None:
        """The phase that runs, or else the last one, shall not count."""
        raise NotImplementedError

    def remark(self, kind: str, at_s: float, **what: object) -> None:
        """Something said or answered; goes into the journal only."""
        raise NotImplementedError

    def problems(self) -> list[str]:
        """What is wrong now, one sentence each."""
        raise NotImplementedError

    def close(self) -> None:
        """Write what waits, and let go of the logbook. May be called twice."""
        raise NotImplementedError
