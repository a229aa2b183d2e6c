"""What happened during a recording, a line each: phases, remarks, clips that came and went. Safe once written.

A line is a JSON object with its number `n` and, last, `crc32` over the text before it; a reader takes the lines that
prove themselves and counts the others. The first line says what the recording is of.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .append_file import AppendFile

FILE_NAME = "journal.jsonl"


@dataclass(frozen=True)
class Entry:
    """One line. kind : `about`, `begin`, `end`, `drop`, `gone`, ... at_s : host time (`time.monotonic`) [s]."""

    kind: str
    at_s: float
    what: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class ReadJournal:
    """The lines that are as they were written, in order; `lost` counts damaged and missing ones."""

    entries: list[Entry]
    lost: int = 0

    def of(self, kind: str) -> list[Entry]:
        """The lines of one kind."""
        return [entry for entry in self.entries if entry.kind == kind]


class Journal:
    """A journal being written in a folder. Lines wait in memory until `save` has put them on the disk.

    Raises OSError when the file cannot be made.
    """

    def __init__(self, folder: Path) -> None:
        self._file = AppendFile(folder / FILE_NAME)
        self._number = 0
        self._waiting: list[bytes] = []

    def add(self, entry: Entry) -> None:
        """Note a line; `save` makes it safe."""
        self._waiting.append(line_of(self._number, entry))
        self._number += 1

    def save(self) -> None:
        """Write what waits. Raises OSError; the lines then go on waiting."""
        if self._waiting:
            self._file.append(b"".join(self._waiting))
            self._waiting.clear()

    def close(self) -> None:
        """Write what waits and let go of the file. Raises OSError as `save`; the file is closed even so."""
        try:
            self.save()
        finally:
            self._file.close()


def line_of(number: int, entry: Entry) -> bytes:
    """One line with its number and check sum."""
    line = {"n": number, "kind": entry.kind, "at_s": round(entry.at_s, 6), "what": entry.what}
    text = json.dumps(line, ensure_ascii=False, allow_nan=False, default=str)[:-1]
    return f'{text}, "crc32": "{zlib.crc32(text.encode()):08x}"}}\n'.encode()


def read_journal(folder: Path) -> ReadJournal:
    """The journal of a recording; without lines where there is none. Raises OSError when it cannot be read."""
    path = folder / FILE_NAME
    return parse_journal(path.read_bytes().split(b"\n")) if path.is_file() else ReadJournal([])


def parse_journal(lines: Sequence[bytes]) -> ReadJournal:
    """As `read_journal`, of the lines of a file. An unfinished last line was never told to be safe: it is not lost."""
    entries: dict[int, Entry] = {}
    for line in lines:
        text, separator, rest = line.rpartition(b', "crc32": "')
        if not separator or rest != f'{zlib.crc32(text):08x}"}}'.encode():
            continue
        read = json.loads(text + b"}")
        entries.setdefault(read["n"], Entry(read["kind"], read["at_s"], read["what"]))
    missing = max(entries, default=-1) + 1 - len(entries)
    damaged_last = sum(bool(line) for line in lines[:-1]) - len(entries) - missing
    return ReadJournal([entries[n] for n in sorted(entries)], missing + max(0, damaged_last))
