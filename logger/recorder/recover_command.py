"""`footroom recover`: what a recording that was broken off still holds becomes a session."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import typer

from ..errors import FootroomError, InputError, RecordingRunning
from ..logbook import Logbook
from ..new_logbook import some
from .folders import is_recording, is_running, recording_folders, recordings_folder
from .rebuild import finish


def recover_command(logbook: Path, names: Sequence[str], only_list: bool = False) -> int:
    """Make sessions of recordings; prints their ids on stdout, what was kept and lost on stderr.

    names : recordings by name or folder; none = all that are not running. only_list : show them only.
    Returns the exit status: 1 when one of several could not be recovered, else 0.
    Raises InputError for a name that is none, RecordingRunning for a named one that runs, and what finishing raises
    when it is the only one.
    """
    book = Logbook(logbook)
    folders = [_named(book.path, name) for name in names] or recording_folders(book.path)
    running = [folder for folder in folders if is_running(book.path, folder)]
    if only_list:
        for folder in folders:
            typer.echo(f"{folder.name}  {'running' if folder in running else 'broken off'}")
    left = [folder for folder in folders if folder not in running]
    if names and running:
        raise RecordingRunning(f"the recording {running[0].name} is still running; end it where it runs.")
    for folder in running:
        typer.echo(f"{folder.name}: still running, left alone.", err=True)
    if not left:
        typer.echo("No recording was broken off; there is nothing to recover.", err=True)
    if only_list:
        return 0
    return _recover(book, left)


def _recover(book: Logbook, folders: Sequence[Path]) -> int:
    failed, made = 0, []
    for folder in folders:
        try:
            kept = finish(book, folder)
        except FootroomError as error:
            failed += folder.is_dir()  # one without a single sample is gone now
            if len(folders) == 1 and folder.is_dir():
                raise
            typer.echo(f"{folder.name}: {error}", err=True)
            continue
        typer.echo(f"{folder.name}: {kept.sentence}", err=True)
        for problem in kept.problems:
            typer.echo(f"  Note: {problem}", err=True)
        typer.echo(kept.session_id)
        made.append(kept.session_id)
    if made:
        typer.echo(f"Next: footroom analyze {' '.join(made)} --logbook {book.path}", err=True)
    return 1 if failed else 0


def _named(logbook: Path, name: str) -> Path:
    """The folder of a recording that was named by its name or its path. Raises InputError."""
    for folder in (recordings_folder(logbook) / Path(name).name, Path(name)):
        if is_recording(folder) and folder.resolve().parent == recordings_folder(logbook).resolve():
            return folder
    known = [folder.name for folder in recording_folders(logbook)]
    there = f"there are {some(known)}" if known else "nothing there waits to be recovered"
    raise InputError(f"no recording {name!r} in {logbook}; {there}.")
