"""Comparing the set-ups of one person, with a verdict that may be believed.

The unit is the mean over equal-length blocks, per set-up and session. Two set-ups worn in one session are compared
within it first: mounting and range offsets cancel. Only without three such sessions are separate wearings compared, and
then the offsets of a wearing count. Only sessions alike in footwear and exercise meet, unless asked for (`matching`).
What counts as clear is decided over everything shown (`families`); how often that is wrong: `benchmarks/verdicts.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, Literal

from ..logger.errors import InputError
from ..logger.models import Session, Setup
from . import measures, wording
from .cycle_ratio import with_cycle_ratios
from .effects import Effects, Playing, effects, left_out_words, playing_of, slip_words
from .families import Question, Sizes, judge
from .felt import Felt, felt
from .matching import Matched, conditions, match
from .measures import ASSUMED_SD, RESOLUTION, UNIT, WORTH_CHASING, WORTH_SEEING, Measure, known_pair_sd, wearing_sd
from .motions import MOTION
from .observations import Observation, calibrations, observations, sweep
from .setups import Outcome, Variant, mismatches, not_measured, primary_outcomes, reading_order, unlike, variants
from .small_samples import Difference, cohen_d, paired_difference, pairs_needed, separate_difference

Basis = Literal["same wearing", "separate wearings"]
Verdict = Literal["clear difference", "no clear difference", "not enough data"]

FEWEST = 3  # pairs, or sessions a side


@dataclass(frozen=True)
class Comparison:
    """One row: b minus a, for one motion on one side and one measure; values in the unit of the measure.

    difference: None where it is not tested; plain: the same by the textbook's t, nothing assumed of the spread.
    values_a, values_b: session means in the order of sessions_a and sessions_b. offset_sd: of the offsets that do not
    cancel. assumed_sd: counts as one session more. sweep: difference in share by line of room. needed: how many more
    sessions would settle it. unlike: what differs beside the set-up (footwear, exercise, tempo). left_out: sessions not
    used because they are not alike; mixed: they were used, because that was asked for.
    """

    a: Variant
    b: Variant
    side: str
    motion: str
    measure: Measure
    primary: bool
    basis: Basis
    sessions_a: tuple[str, ...]
    sessions_b: tuple[str, ...]
    values_a: tuple[float, ...]
    values_b: tuple[float, ...]
    pairs: int
    mean_a: float
    mean_b: float
    estimate: float
    difference: Difference | None = None
    plain: Difference | None = None
    effect_size: float | None = None
    offset_sd: float = 0.0
    assumed_sd: float = 0.0
    calibrations: str = ""
    saturated: bool = False
    zones_differ: bool = False
    range_sources: frozenset[str] = frozenset()
    effects: Effects = Effects()
    sweep: Mapping[str, float] | None = None
    felt: tuple[Felt, Felt] = (Felt(), Felt())
    notes: tuple[str, ...] = ()
    unlike: tuple[str, ...] = ()
    barrier: str | None = None
    left_out: int = 0
    mixed: bool = False
    needed: int | None = None
    p_holm: float | None = None
    verdict: Verdict = "not enough data"
    gate: tuple[str, ...] = ()
    family: Sizes = Sizes(0, 0)
    set_ups: int = 2

    @property
    def testable(self) -> bool:
        """Whether it takes part in a family of tests."""
        return self.difference is not None


@dataclass(frozen=True)
class _Person:
    """What all pairs of set-ups share."""

    sessions: Sequence[Session]
    seen: Mapping[str, Mapping[Outcome, Mapping[str, Observation]]]
    playing: Mapping[str, Playing]
    slips: Mapping[str, Sequence[Mapping[str, Any]]]
    typed: Sequence[Setup]


def compare_participant(
    exposures: Sequence[Mapping[str, Any]],
    sessions: Sequence[Session],
    *,
    mixed: bool = False,
    typed: Sequence[Setup] = (),
) -> list[dict[str, Any]]:
    """All comparisons between the set-ups of one participant, as `footroom compare --json` prints them.

    exposures: the parsed `derived/exposure.json` of the sessions, in any order. sessions: of one participant.
    mixed: compare also sessions of other footwear, exercise or throne height of a reused name. typed: how set-ups felt,
    from `felt_by_hand`. A session without exposure is left out. Returns one row per pair of set-ups, side, motion and
    measure; none when there are not two set-ups. Raises InputError when the sessions belong to several people.
    """
    people = sorted({session.participant.id for session in sessions})
    if len(people) > 1:
        raise InputError(
            f"sessions of {', '.join(people)} cannot be compared: people are never compared with each other"
        )
    by_id = {str(exposure["session"]): exposure for exposure in exposures}
    known = sorted((s for s in sessions if s.id in by_id), key=lambda session: (session.recorded_at, session.id))
    used = variants(known)
    person = _Person(
        known,
        {variant.label: observations(variant, by_id) for variant in used},
        {session.id: playing_of(session) for session in known},
        {key: (exposure.get("quality") or {}).get("slips") or [] for key, exposure in by_id.items()},
        typed,
    )
    alike = conditions(known)
    cases: list[Comparison] = []
    for a, b in combinations(used, 2):
        like = match(a, b, alike)
        pool = mixed and bool(like.barrier or any(like.left_out))
        cases += _cases(match(a, b, alike, mixed=True) if pool else like, person, mixed=pool)
    rows = [wording.row(case) for case in _judge(cases, len(used))]
    return with_cycle_ratios(rows, by_id, used)


def _cases(matched: Matched, person: _Person, *, mixed: bool = False) -> list[Comparison]:
    a, b = matched.a, matched.b
    seen_a, seen_b = person.seen[a.label], person.seen[b.label]
    outcomes = sorted(seen_a.keys() & seen_b.keys(), key=reading_order)
    primary = primary_outcomes(a, b, outcomes)
    said = [*not_measured(a, b, primary), *mismatches(a, b, person.sessions)]
    if mixed:
        said.append("sessions that are not alike were compared, because that was asked for")
    apart = tuple(unlike(a, b, person.sessions))
    scores = (felt(a, person.typed), felt(b, person.typed))
    rows: list[Comparison] = []
    for side, motion in sorted(outcomes, key=lambda outcome: outcome not in primary):
        if matched.barrier is not None and (side, motion) not in primary:
            continue
        of_a, of_b = seen_a[side, motion], seen_b[side, motion]
        for measure in UNIT:
            x = {key: o for key, o in of_a.items() if measure in o.values and key in matched.pairs | matched.only_a}
            y = {key: o for key, o in of_b.items() if measure in o.values and key in matched.pairs | matched.only_b}
            if x and y:
                first = measure == "median_room_deg" and (side, motion) in primary
                case = _case(matched, side, motion, measure, first, x, y, person.playing)
                slipped = slip_words(side, sorted(x.keys() | y.keys()), person.slips)
                left_out = matched.left_out[case.basis != "same wearing"]
                rows.append(
                    replace(
                        case,
                        notes=(*said, *left_out_words(left_out), *slipped),
                        unlike=apart,
                        felt=scores,
                        barrier=matched.barrier,
                        left_out=left_out,
                        mixed=mixed,
                    )
                )
    return rows


def _case(
    matched: Matched,
    side: str,
    motion: str,
    measure: Measure,
    primary: bool,
    of_a: Mapping[str, Observation],
    of_b: Mapping[str, Observation],
    playing: Mapping[str, Playing],
) -> Comparison:
    both = [key for key in of_a if key in of_b and key in matched.pairs]
    alone_a = [key for key in of_a if key in matched.only_a]
    alone_b = [key for key in of_b if key in matched.only_b]
    separate = len(alone_a) >= FEWEST and len(alone_b) >= FEWEST
    within = len(both) >= FEWEST or (bool(both) and not separate)
    x = {key: of_a[key] for key in (both if within else alone_a or of_a)}
    y = {key: of_b[key] for key in (both if within else alone_b or of_b)}
    values_a = tuple(one.values[measure] for one in x.values())
    values_b = tuple(one.values[measure] for one in y.values())
    mean_a, mean_b = math.fsum(values_a) / len(values_a), math.fsum(values_b) / len(values_b)
    observed = [*x.values(), *y.values()]
    offset_sd = math.sqrt(math.fsum(one.offset_sd[measure] ** 2 for one in observed) / len(observed))
    resolution = RESOLUTION[measure]
    zones_differ = measure == "share_near_end" and len({one.zone_deg for one in observed}) > 1
    shared = calibrations(x, y, measure)
    assumed = known_pair_sd(measure)
    if not within:
        assumed = wearing_sd(measure, motion, offset_sd, range_reused=shared.reused)
    difference = plain = None
    if matched.barrier is None and not zones_differ:
        if within and len(both) >= FEWEST:
            apart = [later - earlier for earlier, later in zip(values_a, values_b, strict=True)]
            plain = paired_difference(apart, resolution=resolution)
            difference = paired_difference(apart, assumed_sd=assumed, resolution=resolution)
        elif not within and separate:
            plain = separate_difference(values_a, values_b, resolution=resolution)
            difference = separate_difference(
                values_a, values_b, assumed_sd=assumed, apart_sd=shared.apart_sd, resolution=resolution
            )
    shares = (mean_a, mean_b) if measure == "share_near_end" else (0.5, 0.5)
    return Comparison(
        a=matched.a,
        b=matched.b,
        side=side,
        motion=motion,
        measure=measure,
        primary=primary,
        basis="same wearing" if within else "separate wearings",
        sessions_a=tuple(x),
        sessions_b=tuple(y),
        values_a=values_a,
        values_b=values_b,
        pairs=len(both),
        mean_a=mean_a,
        mean_b=mean_b,
        estimate=mean_b - mean_a,
        difference=difference,
        plain=plain,
        effect_size=None if difference is None else cohen_d(values_a, values_b),
        offset_sd=0.0 if within else offset_sd,
        assumed_sd=assumed,
        calibrations="" if within else shared.words,
        saturated=measures.saturated(shares),
        zones_differ=zones_differ,
        range_sources=frozenset(one.range_source for one in observed),
        effects=effects(matched.a, matched.b, x, y, playing),
        sweep=sweep(list(x.values()), list(y.values())),
        needed=None
        if zones_differ
        else _needed(measure, mean_b - mean_a, difference, within, len(both), (len(x), len(y))),
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


def _judge(cases: Sequence[Comparison], set_ups: int) -> list[Comparison]:
    """Verdicts over everything shown; a saturated share cannot show a difference: it stays in the family with p = 1."""
    questions: list[Question] = []
    asked: dict[Any, tuple[int, float]] = {}
    for index, case in enumerate(cases):
        tested, pair = case.difference, (case.a.label, case.b.label)
        p = None if tested is None else 1.0 if case.saturated else tested.p
        same_as = None
        if tested is not None and case.measure == "median_room_deg" and case.motion in MOTION:
            turned = asked.setdefault((pair, case.side, MOTION[case.motion].angle), (index, tested.mean))
            if turned[0] != index and abs(turned[1] + tested.mean) < 1e-6:  # the other end of the same joint angle
                same_as = turned[0]
        questions.append(Question(pair, case.primary, p, same_as))
    answers, sizes = judge(questions)
    unclear: dict[Any, list[str]] = {}
    for case, question, answer in zip(cases, questions, answers, strict=True):
        if case.primary and not answer.clear:
            unclear.setdefault(question.pair, []).append(wording.outcome(case))
    judged: list[Comparison] = []
    for case, question, answer in zip(cases, questions, answers, strict=True):
        verdict: Verdict = "not enough data"
        if case.testable:
            verdict = "clear difference" if answer.clear else "no clear difference"
        gate = () if case.primary or answer.opened else tuple(dict.fromkeys(unclear.get(question.pair, [])))
        judged.append(replace(case, verdict=verdict, p_holm=answer.p_holm, gate=gate, family=sizes, set_ups=set_ups))
    return judged
