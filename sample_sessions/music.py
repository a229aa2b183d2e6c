"""What the feet play: strokes of a practice routine in bars, and the curves they draw. Pure.

The routine is the same on every set-up: eight-bar sections (backbeat, quarters, sixteenth-note pairs), a fill in each
eighth bar, a bar's rest after each section. Depths, lifts and timing vary from stroke to stroke.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Side

Array = NDArray[np.float64]

STEPS = 16  # sixteenths in a bar of four quarters
_KICK: tuple[tuple[int, ...], ...] = ((0, 7, 8, 10), (0, 4, 8, 12), (0, 3, 4, 7, 8, 11, 12, 15))
_KICK_FILL = (0, 4, 12, 14)
_HAT: tuple[tuple[int, ...], ...] = ((4, 12), (2, 6, 10, 14), (4, 12))
_HAT_FILL = (0, 8)
_HEEL_UP_SECTION = 2
_SECTION_BARS = 9  # eight and a rest


@dataclass(frozen=True)
class Strokes:
    """Strokes of one foot. onset_s : the pedal is all the way down [s]. depth_deg, lift_deg : down, and up before."""

    onset_s: Array
    depth_deg: Array
    lift_deg: Array


def ease(u: Array) -> Array:
    """From 0 to 1 while u goes from 0 to 1, with no jump in speed or acceleration (quintic)."""
    v = np.clip(u, 0.0, 1.0)
    return v**3 * (10 + v * (6 * v - 15))


def bump(t: Array, rise: float, hold: float, fall: float) -> Array:
    """0 to 1 during `rise`, 1 for `hold`, back to 0 during `fall` [s], beginning at t = 0."""
    return ease(t / rise) - ease((t - rise - hold) / fall)


def routine(side: Side, duration_s: float, tempo_bpm: float, rng: np.random.Generator) -> Strokes:
    """The strokes of one foot (right: bass drum, left: hi-hat) for `duration_s`, from the first bar.

    Timing scatters by 12 ms (SD), depth by a quarter; before about half the strokes the foot is lifted.
    """
    bar_s = 240.0 / tempo_bpm
    grooves, fill = (_KICK, _KICK_FILL) if side == "right" else (_HAT, _HAT_FILL)
    onsets: list[float] = []
    for bar in range(int((duration_s - 1.0) / bar_s)):
        section, place = divmod(bar, _SECTION_BARS)
        steps = () if place == 8 else fill if place == 7 else grooves[section % len(grooves)]
        onsets += [(bar + step / STEPS) * bar_s for step in steps]
    onset = 0.6 + np.array(onsets)
    n = len(onset)
    onset = np.sort(onset + rng.normal(scale=0.012, size=n))
    depth = np.clip(rng.lognormal(np.log(5.5), 0.25, n), 3.0, 9.0)
    lift = np.where(rng.random(n) < 0.5, np.clip(rng.lognormal(np.log(7.0), 0.3, n), 2.0, 12.0), 0.0)
    return Strokes(onset, depth, lift)


def heel_up_spans(duration_s: float, tempo_bpm: float) -> list[tuple[float, float]]:
    """The sections that a pupil who uses both techniques plays heel-up, [(start_s, end_s)]."""
    section_s = _SECTION_BARS * 240.0 / tempo_bpm
    starts = np.arange(_HEEL_UP_SECTION, int(duration_s / section_s) + 1, len(_KICK)) * section_s
    return [(float(s), float(min(s + section_s, duration_s - 1.5))) for s in starts if s + 6 < duration_s]


def _sum_of_bumps(t: Array, start: Array, height: Array, rise: float, hold: float, fall: float) -> Array:
    """Equal-shaped bumps of different heights, added up; each is worked out only where it is not zero."""
    out = np.zeros(len(t))
    first = np.searchsorted(t, start)
    last = np.searchsorted(t, start + rise + hold + fall)
    for begin, a, b, h in zip(start, first, last, height, strict=True):
        out[a:b] += h * bump(t[a:b] - begin, rise, hold, fall)
    return out


def press_curve(t: Array, strokes: Strokes) -> Array:
    """How far the strokes push the board down, (n,) [deg]: 55 ms down, 30 ms there, 120 ms back."""
    return _sum_of_bumps(t, strokes.onset_s - 0.055, strokes.depth_deg, 0.055, 0.03, 0.12)


def lift_curve(t: Array, strokes: Strokes, room_deg: float) -> Array:
    """How far the foot is lifted before strokes, (n,) [deg]; a lift uses up a share of the room, never all of it.

    room_deg : between the foot at rest and the end of the active range. A lift wished for of L reaches
    room (1 - exp(-L / room)); the curve keeps below the room also where two lifts overlap.
    """
    room = max(room_deg, 0.5)
    wished = _sum_of_bumps(t, strokes.onset_s - 0.36, strokes.lift_deg, 0.14, 0.12, 0.10)
    return room * (1 - np.exp(-wished / room))


@dataclass(frozen=True)
class Wander:
    """A slow, smooth, random course: six sines of 20-140 s. Made once, evaluated anywhere."""

    amplitude: Array
    pulse: Array
    phase: Array

    @classmethod
    def draw(cls, rng: np.random.Generator, sd: float) -> Wander:
        """A course whose standard deviation over a long time is `sd` (any unit)."""
        weight = rng.uniform(0.5, 1.5, 6)
        period = np.exp(rng.uniform(np.log(20), np.log(140), 6))
        amplitude = sd * weight * np.sqrt(2 / np.sum(weight**2))
        return cls(amplitude, 2 * np.pi / period, rng.uniform(0, 2 * np.pi, 6))

    def __call__(self, t: Array) -> Array:
        """Its value at times t, (n,) [s] -> (n,)."""
        out = np.zeros(len(t))
        for a, w, p in zip(self.amplitude, self.pulse, self.phase, strict=True):
            out += a * np.sin(w * t + p)
        return out
