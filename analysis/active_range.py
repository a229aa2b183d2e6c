"""The end of a person's active range: from the repetitions of a range check, else typed, earlier, or a norm.

Default: the mean of the last three kept repetitions after the practice ones (with five or more the first two are
practice, with four the first one). Three recorded repetitions after practice ones are common practice in the clinic;
`median` and `best_of_n` are there for comparison (best-of-n is a biased maximum that grows with n, so n stays three).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..logger.errors import InputError
from .motions import MOTION
from .norms import norm, why_no_norm
from .repetitions import Repetition, Span, find_repetitions

Source = Literal["this session", "typed", "earlier session", "norm"]
Method = Literal["mean_of_last_three", "median", "best_of_n"]
METHODS: tuple[Method, ...] = ("mean_of_last_three", "median", "best_of_n")
_RANK: dict[Source, int] = {"this session": 0, "typed": 1, "earlier session": 2, "norm": 3}

HOW_TO = (
    "next time move slowly to the end, hold it for one to two seconds and go back, three to five times; "
    "stop if it hurts"
)
# Outside these an end is more likely a mistake than a person: our plausibility bounds, no source.
PLAUSIBLE_DEG: dict[str, tuple[float, float]] = {
    "ankle_dorsiflexion": (0.0, 35.0),
    "ankle_plantarflexion": (20.0, 80.0),
    "hip_flexion": (70.0, 150.0),
    "hip_horizontal_abduction": (10.0, 80.0),
    "hip_horizontal_adduction": (-20.0, 50.0),
    "hip_internal_rotation": (10.0, 60.0),
    "hip_external_rotation": (10.0, 65.0),
    "hip_spread": (20.0, 160.0),
}


@dataclass(frozen=True)
class ActiveEnd:
    """The end of active range of one motion on one side.

    value_deg: on the motion's own trace, positive toward the end [deg]. source: where it comes from.
    repetitions: every one found. sd_deg, standard_error_deg: of the repetitions used [deg]; None with fewer than two.
    contact: the legs touched, so this is not the joint's end and there is no end zone. messages: for people.
    """

    value_deg: float
    source: Source
    repetitions: tuple[Repetition, ...] = ()
    sd_deg: float | None = None
    standard_error_deg: float | None = None
    contact: bool = False
    messages: tuple[str, ...] = ()

    @property
    def used(self) -> int:
        """How many repetitions the value rests on."""
        return sum(repetition.used for repetition in self.repetitions)


@dataclass(frozen=True)
class RangeCheck:
    """What the range phases of one motion gave: an end or none, and why."""

    end: ActiveEnd | None
    messages: tuple[str, ...] = ()


def measure_active_end(
    time_s: NDArray[np.float64],
    trace_deg: NDArray[np.float64],
    spans: Sequence[Span],
    *,
    method: Method = "mean_of_last_three",
    invalid: Sequence[Span] = (),
) -> RangeCheck:
    """The active end of one motion from its range phases in this session.

    time_s: (n,) uniform grid [s]. trace_deg: (n,) positive toward the end, NaN = not known [deg].
    spans: of the motion's range phases [s]. invalid: spans marked as not to be used (pain, wrong movement) [s].
    Raises InputError for an unknown method, ValueError for arrays of different length.
    """
    return end_of_repetitions(find_repetitions(time_s, trace_deg, spans, invalid=invalid), method=method)


def end_of_repetitions(repetitions: Sequence[Repetition], *, method: Method = "mean_of_last_three") -> RangeCheck:
    """Form the active end from repetitions in order of time. Raises InputError for an unknown method."""
    if method not in METHODS:
        raise InputError(f"{method!r} is no way to form an active end; use one of {', '.join(METHODS)}")
    found = len(repetitions)
    practice = 2 if found >= 5 else 1 if found == 4 else 0
    marked = [replace(rep, practice=index < practice, used=False) for index, rep in enumerate(repetitions)]
    usable = [index for index, rep in enumerate(marked) if not rep.practice and not rep.invalid]
    messages: list[str] = []
    if not usable:
        what = "no repetition was found in the range phase" if not found else "no repetition could be kept"
        return RangeCheck(None, (f"{what}: {HOW_TO}",))
    held = [index for index in usable if marked[index].held]
    kept = held if len(held) >= 3 else usable
    if len(held) < len(usable):
        left_out = "left out" if kept is held else "used all the same"
        messages.append(
            f"{len(usable) - len(held)} of {len(usable)} repetitions were not held for a second: {left_out}"
        )
    chosen = kept if method == "median" else kept[-3:]
    for index in chosen:
        marked[index] = replace(marked[index], used=True)
    values = np.array([marked[index].held_deg for index in chosen])
    value = {"mean_of_last_three": np.mean, "median": np.median, "best_of_n": np.max}[method](values)
    sd = float(np.std(values, ddof=1)) if values.size > 1 else None
    if values.size < 3:
        plural = "repetition" if values.size == 1 else "repetitions"
        messages.append(f"the end rests on {values.size} {plural} instead of three, so it is less sure: {HOW_TO}")
    if sd is not None and sd > 4.0:
        messages.append(f"the repetitions differ by {sd:.1f} deg (SD): check the clips and measure the range again")
    end = ActiveEnd(
        value_deg=float(value),
        source="this session",
        repetitions=tuple(marked),
        sd_deg=sd,
        standard_error_deg=None if sd is None else sd / math.sqrt(values.size),
        messages=tuple(messages),
    )
    return RangeCheck(end, end.messages)


def choose_active_end(
    motion: str,
    *,
    check: RangeCheck | None = None,
    typed_deg: float | None = None,
    earlier: ActiveEnd | None = None,
    contact: bool | None = None,
    use_norm: bool = True,
) -> tuple[ActiveEnd | None, str | None]:
    """The end to use, by precedence: this session's range check, typed here, an earlier session, a norm.

    contact: whether the legs touched; None takes the motion's usual (adduction: yes).
    Returns (end, None), or (None, the reason) when nothing is known.
    Raises InputError for a typed end that no joint has.
    """
    is_contact = MOTION[motion].contact if contact is None else contact
    notes = () if check is None or check.end is not None else check.messages
    if check is not None and check.end is not None:
        end = check.end
    elif typed_deg is not None:
        if not math.isfinite(typed_deg) or not -60.0 <= typed_deg <= 180.0:
            raise InputError(
                f"a typed {motion} end of {typed_deg:g} deg is impossible; give degrees from neutral, -60 to 180"
            )
        end = ActiveEnd(float(typed_deg), "typed")
    elif earlier is not None:
        end = replace(earlier, source="earlier session")
    else:
        published = norm(motion) if use_norm else None
        if published is None:
            why = why_no_norm(motion) if use_norm else f"add a {MOTION[motion].range_phase} phase or type the range"
            return None, "; ".join((*notes, f"the end of active range is not known: {why}"))
        text = f"{published.mean_deg:g} deg is a published mean, not this person's range, and no target"
        where = f"{published.source}; {published.conditions}; {published.how_sure}"
        end = ActiveEnd(published.mean_deg, "norm", messages=(f"{text} ({where})",))
    messages = (*notes, *end.messages, *_plausibility(motion, end))
    if is_contact:
        messages = (*messages, "the legs touch at this end, so it is no joint end and has no end zone")
    return replace(end, contact=is_contact, messages=messages), None


def spread_end(right: ActiveEnd | None, left: ActiveEnd | None) -> ActiveEnd | None:
    """The end of hip spread: right + left abduction ends, labelled by the weaker source; None unless both are known."""
    if right is None or left is None:
        return None
    errors = (right.standard_error_deg, left.standard_error_deg)
    deviations = (right.sd_deg, left.sd_deg)
    return ActiveEnd(
        value_deg=right.value_deg + left.value_deg,
        source=max(right.source, left.source, key=lambda source: _RANK[source]),
        sd_deg=_root_sum(deviations),
        standard_error_deg=_root_sum(errors),
        messages=(f"right {right.value_deg:.1f} + left {left.value_deg:.1f} deg of horizontal abduction",),
    )


def _root_sum(parts: tuple[float | None, ...]) -> float | None:
    known = [part for part in parts if part is not None]
    return math.hypot(*known) if len(known) == len(parts) else None


def _plausibility(motion: str, end: ActiveEnd) -> tuple[str, ...]:
    said = unusual(motion, end.value_deg, digits=1)
    return (f"an active end of {said}",) if said else ()


def unusual(motion: str, end_deg: float, *, digits: int = 0) -> str | None:
    """`43 deg is unusual (expected 0 to 35): measure again; ...`; None for an end that is to be expected."""
    low, high = PLAUSIBLE_DEG[motion]
    if low <= end_deg <= high:
        return None
    hint = "; was this a lunge test?" if motion == "ankle_dorsiflexion" and end_deg > high else ""
    return f"{end_deg:.{digits}f} deg is unusual (expected {low:g} to {high:g}): measure again{hint}"
