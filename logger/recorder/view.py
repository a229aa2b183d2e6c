"""What the screen shows of the guide at one moment, as words and numbers. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from . import texts
from .guide import Guide
from .plan import MOVES, Step

BY_ITSELF = "begins by itself"
READING_S = 10.0
"""Between two steps, on average (ours) [s]."""


@dataclass(frozen=True)
class View:
    """where : which step of how many. title, lines : the instruction. count : large, seconds left or `1:20`.
    cue : what to do this very moment. counted : which repetition. keys : what may be pressed. note : what was noticed.
    """

    where: str
    title: str
    lines: tuple[str, ...] = ()
    count: str = ""
    cue: str = ""
    counted: str = ""
    keys: str = ""
    note: str = ""


def view_of(guide: Guide, now_s: float) -> View:
    """What to show at a time [s]."""
    step, said = guide.step, texts.said(guide.step)
    where = f"step {guide.course.number} of {guide.course.of}, {_to_go(guide)}"
    base = View(where, said.title, said.lines, note=guide.note)
    left, hands_free = guide.left_s(now_s), guide.hands_free
    match guide.stage:
        case "wait":
            return _waiting(guide, base, left)
        case "count":
            return replace(base, count=_seconds(left), cue="get ready", keys="space = wait")
        case "go":
            return _going(guide, base, step, said, now_s)
        case "moved":
            return replace(base, keys="r = once more, Enter = go on")
        case "swap":
            seen = "" if guide.swap is None else guide.swap.sentence
            return View(where, "Are clips swapped?", (seen, texts.SWAP_QUESTION), _seconds(left), keys=texts.SWAP_KEYS)
        case "side":
            return View(where, "Stop", (texts.WHICH_SIDE,), _seconds(left), keys="r, l or Enter")
        case "pain":
            in_playing = guide.hurt is not None and guide.hurt.phase == "playing"
            lines = texts.ON_PAIN_PLAYING if in_playing else texts.ON_PAIN
            return View(where, "Stop", lines, _seconds(left), keys="" if hands_free else "Enter = go on")
        case "pause":
            return replace(base, cue="paused", keys="space or Enter = go on, s = skip, q = end")
        case "done":
            return View(where, "Done", ("What was recorded is being put into the logbook.",), note=guide.note)


def _waiting(guide: Guide, base: View, left: float | None) -> View:
    step = guide.step
    lines = base.lines
    if step.kind == "caution":
        question = texts.BEFORE_MOVES if step.asks == MOVES else texts.READ_IT
        if guide.hands_free:
            question = texts.HANDS_FREE
        return replace(base, lines=(*lines, question), count=_seconds(left), keys="Enter = go on, q q = leave")
    if step.kind == "felt":
        return replace(base, count=guide.typed, keys="0 to 10, Enter = go on, s = no answer")
    if step.seconds is not None:
        takes = f"It takes {texts.duration(step.seconds)}."
        lines = (*lines, takes)
    if guide.asks_pain:
        lines = (texts.ASK_PAIN, *lines)
    counted = BY_ITSELF if guide.hands_free else ""
    go = "space = wait, " if guide.hands_free else "Enter = start, " if step.kind == "phase" else "Enter = done, "
    more = ", o = no more moves" if guide.moves_ahead else ""
    return replace(
        base,
        lines=lines,
        count=_seconds(left),
        counted=counted,
        keys=f"{go}s = skip, r = again, p = pain{more}, q q = end",
    )


def _going(guide: Guide, base: View, step: Step, said: texts.Said, now_s: float) -> View:
    left = guide.left_s(now_s)
    count = _seconds(left) if left is not None and math.isfinite(left) else _seconds(guide.since_s(now_s))
    if step.phase == "playing":
        return replace(base, count=count, cue="play", keys="Enter = done, space = pause, p = pain, q q = end")
    keys = "p = pain, s = skip, r = from the start"
    if step.times is None:
        return replace(base, count=count, cue="do not move", keys=keys)
    number, part = step.repetition_at(guide.since_s(now_s))
    cue = said.cues[part] if 0 <= number < step.repetitions else "wait" if number < 0 else "rest"
    if cue == "":  # a move without a hold goes on into the way back
        cue = said.cues[2]
    return replace(base, count=count, cue=cue, counted=_counted(step, number), keys=keys)


def _to_go(guide: Guide) -> str:
    """What the steps ahead take, playing without an end left out."""
    seconds = sum((step.seconds or 0.0) + READING_S for step in guide.course.ahead)
    return f"about {max(1, round(seconds / 60))} min to go"


def _counted(step: Step, number: int) -> str:
    number = min(max(number, 0), step.repetitions - 1)
    if number < step.practice:
        return f"practice {number + 1} of {step.practice}"
    return f"{number - step.practice + 1} of {step.repetitions - step.practice}"


def _seconds(left: float | None) -> str:
    """`7`, or `1:20` from a minute on; "" for none."""
    if left is None or not math.isfinite(left):
        return ""
    whole = math.ceil(left - 1e-6)
    return f"{whole // 60}:{whole % 60:02d}" if whole >= 60 else str(whole)
