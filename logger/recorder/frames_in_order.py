"""From frames as they arrived to runs: sample numbers and ticks that go on without wrapping, in order, each once.

A run ends where the clip was switched off and on or started anew (its numbers or ticks begin again), or where its clock
jumped. Within a run every sample has a number: what is missing shows as missing numbers. Stretches in which frame
follows frame are found at once; only where something is odd, piece by piece, it is asked what it is: a gap, a late or
repeated frame, a restart, a clock that jumped. Ours.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..wire import SEQUENCE_SPAN, TICK_SPAN_US
from .stream_batch import NO_SEQUENCE, Frames

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

LEAST_FRAMES = 3  # fewer in a row that fit nothing else are no run
_LATEST_US = 60e6  # a frame that is later than this belongs to another run [us]
_EARLIEST_US = 2e6  # a tick so far ahead of the time of arrival is another clock's, or the computer slept [us]
_TEXT_BACK_US = 1e6  # lines do not overtake each other: ticks that go back so far begin anew [us]
_RATE_UNSURE, _RATE_SURE = 0.1, 0.01  # how far a part's rate may be off: by data sheet, as seen in this run
_SURE_FROM = 200  # samples that show the rate of a run

BreakKind = Literal["restart", "clock back", "clock ahead"]


@dataclass(frozen=True)
class Run:
    """Frames between two breaks, in order of their samples.

    index : (k,) which frames. first : (k,) number of each one's first sample since the run began. tick_us : (k,) tick
    of that sample, unwrapped [us].
    """

    index: Ints
    first: Ints
    tick_us: Ints


@dataclass(frozen=True)
class Break:
    """Why a run ended. at_s : host time of the first frame after it [s]. by_s : how far the clock jumped [s]."""

    kind: BreakKind
    at_s: float
    by_s: float = 0.0


@dataclass(frozen=True)
class Ordered:
    """What became of the frames.

    repeated, late : frames that came twice (left out), or after later ones (in place). odd : frames that contradict the
    others and are left out.
    """

    runs: list[Run]
    breaks: list[Break]
    repeated: int = 0
    late: int = 0
    odd: int = 0


@dataclass
class _Growing:
    """A run while it is put together: its pieces, and its newest frame."""

    pieces: list[tuple[int, int, int, int]] = field(default_factory=list)  # from, to, number and tick of the first
    why: Break | None = None
    frames: int = 0
    origin: tuple[int, int] = (0, 0)
    head: int = -1
    head_first: int = 0
    head_tick: int = 0


def in_order(frames: Frames, rate_hz: float) -> Ordered:
    """Put frames in order. rate_hz : nominal samples a second [Hz]."""
    if not len(frames):
        return Ordered([], [])
    pieces = _Pieces(frames, rate_hz)
    runs: list[_Growing] = []
    odd = 0
    for low, high in pieces.bounds:
        fit = pieces.fit(runs[-1], low) if runs else None
        if runs and isinstance(fit, Break) and runs[-1].frames < LEAST_FRAMES:
            odd += runs.pop().frames  # a frame or two that fit neither what was before nor what comes after
            again = pieces.fit(runs[-1], low) if runs else None
            fit = again if not isinstance(again, Break) else again
        if fit is None or isinstance(fit, Break):
            runs.append(_Growing(why=fit))
            fit = (0, int(frames.tick_us[low]))
        pieces.add(runs[-1], low, high, *fit)
    if runs[-1].frames < LEAST_FRAMES and len(runs) > 1:
        odd += runs.pop().frames
    repeated = late = 0
    finished = []
    for run in runs:
        done, twice, after, against = pieces.finished(run)
        repeated, late, odd = repeated + twice, late + after, odd + against
        finished.append(done)
    return Ordered(finished, [run.why for run in runs if run.why is not None], repeated, late, odd)


class _Pieces:
    """Stretches of frames in order of arrival in which each follows the one before."""

    def __init__(self, frames: Frames, rate_hz: float) -> None:
        self.frames = frames
        self.numbered = bool((frames.sequence != NO_SEQUENCE).all())
        self.period_us = 1e6 / rate_hz
        self.sequence = frames.sequence.astype(np.int64)
        self.ticks = frames.tick_us.astype(np.int64)
        self.span_us = self._spans()
        steps = np.diff(self.ticks) % TICK_SPAN_US
        follows = np.abs(steps - self.span_us[:-1]) < 0.5 * self.span_us[:-1] + 2000
        if self.numbered:
            follows &= np.diff(self.sequence) % SEQUENCE_SPAN == frames.sizes[:-1]
        cuts = np.flatnonzero(~follows) + 1
        edges = [0, *cuts.tolist(), len(frames)]
        self.bounds = list(zip(edges[:-1], edges[1:], strict=True))

    def _spans(self) -> Floats:
        """(m,) from each frame's first sample to that of the next one, as far as it can be told from the frame [us]."""
        frames = self.frames
        if not len(frames.ticks_us):
            return np.asarray(frames.sizes * self.period_us, np.float64)
        last = frames.ticks_us[frames.starts + frames.sizes - 1].astype(np.int64)
        return np.asarray((last - self.ticks) % TICK_SPAN_US + self.period_us, np.float64)

    def fit(self, run: _Growing, at: int) -> tuple[int, int] | Break:
        """Number and unwrapped tick of frame `at` in a run, or why it begins another one."""
        frames, head = self.frames, run.head
        at_s = float(frames.arrived_s[at])
        elapsed_us = (at_s - float(frames.arrived_s[head])) * 1e6
        expected = run.head_tick + elapsed_us
        tick = round(expected + _nearest(int(self.ticks[at]) - round(expected), TICK_SPAN_US))
        ahead_us = tick - expected
        period, unsure = self._period(run)
        between = (tick - run.head_tick) / period
        if not self.numbered:
            if -_LATEST_US < ahead_us < _EARLIEST_US and tick > run.head_tick - _TEXT_BACK_US:
                return run.head_first + round(between), tick
            return Break("restart", at_s)
        step = int(self.sequence[at] - self.sequence[head]) % SEQUENCE_SPAN
        count = round(between + _nearest(step - round(between), SEQUENCE_SPAN))
        if abs(count - between) <= 2 + unsure * abs(between):
            if -_LATEST_US < ahead_us < _EARLIEST_US:
                return run.head_first + count, tick
            return Break("restart" if ahead_us < 0 else "clock ahead", at_s, ahead_us / 1e6)
        if step == int(frames.sizes[head]):  # the numbers go on, the clock does not
            by_s = _nearest(int(self.ticks[at]) - run.head_tick - round(step * period), TICK_SPAN_US) / 1e6
            return Break("clock back" if by_s < 0 else "clock ahead", at_s, by_s)
        return Break("restart", at_s)

    def _period(self, run: _Growing) -> tuple[float, float]:
        """Time from sample to sample in a run [us], and the share by which it may be off."""
        first, tick = run.origin
        if run.head_first - first < _SURE_FROM:
            return self.period_us, _RATE_UNSURE
        return (run.head_tick - tick) / (run.head_first - first), _RATE_SURE

    def add(self, run: _Growing, low: int, high: int, number: int, tick: int) -> None:
        """Frames low ... high - 1 belong to a run; the first one has this number and unwrapped tick."""
        if not run.pieces:
            run.origin = (number, tick)
        run.pieces.append((low, high, number, tick))
        run.frames += high - low
        last = number + int(self.frames.sizes[low : high - 1].sum())
        if run.head < 0 or last > run.head_first:
            steps = np.diff(self.ticks[low:high]) % TICK_SPAN_US
            run.head, run.head_first, run.head_tick = high - 1, last, tick + int(steps.sum())

    def finished(self, run: _Growing) -> tuple[Run, int, int, int]:
        """The run in order, and how many frames were repeated, late, and against others."""
        sizes = self.frames.sizes
        index = np.concatenate([np.arange(low, high) for low, high, _, _ in run.pieces])
        first, tick = (np.empty(len(index), np.int64) for _ in range(2))
        row = 0
        for low, high, number, at_us in run.pieces:
            rows = slice(row, row + high - low)
            first[rows] = number + np.cumsum(sizes[low:high]) - sizes[low:high]
            tick[rows] = at_us + np.concatenate([[0], np.cumsum(np.diff(self.ticks[low:high]) % TICK_SPAN_US)])
            row += high - low
        behind = first < np.maximum.accumulate(first)
        order = np.argsort(first, kind="stable")
        index, first, tick, behind = index[order], first[order], tick[order], behind[order]
        reached = np.concatenate([[first[0]], np.maximum.accumulate(first + sizes[index])[:-1]])
        kept = first >= reached
        twice = sum(self._same(index[i], index[i - 1]) for i in np.flatnonzero(~kept))
        run_of = Run(index[kept], first[kept] - first[0], tick[kept])
        return run_of, twice, int((behind & kept).sum()), int((~kept).sum()) - twice

    def _same(self, a: int, b: int) -> bool:
        frames = self.frames
        rows_a, rows_b = (slice(frames.starts[i], frames.starts[i] + frames.sizes[i]) for i in (a, b))
        return frames.tick_us[a] == frames.tick_us[b] and np.array_equal(frames.counts[rows_a], frames.counts[rows_b])


def _nearest(value: int, span: int) -> int:
    """The number that differs from `value` by whole spans and is nearest to 0."""
    return (value + span // 2) % span - span // 2


def sample_ticks(frames: Frames, run: Run, rate_hz: float) -> NDArray[np.float64]:
    """Unwrapped tick of every sample of a run, in order [us]: its own, or evenly spread from frame to frame."""
    sizes = frames.sizes[run.index]
    within = np.arange(int(sizes.sum())) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    if len(frames.ticks_us):
        rows = np.repeat(frames.starts[run.index], sizes) + within
        since = (frames.ticks_us[rows].astype(np.int64) - frames.tick_us[run.index].repeat(sizes)) % TICK_SPAN_US
        return np.repeat(run.tick_us, sizes) + since.astype(np.float64)
    number = np.repeat(run.first, sizes) + within
    knots, ticks = run.first.astype(np.float64), run.tick_us.astype(np.float64)
    period = 1e6 / rate_hz if len(run.index) < 2 else (ticks[-1] - ticks[0]) / (knots[-1] - knots[0])
    end = knots[-1] + sizes[-1]
    return np.interp(number, [*knots, end], [*ticks, ticks[-1] + period * sizes[-1]])
