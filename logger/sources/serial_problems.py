"""What a serial port refuses, in one sentence with the remedy."""

from __future__ import annotations

import errno
import sys

from ..errors import SourceError

_MISSING = {errno.ENOENT, errno.ENODEV, errno.ENXIO}
_REFUSED = {errno.EACCES, errno.EPERM}
_BUSY = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}


def open_error(port: str, error: Exception, platform: str = sys.platform) -> SourceError:
    """What it means that a port cannot be opened.

    Linux was tried. macOS follows from the same system calls, Windows from pyserial 3.5's source (its message holds
    the system's error: 2 no such file, 5 access denied, which is also what an open port answers): not tried there.
    """
    number = getattr(error, "errno", None)
    text = str(error)
    if platform == "win32":
        if "FileNotFoundError" in text:
            number = errno.ENOENT
        elif "PermissionError" in text or "Access is denied" in text:
            number = errno.EBUSY
    if number in _MISSING:
        return SourceError(
            f"there is no serial port {port}; plug the clip in, and see `footroom clips` for the ports there are.",
            "missing",
            port,
        )
    if number in _REFUSED:
        group = (
            "add yourself to the group that owns it (often `sudo usermod -aG dialout $USER`, then log in again)"
            if platform.startswith("linux")
            else "allow your user to use it"
        )
        return SourceError(f"you may not use the serial port {port} (permission denied); {group}.", "refused", port)
    if number in _BUSY:
        return SourceError(
            f"the serial port {port} is busy: another program has it open; close it (a serial monitor, another "
            "Footroom) and try again.",
            "busy",
            port,
        )
    if isinstance(error, ValueError):
        return SourceError(f"the serial port {port} cannot be set up ({text}); choose another --baud.", "refused", port)
    return SourceError(
        f"{port} cannot be used as a serial port ({text}); choose a port that `footroom clips` lists.", "refused", port
    )


def garbled(port: str, baud: int, size: int, seconds: float) -> str:
    """Bytes came, and nothing of them could be read."""
    return (
        f"what comes from {port} at {baud} baud is not a clip's ({size} bytes in {seconds:.0f} s, nothing readable): "
        "the baud rate is wrong or another device is there; try --baud 460800 or the rate its firmware says, or "
        "another port."
    )


def disturbed(port: str, damaged: int, good: int) -> str:
    """Some frames are good and many are not."""
    return (
        f"garbage on the line {port}: {damaged} of the last {damaged + good} frames or lines arrived damaged; use a "
        "shorter or better cable, a lower rate, and let nothing else print on that line."
    )


def no_word(port: str, seconds: float) -> str:
    """Nothing came."""
    return (
        f"nothing comes from {port} ({seconds:.0f} s); switch the clip on, and see that this is its port and not "
        "another device's."
    )


def not_said(port: str) -> str:
    """Samples come, but no hello or header explains them."""
    return (
        f"samples come from {port} but no hello or header line says whose they are; send it once a second "
        "(firmware_notes/serial.md)."
    )
