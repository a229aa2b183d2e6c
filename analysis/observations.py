"""The unit of comparison: one set-up in one session, one motion on one side, as a mean over equal-length blocks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .measures import UNIT, Measure
from .setups import Outcome, Variant

SWEEP_DEG = ("2.5", "5", "7.5", "10")
"""Lines of room between which a difference in the share should not turn round [deg]."""


@dataclass(frozen=True)
class Observation:
    """One set-up in one session, one motion on one side.

    values: block means. offset_sd: how far they may be off, SD, in the unit of the measure. blocks: (start [s], median
    room [deg]) of the blocks used, in order of time. shares: share of time with less room than each line of SWEEP_DEG.
    end_deg: the active end used.
    """

    values: Mapping[Measure, float]
    offset_sd: Mapping[Measure, float]
    zone_deg: float | None
    range_source: str
    blocks: tuple[tuple[float, float], ...] = ()
    shares: Mapping[str, float] | None = None
    end_deg: float | None = None

    @property
    def warm_up_deg(self) -> float | None:
        """Room of the last block minus that of the first [deg]; None with a single block."""
        return self.blocks[-1][1] - self.blocks[0][1] if len(self.blocks) > 1 else None


def observe(figures: Mapping[str, Any]) -> Observation | None:
    """Means over blocks at least half known, each block with one weight.

    figures: one motion of `exposure.json`. Falls back on the whole set-up where no block qualifies but half a block's
    time is known in all; None where not even that is.
    """
    enough_s = 0.5 * float(figures.get("block_s") or 60.0)
    blocks = [block for block in figures.get("blocks") or [] if (block.get("known_s") or 0.0) >= enough_s]
    if not blocks:
        if float(figures.get("known_s") or 0.0) < enough_s:
            return None
        blocks = [figures]
    values: dict[Measure, float] = {}
    for measure in UNIT:
        numbers = [float(block[measure]) for block in blocks if block.get(measure) is not None]
        if numbers:
            values[measure] = math.fsum(numbers) / len(numbers)
    if not math.isfinite(values.get("median_room_deg", math.nan)):
        return None
    half = float(figures.get("band_half_width_deg") or 0.0)
    near = figures.get("band_near_end") or [0.0, 0.0]
    lines = figures.get("share_by_room_deg") or {}
    known = {line: lines[line] for line in SWEEP_DEG if lines.get(line) is not None}
    return Observation(
        values=values,
        offset_sd={"median_room_deg": half / 1.96, "share_near_end": (float(near[1]) - float(near[0])) / 2 / 1.96},
        zone_deg=figures.get("zone_deg"),
        range_source=str(figures.get("range_source")),
        blocks=tuple(
            sorted(
                (float(block["start_s"]), float(block["median_room_deg"]))
                for block in blocks
                if block.get("start_s") is not None and block.get("median_room_deg") is not None
            )
        ),
        shares=known if len(known) == len(SWEEP_DEG) else None,
        end_deg=figures.get("active_end_deg"),
    )


def observations(variant: Variant, by_id: Mapping[str, Mapping[str, Any]]) -> dict[Outcome, dict[str, Observation]]:
    """{(side, motion): {session id: observation}} of one set-up, from the parsed exposure files by session id."""
    found: dict[Outcome, dict[str, Observation]] = {}
    for session_id, setup in variant.setups:
        sides = by_id[session_id].get("setups", {}).get(setup.name) or {}
        for side, motions in sides.items():
            for motion, figures in motions.items():
                observation = observe(figures)
                if observation is not None:
                    found.setdefault((side, motion), {})[session_id] = observation
    return found


def sweep(a: Sequence[Observation], b: Sequence[Observation]) -> dict[str, float] | None:
    """{line of room [deg]: mean share of b minus mean share of a}; None where a share is not known."""
    if not a or not b or any(one.shares is None for one in (*a, *b)):
        return None
    return {line: _mean_share(b, line) - _mean_share(a, line) for line in SWEEP_DEG}


def turns_round(differences: Mapping[str, float], least: float = 0.01) -> bool:
    """Whether the difference in share has both signs along the sweep, each by at least `least`."""
    return max(differences.values()) >= least and min(differences.values()) <= -least


def _mean_share(seen: Iterable[Observation], line: str) -> float:
    shares = [one.shares[line] for one in seen if one.shares is not None]
    return math.fsum(shares) / len(shares)


@dataclass(frozen=True)
class Calibrations:
    """How the calibrations of two sides relate.

    words: for people. apart_sd: SD of what does not show in the scatter of sessions. reused: some end of range was used
    in several sessions.
    """

    words: str
    apart_sd: float = 0.0
    reused: bool = False


def calibrations(a: Mapping[str, Observation], b: Mapping[str, Observation], measure: Measure) -> Calibrations:
    """Where separate wearings share or differ in the end of range, {session id: observation} of each side.

    A range checked anew in each session errs anew in each and so shows in the scatter of the sessions. An end used in
    several sessions (typed, an earlier check, a norm) errs alike in all of them: on both sides it cancels, on one side
    it does not and scatters nothing, so the offset band has to enter.
    """
    uses: dict[tuple[str, float], list[int]] = {}
    for side, seen in enumerate((a, b)):
        for one in seen.values():
            if one.range_source != "this session" and one.end_deg is not None:
                uses.setdefault((one.range_source, round(one.end_deg, 6)), [0, 0])[side] += 1
    again = [(n_a / len(a), n_b / len(b)) for n_a, n_b in uses.values() if n_a + n_b > 1]
    if not again:
        return Calibrations("each wearing has a calibration and a range of its own, so their offsets count")
    every = [*a.values(), *b.values()]
    variance = math.fsum(one.offset_sd[measure] ** 2 for one in every) / len(every)
    apart = math.sqrt(variance * math.fsum((w_b - w_a) ** 2 for w_a, w_b in again))
    if apart < 1e-9:
        return Calibrations(
            "both set-ups rest on the same end of range, so its error cancels; how the clips sat does not",
            reused=True,
        )
    return Calibrations("the set-ups rest on different ends of range, so the whole offset band counts", apart, True)
