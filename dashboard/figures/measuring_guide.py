"""How to measure a set-up with a tape and a phone: eight drawings of our own, on an average person."""

from __future__ import annotations

import math
from collections.abc import Callable

from ...analysis.fit import Fit, fit_of
from ...logger.models import SIDES, Participant, Setup
from .seated import SKIN, draw_board, draw_foot_from_above, draw_leg_from_the_side, draw_throne, draw_trunk
from .svg import Drawing, Point
from .theme import ACCENT, INK, RULE, SOFT_INK

PERSON = Participant(id="drawn", stature_cm=172)
SETUP = Setup(
    name="drawn", throne_height_cm=48, reach_cm=44, spacing_cm=48, footboard_pitch_deg=20, foot_splay_deg=14
)  # fmt: skip
GUIDE: tuple[tuple[str, str, str], ...] = (
    ("throne", "Throne height, loaded",
     "Sit as for playing. Tape from the floor to the top of the seat, beside the thigh. Or measure the empty seat and "
     "how far it gives."),
    ("reach", "Reach",
     "Sit, foot at rest on the board. Hang a plumb line from the bony bump at the side of the hip, another from the "
     "outer ankle bone; tape on the floor between the two, straight ahead."),
    ("spacing", "Spacing and foot splay",
     "Tape from the ball of one foot to the ball of the other, under the big toes' joints. Splay: the angle of the "
     "foot to straight ahead, toes out positive; a set square will do."),
    ("pitch", "Footboard pitch",
     "Phone on the board at rest, its level app open, nobody's foot on it. Heel plate: floor to where the heel stands. "
     "Length: hinge to the upper edge."),
    ("slope", "Thigh slope, trunk to thigh",
     "Phone along the top of the thigh: the knee lower than the hip is a negative slope. Sitting tall, 90° between "
     "trunk and thigh is a level thigh; more is more open."),
    ("snare", "Snare and stand",
     "From the middle of the hips straight ahead to the drum's centre; floor to its upper rim; its diameter; across "
     "the feet of the stand."),
    ("shoe", "Shoe, heel plate",
     "Sole under the heel; drop: how much thinner it is under the ball. Heel plate: floor to where the heel stands. "
     "The same shoes every time: another sole is another zero."),
    ("clear", "What else stands there",
     "For a floor tom or a stand: its centre ahead of the middle of the hips and to the right (left is negative), its "
     "diameter, its upper edge. Width of the sitting thigh, half way, seen from above."),
)  # fmt: skip
"""(name, title, words) of each drawing, in the order of measuring."""


def guide_drawing(name: str) -> str:
    """One drawing of the guide as SVG. Raises KeyError for an unknown name."""
    return _DRAWN[name](fit_of(PERSON, SETUP))


def _from_the_side(fit: Fit) -> tuple[Drawing, Point, Point, Point]:
    """A seated person from the side; also hip, knee and ankle [cm]."""
    drawn = Drawing(left=-42.0, right=82.0, bottom=-5.0, top=80.0)
    hip = (0.0, 100.0 * (fit.seat.height + fit.body.hip_above_seat))
    rest = fit.poses("right")["rest"]
    drawn.floor()
    draw_throne(drawn, 100.0 * fit.seat.height)
    draw_trunk(drawn, hip, 0.0)
    draw_leg_from_the_side(drawn, fit, "right", rest, hip)
    draw_board(drawn, fit, "right", rest, hip)
    knee, ankle = ((hip[0] + 100.0 * float(p[0]), hip[1] + 100.0 * float(p[1])) for p in (rest.knee, rest.ankle))
    return drawn, hip, knee, ankle


def _throne_height(fit: Fit) -> str:
    drawn, _, _, _ = _from_the_side(fit)
    seat = 100.0 * fit.seat.height
    drawn.line([(-30.0, seat), (-16.0, seat)], ACCENT, 1.0, dash="3 3")
    drawn.measure((-26.0, 0.0), (-26.0, seat), "tape", shift=(6.0, 4.0), anchor="start")
    drawn.words((11.0, seat + 24.0), "somebody sits on it", colour=SOFT_INK)
    return drawn.text()


def _reach(fit: Fit) -> str:
    drawn, hip, _, ankle = _from_the_side(fit)
    for point, words, shift in ((hip, "hip bump", (-8.0, -10.0)), (ankle, "ankle bone", (14.0, -8.0))):
        drawn.line([point, (point[0], 1.5)], ACCENT, 1.2, dash="5 3")
        drawn.circle((point[0], 2.2), 1.1, ACCENT, ACCENT)
        drawn.circle(point, 2.0, ACCENT, ACCENT)
        drawn.words(point, words, anchor="end" if point is hip else "start", shift=shift, bold=True, colour=ACCENT)
    drawn.measure((hip[0], 5.0), (ankle[0], 5.0), "tape on the floor", shift=(0.0, -6.0))
    return drawn.text()


