"""`import.toml`: what a CSV import folder says about itself, read and checked before any sample is.

Every refusal is one sentence with the file, the line and the remedy. Unknown keys are kept and warned of.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from .errors import InputError
from .import_phases import read_phases, read_typed_ranges
from .import_values import TomlPlace, build, choice, keep_unknown, required, table, tables, text_value, warn_extra
from .models import (
    MAX_PARTICIPANT_ID,
    SEGMENTS,
    SIDES,
    Clip,
    Participant,
    Phase,
    Setup,
    Side,
    is_identifier,
    is_label,
)
from .recording import ACCELERATION_UNITS, ANGULAR_RATE_UNITS
from .toml_lines import TomlLines, syntax_error

FILE_NAME = "import.toml"
RIGHT_AXES = ("+x", "-x", "+y", "-y", "+z", "-z")
_TOP = ("participant", "session", "setup", "units", "clip", "phase", "range")


@dataclass
class ImportPlan:
    """A checked `import.toml`. `kept` holds unknown keys of tables that have no model of their own."""

    path: Path
    text: str
    lines: TomlLines
    participant: Participant
    recorded_at: datetime
    note: str | None
    setups: list[Setup]
    acceleration_unit: str
    angular_rate_unit: str
    clips: list[Clip]
    phases: list[Phase]
    typed_range_deg: dict[Side, dict[str, float]]
    kept: dict[str, Any] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)


def read_import_toml(folder: Path, now: datetime) -> ImportPlan:
    """Read and check `folder`/import.toml; `now` is the time of recording when none is given (timezone aware).

    Raises InputError with the line for everything that cannot be used.
    """
    path = folder / FILE_NAME
    text = _text(path)
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        reason, line = syntax_error(error)
        raise InputError(f"not valid TOML ({reason}); correct it.", path=path, line=line) from error
    top = TomlPlace(path, TomlLines(text))
    warnings: list[str] = []
    kept: dict[str, Any] = {}

    keep_unknown(top, data, _TOP, kept, warnings)
    participant = _participant(top.at("participant"), data, warnings)
    session = table(top.at("session"), data.get("session", {}), "[session]")
    unknown: dict[str, Any] = {}
    keep_unknown(top.at("session"), session, ("recorded_at", "note"), unknown, warnings)
    if unknown:
        kept["session"] = unknown
    note = text_value(top.at("session", "note"), session["note"]) if "note" in session else None
    recorded_at = _recorded_at(top.at("session", "recorded_at"), session.get("recorded_at"), now, warnings)
    units = table(top.at("units"), data.get("units", {}), "[units]")
    unknown = {}
    keep_unknown(top.at("units"), units, ("acceleration", "angular_rate"), unknown, warnings)
    if unknown:
        kept["units"] = unknown
    acceleration = _unit(top.at("units"), units, "acceleration", ACCELERATION_UNITS)
    angular_rate = _unit(top.at("units"), units, "angular_rate", ANGULAR_RATE_UNITS)
    setups = _setups(top, data, warnings)
    clips = _clips(top, data, warnings)
    phases = read_phases(top, data, setups, clips, warnings)
    typed = read_typed_ranges(top, data, clips, warnings)
    return ImportPlan(
        path,
        text,
        top.lines,
        participant,
        recorded_at,
        note,
        setups,
        acceleration,
        angular_rate,
        clips,
        phases,
        typed,
        kept,
        warnings,
    )


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        raise InputError(
            f"the folder holds no {FILE_NAME}; write one that names the participant, units, clips and phases.",
            path=path.parent,
        ) from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise InputError("not UTF-8 text; save the file as UTF-8.", path=path, line=line) from error
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror}); check the file.", path=path) from error


def _participant(place: TomlPlace, data: dict[str, Any], warnings: list[str]) -> Participant:
    if "participant" not in data:
        raise InputError('there is no [participant]; add it with a pseudonym such as id = "p01".', path=place.path)
    values = table(place, data["participant"], "[participant]")
    name = required(place, values, "id", "[participant]", '"p01"')
    if not is_identifier(name) or len(name) > MAX_PARTICIPANT_ID:
        raise place.at("id").error(
            f"participant id {name!r} cannot be used; an id is made of a-z, 0-9 and -, begins and ends with a letter "
            f'or digit and has at most {MAX_PARTICIPANT_ID} characters, such as "p01".'
        )
    warn_extra(place, values, Participant.model_fields, warnings)
    return build(place, Participant, values)


def _recorded_at(place: TomlPlace, value: object, now: datetime, warnings: list[str]) -> datetime:
    if value is None:
        return now
    remedy = 'write for example recorded_at = "2026-11-20T18:30:00+01:00".'
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value.strip())
        except ValueError:
            raise place.error(f"recorded_at {value!r} is no date and time; {remedy}") from None
    if isinstance(value, date) and not isinstance(value, datetime):
        value = datetime.combine(value, time())
    if not isinstance(value, datetime) or not 1990 <= value.year <= 2200:
        raise place.error(f"recorded_at {str(value)!r} is no usable date and time; {remedy}")
    if value.tzinfo is None:
        value = value.astimezone()
    if value > now + timedelta(days=1):
        warnings.append(place.sentence(f"recorded_at {value.isoformat()} lies in the future."))
    return value


def _unit(place: TomlPlace, units: dict[str, Any], key: str, known: dict[str, float]) -> str:
    choice = " or ".join(f'"{unit}"' for unit in known)
    if key not in units:
        raise place.error(f"[units] does not say the unit of `{key}`; add {key} = {choice}.")
    unit = text_value(place.at(key), units[key])
    if unit not in known:
        raise place.at(key).error(
            f"{key} = {unit!r} is no known unit; write {choice}, converting the values if needed."
        )
    return unit


def _setups(top: TomlPlace, data: dict[str, Any], warnings: list[str]) -> list[Setup]:
    setups: list[Setup] = []
    for index, values in enumerate(tables(top, data, "setup", 'with a name, such as name = "usual"')):
        place = top.at("setup", index)
        name = required(place, values, "name", "[[setup]]", '"near"')
        if not is_label(name):
            raise place.at("name").error(
                f"set-up name {name!r} cannot be used; a name is 1 to 64 printable characters, without slashes and "
                "without blanks at its ends."
            )
        if any(name.casefold() == other.name.casefold() for other in setups):
            raise place.at("name").error(f"the set-up {name!r} is named twice; give each set-up a name of its own.")
        warn_extra(place, values, Setup.model_fields, warnings)
        setups.append(build(place, Setup, values))
    return setups


def _clips(top: TomlPlace, data: dict[str, Any], warnings: list[str]) -> list[Clip]:
    clips: list[Clip] = []
    for index, values in enumerate(tables(top, data, "clip", "for each sensor, with segment, side and file")):
        place = top.at("clip", index)
        segment = required(place, values, "segment", "[[clip]]", '"foot"')
        choice(place.at("segment"), "segment", segment, SEGMENTS)
        if segment == "pelvis" and "side" in values:
            raise place.at("side").error("the pelvis has no side; remove this line.")
        if segment != "pelvis":
            side = required(place, values, "side", f"the {segment} clip", '"right" or side = "left"')
            choice(place.at("side"), "side", side, SIDES)
        required(place, values, "file", "[[clip]]", '"right_foot.csv"')
        if "right_axis" in values:
            axis = text_value(place.at("right_axis"), values["right_axis"])
            choice(place.at("right_axis"), "right_axis", axis, RIGHT_AXES)
        warn_extra(place, values, Clip.model_fields, warnings)
        clip = build(place, Clip, values)
        if any(clip.name == other.name for other in clips):
            raise place.error(f"the clip {clip.name} is named twice; keep one, or correct segment or side.")
        clips.append(clip)
    return clips
