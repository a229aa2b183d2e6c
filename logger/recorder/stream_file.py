"""The samples of one clip while they come in: an Arrow IPC stream that survives cuts and tells damage.

A row is a frame as it was heard; a batch is what came in half a second. Each batch carries in its custom metadata the
stream's token, its own number and a CRC-32 over both and over all its numbers, so that a reader returns whole batches
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
from numpy.typing import NDArray

from ..recording import numbers
from ..sources.base import Heard
from .append_file import AppendFile

NO_SEQUENCE = -1  # of lines of text and recordings, which have none
MOST_SAMPLES = 5_000  # in a batch, so that one batch of damage costs little
_MARK = b"\xff\xff\xff\xff"
_END = _MARK + bytes(4)
_FORMAT = "footroom stream 1"
_LARGEST = 1 << 20  # no batch of ours is larger [bytes]
_WINDOW = 1 << 22  # read at a time [bytes]


def _exactly(name: str, kind: pa.DataType) -> pa.Field:
    return pa.field(name, kind, nullable=False)


SCHEMA = pa.schema(
    [
        _exactly("sequence", pa.int32()),
        _exactly("tick_us", pa.uint32()),
        _exactly("arrived_s", pa.float64()),
        _exactly("counts", pa.list_(_exactly("item", pa.int16()))),
        _exactly("ticks_us", pa.list_(_exactly("item", pa.uint32()))),
    ]
)
_HEADER = SCHEMA.serialize().to_pybytes()


@dataclass(frozen=True)
class Frames:
    """Frames in order of arrival, m of them with n samples in all.

    sequence : (m,) int32, `NO_SEQUENCE` where there is none. tick_us : (m,) uint32 [us]. arrived_s : (m,) host time
    [s]. sizes : (m,) samples of each. counts : (n, 6) int16. ticks_us : (n,) uint32, or (0,) where samples have none.
    """

    sequence: NDArray[np.int32]
    tick_us: NDArray[np.uint32]
    arrived_s: NDArray[np.float64]
    sizes: NDArray[np.int64]
    counts: NDArray[np.int16]
    ticks_us: NDArray[np.uint32]

    def __len__(self) -> int:
        return len(self.sequence)

    @property
    def starts(self) -> NDArray[np.int64]:
        """(m,) row of `counts` at which each frame begins."""
        return np.cumsum(self.sizes) - self.sizes


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


def frames_of(heard: Sequence[Heard]) -> Frames:
    """Frames as they were heard, side by side."""
    own = [h.ticks_us for h in heard if h.ticks_us is not None]
    if own and len(own) != len(heard):
        raise ValueError("some frames have a tick for every sample, others have none")
    return Frames(
        np.array([NO_SEQUENCE if h.sequence is None else h.sequence for h in heard], np.int32),
        np.array([h.tick_us for h in heard], np.uint32),
        np.array([h.arrived_s for h in heard], np.float64),
        np.array([len(h.counts) for h in heard], np.int64),
        np.concatenate([h.counts for h in heard]) if heard else np.empty((0, 6), np.int16),
        np.concatenate(own) if own else np.empty(0, np.uint32),
    )


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
            "facts_crc32": _hexadecimal(zlib.crc32(f"{token} {text}".encode())),
        }
        try:
            self._file.append(SCHEMA.with_metadata(metadata).serialize().to_pybytes())
        except OSError:
            self._file.close()
            path.unlink(missing_ok=True)
            raise

    def append(self, heard: Sequence[Heard]) -> None:
        """Add frames as one batch and wait until they are safe. Raises OSError; then none of them is in the file."""
        self._file.append(_batch_bytes(frames_of(heard), self._token, self._number))
        self._number += 1

    def close(self) -> None:
        """End the stream in good order. Raises OSError when the disk refuses; the file is closed even so."""
        try:
            self._file.append(_END)
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
    if facts is None:  # batches tell all but the facts
        at = found.find_next(data, 0)
        found.lost_bytes = 0 if at < len(data) else len(data)
    while at < len(data):
        after = found.read_run(data, at)
        if after > at:
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
    lost: int = 0
    lost_bytes: int = 0
    parts: list[Frames] = field(default_factory=list)

    def read_run(self, data: bytes, at: int) -> int:
        """Take good batches from position `at` on; returns where they end."""
        window = data[at : at + _WINDOW]
        if not window.startswith(_MARK):
            return at
        source = pa.BufferReader(_HEADER + window)
        good = at
        try:
            reader = pa.ipc.open_stream(source)
            while True:
                message = reader.read_next_batch_with_custom_metadata()
                token, number, frames = _checked(message)
                if number < self.next_number or (self.token and token != self.token):
                    return good
                self.token = token
                self.lost += number - self.next_number
                self.next_number = number + 1
                self.parts.append(frames)
                after = at + source.tell() - len(_HEADER)
                if after < len(data) and not data.startswith(_MARK, after):
                    # Damage follows, or this batch is whole and what it says of its own length is not.
                    following = self.find_next(data, good + 1)
                    self.lost_bytes += max(0, following - after)
                    return following
                good = after
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
            reader = pa.ipc.open_stream(pa.BufferReader(_HEADER + piece))
            token, number, _ = _checked(reader.read_next_batch_with_custom_metadata())
        except Exception:  # as above
            return False
        return number >= self.next_number and self.token in ("", token)

    def frames(self) -> Frames:
        parts = self.parts or [frames_of([])]
        names = ("sequence", "tick_us", "arrived_s", "sizes", "counts", "ticks_us")
        return Frames(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _is_end(data: bytes, at: int) -> bool:
    return len(data) - at == len(_END) and data.startswith(_END, at)


def _hexadecimal(crc: int) -> str:
    return f"{crc:08x}"


def _crc(batch: pa.RecordBatch, token: str, number: int) -> str:
    """Over the token, the number, and the buffers of a batch with their lengths."""
    crc = zlib.crc32(f"{token} {number} {batch.num_rows}".encode())
    for column in batch.columns:
        for buffer in column.buffers():
            if buffer is not None:
                crc = zlib.crc32(buffer.size.to_bytes(8, "little"), crc)
                crc = zlib.crc32(memoryview(buffer), crc)
    return _hexadecimal(crc)


def _lists(values: pa.Array, sizes: NDArray[np.int64], kind: pa.DataType) -> pa.Array:
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    return pa.ListArray.from_arrays(pa.array(offsets, pa.int32()), values, type=kind)


def _batch_bytes(frames: Frames, token: str, number: int) -> bytes:
    own = frames.sizes if len(frames.ticks_us) else np.zeros_like(frames.sizes)
    counts = _lists(pa.array(frames.counts.ravel()), 6 * frames.sizes, SCHEMA.field("counts").type)
    ticks = _lists(pa.array(frames.ticks_us), own, SCHEMA.field("ticks_us").type)
    heads = [pa.array(column) for column in (frames.sequence, frames.tick_us, frames.arrived_s)]
    batch = pa.record_batch([*heads, counts, ticks], schema=SCHEMA)
    proof = {"token": token, "batch": str(number), "crc32": _crc(batch, token, number)}
    metadata = {key.encode(): value.encode() for key, value in proof.items()}
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, SCHEMA) as writer:
        writer.write_batch(batch, custom_metadata=metadata)
    return sink.getvalue().to_pybytes()[len(_HEADER) : -len(_END)]


def _checked(message: Any) -> tuple[str, int, Frames]:
    """Token, number and frames of a batch. Raises ValueError unless all of it is as it was written."""
    batch, metadata = message.batch, message.custom_metadata
    token, number = metadata[b"token"].decode("ascii"), int(metadata[b"batch"])
    batch.validate(full=True)
    if any(column.null_count for column in batch.columns) or metadata[b"crc32"].decode() != _crc(batch, token, number):
        raise ValueError("not as it was written")
    sequence, tick_us, arrived_s, counts, ticks_us = batch.columns
    sizes = np.diff(counts.offsets.to_numpy().astype(np.int64))
    own = np.diff(ticks_us.offsets.to_numpy().astype(np.int64))
    if (sizes % 6).any() or not (np.array_equal(own, sizes // 6) or not own.any()):
        raise ValueError("no whole samples")
    flat, ticks = (numbers(column.flatten()) for column in (counts, ticks_us))
    columns = (numbers(sequence), numbers(tick_us), numbers(arrived_s))
    return token, number, Frames(*columns, sizes // 6, flat.reshape(-1, 6), ticks)  # type: ignore[arg-type]


def header_of(data: bytes) -> tuple[int, str, dict[str, Any] | None]:
    """Where the batches begin, the stream's token, and the facts; 0, "" and None where that is damaged."""
    try:
        length = int.from_bytes(data[4:8], "little")
        metadata = pa.ipc.read_schema(pa.py_buffer(data[: 8 + length])).metadata
        token, text = metadata[b"token"].decode("ascii"), metadata[b"facts"].decode()
        if metadata[b"facts_crc32"].decode() != _hexadecimal(zlib.crc32(f"{token} {text}".encode())):
            return 0, "", None
        return 8 + length, token, json.loads(text)
    except Exception:  # as above
        return 0, "", None
