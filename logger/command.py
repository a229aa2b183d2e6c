"""`footroom import`: a folder of CSV files becomes a session of a logbook."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Annotated

import typer


def import_command(
    folder: Annotated[Path, typer.Argument(help="Folder with import.toml and one CSV file per clip.")],
    logbook: Annotated[
        Path, typer.Option("--logbook", envvar="FOOTROOM_LOGBOOK", help="The logbook's folder; made when new.")
    ],
) -> None:
    """Import a recording from CSV files; prints the id of the new session."""
    from .csv_import import import_folder
    from .logbook import Logbook

    session_id = import_folder(folder, logbook)
    session = Logbook(logbook).session(session_id)
    playing_s = sum(phase.end_s - phase.start_s for phase in session.phases if phase.name == "playing")
    notes = "" if not session.warnings else f"; {_count(len(session.warnings), 'warning')} kept with the session"
    if logging.getLogger().isEnabledFor(logging.WARNING):  # not with --quiet
        typer.echo(
            f"Imported {_count(len(session.clips), 'clip')}, {_count(len(session.setups), 'set-up')}, "
            f"{playing_s:.0f} s of playing{notes}.",
            err=True,
        )
    typer.echo(session_id)


def _count(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"
