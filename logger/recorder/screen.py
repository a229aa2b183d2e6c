"""The recording on the screen: the instruction large, then a line per clip. 80 by 24 characters are enough.

Everything goes to stderr. Where that is no terminal, plain lines say what changes and nothing is drawn.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol, TextIO

from ..models import place_words
from .checks import LOW_BATTERY_PERCENT
from .view import View
from .watch import ClipState

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live
    from rich.table import Table

DRAWN_EVERY_S = 0.2
LINES_EVERY_S = 30.0
"""Without a terminal, the clips' lines come this often [s]."""
_DIGITS = {
    "0": "█▀█ █ █ ▀▀▀", "1": "▀█   █  ▀▀▀", "2": "▀▀█ █▀▀ ▀▀▀", "3": "▀▀█ ▀▀█ ▀▀▀", "4": "█ █ ▀▀█   ▀",
    "5": "█▀▀ ▀▀█ ▀▀▀", "6": "█▀▀ █▀█ ▀▀▀", "7": "▀▀█   █   ▀", "8": "█▀█ █▀█ ▀▀▀", "9": "█▀█ ▀▀█ ▀▀▀",
    ":": " ▄   ▄     ",
}  # fmt: skip


class Screen(Protocol):
    """Where a recording is shown."""

    def show(self, view: View, clips: Sequence[ClipState]) -> None:
        """Show this, if it is time to."""
        ...

    def bell(self) -> None:
        """A sound, where there is one: something begins or ends."""
        ...

    def close(self) -> None:
        """Nothing more to show."""
        ...


def clip_cells(state: ClipState) -> tuple[str, str, str, str, str]:
    """Place, rate, loss, battery, last heard: as they stand in a line."""
    if not state.connected:
        last = "not heard" if state.silent_s is None else f"lost {_ago(state.silent_s)} ago, others go on"
    elif state.silent:
        last = "silent" if state.silent_s is None else f"silent for {_ago(state.silent_s)}"
    else:
        last = "now"
    rate = "-" if state.heard_hz is None or last != "now" else f"{state.heard_hz:.0f} Hz"
    lost = "-" if state.lost is None else "none" if state.lost == 0 else f"{max(state.lost, 0.0001):.2%}"
    low = state.battery_percent is not None and state.battery_percent < LOW_BATTERY_PERCENT
    battery = "?" if state.battery_percent is None else f"{state.battery_percent} %{' low' if low else ''}"
    return place_words(state.place), rate, lost, battery, last


def _ago(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


def large(text: str) -> str:
    """Digits and colons three lines high; other characters are left out."""
    glyphs = [_DIGITS[char] for char in text if char in _DIGITS]
    return "\n".join(" ".join(glyph[row * 4 : row * 4 + 3].ljust(3) for glyph in glyphs) for row in range(3))


class PlainScreen:
    """One line when something changes, on a stream."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._shown: tuple[str, ...] = ()
        self._clips_s = time.monotonic()
        self._well: dict[str, bool] = {}

    def show(self, view: View, clips: Sequence[ClipState]) -> None:
        """Say what changed; the clips' lines now and then, and at once of one that is lost or back."""
        lines = (f"[{view.where.partition(',')[0]}] {view.title}", *view.lines, view.note)
        for line in lines:
            if line and line not in self._shown:
                print(line, file=self._stream, flush=True)
        self._shown = lines
        now = time.monotonic()
        every = bool(clips) and now - self._clips_s >= LINES_EVERY_S
        self._clips_s = now if every else self._clips_s
        for state in clips:
            well = state.connected and not state.silent
            if every or self._well.get(state.clip, False) != well:
                print("  " + ", ".join(clip_cells(state)), file=self._stream, flush=True)
            self._well[state.clip] = well

    def bell(self) -> None:
        """Nothing: no terminal, no bell."""

    def close(self) -> None:
        """Nothing to put away."""


class LiveScreen:
    """Drawn in place, a few times a second."""

    def __init__(self, console: Console) -> None:
        from rich.live import Live

        self._console = console
        self._live: Live = Live(console=console, auto_refresh=False, screen=True, vertical_overflow="crop")
        self._blocks = console.encoding.lower().startswith("utf")
        self._live.start()
        self._drawn_s = float("-inf")

    def show(self, view: View, clips: Sequence[ClipState]) -> None:
        """Draw, unless that was done a moment ago."""
        now = time.monotonic()
        if now - self._drawn_s < DRAWN_EVERY_S:
            return
        self._drawn_s = now
        self._live.update(drawn(view, clips, self._console.width, self._blocks), refresh=True)

    def bell(self) -> None:
        """The terminal's own."""
        self._console.bell()

    def close(self) -> None:
        """The terminal as it was before."""
        self._live.stop()


def open_screen(stream: TextIO) -> Screen:
    """A drawn screen on a terminal, plain lines elsewhere."""
    if not stream.isatty():
        return PlainScreen(stream)
    from rich.console import Console

    return LiveScreen(Console(file=stream, highlight=False))


def drawn(view: View, clips: Sequence[ClipState], width: int, blocks: bool = True) -> RenderableType:
    """The whole screen. blocks : the terminal has characters for large digits."""
    from rich.console import Group
    from rich.rule import Rule
    from rich.table import Table
    from rich.text import Text

    wide = max(40, width)
    top = Table.grid(expand=True, padding=(0, 1))
    top.add_column(ratio=1)
    top.add_column(justify="right", no_wrap=True)
    said = Text("\n".join(view.lines))
    cue = Text(view.cue.upper(), style="bold reverse") if view.cue else Text("")
    count = large(view.count) if blocks else view.count
    moment = Text.assemble(cue, Text(f"  {view.counted}" if view.counted else ""))
    top.add_row(
        Group(Text(view.title, style="bold"), said, Text(""), moment),
        Text(count, style="bold"),
    )
    parts: list[RenderableType] = [Rule(f" {view.where} ", characters="-"), top, Text("")]
    if clips:
        parts.append(_table(clips))
    if view.note:
        parts.append(Text(view.note, style="italic"))
    parts.append(Text(view.keys[: 2 * wide], style="dim"))
    return Group(*parts)


def _table(clips: Sequence[ClipState]) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table("clip", "rate", "lost", "battery", "last heard", box=None, padding=(0, 2), pad_edge=False)
    for state in clips:
        cells = clip_cells(state)
        style = "" if cells[-1] == "now" and "low" not in cells[3] else "bold"
        table.add_row(*(Text(cell, style=style) for cell in cells))
    return table
