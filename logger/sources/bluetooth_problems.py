"""What Bluetooth refuses, in one sentence with the remedy."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from ..errors import MissingPart, SourceError, SourceReason


def missing_library(error: ImportError) -> MissingPart:
    """The optional part is not there."""
    return MissingPart(
        f"Bluetooth needs a library that is not installed ({error.name}); install it with "
        "`pip install 'footroom[ble]'`, or use a serial port."
    )


def adapter_error(
    adapter: str | None, error: Exception, there: Sequence[str] = (), platform: str = sys.platform
) -> SourceError:
    """What it means that listening cannot begin.

    adapter : as asked for (`hci1`), None = the computer's own choice. there : adapters that the system knows.

    Linux was tried against a stand-in of the system's Bluetooth service. For macOS and Windows the reasons are those
    that bleak 3.1 documents (`BleakBluetoothNotAvailableReason`), and the remedies are from memory: not tried there.
    """
    place = adapter or "bluetooth"
    meant = adapter or " or ".join(there)
    named = f"the Bluetooth adapter {meant}" if meant else "the Bluetooth adapter"
    reason = getattr(getattr(error, "reason", None), "name", "")
    text = str(error.args[0] if error.args else error) or type(error).__name__
    kind: SourceReason
    service_says = str(getattr(error, "dbus_error", ""))
    if reason == "POWERED_OFF" or service_says.endswith(".NotReady"):  # NotReady: BlueZ of a named adapter that is off
        on = {"darwin": "in the menu bar", "win32": "in the settings"}.get(platform, "with `bluetoothctl power on`")
        kind, what = "off", f"{named} is switched off; switch it on {on}."
    elif reason == "NO_BLE_CENTRAL_ROLE":
        kind, what = "refused", f"{named} is too old for Bluetooth LE; plug in a newer one, or use a serial port."
    elif reason.startswith("DENIED"):
        remedy = {
            "darwin": "allow it for your terminal in System Settings, Privacy & Security, Bluetooth",
            "win32": "allow apps to use Bluetooth in the privacy settings",
        }.get(platform, "allow your user to use it (often: add yourself to the group bluetooth, then log in again)")
        kind, what = "refused", f"you may not use {named}; {remedy}."
    elif reason == "NO_BLUETOOTH" or (adapter and "not found" in text):
        here = f"no Bluetooth adapter {adapter}" if adapter else "no Bluetooth adapter"
        other = f"use {' or '.join(there)}" if there else "plug one in"
        kind, what = "missing", f"there is {here} in this computer; {other}, or use a serial port."
    elif _no_service(service_says + text, error):
        kind = "missing"
        what = (
            "the system's Bluetooth service does not answer; start it (Linux: `sudo systemctl start bluetooth`), or "
            "use a serial port."
        )
    else:
        kind, what = "refused", f"{named} cannot listen ({text}); switch it off and on, or use a serial port."
    return SourceError(what, kind, place)


def _no_service(text: str, error: Exception) -> bool:
    """No bus, or nobody on it who is called org.bluez."""
    return isinstance(error, (FileNotFoundError, ConnectionError, TimeoutError, EOFError)) or any(
        word in text for word in ("ServiceUnknown", "NameHasNoOwner", "not provided", "No such file")
    )


def short(error: BaseException) -> str:
    """An error in a few words."""
    text = str(error.args[-1] if error.args else error) or type(error).__name__
    return text.rstrip(".")
