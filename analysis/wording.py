"""Verdicts in plain words: what was found, what it rests on, and what to do when it is not enough.

Nothing here decides; `comparison` does. No forecast, no diagnosis: only how much room was left and how sure that is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .measures import ASSUMED_SD, MINIMAL_DETECTABLE_DEG, UNIT, WORTH_SEEING
from .motions import words
from .setups import changes, describe_changes

if TYPE_CHECKING:
    from .comparison import Comparison


def row(case: Comparison) -> dict[str, Any]:
    """One row of `footroom compare --json`; strict JSON, difference is b minus a."""
    tested = case.difference
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
        "difference": case.estimate,
        "interval": None if tested is None else list(tested.interval),
        "unit": UNIT[case.measure],
        "p_value": None if tested is None else tested.p,
        "p_holm": case.p_holm,
        "detectable": None if tested is None else tested.detectable,
        "saturated": case.saturated,
        "needed": None if case.verdict == "clear difference" else case.needed,
        "changed": {key: list(values) for key, values in changes(case.a, case.b).items()},
        "range_sources": sorted(case.range_sources),
        "verdict": case.verdict,
        "reason": reason(case),
        "sentence": sentence(case),
        "notes": list(case.notes),
    }


def outcome(case: Comparison) -> str:
    """`right ankle dorsiflexion`."""
    return words(case.side, case.motion)


def sentence(case: Comparison) -> str:
    """The finding in one plain sentence."""
    what = outcome(case)
    what = what[0].upper() + what[1:]
    a, b = case.a.label, case.b.label
    if case.verdict == "not enough data":
        return f"{what}: not enough data yet to compare {b} with {a}."
    if case.verdict == "no clear difference":
        return f"{what}: no clear difference between {a} and {b}{_measured(case)}."
    if case.measure == "median_room_deg":
        more = "more" if case.estimate > 0 else "less"
        interval = case.difference.interval if case.difference else (case.estimate, case.estimate)
        low, high = sorted(abs(limit) for limit in interval)
        return (
            f"{what}: {b} leaves {abs(case.estimate):.1f} degrees {more} room than {a} "
            f"(95 % interval {low:.1f} to {high:.1f}); clear difference."
        )
    return (
        f"{what}: {_percent(case.mean_a)} of playing time near the end on {a}, {_percent(case.mean_b)} on {b}; "
        "clear difference."
    )


def reason(case: Comparison) -> str:
    """Why the verdict is what it is, with everything a reader must know to weigh it."""
    parts = [_why(case)]
    if case.basis == "separate wearings":
        spread = f" (about {_amount(case, 1.96 * case.offset_sd)} either way, 95 %)" if case.offset_sd else ""
        parts.append(f"the clips were put on anew in between, and the offsets of a wearing{spread} do not cancel")
    if "norm" in case.range_sources:
        parts.append(
            "the end of range is a published norm, not this person's own: room and share are for orientation only"
        )
    elif len(case.range_sources) > 1:
        parts.append(f"the ends of range come from different sources ({', '.join(sorted(case.range_sources))})")
    if len(changes(case.a, case.b)) > 1:
        parts.append(f"several things differ ({describe_changes(case.a, case.b)}), so no single one explains it")
    return "; ".join((*parts, *case.notes)) + "."


def _why(case: Comparison) -> str:
    if case.zones_differ:
        return "the end zones differ between sessions: run `footroom analyze --force` so that all use the same one"
    tested = case.difference
    if tested is None:
        return _too_few(case)
    count = _count(case)
    if case.saturated:
        level = "above 95 %" if case.mean_a > 0.5 else "below 1 %"
        return f"the share is {level} on both set-ups, where it can show no difference: judge on median room ({count})"
    low, high = tested.interval
    apart = low > 0.0 or high < 0.0
    between = _between(case, low, high)
    if case.verdict == "clear difference":
        family = "the questions asked first" if case.primary else "everything else shown"
        return f"{count}; 95 % interval {between}, and it holds after Holm's correction over {family}{_size(case)}"
    missed = f"a true difference below about {_amount(case, tested.detectable)} could have been missed"
    if case.gate:
        asked = ", ".join(case.gate)
        stricter = " even though this interval alone excludes zero" if apart else ""
        return (
            f"{count}; 95 % interval {between}; not judged by itself{stricter}, because the question asked first "
            f"({asked}) shows no clear difference; {missed}"
        )
    if apart:
        return (
            f"{count}; the 95 % interval {between} alone excludes zero, but with the number of questions asked "
            f"(Holm) that is not enough; {missed}{_more(case)}"
        )
    return f"{count}; the 95 % interval {between} includes zero; {missed}{_more(case)}"


def _too_few(case: Comparison) -> str:
    if case.basis == "same wearing":
        have = f"{_sessions(case.pairs)} with both set-ups, and three are the least"
    else:
        have = (
            f"{_sessions(len(case.sessions_a))} on {case.a.label} and {_sessions(len(case.sessions_b))} on "
            f"{case.b.label}, none with both, and three a side are the least"
        )
    return f"{have}; {_settle(case)}"


def _settle(case: Comparison) -> str:
    if case.needed is None:
        return "more sessions with both set-ups in one wearing are needed"
    return (
        f"roughly {case.needed} more {'session' if case.needed == 1 else 'sessions'} with both set-ups in one wearing "
        f"would show a difference of {_least(case)}, if sessions differ by about {_assumed(case)}"
    )


def _least(case: Comparison) -> str:
    return _amount(case, max(abs(case.estimate), WORTH_SEEING[case.measure]))


def _assumed(case: Comparison) -> str:
    return _amount(case, ASSUMED_SD[case.measure])


def _more(case: Comparison) -> str:
    if case.needed is None:
        return ""
    return (
        f"; if the difference is what it looks like, roughly {case.needed} more "
        f"{'session' if case.needed == 1 else 'sessions'} with both set-ups in one wearing would show it"
    )


def _measured(case: Comparison) -> str:
    if case.measure == "median_room_deg":
        return f" in median room ({_signed(case, case.estimate)})"
    return f" in the share of playing time near the end ({_percent(case.mean_a)} and {_percent(case.mean_b)})"


def _count(case: Comparison) -> str:
    if case.basis == "same wearing":
        return f"{_sessions(case.pairs)} with both set-ups in one wearing"
    return f"{_sessions(len(case.sessions_a))} on {case.a.label} and {len(case.sessions_b)} on {case.b.label}"


def _sessions(count: int) -> str:
    return "no session" if count == 0 else "1 session" if count == 1 else f"{count} sessions"


def _amount(case: Comparison, value: float) -> str:
    return (
        f"{abs(value):.1f} degrees" if case.measure == "median_room_deg" else f"{100 * abs(value):.0f} points of share"
    )


def _signed(case: Comparison, value: float) -> str:
    if case.measure == "median_room_deg":
        return f"{value:+.1f} degrees"
    return f"{100 * value:+.1f} points"


def _between(case: Comparison, low: float, high: float) -> str:
    if case.measure == "median_room_deg":
        return f"{low:+.1f} to {high:+.1f} degrees"
    return f"{100 * low:+.1f} to {100 * high:+.1f} points"


def _size(case: Comparison) -> str:
    """The minimal detectable change words the size of a difference; it does not decide."""
    if case.measure != "median_room_deg":
        return ""
    change = MINIMAL_DETECTABLE_DEG.get(case.motion, 5.0)
    return f"; for its size: the minimal detectable change between two wearings is about {change:g} degrees"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 or share == 0.0 else "under 1 %"
