"""Verdicts in plain words: what was found, what it rests on, and what to do when it is not enough.

Nothing here decides; `comparison` does. No forecast, no diagnosis: only how much room was left and how sure that is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .measures import ASSUMED_SD, MINIMAL_DETECTABLE_DEG, UNIT, WORTH_CHASING, WORTH_SEEING, saturated_at
from .observations import turns_round
from .phrases import amount, basis, between, could_be, missed, more_sessions, outcome, sessions
from .sentences import for_coach, for_drummer, for_scientist
from .setups import changes, describe_changes
from .standing import LUCK

if TYPE_CHECKING:
    from .comparison import Comparison

__all__ = ["outcome", "reason", "row"]


def row(case: Comparison) -> dict[str, Any]:
    """One row of `footroom compare --json`; strict JSON, difference is b minus a."""
    tested, plain, effects = case.difference, case.plain, case.effects
    why = reason(case)
    return {
        "setup_a": case.a.label,
        "setup_b": case.b.label,
        "side": case.side,
        "motion": case.motion,
        "measure": case.measure,
        "primary": case.primary,
        "basis": case.basis,
        "sessions_a": len(case.sessions_a),
        "sessions_b": len(case.sessions_b),
        "session_ids_a": list(case.sessions_a),
        "session_ids_b": list(case.sessions_b),
        "n_pairs": case.pairs,
        "mean_a": case.mean_a,
        "mean_b": case.mean_b,
        "values_a": list(case.values_a),
        "values_b": list(case.values_b),
        "difference": case.estimate,
        "interval": None if tested is None else list(tested.interval),
        "unit": UNIT[case.measure],
        "standard_error": None if tested is None else tested.error,
        "degrees_of_freedom": None if tested is None else tested.freedom,
        "p_value": None if tested is None else tested.p,
        "p_holm": case.p_holm,
        "family_size": case.family.first if case.primary else case.family.rest,
        "textbook_interval": None if plain is None else list(plain.interval),
        "textbook_p_value": None if plain is None else plain.p,
        "effect_size_d": case.effect_size,
        "assumed_sd": case.assumed_sd,
        "detectable": None if tested is None else tested.detectable,
        "could_be_missed": missed(case),
        "saturated": case.saturated,
        "gated": bool(case.gate) and tested is not None,
        "share_difference_by_room_deg": None if case.sweep is None else dict(case.sweep),
        "order": {"a_first": effects.a_first, "b_first": effects.b_first, "later_deg": effects.later_deg},
        "warm_up_deg": effects.warm_up_deg,
        "drift_deg": effects.drift_deg,
        "needed": None if case.verdict == "clear difference" else case.needed,
        "mixed": case.mixed,
        "unlike": list(case.unlike),
        "left_out": case.left_out,
        "barrier": case.barrier,
        "changed": {key: list(values) for key, values in changes(case.a, case.b).items()},
        "felt_a": case.felt[0].as_json(),
        "felt_b": case.felt[1].as_json(),
        "range_sources": sorted(case.range_sources),
        "verdict": case.verdict,
        "reason": why,
        "sentences": {"drummer": for_drummer(case), "coach": for_coach(case), "scientist": for_scientist(case)},
        "notes": list(case.notes),
        "weigh": [*case.notes, *_beside(case)],
    }


def reason(case: Comparison) -> str:
    """Why the verdict is what it is, with everything a reader must know to weigh it."""
    parts = [_why(case)]
    if case.barrier is None:
        parts += _offsets(case)
    if "norm" in case.range_sources:
        parts.append(
            "the end of range is a published norm, not this person's own: room and share are for orientation only"
        )
    elif len(case.range_sources) > 1:
        parts.append(f"the ends of range come from different sources ({', '.join(sorted(case.range_sources))})")
    if len(changes(case.a, case.b)) > 1:
        parts.append(f"several things differ ({describe_changes(case.a, case.b)}), so no single one explains it")
    return "; ".join((*parts, *case.notes, *_beside(case), *_luck(case))) + "."


def _offsets(case: Comparison) -> list[str]:
    """Whether the offsets of a wearing count, and how much."""
    if case.basis == "same wearing":
        return ["calibration and range are shared within each session, so their offsets cancel"]
    spread = f" (about {amount(case, 1.96 * case.offset_sd)} either way, 95 %)" if case.offset_sd else ""
    return [
        f"the clips were put on anew in between, and the offsets of a wearing{spread} do not cancel",
        case.calibrations,
    ]


def _beside(case: Comparison) -> list[str]:
    """Order, warm-up and drift large enough to be weighed; a share that turns round."""
    found, effects = [], case.effects
    worth = WORTH_CHASING["median_room_deg"]
    if case.sweep is not None and turns_round(case.sweep):
        signs = ", ".join(f"{round(100 * value):+d} points below {line} degrees" for line, value in case.sweep.items())
        found.append(f"which set-up spends more time near the end depends on where the line is drawn ({signs})")
    if case.measure != "median_room_deg":
        return found
    if effects.later_deg is not None and abs(effects.later_deg) >= worth:
        found.append(
            f"whatever was played later had {abs(effects.later_deg):.1f} degrees "
            f"{'more' if effects.later_deg > 0 else 'less'} room, whichever set-up it was: warming up or tiring"
        )
    if effects.warm_up_deg is not None and abs(effects.warm_up_deg) >= worth:
        found.append(f"from the first to the last block on a set-up room changed by {effects.warm_up_deg:+.1f} degrees")
    if effects.drift_deg is not None and abs(effects.drift_deg) >= worth:
        found.append(
            f"on the set-up returned to at the end room had drifted by {effects.drift_deg:+.1f} degrees "
            f"({sessions(effects.returns)}), which has nothing to do with the set-up"
        )
    return found


def _luck(case: Comparison) -> list[str]:
    """The winner's curse."""
    found = []
    if case.measure == "median_room_deg" and case.verdict == "clear difference" and case.set_ups > 2:
        found.append(f"with {case.set_ups} set-ups compared, {LUCK}")
    return found


