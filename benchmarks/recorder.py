"""What recording costs and keeps: eight clips at 400 Hz over pseudo-terminals and Bluetooth's stand-in; an hour; kills.

    python benchmarks/recorder.py [--minutes 10] [--kills 50] [--what live hour kills clocks] [--way pty bluetooth]

live : the clips run in a process of their own; figures are of the process that listens and records (share of one core,
memory, samples missing by the clips' own numbers in the files read back). The screen is not counted.
hour : an hour of seven clips at 200 Hz, frames 5-60 ms late, as fast as it goes; bytes while recorded and as a session,
time to finish, every sample compared with what was sent.
kills : a recording of seven clips at 400 Hz killed (-9) at random moments; what is missing, and whether all that is
there is what was sent. clocks : clips 100 ppm apart over an hour with frames 5-60 ms late, and a warming clock.
Aims: at most 15 % of one core, 0 lost, flat memory; 110 MB for eight clips; at most 1 s; 5 ms. Linux.
"""

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from footroom.logger.logbook import Logbook
from footroom.logger.models import Participant
from footroom.logger.recorder.about import PLACES, About
from footroom.logger.recorder.folders import recording_folders
from footroom.logger.recorder.frames_in_order import in_order
from footroom.logger.recorder.keeper import Keeper
from footroom.logger.recorder.rebuild import finish
from footroom.logger.recorder.stream_file import read_stream
from footroom.logger.sources.base import Connected, Heard
from footroom.logger.sources.listening import listen
from footroom.logger.wire import SEQUENCE_SPAN
from recorded import check_kept, counts_in, in_time, keep, kill_after, logbook_at, stored
from sent import PLACES as SENT_PLACES
from sent import about_of, counts_of, facts_of
from sources import over_bluetooth, over_pty
from test_recorder_clocks import arrivals, errors_s

TURN_S = 0.1  # what the guide waits at most for events [s]
WARM_UP_S = 8.0


def size_of(folder):
    return sum(path.stat().st_size for path in Path(folder).rglob("*") if path.is_file())


def about(ids):
    """An eighth clip has no place on a body: it is recorded all the same, and read back from its file only."""
    seven = About(participant=Participant(id="wren"), setups=[], worn=dict(zip(ids[:7], PLACES, strict=True)))
    return seven.model_copy(update={"worn": dict(zip(ids, [*PLACES, "spare"], strict=False))})


def live(way, clips, rate, minutes):
    process = psutil.Process()
    with way(clips, rate) as sources, listen(sources) as listening, tempfile.TemporaryDirectory() as place:
        logbook = Logbook.create(Path(place) / "L")
        started, end_s = set(), time.monotonic() + 60
        begin_s = time.monotonic() + WARM_UP_S
        while len(started) < clips or time.monotonic() < begin_s:
            for event in listening.take(TURN_S):
                if isinstance(event, Connected):
                    listening.command(event.clip, "start")
                    started.add(event.clip)
            if time.monotonic() > end_s:
                raise SystemExit(f"only {len(started)} of {clips} clips were heard")
        resident, longest_s = [], 0.0
        with Keeper(logbook.path, about(sorted(started)), listening.clips()) as keeper:
            begin_s, begin_cpu = time.monotonic(), process.cpu_times()
            keeper.begin("playing", begin_s)
            while (passed_s := time.monotonic() - begin_s) < minutes * 60:
                events, before_s = listening.take(TURN_S), time.monotonic()
                keeper.take(events, before_s)
                longest_s = max(longest_s, time.monotonic() - before_s)
                if len(resident) <= passed_s / (minutes * 60) * 12:
                    resident.append(process.memory_info().rss / 2**20)
            wall_s, cpu = time.monotonic() - begin_s, process.cpu_times()
            said = keeper.problems()
        spent_s = cpu.user + cpu.system - begin_cpu.user - begin_cpu.system
        samples = lost = 0
        for path in sorted(keeper.folder.glob("*.arrows")):
            read = read_stream(path)
            (run,) = in_order(read.frames, rate).runs
            samples += len(read.frames.counts)
            lost += int(run.first[-1] + read.frames.sizes[-1]) - len(read.frames.counts)
        megabytes = size_of(keeper.folder) / 1e6
    print(f"  processor      {100 * spent_s / wall_s:6.1f} % of one core")
    print(f"  samples        {samples:6d} on the disk, {lost} lost ({samples / wall_s / clips:.1f} a second and clip)")
    print(f"  memory         {resident[0]:6.1f} MB at first, {resident[-1]:.1f} at the end, {max(resident):.1f} most")
    print(f"  writing        {1000 * longest_s:6.0f} ms at most for one turn; {megabytes / minutes:.2f} MB a minute")
    print(f"  problems       {said or 'none'}", flush=True)


