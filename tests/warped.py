"""Time that runs faster, for a test and the processes it starts: `time.monotonic` for all who call it by that name.

Waits of threads stay real, so that nothing is skipped; only clocks are read as if more time had passed.
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator

VARIABLE = "FOOTROOM_TEST_WARP"


def _warp(factor: float, base_s: float) -> None:
    real = time.monotonic
    time.monotonic = lambda: base_s + (real() - base_s) * factor  # type: ignore[assignment]


@contextlib.contextmanager
def warped(factor: float) -> Iterator[None]:
    """From here on a second lasts 1 / factor of one, here and in processes that import this module."""
    real, base_s = time.monotonic, time.monotonic()
    os.environ[VARIABLE] = f"{factor} {base_s!r}"
    _warp(factor, base_s)
    try:
        yield
    finally:
        time.monotonic = real  # type: ignore[assignment]
        del os.environ[VARIABLE]


def join() -> None:
    """In a process that was started while time ran faster: let it run so here, too."""
    if VARIABLE in os.environ:
        factor, base_s = os.environ[VARIABLE].split()
        _warp(float(factor), float(base_s))
