"""What one guided recording consists of: steps in order, each a thing to read or a phase to do. Pure.

Order: the cautions; still; ankle taps, knee kicks and thigh lifts, one leg at a time; the range check (practice
repetitions first, then those that are kept); for each set-up in turn still, rest on the pedal, lift test, playing; the
checks at the end. Which moves are needed follows from the clips that are worn. A coach's fitting session takes parts
of it alone: the slide in socks, or the range check.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..models import FELT_0_10, SIDES, Side

Times = tuple[float, float, float, float]  # out, hold, back, pause [s]

CALIBRATION = {"ankle_taps": "foot", "knee_kicks": "shank", "thigh_lifts": "thigh"}
"""Moves that show how a clip sits, and the segment whose clip it is."""
ANKLE_RANGE = ("range_dorsiflexion", "range_plantarflexion")
HIP_RANGE = (
    "range_hip_flexion",
    "range_abduction",
    "range_adduction",
    "range_internal_rotation",
    "range_external_rotation",
)
BOTH_AT_ONCE = ("range_abduction", "range_adduction", "end_range")
"""Both feet stay on the floor in these, so both legs move together; all others one leg at a time, for balance."""
HIP_TURNS = ("range_internal_rotation", "range_external_rotation")
"""They show the thigh's long axis."""
SLIDES_ON = {"shank", "thigh"}
"""Segments of both legs that need a clip for the slide."""
ON_PEDAL = ("rest_on_pedal", "lift_test", "playing")

MOVES = "moves"
"""The caution that is about the moves."""

StepKind = Literal["caution", "setup", "phase", "felt"]
Only = Literal["slide", "range"]


@dataclass(frozen=True)
class Pace:
    """How long things take [s]; all ours. The range check follows common practice: slowly out, held, slowly back.

    ready_s : to read an instruction when nobody presses Enter; move_s : to change a set-up then. count_s : 3, 2, 1.
    lead_s : from the beginning of a phase to its first movement. moves, practice, kept, lifts, end_lifts, slides :
    repetitions.
    """

    ready_s: float = 8.0
    move_s: float = 20.0
    count_s: float = 3.0
    lead_s: float = 1.5
    still_s: float = 6.0
    still_again_s: float = 5.0
    rest_s: float = 6.0
    moves: int = 5
    practice: int = 2
    kept: int = 3
    lifts: int = 3
    end_lifts: int = 2
    slides: int = 5
    move_times: Times = (1.2, 0.2, 1.2, 0.6)
    range_times: Times = (1.6, 2.2, 1.6, 1.2)


@dataclass(frozen=True)
class Wish:
    """What was asked for. setups : in the order they are played; a name may come again.

    worn : names of the places that have a clip. minutes : of playing on each; None = until it is ended. felt : ask how
    each set-up felt. only : the slide or the range check alone, without playing.
    """

    setups: Sequence[str]
    worn: Sequence[str]
    minutes: float | None = 3.0
    exercise: str | None = None
    tempo_bpm: float | None = None
    practice_only: bool = False
    range_check: bool = True
    felt: bool = True
    only: Only | None = None


