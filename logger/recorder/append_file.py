"""A file that only grows, and never by half: what `append` returned from is on the disk, what failed is not there."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from ..files import sync_folder


def write_out(handle: int, data: bytes) -> None:
    """Write all of `data` and wait until the disk has it. The one place where a recording is written.

    Raises OSError; then any part of `data` may have been written.
    """
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(handle, rest) :]
    sync = getattr(os, "fdatasync", os.fsync)  # missing on macOS and Windows
    sync(handle)


class AppendFile:
    """A new file at `path`. Raises FileExistsError, or OSError when the disk refuses."""

    def __init__(self, path: Path) -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        self._handle: int | None = os.open(path, flags, 0o644)
        self.size = 0
        self._torn = False
        sync_folder(path.parent)

    def append(self, data: bytes) -> None:
        """Add `data` and wait until it is safe. Raises OSError; the file then ends where it did before.

        Whatever interrupts it, Ctrl-C included, nothing of it is left.
        """
        if self._handle is None:
            raise OSError("the file is closed")
        self._mend()
        self._torn = True
        try:
            write_out(self._handle, data)
        except BaseException:
            with contextlib.suppress(OSError):  # the next append tries again
                self._mend()
            raise
        self.size += len(data)
        self._torn = False

    def close(self) -> None:
        """Let go of the file. May be called twice."""
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)

    def _mend(self) -> None:
        """Cut off what a failed write left behind."""
        if self._torn and self._handle is not None:
            os.ftruncate(self._handle, self.size)
            self._torn = False
