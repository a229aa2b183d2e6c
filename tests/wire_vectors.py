"""The test vectors of firmware_notes/, as frames of footroom.logger.wire."""

from __future__ import annotations

import json

import numpy as np
from footroom.logger.wire import Frame, Hello, Identify, Reply, Samples, SetRate, Start, Status, Stop
from reference_data import REPOSITORY

VECTORS = json.loads((REPOSITORY / "firmware_notes" / "test_vectors.json").read_text(encoding="utf-8"))
KINDS = {
    "hello": Hello, "status": Status, "reply": Reply, "samples": Samples,
    "identify": Identify, "start": Start, "stop": Stop, "set_rate": SetRate,
}  # fmt: skip


def frame_of(fields: dict, **more) -> Frame:
    """The frame that a vector describes in words."""
    values = {key: value for key, value in fields.items() if key != "kind"} | more
    if "firmware" in values:
        values["firmware"] = tuple(values["firmware"])
    if "counts" in values:
        values["counts"] = np.array(values["counts"], np.int16)
    return KINDS[fields["kind"]](**values)


def script_line(frame: Frame) -> str:
    """The line that asks a stub board for this frame from a clip, or what it reads in this command."""
    match frame:
        case Hello():
            numbers = (*frame.firmware, frame.rate_hz, frame.acc_full_mg, frame.gyr_full_ddps, frame.delay_100us)
            return f"hello {frame.identity} {' '.join(map(str, numbers))}"
        case Status():
            flags = frame.running | frame.charging << 1 | frame.fault << 2
            battery = 255 if frame.battery_percent is None else frame.battery_percent
            temperature = -32768 if frame.temperature_c is None else round(frame.temperature_c * 100)
            return f"status {flags} {battery} {frame.dropped} {temperature}"
        case Reply():
            return f"reply {frame.command} {frame.token} {frame.result} {frame.value} {frame.tick_us}"
        case Samples():
            return f"samples {frame.sequence} {frame.tick_us} {' '.join(map(str, frame.counts.ravel().tolist()))}"
        case _:
            raise TypeError(f"a clip does not send {frame}")
