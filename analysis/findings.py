"""What the analysis noticed in a session, twice over: a sentence for the person who played, and one with the numbers.

From plain data, as `exposure.json` holds it, so that screens and reports say the same. Bounds of what is plausible are
ours, no source, unless said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ..logger.models import SIDES, Session
from .end_checks import DOUBT_DEG, REPEAT_DEG
from .measures import SATURATED_ABOVE, SATURATED_BELOW
from .motions import words
from .phrases import clock, listed, purpose, whose
from .setups import SAME_THRONE_CM

Finding = dict[str, str]
"""about : kind of finding. plain : for the person who played. detail : with the numbers."""

WEAK_AXIS = 0.9
"""Share of a calibration move about one axis below which it is said."""
ANKLE_DEG = (-75.0, 45.0)
"""Ankle angles in seated playing beyond which something is wrong [deg]."""
STROKE_DEG = (2.0, 40.0)
"""Ordinary sizes of a stroke [deg]."""
SIDES_APART_DEG = 10.0
"""Dorsiflexion ends of the two feet that differ by more are measured again first [deg]."""
FEWEST_REPETITIONS = 3
MANY = 4
"""More outcomes than this are told by what they are not, if that is shorter (ours)."""


def findings(exposure: Mapping[str, Any], session: Session) -> list[Finding]:
    """Everything noticed, in the order in which it matters; empty when nothing was."""
    quality = exposure.get("quality") or {}
    setups = exposure.get("setups") or {}
    parts = (
        _slips(quality.get("slips") or []),
        _gaps(quality.get("gaps") or []),
        _limits(quality.get("limits") or []),
        _axes(quality.get("axes") or {}),
        _end_checks(quality.get("end_checks") or []),
        _repetitions(exposure.get("ranges") or {}),
        _lifts(exposure.get("playing") or {}),
        _implausible(setups, exposure.get("playing") or {}),
        _zones(setups),
        _saturated(setups),
        _seat(session),
        _short(setups, float((exposure.get("parameters") or {}).get("block_s") or 60.0)),
    )
    return [_finding(*one) for part in parts for one in part]


Parts = Iterator[tuple[str, str, str]]


def _finding(about: str, plain: str, detail: str) -> Finding:
    return {"about": about, "plain": plain, "detail": detail}


def _slips(slips: Sequence[Mapping[str, Any]]) -> Parts:
    for slip in slips:
        turn, at = slip.get("turn_deg"), slip.get("time_s")
        amount = f" by about {turn:.0f}°" if turn is not None else ""
        place = f" near {clock(at)} of the recording" if at is not None else ""
        yield (
            "slip",
            f"The clip on the {_clip(slip)} turned on the leg{amount}{place}. Nothing it shows after that is believed.",
            f"{slip.get('clip')}: turn {_number(turn)} deg at {_number(at)} s, from its mean orientation in the two "
            "seconds before and after, confirmed by still poses, its neighbour or the axis of the strokes; unknown "
            "from there on.",
        )


def _gaps(gaps: Sequence[Any]) -> Parts:
    for gap in gaps:
        if not isinstance(gap, Mapping):
            yield "gap", str(gap), str(gap)
            continue
        where = f"The clip on the {_clip(gap)} recorded nothing" if gap.get("clip") else "Nothing was recorded"
        start, end = gap.get("start_s"), gap.get("end_s")
        if start is None or end is None:
            yield "gap", f"{where} for a while.", f"{gap.get('clip')}: samples missing."
            continue
        long = end - start
        length = f"{long:.1f} s" if long < 10 else f"{long:.0f} s" if long < 120 else f"{long / 60:.0f} min"
        yield (
            "gap",
            f"{where} from {clock(start)} to {clock(end)} ({length}); nothing is filled in.",
            f"{gap.get('clip')}: no samples from {start:.2f} to {end:.2f} s; angles of its joints are missing there, "
            "and shares are of known time.",
        )


def _limits(limits: Sequence[Mapping[str, Any]]) -> Parts:
    for one in limits:
        gyroscope = one["sensor"] == "gyroscope"
        moves = "fastest" if gyroscope else "hardest"
        so = "its fastest turns look too small" if gyroscope else "it is less sure which way is down"
        yield (
            "limit",
            f"The clip on the {_clip(one)} could not measure all of your {moves} moves: {so}. "
            "Set a wider range in the clip before the next practice.",
            f"{one['clip']}: {one['sensor']} at its limit of {one['limit']:g} {one['unit']} {one['times']} times, "
            f"{100 * one['share']:.2f} % of its samples; values beyond are cut off.",
        )


def _axes(axes: Mapping[str, Any]) -> Parts:
    for name, axis in axes.items():
        share = axis.get("share_explained") if isinstance(axis, Mapping) else None
        if share is not None and share < WEAK_AXIS:
            yield (
                "axis",
                f"The axis of the {name.replace('_', ' ')} is not well determined: {100 * share:.0f} % of its motion "
                "is explained. Next time do its calibration move slowly, in one plane.",
                f"{name}: share of rotation about one axis {share:.2f} (below {WEAK_AXIS:g}), axis by "
                f"{axis.get('method')}, standard error {_number(axis.get('error_deg'))} deg.",
            )


def _end_checks(checks: Sequence[Mapping[str, Any]]) -> Parts:
    in_place = [check for check in checks if check["turn_deg"] <= REPEAT_DEG]
    if in_place:
        yield (
            "end check",
            f"At the end the clips sat as at the start: {listed([_clip(check) for check in in_place])}.",
            "Mean verticals of the last still pose against those before: "
            + ", ".join(f"{check['clip']} {check['turn_deg']:.1f} deg" for check in in_place)
            + f"; people repeat a pose to about {REPEAT_DEG:g} deg.",
        )
    for check in checks:
        turn = float(check["turn_deg"])
        if turn > REPEAT_DEG:
            so = "bands are wider by that" if turn <= DOUBT_DEG else "figures of this leg are less sure"
            yield (
                "end check",
                f"At the end the clip on the {_clip(check)} sat {turn:.0f}° differently: {so}.",
                f"{check['clip']}: mean verticals of the last still pose and those before differ by {turn:.1f} deg, "
                f"more than people repeat a pose ({REPEAT_DEG:g} deg).",
            )


def _repetitions(ranges: Mapping[str, Mapping[str, Any]]) -> Parts:
    ends: dict[str, float] = {}
    for side, by_motion in ranges.items():
        for motion, end in by_motion.items():
            if end.get("source") != "this session":
                continue
            used = sum(bool(one.get("used")) for one in end.get("repetitions") or [])
            if end.get("repetitions") and used < FEWEST_REPETITIONS:
                yield (
                    "repetitions",
                    f"The range check of {whose(side, motion)}, {purpose(motion)}, rests on {used} held "
                    f"movement{'s' * (used != 1)}; three make it surer.",
                    f"{words(side, motion)}: {used} of {len(end['repetitions'])} repetitions kept, standard error "
                    f"{_number(end.get('standard_error_deg'))} deg.",
                )
            if motion == "ankle_dorsiflexion":
                ends[side] = float(end["value_deg"])
    if len(ends) == len(SIDES) and abs(ends["right"] - ends["left"]) > SIDES_APART_DEG:
        yield (
            "range",
            f"Your feet lift {abs(ends['right'] - ends['left']):.0f}° differently in the range check. Measure again "
            "before making anything of it.",
            f"Dorsiflexion ends right {ends['right']:.1f}, left {ends['left']:.1f} deg; ordinarily under 6 deg apart, "
            f"above {SIDES_APART_DEG:g} deg a measuring error is likelier.",
        )


def _lifts(playing: Mapping[str, Any]) -> Parts:
    for setup, sides in playing.items():
        for side, figures in sides.items():
            lift = figures.get("lift_test") or {}
            made, held = len(lift.get("lifts_deg") or ()), lift.get("held") or 0
            if made and held < FEWEST_REPETITIONS:
                yield (
                    "repetitions",
                    f"In the lift test on ‘{setup}’ the {side} foot stayed up for a second {held or 'no'} "
                    f"time{'s' * (held != 1)}; three make it surer.",
                    f"{side} foot on {setup}: {held} of {made} lifts held for a second.",
                )


def _implausible(setups: Mapping[str, Any], playing: Mapping[str, Any]) -> Parts:
    for setup, sides in setups.items():
        for side in SIDES:
            figures = (sides.get(side) or {}).get("ankle_dorsiflexion")
            percentiles = (figures or {}).get("angle_percentiles_deg") or {}
            low, high = percentiles.get("10"), percentiles.get("90")
            if low is not None and high is not None and (low < ANKLE_DEG[0] or high > ANKLE_DEG[1]):
                yield (
                    "implausible",
                    f"The {side} ankle on ‘{setup}’ bends as hardly anybody's does: check which clip is where.",
                    f"{side} ankle on {setup}: 10th and 90th percentile {low:.0f} and {high:.0f} deg, outside "
                    f"{ANKLE_DEG[0]:g} to {ANKLE_DEG[1]:g} (our plausibility bound).",
                )
    for setup, sides in playing.items():
        for side, figures in sides.items():
            strokes = figures.get("strokes") or {}
            size = (strokes.get("excursion_deg") or {}).get("50")
            if size is not None and not STROKE_DEG[0] <= size <= STROKE_DEG[1]:
                yield (
                    "implausible",
                    f"Strokes of the {side} foot on ‘{setup}’ move the ankle by {size:.0f}°, which is unusual: is it "
                    "really playing?",
                    f"{side} foot on {setup}: median excursion {size:.1f} deg, outside {STROKE_DEG[0]:g} to "
                    f"{STROKE_DEG[1]:g} (our plausibility bound).",
                )
            if strokes.get("fast_is_unusual"):
                yield (
                    "implausible",
                    f"The {side} foot on ‘{setup}’ seems to play faster than nearly anyone: check the clip's fit.",
                    f"{side} foot on {setup}: a tenth of the steady intervals are shorter than at 8 a second; "
                    f"5th percentile {strokes['fast_rate_per_s']:.1f} a second.",
                )


def _zones(setups: Mapping[str, Any]) -> Parts:
    told: dict[tuple[str, str, str], list[str]] = {}
    for setup, sides in setups.items():
        for side, motions in sides.items():
            for motion, figures in motions.items():
                if figures.get("zone_flag"):
                    told.setdefault((side, motion, figures["zone_flag"]), []).append(f"‘{setup}’")
    for (side, motion, flag), names in told.items():
        yield (
            "end zone",
            f"For {whose(side, motion)}, {purpose(motion)}, time near the end says little: look at the room.",
            f"{words(side, motion)}: {flag} ({', '.join(names)}).",
        )


def _saturated(setups: Mapping[str, Any]) -> Parts:
    shares: dict[tuple[str, str], list[float]] = {}
    for sides in setups.values():
        for side, motions in sides.items():
            for motion, figures in motions.items():
                if figures.get("share_near_end") is not None:
                    shares.setdefault((side, motion), []).append(figures["share_near_end"])
    where = ", whatever the set-up" if len(setups) > 1 else ""
    above = [outcome for outcome, found in shares.items() if min(found) > SATURATED_ABOVE]
    below = [outcome for outcome, found in shares.items() if max(found) < SATURATED_BELOW]
    for found, plain, bound in (
        (above, "Nearly always near the end", f"above {100 * SATURATED_ABOVE:.0f} %"),
        (below, "Hardly ever near the end", f"below {100 * SATURATED_BELOW:.0f} %"),
    ):
        if found:
            parts = _outcomes(found, [outcome for outcome in shares if outcome not in found])
            yield (
                "saturated",
                f"{plain}{where}: {parts}. Time near the end cannot tell set-ups apart there; room can.",
                f"Share near the end {bound} on every set-up, so saturated and judged on median room: "
                f"{', '.join(words(side, motion) for side, motion in found)}.",
            )


def _outcomes(found: Sequence[tuple[str, str]], others: Sequence[tuple[str, str]]) -> str:
    """Sides and motions in words; where they are many, those they are not."""
    shorter = len(found) > MANY and len(others) < len(found)
    named = "; ".join(f"{whose(side, motion)}, {purpose(motion)}" for side, motion in (others if shorter else found))
    if not shorter:
        return named
    return f"every motion with an end zone except {named}" if others else "every motion with an end zone"


def _seat(session: Session) -> Parts:
    heights = {setup.name: setup.seat_height_cm for setup in session.setups}
    known = {name: height for name, height in heights.items() if height is not None}
    if known and max(known.values()) - min(known.values()) > SAME_THRONE_CM:
        named = ", ".join(f"‘{name}’ {height:g} cm" for name, height in known.items())
        yield (
            "throne",
            f"The throne stood at different heights ({named}): that changes the hip and the ankle by itself.",
            f"Loaded seat heights differ by more than {SAME_THRONE_CM:g} cm ({named}); such set-ups are never pooled.",
        )


def _short(setups: Mapping[str, Any], block_s: float) -> Parts:
    for setup, sides in setups.items():
        known = [one.get("known_s") for motions in sides.values() for one in motions.values()]
        long = max((float(seconds) for seconds in known if seconds is not None), default=block_s)
        if long < 0.5 * block_s:
            yield (
                "short",
                f"‘{setup}’ was played for {long:.0f} s only, as far as could be seen: too short to compare.",
                f"{setup}: at most {long:.1f} s of known playing, less than half a block of {block_s:g} s; its figures "
                "take no part in comparisons.",
            )


def _clip(entry: Mapping[str, Any]) -> str:
    return str(entry.get("clip") or "leg").replace("_", " ")


def _number(value: Any) -> str:
    return "not known" if value is None else f"{float(value):.1f}"
