"""One batch of frames as bytes of an Arrow stream, and back: as it was written, or not at all.

A row is a frame as it was heard. The custom metadata carries the stream's token, the batch's number and a CRC-32 over
both and over all its numbers.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ..recording import numbers
from ..sources.base import Heard

NO_SEQUENCE = -1  # of lines of text and recordings, which have none
END_MARK = b"\xff\xff\xff\xff" + bytes(4)


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
HEADER = SCHEMA.serialize().to_pybytes()


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


def hexadecimal(crc: int) -> str:
    return f"{crc:08x}"


def _crc(batch: pa.RecordBatch, token: str, number: int) -> str:
    """Over the token, the number, and the buffers of a batch with their lengths."""
    crc = zlib.crc32(f"{token} {number} {batch.num_rows}".encode())
    for column in batch.columns:
        for buffer in column.buffers():
            if buffer is not None:
                crc = zlib.crc32(buffer.size.to_bytes(8, "little"), crc)
                crc = zlib.crc32(memoryview(buffer), crc)
    return hexadecimal(crc)


def as_array(kind: pa.DataType, values: NDArray[Any]) -> pa.Array:
    """Numbers as an Arrow array, in place. (Arrow's own way from numpy imports pandas first: 40 MB and 0.4 s.)"""
    return pa.Array.from_buffers(kind, len(values), [None, pa.py_buffer(np.ascontiguousarray(values).data)])


def _lists(name: str, values: NDArray[Any], sizes: NDArray[np.int64]) -> pa.Array:
    kind = SCHEMA.field(name).type
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    inner = as_array(kind.value_type, values)
    return pa.Array.from_buffers(kind, len(sizes), [None, pa.py_buffer(offsets.data)], children=[inner])


def batch_bytes(frames: Frames, token: str, number: int) -> bytes:
    own = frames.sizes if len(frames.ticks_us) else np.zeros_like(frames.sizes)
    heads = [as_array(SCHEMA.field(i).type, getattr(frames, SCHEMA.field(i).name)) for i in range(3)]
    counts = _lists("counts", frames.counts.ravel(), 6 * frames.sizes)
    ticks = _lists("ticks_us", frames.ticks_us, own)
    batch = pa.record_batch([*heads, counts, ticks], schema=SCHEMA)
    proof = {"token": token, "batch": str(number), "crc32": _crc(batch, token, number)}
    metadata = {key.encode(): value.encode() for key, value in proof.items()}
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, SCHEMA) as writer:
        writer.write_batch(batch, custom_metadata=metadata)
    return sink.getvalue().to_pybytes()[len(HEADER) : -len(END_MARK)]


def checked(message: Any) -> tuple[str, int, Frames]:
    """Token, number and frames of a batch. Raises ValueError unless all of it is as it was written."""
    batch, metadata = message.batch, message.custom_metadata
    token, number = metadata[b"token"].decode("ascii"), int(metadata[b"batch"])
    batch.validate(full=True)
    if any(column.null_count for column in batch.columns) or metadata[b"crc32"].decode() != _crc(batch, token, number):
        raise ValueError("not as it was written")
    sequence, tick_us, arrived_s, counts, ticks_us = batch.columns
    sizes, own = (np.diff(numbers(column.offsets)).astype(np.int64) for column in (counts, ticks_us))
    if (sizes % 6).any() or not (np.array_equal(own, sizes // 6) or not own.any()):
        raise ValueError("no whole samples")
    flat, ticks = (numbers(column.flatten()) for column in (counts, ticks_us))
    columns = (numbers(sequence), numbers(tick_us), numbers(arrived_s))
    return token, number, Frames(*columns, sizes // 6, flat.reshape(-1, 6), ticks)  # type: ignore[arg-type]
