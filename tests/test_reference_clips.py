"""The clips in C and in MicroPython say byte for byte what the notes and `footroom.logger.wire` say."""

from __future__ import annotations

import re

import numpy as np
import pytest
from cobs import cobs
from footroom.logger.wire import (
    SEQUENCE_SPAN,
    TICK_SPAN_US,
    Hello,
    Identify,
    Reply,
    Result,
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
)
from reference_clips import NOTES, build_c, run, run_micropython
from wire_vectors import VECTORS, frame_of, script_line

COMMANDS = ("identify", "start", "stop", "set_rate")
IDENTITY = "a1b2c3d4e5f6"


def said_by_vectors() -> list[tuple[str, str]]:
    """Script lines and the answers that the test vectors ask for."""
    lines = [(f"crc {v['data'] or '-'}", v["crc"]) for v in VECTORS["crc16"]]
    for v in VECTORS["cobs"]:
        lines.append((f"cobs {v['data'] or '-'}", v["packet"]))
        lines.append((f"uncobs {v['packet']}", v["data"] or "-"))
    for v in VECTORS["frames"]:
        lines.append((f"cobs {v['bytes']}", v["on_a_serial_line"].removesuffix("00")))
        if v["frame"]["kind"] in COMMANDS:
            f = v["frame"]
            value = f.get("seconds", f.get("rate_hz", 0))
            lines.append((f"command {v['bytes']}", f"{int(v['bytes'][:2], 16)} {f['token']} {value}"))
        else:
            lines.append((script_line(frame_of(v["frame"])), v["bytes"]))
            lines.append((f"command {v['bytes']}", "other"))
    for v in VECTORS["damaged"]:
        clip_kind = v["damage"] in ("length", "value") and not 0x40 <= int(v["bytes"][:2], 16) < 0x80
        lines.append((f"command {v['bytes'] or '-'}", "other" if clip_kind else "bad"))
    lines.append((f"command {VECTORS['newer'][3]['bytes']}", "66 9 0"))
    lines.append((f"command {VECTORS['newer'][5]['bytes']}", "127 200 0"))
    return lines


def said_by_chance(count: int = 150) -> list[tuple[str, str]]:
    """Random frames and packets, and what footroom.logger.wire and the cobs package make of them."""
    rng = np.random.default_rng(20)
    lines = []
    for i in range(count):
        byte, word, long = (int(rng.integers(0, 1 << bits)) for bits in (8, 16, 32))
        counts = rng.integers(-32768, 32768, (int(rng.integers(1, 21)), 6)).astype(np.int16)
        frames = [
            Hello(rng.bytes(6).hex(), (byte, word & 255), word | 1, (long & 0xFFFF) | 1, (long >> 16) | 1, byte),
            Samples(word % SEQUENCE_SPAN, long, counts),
            Status(bool(i & 1), bool(i & 2), bool(i & 4), byte % 101, long, int(rng.integers(-32767, 32768)) / 100),
            Reply(byte, word & 255, word >> 8, word, long),
        ]
        lines += [(script_line(frame), encode(frame).hex()) for frame in frames]
        command = (Identify(byte, word & 255), Start(byte), Stop(byte), SetRate(byte, word))[i % 4]
        value = getattr(command, "seconds", getattr(command, "rate_hz", 0))
        good = encode(command)
        lines.append((f"command {good.hex()}", f"{good[0]} {byte} {value}"))
        place = int(rng.integers(0, len(good)))
        bad = good[:place] + bytes([good[place] ^ (byte or 1)]) + good[place + 1 :]
        lines.append((f"command {bad.hex()}", "bad"))
        # Runs without a zero and runs of zeros, across the group length of COBS (254).
        data = bytes(rng.integers(1, 256, int(rng.integers(0, 600)), dtype=np.uint8)) + bytes(int(rng.integers(0, 3)))
        data = data if i % 2 else bytes(rng.choice([0, 0, 1, 255], int(rng.integers(1, 300))).astype(np.uint8))
        lines.append((f"cobs {data.hex() or '-'}", cobs.encode(data).hex()))
        lines.append((f"uncobs {cobs.encode(data).hex()}", data.hex() or "-"))
        packet = bytes(rng.integers(0, 12, 10, dtype=np.uint8))
        try:
            unpacked = cobs.decode(packet)
        except cobs.DecodeError:
            unpacked = b""
        lines.append((f"uncobs {packet.hex()}", unpacked.hex() or "-"))
    return lines


