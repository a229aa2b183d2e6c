"""What a clip on a moving segment would measure: angular rate and specific force. Pure; imports nothing of ours.

Rates and accelerations come from finite differences of smooth poses at a fine step and are averaged down to the
clip's rate, as the filter of a real part does. World frame: y up (see virtual_leg).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRAVITY = 9.80665  # [m/s^2], conventional value (CGPM 1901)


@dataclass(frozen=True)
class ClipMount:
    """How a clip sits on its segment and how good a part it is.

    rotation : (3, 3), clip axes to segment axes. position : (3,) in the segment, from its proximal joint [m].
    gyr_bias : (3,) [rad/s]. acc_bias : (3,) [m/s^2]. gyr_noise : density [rad/s/sqrt(Hz)]. acc_noise : density
    [m/s^2/sqrt(Hz)]. The default noise is 7 mdps/sqrt(Hz) and 120 ug/sqrt(Hz), ordinary for small parts.
    """

    rotation: Array = field(default_factory=lambda: np.eye(3))
    position: Array = field(default_factory=lambda: np.zeros(3))
    gyr_bias: Array = field(default_factory=lambda: np.zeros(3))
    acc_bias: Array = field(default_factory=lambda: np.zeros(3))
    gyr_noise: float = float(np.deg2rad(7e-3))
    acc_noise: float = 120e-6 * GRAVITY


def random_rotation(rng: np.random.Generator) -> Array:
    """A uniformly random rotation, (3, 3) (a normalised four-dimensional normal vector as quaternion)."""
    w, x, y, z = (q := rng.normal(size=4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def rotation_about(vector: Array) -> Array:
    """Rotation matrices for rotation vectors, (..., 3) [rad] -> (..., 3, 3) (Rodrigues)."""
    v = np.asarray(vector, dtype=float)
    angle = np.linalg.norm(v, axis=-1)[..., None, None]
    skew = np.zeros((*v.shape[:-1], 3, 3))
    skew[..., 0, 1], skew[..., 0, 2], skew[..., 1, 2] = -v[..., 2], v[..., 1], -v[..., 0]
    skew -= np.swapaxes(skew, -1, -2)
    # sinc keeps the small-angle limit: sin(a)/a and (1 - cos(a))/a^2
    return np.eye(3) + np.sinc(angle / np.pi) * skew + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * (skew @ skew)


def clip_samples(
    segment: Array,
    origin: Array,
    mount: ClipMount,
    fine_rate: float,
    average: int,
    rng: np.random.Generator | None = None,
    *,
    turned: Array | None = None,
) -> tuple[Array, Array]:
    """Specific force (m, 3) [m/s^2] and angular rate (m, 3) [rad/s] of a clip, at `fine_rate / average`.

    segment : (n, 3, 3), segment to world. origin : (n, 3), the segment's proximal joint [m]. fine_rate : of these
    [Hz]. average : fine steps per sample; m = n // average. rng : noise; None = a part without noise (bias stays).
    turned : (n, 3, 3), how the clip has turned on the segment since it was put on; default not at all.
    Sample i is the mean of fine steps i * average to (i + 1) * average - 1, so its time is that of fine step
    i * average + (average - 1) / 2.

    Raises ValueError for fewer than three fine steps, an average below 1 or a shape that does not fit.
    """
    n = len(segment)
    if n < 3 or average < 1 or np.shape(segment) != (n, 3, 3) or np.shape(origin) != (n, 3):
        raise ValueError(f"poses of shape {np.shape(segment)} and {np.shape(origin)} (average {average}) do not fit")
    clip = segment @ mount.rotation if turned is None else segment @ (turned @ mount.rotation)
    place = origin + segment @ mount.position

    step = np.swapaxes(clip[:-1], 1, 2) @ clip[1:]
    skew = 0.5 * np.stack(
        [step[:, 2, 1] - step[:, 1, 2], step[:, 0, 2] - step[:, 2, 0], step[:, 1, 0] - step[:, 0, 1]], axis=1
    )
    size = np.linalg.norm(skew, axis=1, keepdims=True)
    between = skew * np.divide(np.arcsin(np.minimum(size, 1.0)), size, out=np.ones_like(size), where=size > 1e-9)
    rate = np.empty((n, 3))
    rate[1:-1] = 0.5 * (between[:-1] + between[1:])
    rate[0], rate[-1] = between[0], between[-1]
    rate *= fine_rate

    force = np.empty((n, 3))
    force[1:-1] = (place[2:] - 2 * place[1:-1] + place[:-2]) * fine_rate**2
    force[0], force[-1] = force[1], force[-2]
    force[:, 1] += GRAVITY
    force = np.einsum("nij,ni->nj", clip, force)

    m = n // average
    acc = force[: m * average].reshape(m, average, 3).mean(axis=1) + mount.acc_bias
    gyr = rate[: m * average].reshape(m, average, 3).mean(axis=1) + mount.gyr_bias
    if rng is not None:
        spread = np.sqrt(fine_rate / average / 2)
        gyr += rng.normal(scale=mount.gyr_noise * spread, size=gyr.shape)
        acc += rng.normal(scale=mount.acc_noise * spread, size=acc.shape)
    return acc, gyr


def to_counts(values: Array, scale: float) -> NDArray[np.int16]:
    """Values as a 16-bit part stores them: rounded to `scale` per count, held at the ends of the range."""
    return np.clip(np.round(values / scale), -32768, 32767).astype(np.int16)
