"""Frames to bytes and back: kind, content, CRC-16. The byte tables are in `firmware_notes/wire_format.md`.

All numbers are big-endian. The CRC is CRC-16/CCITT-FALSE (polynomial 0x1021, initial value 0xFFFF, not reflected),
big-endian at the end, so that the CRC over a whole good frame is 0.
"""

from __future__ import annotations

import binascii
import struct
from collections.abc import Callable

import numpy as np

from ..errors import WireError
from .frames import (
    MAJOR,
    SEQUENCE_SPAN,
    Command,
    Frame,
    Hello,
    Identify,
    OtherVersion,
    Reply,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    Unknown,
)

KIND_HELLO, KIND_STATUS, KIND_REPLY = 0x01, 0x02, 0x03
KIND_IDENTIFY, KIND_START, KIND_STOP, KIND_SET_RATE = 0x41, 0x42, 0x43, 0x44
FIRST_SAMPLES = 0x80  # a first byte from here on begins a samples frame

SMALLEST_PAYLOAD = 20  # bytes; what the smallest Bluetooth packet carries
LARGEST_FRAME = 248  # bytes: 20 samples

_CRC_START = 0xFFFF
_SAMPLES_HEAD = struct.Struct(">HI")
_SAMPLE_SIZE = 12
_AROUND_SAMPLES = _SAMPLES_HEAD.size + 2
_HELLO = struct.Struct(">BB6sBBHHHB")
_STATUS = struct.Struct(">BBIh")
_REPLY = struct.Struct(">BBBHI")
_TOKEN = struct.Struct(">B")
_IDENTIFY = struct.Struct(">BB")
_SET_RATE = struct.Struct(">BH")
_NO_BATTERY, _NO_TEMPERATURE = 0xFF, -0x8000
_RUNNING, _CHARGING, _FAULT = 1, 2, 4


def crc16(data: bytes) -> int:
    """CRC-16/CCITT-FALSE; 0x29B1 for the ASCII digits 123456789."""
    return binascii.crc_hqx(data, _CRC_START)


