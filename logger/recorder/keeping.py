"""The Keeper in a thread of its own, so that a slow disk holds up neither the guide nor the keys.

Everything is done in the order it was asked for. Only one thread asks, and closes the Keeper after this has ended.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Sequence

from ..sources.base import Event
from .keeper import Keeper

Job = Callable[[], None]


class Keeping:
    """Work for a Keeper on its way. A context: leaving it waits until all is done."""

    def __init__(self, keeper: Keeper) -> None:
        self._keeper = keeper
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._problems: list[str] = []
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="footroom keeper", daemon=True)

    def __enter__(self) -> Keeping:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._jobs.put(None)
        self._thread.join()
        self.check()

    def take(self, events: Sequence[Event], now_s: float) -> None:
        """Keep what was heard."""
        self.do(lambda: self._take(events, now_s))

    def do(self, job: Job) -> None:
        """Something else to do with the Keeper, in its turn. Raises what an earlier job raised."""
        self.check()
        self._jobs.put(job)

    def problems(self) -> list[str]:
        """What was wrong when it was looked last."""
        return self._problems

    def check(self) -> None:
        """Raise what a job raised, once."""
        error, self._error = self._error, None
        if error is not None:
            raise error

    def _take(self, events: Sequence[Event], now_s: float) -> None:
        self._keeper.take(events, now_s)
        self._problems = self._keeper.problems()

    def _run(self) -> None:
        while (job := self._jobs.get()) is not None:
            try:
                job()
            except Exception as error:  # told to the one who asks next; what comes after is kept all the same
                self._error = self._error or error
