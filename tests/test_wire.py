"""Frames as bytes: the published check values, round trips, damage, what is newer than this reader."""

import numpy as np
import pytest
from footroom.logger.errors import WireError
from footroom.logger.wire import (
    SEQUENCE_SPAN,
    Hello,
    Identify,
    OtherVersion,
    Reply,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    StreamReader,
    Unknown,
    decode,
    delimited,
    encode,
    samples_that_fit,
)
from footroom.logger.wire.codec import LARGEST_FRAME, crc16, kind_of
from hypothesis import given, settings
from hypothesis import strategies as st
from wire_vectors import VECTORS, frame_of

BYTE, U16, U32 = st.integers(0, 0xFF), st.integers(0, 0xFFFF), st.integers(0, 0xFFFFFFFF)
SOME = st.integers(1, 0xFFFF)
COUNTS = st.integers(1, 20).flatmap(lambda n: st.binary(min_size=12 * n, max_size=12 * n)).map(
    lambda b: np.frombuffer(b, np.int16).reshape(-1, 6)
)  # fmt: skip
IDENTITIES = st.binary(min_size=6, max_size=6).map(bytes.hex)
TEMPERATURES = st.none() | st.integers(-32767, 32767).map(lambda t: t / 100)
SAMPLES = st.builds(Samples, st.integers(0, SEQUENCE_SPAN - 1), U32, COUNTS)
FRAMES = st.one_of(
    st.builds(Hello, IDENTITIES, st.tuples(BYTE, BYTE), SOME, SOME, SOME, BYTE, st.just(1), BYTE),
    SAMPLES,
    st.builds(Status, st.booleans(), st.booleans(), st.booleans(), st.none() | st.integers(0, 100), U32, TEMPERATURES),
    st.builds(Reply, BYTE, BYTE, BYTE, U16, U32),
    st.builds(Identify, BYTE, BYTE),
    st.builds(Start, BYTE),
    st.builds(Stop, BYTE),
    st.builds(SetRate, BYTE, U16),
    st.builds(Unknown, st.sampled_from([0, 4, 0x3F, 0x40, 0x45, 0x7F]), st.binary(max_size=100)),
    st.builds(OtherVersion, st.integers(2, 255), BYTE),
)


@pytest.mark.parametrize("vector", VECTORS["crc16"], ids=lambda v: v["data"])
def test_crc_gives_the_published_check_values(vector):
    """Check value 29b1 of CRC-16/CCITT-FALSE as catalogues of CRCs list it; the others made with binascii.crc_hqx."""
    data, crc = bytes.fromhex(vector["data"]), bytes.fromhex(vector["crc"])
    assert crc16(data).to_bytes(2, "big") == crc
    assert crc16(data + crc) == 0  # the residue, which receivers use


@pytest.mark.parametrize("vector", VECTORS["frames"], ids=lambda v: v["name"])
def test_frames_of_the_notes_both_ways(vector):
    frame, data = frame_of(vector["frame"]), bytes.fromhex(vector["bytes"])
    assert encode(frame) == data
    assert decode(data) == frame
    assert delimited(frame) == bytes.fromhex(vector["on_a_serial_line"])


@pytest.mark.parametrize("vector", VECTORS["newer"], ids=lambda v: v["name"])
def test_what_is_newer_is_skipped_and_said(vector):
    frame, means = decode(bytes.fromhex(vector["bytes"])), vector["means"]
    if "unknown_kind" in means:
        assert isinstance(frame, Unknown)
        assert frame.kind == means["unknown_kind"]
    elif "other_version" in means:
        assert frame == OtherVersion(*means["other_version"])
    else:
        assert frame == frame_of(means["frame"], skipped=means["skipped"])


@pytest.mark.parametrize("vector", VECTORS["damaged"], ids=lambda v: v["name"])
def test_damage_is_named(vector):
    with pytest.raises(WireError) as raised:
        decode(bytes.fromhex(vector["bytes"]))
    assert raised.value.damage == vector["damage"]
    assert raised.value.exit_status == 2


