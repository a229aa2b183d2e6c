"""How often verdicts are right, on people whose truth is known.

    .venv/bin/python benchmarks/verdicts.py --write docs/verdicts.md

Each simulated person goes through the real `compare_participant`: all motions of both legs are shown, the blocks of a
set-up hang together (AR(1)), set-ups are played for unequal lengths, opposite motions of a joint mirror each other, the
legs are alike in part. Same wearing: the two set-ups of a session differ by the truth, with an SD of 2 deg from session
to session, and share an offset of the wearing that cancels. Re-worn: every session has one set-up, and session means
scatter by an SD of 2 deg. The scatter of blocks is part of these SDs.

false clear: of people for whom nothing differs, those with anything called clear. found: of people whose ankles truly
have that much more room, those told so for the right ankle (both feet worn; one foot worn). cover: true differences
within the 95 % interval, right ankle. width: mean width over that of the t interval told the SD's model (pairs: paired
t; re-worn: equal SD on both sides).
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from footroom.analysis.comparison import compare_participant
from footroom.logger.models import Clip, Participant, Phase, Session, Setup
from scipy import stats

BLOCK_SD, RHO, WEARING_SD, ALIKE = 1.0, 0.5, 2.0, 0.3
LINES = ("0", "2.5", "5", "7.5", "10", "15")
AXES = ("ankle", "hip_flexion", "hip_turn", "hip_rotation")
# motion: (axis, sign of room against the axis, typical room [deg], zone [deg])
MOTIONS = {
    "ankle_dorsiflexion": ("ankle", 1, 8.0, 5.0),
    "ankle_plantarflexion": ("ankle", -1, 40.0, 5.0),
    "hip_flexion": ("hip_flexion", 1, 25.0, 5.0),
    "hip_horizontal_abduction": ("hip_turn", 1, 20.0, 10.0),
    "hip_horizontal_adduction": ("hip_turn", -1, 15.0, 10.0),
    "hip_internal_rotation": ("hip_rotation", 1, 30.0, 10.0),
    "hip_external_rotation": ("hip_rotation", -1, 28.0, 10.0),
}


@dataclass(frozen=True)
class Design:
    """sessions: with both set-ups (same wearing) or a side (re-worn). blocks: (fewest, most) a set-up. sd: above."""

    same_wearing: bool
    sessions: int
    blocks: tuple[int, int] = (2, 10)
    sd: float = 2.0
    feet: tuple[str, ...] = ("right", "left")
    setups: int = 2
    shifts: tuple[float, ...] = ()  # deg of ankle room by set-up; empty: none
    shifted: tuple[str, ...] = ("right", "left")  # the feet these concern


def mean_variance(blocks: int) -> float:
    """Variance of the mean of AR(1) blocks [deg^2]."""
    lags = np.abs(np.subtract.outer(np.arange(blocks), np.arange(blocks)))
    return float(BLOCK_SD**2 * np.mean(RHO**lags))


def person(rng: np.random.Generator, design: Design) -> tuple[list[dict[str, Any]], list[Session]]:
    """Exposure figures and sessions of one person."""
    low, high = design.blocks
    within = np.mean([mean_variance(n) for n in range(low, high + 1)])
    own = np.sqrt(max(design.sd**2 / (2 if design.same_wearing else 1) - within, 0.0))
    setups = [Setup(name=f"s{k}", reach_cm=40.0 + 3 * k, throne_height_cm=50.0) for k in range(design.setups)]
    shifts = design.shifts or (0.0,) * design.setups
    plan = (
        [tuple(range(design.setups))] * design.sessions
        if design.same_wearing
        else [(k,) for k in range(design.setups) for _ in range(design.sessions)]
    )
    exposures, sessions = [], []
    for number, played in enumerate(plan):
        order = [int(k) for k in rng.permutation(played)]
        wearing = legs(rng, WEARING_SD if design.same_wearing else 0.0, design.feet)
        figures, phases, start = {}, [], 0.0
        for k in order:
            count = int(rng.integers(low, high + 1))
            moved = legs(rng, own, design.feet)
            sides: dict[str, Any] = {}
            noise = {axis: series(rng, len(design.feet), count) for axis in AXES}
            for f, foot in enumerate(design.feet):
                for motion, (axis, sign, room, zone) in MOTIONS.items():
                    trace = (
                        moved[axis][f]
                        + wearing[axis][f]
                        + noise[axis][f]
                        + (shifts[k] if axis == "ankle" and foot in design.shifted else 0.0)
                    )
                    sides.setdefault(foot, {})[motion] = motion_figures(room + sign * trace, start, zone)
            if len(design.feet) == 2:
                rooms = sum(moved["hip_turn"][f] + wearing["hip_turn"][f] + noise["hip_turn"][f] for f in (0, 1))
                sides["both"] = {"hip_spread": motion_figures(40.0 + rooms, start, 10.0)}
            figures[setups[k].name] = sides
            phases.append(Phase(name="playing", start_s=start, end_s=start + 60.0 * count, setup=setups[k].name))
            start += 60.0 * count + 30.0
        name = f"p-{number}"
        exposures.append({"session": name, "setups": figures})
        sessions.append(
            Session(
                id=name,
                participant=Participant(id="p"),
                recorded_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(days=number),
                setups=[setups[k] for k in played],
                clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
                phases=phases,
            )
        )
    return exposures, sessions


def legs(rng: np.random.Generator, sd: float, feet: tuple[str, ...]) -> dict[str, np.ndarray]:
    """One offset per axis and foot, (feet,) each; the legs are alike in part."""
    shared = rng.normal(size=len(AXES))
    return {
        axis: sd * (np.sqrt(ALIKE) * shared[i] + np.sqrt(1 - ALIKE) * rng.normal(size=len(feet)))
        for i, axis in enumerate(AXES)
    }


def series(rng: np.random.Generator, feet: int, count: int) -> np.ndarray:
    """(feet, count) AR(1) blocks."""
    noise = rng.normal(size=(feet, count))
    for i in range(1, count):
        noise[:, i] = RHO * noise[:, i - 1] + np.sqrt(1 - RHO**2) * noise[:, i]
    return BLOCK_SD * noise


def motion_figures(rooms: np.ndarray, start_s: float, zone: float) -> dict[str, Any]:
    """One motion of exposure.json from the median room of its blocks."""

    values = rooms.tolist()
    median = sum(values) / len(values)

    def share(room: float, line: float) -> float:
        return 1 / (1 + math.exp((room - line) / 2.0))

    near = [share(room, zone) for room in values]
    return {
        "active_end_deg": 17.0,
        "range_source": "this session",
        "zone_deg": zone,
        "known_s": 60.0 * len(rooms),
        "block_s": 60.0,
        "median_room_deg": median,
        "share_near_end": sum(near) / len(near),
        "band_half_width_deg": 4.0,
        "band_near_end": [share(median, zone - 4.0), share(median, zone + 4.0)],
        "share_by_room_deg": {line: share(median, float(line)) for line in LINES},
        "blocks": [
            {
                "start_s": start_s + 60.0 * i,
                "end_s": start_s + 60.0 * (i + 1),
                "known_s": 60.0,
                "median_room_deg": room,
                "share_near_end": one,
            }
            for i, (room, one) in enumerate(zip(values, near, strict=True))
        ],
    }


@dataclass(frozen=True)
class Outcome:
    """Shares of the simulated people, 0-1; width: a ratio; None where no interval is given."""

    anything_clear: float
    found: float
    false_beside: float
    cover: float | None
    width: float | None


def simulate(design: Design, people: int, seed: int) -> Outcome:
    """Many people of one design through the comparison."""
    rng = np.random.default_rng(seed)
    clear = found = beside = covered = intervals = 0
    widths, told = 0.0, 0.0
    true = dict(enumerate(design.shifts or (0.0,) * design.setups))
    for _ in range(people):
        rows = compare_participant(*person(rng, design))
        calls = [row for row in rows if row["verdict"] == "clear difference"]
        clear += bool(calls)
        beside += any(row["side"] not in design.shifted or not differs(row, true) for row in calls)
        for row in rows:
            if not row["primary"] or row["side"] != "right" or (row["setup_a"], row["setup_b"]) != ("s0", "s1"):
                continue
            found += row["verdict"] == "clear difference" and (row["difference"] > 0) == (true[1] > true[0])
            if row["interval"] is not None:
                low, high = row["interval"]
                intervals += 1
                covered += low <= true[1] - true[0] <= high
                widths += high - low
                told += told_width(row)
    return Outcome(
        clear / people,
        found / people,
        beside / people,
        covered / intervals if intervals else None,
        widths / told if intervals else None,
    )


def differs(row: dict[str, Any], true: dict[int, float]) -> bool:
    """Whether the truth of a row is a difference."""
    a, b = int(row["setup_a"][1:]), int(row["setup_b"][1:])
    return row["motion"].startswith("ankle") and true[a] != true[b]


def told_width(row: dict[str, Any]) -> float:
    """Width of the 95 % t interval that is told the SD's model."""
    a, b = np.array(row["values_a"]), np.array(row["values_b"])
    if row["basis"] == "same wearing":
        error, freedom = np.std(b - a, ddof=1) / np.sqrt(len(a)), len(a) - 1
    else:
        freedom = len(a) + len(b) - 2
        pooled = ((len(a) - 1) * np.var(a, ddof=1) + (len(b) - 1) * np.var(b, ddof=1)) / freedom
        error = np.sqrt(pooled * (1 / len(a) + 1 / len(b)))
    return float(2 * stats.t.ppf(0.975, freedom) * error)


