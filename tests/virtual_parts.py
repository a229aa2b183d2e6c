"""Virtual boards for tests and benchmarks: somebody practises, and wears this many clips."""

from __future__ import annotations

import time

from footroom.logger.sources.virtual_board import BoardFaults, VirtualBoard, identity_of
from footroom.logger.sources.virtual_counts import VirtualWearing
from footroom.logger.virtual_drummer import VirtualDrummer
from warped import join

join()
PLACES = tuple(f"{side}_{segment}" for side in ("right", "left") for segment in ("foot", "shank", "thigh"))


class Person:
    """Who wears the boards of this process: somebody who practises, or (`obeys`) does as told."""

    drummer = VirtualDrummer()

    @classmethod
    def begin(cls, phase: str, side: str, setup: str) -> str:
        """Do this from now on, `-` = both sides, the set-up as before; the answer is now."""
        now_s = time.monotonic()
        cls.drummer.begin(phase, now_s, None if side == "-" else side, None if setup == "-" else setup)  # type: ignore
        return repr(now_s)


def make_boards(
    number: int,
    rate_hz: int = 200,
    payload: int = 244,
    same_ids: bool = False,
    running: bool = False,
    obeys: bool = False,
    **faults,
) -> list[VirtualBoard]:
    """Boards whose time axis is `time.monotonic`, so that a tick says when a sample was taken (modulo 2^32 us).

    More than six clips wear places twice. faults : of `BoardFaults`, for each of them.
    """
    if not obeys:
        Person.drummer.practise(time.monotonic())
    wearing = VirtualWearing(Person.drummer, PLACES)
    return [
        VirtualBoard(
            identity_of(0 if same_ids else i), wearing.counts_of(PLACES[i % len(PLACES)]), rate_hz, payload,
            BoardFaults(**faults), running,
        )
        for i in range(number)
    ]  # fmt: skip
