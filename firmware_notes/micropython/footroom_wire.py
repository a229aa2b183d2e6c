"""The wire format of a clip, version 1.0, in plain MicroPython (and plain Python): needs `struct` only.

The words and byte tables are those of ../wire_format.md.
"""

import struct

MAJOR = 1
MINOR = 0

HELLO = 0x01
STATUS = 0x02
REPLY = 0x03
IDENTIFY = 0x41
START = 0x42
STOP = 0x43
SET_RATE = 0x44
FIRST_COMMAND = 0x40
FIRST_SAMPLES = 0x80

DONE = 0
UNKNOWN_COMMAND = 1
VALUE_REFUSED = 2
IS_CHARGING = 3
SENSOR_FAULT = 4
NOT_NOW = 5

RUNNING = 1
CHARGING = 2
FAULT = 4

NO_BATTERY = 0xFF
NO_TEMPERATURE = -32768

LARGEST_FRAME = 248
LARGEST_PACKET = 250

_CRC_TABLE = (
    0x0000, 0x1021, 0x2042, 0x3063, 0x4084, 0x50A5, 0x60C6, 0x70E7,
    0x8108, 0x9129, 0xA14A, 0xB16B, 0xC18C, 0xD1AD, 0xE1CE, 0xF1EF,
)  # fmt: skip


def crc16(data):
    """CRC-16/CCITT-FALSE, four bits at a time."""
    crc = 0xFFFF
    table = _CRC_TABLE
    for byte in data:
        crc = ((crc << 4) & 0xFFFF) ^ table[(crc >> 12) ^ (byte >> 4)]
        crc = ((crc << 4) & 0xFFFF) ^ table[(crc >> 12) ^ (byte & 15)]
    return crc


def finish(body):
    """A whole frame: the body and its check sum."""
    return body + struct.pack(">H", crc16(body))


def hello(identity, firmware, rate_hz, acc_full_mg, gyr_full_ddps, delay_100us):
    """identity : 6 bytes. firmware : two numbers. The others as in the table."""
    return finish(
        struct.pack(
            ">BBB6sBBHHHB", HELLO, MAJOR, MINOR, identity, firmware[0], firmware[1],
            rate_hz, acc_full_mg, gyr_full_ddps, delay_100us,
        )
    )  # fmt: skip


def status(flags, battery, dropped, temperature):
    """temperature : [0.01 degrees C]."""
    return finish(struct.pack(">BBBIh", STATUS, flags, battery, dropped, temperature))


def reply(command, token, result, value, tick_us):
    """The answer to a command."""
    return finish(struct.pack(">BBBBHI", REPLY, command, token, result, value, tick_us))


def samples(sequence, tick_us, counts):
    """counts : a flat sequence of n * 6 numbers, n from 1 to 20."""
    return finish(struct.pack(f">HI{len(counts)}h", 0x8000 | sequence, tick_us, *counts))


def samples_that_fit(payload):
    """How many samples a frame of at most `payload` bytes holds; 0 below 20 bytes."""
    payload = min(payload, LARGEST_FRAME)
    return 0 if payload < 20 else (payload - 8) // 12


def command(frame):
    """(kind, token, value) of a command; "other" for a good frame that is none; "bad" for a damaged one."""
    size = len(frame)
    if size < 3 or size > LARGEST_FRAME or crc16(frame) != 0:
        return "bad"
    kind = frame[0]
    if kind < FIRST_COMMAND or kind >= FIRST_SAMPLES:
        return "other"
    content = size - 3
    if content < 1 or (kind == IDENTIFY and content < 2) or (kind == SET_RATE and content < 3):
        return "bad"
    # Further bytes are a newer logger's: not read.
    value = 0
    if kind == IDENTIFY:
        value = frame[2]
    elif kind == SET_RATE:
        value = (frame[2] << 8) | frame[3]
    return (kind, frame[1], value)


def cobs_encode(data):
    """COBS without the delimiter."""
    out = bytearray(1)
    out[0] = 1
    code = 0  # where the length of the present group stands
    for byte in data:
        if out[code] == 0xFF:  # a group of 254 bytes without a zero is full, and more follows
            code = len(out)
            out.append(1)
        if byte == 0:
            code = len(out)
            out.append(1)
        else:
            out.append(byte)
            out[code] += 1
    return bytes(out)


def cobs_decode(packet):
    """What was packed; empty for what is no COBS packet."""
    out = bytearray()
    at = 0
    size = len(packet)
    while at < size:
        code = packet[at]
        group = packet[at + 1 : at + code]
        if code == 0 or len(group) != code - 1 or 0 in group:
            return b""
        out.extend(group)
        at += code
        if code != 0xFF and at < size:
            out.append(0)
    return bytes(out)


class Line:
    """Bytes of a serial line to frames."""

    def __init__(self):
        self.packet = bytearray()
        self.overflow = False

    def byte(self, byte):
        """The frame that `byte` completes, else empty."""
        if byte != 0:
            if len(self.packet) == LARGEST_PACKET:
                self.overflow = True
            else:
                self.packet.append(byte)
            return b""
        frame = b"" if self.overflow else cobs_decode(bytes(self.packet))
        self.packet = bytearray()
        self.overflow = False
        return frame
