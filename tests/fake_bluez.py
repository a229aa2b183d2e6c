"""A fake org.bluez on a private D-Bus, with virtual clips behind it: enough for the real Bluetooth client library.

    python fake_bluez.py --clips 2 --rate 200     DBUS_SYSTEM_BUS_ADDRESS must point at a private bus

Says `ready` on stdout, then takes one command a line on stdin and answers each with a line (see `Controls`). What it
does like BlueZ, from its D-Bus documentation: adverts come after StartDiscovery was answered and repeat; objects of the
remote services appear with the link; `Connected` false goes out before Disconnect is answered (`--reply-first`: after).
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import dataclasses
import json
import sys
import time
from typing import Any

from dbus_fast import BusType, Message, MessageType
from dbus_fast import Variant as V
from dbus_fast.aio import MessageBus
from footroom.logger.sources.virtual_board import VirtualBoard
from footroom.logger.wire.gatt import (
    BATTERY_LEVEL_UUID,
    BATTERY_SERVICE_UUID,
    COMMANDS_UUID,
    FRAMES_UUID,
    NAME_PREFIX,
    SERVICE_UUID,
)
from virtual_parts import Person, make_boards

ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC = "org.bluez.GattService1", "org.bluez.GattCharacteristic1"
PROPERTIES, MANAGER = "org.freedesktop.DBus.Properties", "org.freedesktop.DBus.ObjectManager"
HCI = "/org/bluez/hci0"
# Where each characteristic hangs below its device
FRAMES, COMMANDS, LEVEL = "/service000a/char000b", "/service000a/char000e", "/service0014/char0015"
TAIL = len(FRAMES)


class Peripheral:
    """A clip as the Bluetooth service sees it."""

    def __init__(self, number: int, board: VirtualBoard) -> None:
        self.board = board
        self.address = f"02:00:00:00:00:{number:02X}"
        self.path = f"{HCI}/dev_{self.address.replace(':', '_')}"
        self.name = f"{NAME_PREFIX}{board.identity}"
        self.hidden = self.mute = False
        self.refusals = 0
        self.sent = 0
        self.task: asyncio.Task[None] | None = None
        self.owner: str | None = None


class FakeBluez:
    def __init__(self, peripherals: list[Peripheral], options: argparse.Namespace) -> None:
        self.options = options
        self.objects: dict[str, dict[str, dict[str, V]]] = {}
        self.peripherals = {p.path: p for p in peripherals}
        self.scanning: set[str] = set()
        self.tasks: set[asyncio.Future[Any]] = set()

    async def start(self) -> None:
        self.bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
        self.bus.add_message_handler(self.on_message)
        rule = "type='signal',member='NameOwnerChanged',arg2=''"
        await self.bus.call(
            Message(
                destination="org.freedesktop.DBus", path="/org/freedesktop/DBus", interface="org.freedesktop.DBus",
                member="AddMatch", signature="s", body=[rule],
            )
        )  # fmt: skip
        if not self.options.no_adapter:
            self.add_adapter(powered=not self.options.off)
        await self.bus.request_name("org.bluez")
        self.keep(self.beacon())

    def add_adapter(self, powered: bool) -> None:
        self.add(HCI, {ADAPTER: {
            "Address": V("s", "02:00:00:00:00:FE"), "AddressType": V("s", "public"), "Name": V("s", "fake"),
            "Alias": V("s", "fake"), "Powered": V("b", powered), "Discovering": V("b", False),
            "Roles": V("as", ["central"]), "UUIDs": V("as", []),
        }})  # fmt: skip

    def keep(self, work: Any) -> None:
        task = asyncio.ensure_future(work)
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    async def beacon(self) -> None:
        count = 0
        while True:
            count += 1
            for p in self.peripherals.values():
                if self.scanning and not p.hidden and not p.task:
                    self.advertise(p, -50 - count % 3)
            await asyncio.sleep(0.05)

    # Objects

    def signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        self.bus.send(Message.new_signal(path, interface, member, signature, body))  # queued in order

    def add(self, path: str, interfaces: dict[str, dict[str, V]]) -> None:
        self.objects[path] = interfaces
        self.signal("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    def remove(self, path: str) -> None:
        if (interfaces := self.objects.pop(path, None)) is not None:
            self.signal("/", MANAGER, "InterfacesRemoved", "oas", [path, list(interfaces)])

    def set(self, path: str, interface: str, **values: V) -> None:
        self.objects[path][interface].update(values)
        self.signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, values, []])

    # The life of a link

    def advertise(self, p: Peripheral, rssi: int) -> None:
        if p.path in self.objects:
            self.set(p.path, DEVICE, RSSI=V("n", rssi))
            return
        self.add(p.path, {DEVICE: {
            "Address": V("s", p.address), "AddressType": V("s", "random"), "Name": V("s", p.name),
            "Alias": V("s", p.name), "Paired": V("b", False), "Bonded": V("b", False), "Trusted": V("b", False),
            "Blocked": V("b", False), "Connected": V("b", False), "ServicesResolved": V("b", False),
            "RSSI": V("n", rssi), "UUIDs": V("as", [SERVICE_UUID]), "Adapter": V("o", HCI),
        }})  # fmt: skip

    def link_up(self, p: Peripheral) -> None:
        self.set(p.path, DEVICE, Connected=V("b", True))
        for path, uuid in (("/service000a", SERVICE_UUID), ("/service0014", BATTERY_SERVICE_UUID)):
            self.add(p.path + path, {SERVICE: {
                "UUID": V("s", uuid), "Device": V("o", p.path), "Primary": V("b", True), "Includes": V("ao", []),
            }})  # fmt: skip
        for path, uuid, flags in (
            (FRAMES, FRAMES_UUID, ["notify"]),
            (COMMANDS, COMMANDS_UUID, ["write"]),
            (LEVEL, BATTERY_LEVEL_UUID, ["read"]),
        ):
            self.add(p.path + path, {CHARACTERISTIC: {
                "UUID": V("s", uuid), "Service": V("o", p.path + path.rsplit("/", 1)[0]), "Value": V("ay", b""),
                "Flags": V("as", flags), "Notifying": V("b", False), "MTU": V("q", self.options.mtu),
            }})  # fmt: skip
        self.set(p.path, DEVICE, ServicesResolved=V("b", True))

    def link_down(self, p: Peripheral) -> None:
        self.stop_notify(p)
        if p.path in self.objects:
            self.set(p.path, DEVICE, ServicesResolved=V("b", False), Connected=V("b", False))
            for path in sorted((o for o in self.objects if o.startswith(p.path + "/")), reverse=True):
                self.remove(path)

    def stop_notify(self, p: Peripheral) -> None:
        if p.task:
            p.task.cancel()
            p.task = None

    async def pump(self, p: Peripheral) -> None:
        """Notifications as the clip has them; what it made while nobody listened is gone, and seen as gone."""
        p.board.link(True, time.monotonic())
        try:
            while True:
                now = time.monotonic()
                for message in p.board.due(now):
                    if not p.mute:
                        p.sent += 1
                        self.set(p.path + FRAMES, CHARACTERISTIC, Value=V("ay", message))
                await asyncio.sleep(min(0.02, max(0.002, p.board.next_due_s(now) - time.monotonic())))
        finally:
            p.board.link(False, time.monotonic())

    # D-Bus

    def on_message(self, m: Message) -> Any:
        if m.message_type is MessageType.SIGNAL:
            if m.member == "NameOwnerChanged" and not m.body[2]:
                for p in self.peripherals.values():
                    if p.owner == m.body[0]:
                        self.stop_notify(p)
                self.scanning.discard(m.body[0])
            return None
        if m.message_type is not MessageType.METHOD_CALL:
            return None
        handler = getattr(self, f"do_{(m.interface or '').rsplit('.', 1)[-1]}_{m.member}", None)
        if handler is None:
            return None  # the library answers that there is no such method
        if m.interface not in (MANAGER, PROPERTIES) and m.path not in self.objects:
            return Message.new_error(m, "org.freedesktop.DBus.Error.UnknownObject", "no such object")
        answer = handler(m)
        if asyncio.iscoroutine(answer):
            self.keep(self.later(answer))
            return True
        return answer if isinstance(answer, Message) else Message.new_method_return(m)

    async def later(self, work: Any) -> None:
        await self.bus.send(await work)

    def do_ObjectManager_GetManagedObjects(self, m: Message) -> Message:
        return Message.new_method_return(m, "a{oa{sa{sv}}}", [self.objects])

    def do_Properties_Set(self, m: Message) -> None:
        self.set(m.path, m.body[0], **{m.body[1]: m.body[2]})

    def do_Adapter1_SetDiscoveryFilter(self, m: Message) -> None: ...

    def do_Adapter1_StartDiscovery(self, m: Message) -> None:
        self.scanning.add(m.sender)

    def do_Adapter1_StopDiscovery(self, m: Message) -> None:
        self.scanning.discard(m.sender)

    async def do_Device1_Connect(self, m: Message) -> Message:
        p = self.peripherals[m.path]
        await asyncio.sleep(0.03)
        if p.refusals:
            p.refusals -= 1
            return Message.new_error(m, "org.bluez.Error.Failed", "le-connection-abort-by-remote")
        if p.path not in self.objects:
            return Message.new_error(m, "org.freedesktop.DBus.Error.UnknownObject", "no such object")
        self.link_up(p)
        return Message.new_method_return(m)

    def do_Device1_Disconnect(self, m: Message) -> None:
        p = self.peripherals[m.path]
        if self.options.reply_first:
            asyncio.get_running_loop().call_soon(self.link_down, p)
        else:
            self.link_down(p)

    def do_GattCharacteristic1_ReadValue(self, m: Message) -> Message:
        board = self.peripherals[m.path[:-TAIL]].board
        return Message.new_method_return(m, "ay", [bytes([board.battery_percent(time.monotonic())])])

    def do_GattCharacteristic1_WriteValue(self, m: Message) -> None:
        p = self.peripherals[m.path[:-TAIL]]
        p.board.receive(bytes(m.body[0]), time.monotonic())

    def do_GattCharacteristic1_StartNotify(self, m: Message) -> None:
        p = self.peripherals[m.path[:-TAIL]]
        self.stop_notify(p)
        p.owner = m.sender
        p.task = asyncio.ensure_future(self.pump(p))

    def do_GattCharacteristic1_StopNotify(self, m: Message) -> None:
        self.stop_notify(self.peripherals[m.path[:-TAIL]])


class Controls:
    """What a test may ask for: WORD CLIP_NUMBER [VALUE]."""

    def __init__(self, bluez: FakeBluez) -> None:
        self.bluez = bluez

    def __call__(self, line: str) -> str:
        word, *rest = line.split()
        if word in ("adapter", "order"):
            return str(getattr(self, word)(rest[0]))
        p = list(self.bluez.peripherals.values())[int(rest[0])] if rest else None
        return str(getattr(self, word)(p, *rest[1:]))

    def adapter(self, state: str) -> str:
        """`on`, `off` or `gone`."""
        self.bluez.remove(HCI)
        if state != "gone":
            self.bluez.add_adapter(powered=state == "on")
        return "ok"

    def order(self, reply: str) -> str:
        """Disconnect is answered `first`, or `last`, after the signal that the link is down."""
        self.bluez.options.reply_first = reply == "first"
        return "ok"

    def major(self, p: Peripheral, version: str) -> str:
        """The major version of the wire format that the clip says it speaks."""
        p.board._faults = dataclasses.replace(p.board._faults, major=int(version))
        return "ok"

    def identity(self, p: Peripheral, identity: str) -> str:
        """From now on the clip calls itself so."""
        p.board.identity = identity
        p.name = f"{NAME_PREFIX}{identity}"
        self.bluez.link_down(p)
        self.bluez.remove(p.path)
        return "ok"

    def drop(self, p: Peripheral) -> str:
        """The link breaks."""
        self.bluez.link_down(p)
        return "ok"

    def hide(self, p: Peripheral) -> str:
        """Out of reach, and forgotten by the service."""
        p.hidden = True
        self.bluez.link_down(p)
        self.bluez.remove(p.path)
        return "ok"

    def show(self, p: Peripheral) -> str:
        p.hidden = False
        return "ok"

    def mute(self, p: Peripheral, on: str) -> str:
        """The link stands but nothing comes."""
        p.mute = on == "1"
        return "ok"

    def refuse(self, p: Peripheral, times: str) -> str:
        """Turn the next attempts to connect down."""
        p.refusals = int(times)
        return "ok"

    def begin(self, p: Peripheral, phase: str, side: str, setup: str) -> str:
        """Whoever wears the clips does this from now on."""
        return Person.begin(phase, side, setup)

    def sent(self, p: Peripheral) -> str:
        """Notifications sent so far, and commands received."""
        return json.dumps({"sent": p.sent, "commands": p.board.commands})


async def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--clips", type=int, default=1)
    parser.add_argument("--rate", type=int, default=200)
    parser.add_argument("--mtu", type=int, default=247)
    parser.add_argument("--faults", type=json.loads, default={}, help="JSON, for every virtual clip: see BoardFaults")
    for flag in ("--no-adapter", "--off", "--reply-first", "--same-ids"):
        parser.add_argument(flag, action="store_true")
    options = parser.parse_args()
    boards = make_boards(
        options.clips, options.rate, options.mtu - 3, same_ids=options.same_ids,
        **options.faults,
    )  # fmt: skip
    bluez = FakeBluez([Peripheral(i, board) for i, board in enumerate(boards)], options)
    await bluez.start()
    controls = Controls(bluez)
    loop = asyncio.get_running_loop()

    def on_line() -> None:
        line = sys.stdin.readline()
        if line:
            print(controls(line), flush=True)
        else:
            loop.remove_reader(sys.stdin)

    loop.add_reader(sys.stdin, on_line)
    print("ready", flush=True)
    with contextlib.suppress(Exception):  # the bus ends before us
        await bluez.bus.wait_for_disconnect()


if __name__ == "__main__":
    asyncio.run(main())
