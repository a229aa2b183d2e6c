"""Recordings made in tests, faster than true time, and what became of them."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from footroom.logger.logbook import Logbook
from footroom.logger.recorder.about import About, Kept
from footroom.logger.recorder.folders import is_running, recording_folders
from footroom.logger.recorder.keeper import Keeper
from footroom.logger.recorder.rebuild import finish
from footroom.logger.recording import RawClip, read_raw
from footroom.logger.sources.base import Event, Heard
from sent import PLACES, counts_of, facts_of

HOST_S = 5000.0  # the computer's clock when a recording begins [s]


def logbook_at(path: Path) -> Logbook:
    return Logbook.open(path, create=True)


def in_time(*streams: Sequence[Event]) -> list[Event]:
    """Events of several clips in order of arrival."""
    return sorted((event for stream in streams for event in stream), key=lambda event: event.arrived_s)


def keep(keeper: Keeper, events: Sequence[Event], step_s: float = 1.0) -> None:
    """Hand events to a keeper as they would come, `step_s` at a time."""
    if events:
        first = events[0].arrived_s
        last = math.ceil((events[-1].arrived_s - first) / step_s)
        groups: list[list[Event]] = [[] for _ in range(last + 1)]
        for event in events:
            groups[int((event.arrived_s - first) / step_s)].append(event)
        for i, group in enumerate(groups):
            keeper.take(group, first + (i + 1) * step_s)


def make(logbook: Logbook, about: About, events: Sequence[Event], rate_hz: float = 200.0, marks=()) -> Path:
    """A finished recording's folder. marks : (phase, from, to) on the host's clock since `HOST_S` [s]."""
    with Keeper(logbook.path, about, [facts_of(i, rate_hz) for i in range(len(about.worn))]) as keeper:
        for phase, start, end in marks:
            keeper.begin(phase, HOST_S + start, setup="near")
            keeper.end(HOST_S + end)
        keep(keeper, events)
    return keeper.folder


def kept_of(logbook: Logbook, about: About, events: Sequence[Event], **more) -> Kept:
    return finish(logbook, make(logbook, about, events, **more))


def stored(logbook: Logbook, kept: Kept, place: str) -> RawClip:
    return read_raw(logbook.clip_path(kept.session_id, place))


def counts_in(raw: RawClip) -> np.ndarray:
    """(n, 6) as stored."""
    return np.column_stack([raw.columns[f"{kind}_{axis}"] for kind in ("acc", "gyr") for axis in "xyz"])


def counts_sent(heard: Sequence[Heard]) -> np.ndarray:
    return np.concatenate([h.counts for h in heard])


def kill_after(logbook, seconds, clips=2, rate_hz=200):
    """Record in a process of its own and kill it.

    Returns when it began and when it was killed, on the host's clock [s], and how many samples a clip had been handed
    in by then.
    """
    command = [sys.executable, str(Path(__file__).with_name("sent.py")), str(logbook.path), str(clips), str(rate_hz)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        start_s = float(child.stdout.readline().split()[1])
        (folder,) = recording_folders(logbook.path)
        assert is_running(logbook.path, folder)
        lines = [child.stdout.readline()]
        while int(lines[-1]) < (seconds - 0.1) * rate_hz:  # a busy computer takes longer
            lines.append(child.stdout.readline())
        time.sleep(max(0.0, start_s + seconds - time.monotonic()))
        killed_s = time.monotonic()
        os.kill(child.pid, signal.SIGKILL)
        lines += child.stdout.readlines()
    return start_s, killed_s, max(int(line) for line in lines if line.endswith("\n"))


def check_kept(logbook, kept, handed_in, clips=2, rate_hz=200):
    """All samples but those of the last second are there, each as it was sent. Returns what was lost at the end [s].

    handed_in : samples of each clip, as `kill_after` gives them.
    """
    worst = 0.0
    for clip, place in enumerate(PLACES[:clips]):
        n = kept.losses[place].kept  # none, when it was killed before the first of this clip was safe
        if n:
            assert np.array_equal(counts_in(stored(logbook, kept, place)), counts_of(clip, np.arange(n)))
        worst = max(worst, (handed_in - n) / rate_hz)
    assert worst <= 1.0
    return worst
