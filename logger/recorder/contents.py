"""What the folder of a recording holds, read back: what it is of, its journal, its streams and what they mean."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ..errors import LogbookError
from .about import About
from .folders import STREAM_SUFFIX
from .journal import ReadJournal, read_journal
from .stream_file import ReadStream, header_of, read_stream


@dataclass(frozen=True)
class Meaning:
    """What the numbers of a stream mean; see `ClipFacts`. place : what the clip was heard through."""

    acc_scale: float
    gyr_scale: float
    rate_hz: float
    delay_s: float
    place: str


@dataclass(frozen=True)
class StreamHeld:
    """One stream of a recording. worn : its place on the body. meaning : None where nothing says it."""

    path: Path
    worn: str
    meaning: Meaning | None


@dataclass(frozen=True)
class Contents:
    """A recording as it lies on the disk. token : tells it from all others. ended : closed in good order."""

    folder: Path
    about: About
    token: str
    journal: ReadJournal
    streams: list[StreamHeld]

    @property
    def ended(self) -> bool:
        """Whether it was closed, not broken off."""
        return bool(self.journal.of("closed"))

    def of(self, worn: str) -> list[StreamHeld]:
        """The streams of a place, in the order in which they were begun."""
        return [stream for stream in self.streams if stream.worn == worn]


def read_contents(folder: Path) -> Contents:
    """Read all but the samples. Raises LogbookError when it cannot be read, or nothing says what it is of."""
    try:
        journal = read_journal(folder)
        paths = sorted(folder.glob(f"*{STREAM_SUFFIX}"), key=_number)
        facts = {path: _facts(path, journal) for path in paths}
    except OSError as error:
        raise LogbookError(f"{folder} cannot be read ({error.strerror}); check the rights of the folder.") from error
    about, token = _about(folder, journal, facts)
    streams = []
    for path, known in facts.items():
        worn = about.worn.get(str(known.get("clip")), path.stem.split("-")[0])
        if worn in about.worn.values():
            clip = next(clip for clip, place in about.worn.items() if place == worn)
            streams.append(StreamHeld(path, worn, _meaning({**_said(clip, journal), **known})))
    return Contents(folder, about, token, journal, streams)


def read_held(stream: StreamHeld) -> ReadStream:
    """The frames of a stream. Raises LogbookError when the disk refuses."""
    try:
        return read_stream(stream.path)
    except OSError as error:
        raise LogbookError(f"{stream.path} cannot be read ({error.strerror}); check the disk.") from error


def _number(path: Path) -> tuple[str, int]:
    """`right_foot`, `right_foot-2`, ... `right_foot-10` in that order."""
    worn, _, number = path.stem.partition("-")
    return worn, int(number) if number.isdigit() else 1


def _facts(path: Path, journal: ReadJournal) -> dict[str, Any]:
    """What is known of a stream: by its own header, else by the journal."""
    with path.open("rb") as file:
        own = header_of(file.read(1 << 16))[2]
    if own is not None:
        return own
    return next((entry.what["facts"] for entry in journal.of("stream") if entry.what["file"] == path.name), {})


def _said(clip: str, journal: ReadJournal) -> dict[str, Any]:
    """What a clip said of itself first."""
    return next((entry.what["facts"] for entry in journal.of("connected") if entry.what["clip"] == clip), {})


def _meaning(facts: dict[str, Any]) -> Meaning | None:
    names = ("acc_scale", "gyr_scale", "rate_hz", "delay_s")
    if any(name not in facts for name in names):
        return None
    meaning = Meaning(*(float(facts[name]) for name in names), place=str(facts.get("place", "")))
    return meaning if min(meaning.acc_scale, meaning.gyr_scale, meaning.rate_hz) > 0 else None


def _about(folder: Path, journal: ReadJournal, facts: dict[Path, dict[str, Any]]) -> tuple[About, str]:
    for what in [*(entry.what for entry in journal.of("about")), *facts.values()]:
        try:
            return About.model_validate_json(what["about"]), str(what["token"])
        except (KeyError, ValidationError):
            continue
    raise LogbookError(
        f"{folder}: nothing in it says any more whose recording it is; its files are left as they are, restore "
        "them from a copy."
    )
