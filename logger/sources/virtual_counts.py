"""What clips on a virtual drummer's legs measure, block by block, as the integers a 16-bit part delivers."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import Protocol, cast

import numpy as np
from numpy.typing import NDArray

from ..models import SIDES, Segment, Side
from ..virtual_clip import GRAVITY, ClipMount, clip_samples, random_rotation, to_counts
from ..virtual_drummer import VirtualDrummer
from ..virtual_leg import LegAngles, LegPose, leg_from_angles
from .base import Counts

Array = NDArray[np.float64]

ACC_SCALE = GRAVITY / 2048  # [m/s^2 per count]: +-16 g
GYR_SCALE = float(np.deg2rad(2000 / 32768))  # [rad/s per count]: +-2000 deg/s
_FINE = 2  # fine steps per sample
_KEPT_BLOCKS = 4


class CountsOf(Protocol):
    """Whatever gives a virtual clip its samples."""

    def __call__(self, first: int, count: int, rate_hz: float) -> Counts:
        """Samples `first` to `first + count - 1` of a clip at `rate_hz` [Hz] since time 0, (count, 6)."""
        ...


class VirtualWearing:
    """Clips on somebody's legs. Any thread may ask; what was asked for once comes out the same again for a while.

    names : `right_foot`, ...; the pelvis keeps still. block_s : computed at a time [s]; what the drummer begins takes
    effect at the next block, so keep it short for somebody who follows instructions. clean : no noise.
    """

    def __init__(
        self,
        drummer: VirtualDrummer,
        names: Sequence[str],
        block_s: float = 0.25,
        seed: int = 0,
        clean: bool = False,
    ) -> None:
        self.drummer = drummer
        self.names = tuple(names)
        self._block_s, self._seed, self._clean = block_s, seed, clean
        rng = np.random.default_rng([seed, 1])
        self.mounts = {name: _mount(name, drummer, rng) for name in self.names}
        self._blocks: dict[tuple[Side, float, int], dict[str, Counts]] = {}
        self._lock = threading.Lock()

    def counts_of(self, name: str) -> CountsOf:
        """The samples of one clip, as a function of sample numbers."""

        def counts(first: int, count: int, rate_hz: float) -> Counts:
            return self.counts(name, first, count, rate_hz)

        return counts

    def counts(self, name: str, first: int, count: int, rate_hz: float) -> Counts:
        """Samples `first` to `first + count - 1` of clip `name`, (count, 6) int16; sample k is at time k / rate [s]."""
        side: Side = "left" if name.startswith("left") else "right"
        length = max(1, round(self._block_s * rate_hz))
        pieces = []
        number = first
        while number < first + count:
            block, offset = divmod(number, length)
            take = min(length - offset, first + count - number)
            pieces.append(self._block(side, rate_hz, block, length)[name][offset : offset + take])
            number += take
        return np.concatenate(pieces) if len(pieces) != 1 else pieces[0]

    def _block(self, side: Side, rate_hz: float, block: int, length: int) -> dict[str, Counts]:
        key = (side, rate_hz, block)
        with self._lock:
            found = self._blocks.get(key)
            if found is None:
                found = self._blocks[key] = self._measured(side, rate_hz, block * length, length)
                while len(self._blocks) > _KEPT_BLOCKS * len(SIDES):
                    del self._blocks[next(iter(self._blocks))]
        return found

    def _measured(self, side: Side, rate_hz: float, first: int, count: int) -> dict[str, Counts]:
        drummer, fine = self.drummer, rate_hz * _FINE
        steps = np.arange(
            (first - 1) * _FINE, (first + count + 1) * _FINE, dtype=np.float64
        )  # one more sample at either end
        t = (steps - (_FINE - 1) / 2) / fine
        angles = LegAngles.from_array(drummer.angles(side, t))
        pose = leg_from_angles(angles, drummer.throne.size, side, drummer.throne.hip_height)
        out = {}
        for i, name in enumerate(self.names):
            if name != "pelvis" and not name.startswith(side):
                continue
            segment = cast(Segment, name.rsplit("_", 1)[-1])
            rng = None if self._clean else np.random.default_rng([self._seed, 2, i, first, round(rate_hz)])
            rotation, origin = getattr(pose, segment), _origin(pose, segment)
            acc, gyr = clip_samples(rotation, origin, self.mounts[name], fine, _FINE, rng)
            counts = np.concatenate([to_counts(acc, ACC_SCALE), to_counts(gyr, GYR_SCALE)], axis=1)
            out[name] = counts[1:-1]
        return out


def _origin(pose: LegPose, segment: Segment) -> Array:
    return {"foot": pose.ankle, "shank": pose.knee, "thigh": pose.hip, "pelvis": pose.hip}[segment]


def _mount(name: str, drummer: VirtualDrummer, rng: np.random.Generator) -> ClipMount:
    """Put on any way round, about where it belongs: instep, inner shin, front of the thigh, sacrum."""
    size = drummer.throne.size
    inner = 0.03 if name.startswith("left") else -0.03
    place = {
        "foot": (0.5 * size.ball_to_ankle, -0.02, 0.0),
        "shank": (0.02, -0.6 * size.shank, inner),
        "thigh": (0.06, -0.55 * size.thigh, 0.0),
        "pelvis": (-0.12, 0.05, 0.0),
    }[name.rsplit("_", 1)[-1]]
    return ClipMount(
        rotation=random_rotation(rng),
        position=np.array(place) + rng.normal(scale=0.01, size=3),
        gyr_bias=np.deg2rad(rng.normal(scale=0.4, size=3)),
        acc_bias=rng.normal(scale=0.005 * GRAVITY, size=3),
    )
