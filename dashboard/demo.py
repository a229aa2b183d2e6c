"""`footroom demo`: the sample logbook in the user's data folder, analysed and shown. No hardware, no network."""

from __future__ import annotations

import shutil
from pathlib import Path

from .serve import check_address, serve_logbook

HOST = "127.0.0.1"


def run_demo(port: int) -> None:
    """Build the sample logbook where it is missing, analyse what is not analysed, serve it until Ctrl-C.

    Raises InputError if the port is taken (before any work is done).
    """
    check_address(HOST, port)
    logbook = sample_logbook_folder()
    prepare(logbook)
    serve_logbook(logbook, HOST, port)


def sample_logbook_folder() -> Path:
    """Where the sample logbook of this version lives: in the user's data folder, never in a checkout."""
    from importlib.metadata import version

    import platformdirs

    return platformdirs.user_data_path("footroom", appauthor=False) / f"sample-logbook-{version('footroom')}"


def prepare(logbook: Path) -> None:
    """Build and analyse the sample logbook at `logbook`, with progress on stderr.

    It is built beside its place and moved there when complete, so that an interrupted build leaves nothing half-done.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    from ..analysis.pipeline import analyze_session
    from ..logger.logbook import Logbook
    from ..sample_sessions import build

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True)) as progress:
        if not logbook.exists():
            task = progress.add_task("Making the sample sessions", total=None)
            unfinished = logbook.with_name(logbook.name + ".unfinished")
            shutil.rmtree(unfinished, ignore_errors=True)
            unfinished.parent.mkdir(parents=True, exist_ok=True)
            build(unfinished, lambda done, total: progress.update(task, completed=done, total=total))
            unfinished.replace(logbook)
        book = Logbook.open(logbook)
        names = book.session_ids()
        for name in progress.track(names, description="Analysing them"):
            analyze_session(book, name)
