"""The frames as data: what a clip says, and what it is told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

MAJOR, MINOR = 1, 0  # version of the wire format spoken here
SEQUENCE_SPAN = 1 << 15  # sample numbers wrap here
TICK_SPAN_US = 1 << 32  # ticks wrap here [us], after 71.6 minutes


class Result(IntEnum):
    """How a clip answers a command. Numbers that are not listed (a newer clip's) stay plain ints: not done."""

    DONE = 0
    UNKNOWN_COMMAND = 1
    VALUE_REFUSED = 2
    CHARGING = 3
    SENSOR_FAULT = 4
    NOT_NOW = 5


@dataclass(frozen=True, slots=True)
class Hello:
    """Who a clip is and what its numbers mean; once a second.

    identity : 6 bytes, the clip's own, as 12 lower-case hexadecimal digits. firmware : its version, (major, minor).
    rate_hz : nominal samples a second. acc_full_mg, gyr_full_ddps : what 32768 counts would mean [mg], [0.1 deg/s].
    delay_100us : how much earlier the motion was than the tick says (the filter's delay) [0.1 ms].
    major, minor : version of the wire format it speaks. skipped : bytes at the end that a newer minor version added.
    """

    identity: str
    firmware: tuple[int, int]
    rate_hz: int
    acc_full_mg: int
    gyr_full_ddps: int
    delay_100us: int = 0
    major: int = MAJOR
    minor: int = MINOR
    skipped: int = 0

    @property
    def acc_scale_g(self) -> float:
        """Acceleration per count [g]."""
        return self.acc_full_mg / 1000 / 32768

    @property
    def gyr_scale_deg_s(self) -> float:
        """Angular rate per count [deg/s]."""
        return self.gyr_full_ddps / 10 / 32768

    @property
    def acc_range_g(self) -> float:
        """Largest acceleration that the numbers hold [g]."""
        return self.acc_full_mg / 1000

    @property
    def gyr_range_deg_s(self) -> float:
        """Largest angular rate that the numbers hold [deg/s]."""
        return self.gyr_full_ddps / 10

    @property
    def delay_s(self) -> float:
        """How much earlier the motion was than the tick says [s]."""
        return self.delay_100us / 1e4


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Consecutive samples.

    sequence : number of the first sample since Start, modulo `SEQUENCE_SPAN`; samples that the clip took but could
    not send are counted too, so a jump is exactly what is missing. tick_us : the clip's clock at the first sample,
    modulo `TICK_SPAN_US` [us]. counts : (n, 6) int16: acceleration x y z, angular rate x y z, in the sensor's frame.

    Within a frame the samples are evenly spaced and none is missing. The spacing is not said: it is what two ticks of
    an unbroken run show, (tick' - tick) / (number of samples between), nominally 1 / Hello.rate_hz.
    """

    sequence: int
    tick_us: int
    counts: NDArray[np.int16]

    @property
    def n(self) -> int:
        """How many samples."""
        return len(self.counts)

    @property
    def acc(self) -> NDArray[np.int16]:
        """Acceleration, (n, 3) [counts]."""
        return self.counts[:, :3]

    @property
    def gyr(self) -> NDArray[np.int16]:
        """Angular rate, (n, 3) [counts]."""
        return self.counts[:, 3:]

    @property
    def next_sequence(self) -> int:
        """The sequence number of the next frame if nothing is lost in between."""
        return (self.sequence + len(self.counts)) % SEQUENCE_SPAN

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Samples):
            return NotImplemented
        same = self.sequence == other.sequence and self.tick_us == other.tick_us
        return same and np.array_equal(self.counts, other.counts)

    def __hash__(self) -> int:
        return hash((self.sequence, self.tick_us, self.counts.tobytes()))


@dataclass(frozen=True, slots=True)
class Status:
    """How a clip is; once a second.

    running, charging, fault : sends samples; a charger is connected; the sensor does not answer.
    battery_percent, temperature_c : None where it does not know. dropped : samples since Start that it took but could
    not send. skipped : as for Hello.
    """

    running: bool
    charging: bool
    fault: bool
    battery_percent: int | None
    dropped: int
    temperature_c: float | None = None
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to one command.

    command : kind byte of the command (`Start.KIND`, ...). token : the command's own. result : a `Result`, or a newer
    clip's number. value : for SetRate the rate in force now [Hz], else 0. tick_us : the clip's clock when it answered
    [us]. skipped : as for Hello.
    """

    command: int
    token: int
    result: int
    value: int
    tick_us: int
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Identify:
    """Blink for so many seconds, 0 = stop blinking. token : any number, repeated in the reply."""

    token: int
    seconds: int = 5
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Start:
    """Send samples from now on, numbered from 0. A clip that already runs goes on unchanged."""

    token: int
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Stop:
    """Send no more samples."""

    token: int
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class SetRate:
    """Take so many samples a second [Hz], or the nearest that the part can do. Refused while running."""

    token: int
    rate_hz: int
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Unknown:
    """A whole frame of a kind that is not known here: a newer minor version. To be skipped. body : without kind."""

    kind: int
    body: bytes


@dataclass(frozen=True, slots=True)
class OtherVersion:
    """A hello of another major version: nothing this clip says can be read here."""

    major: int
    minor: int


Command: TypeAlias = Identify | Start | Stop | SetRate
Frame: TypeAlias = Hello | Samples | Status | Reply | Command | Unknown | OtherVersion
