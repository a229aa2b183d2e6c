"""Comparing the set-ups of one person, with a verdict that may be believed.

The unit is the mean over equal-length blocks, per set-up and session. Two set-ups worn in one session are compared
within it first: mounting and range offsets cancel. Only without three such sessions are separate wearings compared, and
then the standard error is not believed to be smaller than the offsets of a wearing alone would make it.

Errors are held at 5 % for the whole person: the outcomes named by the geometry before the data (`setups`) are tested
together by Holm, over all pairs of set-ups; everything else is tested, by Holm over all of it, only when one of those
is clear. So where nothing differs, at most 5 % of comparisons show anything clear.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any, Literal

from ..logger.errors import InputError
from ..logger.models import Session
from . import wording
from .measures import ASSUMED_SD, RESOLUTION, UNIT, WORTH_CHASING, WORTH_SEEING, Measure
from .motions import BOTH, MOTION
from .setups import Outcome, Variant, mismatches, primary_outcomes, variants
from .small_samples import ALPHA, Difference, holm, paired_difference, pairs_needed, separate_difference

Basis = Literal["same wearing", "separate wearings"]
Verdict = Literal["clear difference", "no clear difference", "not enough data"]

FEWEST = 3  # pairs, or sessions a side
_SATURATED_ABOVE, _SATURATED_BELOW = 0.95, 0.01


@dataclass(frozen=True)
class Observation:
    """One set-up in one session, one motion on one side: block means, and what they rest on."""

    values: Mapping[Measure, float]
    offset_sd: Mapping[Measure, float]
    zone_deg: float | None
    range_source: str


@dataclass(frozen=True)
class Comparison:
    """One row: b minus a, for one motion on one side and one measure; values in the unit of the measure."""

    a: Variant
    b: Variant
    side: str
    motion: str
    measure: Measure
    primary: bool
    basis: Basis
    sessions_a: tuple[str, ...]
    sessions_b: tuple[str, ...]
    pairs: int
    mean_a: float
    mean_b: float
    estimate: float
    difference: Difference | None = None
    offset_sd: float = 0.0
    saturated: bool = False
    zones_differ: bool = False
    range_sources: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()
    needed: int | None = None
    p_holm: float | None = None
    verdict: Verdict = "not enough data"
    gate: tuple[str, ...] = field(default=())

    @property
    def testable(self) -> bool:
        """Whether it takes part in a family of tests."""
        return self.difference is not None


def compare_participant(exposures: Sequence[Mapping[str, Any]], sessions: Sequence[Session]) -> list[dict[str, Any]]:
    """All comparisons between the set-ups of one participant, as `footroom compare --json` prints them.

    exposures: the parsed `derived/exposure.json` of the sessions, in any order. sessions: of one participant.
    A session without exposure is left out. Returns one row per pair of set-ups, side, motion and measure; none when
    there are not two set-ups. Raises InputError when the sessions belong to several people.
    """
    people = sorted({session.participant.id for session in sessions})
    if len(people) > 1:
        raise InputError(
            f"sessions of {', '.join(people)} cannot be compared: people are never compared with each other"
        )
    by_id = {str(exposure["session"]): exposure for exposure in exposures}
    known = sorted((s for s in sessions if s.id in by_id), key=lambda session: (session.recorded_at, session.id))
    used = variants(known)
    seen = {variant.label: _observations(variant, by_id) for variant in used}
    slips = {key: exposure.get("quality", {}).get("slips") or [] for key, exposure in by_id.items()}
    cases: list[Comparison] = []
    for a, b in combinations(used, 2):
        cases += _cases(a, b, seen[a.label], seen[b.label], known, slips)
    return [wording.row(case) for case in _judge(cases)]


def _observations(variant: Variant, by_id: Mapping[str, Mapping[str, Any]]) -> dict[Outcome, dict[str, Observation]]:
    found: dict[Outcome, dict[str, Observation]] = {}
    for session_id, setup in variant.setups:
        sides = by_id[session_id].get("setups", {}).get(setup.name, {})
        for side, motions in sides.items():
            for motion, figures in motions.items():
                observation = observe(figures)
                if observation is not None:
                    found.setdefault((side, motion), {})[session_id] = observation
    return found


def observe(figures: Mapping[str, Any]) -> Observation | None:
    """The unit of comparison: means over blocks at least half known, each block with one weight.

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
            values[measure] = sum(numbers) / len(numbers)
    if "median_room_deg" not in values:
        return None
    half = float(figures.get("band_half_width_deg") or 0.0)
    near = figures.get("band_near_end") or [0.0, 0.0]
    return Observation(
        values=values,
        offset_sd={"median_room_deg": half / 1.96, "share_near_end": (float(near[1]) - float(near[0])) / 2 / 1.96},
        zone_deg=figures.get("zone_deg"),
        range_source=str(figures.get("range_source")),
    )


def _cases(
    a: Variant,
    b: Variant,
    seen_a: Mapping[Outcome, Mapping[str, Observation]],
    seen_b: Mapping[Outcome, Mapping[str, Observation]],
    sessions: Sequence[Session],
    slips: Mapping[str, Sequence[Mapping[str, Any]]],
) -> list[Comparison]:
    outcomes = sorted(seen_a.keys() & seen_b.keys(), key=_reading_order)
    primary = primary_outcomes(a, b, outcomes)
    notes = tuple(mismatches(a, b, sessions))
    rows: list[Comparison] = []
    for side, motion in sorted(outcomes, key=lambda outcome: outcome not in primary):
        of_a, of_b = seen_a[side, motion], seen_b[side, motion]
        for measure in UNIT:
            first = measure == "median_room_deg" and (side, motion) in primary
            x = {key: o for key, o in of_a.items() if measure in o.values}
            y = {key: o for key, o in of_b.items() if measure in o.values}
            if x and y:
                said = (*notes, *_slipped(side, sorted(x.keys() | y.keys()), slips))
                rows.append(_case(a, b, side, motion, measure, first, x, y, said))
    return rows


