"""Clips over Bluetooth LE: several at once, found by their service, each with a watchdog, reconnected with back-off.

Everything runs in one thread with an event loop of its own. Linux was tried, with the real client library against a
stand-in of the system's Bluetooth service; a real radio, Windows and macOS were not: they are written from the
library's documentation.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Collection
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..errors import SourceError, WireError
from ..wire import decode, encode, gatt
from .base import SILENT_S, ClipFacts, CommandName, Damaged, Gone, Inbox, Silent, SourceKind, Trouble
from .bluetooth_problems import adapter_error, missing_library
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
_TURN_S = 0.25


@dataclass
class _Clip:
    """One clip that was seen, by its address."""

    device: BLEDevice
    identity: str | None
    signal_dbm: int
    hearing: Hearing
    client: BleakClient | None = None
    seen_s: float = 0.0
    heard_s: float = 0.0
    next_try_s: float = 0.0
    wait_s: float = FIRST_RETRY_S
    battery_s: float = 0.0
    broke: asyncio.Event = field(default_factory=asyncio.Event)


class BluetoothSource:
    """All clips in reach, or those that are wanted.

    adapter : `hci1`, Linux only; None = the first that is on. wanted : ids; once they are all heard the air is left
    alone. Clips of another id are then not connected to.
    """

    kind: SourceKind = "bluetooth"

    def __init__(self, adapter: str | None = None, wanted: Collection[str] | None = None) -> None:
        try:
            import bleak
            import bleak.exc
        except ImportError as error:
            raise missing_library(error) from error
        self._bleak = bleak
        self.place = adapter or "bluetooth"
        self._adapter = adapter
        self._wanted = None if wanted is None else frozenset(wanted)
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop: asyncio.Event | None = None
        self._clips: dict[str, _Clip] = {}
        self._inbox = Inbox()

    def open(self, inbox: Inbox) -> None:
        """Begin to look for clips. Raises SourceError when there is no adapter, it is off, or it is refused."""
        self._inbox, self._clips = inbox, {}
        begun: Future[None] = Future()
        self._thread = threading.Thread(target=self._run, args=(begun,), name=f"footroom {self.place}", daemon=True)
        self._thread.start()
        begun.result()

    def clips(self) -> list[ClipFacts]:
        """The clips heard now."""
        return [clip.hearing.facts for clip in list(self._clips.values()) if clip.hearing.facts is not None]

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command and wait until the clip's radio has it. Raises SourceError when it is not heard, or gone."""
        found = [c for c in list(self._clips.values()) if c.hearing.clip == clip and c.client is not None]
        if not found or self._loop is None:
            raise SourceError(f"no clip {clip!r} is heard over Bluetooth; see `footroom clips`.", "unknown clip", clip)
        link = found[0]
        data = encode(link.hearing.ask(name, value))
        written = asyncio.run_coroutine_threadsafe(self._write(link, data), self._loop)
        try:
            written.result(CONNECT_S)
        except (*self._failures(), TimeoutError) as error:
            written.cancel()
            raise SourceError(
                f"{clip} ({link.device.address}) takes no command ({_short(error)}); bring it nearer and try again.",
                "lost",
                clip,
            ) from error

    def close(self) -> None:
        """Let go of all clips."""
        thread, self._thread = self._thread, None
        if thread is not None:
            loop, stop = self._loop, self._stop
            if loop is not None and stop is not None:
                with contextlib.suppress(RuntimeError):  # it has ended by itself
                    loop.call_soon_threadsafe(stop.set)
            thread.join()

    # Everything below runs in the thread.

    def _failures(self) -> tuple[type[Exception], ...]:
        """What a link may raise: the library's own errors, and those of the socket to the system's service."""
        return (self._bleak.exc.BleakError, OSError, EOFError, asyncio.TimeoutError, AttributeError, KeyError)

    def _run(self, begun: Future[None]) -> None:
        problem = SourceError("Bluetooth stopped by itself; start again.", "lost", self.place)
        try:
            asyncio.run(self._live(begun))
        except SourceError as error:
            problem = error
        except self._failures() as error:
            problem = SourceError(f"Bluetooth stopped ({_short(error)}); start again.", "lost", self.place)
        finally:
            self._loop = None
            if not begun.done():
                begun.set_exception(problem)
            elif not self._stopped():
                self._inbox.put(Trouble("", time.monotonic(), self.place, str(problem), problem.reason))

    async def _live(self, begun: Future[None]) -> None:
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        scanner = self._scanner()
        try:
            await asyncio.wait_for(scanner.start(), CONNECT_S)
        except self._failures() as error:
            raise adapter_error(self._adapter, error) from error
        begun.set_result(None)
        await self._look(scanner, started=True)
        watchdog = asyncio.create_task(self._watch())
        try:
            await self._search()
        finally:
            watchdog.cancel()
            goodbyes = [self._let_go(clip) for clip in self._clips.values()]
            await asyncio.gather(*goodbyes, watchdog, return_exceptions=True)

    def _scanner(self) -> Any:
        bluez: Any = {"adapter": self._adapter} if self._adapter else {}
        return self._bleak.BleakScanner(self._seen, service_uuids=[gatt.SERVICE_UUID], bluez=bluez)

    def _seen(self, device: BLEDevice, advert: AdvertisementData) -> None:
        now = time.monotonic()
        identity = gatt.identity_in(advert.local_name or device.name)
        clip = self._clips.get(device.address)
        if clip is None:
            hearing = Hearing("bluetooth", device.address, advert.rssi)
            clip = self._clips[device.address] = _Clip(device, identity, advert.rssi, hearing)
        clip.device, clip.seen_s = device, now
        clip.identity = identity or clip.identity
        clip.signal_dbm = clip.hearing.signal_dbm = advert.rssi

    def _due(self, now: float) -> list[_Clip]:
        """Clips that were seen lately, are wanted, and may be tried."""
        return [
            clip
            for clip in self._clips.values()
            if clip.client is None
            and now - clip.seen_s < SCAN_S + GATHER_S
            and clip.next_try_s <= now
            and (self._wanted is None or clip.identity in self._wanted)
        ]

    def _all_heard(self) -> bool:
        known = [c for c in self._clips.values() if self._wanted is None or c.identity in self._wanted]
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
            except self._failures() as error:
                problem = adapter_error(self._adapter, error)
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
            with contextlib.suppress(*self._failures()):
                await asyncio.wait_for(scanner.stop(), LET_GO_S)

    async def _connect(self, clip: _Clip) -> None:
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
        except self._failures() as error:
            now = time.monotonic()
            if clip.wait_s == 4 * FIRST_RETRY_S:  # the third time; once is enough
                who = clip.identity or clip.device.address
                problem = (
                    f"the clip {who} is seen but cannot be connected to ({_short(error)}); bring it nearer, see that "
                    "no other program holds it, or switch it off and on."
                )
                self._inbox.put(Trouble(clip.identity or "", now, clip.device.address, problem, "no answer"))
            clip.client = client
            await self._let_go(clip)
            self._try_later(clip, now)

    def _heard(self, clip: _Clip, data: bytes) -> None:
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
        while True:
            await asyncio.sleep(_TURN_S)
            now = time.monotonic()
            for clip in list(self._clips.values()):
                if clip.client is None:
                    continue
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

    async def _read_battery(self, clip: _Clip) -> None:
        """The standard battery service, for clips whose status does not say."""
        client = clip.client
        if client is None:
            return
        with contextlib.suppress(*self._failures()):
            level = await asyncio.wait_for(client.read_gatt_char(gatt.BATTERY_LEVEL_UUID), SILENT_S)
            if level and level[0] <= 100:
                self._inbox.put_all(clip.hearing.measured_battery(level[0], time.monotonic()))

    async def _lost(self, clip: _Clip, reason: str) -> None:
        now = time.monotonic()
        self._inbox.put_all(clip.hearing.gone(now, reason) or [Gone(clip.identity or "", now, reason)])
        await self._let_go(clip)
        self._try_later(clip, now)

    def _try_later(self, clip: _Clip, now: float) -> None:
        clip.next_try_s, clip.seen_s = now + clip.wait_s, 0.0  # to be seen again first
        clip.wait_s = min(2 * clip.wait_s, LAST_RETRY_S)

    async def _let_go(self, clip: _Clip) -> None:
        client, clip.client = clip.client, None
        clip.hearing.gone(time.monotonic(), "")
        if client is not None:
            with contextlib.suppress(*self._failures()):
                await asyncio.wait_for(client.disconnect(), LET_GO_S)

    async def _write(self, clip: _Clip, data: bytes) -> None:
        if clip.client is None:
            raise OSError("the link broke")
        await clip.client.write_gatt_char(gatt.COMMANDS_UUID, data, response=True)

    def _stopped(self) -> bool:
        return self._stop is not None and self._stop.is_set()

    async def _pause(self, seconds: float) -> None:
        """Sleep, but not past a close."""
        if self._stop is not None:
            with contextlib.suppress(asyncio.TimeoutError):
                await asyncio.wait_for(self._stop.wait(), seconds)


def _short(error: BaseException) -> str:
    """An error in a few words."""
    text = str(error.args[-1] if error.args else error) or type(error).__name__
    return text.rstrip(".")
