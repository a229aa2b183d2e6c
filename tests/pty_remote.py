"""Virtual clips on pseudo-terminals, in a process of their own, for the time of a test (see pty_clips.py)."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from private_bus import Remote


class PtyRemote(Remote):
    script = "pty_clips.py"


@contextlib.contextmanager
def pty_clips(folder: Path, *arguments: Any) -> Iterator[PtyRemote]:
    """Clips at FOLDER/clip0, FOLDER/clip1, ..."""
    clips = PtyRemote(folder, *arguments)
    try:
        yield clips
    finally:
        clips.close()
