"""From the folder of a recording to a session of the logbook: the same for one that ended well and one that did not.

Samples stay the integers that were sent; their times come from the clip's clock, brought onto the computer's. Zero is
the first sample of the first clip worn. Gaps stay gaps. The session appears whole, then the recording's folder goes;
whatever interrupts this leaves the recording as it was, and doing it twice makes one session.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import AlreadyInLogbook, LogbookError, NothingRecorded
from ..files import new_file, remove_folder
from ..locks import writing
from ..logbook import Logbook
from ..models import Clip, Session
from ..recording import COLUMNS, RawClip
from .about import ClipLoss, Kept
from .contents import Contents, read_contents, read_held
from .folders import forget_lock, held_recording
from .frame_table import write_frame_table
from .journal import FILE_NAME
from .kept import LEAST_SAID_S, loss_of, problems, sentence
from .phases_kept import phases_of, said_pain, setups_with_felt
from .sync_taps import AROUND_S, Window, tap_offsets
from .timed_clip import TimedClip, meaning_of, time_clip

BESIDE = "recording"
"""Folder of a session that holds what is kept beside the samples: journal, frames, and streams that did not count."""
TIME_SCALE_S = 1e-5  # stamps are stored as integers of this [s]


@dataclass
class _Built:
    """A recording on one clock. clips : those with samples, in the order worn. zero_s, span : host time [s]."""

    contents: Contents
    all_clips: list[TimedClip]
    clips: list[TimedClip]
    zero_s: float
    span: tuple[float, float]
    losses: dict[str, ClipLoss]


class _Samples(Mapping[str, RawClip]):
    """The samples by place, made when asked for."""

    def __init__(self, built: _Built) -> None:
        self._clips = {clip.worn: clip for clip in built.clips}
        self._zero_s = built.zero_s
        self._ids = {place: clip for clip, place in built.contents.about.worn.items()}

    def __getitem__(self, worn: str) -> RawClip:
        return _raw(self._clips[worn], self._zero_s, self._ids[worn])

    def __iter__(self) -> Iterator[str]:
        return iter(self._clips)

    def __len__(self) -> int:
        return len(self._clips)


def finish(logbook: Logbook, folder: Path) -> Kept:
    """Make a session of a recording, whether it was closed or broken off, and remove the recording.

    Raises RecordingRunning while it is being made, LogbookError when it cannot be read or the disk refuses, and
    NothingRecorded when no clip has a sample that can be used. The recording then stays as it is, unless there is
    nothing at all in it.
    """
    if not folder.is_dir():
        raise LogbookError(f"there is no recording {folder}; see `footroom recover --list`.")
    with held_recording(logbook.path, folder):
        contents = read_contents(folder)
        try:
            built = _build(contents)
        except NothingRecorded:
            if not any(found.batches or found.lost_bytes for found in map(read_held, contents.streams)):
                remove_folder(folder)
            raise
        session, kept = _session(built)

        def beside(target: Path) -> None:
            _keep_beside(built, target / BESIDE)

        try:
            session_id = logbook.add_session(session, _Samples(built), beside)
        except AlreadyInLogbook as error:
            session_id = error.session_id  # made before, but something came between that and removing the recording
        except LogbookError as error:
            safe = f"What was recorded is safe: `footroom recover --logbook {logbook.path}` makes a session of it then."
            raise type(error)(f"{error} {safe}") from error
        with logbook.adding(), writing(logbook.path):
            remove_folder(folder)
    forget_lock(logbook.path, folder)
    return replace(kept, session_id=session_id)


def _build(contents: Contents) -> _Built:
    all_clips = [time_clip(worn, contents.of(worn)) for worn in contents.about.worn.values()]
    clips = [clip for clip in all_clips if clip.runs]
    if not clips:
        raise NothingRecorded(
            f"the recording {contents.folder.name} holds no samples that can be used, so there is no session to make "
            "of it; look whether the clips send (`footroom clips`) and record again."
        )
    _use_taps(contents, clips)
    times = {clip.worn: _times(clip) for clip in clips}
    span = min(float(t[0]) for t in times.values()), max(float(t[-1]) for t in times.values())
    none = np.empty(0)
    zero_s = float(times[clips[0].worn][0])
    losses = {}
    for clip in all_clips:
        period_s = 1 / clip.meaning.rate_hz if clip.meaning else 1.0
        relative = times.get(clip.worn, none) - zero_s
        losses[clip.worn] = loss_of(clip, relative, (span[0] - zero_s, span[1] - zero_s), period_s)
    return _Built(contents, all_clips, clips, zero_s, span, losses)


def _times(clip: TimedClip) -> NDArray[np.float64]:
    """Host time of all samples of a clip, increasing [s]."""
    return np.concatenate([run.times()[run.skip :] for run in clip.runs])


def _use_taps(contents: Contents, clips: list[TimedClip]) -> None:
    """Shift clips by what sync taps show, where they do."""
    taps = [entry.at_s for entry in contents.journal.of("remark") if entry.what["remark"] == "sync_tap"]
    windows = [{clip.worn: _window(clip, at_s) for clip in clips} for at_s in taps]
    offsets = tap_offsets(windows)
    for clip in clips:
        if clip.worn in offsets:
            clip.shift(offsets[clip.worn])


def _window(clip: TimedClip, at_s: float) -> Window:
    """Times and sizes of the acceleration around a tap [s], [counts]."""
    for run in clip.runs:
        times = run.times()
        low, high = np.searchsorted(times, [at_s - AROUND_S, at_s + AROUND_S])
        if high > low:
            counts = run.frames.counts[run.rows()[low:high], :3].astype(np.float64)
            return times[low:high], np.linalg.norm(counts, axis=1)
    return np.empty(0), np.empty(0)


def _raw(clip: TimedClip, zero_s: float, clip_id: str) -> RawClip:
    """The samples of a clip: integers as sent, stamps in whole steps of `TIME_SCALE_S`."""
    counts = np.concatenate([run.frames.counts[run.rows()[run.skip :]] for run in clip.runs])
    steps = np.round((_times(clip) - zero_s) / TIME_SCALE_S).astype(np.int64)
    if len(steps) and max(abs(int(steps[0])), abs(int(steps[-1]))) < 2**31:
        steps = steps.astype(np.int32)
    meaning = meaning_of(clip.runs[0].stream)
    columns = [np.ascontiguousarray(counts[:, axis]) for axis in range(6)]
    return RawClip(
        dict(zip(COLUMNS, [steps, *columns], strict=True)),
        "m/s^2",
        "rad/s",
        TIME_SCALE_S,
        meaning.acc_scale,
        meaning.gyr_scale,
        {"clip": clip_id, "rate_hz": f"{meaning.rate_hz:g}"},
    )


def _session(built: _Built) -> tuple[Session, Kept]:
    """The session, and what to say of it."""
    contents, zero_s = built.contents, built.zero_s
    about, start_s, end_s = contents.about, built.span[0], built.span[1]
    marks = phases_of(contents.journal, zero_s, built.span)
    said = [text for clip in built.all_clips for text in problems(clip, zero_s)]
    absent = [clip.worn for clip in built.all_clips if not clip.runs]
    line = sentence(list(built.losses.values()), absent, (start_s - zero_s, end_s - zero_s), not contents.ended)
    whole = contents.ended and not absent and all(loss.lost_s < LEAST_SAID_S for loss in built.losses.values())
    warnings = [*([] if whole else [line]), *said, *marks.warnings, *said_pain(contents.journal, zero_s)]
    digest = hashlib.sha256(f"footroom recording {contents.token}".encode()).hexdigest()
    session = Session(
        id=about.participant.id,
        participant=about.participant,
        recorded_at=about.started_at,
        note=about.note,
        setups=setups_with_felt(about.setups, contents.journal),
        clips=[_clip(clip.worn) for clip in built.clips],
        phases=marks.phases,
        typed_range_deg=about.typed_range_deg,
        source={**about.source, "kind": "recording", "sha256": digest, "recording": contents.folder.name, "kept": line},
        warnings=warnings,
    )
    recorded = {clip.worn: _recorded(built, clip) for clip in built.all_clips}
    session = Session.model_validate({**session.model_dump(), "recorded": recorded})
    return session, Kept("", line, built.losses, [*said, *marks.warnings], end_s - start_s)


def _clip(worn: str) -> Clip:
    side, _, segment = worn.rpartition("_")
    return Clip.model_validate({"segment": segment, "side": side or None, "file": f"clips/{worn}.arrow"})


def _recorded(built: _Built, clip: TimedClip) -> dict[str, object]:
    """What is worth knowing of a clip later, in session.json."""
    loss = built.losses[clip.worn]
    ids = {place: known for known, place in built.contents.about.worn.items()}
    found: dict[str, object] = {"clip": ids[clip.worn], "samples": loss.kept, "lost_s": loss.lost_s}
    found |= {"repeated": loss.repeated, "late": loss.late, "restarts": loss.restarts}
    if clip.runs:
        found["clock_skew_ppm"] = [round(run.clock.skew_ppm, 2) for run in clip.runs]
        found["clock_uncertainty_s"] = round(max(run.clock.uncertainty_s for run in clip.runs), 6)
    if clip.shifted_s is not None:
        found["sync_tap_shift_s"] = round(clip.shifted_s, 4)
    return found


def _keep_beside(built: _Built, folder: Path) -> None:
    """Journal, frames, and the streams that are not wholly in the session."""
    folder.mkdir()
    _copy(built.contents.folder / FILE_NAME, folder / FILE_NAME)
    for clip in built.all_clips:
        if clip.runs:
            write_frame_table(folder / f"{clip.worn}.parquet", clip, built.zero_s)
        aside = [stream for stream, _ in clip.left_out] + clip.damaged
        if clip.unusable:
            aside = built.contents.of(clip.worn)
        for path in dict.fromkeys(stream.path for stream in aside):
            _copy(path, folder / path.name)


def _copy(source: Path, target: Path) -> None:
    if source.is_file():
        with new_file(target) as temporary:
            shutil.copyfile(source, temporary)
