"""Virtual clips on pseudo-terminals in a process of their own, for tests: started and ended by the test.

with private_ports("--clips", 2) as clips:      # clips.ports: what a serial source opens
    clips.tell("pull", 0)
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent (Windows)")


class PrivatePorts:
    """The remote control of the process."""

    def __init__(self, process: subprocess.Popen[str], folder: Path, number: int) -> None:
        self._process = process
        self.ports = [str(folder / f"clip{i}") for i in range(number)]

    @property
    def pid(self) -> int:
        return self._process.pid

    def tell(self, *words: Any) -> str:
        """One line to the process (`pull 0`); returns its answer."""
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(" ".join(map(str, words)) + "\n")
        self._process.stdin.flush()
        return self._process.stdout.readline().strip()


@contextlib.contextmanager
def private_ports(number: int = 1, *arguments: Any) -> Iterator[PrivatePorts]:
    """`number` clips; arguments as `pty_clips.py` takes them."""
    with tempfile.TemporaryDirectory(prefix="footroom-ports-") as folder:
        script = Path(__file__).with_name("pty_clips.py")
        command = [sys.executable, "-W", "error", str(script), folder, "--clips", str(number), *map(str, arguments)]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            try:
                if process.stdout.readline().strip() != "ready":
                    raise RuntimeError("the virtual clips did not start")
                yield PrivatePorts(process, Path(folder), number)
            finally:
                process.terminate()
                process.wait(5)
