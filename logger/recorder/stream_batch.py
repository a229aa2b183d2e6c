"""One batch of frames as bytes of an Arrow stream, and back: as it was written, or not at all.

A row is a frame as it was heard. Its numbers are those of its samples one after the other: six each, or eight where
every sample has a tick of its own (its lower and upper half follow the six). The custom metadata's `proof` is the
stream's token, the batch's number, the numbers of a sample, and a CRC-32 over all three and over all of the batch.
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


def _crc(batch: pa.RecordBatch, token: str, number: int, width: int) -> str:
    """Over the token, the number, the width, and the buffers of a batch with their lengths."""
    crc = zlib.crc32(f"{token} {number} {width} {batch.num_rows}".encode())
    for column in batch.columns:
        for buffer in column.buffers():
            if buffer is not None:
                crc = zlib.crc32(buffer.size.to_bytes(8, "little"), crc)
                crc = zlib.crc32(memoryview(buffer), crc)
    return hexadecimal(crc)


def as_array(kind: pa.DataType, values: NDArray[Any]) -> pa.Array:
    """Numbers as an Arrow array, in place. (Arrow's own way from numpy imports pandas first: 40 MB and 0.4 s.)"""
    return pa.Array.from_buffers(kind, len(values), [None, pa.py_buffer(np.ascontiguousarray(values).data)])


def batch_bytes(frames: Frames, token: str, number: int) -> bytes:
    """The bytes that stand for these frames in a stream of `SCHEMA`."""
    samples = frames.counts
    if len(frames.ticks_us):
        samples = np.column_stack([samples, frames.ticks_us.astype("<u4").view("<i2").reshape(-1, 2)])
    width = samples.shape[1]
    heads = [as_array(SCHEMA.field(i).type, getattr(frames, SCHEMA.field(i).name)) for i in range(3)]
    kind = SCHEMA.field("counts").type
    offsets = np.concatenate([[0], np.cumsum(width * frames.sizes)]).astype(np.int32)
    inner = as_array(kind.value_type, samples.ravel())
    counts = pa.Array.from_buffers(kind, len(frames), [None, pa.py_buffer(offsets.data)], children=[inner])
    batch = pa.record_batch([*heads, counts], schema=SCHEMA)
    proof = f"{token} {number} {width} {_crc(batch, token, number, width)}"
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, SCHEMA) as writer:
        writer.write_batch(batch, custom_metadata={b"proof": proof.encode()})
    return sink.getvalue().to_pybytes()[len(HEADER) : -len(END_MARK)]


def checked(message: Any) -> tuple[str, int, Frames]:
    """Token, number and frames of a batch. Raises ValueError unless all of it is as it was written."""
    batch = message.batch
    token, count, of_sample, crc = message.custom_metadata[b"proof"].decode("ascii").split(" ")
    number, width = int(count), int(of_sample)
    batch.validate(full=True)
    if any(column.null_count for column in batch.columns) or crc != _crc(batch, token, number, width):
        raise ValueError("not as it was written")
    sequence, tick_us, arrived_s, counts = batch.columns
    sizes = np.diff(numbers(counts.offsets)).astype(np.int64)
    if width not in (6, 8) or (sizes % width).any():
        raise ValueError("no whole samples")
    samples = numbers(counts.flatten()).reshape(-1, width)
    ticks = np.ascontiguousarray(samples[:, 6:]).view("<u4").ravel() if width == 8 else np.empty(0, np.uint32)
    columns = (numbers(sequence), numbers(tick_us), numbers(arrived_s))
    return token, number, Frames(*columns, sizes // width, samples[:, :6], ticks)  # type: ignore[arg-type]
