"""Quaternion products over long runs, scalar first; scipy's `Rotation` is the slower reference."""

import numpy as np


def multiply(a, b):
    """Product of quaternions (..., 4) wxyz: first `b`, then `a`, as with rotation matrices."""
    aw, ax, ay, az = np.moveaxis(a, -1, 0)
    bw, bx, by, bz = np.moveaxis(b, -1, 0)
    return np.stack(
        [
            aw * bw - ax * bx - ay * by - az * bz,
            aw * bx + ax * bw + ay * bz - az * by,
            aw * by - ax * bz + ay * bw + az * bx,
            aw * bz + ax * by - ay * bx + az * bw,
        ],
        axis=-1,
    )


def increments(quaternions):
    """Rotation vectors (n - 1, 3) [rad] from each orientation (n, 4) to the next, in the first one's own axes."""
    back = quaternions[:-1] * np.array([1.0, -1.0, -1.0, -1.0])
    step = multiply(back, quaternions[1:])
    step = np.where(step[:, :1] < 0.0, -step, step)
    size = np.linalg.norm(step[:, 1:], axis=1)
    factor = np.full(len(step), 2.0)
    np.divide(2.0 * np.arctan2(size, step[:, 0]), size, out=factor, where=size > 1e-12)
    return step[:, 1:] * factor[:, None]
