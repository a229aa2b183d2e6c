"""The numbers of the Placement page: rooms, what each knob does, how predictions came true, what all that rests on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from ...analysis.fit import KNOBS
from ...logger.models import SIDES
from ..fittings import Known
from ..wording import NBSP, counted, degree_span, degrees, motion_title, number, percent, sentence
from .shell import table

END_WORDS = {"range check": "range check", "measured by hand": "by hand", "norm": "published norm"}
ROOM_LEARNED = (
    "Room here is the median while playing, as the measured sessions taught the model; for half of the playing time "
    "less is left. What was never measured is reckoned at the tightest moment of a stroke."
)
ROOM_OF_THE_MODEL = "Room here is the model's alone, at the tightest moment of a stroke."


def rooms_section(report: Mapping[str, Any]) -> html.Section:
    """Room of every joint where it stands, as expected and as measured, and which end it is held against."""
    rows = []
    for side, motions in report["room_deg"].items():
        for motion, room in motions.items():
            end = report["ends"][side][motion]
            seen = report["measured_room_deg"].get(side, {}).get(motion)
            off = report["room_plus_minus_deg"][side][motion]
            expected = degrees(room) if off is None else f"{number(room)}{NBSP}±{NBSP}{degrees(off)}"
            zone = "in the end zone" if room is not None and room < end["zone_deg"] else ""
            other = ", other throne height" if end["other_height"] else ""
            rows.append(
                [
                    motion_title(side, motion),
                    f"{degrees(end['deg'], 0)} ({END_WORDS.get(end['source'], end['source'])}{other})",
                    html.Span([expected, html.Strong(f" {zone}")]) if zone else expected,
                    "not measured here" if seen is None else degrees(seen),
                ]
            )
    head = ["Joint", "End of range", "Room expected (95 %)", "Room measured"]
    which = ROOM_LEARNED if report["learned"]["sessions"] else ROOM_OF_THE_MODEL
    note = f"Degrees left before the end of the person's own active range. {which}"
    return html.Section([html.H2("Room where it stands"), table(note, head, rows), _predicted(report["predicted"])])


PREDICTED = {
    "hip_flexion": "Hip flexion",
    "hip_horizontal_abduction": "Hip, knee outward",
    "hip_rotation": "Hip rotation, inward positive",
    "knee_flexion": "Knee flexion",
    "ankle_dorsiflexion": "Ankle, toes up",
    "thigh_slope": "Thigh slope, knee up positive",
    "torso_thigh": "Trunk to thigh",
    "side_tilt": "Side tilt of the shank, outward positive",
}


def _predicted(angles: Mapping[str, Any]) -> html.Details:
    """The model's own angles, before sessions corrected them: at rest on the board and at the beater's contact."""
    head = ["Angle", *(f"{sentence(side)}, {moment}" for side, moments in angles.items() for moment in moments)]
    rows = [
        [words, *(degrees(at[name]) for moments in angles.values() for at in moments.values())]
        for name, words in PREDICTED.items()
    ]
    note = "By the model alone, with the tape measures; contact: the beater on its head."
    return html.Details(
        [html.Summary("Every angle, at rest and over a stroke"), table(note, head, rows)],
        className="rests screen-only",
    )


def sensitivity_section(report: Mapping[str, Any]) -> html.Section:
    """What one unit more of every knob does to every joint."""
    knobs = list(report["sensitivity"])
    head = ["Joint", *(f"{sentence(KNOBS[knob].words)}, 1{NBSP}{KNOBS[knob].unit} more" for knob in knobs)]
    rows = [
        [motion_title(side, motion), *(_signed(report["sensitivity"][knob][side][motion]) for knob in knobs)]
        for side, motions in report["room_deg"].items()
        for motion in motions
    ]
    words = "Degrees of room gained (+) or lost (−) by each joint."
    strongest = [html.Li(line) for knob in knobs if (line := _strongest(report["sensitivity"][knob], knob))]
    every = html.Details([html.Summary("Every knob and joint"), table(words, head, rows)], className="rests")
    return html.Section([html.H2("What each knob does"), html.Ul(strongest), every])


def _strongest(effect: Mapping[str, Any], knob: str) -> str | None:
    """The joints a knob moves most, in words; None for one that hardly moves any."""
    known = [
        (value, side, motion) for side in SIDES for motion, value in effect.get(side, {}).items() if value is not None
    ]
    moved = sorted((one for one in known if abs(one[0]) >= 0.3), key=lambda one: -abs(one[0]))[:3]
    if not moved:
        return None
    gains = ", ".join(f"{motion_title(side, motion).lower()} {_signed(value)}" for value, side, motion in moved)
    return f"{sentence(KNOBS[knob].words)}, 1{NBSP}{KNOBS[knob].unit} {KNOBS[knob].ups}: {gains}"


def _signed(value: float | None) -> str:
    if value is None:
        return "–"
    return ("+" if value > 0.05 else "") + degrees(value)


def learned_section(report: Mapping[str, Any]) -> html.Section:
    """How far off earlier predictions were, one by one when asked for."""
    score = report["learned"]["score"]
    count = report["learned"]["sessions"]
    told: list[Any] = [html.H2("How well it predicted so far")]
    if score["rmse_deg"] is None:
        told.append(
            html.P(
                f"Learned from {counted(count, 'measured session')}; a prediction can be scored from the second one "
                "on. Until then the ± is wide: measure, do not believe."
            )
        )
        return html.Section(told)
    told.append(
        html.P(
            f"{score['predictions']} predictions of later sessions from those before them were off by "
            f"{degrees(score['rmse_deg'])} (root mean square; the model alone: "
            f"{degrees(score['model_alone_rmse_deg'])}); {percent(score['share_in_90_interval'])} lay in their "
            f"90{NBSP}% interval."
        )
    )
    rows = [
        [
            f"{one['session']}, {one['setup']}",
            motion_title(one["side"], one["motion"]),
            f"{degrees(one['predicted_room_deg'])} ({degree_span(one['interval_room_deg'])})",
            degrees(one["measured_room_deg"]),
            degrees(None if one["off_by_deg"] is None else -one["off_by_deg"]),
        ]
        for one in score["of"]
        if one["predicted_room_deg"] is not None
    ]
    head = ["Session and set-up", "Joint", "Room predicted (90 %)", "Measured", "Off by"]
    listed = table("Predicted from earlier sessions only.", head, rows)
    told.append(html.Details([html.Summary(f"The {len(rows)} predictions"), listed], className="rests"))
    return html.Section(told)


def rests_on(report: Mapping[str, Any], known: Known) -> html.Section:
    """What was assumed and left out."""
    items = [sentence(f"{note}.") for note in report["notes"]]
    if report["way"] == "heel-up":
        items.append("Played heel-up, as measured last.")
    if not known.exposures:
        items.append("No measured session yet: the model with the tape measures alone.")
    items.append(
        "Legs as two segments on a still pelvis, the shank upright seen from the front unless measured sessions speak "
        "for another way, a knee turned only as far as clears what stands there; limbs as thick as at their nearer end "
        "against drums and stands."
    )
    return html.Section([html.H2("What this rests on"), html.Ul([html.Li(item) for item in items], className="rests")])
