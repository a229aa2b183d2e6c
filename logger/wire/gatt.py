"""How a clip shows itself over Bluetooth LE: `firmware_notes/bluetooth.md` is the written form of this.

One service with two characteristics: frames come as notifications, one frame each; commands are written, one frame
each. The UUIDs are random (version 4) but for the fourth byte; nobody else's.
"""

from __future__ import annotations

SERVICE_UUID = "dd9f5422-8fe5-4701-8b0d-b091da4900bc"
FRAMES_UUID = "dd9f5423-8fe5-4701-8b0d-b091da4900bc"  # notify
COMMANDS_UUID = "dd9f5424-8fe5-4701-8b0d-b091da4900bc"  # write with response, at most 20 bytes

NAME_PREFIX = "Footroom "  # the advertised name: this and the identity, as the hello gives it

# Assigned numbers of the Bluetooth SIG, in the base UUID.
BATTERY_SERVICE_UUID = "0000180f-0000-1000-8000-00805f9b34fb"
BATTERY_LEVEL_UUID = "00002a19-0000-1000-8000-00805f9b34fb"
DEVICE_INFORMATION_UUID = "0000180a-0000-1000-8000-00805f9b34fb"
FIRMWARE_REVISION_UUID = "00002a26-0000-1000-8000-00805f9b34fb"


def identity_in(name: str | None) -> str | None:
    """The identity in an advertised name, 12 lower-case hexadecimal digits; None if there is none."""
    if name is None or not name.startswith(NAME_PREFIX):
        return None
    identity = name.removeprefix(NAME_PREFIX).lower()
    whole = len(identity) == 12 and not set(identity) - set("0123456789abcdef")
    return identity if whole else None
