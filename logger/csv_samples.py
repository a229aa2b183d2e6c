"""Samples of one clip from a CSV file: read fast, and only when that fails line by line to say where and why."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from pyarrow import csv as arrow_csv

from .errors import InputError
from .recording import COLUMNS, numbers

_FEWEST_SAMPLES = 10
_BOMS = {b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16"}
_HEADER = ",".join(COLUMNS)
_REMEDY_UTF8 = 'save it as plain CSV in UTF-8 (in a spreadsheet: "CSV UTF-8")'


@dataclass(frozen=True)
class CsvSamples:
    """The seven columns of a CSV file as float64, (n,) each, in the units of the file; extra columns by name."""

    columns: dict[str, npt.NDArray[np.float64]]
    left_out: list[str]


def read_csv_samples(path: Path) -> CsvSamples:
    """Read and check one clip's CSV file: header, numbers, finiteness and strictly increasing time.

    The columns may stand in any order; a byte-order mark and CR LF are accepted.

    Raises InputError with the line for everything that cannot be used.
    """
    names, header_line = _header(path)
    try:
        table = arrow_csv.read_csv(
            path,
            read_options=arrow_csv.ReadOptions(skip_rows=header_line, column_names=names),
            convert_options=arrow_csv.ConvertOptions(
                include_columns=list(COLUMNS),
                column_types={name: pa.float64() for name in COLUMNS},
                null_values=[],
                strings_can_be_null=False,
            ),
        )
        columns = {name: _joined(table.column(name)) for name in COLUMNS}
        finite = all(np.isfinite(column).all() for column in columns.values())
    except (pa.ArrowException, UnicodeDecodeError):
        columns, finite = {}, False
    if not finite:
        columns = _read_slowly(path, names, header_line)
    if len(columns["time_s"]) < _FEWEST_SAMPLES:
        raise _too_few(path, len(columns["time_s"]))
    steps = np.diff(columns["time_s"])
    if (steps <= 0).any():
        raise _time_error(path, columns["time_s"], int(np.argmax(steps <= 0)) + 1, header_line)
    return CsvSamples(columns, [name for name in names if name not in COLUMNS])


def _joined(column: pa.ChunkedArray) -> npt.NDArray[np.float64]:
    return np.concatenate([np.empty(0), *(numbers(chunk) for chunk in column.chunks)], dtype=np.float64)


def _too_few(path: Path, n: int) -> InputError:
    what = "no samples" if n == 0 else f"only {n} sample{'s' if n > 1 else ''}"
    return InputError(f"holds {what}; export the recording again, with a line for every sample.", path=path)


def _header(path: Path) -> tuple[list[str], int]:
    """The column names and the number of the line they stand on (blank lines before it are passed over)."""
    try:
        with path.open("rb") as file:
            start = file.read(2)
            if not start:
                raise InputError(f"the file is empty; it must begin with the line {_HEADER}.", path=path, line=1)
            if start in _BOMS:
                raise InputError(f"the file is {_BOMS[start]}; {_REMEDY_UTF8}.", path=path)
            file.seek(0)
            number, raw = next(
                ((n, raw) for n, raw in enumerate(file, start=1) if raw.removeprefix(b"\xef\xbb\xbf").strip()), (1, b"")
            )
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror}); check the file.", path=path) from error
    try:
        line = raw.decode("utf-8-sig").strip()
    except UnicodeDecodeError as error:
        raise InputError(f"the file is not UTF-8 text; {_REMEDY_UTF8}.", path=path, line=number) from error
    _refuse_other_separators(path, line, number)
    names = [name.strip() for name in _fields(line)]
    if not set(names) & set(COLUMNS):
        raise InputError(f"the first line is no header; it must be {_HEADER}.", path=path, line=number)
    missing = [name for name in COLUMNS if name not in names]
    if missing:
        columns = "column" if len(missing) == 1 else "columns"
        near = _other_spelling(names, missing)
        raise InputError(
            f"missing {columns} {', '.join(missing)}{near}; the header must hold {_HEADER}.", path=path, line=number
        )
    for name in COLUMNS:
        if names.count(name) > 1:
            raise InputError(f"the column {name} is there twice; keep one.", path=path, line=number)
    return _unique(names), number


def _unique(names: list[str]) -> list[str]:
    """Extra columns may repeat or be nameless: number them, so that the reader accepts them."""
    seen: dict[str, int] = {}
    unique = []
    for index, name in enumerate(names):
        name = name or f"column {index + 1}"
        seen[name] = seen.get(name, 0) + 1
        unique.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return unique


def _other_spelling(names: list[str], missing: list[str]) -> str:
    for name in missing:
        for other in names:
            bare = other.casefold().replace(" ", "").replace("-", "_")
            if other != name and (bare == name or bare in (name.removesuffix("_s"), name.replace("_s", "_ms"))):
                return f" (there is {other!r})"
    return ""


def _refuse_other_separators(path: Path, line: str, number: int) -> None:
    for separator, name in ((";", "semicolons"), ("\t", "tabs")):
        if line.count(separator) >= len(COLUMNS) - 1 and "," not in line:
            raise InputError(
                f"the columns are separated by {name}; separate them by commas and write numbers with a decimal point.",
                path=path,
                line=number,
            )


def _lines(path: Path, header_line: int) -> Iterator[tuple[int, str]]:
    """Line numbers and text of the samples, blank lines left out. Raises InputError where it is not UTF-8."""
    with path.open("rb") as file:
        for number, raw in enumerate(file, start=1):
            if number <= header_line:
                continue
            try:
                line = raw.decode("utf-8").rstrip("\r\n")
            except UnicodeDecodeError:
                raise InputError(f"the line is not UTF-8 text; {_REMEDY_UTF8}.", path=path, line=number) from None
            if line.strip():
                yield number, line


def _fields(line: str) -> list[str]:
    try:
        return next(csv.reader([line]), [])
    except csv.Error:  # a field beyond all measure: no CSV
        return line.split(",")


def _read_slowly(path: Path, names: list[str], header_line: int) -> dict[str, npt.NDArray[np.float64]]:
    """The columns by plain Python (it takes a leading + and other rarities), or InputError for the first bad line."""
    wanted = [(name, names.index(name)) for name in COLUMNS]
    rows: list[list[float]] = []
    for number, line in _lines(path, header_line):
        fields = _fields(line)
        if len(fields) != len(names):
            hint = " (are the decimals written with a comma?)" if len(fields) == 2 * len(names) else ""
            word = "few" if len(fields) < len(names) else "many"
            raise InputError(
                f"too {word} fields: {len(fields)} where the header has {len(names)}{hint}; correct or remove it.",
                path=path,
                line=number,
            )
        rows.append([_finite_number(path, number, name, fields[index]) for name, index in wanted])
    values = np.array(rows, dtype=np.float64).reshape(-1, len(COLUMNS))
    return {name: values[:, index].copy() for index, name in enumerate(COLUMNS)}


def _finite_number(path: Path, line: int, name: str, text: str) -> float:
    try:
        value = float(text) if "_" not in text else None
    except ValueError:
        value = None
    if value is None:
        shown = f"is {text!r}, not a number" if text.strip() else "is empty"
        comma = "write a decimal point, not a comma" if "," in text else "correct the value or remove the line"
        raise InputError(f"{name} {shown}; {comma}.", path=path, line=line)
    if not math.isfinite(value):
        raise InputError(
            f"{name} is {text.strip()}, not a finite number; remove the line (a gap is allowed) or correct the value.",
            path=path,
            line=line,
        )
    return value


def _time_error(path: Path, time_s: npt.NDArray[np.float64], row: int, header_line: int) -> InputError:
    line = next((n for index, (n, _) in enumerate(_lines(path, header_line)) if index == row), None)
    before, now = float(time_s[row - 1]), float(time_s[row])
    if now == before:
        message = f"time_s {now:.10g} is there twice; remove one of the two lines"
    else:
        message = f"time_s goes back from {before:.10g} to {now:.10g}; sort the lines by time_s"
    return InputError(f"{message} (time must increase from line to line).", path=path, line=line)
