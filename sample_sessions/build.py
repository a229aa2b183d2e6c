"""Puts the sample evenings into a logbook."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from .pupils import EVENINGS, PUPILS, SEED, Pupil

Progress = Callable[[int, int], None]  # sessions done, sessions in all


def build(
    logbook_path: Path | str,
    progress: Progress | None = None,
    *,
    pupils: Iterable[Pupil] = PUPILS,
    evenings: Iterable[int] = range(len(EVENINGS)),
    seed: int = SEED,
) -> list[str]:
    """Make the sample sessions in the logbook at `logbook_path` (made when absent); returns their ids, in order.

    An evening that is there already (same seed) is left alone, so an interrupted build can be taken up again.
    progress : called with (sessions done, sessions in all) before each and after the last.
    pupils, evenings : a smaller choice; evenings are counted from 0.

    Raises LogbookError when no logbook can be made there.
    """
    # what is slow to import (pyarrow) waits until there is something to make
    from ..logger.logbook import Logbook
    from .clips import as_stored, session, simulate
    from .evening import plan_evening

    logbook = Logbook.open(logbook_path, create=True)
    stored = {
        found.source.get("evening"): found.id
        for found in logbook.sessions()
        if found.source.get("kind") == "sample" and found.source.get("seed") == str(seed)
    }
    work = [(pupil, number) for pupil in pupils for number in evenings]
    ids: list[str] = []
    for done, (pupil, number) in enumerate(work):
        if progress is not None:
            progress(done, len(work))
        known = stored.get(f"{pupil.id} {number + 1}")
        if known is None:
            evening = plan_evening(pupil, number, seed)
            clips = {name: as_stored(samples) for name, samples in simulate(evening, seed).items()}
            known = logbook.add_session(session(evening, seed), clips)
        ids.append(known)
    if progress is not None:
        progress(len(work), len(work))
    return ids
