"""Where a logbook may be made, and how a making that fails leaves no trace."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator
from pathlib import Path

from . import files
from .errors import LogbookError
from .settings import FILE_NAME


def check_place(path: Path) -> None:
    """Raise LogbookError when no logbook is at `path` and none can be made there."""
    if path.is_dir():
        others = sorted(entry.name for entry in path.iterdir() if not entry.name.startswith("."))
        if others and FILE_NAME not in others:
            raise LogbookError(
                f"{path} holds other things ({some(others)}) and is no logbook; choose an empty or new folder."
            )
        return
    for place in (path, *path.parents):
        if place.exists() and not place.is_dir():
            raise LogbookError(f"{place} is a file; choose a folder for the logbook.")


def some(names: list[str], most: int = 5) -> str:
    """The first few names, and how many more."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


@contextlib.contextmanager
def undone_on_error(path: Path) -> Iterator[None]:
    """For making a logbook at `path` and its first session: on any error, Ctrl-C included, all of it vanishes.

    A logbook that was there before, or that somebody else has put a session in meanwhile, is left alone.
    """
    if (path / FILE_NAME).is_file():
        yield
        return
    missing = [place for place in (path, *path.parents) if not place.exists()]
    try:
        yield
    except BaseException:
        _remove_empty_logbook(path)
        for place in missing:
            with contextlib.suppress(OSError):
                place.rmdir()
        raise


def _remove_empty_logbook(path: Path) -> None:
    for name in ("sessions", "participants"):
        folder = path / name
        if folder.is_dir():
            try:
                folder.rmdir()
            except OSError:
                return  # not empty: somebody is using it
    with contextlib.suppress(OSError):
        files.remove_leftovers(path)
        (path / FILE_NAME).unlink(missing_ok=True)
        shutil.rmtree(path / ".locks", ignore_errors=True)
