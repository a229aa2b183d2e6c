"""One clip of a recording on the computer's clock: which frames count, when each sample was, and what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .about import TWIN_S
from .clock_fit import LONG_S, ClockFit, fit_clock
from .contents import Meaning, StreamHeld, read_held
from .frames_in_order import Break, Ordered, Run, in_order, sample_ticks
from .stream_batch import Frames
from .stream_file import ReadStream

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class TimedRun:
    """A run of one stream and its clock. skip : samples at its beginning that the run before reaches into."""

    stream: StreamHeld
    frames: Frames
    run: Run
    clock: ClockFit
    skip: int = 0

    def times(self) -> Floats:
        """Host time of every sample of the run, the skipped ones included [s]; the filter's delay is taken off."""
        meaning = meaning_of(self.stream)
        ticks_s = sample_ticks(self.frames, self.run, meaning.rate_hz) * 1e-6
        return self.clock.to_host(ticks_s) - meaning.delay_s

    def rows(self) -> NDArray[np.int64]:
        """Row of `frames.counts` of every sample of the run."""
        sizes = self.frames.sizes[self.run.index]
        within = np.arange(int(sizes.sum())) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        return np.repeat(self.frames.starts[self.run.index], sizes) + within


@dataclass
class TimedClip:
    """What is known of the samples of one place.

    runs : in order of time. left_out : streams that do not count, and why: "twin" (another clip with the same id),
    "scale" (its numbers meant something else), "unknown" (nothing says what they mean). unusable : its clock fits
    nothing, so none of its samples can be timed. lost_batches : of damaged files. shifted_s : by sync taps, None where
    none were used [s].
    """

    worn: str
    runs: list[TimedRun] = field(default_factory=list)
    left_out: list[tuple[StreamHeld, str]] = field(default_factory=list)
    damaged: list[StreamHeld] = field(default_factory=list)
    breaks: list[Break] = field(default_factory=list)
    repeated: int = 0
    late: int = 0
    odd: int = 0
    lost_batches: int = 0
    unusable: bool = False
    shifted_s: float | None = None

    @property
    def meaning(self) -> Meaning | None:
        """What the samples mean; None without any."""
        return meaning_of(self.runs[0].stream) if self.runs else None

    def shift(self, by_s: float) -> None:
        """All samples were later by `by_s` [s]."""
        self.shifted_s = by_s
        self.runs = [replace(run, clock=run.clock.shifted(by_s)) for run in self.runs]


def meaning_of(stream: StreamHeld) -> Meaning:
    """What a stream's numbers mean. Raises ValueError where nothing says it."""
    if stream.meaning is None:
        raise ValueError(f"nothing says what the numbers of {stream.path.name} mean")
    return stream.meaning


def time_clip(worn: str, streams: Sequence[StreamHeld]) -> TimedClip:
    """Put the frames of a place in order and on the computer's clock.

    streams : as `Contents.of` gives them. Raises LogbookError when one cannot be read.
    """
    clip = TimedClip(worn)
    read = [(stream, read_held(stream)) for stream in streams]
    for stream, found in read:
        if found.lost_batches or (found.ended and found.lost_bytes):
            clip.damaged.append(stream)
            clip.lost_batches += max(found.lost_batches, 1)
    ordered = [
        (stream, found, in_order(found.frames, meaning_of(stream).rate_hz))
        for stream, found in _counting(clip, read)
        if len(found.frames)
    ]
    for _, _, order in ordered:
        clip.breaks += order.breaks
        clip.repeated, clip.late, clip.odd = (
            clip.repeated + order.repeated,
            clip.late + order.late,
            clip.odd + order.odd,
        )
    frames = sum(len(found.frames) for _, found, _ in ordered)
    if clip.odd > frames / 2:
        clip.unusable = True
        return clip
    _fit(clip, ordered)
    return clip


def _counting(clip: TimedClip, read: list[tuple[StreamHeld, ReadStream]]) -> Iterator[tuple[StreamHeld, ReadStream]]:
    """The streams that count: those of the first clip heard, with the scales that most samples have."""
    known = []
    for stream, found in read:
        if stream.meaning is None:
            if len(found.frames):
                clip.left_out.append((stream, "unknown"))
        elif len(found.frames):
            known.append((stream, found))
    known.sort(key=lambda item: float(item[1].frames.arrived_s[0]))
    mine: list[tuple[StreamHeld, ReadStream]] = []
    for stream, found in known:
        others = [other.frames for held, other in mine if meaning_of(held).place != meaning_of(stream).place]
        if any(_at_the_same_time(other, found.frames) for other in others):
            clip.left_out.append((stream, "twin"))
        else:
            mine.append((stream, found))
    samples: dict[tuple[float, float], int] = {}
    for stream, found in mine:
        samples[_scales(stream)] = samples.get(_scales(stream), 0) + len(found.frames.counts)
    for stream, found in mine:
        if _scales(stream) == max(samples, key=lambda scales: samples[scales]):
            yield stream, found
        else:
            clip.left_out.append((stream, "scale"))


def _scales(stream: StreamHeld) -> tuple[float, float]:
    meaning = meaning_of(stream)
    return meaning.acc_scale, meaning.gyr_scale


def _at_the_same_time(first: Frames, second: Frames) -> bool:
    """Whether the first was still heard when the second had been for a while."""
    low, high = second.arrived_s[0] + TWIN_S, second.arrived_s[-1]
    return bool(((first.arrived_s > low) & (first.arrived_s < high)).any())


def _fit(clip: TimedClip, ordered: Sequence[tuple[StreamHeld, ReadStream, Ordered]]) -> None:
    """Clocks of all runs; a short one has the pace of the longest."""
    todo = [(stream, found.frames, run) for stream, found, order in ordered for run in order.runs]
    todo.sort(key=lambda item: float(item[1].arrived_s[item[2].index[0]]))
    lengths = [float(run.tick_us[-1] - run.tick_us[0]) * 1e-6 for _, _, run in todo]
    pace = None
    if lengths and max(lengths) >= LONG_S:
        pace = _clock(*todo[int(np.argmax(lengths))], None).skew_ppm
    until_s = -np.inf
    for stream, frames, run in todo:
        timed = TimedRun(stream, frames, run, _clock(stream, frames, run, pace))
        times = timed.times()
        skip = int(np.searchsorted(times, until_s, side="right"))
        if skip < len(times):
            clip.runs.append(replace(timed, skip=skip))
            until_s = float(times[-1])


def _clock(stream: StreamHeld, frames: Frames, run: Run, skew_ppm: float | None) -> ClockFit:
    """Arrivals against the tick of each frame's last sample."""
    ticks = sample_ticks(frames, run, meaning_of(stream).rate_hz)
    last = np.cumsum(frames.sizes[run.index]) - 1
    return fit_clock(ticks[last] * 1e-6, frames.arrived_s[run.index], skew_ppm)
