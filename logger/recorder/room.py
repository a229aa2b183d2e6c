"""Room on the disk while a recording runs: a reserve for its last words, early warnings, tries that may fail."""

from __future__ import annotations

import contextlib
import errno
import math
import os
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

from .stream import LONGEST_WAIT_S

RESERVE_BYTES = 1 << 20
LITTLE_BYTES = 300 << 20  # less than this is said; an hour of eight clips takes about 130 MB, and as much to finish
_LOOK_S = 10.0
_FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))


class Room:
    """The room a recording in `folder` has. Never raises for what the disk refuses."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._logbook = folder, folder.parent.parent
        self._reserve = folder / "reserve"
        self._free = 0
        self._looked_s = -math.inf
        self._refused: dict[str, OSError] = {}
        self._keep_reserve()
        self._see()

    def trying(self, what: str, save: Callable[[], None]) -> None:
        """Do `save` of `what`; what fails stays to be tried again. A full disk gets the reserve and a second try."""
        try:
            save()
        except OSError as error:
            self._refused[what] = error
            if error.errno in _FULL and self._reserve.exists():
                self.give_back()
                with contextlib.suppress(OSError):
                    save()
        else:
            self._refused.pop(what, None)

    def look(self, now_s: float) -> None:
        """See how much room there is, now and then."""
        if now_s - self._looked_s < _LOOK_S:
            return
        self._looked_s = now_s
        self._see()

    def _see(self) -> None:
        with contextlib.suppress(OSError):
            self._free = shutil.disk_usage(self._folder).free
        if self._free > LITTLE_BYTES:
            self._keep_reserve()

    def give_back(self) -> None:
        """Let go of the reserve."""
        with contextlib.suppress(OSError):
            self._reserve.unlink(missing_ok=True)

    def problems(self, waits_s: Mapping[str, float]) -> list[str]:
        """What is wrong, a sentence each. waits_s : what waits in memory, by the name given to `trying` [s]."""
        full = {what for what, error in self._refused.items() if error.errno in _FULL}
        found = []
        if full:
            longest_s = max((waits_s.get(what, 0.0) for what in full), default=0.0)
            found.append(
                f"the disk is full: what was safe stays safe, the last {longest_s:.0f} s wait in memory (up to "
                f"{LONGEST_WAIT_S / 60:.0f} min); free some space on the disk of {self._logbook}."
            )
        for what in sorted(set(self._refused) - full):
            reason = self._refused[what].strerror or self._refused[what]
            found.append(
                f"{what.replace('_', ' ')} cannot be written ({reason}); the others go on and it is tried again: look "
                f"after the disk of {self._logbook}."
            )
        if not full and 0 < self._free < LITTLE_BYTES:
            found.append(
                f"only {self._free >> 20} MB are free on the disk of {self._logbook}; an hour of eight clips takes "
                f"about {LITTLE_BYTES >> 20} MB until it is finished: free some space."
            )
        return found

    def _keep_reserve(self) -> None:
        if self._reserve.exists():
            return
        try:
            handle = os.open(self._reserve, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o644)
            try:
                os.write(handle, bytes(RESERVE_BYTES))
            finally:
                os.close(handle)
        except OSError:
            self.give_back()
