"""Frames on a serial line: COBS packets between zero bytes.

COBS: Cheshire & Baker 1999, IEEE/ACM Trans Netw 7(2):159-172.
"""

from __future__ import annotations

from cobs import cobs

from ..errors import WireError
from .codec import LARGEST_FRAME, decode, encode
from .frames import Frame, Unknown

_DELIMITER = b"\x00"
_LARGEST_PACKET = LARGEST_FRAME + 1 + LARGEST_FRAME // 254


def delimited(frame: Frame) -> bytes:
    """A frame as it goes over a serial line. Raises ValueError as `encode` does."""
    return cobs.encode(encode(frame)) + _DELIMITER


class StreamReader:
    """Bytes of a serial line, in any pieces, to frames. Never more than one packet is kept.

    damaged : packets between two delimiters that were no good frame. unknown : good frames of a kind not known here
    (they are given too, as `Unknown`). skipped_bytes : of all that was thrown away: damaged packets, noise without a
    delimiter. last_damage : the last WireError, None while there was none.

    What comes before the first delimiter is the end of a packet whose beginning was not heard, or noise: it is taken
    when it is a good frame and else counted as skipped, not as damaged.
    """

    def __init__(self) -> None:
        self.damaged = 0
        self.unknown = 0
        self.skipped_bytes = 0
        self.last_damage: WireError | None = None
        self._rest = b""
        self._overflow = False
        self._synchronised = False

    def feed(self, data: bytes) -> list[Frame]:
        """The frames that `data` completes, in order."""
        packets = (self._rest + data).split(_DELIMITER)
        self._rest = packets.pop()
        frames: list[Frame] = []
        for packet in packets:
            if self._overflow:
                self._overflow = False
                self.skipped_bytes += len(packet)
            elif packet:  # two delimiters in a row are allowed
                self._take(packet, frames)
            self._synchronised = True
        if len(self._rest) > _LARGEST_PACKET or (self._overflow and self._rest):
            if not self._overflow:
                self._throw_away(0, WireError("a packet does not end: no delimiter comes.", damage="long"))
            self._overflow = True
            self.skipped_bytes += len(self._rest)
            self._rest = b""
        return frames

    def _take(self, packet: bytes, frames: list[Frame]) -> None:
        try:
            frame = decode(cobs.decode(packet))
        except cobs.DecodeError:
            self._throw_away(len(packet), WireError(f"{len(packet)} bytes are no COBS packet.", damage="cobs"))
        except WireError as error:
            self._throw_away(len(packet), error)
        else:
            self.unknown += isinstance(frame, Unknown)
            frames.append(frame)

    def _throw_away(self, size: int, error: WireError) -> None:
        self.skipped_bytes += size
        self.damaged += self._synchronised
        self.last_damage = error
