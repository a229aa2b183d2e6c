"""The samples of one clip while they come in: an Arrow IPC stream that survives cuts and tells damage.

A row is a frame as it was heard; a batch is what came in half a second. Each batch carries in its custom metadata the
stream's token, its own number and a CRC-32 over all of it (`stream_batch.py`), so that a reader returns whole batches
as they were written or none. What is known of the clip stands in the schema's metadata, with a CRC-32 of its own.
After damage the reader goes on at the next batch that proves itself by token, growing number and CRC. A stream that
was closed ends with Arrow's end mark. Any Arrow library reads an undamaged one.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from ..sources.base import Heard
from .append_file import AppendFile
from .stream_batch import END_MARK, HEADER, SCHEMA, Frames, batch_bytes, checked, frames_of, hexadecimal

MOST_SAMPLES = 5_000  # in a batch, so that one batch of damage costs little
_MARK = b"\xff\xff\xff\xff"
_FORMAT = "footroom stream 1"
_LARGEST = 1 << 20  # no batch of ours is larger [bytes]
_WINDOW = 1 << 22  # read at a time [bytes]


@dataclass(frozen=True)
class ReadStream:
    """What a stream file still holds.

    facts : of the clip, None when they are damaged. token : of the stream, "" when nothing can be read.
    ended : closed in good order. lost_batches : whole batches that are missing between good ones (each about half a
    second). lost_bytes : that could not be used, an unfinished batch at the end included.
    """

    frames: Frames
    facts: dict[str, Any] | None = None
    token: str = ""
    ended: bool = False
    batches: int = 0
    lost_batches: int = 0
    lost_bytes: int = 0


class StreamFile:
    """A stream being written. Raises OSError when it cannot be made.

    facts : of the clip, plain data. token : tells this stream from all others.
    """

    def __init__(self, path: Path, token: str, facts: Mapping[str, Any]) -> None:
        self._token = token
        self._number = 0
        self._file = AppendFile(path)
        text = json.dumps(facts, ensure_ascii=False, allow_nan=False)
        metadata: dict[bytes | str, bytes | str] = {
            "format": _FORMAT,
            "token": token,
            "facts": text,
            "facts_crc32": hexadecimal(zlib.crc32(f"{token} {text}".encode())),
        }
        try:
            self._file.append(SCHEMA.with_metadata(metadata).serialize().to_pybytes())
        except BaseException:  # else the next try would find a file there
            self._file.close()
            path.unlink(missing_ok=True)
            raise

    def append(self, heard: Sequence[Heard]) -> None:
        """Add frames as one batch and wait until they are safe. Raises OSError; then none of them is in the file."""
        self._file.append(batch_bytes(frames_of(heard), self._token, self._number))
        self._number += 1

    def close(self) -> None:
        """End the stream in good order. Raises OSError when the disk refuses; the file is closed even so."""
        try:
            self._file.append(END_MARK)
        finally:
            self._file.close()


def read_stream(path: Path) -> ReadStream:
    """All that can be read of a stream, and what is lost. Raises OSError when there is no such file."""
    return parse_stream(path.read_bytes())


def parse_stream(data: bytes) -> ReadStream:
    """As `read_stream`, of the bytes of a file."""
    found = _Found()
    at, token, facts = header_of(data)
    found.token = token
    ended = False
    if facts is None or (at != len(data) and not data.startswith(_MARK, at)):  # batches tell all but the facts
        at = found.find_next(data, 0)
        found.lost_bytes = 0 if at < len(data) else len(data)
    while at < len(data):
        after = found.read_run(data, at)
        if after != at:
            at = after
        elif _is_end(data, at):
            at, ended = len(data), True
        else:
            following = found.find_next(data, at + 1)
            found.lost_bytes += following - at
            at = following
    return ReadStream(found.frames(), facts, found.token, ended, len(found.parts), found.lost, found.lost_bytes)


@dataclass
class _Found:
    """Good batches of one stream so far."""

    token: str = ""
    next_number: int = 0
    before: int = 8  # where the last good batch begins; at first inside the header
    lost: int = 0
    lost_bytes: int = 0
    parts: list[Frames] = field(default_factory=list)

    def read_run(self, data: bytes, at: int) -> int:
        """Take good batches from position `at` on; returns where they end, or where earlier ones begin."""
        window = data[at : at + _WINDOW]
        if not window.startswith(_MARK):
            return at
        source = pa.BufferReader(HEADER + window)
        good = at
        try:
            reader = pa.ipc.open_stream(source)
            while True:
                message = reader.read_next_batch_with_custom_metadata()
                token, number, frames = checked(message)
                if number < self.next_number or (self.token and token != self.token):
                    return good
                if number > self.next_number and (between := self.find_next(data, self.before + 1)) < good:
                    return between  # a wrong length before led past others and happened to fit
                self.token = token
                self.lost += number - self.next_number
                self.next_number = number + 1
                self.parts.append(frames)
                after = at + source.tell() - len(HEADER)
                if after < len(data) and not data.startswith(_MARK, after):
                    # Damage follows, or this batch is whole and what it says of its own length is not.
                    following = self.find_next(data, good + 1)
                    self.lost_bytes += max(0, following - after)
                    return following
                self.before, good = good, after
        except Exception:  # bytes that are no batch make Arrow raise nearly anything
            return good

    def find_next(self, data: bytes, at: int) -> int:
        """Where the next good batch begins, or the end of `data`."""
        while (at := data.find(_MARK, at)) >= 0:
            length = int.from_bytes(data[at + 4 : at + 8], "little")
            if _is_end(data, at) or (0 < length < _LARGEST and self._is_batch(data[at : at + _LARGEST])):
                return at
            at += 1
        return len(data)

    def _is_batch(self, piece: bytes) -> bool:
        try:
            reader = pa.ipc.open_stream(pa.BufferReader(HEADER + piece))
            token, number, _ = checked(reader.read_next_batch_with_custom_metadata())
        except Exception:  # as above
            return False
        return number >= self.next_number and self.token in ("", token)

    def frames(self) -> Frames:
        parts = self.parts or [frames_of([])]
        names = ("sequence", "tick_us", "arrived_s", "sizes", "counts", "ticks_us")
        return Frames(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _is_end(data: bytes, at: int) -> bool:
    return len(data) - at == len(END_MARK) and data.startswith(END_MARK, at)


def header_of(data: bytes) -> tuple[int, str, dict[str, Any] | None]:
    """Where the batches begin, the stream's token, and the facts; 0, "" and None where that is damaged."""
    try:
        length = int.from_bytes(data[4:8], "little")
        metadata = pa.ipc.read_schema(pa.py_buffer(data[: 8 + length])).metadata
        token, text = metadata[b"token"].decode("ascii"), metadata[b"facts"].decode()
        if metadata[b"facts_crc32"].decode() != hexadecimal(zlib.crc32(f"{token} {text}".encode())):
            return 0, "", None
        return 8 + length, token, json.loads(text)
    except Exception:  # as above
        return 0, "", None
