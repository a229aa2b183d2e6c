"""The seated leg over many pedal positions at once: from throne and pedal to joint angles, closed form.

The same closed chain as `logger.virtual_leg` (a test holds the two together to a billionth of a degree), written in
components so that a map of 40,000 positions takes milliseconds, with three things added: footwear, the default pose
of the knee, and the poses of a stroke.

Coordinates of one leg, origin at its hip centre [m]: x forward, y up, w outward. Outward is to the right on the right
leg and to the left on the left one, and clinical angles are alike on both sides, so a leg has no side here. Angles
are ISB Cardan Z-X'-Y'' (Wu et al. 2002) with clinical signs.

Default pose: the shank upright in the frontal plane (the knee straight above the ankle seen from the front). The other
way people hold a leg is thigh and shank in one vertical plane, which keeps the hip's rotation nearest 0 where the shank
leans. The two agree where the shank is vertical. `swivel` turns the knee outward from either, about the line from hip
to ankle.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from .body_size import Body
from .seated_pose import Array, Pose, Vector

Way = Literal["heel-down", "heel-up"]
WAYS: tuple[Way, ...] = ("heel-down", "heel-up")
Hold = Literal["upright", "one plane"]
HOLDS: tuple[Hold, ...] = ("upright", "one plane")


@dataclass(frozen=True)
class Seat:
    """height : loaded seat above the floor [m]. torso_lean : pelvis and trunk forward of upright [rad]."""

    height: float
    torso_lean: float = 0.0


@dataclass(frozen=True)
class Pedal:
    """One pedal and the shoe on it, all but its place.

    pitch : of the board at rest, toes up [rad]. splay : toes outward [rad]. heel_plate : height of the heel's support
    [m]. sole : thickness under the heel [m]. drop : how much thinner the sole is under the ball [m].
    """

    pitch: float
    splay: float = 0.0
    heel_plate: float = 0.0
    sole: float = 0.025
    drop: float = 0.0

    def drop_angle(self, body: Body) -> float:
        """How far the shoe alone tips the foot toes-down [rad]; 10 mm over a heel-to-ball length of 20 cm are 2.9 deg.

        It is also what an ankle angle read in this shoe (zero = sole flat) exceeds the barefoot one by.
        """
        return float(np.arcsin(np.clip(self.drop / body.foot, -1.0, 1.0))) if self.drop else 0.0


@dataclass(frozen=True)
class Stroke:
    """How the pedal is played. way : heel-down or heel-up.

    travel : how far the board turns down from rest to the beater's contact [rad] (3-9 deg: our arithmetic from cam and
    beater). lift : how far the sole is lifted off the board at the top [rad]. heel : how far the sole is steeper than
    the board, heel-up [rad] (from memory).
    """

    way: Way = "heel-down"
    travel: float = field(default=float(np.radians(6.0)))
    lift: float = 0.0
    heel: float = field(default=float(np.radians(15.0)))

    def poses(self, pitch: float) -> dict[str, tuple[float, float]]:
        """Pitch of board and sole [rad] at rest and at contact, and lifted where there is a lift."""
        heel = self.heel if self.way == "heel-up" else 0.0
        poses = {"rest": (pitch, pitch - heel), "contact": (pitch - self.travel, pitch - self.travel - heel)}
        if self.lift > 0.0:
            poses["lifted"] = (pitch, pitch - heel + self.lift)
        return poses


def ankle_and_ball(
    body: Body, seat: Seat, pedal: Pedal, reach: ArrayLike, spacing: ArrayLike, board: float, sole: float
) -> tuple[Vector, Vector]:
    """Where ankle centre and ball are, from the hip centre [m], with the board and the sole at these pitches [rad].

    reach : hip centre to ankle centre straight ahead with the foot flat on the board at rest [m]; spacing : ball to
    ball [m]; they broadcast. The board turns about the heel's fixed point; the ball stays on the board.
    """
    x, gap = np.broadcast_arrays(np.asarray(reach, dtype=float), np.asarray(spacing, dtype=float))
    drop = pedal.drop * body.heel_to_ankle / body.foot if pedal.drop else 0.0
    height = body.ankle_height + pedal.sole - drop
    rest = _side_view(body, pedal.pitch, pedal.pitch, height)
    now = _side_view(body, board, sole, height)
    ahead, out = np.cos(pedal.splay), np.sin(pedal.splay)
    low = pedal.heel_plate - (seat.height + body.hip_above_seat)
    ball_out = gap / 2.0 - body.hip_width / 2.0

    def place(along: float, up: float) -> Vector:
        return x + (along - rest[0]) * ahead, np.full_like(x, low + up), ball_out + (along - rest[2]) * out

    return place(now[0], now[1]), place(now[2], now[3])


def _side_view(body: Body, board: float, sole: float, height: float) -> tuple[float, float, float, float]:
    """Ankle (along, up) and ball (along, up) from the heel's fixed point, in the plane of the foot [m]."""
    ball_x, ball_y = body.foot * np.cos(board), body.foot * np.sin(board)
    ankle_x = ball_x - body.ball_to_ankle * np.cos(sole) - height * np.sin(sole)
    ankle_y = ball_y - body.ball_to_ankle * np.sin(sole) + height * np.cos(sole)
    return float(ankle_x), float(ankle_y), float(ball_x), float(ball_y)


