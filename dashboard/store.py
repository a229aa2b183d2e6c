"""What the screens read: sessions, exposure figures and angles of one logbook. Nothing here writes.

Files are read anew for every page, so that a session analysed meanwhile shows on reload; only the angle columns of
the last sessions looked at are kept, and they go when their file changes.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..analysis.exposure_shape import has_shape
from ..analysis.motions import UNCERTAINTY
from ..logger.errors import FootroomError, NotInLogbook
from ..logger.logbook import Logbook
from ..logger.models import Participant, Session
from ..logger.person_notes import PersonNotes, read_notes

Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True)
class Entry:
    """A session with its exposure figures, or the sentence that says why there are none."""

    session: Session
    exposure: dict[str, Any] | None = None
    problem: str | None = None

    @property
    def participant(self) -> str:
        """The pseudonym."""
        return self.session.participant.id


@dataclass
class Store:
    """Read-only view of the logbook at `path`. Safe to use from several threads.

    Raises LogbookError (from `Logbook.open`) if there is no logbook there.
    """

    path: Path
    kept_sessions: int = 3
    _logbook: Logbook = field(init=False, repr=False)
    _angles: OrderedDict[tuple[str, str], tuple[int, Floats]] = field(
        default_factory=OrderedDict, init=False, repr=False
    )
    _guard: threading.Lock = field(default_factory=threading.Lock, init=False, repr=False)

    def __post_init__(self) -> None:
        self._logbook = Logbook.open(self.path)

    def entries(self, participant: str | None = None) -> list[Entry]:
        """Sessions of one participant (of all when None), oldest first."""
        return [self.entry(name) for name in self._logbook.session_ids(participant)]

    def entry(self, session_id: str) -> Entry:
        """One session. Raises NotInLogbook, LogbookError."""
        session = self._logbook.session(session_id)
        path = self._logbook.derived_folder(session_id) / "exposure.json"
        try:
            exposure = json.loads(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return Entry(session, problem="Not analysed yet: run `footroom analyze`.")
        except (OSError, ValueError):
            return Entry(session, problem="Its figures cannot be read: run `footroom analyze --force`.")
        if not has_shape(exposure, session_id):
            return Entry(session, problem="Its figures are not complete: run `footroom analyze --force`.")
        return Entry(session, exposure)

    def participants(self) -> list[str]:
        """Pseudonyms of everybody the logbook knows, with or without sessions, in alphabetical order."""
        return self._logbook.participant_ids()

    def person(self, participant: str) -> Participant:
        """A person's lengths. Raises NotInLogbook, LogbookError."""
        return self._logbook.participant(participant)

    def notes(self, participant: str) -> PersonNotes:
        """Set-ups and ranges noted by hand. Raises LogbookError when the file is damaged."""
        return read_notes(self._logbook, participant)

    def settings(self) -> dict[str, Any]:
        """The logbook's checked settings."""
        return self._logbook.settings()

    def problems(self) -> list[str]:
        """Sentences about sessions that could not be read."""
        return self._logbook.problems()

    def angle_columns(self, session_id: str) -> list[str]:
        """Names of the angle columns there are; empty when the session is not analysed."""
        import pyarrow.parquet as pq

        path = self._angles_path(session_id)
        if not path.exists():
            return []
        names = pq.read_schema(path).names
        return [name for name in names if name != "time_s" and not name.endswith(UNCERTAINTY)]

    def angles(self, session_id: str, columns: Sequence[str]) -> tuple[Floats, dict[str, Floats]]:
        """Time (n,) [s] and the columns asked for, each (n,) [deg], NaN where unknown."""
        names = ["time_s", *columns]
        path = self._angles_path(session_id)
        stamp = path.stat().st_mtime_ns
        with self._guard:
            missing = [name for name in names if self._angles.get((session_id, name), (None,))[0] != stamp]
            if missing:
                self._read_angles(session_id, path, stamp, missing)
            found = {name: self._angles[session_id, name][1] for name in names}
            self._forget(session_id)
        return found.pop("time_s"), found

    def _read_angles(self, session_id: str, path: Path, stamp: int, names: list[str]) -> None:
        import pyarrow.parquet as pq

        with pq.ParquetFile(path) as file:  # read_table would bring in the data set machinery first: 0.4 s
            table = file.read(columns=names)
        for name in names:
            kind = np.float64 if name == "time_s" else np.float32
            values = table.column(name).to_numpy().astype(kind, copy=False)
            self._angles[session_id, name] = (stamp, np.ascontiguousarray(values))

    def _forget(self, session_id: str) -> None:
        """Keep the columns of this session and of the few looked at before it."""
        for key in [key for key in self._angles if key[0] == session_id]:
            self._angles.move_to_end(key)
        sessions = list(OrderedDict.fromkeys(key[0] for key in self._angles))
        for old in sessions[: -self.kept_sessions]:
            for key in [key for key in self._angles if key[0] == old]:
                del self._angles[key]

    def _angles_path(self, session_id: str) -> Path:
        return self._logbook.derived_folder(session_id) / "angles.parquet"


def read_entry(store: Store, session_id: str) -> Entry | str:
    """The session, or the sentence that says why not; it names no other session, for others' eyes."""
    try:
        return store.entry(session_id)
    except NotInLogbook:
        return f"There is no session ‘{session_id}’ in this logbook; look for it under Sessions."
    except FootroomError as error:
        return str(error)
