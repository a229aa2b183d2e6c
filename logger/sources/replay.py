"""A recorded session played again, as if its clips were heard now."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..errors import SourceError
from ..logbook import Logbook
from ..recording import ACCELERATION_UNITS, ANGULAR_RATE_UNITS, RawClip, read_raw
from .base import ClipFacts, CommandName, Connected, Counts, Event, Heard, SourceKind
from .pacing import PacedSource

FRAME_SAMPLES = 10
_FULL_SCALE = 32_000  # counts given to the largest value of a recording that was not stored as 16-bit integers


@dataclass(frozen=True)
class _Track:
    """One clip: its facts, its stamps (n,) from the session's beginning [s], ticks [us] and counts (n, 6)."""

    facts: ClipFacts
    time_s: np.ndarray
    tick_us: np.ndarray
    counts: Counts

    def frames(self, start_s: float) -> Iterator[tuple[float, Heard]]:
        """(media time at which it is complete, frame) in order. start_s : host time of media time 0."""
        clip, place = self.facts.clip, self.facts.place
        for first in range(0, len(self.time_s), FRAME_SAMPLES):
            rows = slice(first, first + FRAME_SAMPLES)
            end_s = float(self.time_s[rows][-1])
            ticks = self.tick_us[rows]
            yield (
                end_s,
                Heard(clip, start_s + end_s, None, int(ticks[0]), self.counts[rows], place, ticks.astype(np.uint32)),
            )


class ReplaySource(PacedSource):
    """The clips of a session, by the names of their places (`right_foot`), at true or another speed.

    Samples that were stored as 16-bit integers come out as they are; others are rounded to 16 bit of their own range.

    Raises NotInLogbook, or InputError when a clip's file is damaged.
    """

    kind: SourceKind = "replay"

    def __init__(self, logbook: Logbook, session_id: str, speed: float = 1.0) -> None:
        super().__init__(speed)
        self.place = session_id
        session = logbook.session(session_id)
        raws = {clip.name: read_raw(logbook.clip_path(session_id, clip.name)) for clip in session.clips}
        starts = [
            float(raw.columns["time_s"][0]) * raw.time_scale for raw in raws.values() if len(raw.columns["time_s"])
        ]
        origin_s = min(starts, default=0.0)
        self._tracks = [_track(name, session_id, raw, origin_s) for name, raw in raws.items()]
        self._frames: Iterator[tuple[float, Heard]] = iter(())
        self._next: tuple[float, Heard] | None = None

    def clips(self) -> list[ClipFacts]:
        """The clips of the session."""
        return [track.facts for track in self._tracks]

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """A recording takes no commands. Raises SourceError."""
        raise SourceError(
            f"{clip} is a recording ({self.place}) played again and takes no commands; use a clip that is worn.",
            "refused",
            clip,
        )

    def _begin(self) -> list[Event]:
        self._frames = heapq.merge(*(track.frames(self.opened_s) for track in self._tracks), key=lambda item: item[0])
        self._next = next(self._frames, None)
        return [Connected(track.facts.clip, self.opened_s, track.facts) for track in self._tracks]

    def _step(self, media_s: float) -> list[Event] | None:
        if self._next is None:
            return None
        events: list[Event] = []
        while self._next is not None and self._next[0] <= media_s:
            events.append(self._next[1])
            self._next = next(self._frames, None)
        return events


def _track(name: str, session_id: str, raw: RawClip, origin_s: float) -> _Track:
    time_s = np.asarray(raw.columns["time_s"], dtype=float) * raw.time_scale - origin_s
    acc, acc_scale = _as_counts(raw, "acc", raw.acceleration_scale)
    gyr, gyr_scale = _as_counts(raw, "gyr", raw.angular_rate_scale)
    rate_hz = 1 / float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.0
    facts = ClipFacts(
        clip=name,
        kind="replay",
        place=session_id,
        rate_hz=round(rate_hz, 2),
        acc_scale=acc_scale * ACCELERATION_UNITS[raw.acceleration_unit],
        gyr_scale=gyr_scale * ANGULAR_RATE_UNITS[raw.angular_rate_unit],
    )
    ticks = np.round((time_s + origin_s) * 1e6).astype(np.int64) & 0xFFFF_FFFF
    return _Track(facts, time_s, ticks, np.concatenate([acc, gyr], axis=1))


def _as_counts(raw: RawClip, prefix: str, scale: float) -> tuple[Counts, float]:
    """(n, 3) int16 and the quantity per count."""
    columns = [raw.columns[f"{prefix}_{axis}"] for axis in "xyz"]
    if all(column.dtype == np.int16 for column in columns):
        return np.stack(columns, axis=1).astype(np.int16), scale
    values = np.stack([np.asarray(column, dtype=float) for column in columns], axis=1)
    per_count = float(np.abs(values).max(initial=0.0)) / _FULL_SCALE or 1.0
    return np.round(values / per_count).astype(np.int16), per_count * scale
