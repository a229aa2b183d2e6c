"""The settings a logbook holds in its `logbook.toml`: name, unit and bounds in one list.

Analysis owns the defaults; here they are only shown, commented out, in a new file. Unknown settings are warned of
and kept (a later Footroom may know them); values that cannot be used are refused with the line.
"""

from __future__ import annotations

import contextlib
import functools
import logging
import math
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .errors import InputError, LogbookError, LogbookFromFuture
from .models import MOTIONS, SCHEMA_VERSION
from .toml_lines import TomlLines, syntax_error

FILE_NAME = "logbook.toml"
ZONE_MOTIONS: tuple[str, ...] = (*MOTIONS, "hip_spread")

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Setting:
    """A number in [analysis]: what it means, its unit and the values that make sense."""

    name: str
    help: str
    unit: str
    low: float
    high: float
    default: float


SETTINGS: tuple[Setting, ...] = (Setting("block_s", "length of the blocks that are compared", "s", 10, 600, 60),)
ZONE = Setting("zone_deg", "room below this counts as near the end", "deg", 0.5, 45, 5)


def _default_zone(motion: str) -> int:
    return 5 if motion.startswith("ankle") or motion == "hip_flexion" else 10


def new_settings_text() -> str:
    """The `logbook.toml` of a new logbook: the schema version, and every setting commented out."""
    lines = [
        "# A Footroom logbook. This folder is all of it: copy it, move it, keep it safe.",
        f"schema_version = {SCHEMA_VERSION}",
        "",
        "# Settings of the analysis. To change one, remove its # and run `footroom analyze` again.",
        "[analysis]",
        *(f"# {s.name} = {s.default:g}    # {s.help} [{s.unit}]" for s in SETTINGS),
        "",
        f"[analysis.zone_deg]    # {ZONE.help} [{ZONE.unit}]",
        *(f"# {motion} = {_default_zone(motion)}" for motion in ZONE_MOTIONS),
        "",
    ]
    return "\n".join(lines)


def read_settings(path: Path) -> dict[str, Any]:
    """The parsed and checked `logbook.toml`; `["analysis"]` is always a table.

    Raises LogbookFromFuture for a newer schema, LogbookError when the version is missing, InputError (with the line)
    for text that is no TOML and for values that cannot be used.
    """
    text, data = _parsed(path)
    lines = TomlLines(text)
    analysis = data.setdefault("analysis", {})
    if not isinstance(analysis, dict):
        raise InputError("`analysis` must be a table: write [analysis].", path=path, line=lines.line("analysis"))
    for key in data:
        if key not in ("schema_version", "analysis"):
            _unknown(path, lines.line(key), key)
    known = {setting.name: setting for setting in SETTINGS}
    for key, value in analysis.items():
        if key in known:
            analysis[key] = _number(value, known[key], f"analysis.{key}", path, lines.line("analysis", key))
        elif key == "zone_deg":
            _check_zones(value, path, lines)
        else:
            _unknown(path, lines.line("analysis", key), f"analysis.{key}")
    return data


def read_version(path: Path) -> int:
    """The schema version of a logbook. Raises as `read_settings` does, but for the values of settings."""
    return _parsed(path)[1]["schema_version"]


def _parsed(path: Path) -> tuple[str, dict[str, Any]]:
    try:
        text = path.read_bytes().decode("utf-8-sig")
        data = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise InputError("not UTF-8 text; save the file as UTF-8.", path=path) from error
    except (ValueError, RecursionError) as error:
        reason, line = syntax_error(error)
        raise InputError(f"not valid TOML ({reason}); correct or remove this line.", path=path, line=line) from error
    check_version(data.get("schema_version"), f"{path}")
    return text, data


def check_version(version: object, what: str) -> None:
    """Refuse a schema version that is missing, no number, or newer than ours. `what` begins the sentence."""
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise LogbookError(f"{what} states no usable schema_version; restore the line `schema_version = 1`.")
    if version > SCHEMA_VERSION:
        raise LogbookFromFuture(
            f"{what} was written by a newer Footroom (schema {version}, this one reads up to {SCHEMA_VERSION}); "
            "update with `pip install --upgrade footroom`."
        )


def _check_zones(zones: object, path: Path, lines: TomlLines) -> None:
    place = ("analysis", "zone_deg")
    if not isinstance(zones, dict):
        remedy = "write [analysis.zone_deg] with a line per motion, e.g. ankle_dorsiflexion = 5."
        raise InputError(f"`analysis.zone_deg` must be a table; {remedy}", path=path, line=lines.line(*place))
    for motion, value in zones.items():
        line = lines.line(*place, motion)
        if motion not in ZONE_MOTIONS:
            choice = ", ".join(ZONE_MOTIONS)
            raise InputError(f"`{motion}` in zone_deg is no motion; use one of {choice}.", path=path, line=line)
        zones[motion] = _number(value, ZONE, f"zone_deg.{motion}", path, line)


def _number(value: object, setting: Setting, name: str, path: Path, line: int | None) -> float:
    number = math.nan
    if isinstance(value, int | float) and not isinstance(value, bool):
        with contextlib.suppress(OverflowError):
            number = float(value)
    if not setting.low <= number <= setting.high:
        raise InputError(
            f"`{name}` = {value!r} cannot be used; it is a number from {setting.low:g} to {setting.high:g} "
            f"[{setting.unit}].",
            path=path,
            line=line,
        )
    return number


def _unknown(path: Path, line: int | None, key: str) -> None:
    _say_unknown(f"{path}, line {line}" if line is not None else f"{path}", key)


@functools.cache  # settings are read again for every session, and said once
def _say_unknown(where: str, key: str) -> None:
    _log.warning("%s: setting `%s` is not known to this Footroom and has no effect.", where, key)
