"""A private D-Bus with a fake Bluetooth service on it, for tests: started and ended by the test, seen by nobody else.

    with private_bluez("--clips", 2) as bluez:      # DBUS_SYSTEM_BUS_ADDRESS points at it
        bluez.tell("drop", 0)

Needs `dbus-daemon` (Debian package dbus); `needs_dbus` skips by name where it is absent.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

CONFIGURATION = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN" "busconfig.dtd">
<busconfig><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
<policy context="default">
<allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/>
</policy>
</busconfig>"""

needs_dbus = pytest.mark.skipif(
    shutil.which("dbus-daemon") is None, reason="dbus-daemon is absent (Debian package dbus)"
)


class Remote:
    """The remote control of clips in a process of their own: one line there, one line back."""

    script = "fake_bluez.py"

    def __init__(self, *arguments: Any) -> None:
        self._arguments = arguments
        self._process: subprocess.Popen[str] | None = None
        self.start(*arguments)

    def start(self, *arguments: Any) -> None:
        script = Path(__file__).with_name(self.script)
        command = [sys.executable, "-W", "error", str(script), *map(str, arguments or self._arguments)]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        if self._answer() != "ready":
            self.kill()
            raise RuntimeError("the virtual clips did not start")

    def tell(self, *words: Any) -> str:
        """One line to the service (`drop 0`); returns its answer."""
        assert self._process is not None and self._process.stdin is not None
        self._process.stdin.write(" ".join(map(str, words)) + "\n")
        self._process.stdin.flush()
        return self._answer()

    def kill(self) -> None:
        """The service dies without a word."""
        self._end(kill=True)

    def close(self) -> None:
        self._end(kill=False)

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def _answer(self) -> str:
        assert self._process is not None and self._process.stdout is not None
        return self._process.stdout.readline().strip()

    def _end(self, kill: bool) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill() if kill else process.terminate()
        process.wait(5)
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(BrokenPipeError):
                    pipe.close()


@contextlib.contextmanager
def private_bus() -> Iterator[str]:
    """A dbus-daemon of one's own; `DBUS_SYSTEM_BUS_ADDRESS` points at it meanwhile."""
    with tempfile.TemporaryDirectory(prefix="footroom-bus-") as folder:
        socket, configuration = Path(folder, "bus"), Path(folder, "bus.conf")
        configuration.write_text(CONFIGURATION.format(socket=socket), encoding="utf-8")
        daemon = subprocess.Popen(
            ["dbus-daemon", f"--config-file={configuration}", "--nofork", "--nopidfile", "--print-address=1"],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert daemon.stdout is not None
        address = daemon.stdout.readline().strip()  # comes when it listens
        before = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = address
        try:
            yield address
        finally:
            daemon.terminate()
            daemon.wait(5)
            daemon.stdout.close()
            if before is None:
                del os.environ["DBUS_SYSTEM_BUS_ADDRESS"]
            else:
                os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = before


@contextlib.contextmanager
def private_bluez(*arguments: Any) -> Iterator[Remote]:
    """A private bus with the fake service on it."""
    with private_bus():
        bluez = Remote(*arguments)
        try:
            yield bluez
        finally:
            bluez.close()
