"""Small pieces of sentences: amounts, counts, times, names of what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from .motions import BOTH, words

if TYPE_CHECKING:
    from .comparison import Comparison


# motion: (joint, what the room is for)
_PLAIN = {
    "ankle_dorsiflexion": ("ankle", "lifting the toes"),
    "ankle_plantarflexion": ("ankle", "pointing the toes"),
    "hip_flexion": ("hip", "lifting the knee"),
    "hip_horizontal_abduction": ("hip", "moving the knee outward"),
    "hip_horizontal_adduction": ("hip", "moving the knee inward"),
    "hip_internal_rotation": ("hip", "turning inward"),
    "hip_external_rotation": ("hip", "turning outward"),
    "hip_spread": ("hips", "spreading the legs"),
}


def whose(side: str, motion: str) -> str:
    """`your right ankle`."""
    joint = _PLAIN.get(motion, (motion.replace("_", " "), ""))[0]
    return f"your {joint}" if side == BOTH else f"your {side} {joint}"


def purpose(motion: str) -> str:
    """What the room is for: `lifting the toes`."""
    return _PLAIN.get(motion, ("", "this"))[1]


def clock(seconds: float) -> str:
    """`1:02:03` or `2:03`, for places in a recording."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def listed(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def outcome(case: Comparison) -> str:
    """`right ankle dorsiflexion`."""
    return words(case.side, case.motion)


def amount(case: Comparison, value: float) -> str:
    """`4.2 degrees`, `12 percentage points`."""
    return f"{abs(value):.1f} degrees" if case.measure == "median_room_deg" else points(value)


def points(share: float) -> str:
    """`12 percentage points`, of a difference of shares."""
    whole = 100 * abs(share)
    return f"{whole:.0f} percentage points" if whole >= 1.5 else "1 percentage point"


def signed(case: Comparison, value: float) -> str:
    """`+4.2 degrees`."""
    return f"{value:+.1f} degrees" if case.measure == "median_room_deg" else f"{100 * value:+.1f} points"


def between(case: Comparison, low: float, high: float) -> str:
    """`+1.2 to +5.0 degrees`."""
    if case.measure == "median_room_deg":
        return f"{low:+.1f} to {high:+.1f} degrees"
    return f"{100 * low:+.1f} to {100 * high:+.1f} points"


def percent(share: float) -> str:
    """`18 %`."""
    return f"{100 * share:.0f} %" if share >= 0.01 or share == 0.0 else "under 1 %"


def sessions(count: int) -> str:
    """`1 session`, `4 sessions`."""
    return "no session" if count == 0 else "1 session" if count == 1 else f"{count} sessions"


def more_sessions(count: int) -> str:
    """`1 more session`, `3 more sessions`."""
    return f"{count} more {'session' if count == 1 else 'sessions'}"


def basis(case: Comparison) -> str:
    """What it rests on: `4 sessions with both set-ups in one wearing`."""
    if case.basis == "same wearing":
        return f"{sessions(case.pairs)} with both set-ups in one wearing"
    return f"{sessions(len(case.sessions_a))} on {case.a.label} and {len(case.sessions_b)} on {case.b.label}"


def missed(case: Comparison) -> float | None:
    """The largest difference, either way, that the interval still allows; None without one."""
    return None if case.difference is None else max(abs(limit) for limit in case.difference.interval)


def could_be(case: Comparison) -> str:
    """What the interval still allows: `up to 2.4 degrees more or 1.1 less with ‘b’`."""
    if case.difference is None:
        return ""
    low, high = case.difference.interval
    room = case.measure == "median_room_deg"
    if not room and max(abs(low), abs(high)) < 0.01:
        return "under 1 percentage point either way"

    def size(value: float) -> str:
        return f"{abs(value):.1f}" if room else f"{100 * abs(value):.0f}"

    unit = "degrees" if room else "percentage points"
    with_b = f"with ‘{case.b.label}’"
    if low < 0.0 < high:
        return f"up to {size(high)} {unit} more or {size(low)} less {with_b}"
    near, far = sorted((abs(low), abs(high)))
    return f"{size(near)} to {size(far)} {unit} {'more' if high > 0.0 else 'less'} {with_b}"
