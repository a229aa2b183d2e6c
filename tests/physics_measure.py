"""What a clip would measure, from the poses the engine realised.

Specific force from the second difference of the clip's position, angular rate from successive orientations, both on
the fine grid (1 kHz or finer), then averaged down to the clip's rate as a real part's filter does. A stamp is the
centre of the averaged span: sample k covers the poses k*N ... (k+1)*N and is stamped (k + 1/2) / rate.
An orientation integrated through sample k therefore holds at the END of its span, half a period after its stamp.
"""

import math

import numpy as np
from physics_model import GRAVITY
from physics_quaternion import increments
from scipy.spatial.transform import Rotation


def fine_steps(rate_hz):
    """Even number of fine steps a sample, so that a stamp is itself a pose and the grid is 1 kHz or finer."""
    return 2 * math.ceil(1000.0 / rate_hz / 2.0)


def measure(quaternions, points, dt_s, steps):
    """Ideal samples of one clip: `(acc (k, 3) [m/s^2], gyr (k, 3) [rad/s])` in its own axes.

    `quaternions` (m, 4) wxyz and `points` (m, 3) [m] on the fine grid, m = k * steps + 3: one pose before the first
    span and one after the last.
    """
    orientation = Rotation.from_quat(quaternions[1:-1], scalar_first=True)
    second = (points[2:] - 2.0 * points[1:-1] + points[:-2]) / dt_s**2
    force = orientation.apply(second + np.array([0.0, GRAVITY, 0.0]), inverse=True)
    rate = increments(quaternions[1:-1]) / dt_s
    count = len(rate) // steps
    gyr = rate.reshape(count, steps, 3).mean(axis=1)
    middle = 0.5 * (force[:-1] + force[1:])
    return middle.reshape(count, steps, 3).mean(axis=1), gyr
