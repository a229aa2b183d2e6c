"""Writing that is never seen half done: files and folders appear whole, or not at all.

A file is written beside its place under a hidden name, flushed to the disk and renamed over it; a folder likewise.
What a power cut leaves behind is hidden and begins with `.new-` or `.gone-`; `remove_leftovers` clears it away.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NEW = ".new-"
GONE = ".gone-"
_WINDOWS_ATTEMPTS = 5
_NUMBER = r"(?:-?[0-9][0-9.eE+-]*|null)"
_BREAK = re.compile(r",\n\s*")
_NUMBERS = re.compile(rf"\[\n\s*({_NUMBER}(?:,\n\s*{_NUMBER})*)\n\s*\]")  # JSON has no line breaks within strings


def sync_folder(folder: Path) -> None:
    """Flush a folder's entries to the disk, where the system can (Windows cannot, and needs not)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        pass  # some network file systems refuse to sync a folder; the rename itself has happened
    finally:
        os.close(handle)


def _sync_file(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _rename(source: Path, target: Path) -> None:
    """`os.replace`, patient with Windows, where a virus scanner may hold a new file for a moment."""
    for attempt in range(_WINDOWS_ATTEMPTS):
        try:
            os.replace(source, target)  # noqa: PTH105  (one name to watch in tests of interruption)
            return
        except PermissionError:
            if os.name != "nt" or attempt == _WINDOWS_ATTEMPTS - 1:
                raise
            time.sleep(0.05 * (attempt + 1))


def _hidden(path: Path, prefix: str) -> Path:
    return path.parent / f"{prefix}{secrets.token_hex(6)}"


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Yield a temporary path to write to; on leaving without an error it becomes `path`, otherwise it vanishes.

    The parent folder is made when missing. An existing `path` is replaced in one step.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = _hidden(path, NEW)
    try:
        yield temporary
        _sync_file(temporary)
        _rename(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def write_bytes(path: Path, data: bytes) -> None:
    """Write `data` to `path` in one step (see `new_file`)."""
    with new_file(path) as temporary:
        temporary.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 with plain newlines on every system, in one step."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, value: Any) -> None:
    """Write strict JSON a person can read (null for nothing; NaN raises ValueError), in one step.

    A list of numbers stands on one line.
    """
    text = json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False)
    write_text(path, _NUMBERS.sub(lambda found: f"[{_BREAK.sub(', ', found[1])}]", text) + "\n")


@contextlib.contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """Yield a hidden temporary folder beside `target`; it becomes `target` on leaving without an error.

    Any error, Ctrl-C included, removes it with all it holds.

    Raises FileExistsError when `target` is there already.
    """
    if target.exists():
        raise FileExistsError(f"{target} exists already.")
    target.parent.mkdir(parents=True, exist_ok=True)
    temporary = _hidden(target, NEW)
    try:
        temporary.mkdir()
        yield temporary
        for folder in [temporary, *(path for path in temporary.rglob("*") if path.is_dir())]:
            sync_folder(folder)
        _rename(temporary, target)
    except BaseException:
        shutil.rmtree(temporary, ignore_errors=True)
        raise
    sync_folder(target.parent)


def remove_folder(folder: Path) -> None:
    """Remove a folder so that nobody sees it half removed: renamed out of sight first, then deleted."""
    hidden = _hidden(folder, GONE)
    _rename(folder, hidden)
    shutil.rmtree(hidden)


def is_leftover(path: Path) -> bool:
    """Whether `path` is something an interrupted write or removal left behind."""
    return path.name.startswith((NEW, GONE))


def remove_leftovers(folder: Path) -> int:
    """Delete what interrupted writes left in `folder` (not below it); returns how many. Call it under a lock."""
    if not folder.is_dir():
        return 0
    found = [path for path in folder.iterdir() if is_leftover(path)]
    for path in found:
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
    return len(found)
