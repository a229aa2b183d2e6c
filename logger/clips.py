"""What can be heard, for `footroom clips`: listen for a while, say who is there; make one blink."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .errors import SourceError
from .sources.base import Answered, ClipFacts, Connected, Source, Trouble
from .sources.listening import Listening, listen, refuse_same_ids
from .virtual_clip import GRAVITY
from .worn import WornClips

PATIENCE_S = 8.0  # how long a clip that was named is waited for [s]; a hello comes once a second
ANSWER_S = 1.5  # a command without an answer for so long is sent again [s]
ATTEMPTS = 3
MORE_S = 0.5  # for what comes together with what was waited for [s]
_TURN_S = 0.1
_ASIDE = ("version", "same id")  # problems of a clip, said even when others are well


@dataclass
class Found:
    """What was heard. clips : by id. problems : what stood in the way."""

    clips: list[ClipFacts] = field(default_factory=list)
    problems: list[SourceError] = field(default_factory=list)


def hear(sources: Sequence[Source], seconds: float, patient: bool, expected: int | None = None) -> Found:
    """Listen for so many seconds [s]; the clips heard, and the problems met.

    patient : a source that cannot be opened is a problem among others. Raises SourceError otherwise, and when none
    can be opened. expected : so many clips are enough; ends soon after they are heard, and, when not patient, soon
    after the first problem.
    """
    found = Found()
    clips: dict[tuple[str, str], ClipFacts] = {}
    with listen(sources, patient=patient) as listening:
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            for event in listening.take(_TURN_S):
                if isinstance(event, Trouble):
                    problem = SourceError(event.problem, event.reason, event.place)
                    if str(problem) not in map(str, found.problems):
                        found.problems.append(problem)
                    if not patient:
                        end_s = min(end_s, time.monotonic() + MORE_S)
                elif isinstance(event, Connected):
                    clips[event.clip, event.facts.place] = event.facts
                    if expected is not None and len(clips) >= expected:
                        end_s = min(end_s, time.monotonic() + MORE_S)
        for facts in listening.clips():  # with what was learned since
            clips[facts.clip, facts.place] = facts
    found.clips = sorted(clips.values(), key=lambda facts: (facts.clip, facts.place))
    try:
        refuse_same_ids(found.clips)
    except SourceError as error:
        found.problems.append(error)
    return found


def to_refuse(found: Found, named: bool) -> SourceError | None:
    """The problem that `footroom clips` ends with, if any.

    named : the sources were asked for by name, so what stands in their way matters; else only what is wrong with a clip
    that is heard, or whatever stood in the way when none is.
    """
    if named or not found.clips:
        return next(iter(found.problems), None)
    return next((problem for problem in found.problems if problem.reason in _ASIDE), None)


def blink(sources: Sequence[Source], clip: str, seconds: int) -> ClipFacts:
    """Make a clip blink, asking again when no answer comes; returns its facts.

    Raises SourceError when the clip is not heard, heard twice, does not answer or refuses.
    """
    with listen(sources, patient=True) as listening:
        facts = _wait_for(listening, clip)
        for _ in range(ATTEMPTS):
            listening.command(clip, "identify", seconds)
            answer = _answer(listening, clip)
            if answer is not None and answer.accepted:
                return facts
            if answer is not None:
                raise SourceError(f"the clip {clip} does not blink: {answer.text}.", "refused", clip)
    raise SourceError(
        f"the clip {clip} ({facts.place}) does not answer; bring it nearer, or switch it off and on.", "no answer", clip
    )


def _wait_for(listening: Listening, clip: str) -> ClipFacts:
    end_s = time.monotonic() + PATIENCE_S
    problems: list[str] = []
    while True:
        problems += [event.problem for event in listening.take(_TURN_S) if isinstance(event, Trouble)]
        facts = next((facts for facts in listening.clips() if facts.clip == clip), None)
        if facts is not None:
            return facts
        if time.monotonic() > end_s:
            heard = ", ".join(facts.clip for facts in listening.clips())
            there = f"; heard are {heard}" if heard else ""
            why = f" ({problems[0].rstrip('.')})" if problems and not heard else ""
            raise SourceError(
                f"no clip {clip!r} is heard{there}{why}: switch it on and bring it near; `footroom clips` lists those "
                "that are.",
                "unknown clip",
                clip,
            )


def _answer(listening: Listening, clip: str) -> Answered | None:
    end_s = time.monotonic() + ANSWER_S
    while time.monotonic() < end_s:
        for event in listening.take(_TURN_S):
            if isinstance(event, Answered) and event.clip == clip and event.command == "identify":
                return event
    return None


def as_rows(clips: Sequence[ClipFacts], worn: WornClips | None) -> list[dict[str, Any]]:
    """The clips as plain data, units in the names; `worn` : where each is worn, {participant or "": place}."""
    places = _places(worn)
    return [
        {
            "clip": facts.clip,
            "kind": facts.kind,
            "place": facts.place,
            "signal_dbm": facts.signal_dbm,
            "battery_percent": facts.battery_percent,
            "rate_hz": facts.rate_hz,
            "running": facts.running,
            "firmware": facts.firmware or None,
            "wire_format": facts.protocol or None,
            "acc_range_g": None if facts.acc_range is None else round(facts.acc_range / GRAVITY, 2),
            "gyr_range_deg_s": None if facts.gyr_range is None else round(float(np.rad2deg(facts.gyr_range)), 1),
            "worn": places.get(facts.clip, {}),
        }
        for facts in clips
    ]


def _places(worn: WornClips | None) -> Mapping[str, dict[str, str]]:
    places: dict[str, dict[str, str]] = {}
    for entry in worn.clips if worn is not None else ():
        places.setdefault(entry.clip, {})[entry.participant or ""] = entry.name
    return places
