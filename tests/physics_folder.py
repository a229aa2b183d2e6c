"""Write a simulated session as an import folder: `import.toml` and one CSV a clip."""

import dataclasses
from pathlib import Path

import numpy as np
import pyarrow as pa
from pyarrow import csv

HEADER = "time_s,acc_x,acc_y,acc_z,gyr_x,gyr_y,gyr_z"


def _value(value):
    return f'"{value}"' if isinstance(value, str) else f"{value:.4f}"


def _table(title, values):
    return "\n".join([title, *(f"{key} = {_value(value)}" for key, value in values.items() if value is not None), ""])


def _plain(phase):
    return phase if isinstance(phase, dict) else dataclasses.asdict(phase)


def toml_text(session):
    """The text of `import.toml`."""
    parts = [_table("[participant]", session.participant)]
    parts += [_table("[[setup]]", setup) for setup in session.setups]
    parts.append(_table("[units]", {"acceleration": "m/s^2", "angular_rate": "rad/s"}))
    for clip in session.clips:
        side, _, segment = clip.rpartition("_")
        parts.append(_table("[[clip]]", {"segment": segment, "side": side or None, "file": f"{clip}.csv"}))
    parts += [_table("[[phase]]", _plain(phase)) for phase in session.phases]
    return "\n".join(parts)


def write_clip(record, path):
    """One clip's CSV in SI units, nine decimals of the values kept by rounding."""
    values = np.round(np.column_stack([record.time_s, record.acc, record.gyr]), 9)
    table = pa.table(dict(zip(HEADER.split(","), values.T, strict=True)))
    with Path(path).open("wb") as file:
        file.write(HEADER.encode() + b"\n")
        csv.write_csv(table, file, csv.WriteOptions(include_header=False))


def write(session, path):
    """Write the folder; refuses one that holds something."""
    folder = Path(path)
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty: name a new folder")
    for clip, record in session.clips.items():
        write_clip(record, folder / f"{clip}.csv")
    (folder / "import.toml").write_text(toml_text(session), encoding="utf-8", newline="\n")
    return folder