def sent(*frames, ends: str = "") -> str:
    return "".join(delimited(frame).hex() for frame in frames) + ends


def said_by_the_check() -> list[tuple[str, str]]:
    """Step 2 of "Check your clip", over a serial line: what each of the vectors leads to."""
    answers = {"42": Reply(0x42, 9, Result.DONE, 0, 0), "7f": Reply(0x7F, 200, Result.UNKNOWN_COMMAND, 0, 0)}
    lines = [(f"clip {IDENTITY} 248", "-")]
    for v in VECTORS["damaged"]:
        lines.append((f"line {cobs.encode(bytes.fromhex(v['bytes'])).hex()}00", "-"))
    for v in VECTORS["newer"]:
        answer = answers.get(v["bytes"][:2])
        line = f"line {cobs.encode(bytes.fromhex(v['bytes'])).hex()}00"
        lines.append((line, "-" if answer is None else encode(answer).hex()))
    none = encode(Unknown(0x45, b"")).hex()  # a command that is not known, without a token
    return [*lines, (f"receive {none}", "-"), (f"receive {encode(Unknown(0, bytes([1]))).hex()}", "-")]


EVENING = [
    f"clip {IDENTITY} 244",
    "second 87 3125 0 0",
    f"receive {encode(SetRate(1, 230)).hex()}",  # the nearest this sensor can do is 200
    f"receive {encode(SetRate(2, 401)).hex()}",  # out of range
    f"receive {encode(SetRate(3, 99)).hex()}",
    f"receive {encode(Start(4)).hex()}",
    "take 0 25 4294900000 5000",  # the tick wraps
    f"receive {encode(SetRate(5, 100)).hex()}",  # not while running
    f"receive {encode(Start(6)).hex()}",  # runs already: goes on
    "take 25 10 4295025000 5000",
    "link 0",
    "take 35 20 4295075000 5000",  # nobody hears it
    "link 1",
    "second 86 3130 0 0",
    "take 55 5 4295175000 5000",
    "missed 7",
    "take 67 10 4295235000 5000",
    "payload 20",
    "take 77 3 4295285000 5000",
    "payload 244",
    f"receive {encode(Identify(7, 5)).hex()}",
    f"receive {encode(Unknown(0x60, bytes([8, 1, 2]))).hex()}",
    f"receive {encode(Unknown(0x10, bytes([8]))).hex()}",  # not for clips
    f"receive {encode(Stop(9)).hex()[:-1]}0",  # damaged
    "take 80 4 4295300000 5000",
    "tick 305419896",
    f"receive {encode(Stop(10)).hex()}",  # the four go out first
    "take 84 10 4295320000 5000",
    "second 85 3130 1 0",
    f"receive {encode(Start(11)).hex()}",  # on the charger
    "second 85 3130 0 1",
    f"receive {encode(Start(12)).hex()}",  # sensor silent
    "dead 1",
    f"receive {encode(SetRate(13, 400)).hex()}",
    "dead 0",
    "second 255 -32768 0 0",
    f"receive {encode(SetRate(14, 400)).hex()}",
    f"line {'55' * 300}00{sent(Start(15))}",  # noise, then a frame over a serial line
    f"receive {encode(SetRate(18, 500)).hex()}",  # running and out of range
    "take 0 40 7 2500",
    "take 40 3 100007 2500",
    "second 84 3130 1 0",  # a charger while running: stops
    f"line {sent(Start(16), ends='0000')}",
    f"receive {encode(SetRate(19, 100)).hex()}",  # the charger does not mind
    f"receive {encode(Identify(20, 200)).hex()}",
    "second 84 3130 1 1",
    f"receive {encode(Start(21)).hex()}",  # on the charger and the sensor silent
    "second 84 3130 0 0",  # does not start by itself
    "take 0 10 0 10000",
]
ALONE = [f"clip {IDENTITY} 248", f"receive {encode(Start(1)).hex()}", "link 0", *["second 50 0 0 0"] * 299, "link 1"]
ALONE += ["second 50 0 0 0", "link 0", *["second 50 0 0 0"] * 300, "take 0 10 0 5000", "link 1", "second 50 0 0 0"]


