"""What the firmware notes show in bytes, numbers and names is what the logger understands."""

import re
import textwrap
from types import SimpleNamespace

import pytest
from footroom.logger.wire import (
    Hello,
    Reply,
    Result,
    Samples,
    Start,
    Status,
    StreamReader,
    TextReader,
    decode,
    encode,
    gatt,
    samples_that_fit,
)
from footroom.logger.wire.codec import LARGEST_FRAME, kind_of
from footroom.logger.wire.frames import Identify, SetRate, Stop
from reference_data import REPOSITORY
from wire_vectors import VECTORS, frame_of

NOTES = REPOSITORY / "firmware_notes"


def page(name: str) -> str:
    return (NOTES / name).read_text(encoding="utf-8")


def examples() -> list[bytes]:
    """The byte rows at the end of the page on the wire format."""
    text = page("wire_format.md").split("## Examples")[1]
    rows = re.findall(r"(?:^|\s{2})((?:[0-9a-f]{2} {1,2})+[0-9a-f]{2})$", text, flags=re.MULTILINE)
    return [bytes.fromhex(row) for row in rows]


def test_the_examples_mean_what_stands_above_them():
    *frames, line = examples()
    hello, status, samples, start, reply = (decode(frame) for frame in frames)
    assert hello == Hello("a1b2c3d4e5f6", (1, 2), 200, 16000, 20000, 25)
    assert status == Status(True, False, False, 87, 3, 31.25)
    assert isinstance(samples, Samples)
    assert (samples.sequence, samples.tick_us, samples.counts.tolist()) == (0, 1000000, [[12, -2009, 213, 20, -7, 0]])
    assert start == Start(2)
    assert reply == Reply(kind_of(Start), 2, Result.DONE, 0, 123456)
    assert StreamReader().feed(line) == [start]


def test_the_table_of_kinds_gives_their_bytes_and_sizes():
    table = dict(
        re.findall(r"^\| 0x(\w\w) \| \[[\w ]+\]\(#\w+\) \| \w+ \| (\d+) \|$", page("wire_format.md"), re.MULTILINE)
    )
    frames = [frame_of(v["frame"]) for v in VECTORS["frames"] if v["frame"]["kind"] != "samples"]
    sizes = {f"{encode(frame)[0]:02X}": str(len(encode(frame))) for frame in frames}
    assert table == sizes
    assert len(table) == 7
    assert {f"{kind_of(c):02X}" for c in (Identify, Start, Stop, SetRate)} <= table.keys()


@pytest.mark.parametrize("payload", [20, 182, 244])
def test_the_samples_that_fit_a_packet_are_those_of_the_page(payload):
    assert re.search(rf"\b{samples_that_fit(payload)} in {payload}\b", page("wire_format.md"))
    assert f"3 to {LARGEST_FRAME} bytes" in page("wire_format.md")


def test_every_result_has_its_number_on_the_page():
    row = next(line for line in page("wire_format.md").splitlines() if "result: 0 done" in line)
    assert re.findall(r"\b(\d) [a-z]", row.split("result:")[1]) == [str(int(result)) for result in Result]


def test_the_uuids_and_the_name_are_those_that_the_logger_looks_for():
    text = page("bluetooth.md")
    for uuid in (gatt.SERVICE_UUID, gatt.FRAMES_UUID, gatt.COMMANDS_UUID):
        assert uuid in text
    backwards = bytes.fromhex(gatt.SERVICE_UUID.replace("-", ""))[::-1].hex(" ")
    assert backwards in text.replace("\n", " ")
    for short in (gatt.BATTERY_SERVICE_UUID, gatt.BATTERY_LEVEL_UUID, gatt.DEVICE_INFORMATION_UUID):
        assert f"0x{short[4:8].upper()}" in text
    name = re.search(r"`(Footroom \w+)`", text)
    assert name is not None
    assert gatt.identity_in(name.group(1)) == "a1b2c3d4e5f6"


@pytest.mark.parametrize(
    "name", [None, "", "Footroom ", "Footroom a1b2c3d4e5", "Footroom a1b2c3d4e5xx", "a1b2c3d4e5f6"]
)
def test_another_name_has_no_identity(name):
    assert gatt.identity_in(name) is None


def test_the_lines_of_text_on_the_page_are_read():
    shown = re.search(r"(?:^    .*\n){4}", page("serial.md").split("## Lines of text")[1], flags=re.MULTILINE)
    assert shown is not None
    reader = TextReader()
    header, samples = reader.feed(re.sub(r"^    ", "", shown.group(), flags=re.MULTILINE).encode())
    assert (header.clip, header.acc_range, header.gyr_range) == ("left-foot", 16, 2000)
    assert samples.ticks_us.tolist() == [1000250, 1005250]
    assert reader.damaged == 0


def test_the_counter_on_the_page_goes_on_where_the_boards_own_wraps():
    """ticks_us and ticks_diff as MicroPython's documentation has them, with a period of 2^30."""
    period = 1 << 30
    board = SimpleNamespace(now=period - 1000)
    clock = SimpleNamespace(
        ticks_us=lambda: board.now % period,
        ticks_diff=lambda a, b: ((a - b + period // 2) % period) - period // 2,
    )
    shown = re.search(r"^ {6}last, total = .*?return total$", page("clock_and_sampling.md"), re.MULTILINE | re.DOTALL)
    assert shown is not None
    names: dict = {"time": clock}
    exec(textwrap.dedent(shown.group()), names)
    tick_us = names["tick_us"]
    begin = board.now
    for _ in range(75):  # 75 minutes, longer than 2^32 us
        board.now += 60_000_000
        assert tick_us() == (board.now - begin) % (1 << 32)
        kept = clock.ticks_us()
        board.now += 5000
        assert tick_us() == (board.now - begin) % (1 << 32)
        assert tick_us(kept) == (board.now - 5000 - begin) % (1 << 32)  # an interrupt's, handed over late


def test_the_cobs_examples_on_the_page_are_among_the_vectors():
    shown = re.findall(r"`([0-9a-f ]+)` becomes `([0-9a-f ]+)`", page("serial.md"))
    known = {(v["data"], v["packet"]) for v in VECTORS["cobs"]}
    assert len(shown) == 3
    assert {(a.replace(" ", ""), b.replace(" ", "")) for a, b in shown} <= known


@pytest.mark.parametrize(
    "words",
    [
        "not a medical device", "no diagnosis", "no injury prediction", "protected",
        "never charge a clip while it is worn",
        "nothing that is connected to the mains", "clear of the feet", "healthy skin only", "stop on pain",
    ],
)  # fmt: skip
def test_the_cautions_stand_at_the_beginning(words):
    beginning = re.sub(r"[*\s]+", " ", page("README.md").split("## What a clip must do")[0]).lower()
    assert words in beginning
