"""The plain text form for hobby boards: a header that says the units, then one line per sample.

    # clip=left-foot rate=200 acc=g gyr=deg/s acc_range=16 gyr_range=2000
    t_us,ax,ay,az,gx,gy,gz
    1000250,0.012,-0.981,0.104,1.2,-0.4,0.0

Every line becomes counts, as a frame has them, so that nothing after this needs to know which form a clip speaks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .codec import crc16
from .frames import TICK_SPAN_US

COLUMNS = "t_us,ax,ay,az,gx,gy,gz"
ACCELERATION_UNITS = ("g", "m/s^2")
ANGULAR_RATE_UNITS = ("deg/s", "rad/s")
_FULL = 32768
_LONGEST_LINE = 240
_PLAIN = frozenset(b"\t\r\n" + bytes(range(0x20, 0x7F)))


@dataclass(frozen=True, slots=True)
class TextHeader:
    """What a board says of its lines.

    clip : its own name. rate_hz : nominal samples a second. acc_unit : "g" or "m/s^2"; gyr_unit : "deg/s" or "rad/s".
    acc_range, gyr_range : what 32768 counts mean, in these units. counts : the lines hold counts; else quantities in
    these units. battery_percent : None when it does not say.
    """

    clip: str
    rate_hz: int
    acc_unit: str
    gyr_unit: str
    acc_range: float
    gyr_range: float
    counts: bool = False
    battery_percent: int | None = None

    @property
    def acc_scale(self) -> float:
        """Acceleration per count, in `acc_unit`."""
        return self.acc_range / _FULL

    @property
    def gyr_scale(self) -> float:
        """Angular rate per count, in `gyr_unit`."""
        return self.gyr_range / _FULL


@dataclass(frozen=True, slots=True, eq=False)
class TextSamples:
    """Lines that came together. ticks_us : (n,) uint32, the board's clock, wraps [us]. counts : (n, 6) int16.

    A quantity is rounded to the nearest count; beyond the range it stays at the last count.
    """

    ticks_us: NDArray[np.uint32]
    counts: NDArray[np.int16]


TextFrame: TypeAlias = TextHeader | TextSamples


def looks_like_text(data: bytes) -> bool:
    """Whether bytes from a line are the text form: printable all through, with a line end. Frames hold zero bytes."""
    return b"\n" in data and _PLAIN.issuperset(data)


class TextReader:
    """Bytes of a serial line, in any pieces, to headers and samples.

    damaged : lines that could not be read, headers included. unexplained : sample lines before the first header.
    skipped_bytes : of all lines thrown away. last_damage : one sentence on the last damaged line, None without one.

    The first line is left out unless it begins with #: its beginning may not have been heard.
    """

    def __init__(self) -> None:
        self.damaged = 0
        self.unexplained = 0
        self.skipped_bytes = 0
        self.last_damage: str | None = None
        self.header: TextHeader | None = None
        self._rest = b""
        self._whole = False
        self._checked = False

    def feed(self, data: bytes) -> list[TextFrame]:
        """What `data` completes, in order; neighbouring samples in one piece."""
        lines = (self._rest + data).split(b"\n")
        self._rest = lines.pop()
        out: list[TextFrame] = []
        ticks: list[int] = []
        rows: list[list[float]] = []

        def flush() -> None:
            if rows and self.header is not None:
                out.append(_samples(ticks, rows, self.header))
                ticks.clear()
                rows.clear()

        for line in lines:
            if not self._whole and not line.startswith(b"#"):
                self.skipped_bytes += len(line)
                self._whole = True
                continue
            self._whole = True
            try:
                text = self._checked_text(line)
                if text.startswith("#"):
                    header = _header(text)
                    if header is not None:
                        flush()
                        self.header = header
                        out.append(header)
                elif text and text != COLUMNS:
                    tick, row = _numbers(text)
                    if self.header is None:
                        self.unexplained += 1
                    else:
                        ticks.append(tick)
                        rows.append(row)
            except ValueError as error:
                self.damaged += 1
                self.skipped_bytes += len(line)
                self.last_damage = str(error)
        flush()
        if len(self._rest) > _LONGEST_LINE:  # no line end comes: noise, or frames
            self.damaged += self._whole
            self.skipped_bytes += len(self._rest)
            self.last_damage = "a line does not end."
            self._rest, self._whole = b"", False
        return out

    def _checked_text(self, line: bytes) -> str:
        """The line without its check sum. Once one line had a check sum, every sample line needs one."""
        body, star, check = line.rstrip(b"\r ").partition(b"*")
        if star:
            if len(check) != 4 or int(check, 16) != crc16(body):
                raise ValueError(f"a line was damaged on its way (its check sum is wrong): {_shown(line)}")
            self._checked = True
        elif self._checked and body and not body.startswith(b"#") and body != COLUMNS.encode():
            raise ValueError(f"a line has lost its check sum: {_shown(line)}")
        return body.decode("ascii", errors="replace")


def _shown(line: bytes | str) -> str:
    return repr(line[:60])


def _numbers(text: str) -> tuple[int, list[float]]:
    parts = text.split(",")
    if len(parts) != 7:
        raise ValueError(f"a line holds {len(parts)} values instead of 7 ({COLUMNS}): {_shown(text)}")
    try:
        tick = int(parts[0])
        row = [float(part) for part in parts[1:]]
    except ValueError:
        raise ValueError(f"a line holds something that is no number: {_shown(text)}") from None
    if tick < 0 or not all(map(math.isfinite, row)):
        raise ValueError(f"a line holds a number that cannot be: {_shown(text)}")
    return tick % TICK_SPAN_US, row


def _samples(ticks: list[int], rows: list[list[float]], header: TextHeader) -> TextSamples:
    values = np.array(rows)
    if not header.counts:
        values[:, :3] /= header.acc_scale
        values[:, 3:] /= header.gyr_scale
    counts = np.clip(np.rint(values), -_FULL, _FULL - 1).astype(np.int16)
    return TextSamples(np.array(ticks, np.uint32), counts)


def _header(text: str) -> TextHeader | None:
    """A header, or None for a remark. Raises ValueError for a header that cannot be used."""
    pairs = dict(word.split("=", 1) for word in text[1:].split() if "=" in word)
    if "clip" not in pairs:
        return None
    missing = [key for key in ("rate", "acc", "gyr", "acc_range", "gyr_range") if key not in pairs]
    if missing:
        raise ValueError(f"the header line does not say {', '.join(missing)}: {_shown(text)}")
    if pairs["acc"] not in ACCELERATION_UNITS or pairs["gyr"] not in ANGULAR_RATE_UNITS:
        raise ValueError(f"acc is g or m/s^2 and gyr is deg/s or rad/s in a header line, not {_shown(text)}")
    if pairs.get("numbers", "quantities") not in ("counts", "quantities"):
        raise ValueError(f"numbers is counts or quantities in a header line, not {_shown(text)}")
    try:
        rate, battery = int(pairs["rate"]), int(pairs["battery"]) if "battery" in pairs else None
        acc_range, gyr_range = float(pairs["acc_range"]), float(pairs["gyr_range"])
    except ValueError:
        raise ValueError(f"the header line holds something that is no number: {_shown(text)}") from None
    if rate <= 0 or not (0 < acc_range < math.inf and 0 < gyr_range < math.inf) or not 0 <= (battery or 0) <= 100:
        raise ValueError(f"the header line holds a number that cannot be: {_shown(text)}")
    return TextHeader(
        pairs["clip"], rate, pairs["acc"], pairs["gyr"], acc_range, gyr_range,
        pairs.get("numbers") == "counts", battery,
    )  # fmt: skip
