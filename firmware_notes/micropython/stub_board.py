"""A board without a board: an invented sensor, and a script instead of time and link. See ../README.md.

`run(lines)` gives one line of answer for each line of the script, the same as ../c99/stub_board.c: the frames, in
hexadecimal, that it led to; `-` for none.
"""

import footroom_clip
import footroom_wire as wire

RATES = (100, 200, 400)  # what the invented sensor can do [Hz]


def unhex(text):
    """Bytes from hexadecimal digits; `-` is empty."""
    return b"" if text == "-" else bytes(int(text[i : i + 2], 16) for i in range(0, len(text), 2))


def to_hex(data):
    """Hexadecimal digits of bytes; `-` if empty."""
    return "".join(f"{byte:02x}" for byte in data) or "-"


class StubBoard:
    """What the clip asks of a board."""

    def __init__(self):
        self.said = []
        self.linked = True
        self.tick = 0
        self.dead = False

    def send(self, frame):
        if self.linked:
            self.said.append(to_hex(frame))
        return self.linked

    def set_rate(self, wanted):
        if self.dead:
            return 0, 0
        nearest = RATES[0]
        for rate in RATES:
            if abs(rate - wanted) < abs(nearest - wanted):
                nearest = rate
        return nearest, 5000 // nearest  # half a sample

    def blink(self, seconds):
        self.said.append(f"blink:{seconds}")

    def tick_us(self):
        return self.tick


def imu(number):
    """Sample `number` of the invented sensor: six counts, different each time, extremes among them."""
    state = (number * 40503 + 12345) & 0xFFFF
    counts = []
    for _ in range(6):
        state = (state * 25173 + 13849) & 0xFFFF
        counts.append(state - 65536 if state >= 32768 else state)
    return counts


class Script:
    """One line after the other."""

    def __init__(self):
        self.board = StubBoard()
        self.clip = None
        self.line = wire.Line()

    def do(self, text):
        """The answer to one line."""
        words = text.split()
        name, rest = words[0], words[1:]
        if name == "crc":
            return f"{wire.crc16(unhex(rest[0])):04x}"
        if name == "cobs":
            return to_hex(wire.cobs_encode(unhex(rest[0])))
        if name == "uncobs":
            return to_hex(wire.cobs_decode(unhex(rest[0])))
        if name == "command":
            found = wire.command(unhex(rest[0]))
            return found if isinstance(found, str) else " ".join(str(number) for number in found)
        if name == "hello":
            n = [int(word) for word in rest[1:]]
            return to_hex(wire.hello(unhex(rest[0]), n[:2], *n[2:]))
        if name == "clip":  # identity, payload
            self.board = StubBoard()
            self.clip = footroom_clip.Clip(self.board, [unhex(rest[0]), (1, 2), 200, 16000, 20000, 25], int(rest[1]))
            return "-"
        n = [int(word) for word in rest] if name != "receive" and name != "line" else []
        if name == "status":
            return to_hex(wire.status(*n))
        if name == "reply":
            return to_hex(wire.reply(*n))
        if name == "samples":
            return to_hex(wire.samples(n[0], n[1], n[2:]))
        return self.drive(name, n, rest)

    def drive(self, name, n, rest):
        """A line that happens to the clip."""
        self.board.said = []
        if name == "tick":
            self.board.tick = n[0]
        elif name == "link":
            self.board.linked = n[0] == 1
        elif name == "payload":
            self.clip.payload = n[0]
        elif name == "dead":
            self.board.dead = n[0] == 1
        elif name == "take":  # first sample, how many, first tick, step
            for i in range(n[1]):
                self.clip.sample((n[2] + i * n[3]) & 0xFFFFFFFF, imu(n[0] + i))
        elif name == "missed":
            self.clip.missed(n[0])
        elif name == "second":
            self.clip.second(n[0], n[1], n[2] == 1, n[3] == 1)
        elif name == "receive":
            self.clip.receive(unhex(rest[0]))
        elif name == "line":  # bytes of a serial line
            for byte in unhex(rest[0]):
                frame = self.line.byte(byte)
                if frame:
                    self.clip.receive(frame)
        else:
            return "unknown line"
        return " ".join(self.board.said) or "-"


def run(lines):
    """The answers to the lines of a script."""
    script = Script()
    return [script.do(line) for line in lines]
