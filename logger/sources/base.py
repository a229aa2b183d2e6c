"""The one narrow interface to clips: a source is opened with an inbox, puts events into it, and takes commands.

    source = SerialSource("/dev/ttyACM0")
    inbox = Inbox()
    source.open(inbox)
    for event in inbox.take(timeout_s=0.1): ...
    source.command("clip-7", "identify")
    source.close()

Every source, whatever it hears through, runs by itself (a thread of its own) from `open` to `close`, comes back by
itself when a link breaks, and says what happened as events. Nothing is invented and nothing is repaired here: samples
are the integers the clip sent, with its own ticks, its own sequence numbers and the time of arrival at this computer.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..errors import SourceReason

Counts = NDArray[np.int16]
SourceKind = Literal["serial", "bluetooth", "replay", "virtual"]
CommandName = Literal["identify", "start", "stop", "rate"]

SILENT_S = 2.0  # without a word for so long a clip is silent [s]; ours


@dataclass(frozen=True, slots=True)
class ClipFacts:
    """What is known of a clip that is heard.

    clip : its own id, as it says itself. kind, place : what it is heard through (`/dev/ttyACM0`, an address).
    rate_hz : nominal samples a second now. acc_scale : [m/s^2 per count]. gyr_scale : [rad/s per count].
    delay_s : how much earlier the motion was than the tick says [s]. firmware, protocol : versions.
    acc_range, gyr_range : largest value it can measure [m/s^2], [rad/s]. signal_dbm : received strength (Bluetooth).
    battery_percent : None when it does not say. running : sends samples. text : a board that sends lines of text and
    takes no commands.
    """

    clip: str
    kind: SourceKind
    place: str
    rate_hz: float
    acc_scale: float
    gyr_scale: float
    firmware: str = ""
    protocol: str = ""
    acc_range: float | None = None
    gyr_range: float | None = None
    battery_percent: int | None = None
    signal_dbm: int | None = None
    delay_s: float = 0.0
    running: bool | None = None
    text: bool = False


@dataclass(frozen=True, slots=True)
class Connected:
    """A clip is heard: for the first time, again, or it says something else of itself (another rate).

    `arrived_s` as everywhere: host time, `time.monotonic` [s].
    """

    clip: str
    arrived_s: float
    facts: ClipFacts


@dataclass(frozen=True, slots=True)
class Heard:
    """Samples of one frame, exactly as sent.

    sequence : number of the first sample since the clip was started, wraps at `wire.SEQUENCE_SPAN`; None for lines of
    text and recordings, which have none. tick_us : the clip's own clock at the first sample, 32 bit, wraps [us].
    counts : (n, 6) int16, acceleration x y z, angular rate x y z. place : what it was heard through.
    arrived_s : host time at which the frame's last byte was there [s].
    ticks_us : (n,) uint32, where each sample has a tick of its own (text, recordings); else None: evenly spaced.
    """

    clip: str
    arrived_s: float
    sequence: int | None
    tick_us: int
    counts: Counts
    place: str
    ticks_us: NDArray[np.uint32] | None = None


@dataclass(frozen=True, slots=True)
class StatusHeard:
    """What a clip says of itself now and then. None where it does not know.

    dropped : samples since it was started that it took but could not send. fault : its sensor does not answer.
    """

    clip: str
    arrived_s: float
    battery_percent: int | None = None
    dropped: int | None = None
    temperature_c: float | None = None
    signal_dbm: int | None = None
    running: bool | None = None
    charging: bool = False
    fault: bool = False


@dataclass(frozen=True, slots=True)
class Answered:
    """A clip's answer to a command. text : why not, one clause. value : for `rate`, the rate in force now [Hz].

    tick_us : the clip's clock when it answered [us].
    """

    clip: str
    arrived_s: float
    command: CommandName
    accepted: bool
    text: str = ""
    value: int = 0
    tick_us: int = 0


@dataclass(frozen=True, slots=True)
class Silent:
    """The link stands, but nothing came for `silent_s` [s]."""

    clip: str
    arrived_s: float
    silent_s: float


@dataclass(frozen=True, slots=True)
class Gone:
    """The link to a clip is lost; the source tries to get it back. `reason` is one sentence."""

    clip: str
    arrived_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class Damaged:
    """Bytes that were no good frame were thrown away. clip : "" when nobody knows yet whose they were."""

    clip: str
    arrived_s: float
    place: str
    frames: int
    what: str


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something a person can put right, while the source goes on trying. `problem` is one sentence with its remedy."""

    clip: str
    arrived_s: float
    place: str
    problem: str
    reason: SourceReason


@dataclass(frozen=True, slots=True)
class Overrun:
    """The reader of the inbox was too slow: so many frames were thrown away, the oldest first."""

    clip: str
    arrived_s: float
    frames: int


@dataclass(frozen=True, slots=True)
class Ended:
    """A source has nothing more to say (a recording was played to its end)."""

    clip: str
    arrived_s: float
    place: str


Event: TypeAlias = Connected | Heard | StatusHeard | Answered | Silent | Gone | Damaged | Trouble | Overrun | Ended


class Source(Protocol):
    """A way to hear clips. `place` names it in errors: a port, an adapter, a session."""

    kind: SourceKind
    place: str

    def open(self, inbox: Inbox) -> None:
        """Begin to listen; returns when listening has begun. Raises SourceError when it cannot."""
        ...

    def clips(self) -> list[ClipFacts]:
        """The clips heard now."""
        ...

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command to a clip; its answer comes as an event.

        value : for `rate`, samples a second [Hz]; for `identify`, seconds to blink (5). Raises SourceError for a clip
        that is not heard here, or a link that is broken.
        """
        ...

    def close(self) -> None:
        """Stop, and let go of the port or adapter. May be called twice, and after `open` failed."""
        ...


class Inbox:
    """Events on their way from sources (any thread) to one reader.

    limit : of waiting events; beyond it the oldest go and are counted as Overrun. At 8 clips of 40 frames a second
    the default holds five minutes.
    """

    def __init__(self, limit: int = 100_000) -> None:
        self._limit = limit
        self._waiting: deque[Event] = deque()
        self._lost: dict[str, int] = {}
        self._there = threading.Condition()
        self._reader_waits = False

    def put(self, event: Event) -> None:
        """Add one event."""
        self.put_all((event,))

    def put_all(self, events: Iterable[Event]) -> None:
        """Add events in order."""
        with self._there:
            self._waiting.extend(events)
            while len(self._waiting) > self._limit:
                old = self._waiting.popleft()
                self._lost[old.clip] = self._lost.get(old.clip, 0) + 1
            if self._reader_waits:
                self._there.notify()

    def waiting(self) -> int:
        """How many events wait."""
        return len(self._waiting)

    def take(self, timeout_s: float = 0.0) -> list[Event]:
        """All events that wait, in order of arrival; waits up to `timeout_s` [s] for the first one."""
        with self._there:
            if not self._waiting and timeout_s > 0:
                self._reader_waits = True
                self._there.wait_for(lambda: bool(self._waiting), timeout_s)
                self._reader_waits = False
            events = list(self._waiting)
            self._waiting.clear()
            lost, self._lost = self._lost, {}
        if lost:
            now = time.monotonic()
            return [*(Overrun(clip, now, frames) for clip, frames in lost.items()), *events]
        return events
