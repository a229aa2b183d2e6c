"""The JSON files of a logbook, read with refusals a person understands."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from .errors import LogbookError

_Model = TypeVar("_Model", bound=BaseModel)


def read_json(path: Path) -> dict[str, Any]:
    """The JSON object in a file of the logbook. Raises LogbookError in one sentence, with the line where it helps."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise LogbookError(f"{path} is missing; restore it from a copy or delete its folder.") from error
    except json.JSONDecodeError as error:
        raise LogbookError(
            f"{path}, line {error.lineno}: not valid JSON ({error.msg}); correct it or restore it from a copy."
        ) from error
    except UnicodeDecodeError as error:
        raise LogbookError(f"{path}: not UTF-8 text; restore it from a copy.") from error
    except OSError as error:
        raise LogbookError(f"{path} cannot be read ({error.strerror}); check the rights of the folder.") from error
    if not isinstance(data, dict):
        raise LogbookError(f"{path}: holds no JSON object; restore it from a copy.")
    return data


def validated(model: type[_Model], data: dict[str, Any], path: Path) -> _Model:
    """`data` as a model. Raises LogbookError naming the first value that cannot be used."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise LogbookError(f"{path}: `{key}` cannot be used ({first['msg']}); correct it or restore a copy.") from error
