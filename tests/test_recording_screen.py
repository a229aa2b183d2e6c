"""Keys over a real pseudo-terminal, and what the screen shows at 80 by 24."""

import io
import os
import subprocess
import sys

import pytest
from footroom.logger.recorder.guide import Guide
from footroom.logger.recorder.keys import Keys
from footroom.logger.recorder.plan import Wish, make_plan
from footroom.logger.recorder.screen import PlainScreen, clip_cells, drawn, large
from footroom.logger.recorder.view import View, view_of
from footroom.logger.recorder.watch import ClipState
from rich.console import Console

PLACES = [f"{side}_{segment}" for side in ("right", "left") for segment in ("foot", "shank", "thigh")]
CLIPS = [
    ClipState("02", "right_foot", True, True, 200.0, 200.2, 0.0, 88, 0.02),
    ClipState("03", "right_shank", True, True, 200.0, 160.4, 0.0123, 12, 0.02),
    ClipState("04", "right_thigh", True, True, 200.0, None, 0.5, None, 42.0),
    ClipState("05", "left_foot", False, None, 200.0, None, 0.5, 70, 150.0),
    ClipState("06", "left_shank"),
    ClipState("07", "left_thigh", True),
    ClipState("08", "pelvis", True, True, 200.0, 200.0, None, 50, 0.0),
    ClipState("09", "right_foot", True, True, 200.0, 200.0, 0.00001, 50, 0.0),
]


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")
def test_keys_come_one_by_one_from_a_terminal_which_is_afterwards_as_it_was():
    import pty
    import termios

    script = (
        "import sys, time\nfrom footroom.logger.recorder.keys import reading\n"
        "with reading() as keys:\n"
        "    print('ready', flush=True)\n    got = []\n"
        "    while 'q' not in got:\n        got += keys.take(); time.sleep(0.01)\n"
        "print(repr(got), flush=True)\n"
    )
    master, slave = pty.openpty()
    before = termios.tcgetattr(slave)
    process = subprocess.Popen([sys.executable, "-c", script], stdin=slave, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None and process.stdout.readline() == "ready\n"
        assert not termios.tcgetattr(slave)[3] & termios.ICANON  # no Enter is needed
        for data in (b"s", b"\x1b[A\n", b"\x1bOP\x1b[15~", b"r\x1bq"):  # arrows, F1, F5 and Esc are no keys of ours
            os.write(master, data)
        assert process.stdout.readline() == "['s', '\\n', 'r', 'q']\n"
        assert process.wait(10) == 0
        assert termios.tcgetattr(slave) == before
    finally:
        process.kill()
        process.wait()
        process.stdout.close()  # type: ignore[union-attr]
        os.close(master)
        os.close(slave)


UNTIL_ENDED = (
    "import time\nfrom footroom.logger.recorder.keys import reading\n"
    "with reading() as keys:\n"
    "    print('ready', flush=True)\n    while not keys.ended:\n        time.sleep(0.01)\n    print(keys.take())\n"
)


def test_keys_from_a_pipe_and_none_at_all():
    for given, seen in (("\nq", "['\\n', 'q']"), ("", "[]")):
        done = subprocess.run(
            [sys.executable, "-c", UNTIL_ENDED], input=given, capture_output=True, text=True, check=True
        )
        assert done.stdout == f"ready\n{seen}\n"
    keys = Keys()
    keys.put("s")
    assert keys.take() == ["s"] and keys.take() == []


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are absent on Windows")
def test_a_terminal_that_goes_away_ends_the_keys():
    master, slave = os.openpty()
    process = subprocess.Popen([sys.executable, "-c", UNTIL_ENDED], stdin=slave, stdout=subprocess.PIPE, text=True)
    os.close(slave)
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    os.close(master)
    assert process.communicate(timeout=60)[0] == "[]\n"


def shown(view, clips, width=80):
    console = Console(file=io.StringIO(), width=width, force_terminal=False)
    console.print(drawn(view, clips, width))
    return console.file.getvalue().splitlines()


@pytest.mark.parametrize("worn", [PLACES, PLACES[:2]])
def test_every_moment_of_a_recording_fits_80_by_24_with_eight_clips(worn):
    guide = Guide(make_plan(Wish(["near", "far"], worn, 1.0)))
    now_s, seen = 0.0, set()
    guide.tick(now_s)
    while guide.stage != "done":
        for _ in range(3):
            view = view_of(guide, now_s)
            moment = (guide.stage, len(view.lines), sum(map(len, view.lines)) // 60, guide.step.phase == "playing")
            if moment not in seen:  # drawing is slow, and most steps look alike
                seen.add(moment)
                lines = shown(view, CLIPS)
                assert len(lines) <= 24 and max(map(len, lines)) <= 80, view.title
            now_s += 1.7
            guide.tick(now_s)
        playing = guide.stage == "go" and guide.step.phase == "playing"
        guide.key("p" if playing else "\n", now_s)
    assert len(seen) > 12 and {"pain", "wait", "count", "go"} <= {stage for stage, *_ in seen}


def test_a_line_per_clip_says_what_is_wrong_in_words():
    cells = {state.clip: clip_cells(state) for state in CLIPS}
    assert cells["02"] == ("right foot", "200 Hz", "none", "88 %", "now")
    assert cells["03"] == ("right shank", "160 Hz", "1.23%", "12 % low", "now")
    assert cells["04"][1:] == ("-", "50.00%", "?", "silent for 42 s")
    assert (
        cells["05"][-1] == "lost 2 min ago, others go on"
        and cells["06"][-1] == "not heard"
        and cells["07"][-1] == "silent"
    )
    assert cells["09"][2] == "0.01%"  # never rounded to none


def test_large_digits_are_three_lines_of_equal_length():
    lines = large("10:23").split("\n")
    assert len(lines) == 3 and len({len(line) for line in lines}) == 1 and "█" in lines[0]
    assert large("") == "\n\n"
    console = Console(file=io.StringIO(), width=80)
    console.print(drawn(View("step 1", "Play", count="1:20"), [], 80, blocks=False))
    assert console.file.getvalue().isascii() and "1:20" in console.file.getvalue()


def test_plain_lines_say_only_what_changes():
    stream = io.StringIO()
    screen = PlainScreen(stream)
    view = View("step 1 of 9", "Sit still", ("Sit tall.",), "3", "do not move")
    screen.show(view, CLIPS[:1])
    screen.show(View(**{**view.__dict__, "count": "2"}), CLIPS[:1])
    screen.show(View(**{**view.__dict__, "note": "That was not quite still."}), CLIPS[:1])
    screen.bell()
    screen.close()
    assert stream.getvalue().splitlines() == [
        "[step 1 of 9] Sit still", "Sit tall.", "  right foot, 200 Hz, none, 88 %, now", "That was not quite still.",
    ]  # fmt: skip
    screen.show(view, [ClipState("02", "right_foot", False, None, 200.0, None, 0.0, 88, 3.0)])
    assert stream.getvalue().splitlines()[-1] == "  right foot, -, none, 88 %, lost 3 s ago, others go on"
