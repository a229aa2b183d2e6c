"""Listening in tests: wait for what must come, and put together what came."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import TypeVar

import numpy as np
from footroom.logger.sources.base import Event, Heard
from footroom.logger.sources.listening import Listening
from footroom.logger.wire import SEQUENCE_SPAN

E = TypeVar("E")


def until(listening: Listening, enough: Callable[[list[Event]], object], patience_s: float = 20.0) -> list[Event]:
    """All events until `enough` of them are there. Fails when that takes longer than `patience_s` [s]."""
    events: list[Event] = []
    end_s = time.monotonic() + patience_s
    while not enough(events):
        if time.monotonic() > end_s:
            others = [event for event in events if not isinstance(event, Heard)]
            raise AssertionError(f"not within {patience_s} s; came: {others}")
        events += listening.take(0.02)
    return events


def of(events: Iterable[Event], kind: type[E], clip: str | None = None) -> list[E]:
    """The events of one kind, of one clip."""
    return [event for event in events if isinstance(event, kind) and clip in (None, event.clip)]  # type: ignore


def samples(events: Iterable[Event], clip: str) -> int:
    """How many samples came of a clip."""
    return sum(len(event.counts) for event in of(events, Heard, clip))


def missing(frames: Iterable[Heard]) -> int:
    """How many samples the numbers say are missing between frames of one clip."""
    frames = list(frames)
    lost = 0
    for before, after in zip(frames, frames[1:], strict=False):
        assert before.sequence is not None and after.sequence is not None
        lost += (after.sequence - before.sequence - len(before.counts)) % SEQUENCE_SPAN
    return lost


def ticks_fit(frames: Iterable[Heard], rate_hz: float) -> bool:
    """Whether ticks and numbers of frames of one clip tell the same."""
    frames = list(frames)
    first = frames[0]
    for frame in frames:
        assert frame.sequence is not None and first.sequence is not None
        by_number = ((frame.sequence - first.sequence) % SEQUENCE_SPAN) * 1e6 / rate_hz
        by_tick = (frame.tick_us - first.tick_us) % 2**32
        if abs(by_number - by_tick) > 2:
            return False
    return True


def rows(frames: Iterable[Heard]) -> np.ndarray:
    """Counts of frames one after the other, (n, 6)."""
    return np.concatenate([frame.counts for frame in frames])
