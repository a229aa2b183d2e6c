"""What a recording is of, and what became of it: the two shapes the guide and the files share."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from pydantic import AwareDatetime, Field, field_validator

from ..models import PLACES, Label, Model, Participant, Setup, Side

TWIN_S = 1.0
"""A clip that is heard at two places for longer than this at the same time is two clips with one id [s]."""


class About(Model):
    """Whose recording it is, on which set-ups, with which clips.

    worn : {clip id: place}; its order is the order of the session's clips, and the first one's first sample is time 0.
    started_at : with its time zone. typed_range_deg : active ends measured by hand, as in a session. source : where the
    clips were heard, kept in the session.
    """

    participant: Participant
    setups: list[Setup]
    worn: dict[Label, str] = Field(min_length=1)
    started_at: AwareDatetime = Field(default_factory=lambda: datetime.now().astimezone())
    note: str | None = None
    typed_range_deg: dict[Side, dict[str, float]] = Field(default_factory=dict)
    source: dict[str, str] = Field(default_factory=dict)

    @field_validator("worn")
    @classmethod
    def _places_once_each(cls, worn: dict[str, str]) -> dict[str, str]:
        for place in worn.values():
            if place not in PLACES:
                raise ValueError(f"nobody wears a clip at {place!r}; places are {', '.join(PLACES)}")
        twice = sorted({place for place in worn.values() if list(worn.values()).count(place) > 1})
        if twice:
            raise ValueError(f"two clips are worn at {', '.join(twice)}; take one of them off")
        return worn


@dataclass(frozen=True)
class ClipLoss:
    """What one clip delivered and what is missing of it.

    place : `right_foot`. kept : samples in the session. lost_s : time without samples between the first and the last
    sample of the whole recording [s]. gaps : spans of more than 0.1 s without samples, on the session's time [s].
    last_s : its last sample [s]. repeated, late : frames that came twice, or after later ones (these are kept).
    restarts : times it was switched off and on, or started anew.
    """

    place: str
    kept: int = 0
    lost_s: float = 0.0
    gaps: tuple[tuple[float, float], ...] = ()
    last_s: float | None = None
    repeated: int = 0
    late: int = 0
    restarts: int = 0


@dataclass(frozen=True)
class Kept:
    """What one recording became.

    session_id : of the session in the logbook. sentence : one line, what was kept and what was lost. losses : by place.
    problems : a sentence each, with the remedy where there is one. duration_s : from first to last sample [s].
    """

    session_id: str
    sentence: str
    losses: dict[str, ClipLoss] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    duration_s: float = 0.0