def _slipped(side: str, ids: Iterable[str], slips: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[str]:
    """A clause for each session in which a clip of this leg (or of the pelvis) turned on the body."""
    notes: list[str] = []
    for session_id in ids:
        clips = {str(slip.get("clip")) for slip in slips.get(session_id, ())}
        own = sorted(clip for clip in clips if side == BOTH or clip == "pelvis" or clip.startswith(f"{side}_"))
        if own:
            notes.append(f"in {session_id} a clip slipped ({', '.join(own)}), so its figures are less sure")
    return notes


def _case(
    a: Variant,
    b: Variant,
    side: str,
    motion: str,
    measure: Measure,
    primary: bool,
    of_a: Mapping[str, Observation],
    of_b: Mapping[str, Observation],
    notes: tuple[str, ...],
) -> Comparison:
    both = [key for key in of_a if key in of_b]
    separate = len(of_a) >= FEWEST and len(of_b) >= FEWEST
    within = len(both) >= FEWEST or (bool(both) and not separate)
    ids_a, ids_b = (both, both) if within else (list(of_a), list(of_b))
    values_a = [of_a[key].values[measure] for key in ids_a]
    values_b = [of_b[key].values[measure] for key in ids_b]
    mean_a, mean_b = math.fsum(values_a) / len(values_a), math.fsum(values_b) / len(values_b)
    observed = [of_a[key] for key in ids_a] + [of_b[key] for key in ids_b]
    offset_sd = math.sqrt(sum(o.offset_sd[measure] ** 2 for o in observed) / len(observed))
    resolution = RESOLUTION[measure]
    zones = {o.zone_deg for o in observed}
    zones_differ = measure == "share_near_end" and len(zones) > 1
    difference = None
    if not zones_differ and within and len(both) >= FEWEST:
        difference = paired_difference([y - x for x, y in zip(values_a, values_b, strict=True)], resolution=resolution)
    elif not zones_differ and not within and separate:
        difference = separate_difference(values_a, values_b, offset_sd=offset_sd, resolution=resolution)
    shares = (mean_a, mean_b) if measure == "share_near_end" else (0.5, 0.5)
    return Comparison(
        a=a,
        b=b,
        side=side,
        motion=motion,
        measure=measure,
        primary=primary,
        basis="same wearing" if within else "separate wearings",
        sessions_a=tuple(ids_a),
        sessions_b=tuple(ids_b),
        pairs=len(both),
        mean_a=mean_a,
        mean_b=mean_b,
        estimate=mean_b - mean_a,
        difference=difference,
        offset_sd=0.0 if within else offset_sd,
        saturated=min(shares) > _SATURATED_ABOVE or max(shares) < _SATURATED_BELOW,
        zones_differ=zones_differ,
        range_sources=frozenset(o.range_source for o in observed),
        notes=notes,
        needed=_needed(measure, mean_b - mean_a, difference, within, len(both), (len(of_a), len(of_b))),
    )


def _needed(
    measure: Measure,
    estimate: float,
    difference: Difference | None,
    within: bool,
    pairs: int,
    sessions: tuple[int, int],
) -> int | None:
    """How many more sessions (with both set-ups in one wearing) would roughly settle it; None: not worth it."""
    if difference is None:
        size = max(abs(estimate), WORTH_SEEING[measure])
        total = pairs_needed(size, ASSUMED_SD[measure], fewest=FEWEST)
        return None if total is None else max(total - pairs, FEWEST - pairs, 1)
    if abs(estimate) < WORTH_CHASING[measure]:
        return None
    sd = difference.error * math.sqrt(pairs if within else 2 / (1 / sessions[0] + 1 / sessions[1]))
    total = pairs_needed(estimate, sd, fewest=FEWEST)
    return None if total is None else max(total - (pairs if within else 0), 1)


def _judge(cases: Sequence[Comparison]) -> list[Comparison]:
    """Holm over the primary rows; Holm over the rest when one of them is clear."""
    adjusted: dict[int, float] = {}
    first = [index for index, case in enumerate(cases) if case.primary and case.testable]
    adjusted |= dict(zip(first, holm([_p(cases[index]) for index in first]), strict=True))
    opened = any(adjusted[index] <= ALPHA for index in first)
    rest = [index for index, case in enumerate(cases) if not case.primary and case.testable]
    if opened:
        adjusted |= dict(zip(rest, holm([_p(cases[index]) for index in rest]), strict=True))
    gate = () if opened else tuple(_unique(wording.outcome(case) for case in cases if case.primary))
    judged: list[Comparison] = []
    for index, case in enumerate(cases):
        verdict: Verdict = "not enough data"
        p_holm = adjusted.get(index)
        if case.testable:
            verdict = "clear difference" if p_holm is not None and p_holm <= ALPHA else "no clear difference"
        judged.append(replace(case, verdict=verdict, p_holm=p_holm, gate=() if case.primary else gate))
    return judged


def _p(case: Comparison) -> float:
    """A saturated share cannot show a difference: it stays in the family and shows none."""
    return 1.0 if case.saturated or case.difference is None else case.difference.p


def _unique(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _reading_order(outcome: Outcome) -> tuple[int, int]:
    side, motion = outcome
    names = list(MOTION)
    return (names.index(motion) if motion in names else len(names), ("right", "left", BOTH).index(side))