def _spacing(fit: Fit) -> str:
    drawn = Drawing(left=-48.0, right=48.0, bottom=-18.0, top=48.0)
    half = 50.0 * fit.spacing
    splay = fit.legs["right"].pedal.splay
    length, wide = 100.0 * fit.body.foot, 100.0 * fit.body.foot_half_breadth
    for sign in (-1.0, 1.0):
        draw_foot_from_above(drawn, (sign * half, 14.0), sign * splay, length, wide)
        drawn.circle((sign * half, 14.0), 1.4, ACCENT, ACCENT)
    drawn.measure((-half, 14.0), (half, 14.0), "ball to ball", shift=(0.0, -7.0))
    heel = (half - 20.0 * math.sin(splay), 14.0 - 20.0 * math.cos(splay))
    drawn.line([heel, (heel[0], heel[1] + 40.0)], ACCENT, 1.0, dash="3 3")
    drawn.line([heel, (heel[0] + 42.0 * math.sin(splay), heel[1] + 42.0 * math.cos(splay))], ACCENT, 1.0, dash="3 3")
    drawn.arc(heel, 37.0, 90.0 - math.degrees(splay), 90.0, ACCENT, 1.6)
    drawn.words((heel[0] + 2.0, heel[1] + 42.0), "splay", anchor="middle", colour=ACCENT, bold=True)
    drawn.words((0.0, -16.0), "seen from above", anchor="middle", colour=SOFT_INK)
    return drawn.text()


def _pitch(fit: Fit) -> str:
    drawn = Drawing(left=-8.0, right=48.0, bottom=-5.0, top=33.0)
    drawn.floor()
    pitch = fit.legs["right"].pedal.pitch
    ahead, up = (math.cos(pitch), math.sin(pitch)), (-math.sin(pitch), math.cos(pitch))
    hinge = (8.0, 2.0)
    tip = (hinge[0] + 30.0 * ahead[0], hinge[1] + 30.0 * ahead[1])
    drawn.line([(-3.0, 1.0), (40.0, 1.0)], INK, 3.0)
    drawn.line([(-3.0, 1.8), (7.0, 1.8)], INK, 4.0)
    drawn.line([hinge, tip], INK, 5.0)
    drawn.line([tip, (tip[0], 1.0)], SOFT_INK, 2.0)
    start = (hinge[0] + 8.0 * ahead[0] + 0.6 * up[0], hinge[1] + 8.0 * ahead[1] + 0.6 * up[1])
    _phone(drawn, start, pitch)
    drawn.words((start[0] + 7.0, start[1] + 4.0), "phone", anchor="end", colour=ACCENT, bold=True, shift=(-8.0, -12.0))
    drawn.line([hinge, (hinge[0] + 34.0, hinge[1])], ACCENT, 1.0, dash="3 3")
    drawn.arc(hinge, 22.0, 0.0, math.degrees(pitch), ACCENT, 1.6)
    drawn.words((hinge[0] + 23.0, hinge[1] + 3.0), "pitch", colour=ACCENT, bold=True)
    drawn.words((-4.0, 1.8), "heel plate", colour=SOFT_INK, shift=(0.0, -10.0))
    return drawn.text()


def _phone(drawn: Drawing, start: Point, turn: float) -> None:
    """A phone lying on something that slopes by `turn` [rad]."""
    cos, sin = math.cos(turn), math.sin(turn)
    corners = ((0.0, 0.0), (15.0, 0.0), (15.0, 1.5), (0.0, 1.5))
    drawn.shape([(start[0] + a * cos - b * sin, start[1] + a * sin + b * cos) for a, b in corners], ACCENT, ACCENT)


def _slope(fit: Fit) -> str:
    drawn, hip, knee, _ = _from_the_side(fit)
    along = math.atan2(knee[1] - hip[1], knee[0] - hip[0])
    ahead, up = (math.cos(along), math.sin(along)), (-math.sin(along), math.cos(along))
    top = 100.0 * 0.85 * fit.body.thigh_radius + 0.8
    start = (hip[0] + 14.0 * ahead[0] + top * up[0], hip[1] + 14.0 * ahead[1] + top * up[1])
    _phone(drawn, start, along)
    drawn.words(start, "phone on the thigh", colour=ACCENT, bold=True, shift=(6.0, -12.0))
    drawn.line([hip, (hip[0] + 52.0, hip[1])], ACCENT, 1.0, dash="3 3")
    drawn.arc(hip, 46.0, math.degrees(along), 0.0, ACCENT, 1.6)
    drawn.words((hip[0] + 49.0, hip[1] - 2.5), "slope", colour=ACCENT, bold=True, shift=(4.0, 4.0))
    drawn.line([hip, (hip[0], hip[1] + 22.0)], INK, 1.2)
    drawn.arc(hip, 12.0, math.degrees(along), 90.0, INK, 1.4)
    drawn.words((hip[0] - 12.0, hip[1] + 16.0), "trunk to thigh", anchor="end")
    return drawn.text()


