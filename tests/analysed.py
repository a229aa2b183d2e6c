"""From a session of the physics engine through a logbook and the whole analysis, and what came out beside the truth."""

import dataclasses
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
import pandas as pd
from footroom.analysis.pipeline import analyze_session, read_exposure
from footroom.logger.logbook import Logbook
from footroom.logger.models import Session
from footroom.logger.recording import RawClip


@dataclass
class Analysed:
    """angles : derived/angles.parquet.   exposure : derived/exposure.json.   truth : the physics session, if any."""

    angles: pd.DataFrame
    exposure: dict
    logbook: Logbook
    session_id: str

    @property
    def quality(self):
        return self.exposure["quality"]

    def withheld(self):
        """{what: reason}"""
        return {entry["what"]: entry["reason"] for entry in self.quality["withheld"]}

    def at(self, column, time_s):
        """An angle column at other times; NaN beside an unknown sample."""
        return np.interp(time_s, self.angles["time_s"], self.angles[column].astype(float))

    def errors(self, physics, column, setup=None):
        """Found minus true angle while playing [deg]."""
        rows = physics.within("playing", setup)
        return self.at(column, physics.truth.time_s[rows]) - physics.truth[column][rows].to_numpy()


def rmse(errors):
    """Root mean square of the known ones."""
    return float(np.sqrt(np.nanmean(np.square(errors))))


def session_of(clips, phases, *, participant=None, setups=None, right_axis=None, **more):
    """A `Session` to store: clips by name, phases as dicts or `Phase` records."""
    return Session(
        id="new",
        participant=participant or {"id": "p01"},
        recorded_at=more.pop("recorded_at", datetime(2026, 11, 20, 18, 30, tzinfo=UTC)),
        setups=setups or [{"name": "usual"}],
        clips=[
            {
                "segment": name.rpartition("_")[2],
                "side": name.rpartition("_")[0] or None,
                "file": name,
                "right_axis": (right_axis or {}).get(name),
            }
            for name in clips
        ],
        phases=[p if isinstance(p, dict) else dataclasses.asdict(p) for p in phases],
        **more,
    )


def store(logbook, clips, phases, **more):
    """Add a session to the logbook from records with time_s [s], acc [m/s^2], gyr [rad/s]; returns its id."""
    raw = {name: RawClip.from_arrays(r.time_s, r.acc, r.gyr) for name, r in clips.items()}
    return logbook.add_session(session_of(clips, phases, **more), raw)


def analysed(folder, physics, *, clips=None, phases=None, jobs=1, **more):
    """Store a physics session (or a changed copy of its clips and phases) in a new logbook and analyse it."""
    logbook = Logbook.create(folder)
    given = {"participant": physics.participant, "setups": physics.setups} | more
    session_id = store(logbook, clips or physics.clips, phases or physics.phases, **given)
    analyze_session(logbook, session_id, jobs=jobs)
    return result_of(logbook, session_id)


def result_of(logbook, session_id):
    """What the analysis stored."""
    angles = pd.read_parquet(logbook.derived_folder(session_id) / "angles.parquet")
    return Analysed(angles, read_exposure(logbook, session_id), logbook, session_id)


def silent(record, start_s, end_s):
    """A clip that says nothing from start to end [s]."""
    keep = (record.time_s < start_s) | (record.time_s >= end_s)
    return replace(record, time_s=record.time_s[keep], acc=record.acc[keep], gyr=record.gyr[keep])


def turned(record, rotation):
    """The same clip mounted differently: its axes turned by a scipy rotation."""
    return replace(record, acc=rotation.apply(record.acc), gyr=rotation.apply(record.gyr))


def mirrored(record):
    """What a clip on the other leg measures when the person is mirrored through the sagittal plane.

    With the sensor's own z axis mirrored too (to stay right-handed), D = diag(1, 1, -1): acceleration is a polar
    vector, D acc; angular rate an axial one, -D gyr.
    """
    return replace(record, acc=record.acc * [1.0, 1.0, -1.0], gyr=record.gyr * [-1.0, -1.0, 1.0])


def nearest_axis(vector):
    """The name of the sensor axis nearest to a direction in the sensor frame: what a person would type as a hint."""
    k = int(np.argmax(np.abs(vector)))
    return ("+" if vector[k] > 0 else "-") + "xyz"[k]
