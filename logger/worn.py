"""Who is where: which clip, by its own id, is worn on which segment and side. One file of the logbook, `clips.json`.

A clip has one place for everybody, or another one for a participant who is named; the participant's own wins.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, ValidationError

from . import files
from .errors import InputError
from .json_files import read_json, validated
from .locks import locked, writing
from .models import SCHEMA_VERSION, Identifier, Label, Model, Segment, Side
from .settings import check_version

FILE_NAME = "clips.json"


class WornClip(Model):
    """The place of one clip. clip : its own id. side : None for the pelvis only. participant : None for everybody."""

    clip: Label
    segment: Segment
    side: Side | None = None
    participant: Identifier | None = None

    @property
    def name(self) -> str:
        """`right_foot`, ..., `pelvis`."""
        return self.segment if self.side is None else f"{self.side}_{self.segment}"


class WornClips(Model):
    """What the file holds."""

    schema_version: int = SCHEMA_VERSION
    clips: list[WornClip] = Field(default_factory=list)

    def places(self, participant: str | None = None) -> dict[str, str]:
        """{clip id: name of the place} for a participant; their own entries win over those for everybody."""
        own = {worn.clip: worn.name for worn in self.clips if participant and worn.participant == participant}
        taken = set(own.values())
        common = {
            worn.clip: worn.name
            for worn in self.clips
            if worn.participant is None and worn.clip not in own and worn.name not in taken
        }
        return {**common, **own}


def read_worn(logbook: Path) -> WornClips:
    """Who is where, as the logbook remembers it; nothing when nobody was told yet.

    Raises LogbookError when the file is damaged, LogbookFromFuture when a newer Footroom wrote it.
    """
    path = logbook / FILE_NAME
    if not path.is_file():
        return WornClips()
    data = read_json(path)
    check_version(data.get("schema_version"), str(path))
    return validated(WornClips, data, path)


def wear(
    logbook: Path, clip: str, segment: str, side: str | None = None, participant: str | None = None
) -> tuple[WornClip, list[str]]:
    """Remember that a clip is worn at a place. Returns the entry and the ids of clips that had the place until now.

    Raises InputError for a place that is none, LogbookError when the file cannot be read or written.
    """
    if segment == "pelvis" and side is not None:
        raise InputError("the pelvis has no side; leave out `right` or `left`.")
    if segment != "pelvis" and side is None:
        raise InputError(f"which {segment}? Add `right` or `left`.")
    try:
        entry = WornClip.model_validate({"clip": clip, "segment": segment, "side": side, "participant": participant})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = str(first["loc"][0])
        value = {"clip": clip, "segment": segment, "side": side, "participant": participant}[key]
        raise InputError(f"the {key} {value!r} cannot be used ({first['msg']}); correct it.") from error
    with locked(logbook, "_clips", 5.0, "the list of clips"), writing(logbook):
        worn = read_worn(logbook)
        same = [w for w in worn.clips if w.participant == participant]
        moved = [w.clip for w in same if w.name == entry.name and w.clip != clip]
        kept = [w for w in worn.clips if w.participant != participant or (w.clip != clip and w.name != entry.name)]
        _write(logbook, WornClips(**{**worn.model_dump(), "clips": [*kept, entry]}))
    return entry, moved


def take_off(logbook: Path, clip: str, participant: str | None = None) -> int:
    """Forget where a clip was worn; returns how many entries went. Raises LogbookError as `wear` does."""
    with locked(logbook, "_clips", 5.0, "the list of clips"), writing(logbook):
        worn = read_worn(logbook)
        kept = [w for w in worn.clips if w.clip != clip or (participant is not None and w.participant != participant)]
        gone = len(worn.clips) - len(kept)
        if gone:
            _write(logbook, WornClips(**{**worn.model_dump(), "clips": kept}))
    return gone


def _write(logbook: Path, worn: WornClips) -> None:
    files.write_json(logbook / FILE_NAME, worn.model_dump(mode="json", exclude_none=True))
