"""Angular rates of two clips around a joint, made from rotations (scipy), for tests of hinge axes."""

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

RATE = 100.0


def smooth_noise(n, width, rng):
    """Smooth random curve of standard deviation 1, (n,); `width` in samples."""
    curve = gaussian_filter1d(rng.normal(size=n + 12 * width), width)[6 * width : 6 * width + n]
    return curve / curve.std()


def rates_of(rotations, rate_hz=RATE):
    """(n, 3) angular rates in the moving frame, from (n + 1) rotations."""
    return (rotations[:-1].inv() * rotations[1:]).as_rotvec() * rate_hz


def joint_motion(seconds=30.0, rate_hz=RATE, seed=0, swing_rad=0.5, carry_rad=0.6, cross_rad=0.0, noise=0.0):
    """Two clips around a hinge about z: (rates 1, rates 2, true axis in clip 1, true axis in clip 2, hinge angle).

    carry_rad : how far the first segment itself turns about (x, y, z), a number or three [rad, standard deviation].
    cross_rad : how far the joint also turns about x, like the hinge's own `swing_rad`.   noise : of a rate [rad/s].
    """
    rng = np.random.default_rng(seed)
    n = round(seconds * rate_hz) + 1
    width = round(0.15 * rate_hz)
    carry = np.broadcast_to(carry_rad, 3)
    first = Rotation.from_euler("zyx", np.column_stack([c * smooth_noise(n, width, rng) for c in carry[::-1]]))
    angle = swing_rad * smooth_noise(n, width, rng)
    cross = cross_rad * smooth_noise(n, width, rng)
    second = first * Rotation.from_euler("ZX", np.column_stack([angle, cross]))
    mounts = Rotation.random(2, rng=rng)
    rates = [
        rates_of(segment * mount, rate_hz) + noise * rng.normal(size=(n - 1, 3))
        for segment, mount in zip((first, second), mounts, strict=True)
    ]
    axes = [mount.inv().apply([0.0, 0.0, 1.0]) for mount in mounts]
    return rates[0], rates[1], axes[0], axes[1], angle[:-1]


def off_deg(found, true):
    """Angle between two axes whatever their signs [deg]."""
    return float(np.degrees(np.arccos(min(1.0, abs(float(np.dot(found, true)))))))
