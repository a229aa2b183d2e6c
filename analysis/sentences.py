"""The finding in one sentence each for the drummer, the coach and the scientist.

Read without its numbers, each still says what was found and how sure it is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .phrases import amount, basis, could_be, listed, more_sessions, outcome, percent, purpose, signed, whose
from .setups import asks_about, changes, describe_changes, moved

if TYPE_CHECKING:
    from .comparison import Comparison


def for_drummer(case: Comparison) -> str:
    """One plain sentence to the person who played."""
    a, b = case.a, case.b
    who, room = whose(case.side, case.motion), case.measure == "median_room_deg"
    if case.barrier is not None:
        return (
            f"‘{a.label}’ and ‘{b.label}’ were not compared for {who}: {case.barrier}, which may matter as much as the "
            "set-up."
        )
    if case.zones_differ:
        return (
            f"‘{a.label}’ and ‘{b.label}’ were not compared for how long {who} was near the end of its range: the line "
            "for that was drawn in different places; `footroom analyze --force` draws it in one."
        )
    doubt = _norm(case, "your own")
    if case.verdict == "not enough data":
        more = "" if case.needed is None else f"; about {more_sessions(case.needed)} with both should do"
        what = f"whether ‘{a.label}’ or ‘{b.label}’ leaves {who} more room for {purpose(case.motion)}"
        if not room:
            what = f"whether {who} is near the end of its range for longer with ‘{a.label}’ or with ‘{b.label}’"
        return f"Not enough data yet to say {what}{more}{doubt}."
    doubt = f"{_unlike(case)}{doubt}"
    if case.verdict == "no clear difference":
        what = f"the room {who} kept for {purpose(case.motion)}"
        if not room:
            what = f"how long {who} was near the end of its range"
        more = "" if case.needed is None else f"; about {more_sessions(case.needed)} with both should tell"
        return (
            f"No clear difference between ‘{a.label}’ and ‘{b.label}’ in {what}; {could_be(case)} may have been missed"
            f"{more}{doubt}."
        )
    if not room:
        return (
            f"Near the end of its range {who} spent {percent(case.mean_b)} of playing time with ‘{b.label}’ and "
            f"{percent(case.mean_a)} with ‘{a.label}’: a clear difference{doubt}."
        )
    more, less = (b, a) if case.estimate > 0 else (a, b)
    how = moved(less, more)
    start = f"With {how} (‘{more.label}’)" if how else f"With ‘{more.label}’"
    return (
        f"{start} {who} kept {amount(case, case.estimate)} more room for {purpose(case.motion)} than with "
        f"‘{less.label}’: a clear difference{_agreement(case)}{doubt}."
    )


def for_coach(case: Comparison) -> str:
    """What was found, what it rests on, and what would make it clearer."""
    what = outcome(case)
    change = describe_changes(case.a, case.b)
    start = f"{what[0].upper()}{what[1:]}, {case.b.label} against {case.a.label}" + (f" ({change})" if change else "")
    if case.barrier is not None:
        return f"{start}: not compared, because {case.barrier}; match them, or ask to compare them all the same."
    if case.difference is None:
        why = "not compared, as end zones differ" if case.zones_differ else "not enough data for a verdict"
        found = f"{why} (so far {_told(case)})"
    elif case.verdict == "clear difference":
        low, high = sorted(abs(limit) for limit in case.difference.interval)
        found = f"{_told(case)}, a clear difference (likely between {_figure(case, low)} and {_figure(case, high)})"
    else:
        found = f"no clear difference ({_told(case)} as measured; {could_be(case)} could have been missed)"
    sat = "so it does not matter how the clips sat"
    if case.basis != "same wearing":
        sat = f"with the clips put on anew in between, which adds to the doubt ({case.calibrations})"
    weigh = f"; weigh that {', and that '.join(case.notes)}" if case.notes else ""
    return f"{start}: {found}{_norm(case, 'their own')}; it rests on {basis(case)}, {sat}{weigh}; {_clearer(case)}."


def for_scientist(case: Comparison) -> str:
    """Estimate, interval, method, assumptions, n."""
    what = "median room [deg]" if case.measure == "median_room_deg" else "share of playing time near the end"
    digits = 2 if case.measure == "median_room_deg" else 3
    start = (
        f"{what}, {case.side} {case.motion}, {case.b.label} minus {case.a.label} "
        f"({_asked(case)}): {case.estimate:+.{digits}f}"
    )
    tested, plain = case.difference, case.plain
    n = f"{case.pairs} {'pair' if case.pairs == 1 else 'pairs'}" if case.basis == "same wearing" else (
        f"{len(case.sessions_a)} and {len(case.sessions_b)}"
    )  # fmt: skip
    ends = f"active end: {', '.join(sorted(case.range_sources))}"
    if tested is None or plain is None:
        why = case.barrier or ("end zones differ" if case.zones_differ else "fewer than three pairs or three a side")
        return f"{start}, no interval ({why}); session means, n = {n}; {ends}; not enough data."
    method = "paired t" if case.basis == "same wearing" else "Welch t"
    assumed = ""
    if case.assumed_sd > 0:
        assumed = (
            f", an SD of about {case.assumed_sd:.{digits - 1}f} assumed beforehand counting as one session more "
            f"(without it {plain.interval[0]:+.{digits}f} to {plain.interval[1]:+.{digits}f}, p {_p(plain.p)})"
        )
    holm = "not tested on its own, as the primary shows nothing clear" if case.p_holm is None else (
        f"{case.family.first_by if case.primary else 'Holm'} over "
        f"{case.family.first if case.primary else case.family.rest} p {_p(case.p_holm)}"
    )  # fmt: skip
    size = "" if case.effect_size is None else f", d = {case.effect_size:+.2f}"
    power = ""
    if case.verdict == "no clear difference":
        power = f" (80 % power, uncorrected, from {tested.detectable:.{digits}f}; less may have been missed)"
    pooled = f"; not alike: {listed(case.unlike)}" if case.unlike else ""
    return (
        f"{start}, 95 % CI {tested.interval[0]:+.{digits}f} to {tested.interval[1]:+.{digits}f} (SE "
        f"{tested.error:.{digits}f}, {tested.freedom:.1f} df, p {_p(tested.p)}, {holm}{size}); {method} on session "
        f"means of equal blocks, n = {n}{assumed}; sessions taken as independent and roughly normal, {_offsets(case)}; "
        f"{ends}{pooled}; {case.verdict}{power}."
    )


def _asked(case: Comparison) -> str:
    if not case.primary:
        return "secondary"
    if not asks_about(case.a, case.b, (case.side, case.motion)):
        return "primary, in place of what the geometry asks about"
    return "primary, set by the geometry beforehand"


def _told(case: Comparison) -> str:
    if case.measure != "median_room_deg":
        return f"{signed(case, case.estimate)} of time near the end"
    return f"{amount(case, case.estimate)} {'more' if case.estimate >= 0 else 'less'} room"


def _figure(case: Comparison, value: float) -> str:
    return f"{value:.1f}" if case.measure == "median_room_deg" else f"{100 * value:.0f} points"


def _offsets(case: Comparison) -> str:
    if case.basis == "same wearing":
        return "offsets of a wearing cancel"
    return "offsets of separate wearings do not cancel" + (f" ({case.calibrations})" if case.calibrations else "")


def _clearer(case: Comparison) -> str:
    """The next step that would make it clearer."""
    if case.zones_differ:
        return "`footroom analyze --force`, so that all use the same end zone, would make it clearer"
    if "norm" in case.range_sources:
        return "a range check of the person's own would make it clearer"
    if case.unlike:
        return f"the same {listed(case.unlike)} on both would make it clearer"
    if case.verdict == "clear difference" and len(changes(case.a, case.b)) > 1:
        return "moving one thing at a time would tell which of them made it"
    first, second = case.effects.a_first, case.effects.b_first
    if case.verdict != "clear difference" and case.needed is not None:
        return f"about {more_sessions(case.needed)} with both set-ups in one wearing would make it clearer"
    if first + second >= 2 and not (first and second):
        return "playing them in the other order as well would make it clearer"
    if case.basis == "separate wearings":
        return "wearing both set-ups in one session would make it clearer"
    if case.verdict == "clear difference":
        return "one more session, nothing else changed, would make its size clearer: found differences tend to shrink"
    return "so small a difference is hardly worth more sessions"


def _agreement(case: Comparison) -> str:
    if case.basis != "same wearing":
        return f", over {len(case.sessions_a)} and {len(case.sessions_b)} separate sessions"
    same = sum((y - x) * case.estimate > 0 for x, y in zip(case.values_a, case.values_b, strict=True))
    agreeing = f"all {case.pairs}" if same == case.pairs else f"{same} of {case.pairs}"
    return f", seen in {agreeing} sessions"


def _unlike(case: Comparison) -> str:
    """What else was not alike, so that the set-up alone does not explain a difference (or the lack of one)."""
    return f"; but {listed(case.unlike)} differed, too" if case.unlike else ""


def _norm(case: Comparison, own: str) -> str:
    if "norm" not in case.range_sources:
        return ""
    return f"; measured against a published norm instead of {own} range, so for orientation only"


def _p(p: float) -> str:
    return "< 0.001" if p < 0.001 else f"= {p:.3f}"
