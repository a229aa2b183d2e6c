"""The guide: which step is on, what it shows, and what follows from keys and the passing of time. Pure: no clock, no
screen, no file; `record.py` gives it the time and does what it returns.

Keys: Enter goes on, s skips, r repeats, space pauses, p says that something hurts, o leaves out all moves, t says that
both heels were stamped gently at this moment (a shock that all clips feel), q twice ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from ..models import Side
from . import texts
from .acts import Act, Begin, Drop, End, Exchange, Prepare, Remark
from .checks import Swap, check_taps, restless
from .course import Course
from .keys import ENTER, NO, ONLY, PAIN, PAUSE, QUIT, REPEAT, RUBOUT, SKIP, TAP, YES
from .plan import ON_PEDAL, Pace, Plan, Step

Stage = Literal["wait", "count", "go", "moved", "swap", "side", "pain", "pause", "done"]
Ended = Literal["", "finished", "stopped", "swapped"]


class Guide:
    """One recording on its way.

    stage : what is on. ended : why it is over, "" while it is not. hands_free : each step begins by itself after its
    time to get ready; questions that nobody answers count as not answered. typed : digits of an answer so far.
    hurt : the step that hurt. swap : clips that look swapped, while that is asked.
    """

    def __init__(self, plan: Plan, hands_free: bool = False, pace: Pace | None = None) -> None:
        self.hands_free = hands_free
        self.stage: Stage = "wait"
        self.ended: Ended = ""
        self.note = " ".join(note[:1].upper() + note[1:] for note in plan.notes)
        self.pace = pace or Pace()
        self.course = Course(plan.steps)
        self._since_s = 0.0
        self._opened = False
        self._before: Step | None = None  # the phase that was done last
        self.hurt: Step | None = None
        self.swap: Swap | None = None
        self._left_s: float | None = None  # of a playing that was paused
        self._still_again = False
        self._quit_asked = False
        self.typed = ""

    @property
    def step(self) -> Step:
        """The step that is on (the last one when it is over)."""
        return self.course.step

    @property
    def asks_pain(self) -> bool:
        """Whether the move before is asked about."""
        before = self._before
        return self.stage == "wait" and before is not None and (before.is_range or before.phase == "lift_test")

    @property
    def moves_ahead(self) -> bool:
        """Whether moves are still to come (the one that waits included)."""
        return any(step.is_move for step in self.course.ahead)

    def since_s(self, now_s: float) -> float:
        """How long this stage is on [s]."""
        return now_s - self._since_s

    def left_s(self, now_s: float) -> float | None:
        """Until this stage ends by itself [s]; None when it does not."""
        limit = self._limit_s()
        return None if limit is None else max(0.0, limit - self.since_s(now_s))

    def tick(self, now_s: float, turning: Mapping[str, float] | None = None) -> list[Act]:
        """What follows from the time [s]. turning : how much each place turned since the phase began [rad/s]."""
        if not self._opened:
            self._opened = True
            return self._open(now_s)
        limit = self._limit_s()
        if self.stage == "done" or limit is None or self.since_s(now_s) < limit:
            return []
        match self.stage:
            case "count":
                return self._begin(now_s)
            case "go":
                return self._finish_phase(self._since_s + limit, now_s, turning or {})
            case "wait":
                return self._go_on(now_s, answered=False)
            case "swap":
                return self._answer_swap(NO, now_s)
            case "side":
                return self._stop_on_pain(None, now_s)
            case _:
                return self._next(now_s)

    def key(self, key: str, now_s: float) -> list[Act]:
        """What follows from a key. Keys that mean nothing now are ignored."""
        key = ENTER if key == "\r" else key.lower()
        if key == QUIT and self.stage != "done":
            return self._quit(now_s)
        self._quit_asked = False
        match self.stage:
            case "wait" | "count":
                return self._key_before(key, now_s)
            case "go":
                return self._key_in(key, now_s)
            case "moved":
                return self._key_moved(key, now_s)
            case "swap" if key in (YES, NO, ENTER):
                return self._answer_swap(key, now_s)
            case "side" if key in ("r", "l", ENTER):
                return self._stop_on_pain({"r": "right", "l": "left"}.get(key), now_s)  # type: ignore[arg-type]
            case "pain" if key == ENTER:
                return self._next(now_s)
            case "pause" if key in (ENTER, PAUSE):
                return self._to("count" if self._left_s is not None else "wait", now_s)
        return []

    def stop(self, now_s: float, ended: Ended = "stopped") -> list[Act]:
        """End it here; what runs is ended and kept, unless it is a move that was not finished."""
        acts: list[Act] = [self._broken_off(now_s)] if self.stage == "go" else []
        self.stage, self.ended = "done", ended
        return acts

    def _quit(self, now_s: float) -> list[Act]:
        if not self._quit_asked:
            self._quit_asked = True
            self.note = "q once more ends the recording and keeps it."
            return []
        return self.stop(now_s)

    def _key_before(self, key: str, now_s: float) -> list[Act]:
        step = self.step
        if step.kind == "felt" and (key.isdigit() or key in RUBOUT):
            typed = self.typed[:-1] if key in RUBOUT else self.typed + key
            self.typed = typed if not typed or int(typed) <= 10 else self.typed
            return []
        if key == ENTER and self.stage == "wait":
            return self._go_on(now_s, answered=True)
        if key == SKIP and step.kind != "caution":
            return self._next(now_s)
        if key == REPEAT and self._before is not None and self._before.phase != "playing":
            return self._again(now_s)
        if key == PAUSE:
            return self._to("pause", now_s)
        if key == PAIN:
            before = self._before
            return self._pain(before if before and (before.is_move or before.phase == "playing") else step, now_s)
        if key == ONLY:
            return self._only_practice(now_s)
        if key == TAP:
            self.note = texts.TAPPED
            return [Remark("sync_tap", now_s, {})]
        return []

    def _key_in(self, key: str, now_s: float) -> list[Act]:
        step = self.step
        if key == PAIN:
            return self._pain(step, now_s)
        if step.phase == "playing":
            if key in (ENTER, SKIP):
                return self._finish_phase(now_s, now_s, {})
            if key == PAUSE:
                self._left_s = self.left_s(now_s) if step.seconds is not None else float("inf")
                return [End(step, now_s), *self._to("pause", now_s)]
            return []
        if key == SKIP:
            return [Drop(step, now_s), *self._next(now_s)]
        if key in (REPEAT, PAUSE):
            return [Drop(step, now_s), *(self._to("pause", now_s) if key == PAUSE else self._open(now_s))]
        return []

    def _key_moved(self, key: str, now_s: float) -> list[Act]:
        if key == REPEAT and self._before is not None:
            return [Drop(self._before, now_s), *self._open(now_s)]
        return self._next(now_s) if key in (ENTER, SKIP) else []

    def _limit_s(self) -> float | None:
        step = self.step
        match self.stage:
            case "count":
                return self.pace.count_s
            case "go":
                return step.seconds if self._left_s is None else self._left_s
            case "done" | "pause":
                return None
        return step.wait_s if self.hands_free else None

    def _to(self, stage: Stage, now_s: float) -> list[Act]:
        self.stage, self._since_s = stage, now_s
        return []

    def _open(self, now_s: float) -> list[Act]:
        self._to("wait", now_s)
        if self.step.kind == "caution":
            return []
        pose = "rest_on_pedal" if self.step.phase in ON_PEDAL else "still"
        return [Prepare(pose, self.step.setup, now_s)]

    def _next(self, now_s: float) -> list[Act]:
        self._left_s, self._still_again = None, False
        if self.course.next():
            return self._open(now_s)
        self.stage, self.ended = "done", "finished"
        return []

    def _go_on(self, now_s: float, answered: bool) -> list[Act]:
        acts: list[Act] = []
        if self.asks_pain and self._before is not None:
            what = {"motion": self._before.phase, "side": self._before.side, "said": "no" if answered else "nothing"}
            acts.append(Remark("asked for pain", now_s, what))
        if self.step.kind == "caution":
            acts.append(Remark("cautions", now_s, {"of": self.step.asks or "all", "confirmed": answered}))
        if self.step.kind == "felt" and self.typed and self.step.asks is not None:
            acts.append(Remark("felt", now_s, {"setup": self.step.setup, self.step.asks: int(self.typed)}))
        self.note = self.typed = ""
        if self.step.kind != "phase":
            return acts + self._next(now_s)
        return acts + self._to("count", now_s)

    def _begin(self, now_s: float) -> list[Act]:
        self._to("go", now_s)
        return [Begin(self.step, now_s)]

    def _finish_phase(self, at_s: float, now_s: float, turning: Mapping[str, float]) -> list[Act]:
        step = self._before = self.step
        acts: list[Act] = [End(step, at_s)]
        if step.phase == "ankle_taps" and step.side is not None and turning:
            told = check_taps(step.side, turning)
            if isinstance(told, Swap):
                self.swap = told
                return [*acts, *self._to("swap", now_s)]
            self.note = told or ""
        if step.phase in ("still", "end_still") and (moved := restless(turning)):
            who = " and ".join(moved)
            if self.hands_free and not self._still_again:
                self._still_again = True
                self.note = texts.AGAIN_STILL.format(who=who)
                return [*acts, Drop(step, now_s), *self._open(now_s)]
            if not self.hands_free:
                self.note = texts.MOVED.format(who=who)
                return [*acts, *self._to("moved", now_s)]
            acts.append(Remark("not still", now_s, {"places": moved}))
        return [*acts, *self._next(now_s)]

    def _broken_off(self, now_s: float) -> Act:
        step = self._before = self.step
        return End(step, now_s) if step.phase == "playing" else Drop(step, now_s)

    def _again(self, now_s: float) -> list[Act]:
        """Back to the phase that was done last; it shall not count."""
        before, self._before = self._before, None
        if before is None or not self.course.back_to(before):
            return []
        self.note = ""
        return [Drop(before, now_s), *self._open(now_s)]

    def _answer_swap(self, key: str, now_s: float) -> list[Act]:
        swap, self.swap = self.swap, None
        if swap is None:
            return self._next(now_s)
        remark = Remark("looks swapped", now_s, {"seen": swap.sentence, "exchanged": key == YES})
        if key == YES:
            return [remark, Exchange(swap.pairs), *self.stop(now_s, "swapped")]
        self.note = swap.sentence
        return [remark, *self._next(now_s)]

    def _pain(self, step: Step, now_s: float) -> list[Act]:
        acts: list[Act] = []
        if self.stage == "go":
            acts = [self._broken_off(now_s)]
        elif step is self._before and step.is_move:
            acts = [Drop(step, now_s)]
        self.hurt = step
        if step.side is None and step.is_move:
            return [*acts, *self._to("side", now_s)]
        return acts + self._stop_on_pain(step.side, now_s)

    def _stop_on_pain(self, side: Side | None, now_s: float) -> list[Act]:
        """side : the leg that hurts; None = both, or not said. No more moves with it."""
        step = self.hurt or self.step
        ends = step.phase == "playing"  # after pain in playing only the last pose is left
        self.course.change_rest(
            lambda one: one.without(side) if not ends or one.phase == "end_still" else None,
            from_here=self.step is not step,  # asked while the next one waited: that may be a move of the same leg
        )
        self._before = None
        self._to("pain", now_s)
        self.note = ""
        what = {"motion": step.phase, "side": side or step.side or "both", "setup": step.setup}
        return [Remark("pain", now_s, what)]

    def _only_practice(self, now_s: float) -> list[Act]:
        """Leave out every move from here on."""
        first = self.step.kind == "caution"
        self.course.change_rest(lambda step: None if step.is_move else step, from_here=not first)
        acts: list[Act] = [Remark("practice only", now_s, {})]
        return acts + (self._go_on(now_s, answered=True) if first else self._next(now_s))