def minute_of(clip, minute, ppm, rng, rate=200, size=10):
    """Frames of a minute, 5 to 60 ms late, their clock `ppm` too fast; ticks wrap after a quarter of an hour."""
    first = minute * 60 * rate + np.arange(60 * rate // size) * size
    ticks = np.round(first / rate * (1 + ppm * 1e-6) * 1e6).astype(np.int64) + 2**32 - 900 * 10**6
    arrived = np.maximum.accumulate((first + size - 1) / rate + rng.uniform(0.005, 0.060, len(first)))
    counts = counts_of(clip, np.arange(first[0], first[-1] + size)).reshape(-1, size, 6)
    facts = facts_of(clip, rate)
    return [
        Heard(
            facts.clip, float(arrived[i]), int(first[i] % SEQUENCE_SPAN), int(ticks[i] % 2**32), counts[i], facts.place
        )
        for i in range(len(first))
    ]


def hour(minutes=60, clips=7):
    rng, ppm = np.random.default_rng(1), [50 * (-1) ** clip for clip in range(clips)]
    with tempfile.TemporaryDirectory() as place:
        logbook = Logbook.create(Path(place) / "L")
        with Keeper(logbook.path, about_of(clips), [facts_of(clip) for clip in range(clips)]) as keeper:
            for minute in range(minutes):
                keep(keeper, in_time(*(minute_of(clip, minute, ppm[clip], rng) for clip in range(clips))), step_s=0.5)
        raw = size_of(keeper.folder) / 1e6
        begin_s, cpu = time.monotonic(), time.process_time()
        kept = finish(logbook, keeper.folder)
        wall_s, cpu_s = time.monotonic() - begin_s, time.process_time() - cpu
        session = size_of(logbook.session_folder(kept.session_id)) / 1e6
        beside = size_of(logbook.session_folder(kept.session_id) / "recording") / 1e6
        print(f"  while recorded {raw:6.1f} MB for {clips} clips, {raw * 8 / clips:.1f} for 8")
        print(
            f"  as a session   {session:6.1f} MB for {clips} clips, {session * 8 / clips:.1f} for 8; "
            f"{beside:.1f} MB of it beside the samples"
        )
        print(f"  finishing      {wall_s:6.1f} s ({cpu_s:.1f} s of processor)")
        off = []
        for clip, name in enumerate(SENT_PLACES[:clips]):
            raw_clip = stored(logbook, kept, name)
            n = len(raw_clip.columns["time_s"])
            assert np.array_equal(counts_in(raw_clip), counts_of(clip, np.arange(n)))
            off.append(raw_clip.columns["time_s"] * raw_clip.time_scale - np.arange(n) / 200)
        spread = max(o.max() for o in off) - min(o.min() for o in off)
        print(f"  clips agree    {1000 * spread:6.2f} ms at most; every sample is the one that was sent")
        print(f"  memory         {psutil.Process().memory_info().rss / 2**20:6.1f} MB after finishing")
        print(f"  said           {kept.sentence}", flush=True)


def kills(count):
    chance, worst = random.Random(1), []
    for number in range(count):
        with tempfile.TemporaryDirectory() as place:
            logbook = logbook_at(Path(place) / "L")
            start_s, killed_s, handed_in = kill_after(logbook, chance.uniform(0.7, 6.0), clips=7, rate_hz=400)
            kept = finish(logbook, recording_folders(logbook.path)[0])
            check_kept(logbook, kept, handed_in, clips=7, rate_hz=400)
            worst.append(killed_s - start_s - min(loss.kept for loss in kept.losses.values()) / 400)
        if number % 10 == 9:
            print(f"  {number + 1} kills: all samples kept are those sent; lost {max(worst):.2f} s at most, "
                  f"{np.median(worst):.2f} s in the middle", flush=True)  # fmt: skip


def clocks():
    for name, exponential, warming in (
        ("even", False, 0),
        ("exponential", True, 0),
        ("warming 5 ppm", False, 5),
        ("warming 10 ppm", False, 10),
    ):
        worst, unsure, inside = [], [], []
        for seed in range(20):
            offs = []
            for ppm in (50.0, -50.0):
                off, fit = errors_s(
                    *arrivals(3600, ppm, seed * 2 + (ppm > 0), warming * ppm / 50, exponential=exponential)
                )
                offs.append(off)
                unsure.append(fit.uncertainty_s)
                inside.append(np.abs(off).max() <= fit.uncertainty_s)
            worst.append(np.abs(offs[0] - offs[1]).max())
        print(
            f"  {name:14s} {1000 * max(worst):.2f} ms at most between two clips 100 ppm apart over an hour; stated "
            f"+-{1000 * np.median(unsure):.2f} ms, held in {100 * np.mean(inside):.0f} %",
            flush=True,
        )


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--clips", type=int, default=8)
    parser.add_argument("--rate", type=int, default=400)
    parser.add_argument("--kills", type=int, default=50)
    parts = ("live", "hour", "kills", "clocks")
    parser.add_argument("--what", nargs="+", choices=parts, default=list(parts))
    ways = {"pty": over_pty, "bluetooth": over_bluetooth}
    parser.add_argument("--way", nargs="+", choices=list(ways), default=list(ways))
    options = parser.parse_args()
    for way in options.way if "live" in options.what else ():
        print(f"{way}: {options.clips} clips at {options.rate} Hz for {options.minutes:g} min", flush=True)
        live(ways[way], options.clips, options.rate, options.minutes)
    if "clocks" in options.what:
        print("clocks, frames 5 to 60 ms late", flush=True)
        clocks()
    if "hour" in options.what:
        print("one hour at 200 Hz", flush=True)
        hour()
    if "kills" in options.what:
        print(f"{options.kills} kills, 7 clips at 400 Hz", flush=True)
        kills(options.kills)


if __name__ == "__main__":
    main()
