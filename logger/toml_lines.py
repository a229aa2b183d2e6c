"""Which line of a TOML file holds a table or key: tomllib reads values but forgets where they stood.

A small scan of the text, good for files that people write: tables, arrays of tables, dotted and quoted keys,
multi-line strings and arrays. Where it cannot tell it says None, and the message goes without a line.
"""

from __future__ import annotations

import re

Place = tuple[str | int, ...]

_PART = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"^\s*(\[\[?)\s*({_DOTTED})\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(rf"^\s*({_DOTTED})\s*=(.*)$")


class TomlLines:
    """Looks up lines by place: ("clip", 1, "side"), ("range", "right", "ankle_dorsiflexion_deg"), ("units",)."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Place, int] = {}
        self._scan(text)

    def line(self, *place: str | int) -> int | None:
        """The line (from 1) of the key or table, else of the nearest table around it, else None."""
        for end in range(len(place), 0, -1):
            found = self._lines.get(place[:end])
            if found is not None:
                return found
        return None

    def _scan(self, text: str) -> None:
        table: Place = ()
        counts: dict[Place, int] = {}
        closing = ""  # what ends the multi-line string we are in
        depth = 0  # open brackets of a multi-line array
        for number, line in enumerate(text.splitlines(), start=1):
            if closing:
                if closing in line:
                    closing = ""
                continue
            if depth > 0:
                depth += _bracket_balance(line)
                continue
            if header := _HEADER.match(line):
                table = self._table(_parts(header[2]), header[1] == "[[", counts)
                self._lines.setdefault(table, number)
            elif key := _KEY.match(line):
                place = (*table, *_parts(key[1]))
                for end in range(len(table) + 1, len(place) + 1):
                    self._lines.setdefault(place[:end], number)
                closing = _unclosed(key[2])
                depth = 0 if closing else max(0, _bracket_balance(key[2]))

    @staticmethod
    def _table(names: list[str], is_array: bool, counts: dict[Place, int]) -> Place:
        place: Place = ()
        for index, name in enumerate(names):
            place = (*place, name)
            last = index == len(names) - 1
            if last and is_array:
                counts[place] = counts.get(place, -1) + 1
            if place in counts:
                place = (*place, counts[place])
        return place


def _parts(dotted: str) -> list[str]:
    return [part.strip("\"'") for part in re.findall(_PART, dotted)]


def _unclosed(value: str) -> str:
    for quotes in ('"""', "'''"):
        if value.count(quotes) == 1:
            return quotes
    return ""


def _bracket_balance(line: str) -> int:
    bare = re.sub(r"""("[^"]*"|'[^']*')""", "", line).split("#")[0]
    return bare.count("[") - bare.count("]")


_TOML_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")


def syntax_error(error: Exception) -> tuple[str, int | None]:
    """The reason and the line of a `tomllib.TOMLDecodeError`."""
    text = str(error)
    found = _TOML_PLACE.search(text)
    if found is None:
        return text, None
    reason = text[: found.start()]
    return (reason, int(found[1])) if found[1] else (f"{reason} at the end of the file", None)