@dataclass(frozen=True)
class Step:
    """One thing to do. seconds : None = until it is ended. times, repetitions, practice : of repeated moves.

    side : None = both legs. number : which visit of this set-up it belongs to, from 1. wait_s : to get ready when
    nobody presses Enter. asks : which of `FELT_0_10`, or `MOVES`. for_next : only of use to the move after it.
    """

    kind: StepKind
    phase: str | None = None
    side: Side | None = None
    setup: str | None = None
    seconds: float | None = None
    repetitions: int = 0
    practice: int = 0
    times: Times | None = None
    lead_s: float = 0.0
    exercise: str | None = None
    tempo_bpm: float | None = None
    number: int | None = None
    wait_s: float = 8.0
    asks: str | None = None
    for_next: bool = False

    @property
    def is_range(self) -> bool:
        """Whether it goes to an end of the active range."""
        return self.phase is not None and (self.phase.startswith("range_") or self.phase in ("end_range", "slide"))

    @property
    def is_move(self) -> bool:
        """Whether it is a move for its own sake: calibration, range check, lifts on the pedal."""
        return self.phase is not None and (self.is_range or self.phase in CALIBRATION or self.phase == "lift_test")

    def without(self, side: Side | None) -> Step | None:
        """This step without a leg that hurts (None = both); None when nothing is left of it."""
        if not self.is_move:
            return self
        if side is None or self.side == side:
            return None
        return self if self.side is not None else replace(self, side="left" if side == "right" else "right")

    def repetition_at(self, since_s: float) -> tuple[int, int]:
        """(repetition from 0, part of it: 0 out, 1 hold, 2 back, 3 pause) at a time since its beginning [s].

        (-1, 3) before the first movement, (repetitions, 3) after the last.
        """
        if self.times is None or since_s < self.lead_s:
            return -1, 3
        number, within = divmod(since_s - self.lead_s, sum(self.times))
        if number >= self.repetitions:
            return self.repetitions, 3
        part = 0
        while part < 3 and within >= self.times[part]:
            within -= self.times[part]
            part += 1
        return int(number), part


@dataclass(frozen=True)
class Plan:
    """The steps, and sentences about what cannot be known with the clips that are worn."""

    steps: tuple[Step, ...]
    notes: tuple[str, ...] = ()

    def seconds(self, pace: Pace | None = None) -> float:
        """About how long it takes when nobody hurries, playing included [s]."""
        pace = pace or Pace()
        return sum((step.seconds or 0.0) + pace.count_s + step.wait_s for step in self.steps if step.kind != "felt")


def legs_of(worn: Sequence[str]) -> dict[Side, set[str]]:
    """The segments with a clip, by leg; legs without any are left out."""
    found: dict[Side, set[str]] = {}
    for side in SIDES:
        segments = {name.removeprefix(f"{side}_") for name in worn if name.startswith(f"{side}_")}
        if segments:
            found[side] = segments
    return found


def make_plan(wish: Wish, pace: Pace | None = None) -> Plan:
    """The steps of a recording. Raises ValueError when no set-up is named or no leg has a clip.

    So it does for a slide without the clips that it needs.
    """
    pace = pace or Pace()
    legs = legs_of(wish.worn)
    if not wish.setups or not legs:
        raise ValueError("a plan needs a set-up and a leg with a clip")
    steps = [Step("caution", wait_s=pace.move_s)]
    if not wish.practice_only:
        steps.append(Step("caution", asks=MOVES, wait_s=pace.move_s))
    steps.append(_still("still", pace.still_s, pace))
    if not wish.practice_only:
        steps += _calibration(legs, pace)
        if wish.only == "slide":
            steps += _slide(wish.worn, pace)
        elif wish.range_check:
            steps += _range_check(legs, pace)
    visits: dict[str, int] = {}
    for name in wish.setups if wish.only is None else ():
        visits[name] = visits.get(name, 0) + 1
        steps += _setup(name, visits[name], wish, pace)
    steps.append(_still("end_still", pace.still_s, pace))
    if not wish.practice_only and wish.range_check and wish.only != "slide":
        steps += _repeated("end_range", _legs_with(legs, {"foot", "shank"}), pace)
    return Plan(tuple(steps), tuple(_notes(wish, legs)))


def _still(phase: str, seconds: float, pace: Pace, number: int | None = None) -> Step:
    return Step("phase", phase, seconds=seconds, number=number, wait_s=pace.ready_s)


def _calibration(legs: dict[Side, set[str]], pace: Pace) -> list[Step]:
    return [
        _move(phase, side, pace.moves, 0, pace.move_times, pace)
        for phase, segment in CALIBRATION.items()
        for side in legs
        if segment in legs[side]
    ]