@settings(deadline=None)
@given(FRAMES)
def test_round_trip(frame):
    data = encode(frame)
    assert decode(data) == frame
    assert len(data) <= LARGEST_FRAME


@settings(deadline=None, max_examples=50)
@given(FRAMES.filter(lambda f: not isinstance(f, Samples | Unknown)))
def test_every_frame_but_samples_fits_the_smallest_bluetooth_packet(frame):
    assert len(encode(frame)) <= 20


@pytest.mark.parametrize(
    ("payload", "n"), [(0, 0), (7, 0), (19, 0), (20, 1), (31, 1), (32, 2), (182, 14), (244, 19), (248, 20), (514, 20)]
)
def test_samples_that_fit_fill_the_payload_and_no_more(payload, n):
    assert samples_that_fit(payload) == n
    if n > 0:
        size = len(encode(Samples(0, 0, np.zeros((n, 6), np.int16))))
        assert size <= payload
        assert size + 12 > min(payload, LARGEST_FRAME)


def test_the_hello_says_what_counts_mean():
    """By hand: 16 g over 32768 counts is 0.488 mg, 2000 deg/s is 0.061 deg/s a count; 25 tenths are 2.5 ms."""
    hello = Hello("a1b2c3d4e5f6", (1, 2), 200, 16000, 20000, 25)
    assert hello.acc_scale_g == pytest.approx(0.00048828125)
    assert hello.gyr_scale_deg_s == pytest.approx(0.06103515625)
    assert (hello.acc_range_g, hello.gyr_range_deg_s, hello.delay_s) == (16.0, 2000.0, 0.0025)


def test_samples_know_their_parts_and_what_follows():
    samples = Samples(SEQUENCE_SPAN - 1, 0, np.arange(18, dtype=np.int16).reshape(3, 6))
    assert (samples.n, samples.next_sequence) == (3, 2)
    assert samples.acc[1].tolist() == [6, 7, 8]
    assert samples.gyr[1].tolist() == [9, 10, 11]
    assert samples != Samples(0, 0, samples.counts)
    assert len({samples, Samples(SEQUENCE_SPAN - 1, 0, samples.counts.copy())}) == 1


def test_replies_name_commands_by_their_kind():
    for command in (Identify(1), Start(1), Stop(1), SetRate(1, 200)):
        assert kind_of(type(command)) == encode(command)[0]


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        (Samples(0, 0, np.zeros((0, 6), np.int16)), "0 samples in a frame"),
        (Samples(0, 0, np.zeros((21, 6), np.int16)), "21 samples in a frame"),
        (Samples(0, 0, np.zeros((1, 6), np.int32)), "not int16"),  # type: ignore[arg-type]
        (Samples(0, 0, np.zeros((2, 3), np.int16)), r"\(2, 3\)"),
        (Samples(SEQUENCE_SPAN, 0, np.zeros((1, 6), np.int16)), "sequence 32768"),
        (Samples(0, 1 << 32, np.zeros((1, 6), np.int16)), "Samples does not fit"),
        (Hello("a1b2", (1, 2), 200, 16000, 20000), "12 hexadecimal digits"),
        (Hello("a1b2c3d4e5f6", (1, 2), 70000, 16000, 20000), "Hello does not fit"),
        (Status(True, False, False, 50, -1), "Status does not fit"),
        (SetRate(1, -1), "SetRate does not fit"),
        (Unknown(256, b""), "range"),
    ],
)
def test_what_the_bytes_cannot_hold_is_refused(frame, said):
    with pytest.raises(ValueError, match=said):
        encode(frame)


@settings(deadline=None)
@given(FRAMES, st.data())
def test_one_burst_of_up_to_16_bits_or_two_flipped_bits_never_pass(frame, data):
    """What a CRC of 16 bits guarantees at this length (textbook property of the polynomial, from memory)."""
    good = encode(frame)
    bits = 8 * len(good)
    if data.draw(st.booleans()):
        width = data.draw(st.integers(1, 16))
        pattern = data.draw(st.integers(1, (1 << width) - 1))
        change = pattern << data.draw(st.integers(0, bits - width))
    else:
        first, second = data.draw(st.lists(st.integers(0, bits - 1), min_size=2, max_size=2, unique=True))
        change = 1 << first | 1 << second
    bad = (int.from_bytes(good, "big") ^ change).to_bytes(len(good), "big")
    with pytest.raises(WireError):
        decode(bad)


