"""Does the offset band hold? 400 simulated sessions whose range and playing differ by an offset nobody told.

    python benchmarks/offset_band.py [--sessions 400] [--seed 1]

The offset is drawn from N(0, s), s from 1 to 4 deg, and added to the playing; the range check has three repetitions
with a spread of 1.2 deg. The end check, where there is one, sees the offset with the 2 deg by which people repeat a
pose.
Printed: how often the true figure lies in the band (95 % asked, 93 to 99 good), the mean interval score (Gneiting &
Raftery 2007, J Am Stat Assoc 102:359-378) over that of a band that knows s (at most 1.3), and coverage by s.
"""

import argparse
import math

import numpy as np
from footroom.analysis.active_range import ActiveEnd
from footroom.analysis.exposure import motion_exposure
from footroom.analysis.offset_band import Band, offset_band

RATE_HZ = 20.0
TRUE_END_DEG = 16.0
FIGURES = {
    "median_room_deg": "band_median_room_deg",
    "share_near_end": "band_near_end",
    "share_past_end": "band_past_end",
}
IN_BANDS = ("entries_per_minute", "longest_stay_s", "degree_seconds_past", "gaps_per_minute", "gap_share")


def played(rng):
    """Two minutes of strokes about a posture of its own [deg]."""
    t = np.arange(round(120 * RATE_HZ)) / RATE_HZ
    posture = rng.normal(8, 3) + np.interp(t, np.arange(0, 130, 10), rng.normal(0, 1.0, 13))
    return t, posture + rng.uniform(2, 6) * np.sin(2 * np.pi * rng.uniform(1, 4) * t) + rng.normal(0, 0.5, t.size)


def figures(t, trace, end, band):
    found = motion_exposure(t, trace, [(t[0], t[-1] + 1)], end, zone_deg=5.0, band=band)
    assert isinstance(found, dict)
    return found


def score(low, high, truth):
    return high - low + 40 * (max(0.0, low - truth) + max(0.0, truth - high))


def session(rng, checked):
    """{figure: (inside, score of the tool, score of the one that knows s)}, s"""
    s = rng.uniform(1, 4)
    offset = rng.normal(0, s)
    repetitions = TRUE_END_DEG + rng.normal(0, 1.2, 3)
    error = float(np.std(repetitions, ddof=1) / math.sqrt(3))
    t, true = played(rng)
    truth = figures(t, true, ActiveEnd(TRUE_END_DEG, "typed"), Band(0.0, "the truth"))
    end = ActiveEnd(float(repetitions.mean()), "this session", standard_error_deg=error)
    shift = abs(offset + rng.normal(0, 2.0)) if checked else None
    band = offset_band(
        "ankle_dorsiflexion", "this session", standard_error_deg=error, repetitions_used=3, end_shift_deg=shift
    )
    tool = figures(t, true + offset, end, band)
    knows = figures(t, true + offset, end, Band(1.96 * math.hypot(s, 1.2 / math.sqrt(3)), "knows s"))
    rows = {}
    for name in (*FIGURES, *IN_BANDS):
        low, high = tool["bands"][name] if name in IN_BANDS else tool[FIGURES[name]]
        sure, value = knows["bands"][name] if name in IN_BANDS else knows[FIGURES[name]], truth[name]
        rows[name] = (low - 1e-9 <= value <= high + 1e-9, score(low, high, value), score(*sure, value))
    return rows, s, band.half_width_deg


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--sessions", type=int, default=400)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    print(f"{'end check':10} {'figure':19} {'inside':>7} {'score':>6}   inside for s = 1-2, 2-3, 3-4   half-width")
    for checked in (False, True):
        rng = np.random.default_rng(asked.seed)
        runs = [session(rng, checked) for _ in range(asked.sessions)]
        spread = np.array([s for _, s, _ in runs])
        half = np.mean([h for _, _, h in runs])
        for name in (*FIGURES, *IN_BANDS):
            rows = np.array([[float(v) for v in found[name]] for found, _, _ in runs])
            by_s = [rows[(spread >= a) & (spread < a + 1), 0].mean() for a in (1, 2, 3)]
            parts = ", ".join(f"{100 * part:5.1f} %" for part in by_s)
            print(
                f"{'yes' if checked else 'no':10} {name:19} {100 * rows[:, 0].mean():5.1f} % "
                f"{rows[:, 1].mean() / rows[:, 2].mean():6.2f}   {parts}      {half:.1f} deg"
            )


if __name__ == "__main__":
    main()
