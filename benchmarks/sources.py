"""What listening costs: eight clips at 400 Hz over pseudo-terminals and over the stand-in of the Bluetooth service.

    python benchmarks/sources.py [--minutes 10] [--clips 8] [--rate 400] [--way pty bluetooth]

The clips run in a process of their own (the helpers of `tests/`); all figures are of the process that listens: share of
one core, samples that are missing (by the clips' own numbers), delay from the moment a sample was taken to the moment
it is available to a reader that asks every 20 ms (both processes share one clock; a frame holds up to 50 ms), memory.
Aims: at most 10 % of one core, 0 lost, flat memory, at most 100 ms. Linux; needs dbus-daemon for Bluetooth.
"""

import argparse
import contextlib
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from footroom.logger.sources.base import Connected, Damaged, Gone, Heard, Overrun, Silent, Trouble
from footroom.logger.sources.bluetooth import BluetoothSource
from footroom.logger.sources.listening import listen
from footroom.logger.sources.serial_source import SerialSource
from footroom.logger.wire import SEQUENCE_SPAN, TICK_SPAN_US
from private_bus import private_bluez
from pty_remote import pty_clips

READ_EVERY_S = 0.02
WARM_UP_S = 8.0  # until all clips run and the first search is over [s]
MEMORY_LOOKS = 12


@contextlib.contextmanager
def over_pty(clips, rate):
    with (
        tempfile.TemporaryDirectory(prefix="footroom-") as folder,
        pty_clips(Path(folder), "--clips", clips, "--rate", rate),
    ):
        yield [SerialSource(f"{folder}/clip{i}") for i in range(clips)]


@contextlib.contextmanager
def over_bluetooth(clips, rate):
    with private_bluez("--clips", clips, "--rate", rate):
        yield [BluetoothSource()]


class Reader:
    """Takes what was heard and keeps count, in memory that does not grow: delays are counted by the millisecond."""

    def __init__(self, rate):
        self.rate = rate
        self.next = {}
        self.samples = self.lost = 0
        self.others = {}
        self.newest_ms, self.oldest_ms = np.zeros(2000, int), np.zeros(2000, int)

    def take(self, listening):
        for event in listening.take():
            if isinstance(event, Heard):
                self.heard(event, time.monotonic())
            elif isinstance(event, Connected):
                listening.command(event.clip, "start")
            elif isinstance(event, (Damaged, Gone, Overrun, Silent, Trouble)):
                name = type(event).__name__
                self.others[name] = self.others.get(name, 0) + 1

    def heard(self, event, now_s):
        n = len(event.counts)
        expected = self.next.get(event.clip)
        if expected is not None:
            self.lost += (event.sequence - expected) % SEQUENCE_SPAN
        self.next[event.clip] = (event.sequence + n) % SEQUENCE_SPAN
        self.samples += n
        delay_us = (now_s * 1e6 - event.tick_us - (n - 1) / self.rate * 1e6) % TICK_SPAN_US
        for counts, more_us in ((self.newest_ms, 0), (self.oldest_ms, (n - 1) / self.rate * 1e6)):
            counts[min(int((delay_us + more_us) / 1000), len(counts) - 1)] += 1


def measure(way, clips, rate, minutes):
    process = psutil.Process()
    reader = Reader(rate)
    with way(clips, rate) as sources, listen(sources) as listening:
        end_s = time.monotonic() + WARM_UP_S
        while time.monotonic() < end_s or len(reader.next) < clips:
            time.sleep(READ_EVERY_S)
            reader.take(listening)
            if time.monotonic() > end_s + 60:
                raise SystemExit(f"only {len(reader.next)} of {clips} clips were heard")
        reader.samples = reader.lost = 0
        reader.others.clear()
        reader.newest_ms[:] = reader.oldest_ms[:] = 0
        begin_s, begin_cpu = time.monotonic(), process.cpu_times()
        resident = []
        while (passed_s := time.monotonic() - begin_s) < minutes * 60:
            time.sleep(READ_EVERY_S)
            reader.take(listening)
            if len(resident) <= passed_s / (minutes * 60) * MEMORY_LOOKS:
                resident.append(process.memory_info().rss / 2**20)
        wall_s, cpu = time.monotonic() - begin_s, process.cpu_times()
    spent_s = cpu.user + cpu.system - begin_cpu.user - begin_cpu.system
    others = ", ".join(f"{count} x {name}" for name, count in reader.others.items()) or "none"
    each = f"{reader.samples / wall_s / clips:.1f} a second and clip"
    print(f"  processor      {100 * spent_s / wall_s:6.1f} % of one core")
    print(f"  samples        {reader.samples:6d} heard, {reader.lost} lost ({each})")
    for name, counts in (("newest", reader.newest_ms), ("oldest", reader.oldest_ms)):
        half, most, last = (int(np.searchsorted(np.cumsum(counts), share * counts.sum())) for share in (0.5, 0.99, 1))
        print(f"  delay          {half:6d} ms median, {most} (99 %), {last} most: {name} sample of a frame")
    print(f"  memory         {resident[0]:6.1f} MB at first, {resident[-1]:.1f} at the end, {max(resident):.1f} most")
    print(f"  other events   {others}", flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--clips", type=int, default=8)
    parser.add_argument("--rate", type=int, default=400)
    ways = {"pty": over_pty, "bluetooth": over_bluetooth}
    parser.add_argument("--way", nargs="+", choices=list(ways), default=list(ways))
    options = parser.parse_args()
    for way in options.way:
        print(f"{way}: {options.clips} clips at {options.rate} Hz for {options.minutes:g} min", flush=True)
        measure(ways[way], options.clips, options.rate, options.minutes)


if __name__ == "__main__":
    main()
