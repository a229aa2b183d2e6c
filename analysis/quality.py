"""What is known about how well a session can be trusted: the `quality` part of exposure.json."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass
class Quality:
    """Findings of one session's analysis, gathered on the way.

    slips : {"clip", "time_s", "turn_deg"}.   axes : per clip {"method", "share_explained", ...}.
    gaps : {"clip", "start_s", "end_s"}.
    limits : sensors at the end of their range (`sensor_limits`).
    withheld : {"what", "reason"}.   messages : doubts, in plain sentences.
    notes : how figures are meant; nothing is wrong.
    end_checks : per clip how far the pose at the end is turned against the one at the start.
    """

    slips: list[dict[str, Any]] = field(default_factory=list)
    axes: dict[str, dict[str, Any]] = field(default_factory=dict)
    gaps: list[dict[str, Any]] = field(default_factory=list)
    limits: list[dict[str, Any]] = field(default_factory=list)
    end_checks: list[dict[str, Any]] = field(default_factory=list)
    withheld: list[dict[str, str]] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def say(self, message: str) -> None:
        """Add a sentence once."""
        if message not in self.messages:
            self.messages.append(message)

    def note(self, sentence: str) -> None:
        """Add, once, a sentence about how figures are meant."""
        if sentence not in self.notes:
            self.notes.append(sentence)

    def withhold(self, what: str, reason: str) -> None:
        """Note that `what` cannot be known, and why."""
        entry = {"what": what, "reason": reason}
        if entry not in self.withheld:
            self.withheld.append(entry)

    def as_json(self) -> dict[str, Any]:
        """The findings as plain data."""
        return asdict(self)
