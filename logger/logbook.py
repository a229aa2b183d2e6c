"""The logbook: a folder with everything, and nothing outside it.

    L/logbook.toml             schema version and settings
    L/participants/ID.json     a person's lengths as known now
    L/sessions/ID/             session.json, clips/NAME.arrow (as recorded), derived/ (written by analysis)
    L/.locks/                  empty files that say who is writing

There is no index: what is on the disk is the truth. A session that cannot be read does not hide the others; see
`Logbook.problems`.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from . import files
from .errors import AlreadyInLogbook, InputError, LogbookError, NotInLogbook
from .json_files import read_json, validated
from .locks import lock_path, locked, writing
from .models import Participant, Session, is_identifier
from .new_logbook import check_place, some
from .recorder.folders import forget_lock, held_recording, recordings_folder, recordings_of
from .recording import ClipSamples, RawClip, read_clip, write_clip
from .settings import FILE_NAME, check_version, new_settings_text, read_settings, read_version

_ADDING = "_adding"  # the lock of imports and deletions; no id begins with _


class Logbook:
    """An existing logbook folder.

    Raises LogbookError when `path` is none, LogbookFromFuture when a newer Footroom wrote it, InputError when its
    settings cannot be read.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        if not self.path.is_dir():
            state = "is a file" if self.path.exists() else "does not exist"
            raise LogbookError(
                f"{self.path} {state}, so it is no logbook; name the logbook's folder, or make one with "
                "`footroom import FOLDER --logbook L`."
            )
        if not (self.path / FILE_NAME).is_file():
            raise LogbookError(
                f"{self.path} is no logbook (it holds no {FILE_NAME}); name a logbook's folder, or an empty or new "
                "folder to make one."
            )
        read_version(self.path / FILE_NAME)

    @classmethod
    def create(cls, path: Path | str) -> Logbook:
        """Make a logbook in a new or empty folder. Raises LogbookError when something else is there."""
        path = Path(path)
        check_place(path)
        if (path / FILE_NAME).is_file():
            raise LogbookError(f"{path} is a logbook already; open it instead.")
        try:
            files.write_text(path / FILE_NAME, new_settings_text())
        except OSError as error:
            raise LogbookError(f"cannot make a logbook in {path} ({error.strerror}); choose another folder.") from error
        return cls(path)

    @classmethod
    def open(cls, path: Path | str, create: bool = False) -> Logbook:
        """Open the logbook at `path`; with `create`, make it when nothing is there. Raises as the class does."""
        path = Path(path)
        if create and not (path / FILE_NAME).is_file():
            return cls.create(path)
        return cls(path)

    def settings(self) -> dict[str, Any]:
        """What `logbook.toml` says, checked: `["analysis"]` may hold "block_s" [s] and "zone_deg" {motion: deg}.

        Raises InputError with file and line when a value cannot be used.
        """
        return read_settings(self.path / FILE_NAME)

    # Sessions

    def session_folder(self, session_id: str) -> Path:
        """Where a session lives. Raises NotInLogbook when there is none of that id."""
        folder = self._sessions / session_id if is_identifier(session_id) else None
        if folder is None or not folder.is_dir():
            known = self._folder_names()
            there = f"it holds {some(known)}" if known else "it holds no session yet"
            raise NotInLogbook(f"no session {session_id!r} in {self.path}; {there}.")
        return folder

    def derived_folder(self, session_id: str) -> Path:
        """Where analysis puts its results (made by the first write). Raises NotInLogbook."""
        return self.session_folder(session_id) / "derived"

    def session(self, session_id: str) -> Session:
        """A session's metadata.

        Raises NotInLogbook, LogbookFromFuture, or LogbookError in one sentence when `session.json` is damaged.
        """
        path = self.session_folder(session_id) / "session.json"
        data = read_json(path)
        check_version(data.get("schema_version"), f"session {session_id} ({path})")
        session = validated(Session, data, path)
        if session.id != session_id:
            raise LogbookError(
                f"{path}: the folder is called {session_id} but its session says {session.id}; rename the folder back."
            )
        there = {setup.name for setup in session.setups}
        lost = {phase.setup for phase in session.phases if phase.setup is not None} - there
        if lost or not there:
            named = (
                "names no set-up"
                if not there
                else f"names phases on {', '.join(sorted(lost))}, which is no set-up of it"
            )
            raise LogbookError(f"{path}: {named}; correct it or restore a copy.")
        return session

    def sessions(self, participant: str | None = None) -> list[Session]:
        """Every readable session, by the time it was recorded; of one participant when named."""
        found = [session for session, _ in self._read_all() if session is not None]
        found = [session for session in found if participant is None or session.participant.id == participant]
        return sorted(found, key=lambda session: (session.recorded_at.timestamp(), session.id))

    def session_ids(self, participant: str | None = None) -> list[str]:
        """The ids of every readable session, by the time it was recorded; of one participant when named."""
        return [session.id for session in self.sessions(participant)]

    def problems(self) -> list[str]:
        """One sentence for each session that cannot be read."""
        return [problem for _, problem in self._read_all() if problem is not None]

    def clip_path(self, session_id: str, clip_name: str) -> Path:
        """The Arrow file of a clip (`right_foot`, `pelvis`). Raises NotInLogbook when it was not worn."""
        session = self.session(session_id)
        if session.clip(clip_name) is None:
            worn = ", ".join(clip.name for clip in session.clips)
            raise NotInLogbook(f"session {session_id} has no clip {clip_name!r}; it has {worn}.")
        return self.session_folder(session_id) / "clips" / f"{clip_name}.arrow"

    def read_clip(self, session_id: str, clip_name: str) -> ClipSamples:
        """The samples of a clip in SI units. Raises NotInLogbook, or InputError when the file is damaged."""
        return read_clip(self.clip_path(session_id, clip_name))

    def add_session(
        self, session: Session, recordings: Mapping[str, RawClip], beside: Callable[[Path], None] | None = None
    ) -> str:
        """Store a new session whole, and its participant; returns the id it was given.

        session : its `id` and the clips' `file` are set here; ids are PARTICIPANT-DATE, then -2, -3, ...
        recordings : the samples by clip name, one for each clip of the session; taken one at a time.
        beside : puts more files into the session's folder, before anybody sees it.

        Lengths missing in the session are filled with what the logbook knows of the person; typed ones win and are
        remembered. Any error, Ctrl-C included, leaves the logbook as it was. Raises InputError when recordings and
        clips do not match, AlreadyInLogbook when a session has the same `source["sha256"]`, LogbookBusy, and
        LogbookError when the disk refuses.
        """
        names = [clip.name for clip in session.clips]
        if sorted(names) != sorted(recordings):
            raise InputError(f"samples of {', '.join(sorted(recordings))} do not fit the clips {', '.join(names)}.")
        with self.adding(), writing(self.path):
            known = self.session_of_source(session.source.get("sha256"))
            if known is not None:
                raise AlreadyInLogbook(f"this recording is in {self.path} already, as session {known}.", known)
            participant = self._merged(session.participant)
            session = session.model_copy(deep=True)
            session.participant = participant
            session.id = self._new_id(session)
            with self._undone_on_error(session.id, participant.id) as target:
                with files.new_folder(target) as folder:
                    for clip in session.clips:
                        clip.file = f"clips/{clip.name}.arrow"
                        write_clip(folder / clip.file, recordings[clip.name])
                    if beside is not None:
                        beside(folder)
                    files.write_json(folder / "session.json", session.model_dump(mode="json", exclude_none=True))
                self.save_participant(participant)
        return session.id

    def session_of_source(self, sha256: str | None) -> str | None:
        """The id of the session that was made from this source (`source["sha256"]`), if one was."""
        if sha256 is None:
            return None
        return next((session.id for session in self.sessions() if session.source.get("sha256") == sha256), None)

    def delete_session(self, session_id: str) -> None:
        """Remove a session and all derived from it, for good. Raises NotInLogbook, LogbookBusy."""
        self.session_folder(session_id)
        self._delete([session_id])

    # Participants

    def participant_ids(self) -> list[str]:
        """Everybody with a file or a readable session, in order of id."""
        folder = self.path / "participants"
        on_file = {path.stem for path in folder.glob("*.json") if is_identifier(path.stem)}
        return sorted(on_file | {session.participant.id for session in self.sessions()})

    def participant(self, participant_id: str) -> Participant:
        """What the logbook knows of a person now. Raises NotInLogbook, or LogbookError when the file is damaged."""
        if is_identifier(participant_id):
            path = self._participant_path(participant_id)
            if path.is_file():
                return validated(Participant, read_json(path), path)
            sessions = self.sessions(participant_id)
            if sessions:
                return sessions[-1].participant
        known = self.participant_ids()
        there = f"it knows {some(known)}" if known else "it holds nobody yet"
        raise NotInLogbook(f"no participant {participant_id!r} in {self.path}; {there}.")

    def save_participant(self, participant: Participant) -> None:
        """Store a person's lengths in one step."""
        path = self._participant_path(participant.id)
        files.write_json(path, participant.model_dump(mode="json", exclude_none=True))

    def delete_participant(self, participant_id: str) -> list[str]:
        """Remove a person and all their sessions and recordings, unreadable ones included, for good.

        Returns the sessions' ids. Nothing is removed when one of the sessions is being written, or a recording of this
        person is running (LogbookBusy). Raises NotInLogbook.
        """
        theirs = set(self.session_ids(participant_id))
        if is_identifier(participant_id):
            readable = set(self.session_ids())
            own = re.compile(rf"{re.escape(participant_id)}-\d{{4}}-\d\d-\d\d(-\d+)?")
            theirs |= {name for name in self._folder_names() if name not in readable and own.fullmatch(name)}
            on_file = self._participant_path(participant_id).is_file()
            recordings = recordings_of(self.path, participant_id)
        else:
            on_file, recordings = False, []
        if not theirs and not on_file and not recordings:
            self.participant(participant_id)
        self._delete(sorted(theirs), recordings)
        if on_file:
            self._participant_path(participant_id).unlink(missing_ok=True)
        if is_identifier(participant_id):
            self._participant_path(f"{participant_id}.notes").unlink(missing_ok=True)
        return sorted(theirs)

    # Locks

    @contextlib.contextmanager
    def lock(self, session_id: str, timeout_s: float = 0.0) -> Iterator[None]:
        """Hold a session for writing. Raises LogbookBusy when another process has it, NotInLogbook."""
        self.session_folder(session_id)
        with self._locked(session_id, timeout_s, f"session {session_id}"):
            yield

    @contextlib.contextmanager
    def adding(self, timeout_s: float = 30.0) -> Iterator[None]:
        """Hold the list of sessions while one is added or removed; clears what interrupted imports left behind."""
        with self._locked(_ADDING, timeout_s, "the list of sessions"):
            for folder in (self.path, self._sessions, self.path / "participants", recordings_folder(self.path)):
                files.remove_leftovers(folder)
            yield

    def _locked(self, name: str, timeout_s: float, what: str) -> contextlib.AbstractContextManager[None]:
        return locked(self.path, name, timeout_s, what)

    # Inside

    @property
    def _sessions(self) -> Path:
        return self.path / "sessions"

    def _participant_path(self, participant_id: str) -> Path:
        return self.path / "participants" / f"{participant_id}.json"

    def _folder_names(self) -> list[str]:
        if not self._sessions.is_dir():
            return []
        return sorted(path.name for path in self._sessions.iterdir() if path.is_dir() and is_identifier(path.name))

    def _read_all(self) -> Iterator[tuple[Session | None, str | None]]:
        for name in self._folder_names():
            try:
                yield self.session(name), None
            except NotInLogbook:
                continue  # deleted by somebody else in the meantime
            except LogbookError as error:
                yield None, str(error)

    def _new_id(self, session: Session) -> str:
        first = f"{session.participant.id}-{session.recorded_at:%Y-%m-%d}"
        taken = set(self._folder_names())
        number, candidate = 1, first
        while candidate in taken:
            number += 1
            candidate = f"{first}-{number}"
        return candidate

    @contextlib.contextmanager
    def _undone_on_error(self, session_id: str, participant_id: str) -> Iterator[Path]:
        """Yield the folder of a new session; on any error it vanishes and the person's file is as it was."""
        target, person = self._sessions / session_id, self._participant_path(participant_id)
        before = person.read_bytes() if person.is_file() else None
        try:
            yield target
        except BaseException:
            if target.is_dir():
                files.remove_folder(target)
            if before is None:
                person.unlink(missing_ok=True)
            elif person.read_bytes() != before:
                files.write_bytes(person, before)
            for folder in (target.parent, person.parent):
                with contextlib.suppress(OSError):  # made for this session, or not empty
                    folder.rmdir()
            raise

    def _merged(self, typed: Participant) -> Participant:
        try:
            known = self.participant(typed.id)
        except NotInLogbook:
            return typed
        return Participant(**{**known.model_dump(exclude_none=True), **typed.model_dump(exclude_none=True)})

    def _delete(self, session_ids: list[str], recordings: Sequence[Path] = ()) -> None:
        with contextlib.ExitStack() as held:
            held.enter_context(self.adding())
            for session_id in session_ids:
                held.enter_context(self._locked(session_id, 0.0, f"session {session_id}"))
            for recording in recordings:
                held.enter_context(held_recording(self.path, recording))
            held.enter_context(writing(self.path))
            for folder in (*(self._sessions / session_id for session_id in session_ids), *recordings):
                files.remove_folder(folder)
        for recording in recordings:
            forget_lock(self.path, recording)
        for session_id in session_ids:
            with contextlib.suppress(OSError):  # an id is a trace of a person, too
                lock_path(self.path, session_id).unlink(missing_ok=True)
