"""From the clips of a session on disk to their orientations on one grid. The only reader of samples in analysis."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from ..logger.logbook import Logbook
from ..logger.models import Session
from ..logger.recording import read_clip, read_times
from .orientation import Track, orient
from .quality import Quality
from .timebase import Floats, Grid, common_grid, find_gaps, onto_grid

PARALLEL_FROM = 400_000
"""Fewer samples than this in all clips together are not worth a second process."""


def session_grid(logbook: Logbook, session: Session, quality: Quality) -> Grid:
    """The common grid of a session's clips; notes their gaps."""
    times = {clip.name: read_times(logbook.clip_path(session.id, clip.name)) for clip in session.clips}
    for name, stamps in times.items():
        quality.gaps += [
            {"clip": name, "start_s": round(start, 3), "end_s": round(end, 3)} for start, end in find_gaps(stamps)
        ]
    return common_grid(times)


def read_tracks(logbook: Logbook, session: Session, grid: Grid, jobs: int = 1) -> dict[str, Track]:
    """Orientation of every clip of a session on the grid, {clip name: Track}.

    jobs : processes to share the clips among; one is used for short sessions whatever is asked.
    """
    paths = {clip.name: logbook.clip_path(session.id, clip.name) for clip in session.clips}
    jobs = min(jobs, len(paths)) if grid.n * len(paths) >= PARALLEL_FROM else 1
    with _mapper(jobs) as mapped:
        tracks = mapped(track_of, paths.values(), [grid] * len(paths))
        return dict(zip(paths, tracks, strict=True))


@contextmanager
def _mapper(jobs: int) -> Iterator:
    if jobs <= 1:
        yield map
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        try:
            yield pool.map
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def track_of(path: Path, grid: Grid) -> Track:
    """Read one clip, bring it onto the grid and orient it. Raises InputError where the file is damaged."""
    samples = read_clip(path)
    values: Floats = np.concatenate([samples.acc, samples.gyr], axis=1)
    time_s = samples.time_s
    del samples
    on_grid, known = onto_grid(time_s, values, grid)
    return orient(on_grid[:, :3], on_grid[:, 3:], known, grid.rate_hz)
