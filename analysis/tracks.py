"""From the clips of a session on disk to their orientations on one grid. The only reader of samples in analysis."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from ..logger.logbook import Logbook
from ..logger.models import Session
from ..logger.recording import ClipSamples, read_clip
from .calibration import phases_of
from .clocks import FITTED_S, Clock, RateSize, clocks, lower_of, rate_size
from .orientation import Track, orient
from .quality import Quality
from .sensor_limits import reached_limits
from .timebase import Floats, Grid, common_grid, find_gaps, onto_grid

PARALLEL_FROM = 400_000
"""Fewer samples than this in all clips together are not worth a second process."""


RIGID_MOVES = {
    "foot": ("knee_kicks",),
    "shank": ("range_internal_rotation", "range_external_rotation", "thigh_lifts"),
    "thigh": ("thigh_lifts",),
}
"""Moves that turn a segment and its upper neighbour as one, or nearly: they show the offset between two clocks."""
MUST_MOVE_ALIKE = {"foot": ("knee_kicks",), "shank": ("range_internal_rotation", "range_external_rotation")}
"""The ones that cannot but turn both: the shank may hang straight down under a lifted thigh."""


@dataclass(frozen=True)
class Timing:
    """The common grid of a session and the clock of each clip against the first.

    strangers : pairs of neighbouring clips that moved differently even where they must move alike.
    """

    grid: Grid
    clocks: dict[str, Clock]
    strangers: list[frozenset[str]]


def session_timing(logbook: Logbook, session: Session, quality: Quality) -> Timing:
    """The common grid of a session's clips, on the first clip's clock; notes gaps, limits and clocks that differ."""
    times: dict[str, Floats] = {}
    sizes: dict[str, RateSize] = {}
    for clip in session.clips:
        samples = read_clip(logbook.clip_path(session.id, clip.name))
        times[clip.name] = samples.time_s
        sizes[clip.name] = rate_size(samples.time_s, samples.gyr)
        quality.limits += [{"clip": clip.name} | one for one in reached_limits(samples.acc, samples.gyr)]
        if _gyroscope_off(samples):
            quality.withhold(
                clip.name, "its angular rate never changed, so the gyroscope was off: switch it on and record again"
            )
        del samples
    rigid = {
        clip.name: [
            (p.start_s, p.end_s) for move in RIGID_MOVES[clip.segment] for p in phases_of(session, move, clip.side)
        ]
        for clip in session.clips
        if clip.segment in RIGID_MOVES
    }
    fitted = session.source.get("kind") == "recording"
    found = clocks(sizes, rigid, FITTED_S if fitted else 0.0)
    for name, clock in found.items():
        times[name] = clock.to_first(times[name])
        quality.gaps += [
            {"clip": name, "start_s": round(start, 3), "end_s": round(end, 3)} for start, end in find_gaps(times[name])
        ]
        if clock.offset_s or clock.skew:
            quality.say(
                f"{name} ran on another clock: shifted by {clock.offset_s:+.3f} s and {1e6 * clock.skew:+.0f} ppm "
                "to fit its neighbour's motion."
            )
    return Timing(common_grid(times), found, _strangers(session, found))


def _gyroscope_off(samples: ClipSamples) -> bool:
    """Whether the angular rate never changed."""
    return not np.ptp(samples.gyr, axis=0).any()


def _strangers(session: Session, found: Mapping[str, Clock]) -> list[frozenset[str]]:
    pairs = [frozenset({name, clock.unlike}) for name, clock in found.items() if clock.unlike]
    sure = {
        clip.name
        for clip in session.clips
        if any(phases_of(session, move, clip.side) for move in MUST_MOVE_ALIKE.get(clip.segment, ()))
    }
    return [pair for pair in pairs if lower_of(pair) in sure]


def read_tracks(logbook: Logbook, session: Session, timing: Timing, jobs: int = 1) -> dict[str, Track]:
    """Orientation of every clip of a session on the grid, {clip name: Track}.

    jobs : processes to share the clips among; one is used for short sessions whatever is asked.
    """
    paths = {clip.name: logbook.clip_path(session.id, clip.name) for clip in session.clips}
    jobs = min(jobs, len(paths)) if timing.grid.n * len(paths) >= PARALLEL_FROM else 1
    work = [(paths[name], timing.clocks[name], timing.grid) for name in paths]
    if jobs <= 1:
        return dict(zip(paths, (track_of(*item) for item in work), strict=True))
    return dict(zip(paths, _shared_out(work, jobs), strict=True))


def _shared_out(work: list[tuple[Path, Clock, Grid]], jobs: int) -> list[Track]:
    """Tracks of all clips, in order; this process does its share, so `jobs` = 2 starts one other.

    Starting a process costs about a second of imports: the others get the smaller shares.
    """
    mine = work[: -(-len(work) // jobs)]
    with ProcessPoolExecutor(jobs - 1, mp_context=get_context("spawn")) as pool:
        theirs = [pool.submit(track_of, *item) for item in work[len(mine) :]]
        try:
            tracks = [track_of(*item) for item in mine]
            return tracks + [future.result() for future in theirs]
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def track_of(path: Path, clock: Clock, grid: Grid) -> Track:
    """Read one clip, bring it onto the grid and orient it. Raises InputError where the file is damaged."""
    samples = read_clip(path)
    values: Floats = np.concatenate([samples.acc, samples.gyr], axis=1)
    time_s = clock.to_first(samples.time_s)
    off = _gyroscope_off(samples)  # said in `session_timing`; half of the truth would look like all
    del samples
    on_grid, known = onto_grid(time_s, values, grid)
    known &= not off
    return orient(on_grid[:, :3], on_grid[:, 3:], known, grid.rate_hz)
