"""How long and how much memory one hour of seven clips takes, against the orientation filter alone.

    python benchmarks/speed.py [--repeat 1]

The filter runs on the same arrays, on one core, in a process of its own. Ratios are taken within one run, because the
same machine is faster and slower by the minute.
"""

import argparse
import os
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
spent = 0.0
for path in sys.argv[1:]:
    data = np.load(path)
    acc, gyr = np.ascontiguousarray(data[:, :3]), np.ascontiguousarray(data[:, 3:])
    start = time.perf_counter()
    offlineVQF(gyr, acc, None, 1 / 200.0)
    spent += time.perf_counter() - start
print(spent)
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
    """Run a command; (wall time [s], peak resident memory of it and its children [MB])."""
    start = time.perf_counter()
    process = pinned(cores)(command, stdout=subprocess.DEVNULL)
    peak = 0
    while process.poll() is None:
        try:
            family = [process, *process.children(recursive=True)]
            peak = max(peak, sum(p.memory_info().rss for p in family if p.is_running()))
        except psutil.NoSuchProcess:
            pass
        time.sleep(0.01)
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    return time.perf_counter() - start, peak / 1e6


def filter_alone(paths):
    process = pinned(1)([sys.executable, "-c", FILTER, *paths], stdout=subprocess.PIPE, text=True)
    return float(process.communicate()[0])


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
    repeat = parser.parse_args().repeat
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
        command = [footroom, "analyze", session_id, "--force", "--logbook", str(logbook.path)]
        for _ in range(repeat):
            alone = filter_alone(paths)
            one, memory = watched(command, 1)
            two, memory_two = watched([*command, "--jobs", "2"], 2)
            print(f"the filter alone, one core: {alone:.2f} s; ratios {one / alone:.2f} and {two / alone:.2f}")
            row("footroom analyze, one core", one, 2.2 * alone + 2.0, "s")
            row("footroom analyze --jobs 2, two cores", two, 1.5 * alone + 2.0, "s")
            row("peak memory, one process", memory, 3 * raw_mb + 250, "MB")
            row("peak memory, --jobs 2 (all processes)", memory_two, 3 * raw_mb + 250, "MB")
            row("footroom --help, best of 5", help_time(footroom), 0.4, "s")


if __name__ == "__main__":
    main()