@pytest.fixture(scope="module")
def asked() -> list[tuple[str, str]]:
    return said_by_vectors() + said_by_chance() + said_by_the_check()


@pytest.fixture(scope="module")
def c_answers(asked, tmp_path_factory) -> list[str]:
    return run([build_c(tmp_path_factory.mktemp("c99"))], [line for line, _ in asked] + EVENING + ALONE)


@pytest.fixture(scope="module")
def micropython_answers(asked) -> list[str]:
    return run_micropython([line for line, _ in asked] + EVENING + ALONE)


def compare(asked: list[tuple[str, str]], answers: list[str]) -> None:
    wrong = [
        f"{line}\n  said {answer}\n  not  {expected}"
        for (line, expected), answer in zip(asked, answers, strict=False)
        if answer != expected
    ]
    assert not wrong, f"{len(wrong)} wrong answers, the first:\n{wrong[0]}"
    assert len(answers) == len(asked) + len(EVENING) + len(ALONE)


def test_c_says_the_same_as_the_vectors_and_python(asked, c_answers):
    compare(asked, c_answers)


def test_micropython_says_the_same_as_the_vectors_and_python(asked, micropython_answers):
    compare(asked, micropython_answers)


def test_both_clips_behave_alike_through_an_evening(c_answers, micropython_answers):
    assert c_answers == micropython_answers


def heard(answers: list[str], script: list[str]) -> list[list]:
    """Per line of the script the frames that were said; a blink as text."""
    return [
        [word if word.startswith("blink") else decode(bytes.fromhex(word)) for word in answer.split() if word != "-"]
        for answer, _ in zip(answers, script, strict=True)
    ]


@pytest.fixture(scope="module")
def evening(c_answers) -> list[list]:
    return heard(c_answers[-len(EVENING) - len(ALONE) : -len(ALONE)], EVENING)


def samples_in(evening: list[list]) -> list[Samples]:
    return [frame for said in evening for frame in said if isinstance(frame, Samples)]


def imu(number: int) -> list[int]:
    """The stub boards' invented sensor."""
    state, counts = (number * 40503 + 12345) & 0xFFFF, []
    for _ in range(6):
        state = (state * 25173 + 13849) & 0xFFFF
        counts.append(state - 65536 if state >= 32768 else state)
    return counts


def test_a_clip_numbers_what_it_takes_so_that_what_is_lost_shows(evening):
    before = samples_in(evening[: EVENING.index("tick 305419896") + 2])
    assert [(frame.sequence, frame.n) for frame in before] == [
        (0, 10), (10, 10), (20, 10),  # 50 ms each
        (50, 10),  # 30 to 49 were not heard
        (67, 10),  # 60 to 66 were missed by the sensor
        (77, 1), (78, 1), (79, 1), (80, 4),
    ]  # fmt: skip