def samples_that_fit(payload: int) -> int:
    """How many samples a frame of at most `payload` bytes holds: 0 below 20, 1 in 20, 19 in 244, at most 20."""
    return max(0, (min(payload, LARGEST_FRAME) - _AROUND_SAMPLES) // _SAMPLE_SIZE)


def encode(frame: Frame) -> bytes:
    """A frame as bytes, CRC included, without the delimiter of a serial line (see `delimited`).

    Raises ValueError for content that the bytes cannot hold. (`skipped` is not written.)
    """
    try:
        body = _body(frame)
    except (struct.error, OverflowError) as error:
        raise ValueError(f"{type(frame).__name__} does not fit into its bytes: {error}") from error
    return body + binascii.crc_hqx(body, _CRC_START).to_bytes(2, "big")


def _body(frame: Frame) -> bytes:
    match frame:
        case Samples():
            return _samples_body(frame)
        case Hello():
            return _hello_body(frame)
        case Status():
            return _status_body(frame)
        case Reply():
            content = _REPLY.pack(frame.command, frame.token, frame.result, frame.value, frame.tick_us)
            return bytes([KIND_REPLY]) + content
        case Identify():
            return bytes([KIND_IDENTIFY]) + _IDENTIFY.pack(frame.token, frame.seconds)
        case Start():
            return bytes([KIND_START]) + _TOKEN.pack(frame.token)
        case Stop():
            return bytes([KIND_STOP]) + _TOKEN.pack(frame.token)
        case SetRate():
            return bytes([KIND_SET_RATE]) + _SET_RATE.pack(frame.token, frame.rate_hz)
        case Unknown():
            return bytes([frame.kind]) + frame.body
        case OtherVersion():
            return bytes([KIND_HELLO, frame.major, frame.minor])


def _samples_body(frame: Samples) -> bytes:
    counts = np.asarray(frame.counts)
    if counts.dtype != np.int16 or counts.ndim != 2 or counts.shape[1] != 6:
        raise ValueError(f"counts are {counts.dtype} {counts.shape}, not int16 (n, 6)")
    if not 1 <= len(counts) <= samples_that_fit(LARGEST_FRAME):
        raise ValueError(f"{len(counts)} samples in a frame; 1 to {samples_that_fit(LARGEST_FRAME)} can be sent")
    if not 0 <= frame.sequence < SEQUENCE_SPAN:
        raise ValueError(f"sequence {frame.sequence} is not in 0 to {SEQUENCE_SPAN - 1}")
    return _SAMPLES_HEAD.pack(SEQUENCE_SPAN | frame.sequence, frame.tick_us) + counts.astype(">i2").tobytes()


def _hello_body(frame: Hello) -> bytes:
    identity = bytes.fromhex(frame.identity)
    if len(identity) != 6:
        raise ValueError(f"identity {frame.identity!r} is not 12 hexadecimal digits")
    return bytes([KIND_HELLO]) + _HELLO.pack(
        frame.major, frame.minor, identity, *frame.firmware,
        frame.rate_hz, frame.acc_full_mg, frame.gyr_full_ddps, frame.delay_100us,
    )  # fmt: skip


def _status_body(frame: Status) -> bytes:
    flags = _RUNNING * frame.running | _CHARGING * frame.charging | _FAULT * frame.fault
    battery = _NO_BATTERY if frame.battery_percent is None else frame.battery_percent
    temperature = _NO_TEMPERATURE if frame.temperature_c is None else round(frame.temperature_c * 100)
    return bytes([KIND_STATUS]) + _STATUS.pack(flags, battery, frame.dropped, temperature)


def decode(data: bytes) -> Frame:
    """The frame that `data` (one notification, or one COBS packet unpacked) is.

    What a newer minor version added is no error: kinds not known here come as `Unknown`, and bytes added to the end of
    a known kind are left out and counted in `skipped`. A hello of another major version comes as `OtherVersion`.

    Raises WireError, with `damage` "short", "long", "crc", "length" (too few bytes for its kind) or "value" (content
    that no clip may send).
    """
    size = len(data)
    if size < 3:
        raise WireError(f"{size} bytes are too few for a frame.", damage="short")
    if size > LARGEST_FRAME:
        raise WireError(f"{size} bytes are more than a frame may have ({LARGEST_FRAME}).", damage="long")
    if binascii.crc_hqx(data, _CRC_START):
        raise WireError(f"a frame of {size} bytes was damaged on its way (its check sum is wrong).", damage="crc")
    kind = data[0]
    if kind >= FIRST_SAMPLES:
        return _samples(data)
    reader = _READERS.get(kind)
    if reader is None:
        return Unknown(kind, bytes(data[1:-2]))
    return reader(data[1:-2])


def _samples(data: bytes) -> Samples:
    payload = len(data) - _AROUND_SAMPLES
    if payload <= 0 or payload % _SAMPLE_SIZE:
        raise WireError(f"a samples frame of {len(data)} bytes holds no whole samples.", damage="length")
    head, tick = _SAMPLES_HEAD.unpack_from(data)
    counts = np.frombuffer(data, ">i2", payload // 2, _SAMPLES_HEAD.size).astype(np.int16).reshape(-1, 6)
    return Samples(head & (SEQUENCE_SPAN - 1), tick, counts)


def _content(layout: struct.Struct, content: bytes, name: str) -> tuple[tuple, int]:
    """The fields of a known kind, and how many bytes follow that only a newer version knows."""
    skipped = len(content) - layout.size
    if skipped < 0:
        raise WireError(f"a {name} with {len(content)} bytes of content needs {layout.size}.", damage="length")
    return layout.unpack_from(content), skipped


def _hello(content: bytes) -> Hello | OtherVersion:
    if len(content) < 2:
        raise WireError("a hello that does not say its version.", damage="length")
    if content[0] != MAJOR:
        return OtherVersion(content[0], content[1])
    (major, minor, identity, fw_major, fw_minor, rate, acc, gyr, delay), skipped = _content(_HELLO, content, "hello")
    if not (rate and acc and gyr):
        raise WireError(f"a hello with rate {rate}, ranges {acc} and {gyr}: none may be 0.", damage="value")
    return Hello(identity.hex(), (fw_major, fw_minor), rate, acc, gyr, delay, major, minor, skipped)


def _status(content: bytes) -> Status:
    (flags, battery, dropped, temperature), skipped = _content(_STATUS, content, "status")
    if battery > 100 and battery != _NO_BATTERY:
        raise WireError(f"a status with a battery at {battery} %.", damage="value")
    return Status(
        running=bool(flags & _RUNNING),
        charging=bool(flags & _CHARGING),
        fault=bool(flags & _FAULT),
        battery_percent=None if battery == _NO_BATTERY else battery,
        dropped=dropped,
        temperature_c=None if temperature == _NO_TEMPERATURE else temperature / 100,
        skipped=skipped,
    )


def _reply(content: bytes) -> Reply:
    (command, token, result, value, tick), skipped = _content(_REPLY, content, "reply")
    return Reply(command, token, result, value, tick, skipped)


def _identify(content: bytes) -> Identify:
    (token, seconds), skipped = _content(_IDENTIFY, content, "command to identify")
    return Identify(token, seconds, skipped)


def _start(content: bytes) -> Start:
    (token,), skipped = _content(_TOKEN, content, "command to start")
    return Start(token, skipped)


def _stop(content: bytes) -> Stop:
    (token,), skipped = _content(_TOKEN, content, "command to stop")
    return Stop(token, skipped)


def _set_rate(content: bytes) -> SetRate:
    (token, rate), skipped = _content(_SET_RATE, content, "command to set the rate")
    return SetRate(token, rate, skipped)


_READERS: dict[int, Callable[[bytes], Frame]] = {
    KIND_HELLO: _hello,
    KIND_STATUS: _status,
    KIND_REPLY: _reply,
    KIND_IDENTIFY: _identify,
    KIND_START: _start,
    KIND_STOP: _stop,
    KIND_SET_RATE: _set_rate,
}


def kind_of(command: type[Command]) -> int:
    """The kind byte of a command, as `Reply.command` names it."""
    return {Identify: KIND_IDENTIFY, Start: KIND_START, Stop: KIND_STOP, SetRate: KIND_SET_RATE}[command]
