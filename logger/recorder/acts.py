"""What the guide asks to be done: poses, phases, remarks. `record.py` does it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from .plan import Step


@dataclass(frozen=True)
class Prepare:
    """The person gets ready, sitting (`still`) or with the feet on the pedals (`rest_on_pedal`) of a set-up."""

    phase: str
    setup: str | None
    at_s: float


@dataclass(frozen=True)
class Begin:
    """A step's phase begins."""

    step: Step
    at_s: float


@dataclass(frozen=True)
class End:
    """The running phase ends."""

    step: Step
    at_s: float


@dataclass(frozen=True)
class Drop:
    """The phase that runs, or the last one, shall not count."""

    step: Step
    at_s: float


@dataclass(frozen=True)
class Remark:
    """Something said or answered."""

    kind: str
    at_s: float
    what: Mapping[str, object]


@dataclass(frozen=True)
class Exchange:
    """The clips at these pairs of places change places, and the recording begins anew."""

    pairs: tuple[tuple[str, str], ...]


Act: TypeAlias = Prepare | Begin | End | Drop | Remark | Exchange
