"""Parameters of the analysis: what logbook.toml may change, with the defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from .motions import MOTION


@dataclass(frozen=True)
class Parameters:
    """block_s : length of the blocks that are compared [s].   zone_deg : {motion: width of the end zone} [deg]."""

    block_s: float = 60.0
    zone_deg: dict[str, float] = field(default_factory=lambda: {name: m.zone_deg for name, m in MOTION.items()})

    def as_json(self) -> dict[str, Any]:
        """The parameters as plain data."""
        return asdict(self)


def parameters_of(settings: Mapping[str, Any]) -> Parameters:
    """Parameters from a logbook's checked settings."""
    analysis = settings.get("analysis", {})
    default = Parameters()
    return Parameters(
        block_s=float(analysis.get("block_s", default.block_s)),
        zone_deg=default.zone_deg | {m: float(z) for m, z in analysis.get("zone_deg", {}).items()},
    )
