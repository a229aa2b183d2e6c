"""Which of the things that clips and sources say go into the journal: what is new, and not too often."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ..sources.base import Damaged, Gone, Overrun, Silent, StatusHeard, Trouble
from .journal import Entry

STATUS_S = 60.0  # an unchanged status is noted again after so long [s]
COUNT_S = 5.0  # damaged frames are counted for so long before they are noted [s]


@dataclass
class News:
    """What was noted already, so that nothing is said twice."""

    _status: dict[str, tuple[float, tuple[Any, ...]]] = field(default_factory=dict)
    _damaged: dict[tuple[str, str], tuple[float, int]] = field(default_factory=dict)
    _troubles: set[tuple[str, str]] = field(default_factory=set)

    def of(self, event: Gone | Silent | Damaged | Overrun | StatusHeard | Trouble) -> Iterator[Entry]:
        """The lines an event is worth."""
        clip, at_s = event.clip, event.arrived_s
        match event:
            case Gone():
                yield Entry("gone", at_s, {"clip": clip, "reason": event.reason})
            case Silent():
                yield Entry("silent", at_s, {"clip": clip, "silent_s": round(event.silent_s, 3)})
            case Overrun():
                yield Entry("overrun", at_s, {"clip": clip, "frames": event.frames})
            case Trouble() if (clip, event.problem) not in self._troubles:
                self._troubles.add((clip, event.problem))
                yield Entry("trouble", at_s, {"clip": clip, "place": event.place, "problem": event.problem})
            case Damaged():
                since_s, frames = self._damaged.get((clip, event.place), (at_s, 0))
                self._damaged[clip, event.place] = (since_s, frames + event.frames)
            case StatusHeard():
                says = (event.battery_percent, event.dropped, event.running, event.charging, event.fault)
                noted_s, noted = self._status.get(clip, (at_s - STATUS_S, ()))
                if says != noted or at_s - noted_s >= STATUS_S:
                    self._status[clip] = (at_s, says)
                    names = ("battery_percent", "dropped", "running", "charging", "fault")
                    what = dict(zip(names, says, strict=True))
                    yield Entry("status", at_s, {"clip": clip, **what, "temperature_c": event.temperature_c})

    def due(self, now_s: float, all_of_it: bool = False) -> list[Entry]:
        """Lines of what was counted up to now."""
        ready = [key for key, (since_s, _) in self._damaged.items() if all_of_it or now_s - since_s >= COUNT_S]
        found = []
        for clip, place in ready:
            since_s, frames = self._damaged.pop((clip, place))
            found.append(Entry("damaged", since_s, {"clip": clip, "place": place, "frames": frames}))
        return found
