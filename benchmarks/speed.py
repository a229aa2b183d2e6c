"""How long and how much memory one hour of seven clips takes, against the orientation filter alone.

    python benchmarks/speed.py [--repeat 1] [--where]

The filter runs on the same arrays, on one core, in a process of its own. Ratios are taken within one run, because the
same machine is faster and slower by the minute. `--where` tells, for one process, which step takes which part.
"""

import argparse
import cProfile
import os
import pstats
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil
from hour import make_hour

FILTER = """
import sys, time
import numpy as np
from vqf import offlineVQF
wall = spent = 0.0
for path in sys.argv[1:]:
    data = np.load(path)
    acc, gyr = np.ascontiguousarray(data[:, :3]), np.ascontiguousarray(data[:, 3:])
    start, begun = time.perf_counter(), time.process_time()
    offlineVQF(gyr, acc, None, 1 / 200.0)
    wall, spent = wall + time.perf_counter() - start, spent + time.process_time() - begun
print(wall, spent)
"""


def pinned(cores):
    """What keeps a process on so many cores, where the system can."""
    wanted = sorted(psutil.Process().cpu_affinity())[:cores] if hasattr(psutil.Process, "cpu_affinity") else None

    def start(command, **more):
        process = psutil.Popen(command, **more)
        if wanted:
            process.cpu_affinity(wanted)
        return process

    return start


def watched(command, cores):
    """Run a command; (wall time [s], processor time [s], peak resident memory [MB]) of it and its children."""
    start = time.perf_counter()
    process = pinned(cores)(command, stdout=subprocess.DEVNULL)
    peak, spent = 0, {}
    while process.poll() is None:
        resident = 0
        for p in [process, *process.children(recursive=True)]:
            try:
                resident += p.memory_info().rss
                spent[p.pid] = sum(p.cpu_times()[:2])
            except psutil.Error:  # it has just ended
                continue
        peak = max(peak, resident)
        time.sleep(0.05)
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    return time.perf_counter() - start, sum(spent.values()), peak / 1e6


def filter_alone(paths):
    """(wall time [s], processor time [s]) of the filter over all clips."""
    process = pinned(1)([sys.executable, "-c", FILTER, *paths], stdout=subprocess.PIPE, text=True)
    wall, spent = process.communicate()[0].split()
    return float(wall), float(spent)


STEPS = {  # function: what it does
    "analyze_session": "all of it, imports left out",
    "_key": "hash of everything the result depends on",
    "session_timing": "first reading, clocks",
    "read_tracks": "second reading, grid, orientation",
    "offlineVQF": "  of which the filter",
    "session_angles": "alignment, headings, tape, joint angles, uncertainty",
    "session_exposure": "exposure per set-up and motion",
    "playing_figures": "strokes, tiring, rest, lift, knee",
    "_write_angles": "writing angles.parquet",
}


def where(logbook, session_id):
    """Print the steps of one analysis in this process, in parts of the whole [%]."""
    from footroom.analysis import pipeline

    profile = cProfile.Profile()
    profile.runcall(pipeline.analyze_session, logbook, session_id, force=True)
    spent = {}
    for (_, _, name), (_, _, _, cumulated, _) in pstats.Stats(profile).stats.items():
        name = name.rsplit(".", 1)[-1].strip("<>{}' ").split(" ")[0]
        spent[name] = max(spent.get(name, 0.0), cumulated)
    filters = [key for key in spent if "offlineVQF" in key or key == "_filter"]
    spent["offlineVQF"] = max((spent[key] for key in filters), default=0.0)
    print("where one process spends it (with the profiler's own time)")
    for name, what in STEPS.items():
        share = spent.get(name, 0.0) / spent["analyze_session"]
        print(f"  {what:<58}{spent.get(name, 0.0):>7.2f} s {100 * share:>5.0f} %")


def help_time(footroom):
    times = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([footroom, "--help"], stdout=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - start)
    return min(times)


def row(what, found, budget, unit):
    print(f"{what:<44}{found:>9.2f} {unit:<3} budget {budget:>8.2f} {unit:<3} {'ok' if found <= budget else 'OVER'}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeat", type=int, default=1, help="runs of everything (default 1)")
    parser.add_argument("--where", action="store_true", help="the steps of one analysis, instead")
    given = parser.parse_args()
    repeat = given.repeat
    footroom = shutil.which("footroom", path=os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]))
    if footroom is None:
        raise SystemExit("footroom is not installed in this environment")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logbook, session_id, clips = make_hour(folder / "logbook")
        paths = []
        for clip, record in clips.items():
            paths.append(str(folder / f"{clip}.npy"))
            np.save(paths[-1], np.concatenate([record.acc, record.gyr], axis=1))
        raw_mb = sum(7 * 8 * len(record.time_s) for record in clips.values()) / 1e6
        print(f"{len(clips)} clips, {len(next(iter(clips.values())).time_s)} samples each, {raw_mb:.0f} MB as float64")
        del clips
        if given.where:
            where(logbook, session_id)
            return
        command = [footroom, "analyze", session_id, "--force", "--logbook", str(logbook.path)]
        for _ in range(repeat):
            alone, alone_spent = filter_alone(paths)
            one, one_spent, memory = watched(command, 1)
            two, two_spent, memory_two = watched([*command, "--jobs", "2"], 2)
            print(f"the filter alone, one core: {alone:.2f} s; ratios {one / alone:.2f} and {two / alone:.2f}")
            print(f"processor time: filter {alone_spent:.2f} s, analyze {one_spent:.2f} s, --jobs 2 {two_spent:.2f} s")
            row("footroom analyze, one core", one, 2.2 * alone + 2.0, "s")
            row("footroom analyze --jobs 2, two cores", two, 1.5 * alone + 2.0, "s")
            row("peak memory, one process", memory, 3 * raw_mb + 250, "MB")
            row("peak memory, --jobs 2 (all processes)", memory_two, 3 * raw_mb + 250, "MB")
            row("footroom --help, best of 5", help_time(footroom), 0.4, "s")


if __name__ == "__main__":
    main()
