"""Writes CSV import folders for tests: from arrays, or a small good one to spoil."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

HEADER = "time_s,acc_x,acc_y,acc_z,gyr_x,gyr_y,gyr_z"
Samples = tuple[npt.ArrayLike, npt.ArrayLike, npt.ArrayLike]  # time (n,) [s], acc (n, 3) [m/s^2], gyr (n, 3) [rad/s]


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _lines(values: Mapping[str, Any]) -> str:
    return "".join(f"{key} = {_toml_value(value)}\n" for key, value in values.items())


def write_csv(path: Path, time_s: npt.ArrayLike, acc: npt.ArrayLike, gyr: npt.ArrayLike) -> None:
    """One clip's CSV, numbers with 17 digits (so that float64 comes back bit for bit)."""
    rows = np.column_stack([time_s, acc, gyr])
    np.savetxt(path, rows, fmt="%.17g", delimiter=",", header=HEADER, comments="", encoding="utf-8")


def write_import_folder(
    folder: Path,
    clips: Mapping[str, Samples],
    phases: list[dict[str, Any]],
    *,
    participant: Mapping[str, Any] | None = None,
    setups: list[dict[str, Any]] | None = None,
    session: Mapping[str, Any] | None = None,
    units: Mapping[str, str] | None = None,
    typed: Mapping[str, Mapping[str, float]] | None = None,
    right_axes: Mapping[str, str] | None = None,
) -> Path:
    """An import folder of `clips` by name (`right_foot`, `pelvis`): arrays in the units of `units`; returns `folder`.

    typed : {"right": {"ankle_dorsiflexion_deg": 15.0}};  right_axes : {"right_foot": "+z"}
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = "[participant]\n" + _lines(participant or {"id": "p01"})
    if session:
        text += "\n[session]\n" + _lines(session)
    text += "\n[units]\n" + _lines(units or {"acceleration": "m/s^2", "angular_rate": "rad/s"})
    for setup in setups or [{"name": "usual"}]:
        text += "\n[[setup]]\n" + _lines(setup)
    for name, samples in clips.items():
        write_csv(folder / f"{name}.csv", *samples)
        side, _, segment = name.rpartition("_")
        clip = {"segment": segment, **({"side": side} if side else {}), "file": f"{name}.csv"}
        if right_axes and name in right_axes:
            clip["right_axis"] = right_axes[name]
        text += "\n[[clip]]\n" + _lines(clip)
    for phase in phases:
        text += "\n[[phase]]\n" + _lines(phase)
    for side, values in (typed or {}).items():
        text += f"\n[range.{side}]\n" + _lines(values)
    (folder / "import.toml").write_bytes(text.encode("utf-8"))
    return folder


def turning_clip(seconds: float = 20.0, rate: float = 100.0, seed: int = 1) -> Samples:
    """A clip that tips slowly to and fro about its z axis: gravity and angular rate belong together."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(round(seconds * rate)) / rate
    angle = 0.6 * np.sin(2 * np.pi * 0.4 * time_s)
    turn = 0.6 * 2 * np.pi * 0.4 * np.cos(2 * np.pi * 0.4 * time_s)
    acc = 9.81 * np.column_stack([np.sin(angle), np.cos(angle), np.zeros_like(angle)])
    gyr = np.column_stack([np.zeros_like(angle), np.zeros_like(angle), turn])
    n = len(time_s)
    return time_s, acc + 0.02 * rng.standard_normal((n, 3)), gyr + 0.002 * rng.standard_normal((n, 3))


def small_folder(folder: Path, **changes: Any) -> Path:
    """A small good folder: foot and shank on the right, one set-up, a still and a playing phase (20 s)."""
    keywords: dict[str, Any] = {
        "clips": {"right_foot": turning_clip(seed=1), "right_shank": turning_clip(seed=2)},
        "phases": [
            {"name": "still", "start_s": 0.0, "end_s": 2.0},
            {"name": "playing", "start_s": 2.0, "end_s": 19.0},
        ],
        "session": {"recorded_at": "2026-11-20T18:30:00+01:00"},
    }
    return write_import_folder(folder, **{**keywords, **changes})
