"""Clips over Bluetooth LE: several at once, found by their service, each with a watchdog, reconnected with back-off.

Everything runs in one thread with an event loop of its own. Linux was tried, with the real client library against a
stand-in of the system's Bluetooth service; a real radio, Windows and macOS were not: they are written from the
library's documentation.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Collection
from concurrent.futures import Future

from ..errors import SourceError
from ..wire import encode
from .base import ClipFacts, CommandName, Inbox, SourceKind, Trouble
from .bluetooth_links import CONNECT_S, Links
from .bluetooth_problems import missing_library, short


class BluetoothSource:
    """All clips in reach, or those that are wanted.

    adapter : `hci1`, Linux only; None = the first that is on. wanted : ids; once they are all heard the air is left
    alone. Clips of another id are then not connected to.

    Raises MissingPart when the client library is not installed.
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
        self._adapter, self._wanted = adapter, wanted
        self._thread: threading.Thread | None = None
        self._links: Links | None = None

    def open(self, inbox: Inbox) -> None:
        """Begin to look for clips. Raises SourceError when there is no adapter, it is off, or it is refused."""
        begun: Future[None] = Future()
        self._links = links = Links(self._bleak, inbox, self._adapter, self._wanted)
        self._thread = threading.Thread(
            target=_run, args=(links, inbox, begun), name=f"footroom {self.place}", daemon=True
        )
        self._thread.start()
        begun.result()

    def clips(self) -> list[ClipFacts]:
        """The clips heard now."""
        heard = [] if self._links is None else self._links.heard()
        return [clip.hearing.facts for clip in heard if clip.hearing.facts is not None]

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command and wait until the clip's radio has it. Raises SourceError when it is not heard, or gone."""
        links = self._links
        found = [] if links is None else [c for c in links.heard() if c.hearing.clip == clip]
        if links is None or links.loop is None or not found:
            raise SourceError(f"no clip {clip!r} is heard over Bluetooth; see `footroom clips`.", "unknown clip", clip)
        data = encode(found[0].hearing.ask(name, value))
        written = asyncio.run_coroutine_threadsafe(links.write(found[0], data), links.loop)
        try:
            written.result(CONNECT_S)
        except (*links.failures, TimeoutError) as error:
            written.cancel()
            where = found[0].device.address
            raise SourceError(
                f"{clip} ({where}) takes no command ({short(error)}); bring it nearer and try again.", "lost", clip
            ) from error

    def close(self) -> None:
        """Let go of all clips."""
        thread, self._thread = self._thread, None
        if thread is not None and self._links is not None:
            self._links.stop()
            thread.join()


def _run(links: Links, inbox: Inbox, begun: Future[None]) -> None:
    """The thread: until it is told to stop, or cannot go on."""
    problem: SourceError | None = SourceError("Bluetooth stopped by itself; start again.", "lost", links.place)
    try:
        asyncio.run(links.live(begun))
        problem = None
    except SourceError as error:
        problem = error
    except links.failures as error:
        problem = SourceError(f"Bluetooth stopped ({short(error)}); start again.", "lost", links.place)
    finally:
        links.loop = None
        if problem is not None and not begun.done():
            begun.set_exception(problem)
        elif problem is not None:
            inbox.put(Trouble("", time.monotonic(), links.place, str(problem), problem.reason))