def _range_check(legs: dict[Side, set[str]], pace: Pace) -> list[Step]:
    steps: list[Step] = []
    for phase in ANKLE_RANGE:
        steps += _repeated(phase, _legs_with(legs, {"foot", "shank"}), pace)
    hips = _legs_with(legs, {"shank", "thigh"})
    for phase in HIP_RANGE if hips else ():
        if phase == "range_abduction":  # which way the thighs face is forgotten in minutes
            steps.append(replace(_still("still", pace.still_again_s, pace), for_next=True))
        steps += _repeated(phase, hips, pace)
    return steps


def can_slide(worn: Sequence[str]) -> bool:
    """Whether the clips that are worn show a slide."""
    legs = legs_of(worn)
    return all(legs.get(side, set()) >= SLIDES_ON for side in SIDES)


def _slide(worn: Sequence[str], pace: Pace) -> list[Step]:
    if not can_slide(worn):
        raise ValueError("the slide needs clips on thigh and shank of both legs")
    turns = [step for phase in HIP_TURNS for step in _repeated(phase, SIDES, pace)]
    still = replace(_still("still", pace.still_again_s, pace), for_next=True)
    return [*turns, still, _move("slide", None, pace.slides, 0, pace.range_times, pace)]


def _legs_with(legs: dict[Side, set[str]], segments: set[str]) -> list[Side]:
    return [side for side, worn in legs.items() if segments <= worn]


def _repeated(phase: str, sides: Sequence[Side], pace: Pace) -> list[Step]:
    practice = 0 if phase == "end_range" else pace.practice
    count = pace.end_lifts if phase == "end_range" else pace.practice + pace.kept
    groups: list[Side | None] = [None] if phase in BOTH_AT_ONCE and len(sides) == len(SIDES) else [*sides]
    return [_move(phase, side, count, practice, pace.range_times, pace) for side in groups]


def _move(phase: str, side: Side | None, count: int, practice: int, times: Times, pace: Pace) -> Step:
    seconds = pace.lead_s + count * sum(times)
    return Step("phase", phase, side, None, seconds, count, practice, times, pace.lead_s, wait_s=pace.ready_s)


def _setup(name: str, visit: int, wish: Wish, pace: Pace) -> list[Step]:
    on_it = {"setup": name, "number": visit, "wait_s": pace.ready_s}
    steps = [Step("setup", setup=name, number=visit, wait_s=pace.move_s)]
    if not wish.practice_only:
        steps += [
            _still("still", pace.still_again_s, pace, visit),
            Step("phase", "rest_on_pedal", seconds=pace.rest_s, **on_it),
            Step(
                "phase", "lift_test", None, name, pace.lead_s + pace.lifts * sum(pace.range_times), pace.lifts, 0,
                pace.range_times, pace.lead_s, number=visit, wait_s=pace.ready_s,
            ),
        ]  # fmt: skip
    seconds = None if wish.minutes is None else wish.minutes * 60
    steps.append(Step("phase", "playing", seconds=seconds, exercise=wish.exercise, tempo_bpm=wish.tempo_bpm, **on_it))
    if wish.felt:
        steps += [Step("felt", asks=asks, **on_it) for asks in FELT_0_10]
    return steps


def _notes(wish: Wish, legs: dict[Side, set[str]]) -> list[str]:
    notes = [f"No clip is worn on the {side} leg, so it is not measured." for side in SIDES if side not in legs]
    for side, segments in legs.items():
        if "shank" not in segments:
            notes.append(f"Without a clip on the {side} shank no joint of that leg can be known.")
        elif "foot" not in segments:
            notes.append(f"Without a clip on the {side} foot its ankle is taken from the footboard's pitch.")
        elif "thigh" not in segments:
            notes.append(f"Without a clip on the {side} thigh its hip and knee cannot be known.")
        if not wish.practice_only and not wish.range_check and "thigh" in segments:
            notes.append(f"Without the hip turns of the range check the {side} hip needs a noted thigh_slope_deg.")
    if wish.practice_only:
        notes.append("Without the calibration moves the clips' directions are found from the playing, where it shows.")
    return notes