def _why(case: Comparison) -> str:
    if case.barrier is not None:
        return f"not compared, because {case.barrier}; that is done only when asked for"
    if case.zones_differ:
        return "the end zones differ between sessions: run `footroom analyze --force` so that all use the same one"
    tested = case.difference
    if tested is None:
        return _too_few(case)
    count = basis(case)
    low, high = tested.interval
    could = f"{could_be(case)} could have been missed"
    if case.saturated:
        return (
            f"the share is {saturated_at(case.mean_a)} on both set-ups, where it can show no difference: judge on "
            f"median room ({count}); {could}"
        )
    apart = low > 0.0 or high < 0.0
    span = between(case, low, high)
    if case.verdict == "clear difference":
        family = "the questions asked first" if case.primary else "everything else shown"
        whose = case.family.first_by if case.primary else "Holm"
        return f"{count}; 95 % interval {span}, and it holds after {whose}'s correction over {family}{_size(case)}"
    if case.gate:
        asked = ", ".join(case.gate)
        stricter = " even though this interval alone excludes zero" if apart else ""
        return (
            f"{count}; 95 % interval {span}; not judged by itself{stricter}, because the question asked first "
            f"({asked}) shows no clear difference; {could}"
        )
    if apart:
        return (
            f"{count}; the 95 % interval {span} alone excludes zero, but with the number of questions asked "
            f"({case.family.first_by if case.primary else 'Holm'}) that is not enough; {could}{_more(case)}"
        )
    return f"{count}; the 95 % interval {span} includes zero; {could}{_more(case)}"


def _too_few(case: Comparison) -> str:
    if case.basis == "same wearing":
        have = f"{sessions(case.pairs)} with both set-ups, and three are the least"
    else:
        have = (
            f"{sessions(len(case.sessions_a))} on {case.a.label} and {sessions(len(case.sessions_b))} on "
            f"{case.b.label}, none with both, and three a side are the least"
        )
    if case.needed is None:
        return f"{have}; more sessions with both set-ups in one wearing are needed"
    least = amount(case, max(abs(case.estimate), WORTH_SEEING[case.measure]))
    return (
        f"{have}; roughly {more_sessions(case.needed)} with both set-ups in one wearing would show a difference of "
        f"{least}, if sessions differ by about {amount(case, ASSUMED_SD[case.measure])}"
    )


def _more(case: Comparison) -> str:
    if case.needed is None:
        return ""
    return (
        f"; if the difference is what it looks like, roughly {more_sessions(case.needed)} with both set-ups in one "
        "wearing would show it"
    )


def _size(case: Comparison) -> str:
    """The minimal detectable change words the size of a difference; it does not decide."""
    if case.measure != "median_room_deg":
        return ""
    change = MINIMAL_DETECTABLE_DEG.get(case.motion, 5.0)
    return f"; for its size: the minimal detectable change between two wearings is about {change:g} degrees"
