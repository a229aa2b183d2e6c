"""Import of a folder of CSV files: `import.toml` and one CSV per clip, checked whole before anything is written."""

from __future__ import annotations

import difflib
import hashlib
import logging
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PureWindowsPath

import numpy as np

from .calm_turns import calm_turn_slip
from .csv_samples import read_csv_samples
from .errors import AlreadyInLogbook, InputError
from .import_toml import ImportPlan, read_import_toml
from .import_values import TomlPlace
from .logbook import Logbook
from .models import Clip, Phase, Session
from .new_logbook import check_place, undone_on_error
from .recording import RawClip
from .settings import FILE_NAME as LOGBOOK_FILE
from .setup_checks import person_findings, setup_findings
from .unit_checks import acceleration_slip, angular_rate_slip, slow_rate, stuck_sensor, time_slip

_EDGE_S = 0.5  # a phase may reach this far past the recording: people type rounded seconds [s]
_LEAST_SHARED = 0.9  # of the first clip's time that another clip should cover

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class _Source:
    """What identifies an imported folder: its text and samples, whatever the files are called."""

    sha256: str
    samples_sha256: str


def import_folder(folder: Path | str, logbook: Path | str | Logbook, *, now: datetime | None = None) -> str:
    """Import a CSV folder as a session; returns the session's id.

    folder : holds `import.toml` and one CSV per clip
    logbook : a logbook or the path of one; made when nothing is there
    now : the time of import, and of recording where the folder does not say (timezone aware; default: the clock's)

    What was noticed and kept is logged as warnings and stored in the session.

    Raises InputError (one sentence with file, line and remedy) for anything that cannot be used, AlreadyInLogbook
    with the session's id when the folder was imported before, LogbookError for the logbook. The logbook is then as it
    was before: not even made.
    """
    folder = Path(folder)
    if not folder.is_dir():
        state = "is a file, not a folder" if folder.exists() else "there is no such folder"
        raise InputError(f"{state}; name the folder that holds import.toml.", path=folder)
    existing = _existing(logbook)
    plan = read_import_toml(folder, now if now is not None else datetime.now().astimezone())
    _check_geometry(plan)
    paths = _clip_paths(folder, plan)
    source = _source(plan, paths)
    if existing is not None:
        _refuse_known(existing, folder, source, plan)
    recordings = _recordings(plan, paths)
    _check_phases(plan, recordings)
    session = Session(
        id=plan.participant.id,
        participant=plan.participant,
        recorded_at=plan.recorded_at,
        note=plan.note,
        setups=plan.setups,
        clips=[_with_origin(clip) for clip in plan.clips],
        phases=plan.phases,
        typed_range_deg=plan.typed_range_deg,
        source={"kind": "csv", "sha256": source.sha256, "samples_sha256": source.samples_sha256},
        warnings=plan.warnings,
    )
    if plan.kept:
        session = Session.model_validate({**session.model_dump(), "kept": plan.kept})
    if existing is not None:
        session_id = existing.add_session(session, recordings)
    else:
        place = Path(logbook) if not isinstance(logbook, Logbook) else logbook.path
        with undone_on_error(place):
            session_id = Logbook.open(place, create=True).add_session(session, recordings)
    for warning in plan.warnings:
        _log.warning("%s", warning)
    return session_id


def _check_geometry(plan: ImportPlan) -> None:
    """Refuse lengths and set-ups that cannot be, with the likely slip; what is only unusual becomes a warning."""
    lengths = person_findings(plan.participant)
    found = [(_place(plan, "participant"), one) for one in lengths]
    for index, setup in enumerate(plan.setups):
        geometry = [one for one in setup_findings(plan.participant, setup) if one not in lengths]
        found += [(_place(plan, "setup", index), one) for one in geometry]
    for place, finding in found:
        where = place if finding.key is None else place.at(finding.key)
        if finding.refuse and not finding.outside:
            raise where.error(finding.sentence)
        plan.warnings.append(where.sentence(finding.sentence))


def _existing(logbook: Path | str | Logbook) -> Logbook | None:
    if isinstance(logbook, Logbook):
        return logbook
    path = Path(logbook)
    if (path / LOGBOOK_FILE).is_file():
        return Logbook(path)
    check_place(path)
    return None


def _place(plan: ImportPlan, *place: str | int) -> TomlPlace:
    return TomlPlace(plan.path, plan.lines, place)


def _with_origin(clip: Clip) -> Clip:
    return Clip(**{**clip.model_dump(), "imported_from": clip.file})


def _clip_paths(folder: Path, plan: ImportPlan) -> list[Path]:
    paths: list[Path] = []
    root = folder.resolve()
    for index, clip in enumerate(plan.clips):
        place = _place(plan, "clip", index, "file")
        path = folder / clip.file.replace("\\", "/")
        try:
            if _is_outside(clip.file) or not path.resolve().is_relative_to(root):
                raise place.error(f"the file {clip.file!r} lies outside the folder; copy it into the folder.")
            there = path.is_file()
            again = there and any(other.samefile(path) for other in paths)
        except OSError as error:  # a name the system cannot have
            raise place.error(f"the file {clip.file!r} cannot be read ({error.strerror}); correct the name.") from error
        if not there:
            near = _near(folder, clip.file)
            raise place.error(f"there is no file {clip.file!r} in the folder{near}; correct the name.")
        if again:
            raise place.error(f"the file {clip.file!r} is named for two clips; every clip has a file of its own.")
        paths.append(path)
    return paths


