"""Where recordings lie until they are sessions: L/recordings/ID, one folder each, locked while it runs."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

from ..errors import LogbookBusy, RecordingRunning
from ..files import is_leftover
from ..locks import lock_path, locked
from .journal import FILE_NAME

STREAM_SUFFIX = ".arrows"
_ANY = "_recording"


def recordings_folder(logbook: Path) -> Path:
    """The folder of a logbook's recordings that are no sessions yet."""
    return logbook / "recordings"


def recording_folders(logbook: Path) -> list[Path]:
    """The recordings of a logbook, oldest name first, running ones included."""
    folder = recordings_folder(logbook)
    return sorted(path for path in folder.iterdir() if is_recording(path)) if folder.is_dir() else []


def recordings_of(logbook: Path, participant: str) -> list[Path]:
    """The recordings of one person that are no sessions yet, by their names."""
    own = re.compile(rf"{re.escape(participant)}-\d{{4}}-\d\d-\d\d-\d{{6}}(-\d+)?")
    return [folder for folder in recording_folders(logbook) if own.fullmatch(folder.name)]


def is_recording(folder: Path) -> bool:
    """Whether a folder holds a recording, or what is left of one."""
    if not folder.is_dir() or is_leftover(folder):
        return False
    return (folder / FILE_NAME).is_file() or any(folder.glob(f"*{STREAM_SUFFIX}"))


@contextlib.contextmanager
def only_recording(logbook: Path) -> Iterator[None]:
    """Hold the right to record on a logbook. Raises RecordingRunning when another process has it."""
    try:
        held = contextlib.ExitStack()
        held.enter_context(locked(logbook, _ANY, 0.0, "a recording"))
    except LogbookBusy as error:
        running = ", ".join(folder.name for folder in recording_folders(logbook) if is_running(logbook, folder))
        which = f" ({running})" if running else ""
        raise RecordingRunning(
            f"a recording{which} is running on {logbook}; end it where it runs, or record on another logbook."
        ) from error
    with held:
        yield


@contextlib.contextmanager
def held_recording(logbook: Path, folder: Path) -> Iterator[None]:
    """Hold one recording. Raises RecordingRunning when it is being made, or finished by another process."""
    try:
        held = contextlib.ExitStack()
        held.enter_context(locked(logbook, _lock_name(folder), 0.0, f"the recording {folder.name}"))
    except LogbookBusy as error:
        raise RecordingRunning(
            f"the recording {folder.name} is still running, or being finished by another Footroom; end it there first."
        ) from error
    with held:
        yield


def is_running(logbook: Path, folder: Path) -> bool:
    """Whether a process holds a recording now."""
    try:
        with held_recording(logbook, folder):
            return False
    except RecordingRunning:
        return True


def broken_off(logbook: Path) -> list[Path]:
    """The recordings that ended without becoming a session, oldest name first."""
    return [folder for folder in recording_folders(logbook) if not is_running(logbook, folder)]


def forget_lock(logbook: Path, folder: Path) -> None:
    """Remove the lock file of a recording that is no more: its name is a trace of a person, too."""
    with contextlib.suppress(OSError):
        lock_path(logbook, _lock_name(folder)).unlink(missing_ok=True)


def _lock_name(folder: Path) -> str:
    return f"{_ANY}-{folder.name}"
