"""A clip's samples on disk: exactly as recorded, and SI when read."""

from __future__ import annotations

import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from footroom.logger.errors import InputError
from footroom.logger.recording import (
    COLUMNS,
    STANDARD_GRAVITY,
    ClipInfo,
    RawClip,
    clip_info,
    read_clip,
    read_raw,
    write_clip,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

INTEGERS = {"int16": np.int16, "int32": np.int32, "int64": np.int64, "uint32": np.uint32}
FLOATS = {"float32": np.float32, "float64": np.float64}


@st.composite
def raw_clips(draw: st.DrawFn) -> RawClip:
    n = draw(st.integers(0, 40))
    columns = {}
    for name in COLUMNS:
        kind = draw(st.sampled_from([*INTEGERS, *FLOATS]))
        columns[name] = draw(hnp.arrays(np.dtype(kind), n))
    scale = st.floats(1e-9, 1e3)
    return RawClip(
        columns,
        draw(st.sampled_from(["m/s^2", "g"])),
        draw(st.sampled_from(["rad/s", "deg/s"])),
        draw(scale),
        draw(scale),
        draw(scale),
        draw(st.dictionaries(st.text(min_size=1, max_size=8), st.text(max_size=8), max_size=2)),
    )


@settings(deadline=None, max_examples=60)
@given(raw_clips())
def test_a_written_clip_is_read_back_bit_for_bit(raw: RawClip) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "clips" / "right_foot.arrow"
        write_clip(path, raw)
        back = read_raw(path)
        assert sorted(entry.name for entry in path.parent.iterdir()) == [path.name]
    for name in COLUMNS:
        assert back.columns[name].dtype == raw.columns[name].dtype
        assert back.columns[name].tobytes() == raw.columns[name].tobytes()
    assert (back.time_scale, back.acceleration_scale, back.angular_rate_scale) == (
        raw.time_scale,
        raw.acceleration_scale,
        raw.angular_rate_scale,
    )
    assert (back.acceleration_unit, back.angular_rate_unit) == (raw.acceleration_unit, raw.angular_rate_unit)
    assert dict(back.metadata) == dict(raw.metadata)


@pytest.mark.parametrize("n", [1, 32_767, 32_768, 32_769, 70_000])
def test_si_units_from_16_bit_counts_across_batches(tmp_path: Path, n: int) -> None:
    """Scales of a usual part: 16 g and 2000 deg/s over 16 bits, time in microseconds."""
    rng = np.random.default_rng(5)
    time = (np.arange(n) * 5000 + 17).astype(np.int64)
    acc, gyr = (rng.integers(-32768, 32768, (n, 3)).astype(np.int16) for _ in range(2))
    raw = RawClip.from_arrays(
        time,
        acc,
        gyr,
        "g",
        "deg/s",
        time_scale=1e-6,
        acceleration_scale=1 / 2048,
        angular_rate_scale=1 / 16.4,
        metadata={"device": "a"},
    )
    write_clip(tmp_path / "c.arrow", raw)
    samples = read_clip(tmp_path / "c.arrow")
    assert samples.time_s.dtype == samples.acc.dtype == samples.gyr.dtype == np.float64
    np.testing.assert_allclose(samples.time_s, time * 1e-6, rtol=1e-15)
    np.testing.assert_allclose(samples.acc, acc / 2048 * 9.80665, rtol=1e-14)
    np.testing.assert_allclose(samples.gyr, np.radians(gyr / 16.4), rtol=1e-14)
    assert samples.as_recorded["acc_z.type"] == "int16"
    assert samples.as_recorded["gyr_y.unit"] == "deg/s"
    assert float(samples.as_recorded["gyr_y.scale"]) == 1 / 16.4
    assert samples.as_recorded["note.device"] == "a"
    info = clip_info(tmp_path / "c.arrow")
    assert info == ClipInfo(n, time[0] * 1e-6, time[-1] * 1e-6, samples.as_recorded)


def test_float64_in_si_is_read_as_it_was_written(tmp_path: Path) -> None:
    values = np.array([0.1, 1 / 3, -9.81, 1e-300, 4.0])
    raw = RawClip.from_arrays(values, np.column_stack([values] * 3), np.column_stack([-values] * 3))
    write_clip(tmp_path / "c.arrow", raw)
    samples = read_clip(tmp_path / "c.arrow")
    np.testing.assert_array_equal(samples.time_s, values)
    np.testing.assert_array_equal(samples.gyr, -np.column_stack([values] * 3))


def test_the_file_says_all_it_takes_to_read_it_without_this_code(tmp_path: Path) -> None:
    raw = RawClip.from_arrays([0, 1], np.full((2, 3), 2048, np.int16), np.zeros((2, 3), np.int16), "g", "deg/s",
                              acceleration_scale=1 / 2048)  # fmt: skip
    write_clip(tmp_path / "c.arrow", raw)
    with pa.memory_map(str(tmp_path / "c.arrow")) as source:
        table = pa.ipc.open_file(source).read_all()
        field = table.schema.field("acc_x")
        assert table.column_names == list(COLUMNS)
        assert field.metadata == {b"unit": b"g", b"scale": repr(1 / 2048).encode()}
        assert [value * float(field.metadata[b"scale"]) for value in table["acc_x"].to_pylist()] == [1.0, 1.0]
        del table


def test_an_empty_clip(tmp_path: Path) -> None:
    write_clip(tmp_path / "c.arrow", RawClip.from_arrays(np.empty(0), np.empty((0, 3)), np.empty((0, 3))))
    assert read_clip(tmp_path / "c.arrow").acc.shape == (0, 3)
    info = clip_info(tmp_path / "c.arrow")
    assert info.n == 0 and math.isnan(info.start_s)


def test_standard_gravity() -> None:
    """Exact by definition: 3rd General Conference on Weights and Measures (1901), 9.80665 m/s^2."""
    assert STANDARD_GRAVITY == 9.80665


def _clip(n: int = 100) -> RawClip:
    return RawClip.from_arrays(np.arange(n) / 100, np.ones((n, 3)), np.zeros((n, 3)))


@pytest.mark.parametrize("keep", [0, 7, 100, 0.5, 0.9, -1])
def test_a_file_cut_short_is_refused_with_a_remedy(tmp_path: Path, keep: float) -> None:
    path = tmp_path / "c.arrow"
    write_clip(path, _clip())
    data = path.read_bytes()
    path.write_bytes(data[: round(len(data) * keep) if isinstance(keep, float) else keep])
    for read in (read_clip, read_raw, clip_info):
        with pytest.raises(InputError, match="the samples of this clip are lost.*restore it from a copy") as refused:
            read(path)
        assert refused.value.path == path


def test_a_missing_file_and_one_of_another_kind(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="lost: it is missing"):
        read_clip(tmp_path / "c.arrow")
    table = pa.table({"x": [1, 2]})
    with pa.OSFile(str(tmp_path / "d.arrow"), "wb") as sink, pa.ipc.new_file(sink, table.schema) as writer:
        writer.write_table(table)
    with pytest.raises(InputError, match="is no clip of a Footroom logbook; delete the session"):
        read_clip(tmp_path / "d.arrow")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"acceleration_unit": "mg"}, "'mg' is no unit of acceleration"),
        ({"angular_rate_unit": "rpm"}, "'rpm' is no unit of angular rate"),
        ({"time_scale": 0.0}, "the scale of time_s is 0.0, not a positive"),
        ({"acceleration_scale": math.nan}, "the scale of acc_x is nan"),
        ({"columns": {**_clip().columns, "acc_x": np.zeros(99)}}, "column acc_x has shape .99,., not .100,."),
        ({"columns": {**_clip().columns, "acc_x": np.zeros(100, bool)}}, "column acc_x is of type bool"),
        ({"columns": {"time_s": np.zeros(1)}}, "the columns are .'time_s'., not"),
    ],
)
def test_what_does_not_fit_is_not_written(tmp_path: Path, change: dict, says: str) -> None:
    import dataclasses

    with pytest.raises(ValueError, match=says):
        write_clip(tmp_path / "c.arrow", dataclasses.replace(_clip(), **change))
    assert list(tmp_path.iterdir()) == []


