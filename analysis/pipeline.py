"""One session from its recorded clips to `derived/`: the only place where analysis reads and writes.

    clips -> tracks -> angles -> active ends -> exposure -> derived/angles.parquet, derived/exposure.json

What was computed before from the same input, parameters and version is left alone.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import logging
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, cast

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from ..logger import files
from ..logger.errors import AnalysisError, InputError
from ..logger.logbook import Logbook
from ..logger.models import Session, tells_alone
from .calibration import phases_of
from .end_checks import check_end
from .exposure_shape import has_shape
from .findings import findings
from .motions import UNCERTAINTY
from .playing_figures import playing_figures, told_techniques
from .quality import Quality
from .session_angles import SessionAngles, session_angles
from .session_exposure import (
    Ends,
    active_ends,
    end_as_json,
    end_from_json,
    name_what_is_absent,
    session_exposure,
)
from .settings import Parameters, parameters_of
from .slide import slide_figures
from .slips import without_slips
from .tracks import read_tracks, session_timing
from .whole_session import whole_session

ALGORITHM = 36
"""Raised with every change that alters results, so that old ones are computed again."""
ANGLES = "angles.parquet"
EXPOSURE = "exposure.json"

_log = logging.getLogger(__name__)


def analyze_session(logbook: Logbook, session_id: str, *, force: bool = False, jobs: int = 1) -> bool:
    """Analyse one session and store the result; False when it was unchanged and left alone.

    jobs : processes for the clips of a long session.
    Raises NotInLogbook, LogbookBusy, InputError (damaged clip), AnalysisError (nothing to analyse).
    """
    session = logbook.session(session_id)
    parameters = parameters_of(logbook.settings())
    earlier = _earlier_ends(logbook, session)
    versions = {
        "footroom": importlib.metadata.version("footroom"),
        "algorithm": str(ALGORITHM),
        "vqf": importlib.metadata.version("vqf"),
    }
    with logbook.lock(session_id), ThreadPoolExecutor(1) as beside:  # for what waits for the disk
        folder = logbook.derived_folder(session_id)
        key = beside.submit(_key, logbook, session, parameters, earlier, versions)
        if not force and _key_of(folder) == key.result():
            return False
        quality = Quality(messages=list(session.warnings))
        played = bool(phases_of(session, "playing"))
        if not played and not any(tells_alone(phase.name) for phase in session.phases):
            raise AnalysisError(
                f"session {session_id} has no playing phase, so there is nothing to add up; record the playing, too, "
                "or import it again with its phase."
            )
        if not played:
            quality.say("No playing was recorded: the session tells of the ends of the range and the slide only.")
        timing = session_timing(logbook, session, quality)
        grid = timing.grid
        tracks = read_tracks(logbook, session, timing, jobs)
        tracks = without_slips(session, tracks, grid, quality)
        shifts = check_end(session, tracks, grid, quality)
        angles = session_angles(session, tracks, grid, quality, timing.strangers)
        del tracks
        written = beside.submit(_write_angles, folder / ANGLES, angles, session_id)
        ends = active_ends(session, angles, earlier, quality)
        name_what_is_absent(session, angles, ends, quality)
        setups = session_exposure(session, angles, ends, parameters, shifts, quality)
        playing = playing_figures(session, angles, ends, parameters.block_s, shifts)
        result = {
            "session": session_id,
            "participant": session.participant.id,
            "recorded_at": session.recorded_at.isoformat(),
            "setups": setups,
            "whole_session": whole_session(setups),
            "playing": playing,
            "ranges": {
                side: {motion: end_as_json(end) for motion, end in by_motion.items()}
                for side, by_motion in ends.items()
            },
            "slide": slide_figures(session, angles),
            "techniques": told_techniques(playing, angles.techniques),
            "quality": quality.as_json(),
            "parameters": parameters.as_json() | {"key": key.result()},
            "versions": versions,
        }
        result["quality"]["findings"] = findings(result, session)
        written.result()
        files.write_json(folder / EXPOSURE, _rounded(result))
    return True


def read_exposure(logbook: Logbook, session_id: str) -> dict[str, Any] | None:
    """The stored exposure of a session, or None when it was not analysed yet.

    Raises InputError when the file is damaged: it names the file and the command that makes it anew.
    """
    path = logbook.derived_folder(session_id) / EXPOSURE
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise InputError(f"cannot be read; run `footroom analyze {session_id} --force`.", path=path) from error
    if not has_shape(data, session_id):
        raise InputError(f"is not complete or damaged; run `footroom analyze {session_id} --force`.", path=path)
    return data


def _key_of(folder: Path) -> str | None:
    try:
        stored = json.loads((folder / EXPOSURE).read_text(encoding="utf-8"))
        return stored["parameters"]["key"] if (folder / ANGLES).is_file() else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _key(logbook: Logbook, session: Session, parameters: Parameters, earlier: Ends, versions: dict[str, str]) -> str:
    """One hash over everything the result depends on: metadata, samples, settings, earlier ends, versions."""
    digest = hashlib.sha256()
    digest.update(session.model_dump_json().encode())
    for clip in session.clips:
        with logbook.clip_path(session.id, clip.name).open("rb") as file:
            digest.update(hashlib.file_digest(file, "sha256").digest())
    ends = {s: {m: [e.value_deg, e.source] for m, e in by.items()} for s, by in sorted(earlier.items())}
    digest.update(json.dumps([parameters.as_json(), ends, versions], sort_keys=True).encode())
    return digest.hexdigest()


def _earlier_ends(logbook: Logbook, session: Session) -> Ends:
    """Active ends measured in earlier analysed sessions of the same person, the latest of each motion."""
    out: Ends = {}
    for other in logbook.sessions(session.participant.id):
        if other.id == session.id or other.recorded_at >= session.recorded_at:
            continue
        try:
            stored = read_exposure(logbook, other.id) or {}
        except InputError as error:
            _log.warning("%s", error)
            continue
        for side, by_motion in stored.get("ranges", {}).items():
            for motion, end in by_motion.items():
                if end["source"] == "this session":
                    out.setdefault(side, {})[motion] = end_from_json(end)
    return out


def _rounded(value: Any) -> Any:
    """Plain data with no more decimals than mean something, so that a person can read the file."""
    if isinstance(value, float):
        size = abs(value)
        return round(value, 4 if size < 100 else 3 if size < 1e5 else 0)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value


def _column(values: NDArray[np.floating[Any]]) -> pa.Array:
    """Numbers as an Arrow column, not copied. (`pyarrow.array` imports pandas first: half a second.)"""
    kind = pa.float64() if values.dtype == np.float64 else pa.float32()
    return pa.Array.from_buffers(kind, len(values), [None, pa.py_buffer(cast(Any, np.ascontiguousarray(values)))])


def _write_angles(path: Path, angles: SessionAngles, session_id: str) -> None:
    columns = {"time_s": _column(angles.grid.time_s)}
    for name, values in angles.columns.items():
        columns[name] = _column(values.astype(np.float32))
        sure = np.where(np.isfinite(values), angles.uncertainty[name], np.nan)
        columns[f"{name}{UNCERTAINTY}"] = _column(sure.round(2).astype(np.float32))
    fields = [
        pa.field(name, column.type, metadata={"unit": "s" if name == "time_s" else "deg"})
        for name, column in columns.items()
    ]
    schema = pa.schema(
        fields,
        metadata={
            "session": session_id,
            "footroom": importlib.metadata.version("footroom"),
            "rate_hz": str(angles.grid.rate_hz),
        },
    )
    flat = [name for name in columns if name.endswith(UNCERTAINTY)]
    with files.new_file(path) as temporary:
        table = pa.table(list(columns.values()), schema=schema)
        pq.write_table(table, temporary, compression="zstd", use_dictionary=flat)  # pyright: ignore[reportArgumentType]
