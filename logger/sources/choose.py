"""From what a person types to sources: `serial:/dev/ttyACM0`, `bluetooth`, `bluetooth:hci1`, `replay:ID`, `virtual`."""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from pathlib import Path

from ..errors import InputError, SourceError
from ..logbook import Logbook
from .base import Source

WAYS = "serial, serial:PORT, bluetooth, bluetooth:ADAPTER, replay:SESSION, virtual, virtual:PLACE,PLACE"


def choose_sources(
    names: Sequence[str],
    baud: int | None = None,
    logbook: Path | None = None,
    speed: float = 1.0,
    wanted: Sequence[str] | None = None,
) -> list[Source]:
    """The sources that were named; none named: every serial port with a USB device, and Bluetooth if installed.

    names : as `WAYS` says; a port may also stand alone. baud : of serial ports. logbook : holds what `replay` names.
    speed : of recordings and virtual clips. wanted : ids of clips to connect to over Bluetooth; None = all.

    Raises InputError for a name that is none, SourceError when nothing at all can be listened to, MissingPart for
    Bluetooth that is not installed, NotInLogbook for an unknown session.
    """
    if not names:
        return _everything(baud, wanted)
    sources: list[Source] = []
    for name in dict.fromkeys(names):
        sources += _named(name, baud, logbook, speed, wanted)
    return sources


def _everything(baud: int | None, wanted: Sequence[str] | None) -> list[Source]:
    sources = _usb_ports(baud)
    if importlib.util.find_spec("bleak") is not None:
        from .bluetooth import BluetoothSource

        sources.append(BluetoothSource(wanted=wanted))
    if not sources:
        raise SourceError(
            "there is nothing to listen to: no USB serial port is there, and Bluetooth needs "
            "`pip install 'footroom[ble]'`; plug a clip in, or try `--source virtual`.",
            "missing",
        )
    return sources


def _usb_ports(baud: int | None) -> list[Source]:
    from .serial_source import DEFAULT_BAUD, SerialSource, ports

    return [SerialSource(port, baud or DEFAULT_BAUD) for port in ports()]


def _named(
    name: str, baud: int | None, logbook: Path | None, speed: float, wanted: Sequence[str] | None
) -> list[Source]:
    way, _, rest = name.partition(":")
    match way:
        case "serial" if not rest:
            found = _usb_ports(baud)
            if not found:
                raise SourceError(
                    "there is no serial port with a USB device; plug a clip in, or name its port (serial:PORT).",
                    "missing",
                )
            return found
        case "bluetooth":
            from .bluetooth import BluetoothSource

            return [BluetoothSource(rest or None, wanted)]
        case "virtual":
            from ..models import PLACES
            from .virtual import VirtualSource

            places = rest.split(",") if rest else PLACES[:6]
            try:
                return [VirtualSource(places, speed=speed)]
            except ValueError as error:
                raise InputError(f"--source {name}: {error}.") from error
        case "replay":
            from .replay import ReplaySource

            if logbook is None or not rest:
                raise InputError(
                    f"--source {name} plays a session of a logbook; write replay:SESSION and name the --logbook."
                )
            return [ReplaySource(Logbook(logbook), rest, speed)]
    port = rest if way == "serial" else name
    if way != "serial" and not _looks_like_a_port(name):
        raise InputError(f"--source {name} is no way to hear clips; use one of {WAYS}.")
    from .serial_source import DEFAULT_BAUD, SerialSource

    return [SerialSource(port, baud or DEFAULT_BAUD)]


def _looks_like_a_port(name: str) -> bool:
    return "/" in name or "\\" in name or (name.upper().startswith("COM") and name[3:].isdigit())
