"""The seated leg on its pedal, from the side and from above, as drawings that move with the sliders.

Everything comes from the placement model's poses: what is drawn is what is reckoned with, limbs as thick as the model
keeps them clear of drums.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ...analysis.fit import Fit
from ...analysis.keep_clear import Cylinder
from ...analysis.seated_pose import Pose
from ...logger.models import SIDES, Side
from .svg import Drawing, Point
from .theme import ACCENT, INK, RULE, SEQUENTIAL, SOFT_INK

SKIN, FAINT = "#cfc8b8", "#e9e4d8"
TOE_CM = 6.0
"""Ball to the tip of the shoe (ours, for the drawing only)."""


def side_view(fit: Fit, side: Side, words: Mapping[str, str] | None = None) -> str:
    """One leg from its outer side, facing right: at rest on the board, and faintly at the beater's contact.

    words : what to write at `hip` and `ankle`. A leg that cannot reach its pedal is not drawn, and that is said.
    """
    drawn = Drawing(left=-38.0, right=97.0, bottom=-4.0, top=118.0)
    hip = (0.0, 100.0 * (fit.seat.height + fit.body.hip_above_seat))
    leg = fit.legs[side]
    drawn.floor()
    for volume in fit.volumes:
        _volume_from_the_side(drawn, volume)
    draw_throne(drawn, 100.0 * fit.seat.height)
    draw_trunk(drawn, hip, fit.seat.torso_lean)
    poses = fit.seen_poses(side)
    rest = poses["rest"]
    if not math.isfinite(float(rest.knee[1])):
        drawn.words((30.0, 70.0), "The leg does not reach", anchor="middle", bold=True)
        return drawn.text()
    if math.isfinite(float(poses["contact"].knee[1])):
        draw_leg_from_the_side(drawn, fit, side, poses["contact"], hip, faint=True)
    draw_leg_from_the_side(drawn, fit, side, rest, hip)
    draw_board(drawn, fit, side, rest, hip)
    ankle = _seen(rest.ankle, hip)
    drawn.line([hip, (hip[0], 3.0)], ACCENT, 0.8, dash="2 4")
    drawn.line([ankle, (ankle[0], 3.0)], ACCENT, 0.8, dash="2 4")
    drawn.measure((hip[0], 3.5), (ankle[0], 3.5), f"reach {100 * leg.reach:.1f} cm", shift=(0.0, -5.0))
    seat = 100.0 * fit.seat.height
    drawn.measure((-32.0, 0.0), (-32.0, seat), f"{seat:.1f} cm", shift=(5.0, 4.0), anchor="start")
    said = dict(words or {})
    knee = _seen(rest.knee, hip)
    if "hip" in said:
        drawn.words((12.0, hip[1] + 20.0), said["hip"])
    drawn.words(knee, f"knee {math.degrees(float(rest.knee_flexion)):.0f}° bent", shift=(26.0, -2.0))
    if "ankle" in said:
        drawn.words(ankle, said["ankle"], shift=(26.0, -10.0))
    pitch = f"board {math.degrees(leg.pedal.pitch):.0f}°"
    drawn.words(_seen(rest.ball, hip), pitch, shift=(38.0, 10.0), colour=SOFT_INK)
    return drawn.text()


def _seen(point: Any, hip: Point) -> Point:
    """Forward and up in cm."""
    return hip[0] + 100.0 * float(point[0]), hip[1] + 100.0 * float(point[1])


def draw_throne(drawn: Drawing, seat: float) -> None:
    """A throne from the side; seat [cm]."""
    drawn.line([(0.0, seat - 4.0), (0.0, 4.0)], SOFT_INK, 4.0)
    drawn.line([(-17.0, 0.0), (0.0, 12.0), (17.0, 0.0)], SOFT_INK, 2.5)
    drawn.shape([(-17.0, seat), (16.0, seat), (17.0, seat - 3.5), (-18.0, seat - 3.5)], SOFT_INK, SOFT_INK)


def draw_trunk(drawn: Drawing, hip: Point, lean: float) -> None:
    """A trunk that leans forward [rad]."""
    top = (hip[0] + 44.0 * math.sin(lean), hip[1] + 44.0 * math.cos(lean))
    drawn.limb(hip, top, 17.0, FAINT)


def draw_leg_from_the_side(
    drawn: Drawing, fit: Fit, side: Side, pose: Pose, hip: Point, *, faint: bool = False
) -> None:
    """Thigh, shank and shoe of a pose; hip [cm]."""
    knee, ankle, ball = (_seen(point, hip) for point in (pose.knee, pose.ankle, pose.ball))
    colour = FAINT if faint else SKIN
    body = fit.body
    drawn.limb(hip, knee, 200.0 * 0.85 * body.thigh_radius, colour, 0.75 if faint else 1.0)
    drawn.limb(knee, ankle, 170.0 * body.shank_radius, colour, 0.75 if faint else 1.0)
    pitch = math.atan2(-pose.sole[0] / max(math.cos(fit.legs[side].pedal.splay), 0.2), pose.sole[1])
    ahead = (math.cos(pitch), math.sin(pitch))
    toe = (ball[0] + TOE_CM * ahead[0], ball[1] + TOE_CM * ahead[1])
    heel = (ball[0] - 100.0 * body.foot * ahead[0], ball[1] - 100.0 * body.foot * ahead[1])
    drawn.shape([heel, toe, (toe[0], toe[1] + 2.5), (ankle[0] + 3.0, ankle[1] + 1.5), (ankle[0] - 3.5, ankle[1] + 1.0)],
                colour, colour if faint else SOFT_INK)  # fmt: skip
    if faint:
        return
    drawn.line([hip, knee, ankle], INK, 1.8)
    for point in (hip, knee, ankle):
        drawn.circle(point, 1.5, "#fffdf9")
    drawn.circle(ball, 0.9, INK)


def draw_board(drawn: Drawing, fit: Fit, side: Side, rest: Pose, hip: Point) -> None:
    """The footboard at rest under a leg, with its base."""
    pedal = fit.legs[side].pedal
    ball = _seen(rest.ball, hip)
    back = 100.0 * fit.body.foot
    ahead = (math.cos(pedal.pitch), math.sin(pedal.pitch))
    heel = (ball[0] - back * ahead[0], max(ball[1] - back * ahead[1], 0.9))
    tip = (ball[0] + 11.0 * ahead[0], ball[1] + 11.0 * ahead[1])
    drawn.line([heel, tip], INK, 3.0)
    drawn.line([(heel[0] - 2.0, 0.9), (tip[0] + 2.0, 0.9)], INK, 1.6)
    drawn.line([(tip[0], 0.9), tip], SOFT_INK, 1.5)


def _volume_from_the_side(drawn: Drawing, volume: Cylinder) -> None:
    left, right = 100.0 * (volume.forward - volume.radius), 100.0 * (volume.forward + volume.radius)
    low, high = 100.0 * volume.bottom, 100.0 * volume.top
    drawn.shape([(left, low), (right, low), (right, high), (left, high)], RULE, SOFT_INK, dash="4 3", opacity=0.45)
    place = (min(max((left + right) / 2.0, drawn.left + 14.0), drawn.right - 14.0), high)
    drawn.words(place, volume.name.removeprefix("the "), anchor="middle", colour=SOFT_INK, shift=(0.0, -4.0))


def top_view(fit: Fit, tight: Mapping[Side, int] | None = None) -> str:
    """Both legs from above, forward is up. tight : step of the sequential scale for each thigh (3 = past the end)."""
    drawn = Drawing(left=-62.0, right=62.0, bottom=-24.0, top=88.0)
    body = fit.body
    for volume in fit.volumes:
        dash = "" if volume.top > fit.seat.height else "4 3"
        place = (100.0 * volume.right, 100.0 * volume.forward)
        drawn.circle(place, 100.0 * volume.radius, RULE, SOFT_INK, dash=dash, opacity=0.5)
        name = volume.name.removeprefix("the ")
        lower = 14.0 if "stand" in name else 0.0
        drawn.words(place, name, anchor="middle", colour=SOFT_INK, shift=(0.0, lower))
    drawn.circle((0.0, -2.0), 16.0, "#d5cfbf", SOFT_INK, opacity=0.6)
    balls: dict[Side, Point] = {}
    for side in SIDES:
        if side not in fit.legs:
            continue
        sign = 1.0 if side == "right" else -1.0
        pose = fit.seen_poses(side)["rest"]
        hip = (sign * 50.0 * body.hip_width, 0.0)
        if not math.isfinite(float(pose.knee[1])):
            drawn.words((hip[0] + sign * 18.0, 20.0), "does not reach", anchor="middle", bold=True)
            continue
        knee, ankle, ball = (_above(point, hip, sign) for point in (pose.knee, pose.ankle, pose.ball))
        splay = fit.legs[side].pedal.splay
        draw_foot_from_above(drawn, ball, sign * splay, 100.0 * body.foot, 100.0 * body.foot_half_breadth)
        level = (tight or {}).get(side)
        colour = SKIN if level is None else SEQUENTIAL[level]
        drawn.limb(hip, knee, 200.0 * body.thigh_radius, colour, 0.8)
        drawn.limb(knee, ankle, 200.0 * body.shank_radius, SKIN, 0.8)
        drawn.line([hip, knee, ankle], INK, 1.6)
        for point in (hip, knee, ankle):
            drawn.circle(point, 1.3, "#fffdf9")
        drawn.circle(ball, 1.0, ACCENT, ACCENT)
        balls[side] = ball
        azimuth = math.degrees(float(pose.hip_horizontal_abduction))
        drawn.words(hip, f"{azimuth:.0f}° out", anchor="start" if sign > 0 else "end", shift=(sign * 26.0, 12.0))
    if len(balls) == 2:
        ahead = max(ball[1] for ball in balls.values()) + 13.0
        for ball in balls.values():
            drawn.line([ball, (ball[0], ahead + 1.5)], ACCENT, 0.8, dash="2 4")
        text = f"spacing {100 * fit.spacing:.1f} cm"
        drawn.measure((balls["left"][0], ahead), (balls["right"][0], ahead), text, shift=(0.0, -6.0))
    drawn.words((0.0, drawn.bottom + 2.0), "throne, seen from above", anchor="middle", colour=SOFT_INK)
    return drawn.text()


def _above(point: Any, hip: Point, sign: float) -> Point:
    """To the right and forward in cm."""
    return hip[0] + sign * 100.0 * float(point[2]), hip[1] + 100.0 * float(point[0])


def draw_foot_from_above(drawn: Drawing, ball: Point, turn: float, length: float, half: float) -> None:
    """A sole and its board; turn : to the right of straight ahead [rad]."""
    ahead, across = (math.sin(turn), math.cos(turn)), (math.cos(turn), -math.sin(turn))

    def at(along: float, out: float) -> Point:
        return ball[0] + along * ahead[0] + out * across[0], ball[1] + along * ahead[1] + out * across[1]

    wide = half + 1.0
    drawn.shape([at(-length - 3, -wide), at(-length - 3, wide), at(11, wide), at(11, -wide)], "#fffdf9", INK)
    drawn.shape(
        [at(-length, -0.6 * half), at(-length, 0.6 * half), at(-4, 0.8 * half), at(1, half), at(TOE_CM, 0.5 * half),
         at(TOE_CM, -0.5 * half), at(1, -half), at(-4, -0.8 * half)],
        FAINT, SOFT_INK,
    )  # fmt: skip