def leg_pose(
    body: Body,
    seat: Seat,
    pedal: Pedal,
    reach: ArrayLike,
    spacing: ArrayLike,
    *,
    board: float | None = None,
    sole: float | None = None,
    swivel: ArrayLike = 0.0,
    hold: Hold = "upright",
) -> Pose:
    """The leg with its foot on the pedal, for one or many positions.

    reach, spacing : as in `ankle_and_ball` [m]. board, sole : their pitch now [rad]; default at rest, sole on board.
    swivel : knee outward from the held pose [rad]. hold : the shank upright in the frontal plane, or thigh and shank in
    one vertical plane. Where the leg does not reach, or is folded flat, all is NaN.
    Ankle angles are the joint's own (zero = bare sole square to the shank); in shoes with a drop a clip reads
    `Pedal.drop_angle` more.
    """
    now = pedal.pitch if board is None else board
    flat = now if sole is None else sole
    ankle, ball = ankle_and_ball(body, seat, pedal, reach, spacing, now, flat)
    x, y, w = ankle
    with np.errstate(invalid="ignore", divide="ignore"):
        knee = _knee_above_ankle(body, x, y, w) if hold == "upright" else _knee_in_plane(body, x, y, w)
        turn = np.asarray(swivel, dtype=float)
        if np.any(turn != 0.0):
            knee = on_circle(knee_circle(knee, ankle), turn)
        return _pose(body, seat, pedal, knee, ankle, ball, flat - pedal.drop_angle(body))


def _knee_above_ankle(body: Body, x: Array, y: Array, w: Array) -> Vector:
    """The knee as far outward as the ankle: two circles in the sagittal plane, the thigh's one seen foreshortened."""
    thigh2 = body.thigh**2 - w * w
    line2 = x * x + y * y
    line = np.sqrt(line2)
    along = (thigh2 - body.shank**2 + line2) / (2.0 * line)
    off = np.sqrt(thigh2 - along * along)  # NaN where the circles do not meet
    return (along * x - off * y) / line, (along * y + off * x) / line, w


def _knee_in_plane(body: Body, x: Array, y: Array, w: Array) -> Vector:
    """The knee in the vertical plane through hip and ankle."""
    ahead = np.sqrt(x * x + w * w)
    line2 = ahead * ahead + y * y
    line = np.sqrt(line2)
    along = (body.thigh**2 - body.shank**2 + line2) / (2.0 * line)
    off = np.sqrt(body.thigh**2 - along * along)
    out = (along * ahead - off * y) / line
    return out * x / ahead, (along * y + off * ahead) / line, out * w / ahead


def knee_circle(knee: Vector, ankle: Vector) -> tuple[Vector, Vector, Vector]:
    """The circle that the knee can turn on about the line from hip to ankle: centre, radius to the knee, and the radius
    a right angle farther outward [m]."""
    length = np.sqrt(ankle[0] ** 2 + ankle[1] ** 2 + ankle[2] ** 2)
    a = (ankle[0] / length, ankle[1] / length, ankle[2] / length)
    along = knee[0] * a[0] + knee[1] * a[1] + knee[2] * a[2]
    centre = (along * a[0], along * a[1], along * a[2])
    k = (knee[0] - centre[0], knee[1] - centre[1], knee[2] - centre[2])
    return centre, k, (a[1] * k[2] - a[2] * k[1], a[2] * k[0] - a[0] * k[2], a[0] * k[1] - a[1] * k[0])


def on_circle(circle: tuple[Vector, Vector, Vector], turn: Array) -> Vector:
    """The knee turned outward on its circle by `turn` [rad]."""
    cos, sin = np.cos(turn), np.sin(turn)
    x, y, w = (centre + cos * k + sin * out for centre, k, out in zip(*circle, strict=True))
    return x, y, w


def _pose(body: Body, seat: Seat, pedal: Pedal, knee: Vector, ankle: Vector, ball: Vector, foot_pitch: float) -> Pose:
    """The segments' axes from the points; `foot_pitch` is the bare foot's [rad]."""
    tx, ty, tw = (k * (-1.0 / body.thigh) for k in knee)
    sx, sy, sw = ((k - a) * (1.0 / body.shank) for k, a in zip(knee, ankle, strict=True))
    zx, zy, zw = sy * tw - sw * ty, sw * tx - sx * tw, sx * ty - sy * tx
    per_sine = 1.0 / np.sqrt(zx * zx + zy * zy + zw * zw)
    sine, cosine = float(np.sin(foot_pitch)), float(np.cos(foot_pitch))
    sole = (-sine * float(np.cos(pedal.splay)), cosine, -sine * float(np.sin(pedal.splay)))
    return Pose(
        knee=knee,
        ankle=ankle,
        ball=ball,
        thigh=(tx, ty, tw),
        shank=(sx, sy, sw),
        hinge=(zx * per_sine, zy * per_sine, zw * per_sine),
        sole=sole,
        torso_lean=seat.torso_lean,
    )


def stroke_poses(
    body: Body,
    seat: Seat,
    pedal: Pedal,
    reach: ArrayLike,
    spacing: ArrayLike,
    stroke: Stroke | None = None,
    *,
    swivel: ArrayLike = 0.0,
    hold: Hold = "upright",
) -> dict[str, Pose]:
    """The leg at rest, at the beater's contact and, where there is a lift, lifted: {name: pose}."""
    ways = (stroke or Stroke()).poses(pedal.pitch)
    return {
        name: leg_pose(body, seat, pedal, reach, spacing, board=board, sole=sole, swivel=swivel, hold=hold)
        for name, (board, sole) in ways.items()
    }