def _snare(fit: Fit) -> str:
    drawn, hip, _, _ = _from_the_side(fit)
    left, right, low, high = 26.0, 61.6, 50.0, 64.0
    drawn.shape([(left, low), (right, low), (right, high), (left, high)], RULE, SOFT_INK, opacity=0.6)
    middle = (left + right) / 2.0
    drawn.line([(middle, low), (middle, 14.0)], SOFT_INK, 2.0)
    drawn.line([(middle - 17.0, 0.0), (middle, 16.0), (middle + 17.0, 0.0)], SOFT_INK, 2.0)
    drawn.measure((left, high + 3.0), (right, high + 3.0), "diameter", shift=(0.0, -6.0))
    drawn.line([hip, (hip[0], high + 11.0)], ACCENT, 1.0, dash="3 3")
    drawn.line([(middle, high), (middle, high + 11.0)], ACCENT, 1.0, dash="3 3")
    drawn.measure((hip[0], high + 11.0), (middle, high + 11.0), "centre ahead of the hips", shift=(0.0, -5.0))
    drawn.measure((right + 6.0, 0.0), (right + 6.0, high), "rim", shift=(5.0, 0.0), anchor="start")
    drawn.measure((middle - 17.0, -2.4), (middle + 17.0, -2.4), "stand", shift=(78.0, 4.0))
    return drawn.text()


def _shoe(_: Fit) -> str:
    drawn = Drawing(left=-12.0, right=48.0, bottom=-7.0, top=30.0)
    drawn.floor()
    sole = [(0.0, 0.0), (31.0, 0.0), (31.0, 1.4), (26.0, 1.8), (10.0, 3.4), (0.0, 3.6)]
    upper = [(0.0, 3.6), (10.0, 3.4), (26.0, 1.8), (31.0, 1.4), (31.5, 4.0), (26.0, 7.0), (16.0, 10.5), (11.0, 17.0)]
    drawn.shape([*upper, (0.5, 17.0)], RULE, SOFT_INK)
    drawn.shape(sole, SOFT_INK, INK)
    for x, height, text in ((4.0, 3.6, "heel"), (24.0, 2.0, "ball")):
        drawn.line([(x, height), (x, 20.0)], ACCENT, 1.0, dash="3 3")
        drawn.words((x, 21.0), f"under the {text}", anchor="middle", colour=ACCENT, bold=True)
    drawn.measure((-4.0, 0.0), (-4.0, 3.6), "sole", anchor="end", shift=(-5.0, 4.0))
    drawn.measure((37.0, 1.8), (37.0, 3.6), "drop", anchor="start", shift=(6.0, 4.0))
    drawn.line([(4.0, 3.6), (38.0, 3.6)], ACCENT, 1.0, dash="3 3")
    drawn.line([(26.0, 1.8), (38.0, 1.8)], ACCENT, 1.0, dash="3 3")
    return drawn.text()


def _clear(fit: Fit) -> str:
    drawn = Drawing(left=-40.0, right=84.0, bottom=-22.0, top=62.0)
    body, tom = fit.body, (50.0, 30.0)
    drawn.circle((0.0, -2.0), 16.0, RULE, SOFT_INK, opacity=0.6)
    for side in SIDES:
        sign = 1.0 if side == "right" else -1.0
        knee = fit.poses(side)["rest"].knee
        hip = (sign * 50.0 * body.hip_width, 0.0)
        end = (hip[0] + sign * 100.0 * float(knee[2]), 100.0 * float(knee[0]))
        drawn.limb(hip, end, 200.0 * body.thigh_radius, SKIN, 0.9)
        drawn.line([hip, end], INK, 1.4)
    half = 100.0 * body.thigh_radius
    middle = (-0.5 * (100.0 * body.hip_width / 2.0 + 22.0), 22.0)
    drawn.measure((middle[0] - half, middle[1]), (middle[0] + half, middle[1]), "thigh", shift=(0.0, -6.0))
    drawn.circle(tom, 18.0, RULE, SOFT_INK, opacity=0.7)
    drawn.measure((tom[0] - 18.0, tom[1]), (tom[0] + 18.0, tom[1]), "diameter", shift=(0.0, -6.0))
    drawn.line([(0.0, 0.0), (0.0, tom[1] + 24.0)], ACCENT, 1.0, dash="3 3")
    drawn.line([(0.0, 0.0), (80.0, 0.0)], ACCENT, 1.0, dash="3 3")
    drawn.measure((0.0, tom[1] + 22.0), (tom[0], tom[1] + 22.0), "to the right", shift=(0.0, -6.0))
    drawn.measure((tom[0] + 24.0, 0.0), (tom[0] + 24.0, tom[1]), "ahead", shift=(-5.0, 4.0), anchor="end")
    drawn.words((0.0, -20.0), "seen from above", anchor="middle", colour=SOFT_INK)
    return drawn.text()


_DRAWN: dict[str, Callable[[Fit], str]] = {
    "throne": _throne_height,
    "reach": _reach,
    "spacing": _spacing,
    "pitch": _pitch,
    "slope": _slope,
    "snare": _snare,
    "shoe": _shoe,
    "clear": _clear,
}
