"""How each clip does right now, from the events that come: rate, loss, battery, last heard; and how much it turned.

For the eyes of the person who records. What is kept is the Keeper's business, and exact; this here is enough to act on.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ..sources.base import SILENT_S, ClipFacts, Connected, Event, Gone, Heard, Silent, StatusHeard, Trouble
from ..wire import SEQUENCE_SPAN

RATE_WINDOW_S = 5.0
"""The rate shown is that of so long [s]."""
SURE_S = 1.0
"""A silence of so long is told from the time it took [s] (ours)."""
LATE_SHARE = 0.5
"""A number this share of the span back is a late or doubled frame, or a clip that began anew: no loss."""


@dataclass(frozen=True)
class ClipState:
    """What a line of the screen shows of one clip.

    place : `right_foot`. heard_hz : samples a second over the last seconds; nominal_hz : as it says itself. lost :
    share of samples that the clip's own numbers say are missing, 0-1, None where it has none. silent_s : since its last
    sample [s], None when none ever came. connected : the link stands. problem : what its source said last, "".
    """

    clip: str
    place: str
    connected: bool = False
    running: bool | None = None
    nominal_hz: float | None = None
    heard_hz: float | None = None
    lost: float | None = None
    battery_percent: int | None = None
    silent_s: float | None = None
    signal_dbm: int | None = None
    fault: bool = False
    problem: str = ""

    @property
    def silent(self) -> bool:
        """Whether nothing came for so long that it is silent."""
        return self.silent_s is None or self.silent_s > SILENT_S


@dataclass
class _Line:
    facts: ClipFacts | None = None
    connected: bool = False
    running: bool | None = None
    battery: int | None = None
    signal: int | None = None
    fault: bool = False
    problem: str = ""
    last_s: float | None = None
    expected: int | None = None
    heard: int = 0
    missing: int = 0
    recent: deque[tuple[float, int]] = field(default_factory=deque)
    sums: np.ndarray = field(default_factory=lambda: np.zeros((2, 3)))
    turned: int = 0


class Watch:
    """The clips that are worn, {clip id: place}; everything else that is heard is only named."""

    def __init__(self, worn: Mapping[str, str]) -> None:
        self.worn = dict(worn)
        self.strangers: set[str] = set()
        self.troubles: list[str] = []
        self._lines = {clip: _Line() for clip in worn}
        self._measures = False

    def take(self, events: Iterable[Event]) -> None:
        """Go through events in order of arrival."""
        for event in events:
            line = self._lines.get(event.clip)
            if line is None:
                if event.clip:
                    self.strangers.add(event.clip)
                if isinstance(event, Trouble) and event.problem not in self.troubles:
                    self.troubles.append(event.problem)
                continue
            match event:
                case Heard():
                    self._heard(line, event)
                case Connected():
                    line.facts, line.connected = event.facts, True
                    line.running, line.problem = event.facts.running, ""
                    line.battery = event.facts.battery_percent if line.battery is None else line.battery
                case StatusHeard():
                    line.battery = line.battery if event.battery_percent is None else event.battery_percent
                    line.running = line.running if event.running is None else event.running
                    line.signal = line.signal if event.signal_dbm is None else event.signal_dbm
                    line.fault = event.fault
                case Gone():
                    line.connected, line.running, line.problem = False, None, event.reason
                case Trouble():
                    line.problem = event.problem
                case Silent():
                    line.running = None
                case _:
                    pass

    def clips(self, now_s: float) -> list[ClipState]:
        """The state of every worn clip at a time [s], in the order they were given."""
        return [self._state(clip, line, now_s) for clip, line in self._lines.items()]

    def to_start(self) -> list[str]:
        """Clips that are linked, send nothing and take commands."""
        return [
            clip
            for clip, line in self._lines.items()
            if line.connected and line.running is not True and line.facts is not None and not line.facts.text
            and line.facts.kind != "replay"
        ]  # fmt: skip

    def measure(self) -> None:
        """From now on measure how much each clip turns, until `turning` is asked."""
        self._measures = True
        for line in self._lines.values():
            line.sums[:] = 0.0
            line.turned = 0

    def turning(self) -> dict[str, float]:
        """{place: angular rate since `measure`, root mean square about its mean [rad/s]} of clips that were heard."""
        self._measures = False
        found: dict[str, float] = {}
        for clip, line in self._lines.items():
            if line.turned and line.facts is not None:
                mean, square = line.sums / line.turned
                found[self.worn[clip]] = float(np.sqrt(max(0.0, (square - mean**2).sum()))) * line.facts.gyr_scale
        return found

    def _heard(self, line: _Line, event: Heard) -> None:
        count = len(event.counts)
        if event.sequence is not None:
            if line.expected is not None:
                line.missing += self._gap(line, event)
            line.expected = (event.sequence + count) % SEQUENCE_SPAN
        line.heard += count
        line.last_s, line.connected = event.arrived_s, True
        line.running = True
        line.recent.append((event.arrived_s, count))
        while line.recent[0][0] < event.arrived_s - RATE_WINDOW_S:
            line.recent.popleft()
        if self._measures:
            rates = event.counts[:, 3:].astype(float)
            line.sums += (rates.sum(axis=0), np.square(rates).sum(axis=0))
            line.turned += count

    def _gap(self, line: _Line, event: Heard) -> int:
        """Samples missing before a frame. In a silence longer than `SURE_S` the time it took decides how often the
        numbers wrapped, and alone tells what is missing when the clip began anew."""
        if event.sequence is None or line.expected is None or line.last_s is None or line.facts is None:
            return 0
        gap = (event.sequence - line.expected) % SEQUENCE_SPAN
        silent_s = event.arrived_s - line.last_s
        if silent_s < SURE_S:
            return gap if gap <= LATE_SHARE * SEQUENCE_SPAN else 0
        silent = round(silent_s * line.facts.rate_hz) - len(event.counts)
        wrapped = gap + SEQUENCE_SPAN * round((silent - gap) / SEQUENCE_SPAN)
        return wrapped if abs(wrapped - silent) < SURE_S * line.facts.rate_hz else silent

    def _state(self, clip: str, line: _Line, now_s: float) -> ClipState:
        facts = line.facts
        recent = [(at, count) for at, count in line.recent if at > now_s - RATE_WINDOW_S]
        rate = None
        if len(recent) > 1 and recent[-1][0] - recent[0][0] > 0.3:
            rate = sum(count for _, count in recent[1:]) / (recent[-1][0] - recent[0][0])
        numbered = line.expected is not None
        return ClipState(
            clip=clip,
            place=self.worn[clip],
            connected=line.connected,
            running=line.running,
            nominal_hz=None if facts is None else facts.rate_hz,
            heard_hz=rate,
            lost=line.missing / (line.missing + line.heard) if numbered and line.heard else None,
            battery_percent=line.battery,
            silent_s=None if line.last_s is None else max(0.0, now_s - line.last_s),
            signal_dbm=line.signal if facts is None or line.signal is not None else facts.signal_dbm,
            fault=line.fault,
            problem=line.problem,
        )
