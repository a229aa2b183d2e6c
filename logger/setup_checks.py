"""Is a set-up's geometry plausible, and if not, what slipped? Bounds are ours, from memory or the trade's common sizes.

Two levels: what cannot be is refused (nothing is stored), what is unusual is said. Inches typed as centimetres are the
usual slip, and are looked for first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .errors import InputError
from .models import SIDES, Participant, Setup

INCH_CM = 2.54
ACCEPT: dict[str, tuple[float, float, str]] = {
    "throne_height_cm": (35, 75, "throne height"),
    "seat_unloaded_cm": (35, 80, "unloaded seat height"),
    "reach_cm": (20, 90, "reach"),
    "spacing_cm": (30, 90, "spacing"),
    "footboard_pitch_deg": (0, 40, "footboard pitch"),
    "footboard_length_cm": (20, 40, "footboard length"),
    "snare_diameter_in": (10, 15, "snare diameter"),
    "snare_rim_cm": (50, 95, "height of the snare's rim"),
    "stand_spread_cm": (20, 60, "spread of the stand"),
    "shoe_heel_cm": (0, 8, "sole under the heel"),
    "shoe_drop_mm": (-5, 40, "drop of the shoe"),
}
"""Accepted values, our plausibility bounds, no source: (low, high, words)."""
LEG_SHARE = {"thigh_length_cm": (0.245, "thigh"), "shank_length_cm": (0.246, "shank")}
"""Shares of stature (Drillis & Contini 1966, as in Winter 2009, Fig 4.1)."""
LEG_OFF = 0.22
"""A measured length this far (as a share) from what stature says contradicts it (ours: 5 to 6 SD in ANSUR II)."""
OUTER_HIP_CM = 26.0
"""Hip joint centres farther apart than this are rather the outer breadth (ours: they lie 16 to 20 cm apart)."""
THIGH_SLOPE_DEG = (-30.0, 10.0)
"""Usual slopes of a sitting thigh, knee above hip positive [deg] (our plausibility bound, no source)."""
SQUARE_DEG = 90.0
"""Trunk to thigh in sitting is at least this [deg] (ISO 11064-4, workstations, second-hand: NUREG-0700)."""
TRUNK_LEANS_DEG = 35.0
"""A trunk that would lean more than this on its throne was not measured with the thigh [deg] (ours)."""
SEAT_BELOW_KNEE_CM, SEAT_ABOVE_KNEE_CM = 30.0, 35.0
"""A loaded seat this far from the knee crease cannot be played on (ours)."""
ANSUR_POPLITEAL = ((0.3056, -10.70, 1.33), (0.2962, -9.41, 1.40))
"""Popliteal height [cm] = slope * stature [cm] + intercept, residual SD [cm]; men, women; ANSUR II (US Army 2012), bare
feet."""


@dataclass(frozen=True)
class Finding:
    """refuse : it cannot be. sentence : what, and the likely slip or remedy. key : what to look at, where it is one.

    outside : only beyond our bounds, with no slip that would explain it; a recording made there is still worth keeping.
    """

    refuse: bool
    sentence: str
    key: str | None = None
    outside: bool = False


def popliteal_height_cm(stature_cm: float) -> tuple[float, float]:
    """Height of the knee crease above the floor, bare feet: mean of men and women, and its spread (SD) [cm].

    ANSUR II regressions on stature; the spread holds the residual of either and the gap between them.
    """
    (m, m0, s_m), (f, f0, s_f) = ANSUR_POPLITEAL
    men, women = m * stature_cm + m0, f * stature_cm + f0
    return (men + women) / 2.0, ((s_m**2 + s_f**2) / 2.0 + ((men - women) / 2.0) ** 2) ** 0.5


def setup_findings(person: Participant, setup: Setup) -> list[Finding]:
    """Everything about a set-up and the lengths of its person that cannot be or is unusual, the worst first."""
    found = [*_lengths(person), *_bounds(setup), *_seat(person, setup), *_trunk(setup), *_pieces(setup)]
    return sorted(found, key=lambda finding: not finding.refuse)


def person_findings(person: Participant) -> list[Finding]:
    """What cannot be about the lengths of a person alone."""
    return list(_lengths(person))


def check_setup(person: Participant, setup: Setup) -> list[str]:
    """What is unusual, as sentences. Raises InputError for the first thing that cannot be."""
    found = setup_findings(person, setup)
    for finding in found:
        if finding.refuse:
            raise InputError(finding.sentence)
    return [finding.sentence for finding in found]


def _lengths(person: Participant) -> Iterator[Finding]:
    thigh, shank = person.thigh_length_cm, person.shank_length_cm
    if thigh is not None and shank is not None and not 0.8 <= thigh / shank <= 1.3:
        yield Finding(
            True,
            f"a thigh of {thigh:g} cm and a shank of {shank:g} cm do not belong to one leg; measure both again, from "
            "the hip centre to the knee's crease line and from there to the outer ankle bone.",
        )
    if person.hip_width_cm is not None and person.hip_width_cm > OUTER_HIP_CM:
        yield Finding(
            False,
            f"hip_width_cm = {person.hip_width_cm:g} looks like the outer breadth; between the hip joint centres it is "
            f"about half of that, {person.hip_width_cm / 2:g} cm.",
            "hip_width_cm",
        )
    stature = person.stature_cm
    if stature is None:
        return
    for key, (share, words) in LEG_SHARE.items():
        value = getattr(person, key)
        if value is None:
            continue
        expected = share * stature
        if abs(value - expected) > LEG_OFF * expected:
            yield Finding(
                True,
                f"{key} = {value:g} does not fit stature_cm = {stature:g}: the {words} would be about {expected:.0f} cm"
                f"{_inches(key, value, 0.78 * expected, 1.22 * expected)}; measure both again.",
                key,
            )


def _bounds(setup: Setup) -> Iterator[Finding]:
    for key, (low, high, words) in ACCEPT.items():
        seen: set[float] = set()
        for side in (None, *SIDES):
            value = getattr(setup, key, None) if side is None else setup.of_foot(side, key)
            if value is None or value in seen:
                continue
            seen.add(value)
            if not low <= value <= high:
                whose = "" if side is None else f" of the {side} foot"
                unit = {"cm": "cm", "deg": "deg", "in": "in", "mm": "mm"}[key.rsplit("_", 1)[1]]
                slip = _inches(key, value, low, high)
                yield Finding(
                    True,
                    f"set-up {setup.name!r}: a {words}{whose} of {value:g} {unit} is outside {low:g} to {high:g}"
                    f"{slip or '; measure again'}.",
                    key,
                    outside=not slip,
                )


def _inches(key: str, value: float, low: float, high: float) -> str:
    """`; if it was measured in inches, write ...` where that would make sense."""
    if key.endswith("_cm") and low <= value * INCH_CM <= high:
        return f"; if it was measured in inches, write {key} = {value * INCH_CM:.1f}"
    if key.endswith("_in") and low <= value / INCH_CM <= high:
        return f"; if it was measured in cm, write {key} = {value / INCH_CM:.1f}"
    return ""


def _seat(person: Participant, setup: Setup) -> Iterator[Finding]:
    height, unloaded = setup.seat_height_cm, setup.seat_unloaded_cm
    if height is None:
        return
    name = f"set-up {setup.name!r}"
    if unloaded is not None and unloaded < height:
        yield Finding(
            True,
            f"{name}: the loaded seat ({height:g} cm) cannot be higher than the unloaded one ({unloaded:g} cm); swap "
            "them, or measure again.",
        )
    if person.stature_cm is None:
        return
    crease, sd = popliteal_height_cm(person.stature_cm)
    below = crease - height
    if below > SEAT_BELOW_KNEE_CM or -below > SEAT_ABOVE_KNEE_CM:
        way = "below" if below > 0 else "above"
        yield Finding(
            True,
            f"{name}: a seat of {height:g} cm lies {abs(below):.0f} cm {way} the knee crease of somebody "
            f"{person.stature_cm:g} cm tall (about {crease:.0f} cm); measure the loaded height from the floor, in cm"
            f"{_inches('throne_height_cm', height, crease - 10, crease + 25)}.",
            "throne_height_cm",
        )
    elif below > 6 + 2 * sd:
        yield Finding(
            False,
            f"{name}: the seat lies about {below:.0f} cm below the knee crease, so the knees stand above the hips; a "
            "higher throne opens the hips.",
        )


def _trunk(setup: Setup) -> Iterator[Finding]:
    slope, square = setup.thigh_slope_deg, setup.torso_thigh_deg
    name = f"set-up {setup.name!r}"
    low, high = THIGH_SLOPE_DEG
    if slope is not None and not low <= slope <= high:
        yield Finding(
            False,
            f"{name}: a thigh slope of {slope:g} deg is unusual ({low:g} to {high:g}); is the sign right? The knee "
            "below the hip is negative.",
            "thigh_slope_deg",
        )
    if square is None:
        return
    if slope is not None and abs(lean := SQUARE_DEG - slope - square) > TRUNK_LEANS_DEG:
        way = "forward" if lean > 0 else "back"
        yield Finding(
            True,
            f"{name}: with a thigh slope of {slope:g} and {square:g} deg between trunk and thigh the trunk would lean "
            f"{abs(lean):.0f} deg {way}; measure both again, the knee below the hip is a negative slope.",
            "torso_thigh_deg",
        )
    elif square < SQUARE_DEG:
        yield Finding(
            False,
            f"{name}: {square:g} deg between trunk and thigh is less than square; a higher throne opens the hips.",
            "torso_thigh_deg",
        )


def _pieces(setup: Setup) -> Iterator[Finding]:
    name = f"set-up {setup.name!r}"
    rim, seat = setup.snare_rim_cm, setup.seat_height_cm
    if rim is not None and seat is not None and rim < seat:
        yield Finding(
            False,
            f"{name}: the snare's rim ({rim:g} cm) lies below the seat ({seat:g} cm): is it measured from the floor?",
        )
    for thing in setup.keep_clear:
        if thing.top_cm <= thing.bottom_cm:
            yield Finding(
                True,
                f"{name}: {thing.name!r} has its top ({thing.top_cm:g} cm) below its bottom ({thing.bottom_cm:g} cm); "
                "swap them.",
            )
    known = [setup.snare_diameter_in, setup.snare_forward_cm, setup.snare_rim_cm]
    if any(v is not None for v in known[1:]) and any(v is None for v in known):
        yield Finding(
            False,
            f"{name}: legs are kept clear of the snare only when snare_diameter_in, snare_forward_cm and snare_rim_cm "
            "are all known.",
        )
