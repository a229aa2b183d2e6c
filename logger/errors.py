"""The one error tree. Each message says what is wrong, where, and what to do next.

    FootroomError                 exit status 2
      InputError                  a file or an option that cannot be used; .path and .line say where
      LogbookError                the logbook itself
        NotInLogbook              no such participant, set-up or session
        AlreadyInLogbook          this folder was imported before; .session_id says as what
        LogbookFromFuture         written by a newer Footroom
        LogbookBusy               another Footroom is writing this session
          RecordingRunning        a recording is being made on this logbook
        NothingRecorded           a recording without a single sample
      SourceError                 clips, or the way to them: no adapter, port busy, ...; .reason and .place say which
      WireError                   bytes from a clip that are no good frame; .damage says how
      AnalysisError               a session that cannot be analysed at all
      MissingPart                 an optional part is not installed

The commands turn them into one sentence on stderr and the exit status, in `footroom.dashboard.command` only.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal


class FootroomError(Exception):
    """Anything a person can put right. `exit_status` is what the command ends with."""

    exit_status = 2


class InputError(FootroomError):
    """A file, a value or an option that cannot be used.

    The message is complete without the attributes; they serve callers that want to point at the place.
    """

    def __init__(self, message: str, *, path: Path | str | None = None, line: int | None = None) -> None:
        self.path = Path(path) if path is not None else None
        self.line = line
        where = "" if path is None else f"{self.path}" + (f", line {line}" if line is not None else "") + ": "
        super().__init__(where + message)


class LogbookError(FootroomError):
    """Something about the logbook folder."""


class NotInLogbook(LogbookError):
    """No such participant, set-up or session."""


class AlreadyInLogbook(LogbookError):
    """The same recording is there already, as `session_id`."""

    def __init__(self, message: str, session_id: str) -> None:
        self.session_id = session_id
        super().__init__(message)


class LogbookFromFuture(LogbookError):
    """Written by a newer Footroom than this one."""


class LogbookBusy(LogbookError):
    """Another process is writing this session."""


class RecordingRunning(LogbookBusy):
    """A recording is being made on this logbook, or this very recording is still running."""


class NothingRecorded(LogbookError):
    """A recording without a single sample: nothing can be made of it."""


SourceReason = Literal[
    "missing", "off", "refused", "busy", "lost", "garbled", "version", "unknown clip", "same id", "no answer"
]


class SourceError(FootroomError):
    """A clip, or the port or adapter it should be heard through.

    place : the port, the adapter or the clip's id. `worth_retrying` says whether it may pass by itself.
    """

    def __init__(self, message: str, reason: SourceReason, place: str = "") -> None:
        self.reason: SourceReason = reason
        self.place = place
        super().__init__(message)

    @property
    def worth_retrying(self) -> bool:
        """Whether it may pass without anybody doing anything (a link that broke, a clip out of reach)."""
        return self.reason in ("missing", "lost", "no answer", "off")


class AnalysisError(FootroomError):
    """A session that cannot be analysed at all (single figures that cannot be known are withheld instead)."""


class MissingPart(FootroomError):
    """An optional part (an extra) is not installed."""


WireDamage = Literal["short", "long", "crc", "length", "value", "cobs"]


class WireError(FootroomError):
    """Bytes from a clip that are no good frame; `damage` says how."""

    def __init__(self, message: str, *, damage: WireDamage) -> None:
        self.damage: WireDamage = damage
        super().__init__(message)


def system_sentence(error: OSError) -> str:
    """What the system refused, where, and what to look at."""
    place = f"{error.filename}: " if error.filename else ""
    return f"{place}{error.strerror or error}. Check the path, its permissions and the free space."
