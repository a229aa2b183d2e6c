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
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from footroom.analysis.comparison import compare_participant
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from comparison_data import fill
from verdicts_people import Design, person


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


def curve(people: int) -> list[str]:
    """The operating curve: design by design."""
    lines = [
        "| design | sessions | blocks | false clear [%] | true [deg] | found, both feet [%] | one foot [%] | cover [%] "
        "| width |",
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for same in (True, False):
        for sessions in (2, 3, 4, 5, 6):
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
        "four pairs, both feet worn, only the right differs, by 5 deg, only its pedal was moved": Design(
            True, 4, shifts=(0.0, 5.0), shifted=("right",), noted=("right",)
        ),
        "the same, but both pedals were moved (two feet asked about)": Design(
            True, 4, shifts=(0.0, 5.0), shifted=("right",)
        ),
        "four pairs, both feet worn, only the right pedal was moved, nothing true": Design(True, 4, noted=("right",)),
    }
    lines = [
        "| case | people | clear where nothing differs [%] | first pair found [%] | cover [%] |",
        "|---|---:|---:|---:|---:|",
    ]
    for seed, (name, design) in enumerate(cases.items()):
        got = simulate(design, people, 4000 + seed)
        found = f"{100 * got.found:.0f}" if len(set(design.shifts[:2])) == 2 else "-"
        cover = "-" if got.cover is None else f"{100 * got.cover:.1f}"
        lines.append(f"| {name} | {people} | {100 * got.false_beside:.1f} | {found} | {cover} |")
        print(lines[-1], file=sys.stderr, flush=True)
    return lines


def speed() -> str:
    """Times of the largest comparison asked for: the comparison itself, and `footroom compare --json` from files."""
    exposures, sessions = person(np.random.default_rng(1), Design(True, 10, (10, 10), setups=6))
    begin = time.perf_counter()
    rows = compare_participant(exposures, sessions)
    own = time.perf_counter() - begin
    with tempfile.TemporaryDirectory() as folder:
        path = fill(Path(folder) / "book", exposures, sessions)
        command = [sys.executable, "-m", "footroom", "compare", "--json", "--participant", "p", "--logbook", str(path)]
        begin = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        whole = time.perf_counter() - begin
    return (
        f"6 set-ups, 10 sessions, 10 blocks, all motions: {len(rows)} rows in {own:.2f} s; `footroom compare --json` "
        f"from start to end {whole:.2f} s."
    )


def write_between(path: Path, name: str, text: str) -> None:
    """Replace what stands between the marks `NAME begins` and `NAME ends` of a page."""
    begins, ends = f"<!-- {name} begins -->", f"<!-- {name} ends -->"
    before, found, rest = path.read_text(encoding="utf-8").partition(begins)
    _, closed, after = rest.partition(ends)
    if not (found and closed):
        raise SystemExit(f"{path} has no marks {begins} and {ends}")
    path.write_text(f"{before}{begins}\n{text}\n{ends}{after}", encoding="utf-8", newline="\n")


def main() -> None:
    """Run all designs and print (or write) the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int, default=500, help="simulated people per design and truth")
    parser.add_argument("--write", type=Path, help="replace the tables in this file, between its two marks")
    given = parser.parse_args()
    text = "\n".join([f"{given.people} people per design and truth.\n", *curve(given.people)])
    text += "\n\n" + "\n".join([*harder(given.people), "", speed()])
    if given.write is None:
        print(text)
        return
    write_between(given.write, "table", text)


if __name__ == "__main__":
    main()
