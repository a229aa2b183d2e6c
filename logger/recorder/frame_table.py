"""What a session keeps of a clip beside its samples: every frame as it arrived, a row each, in a small Parquet file.

Number, tick and time of arrival are what clocks are fitted from; with them another fit can be made later. Frames that
do not count (repeated, odd) are there, too: their `first_row` is -1.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ..files import new_file
from .stream_batch import as_array
from .timed_clip import TimedClip, TimedRun

_PACKED = ("stream", "sequence", "tick_us", "arrived_us", "samples", "first_row")


def write_frame_table(path: Path, clip: TimedClip, zero_s: float) -> None:
    """Write the frames of the streams that count. zero_s : host time of the session's zero [s].

    Columns: stream (0, 1, ...: see the metadata), sequence (-1: none), tick_us (32 bit, as sent), arrived_us (on the
    session's time), samples, first_row (in the clip's Arrow file). Metadata `clocks`: of each run the stream, the knots
    (unwrapped tick against session time [s]), skew and uncertainty.
    """
    import pyarrow as pa
    from pyarrow import parquet

    streams = list({run.stream.path: run for run in clip.runs}.values())
    columns: dict[str, list[np.ndarray]] = {name: [] for name in _PACKED}
    for number, one in enumerate(streams):
        frames = one.frames
        columns["stream"].append(np.full(len(frames), number, np.int32))
        columns["sequence"].append(frames.sequence)
        columns["tick_us"].append(frames.tick_us.astype(np.int64))
        columns["arrived_us"].append(np.round((frames.arrived_s - zero_s) * 1e6).astype(np.int64))
        columns["samples"].append(frames.sizes.astype(np.int32))
        columns["first_row"].append(_first_rows(clip, one))
    kinds = dict.fromkeys(_PACKED, pa.int64()) | dict.fromkeys(("stream", "sequence", "samples"), pa.int32())
    metadata = {
        "streams": json.dumps([run.stream.path.name for run in streams]),
        "clocks": json.dumps([_clock(run, streams, zero_s) for run in clip.runs]),
    }
    table = pa.Table.from_arrays(
        [as_array(kind, np.concatenate(columns[name])) for name, kind in kinds.items()], list(kinds)
    )
    packed = dict.fromkeys(_PACKED, "DELTA_BINARY_PACKED")
    with new_file(path) as temporary:
        parquet.write_table(
            table.replace_schema_metadata(metadata), temporary, use_dictionary=False, column_encoding=packed,
            compression="zstd",
        )  # fmt: skip


def _first_rows(clip: TimedClip, one: TimedRun) -> np.ndarray:
    """Row of the clip's samples at which each frame of a stream begins, -1 where it does not count."""
    rows = np.full(len(one.frames), -1, np.int64)
    done = 0
    for run in clip.runs:
        sizes = run.frames.sizes[run.run.index]
        begins = done + np.cumsum(sizes) - sizes - run.skip
        if run.stream.path == one.stream.path:
            rows[run.run.index] = np.where(begins >= done, begins, -1)
        done += int(sizes.sum()) - run.skip
    return rows


def _clock(run: TimedRun, streams: list[TimedRun], zero_s: float) -> dict[str, object]:
    clock = run.clock
    return {
        "stream": [one.stream.path for one in streams].index(run.stream.path),
        "tick_s": [round(float(value), 6) for value in clock.tick_s],
        "session_s": [round(float(value) - zero_s, 6) for value in clock.host_s],
        "skew_ppm": round(clock.skew_ppm, 3),
        "uncertainty_s": round(clock.uncertainty_s, 6),
    }