def test_noise_passes_no_oftener_than_the_check_sum_lets_it():
    """100,000 frames of noise: 1.5 would pass by chance (2 to the power -16 each)."""
    rng = np.random.default_rng(4)
    noise = rng.integers(0, 256, 100_000 * 44, dtype=np.uint8).tobytes()
    passed = 0
    for i in range(0, len(noise), 44):
        try:
            decode(noise[i : i + 44])
            passed += 1
        except WireError as error:
            assert error.damage in ("crc", "length")
    assert passed <= 8


def one_frame(number: int) -> Samples:
    return Samples(number % SEQUENCE_SPAN, 5000 * number, np.full((10, 6), number, np.int16))


def test_a_damaged_line_loses_frames_but_gives_no_wrong_sample():
    """One byte in 200 changed, left out or doubled; by chance 0.02 of these frames would pass damaged."""
    rng = np.random.default_rng(8)
    sent = [one_frame(number) for number in range(2000)]
    line = bytearray()
    clean = b"".join(map(delimited, sent))
    for byte, chance, change in zip(clean, rng.integers(0, 600, len(clean)), rng.bytes(len(clean)), strict=True):
        line += {0: b"", 1: bytes([byte, byte]), 2: bytes([byte ^ (change or 1)])}.get(chance, bytes([byte]))
    reader = StreamReader()
    got = [frame for i in range(0, len(line), 64) for frame in reader.feed(bytes(line[i : i + 64]))]
    assert 800 < len(got) < 1600
    remaining = iter(sent)
    assert all(frame in remaining for frame in got), "a frame that was not sent, or out of order"
    assert 300 < reader.damaged < 1400
    assert reader.skipped_bytes > 100 * reader.damaged
    assert reader.last_damage is not None


@settings(deadline=None, max_examples=60)
@given(st.lists(FRAMES, max_size=6), st.lists(st.integers(1, 40), min_size=1))
def test_the_pieces_of_a_line_do_not_matter(frames, sizes):
    line, reader, got, at = b"".join(map(delimited, frames)), StreamReader(), [], 0
    while at < len(line):
        for size in sizes:
            got += reader.feed(line[at : at + size])
            at += size
    assert got == frames
    assert (reader.damaged, reader.skipped_bytes) == (0, 0)
    assert reader.unknown == sum(isinstance(frame, Unknown) for frame in frames)


def test_a_line_heard_from_the_middle_of_a_frame_is_not_called_damaged():
    reader = StreamReader()
    whole = delimited(one_frame(1))
    assert reader.feed(whole[20:] + whole + b"\x00\x00" + whole) == [one_frame(1), one_frame(1)]
    assert (reader.damaged, reader.skipped_bytes) == (0, len(whole) - 21)


def test_noise_without_end_is_thrown_away_and_then_frames_are_found_again():
    reader = StreamReader()
    assert reader.feed(delimited(Start(1))) == [Start(1)]
    for _ in range(100):
        assert reader.feed(b"U" * 1000) == []
        assert len(reader._rest) <= LARGEST_FRAME + 2
    assert reader.feed(b"UUU\x00" + delimited(Stop(2))) == [Stop(2)]
    assert (reader.damaged, reader.skipped_bytes) == (1, 100_003)
    assert reader.last_damage is not None
    assert reader.last_damage.damage == "long"


@pytest.mark.parametrize(
    ("packet", "damage"), [(b"\x05\x11", "cobs"), (b"\x03\xff\xff", "short"), (b"\x05abcd", "crc")]
)
def test_damaged_packets_are_counted_with_their_kind(packet, damage):
    reader = StreamReader()
    assert reader.feed(delimited(Start(1)) + packet + b"\x00" + delimited(Stop(1))) == [Start(1), Stop(1)]
    assert (reader.damaged, reader.skipped_bytes) == (1, len(packet))
    assert reader.last_damage is not None
    assert reader.last_damage.damage == damage
