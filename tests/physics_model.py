"""The tests' seated body in the mujoco physics engine: pelvis, one or two legs, clips as sites on soft tissue.

World: x forward, y up, z to the person's right [m]; gravity along -y. The engine gives the poses of bodies and
sites for joint positions; everything measured follows from those poses (see `physics_measure.py`).
"""

import os
from dataclasses import dataclass, field

import numpy as np
from physics_quaternion import multiply
from scipy.spatial.transform import Rotation

GRAVITY = 9.81
LEG_JOINTS = (
    "hip_flexion",
    "hip_adduction",
    "hip_rotation",
    "knee_flexion",
    "tibial_rotation",
    "ankle_dorsiflexion",
    "ankle_inversion",
)
PELVIS_JOINTS = ("height", "yaw", "roll", "tilt")
# Foot frame: origin in the ankle centre, x along the sole, y up from it [m].
HEEL = np.array([-0.04, -0.10, 0.0])
BALL = np.array([0.13, -0.10, 0.0])
ANKLE_ABOVE_SOLE = 0.10
_SKIN = '<joint type="hinge" axis="0 0 1"/><joint type="hinge" axis="1 0 0"/><joint type="hinge" axis="0 1 0"/>'


def require_mujoco():
    """Skip the calling test without mujoco, or fail where every part is required (FOOTROOM_REQUIRE_ALL=1)."""
    import pytest

    try:
        import mujoco  # noqa: F401
    except ImportError:
        reason = "mujoco is not installed: the leg in the physics engine cannot be built (pip install mujoco)"
        if os.environ.get("FOOTROOM_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)


@dataclass(frozen=True)
class Lengths:
    """Segment lengths [m]; sizes of an adult of middling stature (facts table, Drillis & Contini; rounded)."""

    thigh: float = 0.43
    shank: float = 0.42
    hip_half_width: float = 0.09


def side_sign(side):
    """+1 on the right, -1 on the left: turns clinical signs into rotations about the z-right frames."""
    return 1.0 if side == "right" else -1.0


def leg_signs(side):
    """Signs that turn clinical leg angles (`LEG_JOINTS`) into the engine's joint positions."""
    s = side_sign(side)
    return np.array([1.0, s, s, -1.0, s, 1.0, s])


@dataclass(frozen=True)
class Mount:
    """Where a clip sits: metres in its segment's frame, and the turn from clip to segment (scipy Rotation)."""

    position: tuple
    rotation: Rotation = field(compare=False)

    def quaternion_wxyz(self):
        return self.rotation.as_quat(scalar_first=True)


def _site(name, mount):
    position = " ".join(f"{x:.9f}" for x in mount.position)
    quaternion = " ".join(f"{x:.15f}" for x in mount.quaternion_wxyz())
    site = f'<site name="{name}" pos="{position}" quat="{quaternion}"/>'
    return f'<body name="{name}_skin">{_SKIN}<geom size="0.01"/>{site}</body>'


def _leg(side, lengths, mounts):
    z = side_sign(side) * lengths.hip_half_width

    def clip(segment):
        name = f"{side}_{segment}"
        return _site(name, mounts[name]) if name in mounts else ""

    heel, ball = (" ".join(str(x) for x in point) for point in (HEEL, BALL))
    return f"""
    <body name="{side}_thigh" pos="0 0 {z}">{_SKIN}
      <geom type="capsule" fromto="0 0 0 0 -{lengths.thigh} 0" size="0.07"/>{clip("thigh")}
      <body name="{side}_shank" pos="0 -{lengths.thigh} 0">
        <joint type="hinge" axis="0 0 1"/><joint type="hinge" axis="0 1 0"/>
        <geom type="capsule" fromto="0 0 0 0 -{lengths.shank} 0" size="0.05"/>{clip("shank")}
        <body name="{side}_foot" pos="0 -{lengths.shank} 0">
          <joint type="hinge" axis="0 0 1"/><joint type="hinge" axis="1 0 0"/>
          <geom type="capsule" fromto="{heel} {ball}" size="0.03"/>{clip("foot")}
          <site name="{side}_heel" pos="{heel}"/><site name="{side}_ball" pos="{ball}"/>
        </body>
      </body>
    </body>"""


class SeatedBody:
    """The compiled model. `mounts` maps clip names ("right_foot", ..., "pelvis") to `Mount`."""

    def __init__(self, sides, lengths, mounts):
        import mujoco

        self._mujoco = mujoco
        legs = "".join(_leg(side, lengths, mounts) for side in sides)
        pelvis_clip = _site("pelvis", mounts["pelvis"]) if "pelvis" in mounts else ""
        self.model = mujoco.MjModel.from_xml_string(f"""
        <mujoco model="seated body"><compiler angle="radian"/><option gravity="0 -{GRAVITY} 0"/>
          <default><geom contype="0" conaffinity="0"/></default>
          <worldbody><body name="pelvis">
            <joint type="slide" axis="0 1 0"/><joint type="hinge" axis="0 1 0"/>
            <joint type="hinge" axis="1 0 0"/><joint type="hinge" axis="0 0 1"/>
            <geom type="capsule" fromto="0 0 -0.09 0 0 0.09" size="0.08"/>{pelvis_clip}{legs}
          </body></worldbody></mujoco>""")
        self.data = mujoco.MjData(self.model)
        self.sides = tuple(sides)
        self.clips = tuple(mounts)
        self.segments = ("pelvis", *(f"{side}_{part}" for side in sides for part in ("thigh", "shank", "foot")))

    def _first_joint(self, body):
        return int(self.model.body_jntadr[self.model.body(body).id])

    def leg_index(self, side):
        """Columns of the joint positions that hold this leg's `LEG_JOINTS`."""
        thigh, shank, foot = (self._first_joint(f"{side}_{part}") for part in ("thigh", "shank", "foot"))
        return np.array([thigh, thigh + 1, thigh + 2, shank, shank + 1, foot, foot + 1])

    def skin_index(self, clip):
        """Columns that turn a clip's soft tissue against its bone (Cardan Z-X'-Y'')."""
        first = self._first_joint(f"{clip}_skin")
        return np.arange(first, first + 3)

    def run(self, positions):
        """Poses for joint positions (n, nq): `(quaternions {body or clip: (n, 4) wxyz}, points {site: (n, 3)})`.

        Clip quaternions turn clip vectors into the world.
        """
        model, data, kinematics = self.model, self.data, self._mujoco.mj_kinematics
        n = len(positions)
        quaternions = np.empty((n, model.nbody, 4))
        points = np.empty((n, model.nsite, 3))
        qpos, xquat, site_xpos = data.qpos, data.xquat, data.site_xpos
        for i in range(n):
            qpos[:] = positions[i]
            kinematics(model, data)
            quaternions[i] = xquat
            points[i] = site_xpos
        bodies = {name: quaternions[:, model.body(name).id] for name in self.segments}
        for clip in self.clips:
            skin = quaternions[:, model.body(f"{clip}_skin").id]
            bodies[f"clip {clip}"] = multiply(skin, model.site_quat[model.site(clip).id])
        return bodies, {model.site(i).name: points[:, i] for i in range(model.nsite)}
