"""From what a clip says to events: one `Hearing` per link, whatever the frames came through. No input or output."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..errors import SourceError
from ..virtual_clip import GRAVITY
from ..wire import (
    MAJOR,
    Command,
    Frame,
    Hello,
    Identify,
    OtherVersion,
    Reply,
    Result,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    TextHeader,
    TextSamples,
)
from .base import (
    Answered,
    ClipFacts,
    CommandName,
    Connected,
    Event,
    Gone,
    Heard,
    SourceKind,
    StatusHeard,
    Trouble,
)

WAITING_FOR_S = 2.0  # an answer that has not come by then will not come [s]; ours
_RESULTS: dict[int, str] = {
    Result.UNKNOWN_COMMAND: "its firmware does not know this command",
    Result.VALUE_REFUSED: "it cannot do this value (100 to 400 samples a second are allowed)",
    Result.CHARGING: "its charger is connected; unplug it",
    Result.SENSOR_FAULT: "its sensor does not answer; switch it off and on",
    Result.NOT_NOW: "it is running; stop it first",
}
_NEWS = ("rate_hz", "acc_scale", "gyr_scale", "firmware", "protocol", "delay_s")  # what a hello may change


class Hearing:
    """What is known of the clip at the other end of one link, and what follows from its next frame.

    kind, place : of the link. facts : None until the clip has said who it is. unexplained : frames of samples before
    that, which cannot be used.
    """

    def __init__(self, kind: SourceKind, place: str, signal_dbm: int | None = None) -> None:
        self.kind: SourceKind = kind
        self.place = place
        self.facts: ClipFacts | None = None
        self.unexplained = 0
        self.signal_dbm = signal_dbm
        self._asked: dict[int, CommandName] = {}
        self._token = 0
        self._refused_version: tuple[int, int] | None = None

    @property
    def clip(self) -> str:
        """The clip's id; "" while it is not known."""
        return "" if self.facts is None else self.facts.clip

    def hear(self, frame: Frame | TextHeader | TextSamples, arrived_s: float) -> list[Event]:
        """The events of one frame that arrived at `arrived_s` [s]. Kinds that are not known are skipped."""
        match frame:
            case Samples():
                if self.facts is None:
                    self.unexplained += 1
                    return []
                return [Heard(self.facts.clip, arrived_s, frame.sequence, frame.tick_us, frame.counts, self.place)]
            case TextSamples():
                if self.facts is None:
                    self.unexplained += 1
                    return []
                tick = int(frame.ticks_us[0])
                return [Heard(self.clip, arrived_s, None, tick, frame.counts, self.place, frame.ticks_us)]
            case Hello():
                return self._known(self._facts_of_hello(frame), arrived_s)
            case TextHeader():
                return self._known(self._facts_of_header(frame), arrived_s)
            case Status():
                return self._status(frame, arrived_s)
            case Reply():
                return self._reply(frame, arrived_s)
            case OtherVersion():
                return self._other_version(frame, arrived_s)
            case _:
                return []

    def ask(self, name: CommandName, value: int | None = None) -> Command:
        """The frame of a command. Raises SourceError for a board that takes none, ValueError for a missing rate."""
        if self.facts is not None and self.facts.text:
            raise SourceError(
                f"{self.clip} ({self.place}) sends lines of text and takes no commands; change it in its firmware.",
                "refused",
                self.clip,
            )
        self._token = self._token % 255 + 1
        self._asked[self._token] = name
        match name:
            case "identify":
                return Identify(self._token, 5 if value is None else value)
            case "start":
                return Start(self._token)
            case "stop":
                return Stop(self._token)
            case "rate":
                if value is None:
                    raise ValueError("the command `rate` needs samples a second")
                return SetRate(self._token, value)

    def measured_battery(self, percent: int, arrived_s: float) -> list[Event]:
        """The battery as the link's own battery service tells it."""
        if self.facts is None:
            return []
        self.facts = dataclasses.replace(self.facts, battery_percent=percent)
        return [StatusHeard(self.clip, arrived_s, battery_percent=percent, signal_dbm=self.signal_dbm)]

    def gone(self, arrived_s: float, reason: str) -> list[Event]:
        """The link is lost."""
        clip, self.facts = self.clip, None
        self._asked.clear()
        return [Gone(clip, arrived_s, reason)] if clip else []

    def _known(self, facts: ClipFacts, arrived_s: float) -> list[Event]:
        before = self.facts
        events: list[Event] = []
        if before is not None and before.clip == facts.clip:
            facts = dataclasses.replace(
                facts,
                battery_percent=before.battery_percent if facts.battery_percent is None else facts.battery_percent,
                running=before.running,
            )
            if all(getattr(before, name) == getattr(facts, name) for name in _NEWS):
                self.facts = facts
                return []
        elif before is not None:
            events += self.gone(arrived_s, f"another clip, {facts.clip}, is at {self.place} now.")
        self.facts = facts
        return [*events, Connected(facts.clip, arrived_s, facts)]

    def _facts_of_hello(self, hello: Hello) -> ClipFacts:
        return ClipFacts(
            clip=hello.identity,
            kind=self.kind,
            place=self.place,
            rate_hz=float(hello.rate_hz),
            acc_scale=hello.acc_scale_g * GRAVITY,
            gyr_scale=float(np.deg2rad(hello.gyr_scale_deg_s)),
            firmware=f"{hello.firmware[0]}.{hello.firmware[1]}",
            protocol=f"{hello.major}.{hello.minor}",
            acc_range=hello.acc_range_g * GRAVITY,
            gyr_range=float(np.deg2rad(hello.gyr_range_deg_s)),
            signal_dbm=self.signal_dbm,
            delay_s=hello.delay_s,
        )

    def _facts_of_header(self, header: TextHeader) -> ClipFacts:
        acc = GRAVITY if header.acc_unit == "g" else 1.0
        gyr = float(np.pi / 180) if header.gyr_unit == "deg/s" else 1.0
        return ClipFacts(
            clip=header.clip,
            kind=self.kind,
            place=self.place,
            rate_hz=float(header.rate_hz),
            acc_scale=header.acc_scale * acc,
            gyr_scale=header.gyr_scale * gyr,
            protocol="text",
            acc_range=header.acc_range * acc,
            gyr_range=header.gyr_range * gyr,
            battery_percent=header.battery_percent,
            running=True,
            text=True,
        )

    def _status(self, status: Status, arrived_s: float) -> list[Event]:
        if self.facts is None:
            return []
        percent = self.facts.battery_percent if status.battery_percent is None else status.battery_percent
        self.facts = dataclasses.replace(self.facts, battery_percent=percent, running=status.running)
        return [
            StatusHeard(
                self.clip, arrived_s, percent, status.dropped, status.temperature_c, self.signal_dbm,
                status.running, status.charging, status.fault,
            )
        ]  # fmt: skip

    def _reply(self, reply: Reply, arrived_s: float) -> list[Event]:
        name = self._asked.pop(reply.token, None)
        if name is None or self.facts is None:
            return []
        done = reply.result == Result.DONE
        why = "" if done else _RESULTS.get(reply.result, f"it answers {reply.result}, which only newer versions know")
        if done and name in ("start", "stop"):
            self.facts = dataclasses.replace(self.facts, running=name == "start")
        return [Answered(self.clip, arrived_s, name, done, why, reply.value, reply.tick_us)]

    def _other_version(self, frame: OtherVersion, arrived_s: float) -> list[Event]:
        version = (frame.major, frame.minor)
        if self._refused_version == version:
            return []
        self._refused_version = version
        newer = frame.major > MAJOR
        remedy = "update Footroom, or put older firmware on the clip" if newer else "put newer firmware on the clip"
        problem = (
            f"the clip at {self.place} speaks version {frame.major}.{frame.minor} of the wire format, and this "
            f"Footroom version {MAJOR}; {remedy}."
        )
        return [*self.gone(arrived_s, problem), Trouble("", arrived_s, self.place, problem, "version")]
