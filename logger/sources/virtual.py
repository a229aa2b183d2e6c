"""Virtual clips on a virtual drummer's legs: no hardware, real frames through the real codec, faults on request."""

from __future__ import annotations

import dataclasses
import heapq
import math
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..errors import SourceError, WireError
from ..models import PLACES
from ..virtual_drummer import VirtualDrummer
from ..wire import decode, encode
from .base import ClipFacts, CommandName, Damaged, Event, Heard, SourceKind
from .hearing import Hearing
from .pacing import PacedSource
from .virtual_board import BoardFaults, VirtualBoard, identity_of
from .virtual_counts import VirtualWearing


@dataclass(frozen=True, slots=True)
class Faults:
    """What goes wrong with one clip and the way to it.

    loss, damage : share of frames that are lost, or arrive with a wrong byte. jitter_s : frames arrive up to so much
    later than they should, evenly spread and in order [s]. drop_outs : (from, to) without a link [s since `open`]; `to`
    may be infinite. board : of its clock and battery.
    """

    loss: float = 0.0
    damage: float = 0.0
    jitter_s: float = 0.0
    drop_outs: tuple[tuple[float, float], ...] = ()
    board: BoardFaults = field(default_factory=BoardFaults)


class VirtualSource(PacedSource):
    """Clips on somebody's legs.

    names : of their places (`right_foot`); a clip's id says nothing of them, see `identities`. faults : by name, or one
    for all. speed : `math.inf` = as fast as the reader takes. running : they send from the beginning; else they wait
    for `start` as every clip does. drummer : does what it is told (`VirtualDrummer.begin`); default: plans a short
    calibration and then plays. seed : of everything random.
    """

    kind: SourceKind = "virtual"
    place = "virtual"

    def __init__(
        self,
        names: Sequence[str] = PLACES[:6],
        drummer: VirtualDrummer | None = None,
        rate_hz: int = 200,
        faults: Faults | Mapping[str, Faults] | None = None,
        speed: float = 1.0,
        running: bool = False,
        seed: int = 0,
        clean: bool = False,
    ) -> None:
        super().__init__(speed)
        unknown = [name for name in names if name not in PLACES]
        if unknown or not names:
            raise ValueError(f"no clip is worn at {', '.join(unknown) or 'nowhere'}; places: {', '.join(PLACES)}")
        self.drummer = drummer or VirtualDrummer(seed=seed).practise()
        self.wearing = VirtualWearing(self.drummer, names, seed=seed, clean=clean)
        self._ways = [
            _Way(
                name,
                VirtualBoard(
                    identity_of(16 * seed + i), self.wearing.counts_of(name), rate_hz, faults=fault.board,
                    running=running,
                ),
                fault,
                np.random.default_rng([seed, 3, i]),
            )
            for i, name in enumerate(names)
            for fault in (_fault_of(name, faults),)
        ]  # fmt: skip
        self._lock = threading.Lock()
        self._media_s = 0.0

    @property
    def identities(self) -> dict[str, str]:
        """{place: clip id}: what `footroom clips wear` would be told."""
        return {way.name: way.board.identity for way in self._ways}

    def clips(self) -> list[ClipFacts]:
        """The clips heard now."""
        with self._lock:
            return [way.hearing.facts for way in self._ways if way.hearing.facts is not None]

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command to a clip. Raises SourceError when it is not heard."""
        with self._lock:
            for way in self._ways:
                if way.hearing.clip == clip:
                    way.board.receive(encode(way.hearing.ask(name, value)), self._media_s)
                    return
        raise SourceError(f"no virtual clip {clip!r} is heard; see `footroom clips`.", "unknown clip", clip)

    def _begin(self) -> list[Event]:
        with self._lock:
            self._media_s = 0.0
        return []

    def _step(self, media_s: float) -> list[Event] | None:
        events: list[tuple[float, int, Event]] = []
        with self._lock:
            self._media_s = media_s
            for i, way in enumerate(self._ways):
                events += [(at, i, event) for at, event in way.until(media_s)]
        events.sort(key=lambda item: item[:2])
        return [_at_host_time(event, self.opened_s + at) for at, _, event in events]


class _Way:
    """One board, and the air between it and the reader, in media time."""

    def __init__(self, name: str, board: VirtualBoard, faults: Faults, rng: np.random.Generator) -> None:
        self.name, self.board, self.faults = name, board, faults
        self.hearing = Hearing("virtual", name)
        self._rng = rng
        self._on_the_way: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._last_s = 0.0  # frames never overtake each other
        self._now_s = 0.0

    def until(self, media_s: float) -> list[tuple[float, Event]]:
        """(time, event) of everything that arrives until `media_s`, the board run in steps of its frames."""
        out: list[tuple[float, Event]] = []
        while self._now_s < media_s:
            linked = self._linked(self._now_s)
            if not linked and self.hearing.facts is not None:
                self._on_the_way.clear()
                reason = f"the link to the virtual clip on the {self.name.replace('_', ' ')} broke, as it was told to."
                out += [(self._now_s, event) for event in self.hearing.gone(self._now_s, reason)]
            self.board.link(linked, self._now_s)
            for data in self.board.due(self._now_s):
                self._send(data)
            turn = min((at for pair in self.faults.drop_outs for at in pair if at > self._now_s), default=math.inf)
            self._now_s = min(media_s, turn, max(self._now_s + 1e-3, self.board.next_due_s(self._now_s)))
            while self._on_the_way and self._on_the_way[0][0] <= self._now_s:
                at, _, data = heapq.heappop(self._on_the_way)
                out += [(at, event) for event in self._arrive(data, at)]
        return out

    def _linked(self, at_s: float) -> bool:
        return not any(begin <= at_s < end for begin, end in self.faults.drop_outs)

    def _send(self, data: bytes) -> None:
        faults = self.faults
        if faults.loss and self._rng.random() < faults.loss:
            return
        if faults.damage and self._rng.random() < faults.damage:
            broken = bytearray(data)
            broken[int(self._rng.integers(len(data)))] ^= int(self._rng.integers(1, 256))
            data = bytes(broken)
        self._last_s = max(self._last_s, self._now_s + float(self._rng.uniform(0, faults.jitter_s)))
        self._count += 1
        heapq.heappush(self._on_the_way, (self._last_s, self._count, data))

    def _arrive(self, data: bytes, at_s: float) -> list[Event]:
        try:
            return self.hearing.hear(decode(data), at_s)
        except WireError as error:
            return [Damaged(self.hearing.clip, at_s, self.name, 1, str(error))]


def _fault_of(name: str, faults: Faults | Mapping[str, Faults] | None) -> Faults:
    if faults is None or isinstance(faults, Faults):
        return faults or Faults()
    return faults.get(name, Faults())


def _at_host_time(event: Event, arrived_s: float) -> Event:
    if isinstance(event, Heard):  # the one that comes often
        return Heard(event.clip, arrived_s, event.sequence, event.tick_us, event.counts, event.place)
    return dataclasses.replace(event, arrived_s=arrived_s)
