"""The samples of one clip on disk: an Arrow IPC file, exactly as recorded.

Seven columns `time_s acc_x acc_y acc_z gyr_x gyr_y gyr_z`, each of the type the clip or the file delivered (16, 32 or
64 bit integer, or floating point). The schema says how a number becomes a quantity: every field carries `unit` and
`scale` (quantity = number * scale, in that unit), so the file is readable without this code. No compression: the
columns can be memory-mapped. `read_clip` gives SI units in float64.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from .errors import InputError
from .files import new_file

Array = npt.NDArray[np.float64]

COLUMNS: tuple[str, ...] = ("time_s", "acc_x", "acc_y", "acc_z", "gyr_x", "gyr_y", "gyr_z")
STANDARD_GRAVITY = 9.80665  # m/s^2, exact by definition (CGPM 1901)
ACCELERATION_UNITS: dict[str, float] = {"m/s^2": 1.0, "g": STANDARD_GRAVITY}
ANGULAR_RATE_UNITS: dict[str, float] = {"rad/s": 1.0, "deg/s": math.pi / 180.0}
_BATCH_ROWS = 32_768
_TYPES = ("int16", "int32", "int64", "uint32", "float32", "float64")
_FORMAT = b"footroom clip 1"


@dataclass(frozen=True)
class RawClip:
    """What a clip delivered, before any conversion.

    columns : the seven `COLUMNS`, each (n,), of one of the types int16, int32, int64, uint32, float32, float64
    acceleration_unit : "m/s^2" or "g";  angular_rate_unit : "rad/s" or "deg/s"
    time_scale, acceleration_scale, angular_rate_scale : quantity per count, in s and in the units above
    metadata : anything else worth keeping with the samples (text only)
    """

    columns: Mapping[str, npt.NDArray[np.generic]]
    acceleration_unit: str
    angular_rate_unit: str
    time_scale: float = 1.0
    acceleration_scale: float = 1.0
    angular_rate_scale: float = 1.0
    metadata: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def from_arrays(
        cls,
        time: npt.ArrayLike,
        acc: npt.ArrayLike,
        gyr: npt.ArrayLike,
        acceleration_unit: str = "m/s^2",
        angular_rate_unit: str = "rad/s",
        *,
        time_scale: float = 1.0,
        acceleration_scale: float = 1.0,
        angular_rate_scale: float = 1.0,
        metadata: Mapping[str, str] | None = None,
    ) -> RawClip:
        """From time (n,), acceleration (n, 3) and angular rate (n, 3), of any stored type.

        Raises ValueError when the shapes do not fit.
        """
        time, acc, gyr = np.asarray(time), np.asarray(acc), np.asarray(gyr)
        n = len(time)
        if time.ndim != 1 or acc.shape != (n, 3) or gyr.shape != (n, 3):
            raise ValueError(f"shapes {time.shape}, {acc.shape}, {gyr.shape} are not (n,), (n, 3), (n, 3)")
        parts = [time, *(acc[:, i] for i in range(3)), *(gyr[:, i] for i in range(3))]
        return cls(
            dict(zip(COLUMNS, parts, strict=True)),
            acceleration_unit,
            angular_rate_unit,
            time_scale,
            acceleration_scale,
            angular_rate_scale,
            metadata or {},
        )

    def unit_and_scale(self, column: str) -> tuple[str, float]:
        """The unit of a column and its quantity per count."""
        if column == "time_s":
            return "s", self.time_scale
        if column.startswith("acc_"):
            return self.acceleration_unit, self.acceleration_scale
        return self.angular_rate_unit, self.angular_rate_scale


@dataclass(frozen=True)
class ClipSamples:
    """The samples of a clip in SI units, on the clip's own clock.

    time_s : (n,) float64 [s];  acc : (n, 3) float64, specific force in the sensor frame [m/s^2]
    gyr : (n, 3) float64, angular rate in the sensor frame, bias not removed [rad/s]
    as_recorded : per column the stored type, unit and scale, and the metadata kept with them
    """

    time_s: Array
    acc: Array
    gyr: Array
    as_recorded: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ClipInfo:
    """What can be said of a clip file without reading its samples. `n` samples; first and last time [s]."""

    n: int
    start_s: float
    end_s: float
    as_recorded: dict[str, str]


def _si_factor(unit: str) -> float:
    return {"s": 1.0, **ACCELERATION_UNITS, **ANGULAR_RATE_UNITS}[unit]


def _check(raw: RawClip) -> None:
    if set(raw.columns) != set(COLUMNS):
        raise ValueError(f"the columns are {sorted(raw.columns)}, not {list(COLUMNS)}")
    if raw.acceleration_unit not in ACCELERATION_UNITS:
        raise ValueError(f"{raw.acceleration_unit!r} is no unit of acceleration")
    if raw.angular_rate_unit not in ANGULAR_RATE_UNITS:
        raise ValueError(f"{raw.angular_rate_unit!r} is no unit of angular rate")
    n = len(raw.columns["time_s"])
    for name, column in raw.columns.items():
        if column.shape != (n,):
            raise ValueError(f"column {name} has shape {column.shape}, not ({n},)")
        if column.dtype.name not in _TYPES:
            raise ValueError(f"column {name} is of type {column.dtype.name}, not one of {', '.join(_TYPES)}")
        scale = raw.unit_and_scale(name)[1]
        if not (math.isfinite(scale) and scale > 0):
            raise ValueError(f"the scale of {name} is {scale}, not a positive number")


def _schema(raw: RawClip) -> pa.Schema:
    fields = []
    for name in COLUMNS:
        unit, scale = raw.unit_and_scale(name)
        kind = pa.from_numpy_dtype(raw.columns[name].dtype)
        fields.append(pa.field(name, kind, nullable=False, metadata={"unit": unit, "scale": repr(float(scale))}))
    rows = str(len(raw.columns["time_s"]))
    metadata: dict[bytes | str, bytes | str] = {"format": _FORMAT, "rows": rows}
    metadata.update({f"note.{key}": value for key, value in raw.metadata.items()})
    return pa.schema(fields, metadata=metadata)


def write_clip(path: Path, raw: RawClip) -> None:
    """Write a clip's samples to `path` in one step (temporary file, flushed, renamed).

    Raises ValueError when the columns, units or scales of `raw` do not fit together.
    """
    _check(raw)
    schema = _schema(raw)
    n = len(raw.columns["time_s"])
    with new_file(path) as temporary, pa.OSFile(str(temporary), "wb") as sink, pa.ipc.new_file(sink, schema) as writer:
        for start in range(0, n, _BATCH_ROWS):
            rows = slice(start, start + _BATCH_ROWS)
            arrays = [pa.array(np.ascontiguousarray(raw.columns[name][rows])) for name in COLUMNS]
            writer.write_batch(pa.record_batch(arrays, schema=schema))


def _open(source: pa.NativeFile, path: Path) -> pa.RecordBatchFileReader:
    reader = pa.ipc.open_file(source)
    schema = reader.schema
    if (schema.metadata or {}).get(b"format") != _FORMAT or any(name not in schema.names for name in COLUMNS):
        raise InputError(
            "this Arrow file is no clip of a Footroom logbook; delete the session and import its recording again.",
            path=path,
        )
    return reader


def _describe(schema: pa.Schema) -> dict[str, str]:
    described: dict[str, str] = {}
    for name in COLUMNS:
        metadata = schema.field(name).metadata or {}
        described[f"{name}.type"] = str(schema.field(name).type)
        for key in ("unit", "scale"):
            described[f"{name}.{key}"] = metadata[key.encode()].decode()
    for key, value in (schema.metadata or {}).items():
        if key.startswith(b"note."):
            described[key.decode()] = value.decode()
    return described


def _unreadable(path: Path, error: Exception) -> InputError:
    reason = "it is missing" if isinstance(error, FileNotFoundError) else f"it cannot be read ({error})"
    return InputError(
        f"the samples of this clip are lost: {reason}; restore it from a copy, or delete the session and import again.",
        path=path,
    )


def read_clip(path: Path) -> ClipSamples:
    """Read a clip in SI units. Needs the arrays it returns plus one batch of 32,768 rows, whatever the length.

    Raises InputError when the file is missing, cut short or of another kind.
    """
    try:
        with pa.OSFile(str(path), "rb") as source, _open(source, path) as reader:
            described = _describe(reader.schema)
            n = _count(reader)
            time_s, acc, gyr = np.empty(n), np.empty((n, 3)), np.empty((n, 3))
            targets = [time_s, *(acc[:, i] for i in range(3)), *(gyr[:, i] for i in range(3))]
            factors = [float(described[f"{c}.scale"]) * _si_factor(described[f"{c}.unit"]) for c in COLUMNS]
            row = 0
            for index in range(reader.num_record_batches):
                batch = reader.get_batch(index)
                rows = slice(row, row + batch.num_rows)
                for name, target, factor in zip(COLUMNS, targets, factors, strict=True):
                    np.multiply(numbers(batch.column(name)), factor, out=target[rows], casting="unsafe")
                row += batch.num_rows
            if row != n:
                raise ValueError(f"{row} of {n} rows are there")
    except (OSError, pa.ArrowException, KeyError, ValueError) as error:
        raise _unreadable(path, error) from error
    return ClipSamples(time_s, acc, gyr, described)


def read_raw(path: Path) -> RawClip:
    """Read a clip exactly as it was stored: same types, same numbers, same scales.

    Raises InputError as `read_clip` does.
    """
    try:
        with pa.OSFile(str(path), "rb") as source, _open(source, path) as reader:
            described = _describe(reader.schema)
            batches = [reader.get_batch(index) for index in range(reader.num_record_batches)]
            columns = {}
            for name in COLUMNS:
                none = np.empty(0, reader.schema.field(name).type.to_pandas_dtype())
                columns[name] = np.concatenate([none, *(numbers(batch.column(name)) for batch in batches)])
    except (OSError, pa.ArrowException, KeyError, ValueError) as error:
        raise _unreadable(path, error) from error
    return RawClip(
        columns,
        described["acc_x.unit"],
        described["gyr_x.unit"],
        float(described["time_s.scale"]),
        float(described["acc_x.scale"]),
        float(described["gyr_x.scale"]),
        {key.removeprefix("note."): value for key, value in described.items() if key.startswith("note.")},
    )


def clip_info(path: Path) -> ClipInfo:
    """Length, first and last time and what was recorded, from the ends of the file only.

    Raises InputError as `read_clip` does.
    """
    try:
        with pa.OSFile(str(path), "rb") as source, _open(source, path) as reader:
            described = _describe(reader.schema)
            scale = float(described["time_s.scale"])
            n = _count(reader)
            if n == 0:
                return ClipInfo(0, math.nan, math.nan, described)
            first = numbers(reader.get_batch(0).column("time_s"))[0]
            last = numbers(reader.get_batch(reader.num_record_batches - 1).column("time_s"))[-1]
    except (OSError, pa.ArrowException, KeyError, ValueError) as error:
        raise _unreadable(path, error) from error
    return ClipInfo(n, float(first) * scale, float(last) * scale, described)


def numbers(column: pa.Array) -> npt.NDArray[np.generic]:
    """The numbers of a column, in place. (Arrow's own `to_numpy` imports pandas first: 50 MB and 0.3 s.)"""
    kind = np.dtype(column.type.to_pandas_dtype())
    data = column.buffers()[1]
    if data is None:
        return np.empty(0, kind)
    return np.frombuffer(cast(Any, data), kind, len(column), column.offset * kind.itemsize)


def _count(reader: pa.RecordBatchFileReader) -> int:
    return int((reader.schema.metadata or {})[b"rows"])


def read_times(path: Path) -> Array:
    """The stamps of a clip, (n,) on its own clock [s], without its samples. Raises InputError as `read_clip` does."""
    try:
        with pa.OSFile(str(path), "rb") as source, _open(source, path) as reader:
            metadata = reader.schema.field("time_s").metadata or {}
            batches = (reader.get_batch(i).column("time_s").to_numpy() for i in range(reader.num_record_batches))
            return np.concatenate([*batches, np.empty(0)]) * float(metadata[b"scale"])
    except (OSError, pa.ArrowException, KeyError, ValueError) as error:
        raise _unreadable(path, error) from error