def curve(asked: int) -> list[str]:
    """The operating curve: design by design."""
    lines = [
        "| design | sessions | blocks | false clear [%] | true [deg] | found, both feet [%] | one foot [%] | cover [%] "
        "| width |",
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for same in (True, False):
        for sessions in (2, 3, 4, 5, 6):
            people = min(asked, 50) if sessions == 2 else asked  # two are always "not enough data"
            for blocks in ((2, 2), (10, 10), (2, 10)):
                design = Design(same, sessions, blocks)
                size = 5.0 if same else 8.0
                got = [simulate(design, people, 1000 + sessions)]
                found = "- | - | -"
                if blocks == (2, 10):
                    shifted = replace(design, shifts=(0.0, size))
                    got.append(simulate(shifted, people, 2000 + sessions))
                    got.append(simulate(replace(shifted, feet=("right",)), people, 3000 + sessions))
                    found = f"{size:g} | {100 * got[1].found:.0f} | {100 * got[2].found:.0f}"
                covers = [one.cover for one in got if one.cover is not None]
                widths = [one.width for one in got if one.width is not None]
                lines.append(
                    f"| {'same wearing' if same else 're-worn'} | {sessions} | {span(blocks)} | "
                    f"{100 * got[0].anything_clear:.1f} | {found} | "
                    + (f"{100 * np.mean(covers):.1f} | {np.mean(widths):.2f} |" if covers else "- | - |")
                )
                print(lines[-1], file=sys.stderr, flush=True)
    return lines


def span(blocks: tuple[int, int]) -> str:
    """`2-10`."""
    return str(blocks[0]) if blocks[0] == blocks[1] else f"{blocks[0]}-{blocks[1]}"


def harder(people: int) -> list[str]:
    """Where the assumptions do not hold, and several set-ups."""
    cases = {
        "four pairs, SD 1.5 deg, 5 deg true": Design(True, 4, sd=1.5, shifts=(0.0, 5.0)),
        "four pairs, SD 3 deg, 5 deg true": Design(True, 4, sd=3.0, shifts=(0.0, 5.0)),
        "four pairs, SD 4 deg, 5 deg true": Design(True, 4, sd=4.0, shifts=(0.0, 5.0)),
        "three pairs, SD 4 deg, nothing true": Design(True, 3, sd=4.0),
        "four pairs, SD 4 deg, nothing true": Design(True, 4, sd=4.0),
        "three re-worn a side, SD 4 deg, nothing true": Design(False, 3, sd=4.0),
        "three set-ups, four pairs, nothing true": Design(True, 4, setups=3),
        "three set-ups, four pairs, the third has 8 deg more": Design(True, 4, setups=3, shifts=(0.0, 0.0, 8.0)),
        "six set-ups, four pairs, nothing true": Design(True, 4, setups=6),
        "four pairs, ankles differ by 8 deg": Design(True, 4, shifts=(0.0, 8.0)),
        "four pairs, both feet worn, only the right differs, by 5 deg": Design(
            True, 4, shifts=(0.0, 5.0), shifted=("right",)
        ),
    }
    lines = ["| case | clear where nothing differs [%] | first pair found [%] | cover [%] |", "|---|---:|---:|---:|"]
    for seed, (name, design) in enumerate(cases.items()):
        got = simulate(design, people if design.setups < 6 else people // 5, 4000 + seed)
        found = f"{100 * got.found:.0f}" if len(set(design.shifts[:2])) == 2 else "-"
        cover = "-" if got.cover is None else f"{100 * got.cover:.1f}"
        lines.append(f"| {name} | {100 * got.false_beside:.1f} | {found} | {cover} |")
        print(lines[-1], file=sys.stderr, flush=True)
    return lines


def speed() -> str:
    """Time of the largest comparison asked for."""
    exposures, sessions = person(np.random.default_rng(1), Design(True, 10, (10, 10), setups=6))
    begin = time.perf_counter()
    rows = compare_participant(exposures, sessions)
    return f"6 set-ups, 10 sessions, 10 blocks, all motions: {len(rows)} rows in {time.perf_counter() - begin:.2f} s."


def main() -> None:
    """Run all designs and print (or write) the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int, default=500, help="simulated people per design and truth")
    parser.add_argument("--write", type=Path, help="replace the tables in this file, between its two marks")
    given = parser.parse_args()
    text = "\n".join([f"{given.people} people per design and truth (two sessions: 50).\n", *curve(given.people)])
    text += "\n\n" + "\n".join([*harder(given.people), "", speed()])
    if given.write is None:
        print(text)
        return
    before, _, rest = given.write.read_text(encoding="utf-8").partition("<!-- table begins -->")
    _, _, after = rest.partition("<!-- table ends -->")
    marks = ("<!-- table begins -->", "<!-- table ends -->")
    given.write.write_text(f"{before}{marks[0]}\n{text}\n{marks[1]}{after}", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