def test_arrays_of_other_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match=r"shapes \(4,\), \(3, 3\), \(4, 3\) are not"):
        RawClip.from_arrays(np.zeros(4), np.zeros((3, 3)), np.zeros((4, 3)))


@pytest.mark.skipif(
    not Path("/proc/self/status").is_file(), reason="peak memory of a process is read from /proc (Linux)"
)
@pytest.mark.parametrize("kind", ["int16", "float64"])
def test_reading_an_hour_needs_little_more_than_what_it_returns(tmp_path: Path, kind: str) -> None:
    """An hour at 200 Hz: 720,000 rows, 40 MB returned; at most 1.5 times that on top of what was there before."""
    n = 720_000
    values = np.zeros((n, 3), kind)
    write_clip(tmp_path / "c.arrow", RawClip.from_arrays(np.arange(n) * 0.005, values, values))
    code = """
import sys
from pathlib import Path
from footroom.logger.recording import read_clip

def peak():
    lines = Path("/proc/self/status").read_text().splitlines()
    return 1024 * next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))

before = peak()
samples = read_clip(Path(sys.argv[1]))
print((peak() - before) / (samples.time_s.nbytes + samples.acc.nbytes + samples.gyr.nbytes))
"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "c.arrow")], capture_output=True, text=True, check=True
    )
    assert 0.5 < float(done.stdout) < 1.5, done.stdout
