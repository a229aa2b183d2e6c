"""Who may write in a logbook: one lock file per session, and refusals of the disk in a sentence."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from filelock import FileLock, Timeout

from .errors import LogbookBusy, LogbookError


def lock_path(logbook: Path, name: str) -> Path:
    """The (empty) file behind a lock."""
    return logbook / ".locks" / f"{name}.lock"


@contextlib.contextmanager
def locked(logbook: Path, name: str, timeout_s: float, what: str) -> Iterator[None]:
    """Hold the lock `name`; it is freed by the system, too, when the process dies. `what` names it in a sentence.

    Raises LogbookBusy when somebody else holds it for longer than `timeout_s` [s].
    """
    path = lock_path(logbook, name)
    with writing(logbook):
        path.parent.mkdir(exist_ok=True)
        lock = FileLock(path, timeout=timeout_s)
        try:
            lock.acquire()
        except Timeout as error:
            raise LogbookBusy(
                f"another Footroom is writing {what} in {logbook}; wait until it has finished and try again."
            ) from error
    try:
        yield
    finally:
        lock.release()


@contextlib.contextmanager
def writing(logbook: Path) -> Iterator[None]:
    """Turn what the disk refuses inside (full, read-only) into a LogbookError."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise LogbookError(
            f"cannot write in {logbook} ({reason}); free the disk, make the folder writable or copy it elsewhere."
        ) from error