def _is_outside(name: str) -> bool:
    windows = PureWindowsPath(name)
    return bool(windows.drive or windows.root or "\0" in name)


def _near(folder: Path, name: str) -> str:
    there = {path.name.casefold(): path.name for path in folder.glob("*.csv")}
    found = difflib.get_close_matches(name.casefold(), there, n=1, cutoff=0.6)
    return f" (there is {there[found[0]]!r})" if found else ""


def _source(plan: ImportPlan, paths: list[Path]) -> _Source:
    samples = hashlib.sha256()
    for clip, path in zip(plan.clips, paths, strict=True):
        try:
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            raise InputError(f"cannot be read ({error.strerror}); check the file and its rights.", path=path) from error
        samples.update(f"{clip.name} {digest}\n".encode())
    text = hashlib.sha256(plan.path.read_bytes()).hexdigest()
    both = hashlib.sha256(f"{text} {samples.hexdigest()}".encode()).hexdigest()
    return _Source(both, samples.hexdigest())


def _refuse_known(logbook: Logbook, folder: Path, source: _Source, plan: ImportPlan) -> None:
    known = logbook.session_of_source(source.sha256)
    if known is not None:
        raise AlreadyInLogbook(
            f"{folder} was imported before: it is session {known}; to import it again, delete that first.", known
        )
    for session in logbook.sessions():
        if session.source.get("samples_sha256") == source.samples_sha256:
            plan.warnings.append(f"the same samples are in the logbook already, as session {session.id}.")


def _recordings(plan: ImportPlan, paths: list[Path]) -> dict[str, RawClip]:
    recordings: dict[str, RawClip] = {}
    for clip, path in zip(plan.clips, paths, strict=True):
        samples = read_csv_samples(path)
        raw = RawClip(samples.columns, plan.acceleration_unit, plan.angular_rate_unit)
        if samples.left_out:
            plan.warnings.append(f"{path.name}, line 1: columns left out: {', '.join(samples.left_out)}.")
        for reason in _unit_slips(raw):
            raise InputError(f"{reason}.", path=path)
        if slow := slow_rate(samples.columns["time_s"]):
            plan.warnings.append(f"{path.name}: {slow}.")
        recordings[clip.name] = raw
    _check_overlap(plan, paths, recordings)
    return recordings


def _unit_slips(raw: RawClip) -> Iterator[str]:
    time_s = raw.columns["time_s"].astype(np.float64, copy=False)
    acc = np.column_stack([raw.columns[f"acc_{axis}"] for axis in "xyz"]).astype(np.float64, copy=False)
    gyr = np.column_stack([raw.columns[f"gyr_{axis}"] for axis in "xyz"]).astype(np.float64, copy=False)
    slips = (
        time_slip(time_s),
        stuck_sensor(acc, gyr),
        acceleration_slip(acc, raw.acceleration_unit),
        calm_turn_slip(time_s, acc, gyr, raw.angular_rate_unit),
        angular_rate_slip(time_s, acc, gyr, raw.angular_rate_unit),
    )
    yield from (slip for slip in slips if slip is not None)


def _span(raw: RawClip) -> tuple[float, float]:
    time_s = raw.columns["time_s"]
    return float(time_s[0]), float(time_s[-1])


def _check_overlap(plan: ImportPlan, paths: list[Path], recordings: Mapping[str, RawClip]) -> None:
    first = plan.clips[0].name
    start, end = _span(recordings[first])
    for clip, path in zip(plan.clips[1:], paths[1:], strict=True):
        own_start, own_end = _span(recordings[clip.name])
        shared = min(end, own_end) - max(start, own_start)
        if shared <= 0:
            plan.warnings.append(
                f"{path.name}: runs from {own_start:.10g} to {own_end:.10g} s and {first} from {start:.10g} to "
                f"{end:.10g} s; with no time in common they must be on clocks of their own, and `footroom analyze` "
                "looks for the shift in how they move."
            )
        elif shared < _LEAST_SHARED * (end - start):
            plan.warnings.append(f"{path.name}: covers only {shared:.1f} of the {end - start:.1f} s of {first}.")


def _check_phases(plan: ImportPlan, recordings: Mapping[str, RawClip]) -> None:
    first = plan.clips[0]
    start, end = _span(recordings[first.name])
    for index, phase in enumerate(plan.phases):
        for key, value in (("start_s", phase.start_s), ("end_s", phase.end_s)):
            if not start - _EDGE_S <= value <= end + _EDGE_S:
                raise _place(plan, "phase", index, key).error(
                    f"the phase {phase.name} has {key} = {value:g}, outside the recording of {first.name} "
                    f"({start:.10g} to {end:.10g} s); correct the time."
                )
        if not _has_samples(phase, recordings[first.name]):
            plan.warnings.append(_place(plan, "phase", index).sentence(f"the phase {phase.name} falls into a gap."))


def _has_samples(phase: Phase, raw: RawClip) -> bool:
    low, high = np.searchsorted(raw.columns["time_s"], [phase.start_s, phase.end_s])
    return bool(high > low)
