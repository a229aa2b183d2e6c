"""What reading clips costs: frames over a serial line and lines of text, without the port itself.

The largest load that Footroom is made for: 8 clips at 400 samples a second.
"""

from __future__ import annotations

import time

import numpy as np
from footroom.logger.wire import Samples, StreamReader, TextReader, decode, delimited, encode

SAMPLES_A_SECOND = 8 * 400
FRAMES = 20_000


def share(seconds: float, samples: int) -> str:
    return f"{seconds / samples * 1e6:6.2f} us a sample, {seconds / samples * SAMPLES_A_SECOND:7.2%} of a core"


def main() -> None:
    rng = np.random.default_rng(1)
    for n in (1, 10, 19, 20):
        frames = [
            Samples(i % 32768, i * 2500, rng.integers(-32768, 32768, (n, 6)).astype(np.int16)) for i in range(200)
        ]
        notifications = [encode(frame) for frame in frames] * (FRAMES // 200)
        packets = [delimited(frame) for frame in frames] * (FRAMES // 200)
        start = time.process_time()
        for data in notifications:
            decode(data)
        bare = time.process_time() - start
        reader, heard = StreamReader(), 0
        start = time.process_time()
        for data in packets:
            heard += len(reader.feed(data))
        serial = time.process_time() - start
        assert (heard, reader.damaged) == (FRAMES, 0)
        print(f"{n:2} samples a frame: notifications {share(bare, FRAMES * n)};  serial {share(serial, FRAMES * n)}")
    text = TextReader()
    text.feed(b"# clip=a rate=400 acc=g gyr=deg/s acc_range=16 gyr_range=2000\n")
    lines = [b"%d,0.0123,-0.9812,0.1043,12.25,-0.41,103.5" % (i * 2500) + b"\n" for i in range(FRAMES)]
    start = time.process_time()
    for i in range(0, FRAMES, 20):
        text.feed(b"".join(lines[i : i + 20]))
    assert text.damaged == 0
    print(f"lines of text, 20 at a time: {share(time.process_time() - start, FRAMES)}")


if __name__ == "__main__":
    main()
