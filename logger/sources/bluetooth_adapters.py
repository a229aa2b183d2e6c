"""The names of this computer's Bluetooth adapters, for sentences about them. Linux only; elsewhere they have none."""

from __future__ import annotations

import asyncio
import sys

_PATIENCE_S = 2.0


async def adapter_names() -> list[str]:
    """`hci0`, ... as the system's Bluetooth service knows them; none when it does not say."""
    if not sys.platform.startswith("linux"):
        return []
    from dbus_fast import BusType, Message
    from dbus_fast.aio import MessageBus
    from dbus_fast.errors import DBusError

    question = Message(
        destination="org.bluez",
        path="/",
        interface="org.freedesktop.DBus.ObjectManager",
        member="GetManagedObjects",
    )
    bus = MessageBus(bus_type=BusType.SYSTEM)
    try:
        await asyncio.wait_for(bus.connect(), _PATIENCE_S)
        answer = await asyncio.wait_for(bus.call(question), _PATIENCE_S)
    except (TimeoutError, OSError, EOFError, DBusError):
        return []
    finally:
        bus.disconnect()
    objects = answer.body[0] if answer is not None and answer.signature == "a{oa{sa{sv}}}" else {}
    return sorted(path.rsplit("/", 1)[-1] for path, parts in objects.items() if "org.bluez.Adapter1" in parts)
