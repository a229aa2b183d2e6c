"""Single keys from the keyboard, read by a thread of their own, while the main one records.

In a terminal each key comes as it is pressed (cbreak; Ctrl-C stays an interrupt). From a pipe each character counts as
a key. On Windows the console's own call is used; that has not been tried.
"""

from __future__ import annotations

import contextlib
import os
import queue
import re
import select
import sys
import threading
from collections.abc import Iterator

ENTER, SKIP, REPEAT, PAUSE, PAIN, ONLY, QUIT, YES, NO, TAP = "\n", "s", "r", " ", "p", "o", "q", "y", "n", "t"
RUBOUT = ("\x7f", "\b")

_LOOK_S = 0.1
_SEVERAL = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O[@-~])?")  # control sequences (ECMA-48) and shifts, or Esc alone


class Keys:
    """Keys that were pressed. Made by `reading`. ended : no more can come."""

    def __init__(self) -> None:
        self.ended = False
        self._pressed: queue.SimpleQueue[str] = queue.SimpleQueue()

    def put(self, key: str) -> None:
        """Add a key as if it were pressed."""
        self._pressed.put(key)

    def take(self) -> list[str]:
        """The keys pressed since the last call, in order."""
        pressed = []
        while not self._pressed.empty():
            pressed.append(self._pressed.get())
        return pressed


@contextlib.contextmanager
def reading() -> Iterator[Keys]:
    """Read keys from stdin until the end of the block; the terminal is afterwards as it was."""
    keys, stop = Keys(), threading.Event()
    try:
        handle = sys.stdin.fileno()
    except (AttributeError, OSError, ValueError):  # no stdin at all, or one that is no file
        keys.ended = True
        yield keys
        return
    with _single_keys(handle):
        thread = threading.Thread(target=_read, args=(handle, keys, stop), name="footroom keys", daemon=True)
        thread.start()
        try:
            yield keys
        finally:
            stop.set()
            thread.join(1.0)


@contextlib.contextmanager
def _single_keys(handle: int) -> Iterator[None]:
    if sys.platform == "win32" or not os.isatty(handle):
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(handle)
    try:
        tty.setcbreak(handle, termios.TCSANOW)
        yield
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _read(handle: int, keys: Keys, stop: threading.Event) -> None:
    if sys.platform == "win32":
        import msvcrt

        while not stop.wait(_LOOK_S / 2):
            while msvcrt.kbhit():
                keys.put(msvcrt.getwch())
        return
    while not stop.is_set():
        try:
            ready, _, _ = select.select([handle], [], [], _LOOK_S)
            if not ready:
                continue
            data = os.read(handle, 64)
        except (OSError, ValueError):  # the terminal is gone
            data = b""
        if not data:  # or the pipe has ended
            keys.ended = True
            return
        for key in _plain(data.decode("utf-8", "replace")):
            keys.put(key)


def _plain(text: str) -> str:
    """Without arrows and function keys, which come as several characters; what was pressed besides them is left."""
    return _SEVERAL.sub("", text)