def test_an_evening_is_answered_as_the_notes_say(evening):
    replies = {frame.token: frame for said in evening for frame in said if isinstance(frame, Reply)}
    assert {token: (Result(reply.result).name, reply.value) for token, reply in replies.items()} == {
        1: ("DONE", 200), 2: ("VALUE_REFUSED", 200), 3: ("VALUE_REFUSED", 200), 4: ("DONE", 0), 5: ("NOT_NOW", 200),
        6: ("DONE", 0), 7: ("DONE", 0), 8: ("UNKNOWN_COMMAND", 0), 10: ("DONE", 0), 11: ("CHARGING", 0),
        12: ("SENSOR_FAULT", 0), 13: ("SENSOR_FAULT", 200), 14: ("DONE", 400), 15: ("DONE", 0), 16: ("CHARGING", 0),
        18: ("NOT_NOW", 400), 19: ("DONE", 100), 20: ("DONE", 0), 21: ("CHARGING", 0),
    }  # fmt: skip
    assert replies[10].tick_us == 305419896
    assert evening[EVENING.index(f"receive {encode(Identify(7, 5)).hex()}")][0] == "blink:5"


def test_after_set_rate_the_hello_tells_the_new_rate_and_its_filters_delay(evening):
    for command, rate, delay in ((SetRate(1, 230), 200, 25), (SetRate(14, 400), 400, 12), (SetRate(19, 100), 100, 50)):
        reply, hello = evening[EVENING.index(f"receive {encode(command).hex()}")]
        assert (reply.token, reply.value) == (command.token, rate)
        assert (hello.rate_hz, hello.delay_100us) == (rate, delay)
    refused = evening[EVENING.index(f"receive {encode(SetRate(13, 400)).hex()}") :]
    assert next(frame for said in refused for frame in said if isinstance(frame, Hello)).delay_100us == 25


def test_a_clip_that_stopped_by_itself_keeps_its_count_and_waits_for_a_start(evening):
    assert evening[-2][1] == Status(False, False, False, 84, 0, 31.3)
    assert evening[-1] == []
    stopped, started_anew = EVENING.index("second 85 3130 1 0"), EVENING.index("second 84 3130 1 0")
    assert evening[stopped][1].dropped == 27  # 20 without a link, 7 missed: kept after the stop
    assert evening[started_anew][2].dropped == 0


def test_every_sample_that_is_heard_is_the_sensors_own_at_its_own_time(evening):
    at = EVENING.index(f"line {'55' * 300}00{sent(Start(15))}")
    checked = 0
    for said, step in ((evening[:at], 5000), (evening[at:], 2500)):
        for frame in samples_in(said):
            start = 4294900000 if step == 5000 else 7
            if frame.sequence < 30 or step == 2500:
                assert frame.tick_us == (start + frame.sequence * step) % TICK_SPAN_US
            assert frame.counts.tolist() == [imu(frame.sequence + i) for i in range(frame.n)]
            checked += frame.n
    assert checked == 30 + 10 + 10 + 3 + 4 + 43


def test_a_clip_stops_on_the_charger_and_sends_what_waits(evening):
    at = EVENING.index("second 84 3130 1 0")
    kinds = [type(frame).__name__ for frame in evening[at]]
    assert kinds == ["Samples", "Hello", "Status"]
    assert evening[at][2] == Status(False, True, False, 84, 0, 31.3)
    assert [frame.n for frame in evening[at - 2]] == [19, 19]  # 50 ms would be 20; 19 fit into 244 bytes


def test_a_clip_that_nobody_hears_stops_after_five_minutes(c_answers):
    said = heard(c_answers[-len(ALONE) :], ALONE)
    status = [frame for frames in said for frame in frames if isinstance(frame, Status)]
    assert [s.running for s in status] == [True, False]  # after 299 s, after another 300 s
    assert samples_in(said) == []


def test_the_frames_of_both_clips_are_read_from_a_serial_line(c_answers, evening):
    frames = [frame for said in evening for frame in said if not isinstance(frame, str)]
    reader = StreamReader()
    assert reader.feed(b"".join(map(delimited, frames))) == frames
    assert (reader.damaged, reader.unknown) == (0, 0)


def test_the_clip_in_c_allocates_nothing():
    for path in (NOTES / "c99").glob("footroom_*.[ch]"):
        assert not re.search(r"\b(malloc|calloc|realloc|free|alloca)\b", path.read_text(encoding="utf-8")), path.name
