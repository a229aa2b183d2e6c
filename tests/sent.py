"""Clips whose samples are known by number: whatever comes back can be compared with what was sent."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from footroom.logger.models import Participant, Setup
from footroom.logger.recorder.about import About
from footroom.logger.recorder.stream_batch import NO_SEQUENCE, Frames
from footroom.logger.sources.base import ClipFacts, Heard
from footroom.logger.wire import SEQUENCE_SPAN, TICK_SPAN_US

ACC_SCALE, GYR_SCALE = 0.0048, 0.00106
PLACES = ("right_foot", "right_shank", "left_foot", "left_shank", "right_thigh", "left_thigh", "pelvis")


def counts_of(clip: int, number: np.ndarray) -> np.ndarray:
    """Samples of a clip by their numbers, (n, 6) int16; no two neighbours alike."""
    axis = np.arange(6)
    mixed = (number[:, None].astype(np.int64) * 7919 + axis * 104_729 + clip * 31) * 2_654_435_761
    return ((mixed >> 8) % 65536 - 32768).astype(np.int16)


def facts_of(clip: int, rate_hz: float = 200.0, place: str | None = None) -> ClipFacts:
    return ClipFacts(f"clip-{clip}", "virtual", place or f"way {clip}", rate_hz, ACC_SCALE, GYR_SCALE)


def about_of(clips: int = 2, participant: str = "wren", **more) -> About:
    return About(
        participant=Participant(id=participant),
        setups=[Setup(name="near"), Setup(name="far")],
        worn={f"clip-{i}": PLACES[i] for i in range(clips)},
        **more,
    )


def frames(
    clip: int, until_s: float, begin_s: float = 0.0, rate_hz: float = 200.0, size: int = 10, first_tick_us: int = 0,
    ppm: float = 0.0, numbered_from: int = 0, host_s: float = 0.0, delay=lambda n: np.full(n, 0.005), place=None,
) -> list[Heard]:  # fmt: skip
    """Frames of a clip that was started at `begin_s`, until `until_s` [s of the host after `host_s`].

    numbered_from : number, by which its samples are known, of its first one. ppm : its clock is so much too fast.
    delay : of n frames [s]; they never overtake each other.
    """
    n = int((until_s - begin_s) * rate_hz + 1e-6) // size
    first = np.arange(n) * size
    ticks = np.round(first / rate_hz * (1 + ppm * 1e-6) * 1e6).astype(np.int64) + first_tick_us
    complete = begin_s + (first + size - 1) / rate_hz
    arrived = np.maximum.accumulate(complete + delay(n)) + host_s
    counts = counts_of(clip, numbered_from + np.arange(n * size))
    facts = facts_of(clip, rate_hz, place)
    return [
        Heard(
            facts.clip, float(arrived[i]), int(first[i] % SEQUENCE_SPAN), int(ticks[i] % TICK_SPAN_US),
            counts[first[i] : first[i] + size], facts.place,
        )
        for i in range(n)
    ]  # fmt: skip


def as_text(heard: list[Heard], rate_hz: float = 200.0) -> list[Heard]:
    """The same as lines of text: no numbers, a tick for every sample."""
    step = np.round(np.arange(len(heard[0].counts)) * 1e6 / rate_hz).astype(np.int64)
    return [replace(h, sequence=None, ticks_us=((h.tick_us + step) % TICK_SPAN_US).astype(np.uint32)) for h in heard]


def same(read: Frames, sent: list[Heard]) -> bool:
    """Whether frames that were read are, number by number, among those that were sent, in order."""
    by_tick = {heard.tick_us: heard for heard in sent}
    for i, start in enumerate(read.starts):
        heard = by_tick.get(int(read.tick_us[i]))
        sequence = None if read.sequence[i] == NO_SEQUENCE else int(read.sequence[i])
        rows = slice(start, start + read.sizes[i])
        if heard is None or (heard.sequence, heard.arrived_s) != (sequence, read.arrived_s[i]):
            return False
        if not np.array_equal(heard.counts, read.counts[rows]):
            return False
        if heard.ticks_us is not None and not np.array_equal(heard.ticks_us, read.ticks_us[rows]):
            return False
    return True


def record_until_killed(logbook: Path, clips: int, rate_hz: float) -> None:
    """A recording in true time, in a process that will be killed.

    Says `ready` when it has begun, then after every turn how many samples of each clip were handed in.
    """
    from footroom.logger.recorder.keeper import Keeper

    keeper = Keeper(logbook, about_of(clips), [facts_of(i, rate_hz) for i in range(clips)])
    start_s, sent = time.monotonic(), [0] * clips
    keeper.begin("playing", start_s, setup="near")
    size = 10
    print(f"ready {start_s}", flush=True)
    while True:
        now_s = time.monotonic()
        events = []
        for clip in range(clips):
            while (sent[clip] + size - 1) / rate_hz <= now_s - start_s:
                number = sent[clip]
                counts = counts_of(clip, number + np.arange(size))
                tick = round(number / rate_hz * 1e6) % TICK_SPAN_US
                facts = facts_of(clip, rate_hz)
                events.append(Heard(facts.clip, now_s, number % SEQUENCE_SPAN, tick, counts, facts.place))
                sent[clip] += size
        keeper.take(events, now_s)
        print(sent[0], flush=True)
        time.sleep(0.02)


if __name__ == "__main__":
    import sys

    record_until_killed(Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
