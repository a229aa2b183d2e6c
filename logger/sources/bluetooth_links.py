"""Links to clips over Bluetooth LE, inside one event loop: look round, connect, hear, watch, let go, again."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Collection
from concurrent.futures import Future
from dataclasses import dataclass, field
from types import ModuleType
from typing import TYPE_CHECKING, Any

from ..errors import WireError
from ..wire import decode, gatt
from .base import SILENT_S, Damaged, Gone, Inbox, Silent, Trouble
from .bluetooth_adapters import adapter_names
from .bluetooth_problems import adapter_error, short
from .hearing import Hearing

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

FIRST_RETRY_S, LAST_RETRY_S = 0.25, 8.0  # after a lost or refused link, doubled each time; ours
SCAN_S = 2.0  # a look round [s]
REST_S = 8.0  # between looks while every clip that is known is heard [s]: scanning costs air time
GATHER_S = 0.2  # once a clip is seen, so long for others before connecting [s]
CONNECT_S = 10.0  # a connection takes no longer [s]
LET_GO_S = 3.0
BATTERY_EVERY_S = 60.0
FORGET_S = 60.0  # a clip not seen for so long is looked for now and then only [s]: perhaps it has another address
_TURN_S = 0.25


@dataclass
class RadioClip:
    """One clip that was seen, by its address."""

    device: BLEDevice
    identity: str | None
    signal_dbm: int
    hearing: Hearing
    client: BleakClient | None = None
    seen_s: float = 0.0
    last_seen_s: float = 0.0
    heard_s: float = 0.0
    next_try_s: float = 0.0
    wait_s: float = FIRST_RETRY_S
    battery_s: float = 0.0
    broke: asyncio.Event = field(default_factory=asyncio.Event)


class Links:
    """All that one Bluetooth source knows, and does in its event loop.

    bleak : the client library. clips : that were seen, by address. failures : what a link may raise: the library's own
    errors, and those of the socket to the system's service.
    """

    def __init__(self, bleak: ModuleType, inbox: Inbox, adapter: str | None, wanted: Collection[str] | None) -> None:
        self.clips: dict[str, RadioClip] = {}
        self.loop: asyncio.AbstractEventLoop | None = None
        self.failures: tuple[type[Exception], ...] = (bleak.exc.BleakError, OSError, EOFError, asyncio.TimeoutError)
        self.place = adapter or "bluetooth"
        self._bleak, self._inbox, self._adapter = bleak, inbox, adapter
        self._wanted = None if wanted is None else frozenset(wanted)
        self._stop: asyncio.Event | None = None

    def heard(self) -> list[RadioClip]:
        """The clips that are linked and have said who they are."""
        return [
            clip for clip in list(self.clips.values()) if clip.client is not None and clip.hearing.facts is not None
        ]

    async def live(self, begun: Future[None]) -> None:
        """Look for clips and keep their links until `stop`; `begun` is told once listening has begun.

        Raises SourceError when it cannot begin.
        """
        self.loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        scanner = self._scanner()
        try:
            await asyncio.wait_for(scanner.start(), CONNECT_S)
        except self.failures as error:
            raise adapter_error(self._adapter, error, await adapter_names()) from error
        begun.set_result(None)
        await self._look(scanner, started=True)
        watchdog = asyncio.create_task(self._watch())
        try:
            await self._search()
        finally:
            watchdog.cancel()
            goodbyes = [self._let_go(clip) for clip in self.clips.values()]
            await asyncio.gather(*goodbyes, watchdog, return_exceptions=True)

    def _scanner(self) -> Any:
        bluez: Any = {"adapter": self._adapter} if self._adapter else {}
        return self._bleak.BleakScanner(self._seen, service_uuids=[gatt.SERVICE_UUID], bluez=bluez)

    def _seen(self, device: BLEDevice, advert: AdvertisementData) -> None:
        now = time.monotonic()
        identity = gatt.identity_in(advert.local_name or device.name)
        clip = self.clips.get(device.address)
        if clip is None:
            hearing = Hearing("bluetooth", device.address, advert.rssi)
            clip = self.clips[device.address] = RadioClip(device, identity, advert.rssi, hearing)
        clip.device, clip.seen_s, clip.last_seen_s = device, now, now
        clip.identity = identity or clip.identity
        clip.signal_dbm = clip.hearing.signal_dbm = advert.rssi

    def _due(self, now: float) -> list[RadioClip]:
        """Clips that were seen lately, are wanted, and may be tried."""
        return [
            clip
            for clip in self.clips.values()
            if clip.client is None
            and now - clip.seen_s < SCAN_S + GATHER_S
            and clip.next_try_s <= now
            and (self._wanted is None or clip.identity in self._wanted)
        ]

    def _all_heard(self) -> bool:
        since_s = time.monotonic() - FORGET_S
        known = [
            c
            for c in self.clips.values()
            if (c.client is not None or c.last_seen_s > since_s)
            and (self._wanted is None or c.identity in self._wanted)
        ]
        heard = {c.identity for c in known if c.client is not None}
        return bool(known) and all(c.client is not None for c in known) and (self._wanted or set()) <= heard

    async def _search(self) -> None:
        """Look round, connect one after the other, rest while nothing is missing."""
        trouble_wait_s = FIRST_RETRY_S
        while not self._stopped():
            for clip in self._due(time.monotonic()):
                if not self._stopped():
                    await self._connect(clip)
            if self._all_heard():
                if self._wanted is not None:
                    await self._pause(_TURN_S)
                    continue
                rest_until = time.monotonic() + REST_S
                while self._all_heard() and time.monotonic() < rest_until and not self._stopped():
                    await self._pause(_TURN_S)
            if self._stopped():
                return
            try:
                await self._look(self._scanner())
                trouble_wait_s = FIRST_RETRY_S
            except self.failures as error:
                problem = adapter_error(self._adapter, error, await adapter_names())
                if trouble_wait_s == FIRST_RETRY_S:
                    self._inbox.put(Trouble("", time.monotonic(), self.place, str(problem), problem.reason))
                await self._pause(trouble_wait_s)
                trouble_wait_s = min(2 * trouble_wait_s, LAST_RETRY_S)

    async def _look(self, scanner: Any, started: bool = False) -> None:
        """Scan until a clip may be connected to, a little longer for others, and no longer than `SCAN_S`."""
        if not started:
            await asyncio.wait_for(scanner.start(), CONNECT_S)
        end_s = time.monotonic() + SCAN_S
        try:
            while time.monotonic() < end_s and not self._stopped():
                await self._pause(0.05)
                if self._due(time.monotonic()):
                    await self._pause(GATHER_S)
                    return
        finally:
            with contextlib.suppress(*self.failures):
                await asyncio.wait_for(scanner.stop(), LET_GO_S)

    async def _connect(self, clip: RadioClip) -> None:
        clip.broke = broke = asyncio.Event()
        clip.hearing = Hearing("bluetooth", clip.device.address, clip.signal_dbm)
        bluez: Any = {"adapter": self._adapter} if self._adapter else {}
        client = self._bleak.BleakClient(clip.device, lambda _: broke.set(), timeout=CONNECT_S, bluez=bluez)
        try:
            async with asyncio.timeout(CONNECT_S + LET_GO_S):
                await client.connect()
                clip.client, clip.heard_s, clip.battery_s = client, time.monotonic(), 0.0
                await client.start_notify(
                    gatt.FRAMES_UUID, lambda _, data: self._heard(clip, bytes(data)), bluez={"use_start_notify": True}
                )
        except self.failures as error:
            now = time.monotonic()
            if clip.wait_s == 4 * FIRST_RETRY_S:  # the third time; once is enough
                who = clip.identity or clip.device.address
                problem = (
                    f"the clip {who} is seen but cannot be connected to ({short(error)}); bring it nearer, see that "
                    "no other program holds it, or switch it off and on."
                )
                self._inbox.put(Trouble(clip.identity or "", now, clip.device.address, problem, "no answer"))
            clip.client = client
            await self._let_go(clip)
            self._try_later(clip, now)

    def _heard(self, clip: RadioClip, data: bytes) -> None:
        if clip.client is None:
            return  # it was let go
        now = clip.heard_s = time.monotonic()
        try:
            events = clip.hearing.hear(decode(data), now)
        except WireError as error:
            self._inbox.put(Damaged(clip.hearing.clip, now, clip.device.address, 1, str(error)))
            return
        if events:
            clip.wait_s = FIRST_RETRY_S
            self._inbox.put_all(events)

    async def _watch(self) -> None:
        """Notice links that broke, and those that stand but say nothing; read batteries."""
        turn_s = time.monotonic()
        while True:
            await asyncio.sleep(_TURN_S)
            late, turn_s = time.monotonic() - turn_s > SILENT_S / 2, time.monotonic()
            if late:
                continue  # this process was held up: let it first hear what came meanwhile
            await asyncio.gather(*(self._check(clip, turn_s) for clip in list(self.clips.values())))

    async def _check(self, clip: RadioClip, now: float) -> None:
        if clip.client is None:
            return
        quiet_s = now - clip.heard_s
        if clip.broke.is_set():
            await self._lost(clip, f"the Bluetooth link to {clip.device.address} broke; it is looked for.")
        elif quiet_s > SILENT_S:
            if clip.hearing.clip:
                self._inbox.put(Silent(clip.hearing.clip, now, quiet_s))
            reason = f"nothing came from {clip.device.address} for {quiet_s:.0f} s; it is connected to again."
            await self._lost(clip, reason)
        elif clip.hearing.clip and now - clip.battery_s > BATTERY_EVERY_S:
            clip.battery_s = now
            await self._read_battery(clip)

    async def _read_battery(self, clip: RadioClip) -> None:
        """The standard battery service, for clips whose status does not say."""
        client = clip.client
        if client is None:
            return
        with contextlib.suppress(*self.failures):
            level = await asyncio.wait_for(client.read_gatt_char(gatt.BATTERY_LEVEL_UUID), SILENT_S)
            if level and level[0] <= 100:
                self._inbox.put_all(clip.hearing.measured_battery(level[0], time.monotonic()))

    async def _lost(self, clip: RadioClip, reason: str) -> None:
        now = time.monotonic()
        self._inbox.put_all(clip.hearing.gone(now, reason) or [Gone(clip.identity or "", now, reason)])
        await self._let_go(clip)
        self._try_later(clip, now)

    def _try_later(self, clip: RadioClip, now: float) -> None:
        clip.next_try_s, clip.seen_s = now + clip.wait_s, 0.0  # to be seen again first
        clip.wait_s = min(2 * clip.wait_s, LAST_RETRY_S)

    async def _let_go(self, clip: RadioClip) -> None:
        client, clip.client = clip.client, None
        clip.hearing.gone(time.monotonic(), "")
        if client is not None:
            with contextlib.suppress(*self.failures):
                await asyncio.wait_for(client.disconnect(), LET_GO_S)

    async def write(self, clip: RadioClip, data: bytes) -> None:
        """Send a command's frame and wait until the clip's radio has it."""
        if clip.client is None:
            raise OSError("the link broke")
        await clip.client.write_gatt_char(gatt.COMMANDS_UUID, data, response=True)

    def stop(self) -> None:
        """End it; from any thread, and also when it has ended."""
        loop, stop = self.loop, self._stop
        if loop is not None and stop is not None:
            with contextlib.suppress(RuntimeError):  # the loop is closed
                loop.call_soon_threadsafe(stop.set)

    def _stopped(self) -> bool:
        return self._stop is not None and self._stop.is_set()

    async def _pause(self, seconds: float) -> None:
        """Sleep, but not past a close."""
        if self._stop is not None:
            with contextlib.suppress(asyncio.TimeoutError):
                await asyncio.wait_for(self._stop.wait(), seconds)
