"""Values of `import.toml` into models, with refusals a person understands: which line, what is wrong, what to do."""

from __future__ import annotations

import contextlib
import difflib
import math
import types
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from .errors import InputError
from .toml_lines import TomlLines

_Model = TypeVar("_Model", bound=BaseModel)
# How lengths get typed by mistake, and centimetres in one of it.
_OTHER_LENGTHS = (("inches", 2.54), ("millimetres", 0.1), ("metres", 100.0))


@dataclass(frozen=True)
class TomlPlace:
    """A place in the file: a table or key, and the line it stands on."""

    path: Path
    lines: TomlLines
    place: tuple[str | int, ...] = ()

    def at(self, *more: str | int) -> TomlPlace:
        """A place further in."""
        return TomlPlace(self.path, self.lines, (*self.place, *more))

    @property
    def line(self) -> int | None:
        """The line, where it can be told."""
        return self.lines.line(*self.place)

    def error(self, message: str) -> InputError:
        """The refusal of what stands here."""
        return InputError(message, path=self.path, line=self.line)

    def sentence(self, message: str) -> str:
        """A warning about what stands here (file name only: it is kept with the session, which may travel)."""
        return f"{self.path.name}" + (f", line {self.line}" if self.line is not None else "") + f": {message}"


def table(place: TomlPlace, value: object, name: str) -> dict[str, Any]:
    """`value` as a table. Raises InputError."""
    if not isinstance(value, dict):
        raise place.error(f"{name} must be a table of lines such as key = value.")
    return value


def text_value(place: TomlPlace, value: object) -> str:
    """`value` as text. Raises InputError."""
    if not isinstance(value, str):
        key = place.place[-1]
        raise place.error(f'`{key}` must be text in quotes; write {key} = "{_bare(value)}".')
    return value


def close_to(word: str, known: Iterable[str]) -> str:
    """`, did you mean ...?` when one of `known` looks like `word`, else nothing."""
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.7)
    return f" (did you mean `{found[0]}`?)" if found else ""


def number(place: TomlPlace, value: object) -> float:
    """`value` as a number. Raises InputError (a number too large for floating point is none)."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        with contextlib.suppress(OverflowError):
            return float(value)
    key = place.place[-1]
    raise place.error(f"`{key}` = {_short(value)} is no usable number; write it in digits, without quotes.")


def plain(value: object) -> Any:
    """An unknown value as JSON can keep it: dates, times and numbers that are none become text."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


def _bare(value: object) -> str:
    return _short(value).strip("\"'")


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def keep_unknown(
    place: TomlPlace, data: dict[str, Any], known: Iterable[str], kept: dict[str, Any], warnings: list[str]
) -> None:
    known = list(known)
    for key, value in data.items():
        if key not in known:
            kept[key] = plain(value)
            warnings.append(place.at(key).sentence(f"`{key}` is not known; it is kept{close_to(key, known)}."))


def warn_extra(place: TomlPlace, values: dict[str, Any], fields: Iterable[str], warnings: list[str]) -> None:
    keep_unknown(place, values, fields, {}, warnings)


def tables(place: TomlPlace, data: dict[str, Any], name: str, purpose: str) -> list[dict[str, Any]]:
    found = data.get(name)
    if not found:
        raise InputError(f"there is no [[{name}]]; add one {purpose}.", path=place.path)
    if isinstance(found, dict):
        raise place.at(name).error(f"[{name}] stands in single brackets; write [[{name}]], once for each.")
    return [table(place.at(name, index), item, f"[[{name}]]") for index, item in enumerate(found)]


def required(place: TomlPlace, data: dict[str, Any], key: str, table_name: str, example: str) -> str:
    if key not in data:
        raise place.error(f"{table_name} has no `{key}`; add a line such as {key} = {example}.")
    return text_value(place.at(key), data[key])


def choice(place: TomlPlace, what: str, value: str, known: Iterable[str], or_else: str = "") -> None:
    known = list(known)
    if value not in known:
        remedy = f"use {', '.join(known)}" + (f", {or_else}" if or_else else "")
        raise place.error(f"unknown {what} {value!r}{close_to(value, known)}; {remedy}.")


def build(place: TomlPlace, model: type[_Model], values: dict[str, Any]) -> _Model:
    """The model of a table. Raises InputError naming the first value that cannot be used."""
    checked: dict[str, Any] = {}
    for key, value in values.items():
        field = model.model_fields.get(key)
        if field is None:
            checked[key] = plain(value)
        else:
            checked[key] = number(place.at(key), value) if _is_number(field) else value
    try:
        return model.model_validate(checked)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = str(first["loc"][0]) if first["loc"] else ""
        field = model.model_fields.get(key)
        where = place.at(key) if key in values else place
        if field is not None and _is_number(field):
            raise where.error(_out_of_bounds(key, checked[key], field)) from None
        if key not in values:
            raise where.error(f"`{key}` is missing; add it.") from None
        raise where.error(f"`{key}` = {_short(values[key])} cannot be used ({first['msg']}); correct it.") from None


def _is_number(field: FieldInfo) -> bool:
    annotation = field.annotation
    if get_origin(annotation) in (Union, types.UnionType):
        return set(get_args(annotation)) - {type(None)} == {float}
    return annotation is float


def _bounds(field: FieldInfo) -> tuple[float | None, float | None]:
    low = high = None
    for limit in field.metadata:
        low = next((v for v in (getattr(limit, "gt", None), getattr(limit, "ge", None)) if v is not None), low)
        high = next((v for v in (getattr(limit, "lt", None), getattr(limit, "le", None)) if v is not None), high)
    return low, high


def _out_of_bounds(
    key: str, value: float, field: FieldInfo, equals: str = " = ", remedy: str = "measure again, or remove the line"
) -> str:
    low, high = _bounds(field)
    if low is None or high is None or not math.isfinite(value):
        return f"`{key}` = {value:g} is no usable number; write a finite one."
    unit = {"cm": "cm", "deg": "degrees", "in": "inches", "bpm": "beats a minute"}.get(key.rsplit("_", 1)[-1], "")
    message = f"`{key}` = {value:g} is outside {low:g} to {high:g} {unit}".rstrip()
    if key.endswith("_cm"):
        for name, factor in _OTHER_LENGTHS:
            if low <= value * factor <= high:
                return f"{message}; if it was measured in {name}, write {key}{equals}{value * factor:.1f}."
    if key.endswith("_in") and low <= value / 2.54 <= high:
        return f"{message}; if it was measured in cm, write {key}{equals}{value / 2.54:.1f}."
    return f"{message}; {remedy}."


def refusal_of_typed(error: ValidationError, models: Iterable[type[BaseModel]], example: str) -> str:
    """The sentence about the first value typed as `KEY=VALUE` that cannot be used.

    models : where its field may be, in this order.   example : a value that can be used, for what is no number.
    """
    first = error.errors(include_url=False)[0]
    key = ".".join(str(part) for part in first["loc"])
    given = first.get("input")
    field = next((m.model_fields[name] for m in models if (name := str(first["loc"][-1])) in m.model_fields), None)
    if field is not None and _is_number(field):
        try:
            value = float(str(given))
        except ValueError:
            return f"`{key}` = {_short(given)} is no number; write it in digits, such as {example}."
        return _out_of_bounds(key, value, field, "=", "measure again")
    if str(first["type"]).startswith("bool"):
        return f"`{key}` = {_short(given)} is neither yes nor no; write {key}=yes or {key}=no."
    return f"`{key}` = {_short(given)} cannot be used: {first['msg'].removeprefix('Value error, ').lower()}."
