"""The text form: a header with units, a line per sample."""

import numpy as np
import pytest
from footroom.logger.wire import Start, TextHeader, TextReader, TextSamples, delimited, looks_like_text
from footroom.logger.wire.codec import crc16
from wire_vectors import VECTORS

HEADER = b"# clip=lf rate=200 acc=g gyr=deg/s acc_range=16 gyr_range=2000 numbers=counts\n"


def read(*pieces: bytes) -> tuple[TextReader, list[TextSamples]]:
    reader = TextReader()
    out = [frame for piece in pieces for frame in reader.feed(piece)]
    return reader, [frame for frame in out if isinstance(frame, TextSamples)]


def checked(line: bytes) -> bytes:
    return line + b"*%04X\n" % crc16(line)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("size", [1, 7, 10_000])
def test_the_lines_of_the_notes(end, size):
    text = VECTORS["text"]
    line = "".join(each + end for each in text["lines"]).encode()
    reader = TextReader()
    got = [frame for i in range(0, len(line), size) for frame in reader.feed(line[i : i + size])]
    assert got[0] == TextHeader(**text["header"])
    samples = [frame for frame in got if isinstance(frame, TextSamples)]
    assert np.concatenate([s.ticks_us for s in samples]).tolist() == text["ticks_us"]
    assert np.concatenate([s.counts for s in samples]).tolist() == text["counts"]
    assert (reader.damaged, reader.unexplained, reader.skipped_bytes) == (0, 0, 0)


def test_a_header_says_what_counts_mean():
    header = TextHeader("lf", 200, "m/s^2", "rad/s", 156.9064, 34.9066)
    assert header.acc_scale == pytest.approx(156.9064 / 32768)
    assert header.gyr_scale == pytest.approx(34.9066 / 32768)


def test_counts_are_taken_as_they_are_and_the_clock_wraps():
    _, (samples,) = read(HEADER + b"4294967295,1,2,3,-4,-5,-32768\n4294972295,0,0,0,0,0,32767\n")
    assert samples.ticks_us.tolist() == [4294967295, 4999]
    assert samples.counts.tolist() == [[1, 2, 3, -4, -5, -32768], [0, 0, 0, 0, 0, 32767]]


def test_a_new_header_holds_for_what_follows_only():
    louder = HEADER.replace(b"acc_range=16", b"acc_range=8").replace(b" numbers=counts", b"")
    _, (first, second) = read(HEADER + b"1,2048,0,0,0,0,0\n" + louder + b"2,1,0,0,0,0,0\n")
    assert first.counts[0, 0] == 2048
    assert second.counts[0, 0] == 4096  # 1 g of 8 g


def test_the_first_line_may_be_cut_and_is_left_out():
    reader, samples = read(b"50,1,2,3,4,5,6\n" + HEADER + b"100,1,2,3,4,5,6\n")
    assert [s.ticks_us.tolist() for s in samples] == [[100]]
    assert (reader.damaged, reader.skipped_bytes) == (0, 14)


def test_samples_before_a_header_mean_nothing():
    reader, samples = read(b"\n100,1,2,3,4,5,6\n")
    assert (samples, reader.unexplained) == ([], 1)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (b"100,1,2,3,4,5", "6 values instead of 7"),
        (b"100,1,2,3,4,5,six", "no number"),
        (b"1.5,1,2,3,4,5,6", "no number"),
        (b"100,1,2,3,4,5,nan", "cannot be"),
        (b"-1,1,2,3,4,5,6", "cannot be"),
        (b"hello", "1 values"),
        (b"\xff\xfe,1,2,3,4,5,6", "no number"),
        (b"100,1,2,3,4,5,6*0000", "check sum is wrong"),
        (b"100,1,2,3,4,5,6*29B", "check sum is wrong"),
        (b"# clip=lf rate=200", "does not say acc, gyr, acc_range, gyr_range"),
        (b"# clip=lf rate=200 acc=mg gyr=deg/s acc_range=16 gyr_range=2000", "acc is g or m/s"),
        (b"# clip=lf rate=fast acc=g gyr=deg/s acc_range=16 gyr_range=2000", "no number"),
        (b"# clip=lf rate=200 acc=g gyr=deg/s acc_range=0 gyr_range=2000", "cannot be"),
        (b"# clip=lf rate=200 acc=g gyr=deg/s acc_range=16 gyr_range=2000 numbers=hex", "counts or quantities"),
    ],
)
def test_a_line_that_cannot_be_read_is_counted_and_said(line, said):
    reader, (samples,) = read(HEADER + line + b"\n101,1,2,3,4,5,6\n")
    assert samples.ticks_us.tolist() == [101]
    assert reader.damaged == 1
    assert reader.skipped_bytes == len(line)
    assert reader.last_damage is not None
    assert said in reader.last_damage


def test_once_checked_a_line_without_its_check_sum_is_damaged():
    reader, (samples,) = read(HEADER + checked(b"1,1,2,3,4,5,6") + b"2,1,2,3,4,5,6\n" + checked(b"3,1,2,3,4,5,6"))
    assert samples.ticks_us.tolist() == [1, 3]
    assert reader.damaged == 1


def test_remarks_and_the_column_line_are_no_damage():
    reader, (samples,) = read(HEADER + b"# warm\nt_us,ax,ay,az,gx,gy,gz\n\n1,1,2,3,4,5,6\n")
    assert len(samples.counts) == 1
    assert reader.damaged == 0


def test_noise_without_a_line_end_is_thrown_away():
    reader = TextReader()
    reader.feed(HEADER)
    for _ in range(100):
        assert reader.feed(b"x" * 300) == []
    assert reader.skipped_bytes == 30_000
    assert reader.last_damage == "a line does not end."
    (samples,) = reader.feed(b"1,1,2,3,4,5,6\n2,1,2,3,4,5,6\n")  # the end of the noise, then a whole line
    assert isinstance(samples, TextSamples)
    assert samples.ticks_us.tolist() == [2]


def test_text_and_frames_are_told_apart():
    assert looks_like_text(HEADER)
    assert not looks_like_text(delimited(Start(1)) * 3)
    assert not looks_like_text(b"no line end yet")
