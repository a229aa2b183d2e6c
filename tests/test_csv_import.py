"""Import of CSV folders: what is taken, what is refused and how, and that a refusal leaves no trace."""

from __future__ import annotations

import json
import logging
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from footroom.logger import files
from footroom.logger.csv_import import import_folder
from footroom.logger.errors import AlreadyInLogbook, FootroomError, InputError, LogbookError
from footroom.logger.logbook import Logbook
from footroom.logger.recording import STANDARD_GRAVITY, read_raw
from import_folder import HEADER, small_folder, turning_clip, write_csv
from reference_data import reference_folder

Spoil = Callable[[Path], None]
FOOT = "right_foot.csv"


def snapshot(folder: Path) -> dict[str, bytes | None]:
    """Everything in a folder but its (empty) lock files."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
        if ".locks" not in path.parts
    }


def toml(old: str, new: str, count: int = 1) -> Spoil:
    def spoil(folder: Path) -> None:
        path = folder / "import.toml"
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, count), encoding="utf-8")

    return spoil


def append(text: str) -> Spoil:
    def spoil(folder: Path) -> None:
        with (folder / "import.toml").open("a", encoding="utf-8") as file:
            file.write(text)

    return spoil


def drop_tables(name: str) -> Spoil:
    """Remove every table [name] or [[name]] with its keys."""

    def spoil(folder: Path) -> None:
        path = folder / "import.toml"
        kept, inside = [], False
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith("["):
                inside = line.strip("[]") == name
            if not inside:
                kept.append(line)
        path.write_text("\n".join(kept), encoding="utf-8")

    return spoil


def csv_line(line: int, change: Callable[[str], str | None]) -> Spoil:
    """Change one line (from 1) of the foot's CSV; None removes it."""

    def spoil(folder: Path) -> None:
        path = folder / FOOT
        lines = path.read_text(encoding="utf-8").splitlines()
        changed = change(lines[line - 1])
        lines[line - 1 : line] = [] if changed is None else [changed]
        path.write_bytes(("\n".join(lines) + "\n").encode("utf-8", "surrogateescape"))

    return spoil


def csv_field(line: int, index: int, text: str) -> Spoil:
    def change(row: str) -> str:
        fields = row.split(",")
        fields[index] = text
        return ",".join(fields)

    return csv_line(line, change)


def csv_bytes(change: Callable[[bytes], bytes]) -> Spoil:
    def spoil(folder: Path) -> None:
        path = folder / FOOT
        path.write_bytes(change(path.read_bytes()))

    return spoil


def csv_scaled(time: float = 1.0, acc: float = 1.0, gyr: float = 1.0) -> Spoil:
    def spoil(folder: Path) -> None:
        t, a, g = (np.asarray(part) for part in turning_clip(seed=1))
        write_csv(folder / FOOT, t * time, a * acc, g * gyr)

    return spoil


def both(*spoils: Spoil) -> Spoil:
    def spoil(folder: Path) -> None:
        for one in spoils:
            one(folder)

    return spoil


def remove(name: str) -> Spoil:
    return lambda folder: (folder / name).unlink()


def outside_file(folder: Path) -> None:
    shutil.copy(folder / FOOT, folder.parent / "outside.csv")
    toml('file = "right_foot.csv"', 'file = "../outside.csv"')(folder)


SECOND_SETUP = '\n[[setup]]\nname = "far"\n'
TOML, CSV = "import.toml", FOOT

# name: (what is spoilt, the file named, the line named or None, what the sentence says)
BAD: dict[str, tuple[Spoil, str, int | None, str]] = {
    # import.toml as a file
    "no import.toml": (remove("import.toml"), "", None, "holds no import.toml; write one"),
    "toml syntax": (toml('id = "p01"', "id = p01"), TOML, 2, "not valid TOML .*correct it"),
    "toml key twice": (toml('id = "p01"', 'id = "p01"\nid = "p02"'), TOML, 3, "not valid TOML"),
    "toml cut short": (append('\nnote = "'), TOML, None, "not valid TOML"),
    "toml not UTF-8": (
        lambda folder: (folder / "import.toml").write_bytes(b'# a\n[participant]\nid = "\xff\xfe"\n'),
        TOML,
        3,
        "not UTF-8 text; save",
    ),
    # participant
    "no participant": (drop_tables("participant"), TOML, None, r"no \[participant\]; add it"),
    "participant no table": (
        both(drop_tables("participant"), toml("[session]", 'participant = "p01"\n[session]')),
        TOML,
        1,
        r"\[participant\] must be a table",
    ),
    "no participant id": (toml('id = "p01"', "stature_cm = 170"), TOML, 1, r"\[participant\] has no `id`; add"),
    "id leaves the folder": (toml('"p01"', '"../p01"'), TOML, 2, "participant id '../p01' cannot be used; an id is"),
    "id in capitals": (toml('"p01"', '"P01"'), TOML, 2, "participant id 'P01' cannot be used"),
    "id of a device": (toml('"p01"', '"con"'), TOML, 2, "participant id 'con' cannot be used"),
    "id too long": (toml('"p01"', '"' + "p" * 41 + '"'), TOML, 2, "at most 40 characters"),
    "id empty": (toml('"p01"', '""'), TOML, 2, "participant id '' cannot be used"),
    "id a number": (toml('"p01"', "7"), TOML, 2, '`id` must be text in quotes; write id = "7"'),
    "stature in inches": (
        toml('id = "p01"', 'id = "p01"\nstature_cm = 68'),
        TOML,
        3,
        "`stature_cm` = 68 is outside 85 to 250 cm; if it was measured in inches, write stature_cm = 172.7",
    ),
    "thigh in millimetres": (
        toml('id = "p01"', 'id = "p01"\nthigh_length_cm = 430'),
        TOML,
        3,
        "measured in millimetres, write thigh_length_cm = 43.0",
    ),
    "length as text": (
        toml('id = "p01"', 'id = "p01"\nstature_cm = "170"'),
        TOML,
        3,
        "`stature_cm` = '170' is no usable number; write it in digits",
    ),
    "length true": (toml('id = "p01"', 'id = "p01"\nhip_width_cm = true'), TOML, 3, "`hip_width_cm` = True is no"),
    "length nan": (
        toml('id = "p01"', 'id = "p01"\nstature_cm = nan'),
        TOML,
        3,
        "`stature_cm` = nan is no usable number",
    ),
    # session
    "bad date": (toml("2026-11-20T18:30:00+01:00", "20.11.2026"), TOML, 5, "recorded_at '20.11.2026' is no date"),
    "date a number": (toml('"2026-11-20T18:30:00+01:00"', "20261120"), TOML, 5, "recorded_at '20261120' is no usable"),
    "date of year 1": (toml("2026-11-20T18", "0001-11-20T18"), TOML, 5, "is no usable date and time"),
    "note no text": (toml("[session]", "[session]\nnote = 3"), TOML, 5, "`note` must be text in quotes"),
    # units
    "no units": (drop_tables("units"), TOML, None, r"does not say the unit of `acceleration`; add"),
    "no unit of rate": (toml('angular_rate = "rad/s"\n', ""), TOML, 7, "does not say the unit of `angular_rate`"),
    "unknown acceleration unit": (
        toml('"m/s^2"', '"m/s2"'),
        TOML,
        8,
        "acceleration = 'm/s2' is no known unit; write \"m",
    ),
    "unknown rate unit": (toml('"rad/s"', '"rpm"'), TOML, 9, "angular_rate = 'rpm' is no known unit"),
    "m/s^2 said to be g": (toml('"m/s^2"', '"g"'), CSV, None, r'looks like m/s\^2; write acceleration = "m/s\^2"'),
    "g said to be m/s^2": (csv_scaled(acc=1 / 9.80665), CSV, None, 'looks like g; write acceleration = "g"'),
    "thousandths of g": (csv_scaled(acc=1000 / 9.80665), CSV, None, "looks like thousandths of g; divide"),
    "gravity taken out": (csv_scaled(acc=0.01), CSV, None, "has gravity been taken out"),
    "deg/s said to be rad/s": (csv_scaled(gyr=180 / np.pi), CSV, None, "looks like deg/s; write angular_rate"),
    "rad/s said to be deg/s": (toml('"rad/s"', '"deg/s"'), CSV, None, "looks like rad/s; write angular_rate"),
    "time in milliseconds": (csv_scaled(time=1000), CSV, None, "looks like milliseconds; divide it by 1,000"),
    "time in microseconds": (csv_scaled(time=1e6), CSV, None, "looks like microseconds; divide it by 1,000,000 so"),
    # set-ups
    "no set-up": (drop_tables("setup"), TOML, None, r"there is no \[\[setup\]\]; add one"),
    "set-up in single brackets": (toml("[[setup]]", "[setup]"), TOML, 11, r"write \[\[setup\]\]"),
    "set-up without name": (toml('name = "usual"', "reach_cm = 60"), TOML, 11, r"\[\[setup\]\] has no `name`"),
    "set-up twice": (append('\n[[setup]]\nname = "Usual"\n'), TOML, 35, "set-up 'Usual' is named twice"),
    "set-up with slash": (toml('"usual"', '"a/b"'), TOML, 12, "set-up name 'a/b' cannot be used"),
    "throne in inches": (
        toml('name = "usual"', 'name = "usual"\nthrone_height_cm = 20'),
        TOML,
        13,
        "`throne_height_cm` = 20 is outside 28 to 95 cm; if it was measured in inches, write throne_height_cm = 50.8",
    ),
    "reach in metres": (
        toml('name = "usual"', 'name = "usual"\nreach_cm = 0.6'),
        TOML,
        13,
        "write reach_cm = 60.0",
    ),
    "snare in cm": (
        toml('name = "usual"', 'name = "usual"\nsnare_diameter_in = 35.6'),
        TOML,
        13,
        "measured in cm, write",
    ),
    "pitch impossible": (
        toml('name = "usual"', 'name = "usual"\nfootboard_pitch_deg = 95'),
        TOML,
        13,
        "outside -10 to 60 degrees; measure again",
    ),
    # clips
    "no clip": (drop_tables("clip"), TOML, None, r"there is no \[\[clip\]\]; add one"),
    "unknown segment": (toml('"foot"', '"ankle"'), TOML, 15, "unknown segment 'ankle'; use foot, shank, thigh, pelvis"),
    "segment misspelt": (toml('"shank"', '"shnak"'), TOML, 20, r"did you mean `shank`\?"),
    "no segment": (toml('segment = "foot"\n', ""), TOML, 14, "has no `segment`"),
    "unknown side": (toml('side = "right"', 'side = "both"'), TOML, 16, "unknown side 'both'"),
    "no side": (toml('side = "right"\n', ""), TOML, 14, "the foot clip has no `side`; add"),
    "side of the pelvis": (toml('segment = "foot"', 'segment = "pelvis"'), TOML, 16, "the pelvis has no side; remove"),
    "no file name": (toml('file = "right_foot.csv"\n', ""), TOML, 14, "has no `file`"),
    "clip twice": (toml('segment = "shank"', 'segment = "foot"'), TOML, 19, "the clip right_foot is named twice"),
    "file twice": (toml("right_shank.csv", "right_foot.csv"), TOML, 22, "named for two clips"),
    "no such file": (
        toml("right_foot.csv", "Right_foot.CSV"),
        TOML,
        17,
        r"no file 'Right_foot.CSV'.*\(there is 'right",
    ),
    "file outside": (outside_file, TOML, 17, "'../outside.csv' lies outside the folder; copy it"),
    "file absolute": (toml('file = "right_foot.csv"', 'file = "/right_foot.csv"'), TOML, 17, "lies outside"),
    "file on a drive": (toml('file = "right_foot.csv"', 'file = "C:right_foot.csv"'), TOML, 17, "lies outside"),
    "file a folder": (toml('file = "right_foot.csv"', 'file = "."'), TOML, 17, "there is no file '.'"),
    "unknown right axis": (
        toml('file = "right_foot.csv"', 'file = "right_foot.csv"\nright_axis = "z"'),
        TOML,
        18,
        "unknown right_axis 'z'.*use \\+x, -x",
    ),
    # phases
    "no phase": (drop_tables("phase"), TOML, None, r"there is no \[\[phase\]\]; add one"),
    "no playing": (toml('name = "playing"', 'name = "end_still"'), TOML, None, 'no phase with name = "playing"; add'),
    "unknown phase": (
        toml('name = "playing"', 'name = "plaing"'),
        TOML,
        30,
        r"'plaing' \(did you mean `playing`",
    ),
    "phase without name": (toml('name = "playing"\n', ""), TOML, 29, r"\[\[phase\]\] has no `name`"),
    "phase without end": (toml("end_s = 19.0\n", ""), TOML, 29, "the phase playing has no `end_s`; add it"),
    "phase time as text": (toml("end_s = 19.0", 'end_s = "19.0"'), TOML, 32, "`end_s` = '19.0' is no usable number"),
    "phase time infinite": (toml("end_s = 19.0", "end_s = inf"), TOML, 32, "`end_s` = inf is no usable number"),
    "phase ends first": (toml("end_s = 19.0", "end_s = 1.0"), TOML, 32, "ends at 1 s, not after its start at 2 s"),
    "phase outside": (
        toml("end_s = 19.0", "end_s = 119.0"),
        TOML,
        32,
        "end_s = 119, outside the recording of",
    ),
    "phase before": (toml("start_s = 0.0", "start_s = -5.0"), TOML, 26, "start_s = -5, outside the recording"),
    "unknown set-up": (append('setup = "near"\n'), TOML, 33, "unknown set-up 'near'; use usual, or add"),
    "set-up not said": (
        append(SECOND_SETUP),
        TOML,
        29,
        'not say on which set-up; add setup = one of "us',
    ),
    "phase side unknown": (append('side = "R"\n'), TOML, 33, "unknown side 'R'"),
    "playing overlaps": (
        append('\n[[phase]]\nname = "playing"\nstart_s = 18.0\nend_s = 19.5\n'),
        TOML,
        34,
        "begins at 18 s, before another one ends at 19 s",
    ),
    "tempo impossible": (append("tempo_bpm = 1200\n"), TOML, 33, "`tempo_bpm` = 1200 is outside 0 to 400"),
    # typed ranges
    "range of unknown motion": (
        append("\n[range.right]\nankle_dorsiflexion = 15\n"),
        TOML,
        35,
        r"unknown motion 'ankle_dorsiflexion' \(did you mean `ankle_dorsiflexion_deg`",
    ),
    "range of unknown side": (append("\n[range.both]\nhip_flexion_deg = 100\n"), TOML, 34, "unknown side 'both'"),
    "range before neutral": (
        append("\n[range.right]\nankle_dorsiflexion_deg = -3\n"),
        TOML,
        35,
        "a range that ends before neutral leaves no room to measure",
    ),
    "range nan": (append("\n[range.right]\nankle_dorsiflexion_deg = nan\n"), TOML, 35, "ends before neutral"),
    "range too large": (append("\n[range.right]\nankle_dorsiflexion_deg = 150\n"), TOML, 35, "more than a joint can"),
    "range as text": (
        append('\n[range.right]\nankle_dorsiflexion_deg = "15"\n'),
        TOML,
        35,
        "is no usable number",
    ),
    # CSV files
    "empty file": (csv_bytes(lambda _: b""), CSV, 1, "the file is empty; it must begin with"),
    "blank file": (csv_bytes(lambda _: b"\n\n"), CSV, 1, "the first line is no header"),
    "header only": (csv_bytes(lambda _: HEADER.encode() + b"\n"), CSV, None, "holds no samples; export"),
    "few samples": (csv_bytes(lambda data: b"\n".join(data.split(b"\n")[:6])), CSV, None, "holds only 5 samples"),
    "no header": (csv_line(1, lambda _: None), CSV, 1, "the first line is no header; it must be time_s,"),
    "missing column": (csv_line(1, lambda row: row.replace("gyr_z", "z")), CSV, 1, "missing column gyr_z; the header"),
    "columns misspelt": (csv_line(1, lambda row: row.upper()), CSV, 1, "the first line is no header"),
    "time misspelt": (csv_line(1, lambda row: row.replace("time_s", "Time")), CSV, 1, r"time_s \(there is 'Time'\)"),
    "column twice": (csv_line(1, lambda row: row + ",acc_x"), CSV, 1, "the column acc_x is there twice"),
    "semicolons": (csv_bytes(lambda data: data.replace(b",", b";")), CSV, 1, "separated by semicolons; separate"),
    "tabs": (csv_bytes(lambda data: data.replace(b",", b"\t")), CSV, 1, "separated by tabs"),
    "decimal commas": (
        csv_line(3, lambda row: row.replace(".", ",")),
        CSV,
        3,
        "too many.*decimals written with a comma",
    ),
    "quoted decimal comma": (csv_field(4, 1, '"9,81"'), CSV, 4, "acc_x is '9,81', not a number; write a decimal point"),
    "too few fields": (
        csv_line(7, lambda row: row.rpartition(",")[0]),
        CSV,
        7,
        "too few fields: 6 where the header has 7",
    ),
    "too many fields": (csv_line(7, lambda row: row + ",1"), CSV, 7, "too many fields: 8 where the header has 7"),
    "no number": (csv_field(12, 5, "fast"), CSV, 12, "gyr_y is 'fast', not a number; correct"),
    "empty value": (csv_field(12, 5, ""), CSV, 12, "gyr_y is empty; correct"),
    "nan": (csv_field(13, 2, "nan"), CSV, 13, "acc_y is nan, not a finite number; remove the line"),
    "inf": (csv_field(13, 6, "-inf"), CSV, 13, "gyr_z is -inf, not a finite"),
    "overflow": (csv_field(13, 6, "1e999"), CSV, 13, "gyr_z is 1e999, not a finite"),
    "comment line": (csv_line(5, lambda row: "# pause\n" + row), CSV, 5, "too few fields: 1"),
    "duplicate time": (csv_line(20, lambda row: row + "\n" + row), CSV, 21, "time_s 0.18 is there twice; remove one"),
    "time goes back": (csv_field(30, 0, "0.05"), CSV, 30, "time_s goes back from 0.27 to 0.05; sort"),
    "time back after blank line": (
        both(csv_field(30, 0, "0.05"), csv_line(9, lambda row: "\n" + row)),
        CSV,
        31,
        "time_s goes back",
    ),
    "not UTF-8": (
        csv_bytes(lambda data: data.replace(b"\n", b"\n\xff", 8).replace(b"\n\xff", b"\n", 7)),
        CSV,
        9,
        "not UTF",
    ),
    "header not UTF-8": (csv_bytes(lambda data: b"\xff" + data), CSV, 1, "not UTF-8 text"),
    "UTF-16": (
        csv_bytes(lambda data: data.decode().encode("utf-16")),
        CSV,
        None,
        "the file is UTF-16; save it as plain CSV",
    ),
    "binary": (csv_bytes(lambda data: b"PK\x03\x04" + bytes(range(256))), CSV, 1, "."),
}


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_folder(tmp_path_factory.mktemp("good") / "folder")


@pytest.fixture(scope="module")
def logbook_before(good: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("before") / "L"
    import_folder(good, path)
    return path


@pytest.mark.parametrize("kind", BAD)
def test_bad_input_is_refused_in_one_sentence_and_leaves_no_trace(
    kind: str, good: Path, logbook_before: Path, tmp_path: Path
) -> None:
    spoil, file, line, says = BAD[kind]
    folder = shutil.copytree(good, tmp_path / "folder")
    spoil(folder)
    before = snapshot(logbook_before)
    for logbook in (tmp_path / "new" / "L", logbook_before):
        with pytest.raises(InputError, match=says) as refused:
            import_folder(folder, logbook)
        message = str(refused.value)
        assert refused.value.exit_status == 2
        assert refused.value.path == (folder / file if file else folder)
        assert refused.value.line == line, message
        assert message.startswith(str(folder / file if file else folder))
        assert (f", line {line}: " in message) == (line is not None)
        assert message.endswith(".") and "\n" not in message
    assert not (tmp_path / "new").exists()
    assert snapshot(logbook_before) == before


def test_at_least_thirty_kinds_of_bad_input_are_tried() -> None:
    assert len(BAD) >= 30


WEIRD = ['"\\u0000"', '"x"', "-1", "nan", "true", "[]", "{a = nan}", "[[1], 2026-01-01]", "07:32:00"]
WEIRD += ["2026-11-20T18:30:00Z", "1" + "0" * 400, '"' + "y" * 5000 + '"']


@pytest.mark.parametrize("weird", WEIRD, ids=lambda text: text[:12])
def test_whatever_stands_in_import_toml_is_taken_or_refused_in_a_sentence(tmp_path: Path, weird: str) -> None:
    clips = {"right_foot": turning_clip(4, 50), "right_shank": turning_clip(4, 50, seed=2)}
    phases = [{"name": "still", "start_s": 0.0, "end_s": 1.0}, {"name": "playing", "start_s": 1.0, "end_s": 4.0}]
    folder = small_folder(tmp_path / "folder", clips=clips, phases=phases)
    append('setup = "usual"\nside = "right"\ntempo_bpm = 90\n[range.right]\nankle_dorsiflexion_deg = 15\n')(folder)
    toml('id = "p01"', 'id = "p01"\nhip_width_cm = 17\nunknown = 1')(folder)
    toml('name = "usual"', 'name = "usual"\nreach_cm = 60\nfootwear = "socks"')(folder)
    path = folder / "import.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    refused = 0
    for index, line in enumerate(lines):
        key, equals, _ = line.partition(" = ")
        name = line.strip("[]")
        spoilt = f"{key} = {weird}" if equals else f"{name} = {weird}" if line.startswith("[") else f"{weird} = 1"
        path.write_text("\n".join([*lines[:index], spoilt, *lines[index + 1 :]]), encoding="utf-8")
        logbook = tmp_path / f"L{index}"
        try:
            session_id = import_folder(folder, logbook)
        except InputError as error:
            refused += 1
            assert "\n" not in str(error) and len(str(error)) < 6000 and str(error).endswith(".")
            assert not logbook.exists()
        else:
            assert Logbook(logbook).session_ids() == [session_id]
            shutil.rmtree(logbook)
    assert refused > 10


@pytest.mark.parametrize(
    ("name", "says"), [("nowhere", "there is no such folder"), ("folder/import.toml", "is a file, not a folder")]
)
def test_a_folder_that_is_none(good: Path, tmp_path: Path, name: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        import_folder(good.parent / name, tmp_path / "L")
    assert not (tmp_path / "L").exists()


@pytest.mark.parametrize("what", ["file", "file above", "other things"])
def test_a_logbook_that_cannot_be_made(good: Path, tmp_path: Path, what: str) -> None:
    place = tmp_path / "L"
    if what == "other things":
        place.mkdir()
        (place / "holiday.jpg").write_bytes(b"x")
    else:
        place.write_bytes(b"x")
    before = snapshot(tmp_path)
    says = "holds other things .holiday.jpg. and is no logbook" if what == "other things" else "is a file; choose"
    with pytest.raises(LogbookError, match=says):
        import_folder(good, place / "deeper" if what == "file above" else place)
    assert snapshot(tmp_path) == before


# What is taken


def test_all_keys_of_the_contract_arrive(tmp_path: Path) -> None:
    participant = {
        "id": "p01",
        "stature_cm": 171.0,
        "thigh_length_cm": 42.0,
        "shank_length_cm": 40.5,
        "ball_to_ankle_cm": 12.0,
        "hip_width_cm": 17.0,
    }
    near = {
        "name": "near",
        "throne_height_cm": 52.0,
        "reach_cm": 55.0,
        "spacing_cm": 48.0,
        "footboard_pitch_deg": 14.0,
        "foot_splay_deg": 12.0,
        "thigh_slope_deg": -10.0,
        "snare_diameter_in": 14,
        "footwear": "socks",
    }
    phases = [
        {"name": "still", "start_s": 0.0, "end_s": 2.0},
        {"name": "rest_on_pedal", "start_s": 2.0, "end_s": 3.0, "setup": "near"},
        {"name": "playing", "start_s": 3, "end_s": 9.0, "setup": "near", "side": "right", "tempo_bpm": 92, "block": 1},
        {"name": "playing", "start_s": 9.0, "end_s": 19.0, "setup": "far", "exercise": "groove", "block": "b"},
    ]
    folder = small_folder(
        tmp_path / "f",
        clips={"right_foot": turning_clip(seed=1), "pelvis": turning_clip(seed=3)},
        participant=participant,
        setups=[near, {"name": "far", "reach_cm": 59.0}],
        phases=phases,
        session={"recorded_at": "2026-11-20T18:30:00+01:00", "note": "after class"},
        typed={"right": {"ankle_dorsiflexion_deg": 15, "hip_external_rotation_deg": 30.0}},
        right_axes={"right_foot": "-y"},
    )
    logbook = tmp_path / "L"
    session_id = import_folder(folder, logbook)
    session = Logbook(logbook).session(session_id)
    assert session_id == "p01-2026-11-20"
    assert session.participant.model_dump(exclude_none=True) == participant
    assert session.setups[0].model_dump(exclude_none=True, exclude_defaults=True) == near
    assert session.setups[1].reach_cm == 59.0
    assert [clip.name for clip in session.clips] == ["right_foot", "pelvis"]
    assert session.clips[0].right_axis == "-y"
    assert [phase.model_dump(exclude_none=True) for phase in session.phases] == phases
    assert session.recorded_at == datetime.fromisoformat("2026-11-20T18:30:00+01:00")
    assert session.recorded_at.utcoffset() == timedelta(hours=1)
    assert session.note == "after class"
    assert session.typed_range_deg == {"right": {"ankle_dorsiflexion": 15.0, "hip_external_rotation": 30.0}}
    assert session.source["kind"] == "csv"
    assert session.warnings == []


def test_samples_are_stored_exactly_and_read_in_si(tmp_path: Path) -> None:
    t, acc, gyr = (np.asarray(part) for part in turning_clip(seed=4))
    units = {"acceleration": "g", "angular_rate": "deg/s"}
    folder = small_folder(
        tmp_path / "f", clips={"right_foot": (t, acc / STANDARD_GRAVITY, np.degrees(gyr))}, units=units
    )
    logbook = Logbook.create(tmp_path / "L")
    session_id = import_folder(folder, logbook)
    raw = read_raw(logbook.clip_path(session_id, "right_foot"))
    np.testing.assert_array_equal(raw.columns["time_s"], t)
    np.testing.assert_array_equal(raw.columns["acc_y"], (acc / STANDARD_GRAVITY)[:, 1])
    np.testing.assert_array_equal(raw.columns["gyr_z"], np.degrees(gyr)[:, 2])
    assert (raw.acceleration_unit, raw.angular_rate_unit) == ("g", "deg/s")
    samples = logbook.read_clip(session_id, "right_foot")
    np.testing.assert_allclose(samples.acc, acc, rtol=1e-13)
    np.testing.assert_allclose(samples.gyr, gyr, rtol=1e-13)
    assert (samples.as_recorded["acc_x.unit"], samples.as_recorded["gyr_x.unit"]) == ("g", "deg/s")


@pytest.mark.parametrize(
    "style", ["BOM", "CRLF", "no newline at the end", "blank lines", "other order", "quoted", "spaces", "plus"]
)
def test_other_ways_to_write_the_same_numbers(good: Path, tmp_path: Path, style: str) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    path = folder / FOOT
    data = path.read_bytes()
    rows = [line.split(b",") for line in data.split()]
    new = {
        "BOM": b"\xef\xbb\xbf" + data,
        "CRLF": data.replace(b"\n", b"\r\n"),
        "no newline at the end": data.rstrip(),
        "blank lines": b"\n" + data.replace(b"\n", b"\n\n", 5) + b"\n\n",
        "other order": b"\n".join(b",".join(row[::-1]) for row in rows),
        "quoted": b"\n".join(b",".join(b'"' + field + b'"' for field in row) for row in rows),
        "plus": b"\n".join(b",".join(re.sub(rb"^(?=[0-9])", b"+", field) for field in row) for row in rows),
        "spaces": b"\n".join(b", ".join(row) for row in rows),
    }[style]
    path.write_bytes(new)
    toml_path = folder / "import.toml"
    if style in ("BOM", "CRLF"):
        text = toml_path.read_bytes()
        toml_path.write_bytes(b"\xef\xbb\xbf" + text if style == "BOM" else text.replace(b"\n", b"\r\n"))
    logbooks = [Logbook.create(tmp_path / name) for name in ("A", "B")]
    a, b = (
        book.read_clip(import_folder(source, book), "right_foot")
        for book, source in zip(logbooks, (good, folder), strict=True)
    )
    np.testing.assert_array_equal(a.time_s, b.time_s)
    np.testing.assert_array_equal(a.acc, b.acc)
    np.testing.assert_array_equal(a.gyr, b.gyr)


def test_sign_flips_and_gaps_are_accepted(tmp_path: Path) -> None:
    t, acc, gyr = (np.asarray(part) for part in turning_clip())
    keep = (t < 8) | (t > 11)
    folder = small_folder(tmp_path / "f", clips={"right_foot": (t[keep], acc[keep], -gyr[keep])})
    session_id = import_folder(folder, tmp_path / "L")
    assert len(Logbook(tmp_path / "L").read_clip(session_id, "right_foot").time_s) == keep.sum()


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ('"2026-11-20T18:30:00Z"', datetime(2026, 11, 20, 18, 30, tzinfo=UTC)),
        ("2026-11-20T18:30:00+01:00", datetime(2026, 11, 20, 17, 30, tzinfo=UTC)),
        ("2026-11-20T18:30:00", datetime(2026, 11, 20, 18, 30).astimezone()),
        ('"2026-11-20 18:30"', datetime(2026, 11, 20, 18, 30).astimezone()),
        ("2026-11-20", datetime(2026, 11, 20).astimezone()),
    ],
)
def test_dates_as_text_or_toml_and_without_offset(good: Path, tmp_path: Path, written: str, expected: datetime) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    toml('"2026-11-20T18:30:00+01:00"', written)(folder)
    session = Logbook(tmp_path / "L") if (tmp_path / "L").exists() else Logbook.create(tmp_path / "L")
    recorded_at = session.session(import_folder(folder, session)).recorded_at
    assert recorded_at == expected
    assert recorded_at.tzinfo is not None


def test_without_a_date_it_is_the_time_of_import(good: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    drop_tables("session")(folder)
    now = datetime.fromisoformat("2027-02-03T04:05:06+00:00")
    session_id = import_folder(folder, tmp_path / "L", now=now)
    assert session_id == "p01-2027-02-03"
    assert Logbook(tmp_path / "L").session(session_id).recorded_at == now
    before = datetime.now().astimezone()
    toml("[units]", "[units] # again")(folder)
    second = Logbook(tmp_path / "L").session(import_folder(folder, tmp_path / "L"))
    assert before <= second.recorded_at <= datetime.now().astimezone()


def test_unknown_keys_are_kept_and_warned_of(good: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    toml('id = "p01"', 'id = "p01"\nhanded = "left"')(folder)
    toml("[session]", "[session]\nweather = 2026-11-20")(folder)
    toml('name = "usual"', 'name = "usual"\nreach = 55')(folder)
    toml('segment = "foot"', 'segment = "foot"\nstrap = "velcro"')(folder)
    append('mood = "good"\n[studio]\nroom = 4\n')(folder)
    with caplog.at_level(logging.WARNING, logger="footroom"):
        session_id = import_folder(folder, tmp_path / "L")
    session = Logbook(tmp_path / "L").session(session_id)
    assert (session.participant.model_extra or {})["handed"] == "left"
    assert (session.setups[0].model_extra or {})["reach"] == 55
    assert (session.clips[0].model_extra or {})["strap"] == "velcro"
    assert (session.phases[1].model_extra or {})["mood"] == "good"
    assert (session.model_extra or {})["kept"] == {"session": {"weather": "2026-11-20"}, "studio": {"room": 4}}
    assert caplog.messages == session.warnings
    assert "import.toml, line 3: `handed` is not known; it is kept." in session.warnings
    assert "import.toml, line 15: `reach` is not known; it is kept (did you mean `reach_cm`?)." in session.warnings
    assert len(session.warnings) == 6


def test_extra_columns_are_left_out_with_a_warning(good: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    lines = (folder / FOOT).read_text(encoding="utf-8").splitlines()
    lines = [f"note,{lines[0]},temp", *(f"é,{line},20" for line in lines[1:])]
    (folder / FOOT).write_text("\n".join(lines), encoding="utf-8")
    session_id = import_folder(folder, tmp_path / "L")
    warnings = Logbook(tmp_path / "L").session(session_id).warnings
    assert warnings == ["right_foot.csv, line 1: columns left out: note, temp."]


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (append("\n[range.right]\nankle_dorsiflexion_deg = 40\n"), "line 35: .*looks like a weight-bearing lunge"),
        (append("\n[range.left]\nankle_dorsiflexion_deg = 14\n"), "line 34: a range is typed for the left, where no"),
        (
            append('\n[[phase]]\nname = "still"\nstart_s = 1\nend_s = 2\nside = "left"\n'),
            "line 38: .*left, where no clip",
        ),
        (toml("2026-11-20T18", "2126-11-20T18"), "line 5: recorded_at 2126-11-20T18:30:00.01:00 lies in the future"),
        (csv_bytes(lambda data: data[: len(data) // 2].rpartition(b"\n")[0]), "right_shank.csv|phase"),
    ],
)
def test_doubtful_input_is_taken_with_a_warning(good: Path, tmp_path: Path, spoil: Spoil, says: str) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    spoil(folder)
    if "shank" in says:
        toml("end_s = 19.0", "end_s = 9.0")(folder)
        toml("[[clip]]", '[[clip]]\nsegment = "shank"\nside = "right"\nfile = "right_shank.csv"\n[[clip]]')(folder)
        toml('\n[[clip]]\nsegment = "shank"\nside = "right"\nfile = "right_shank.csv"\n\n', "\n")(folder)
        says = "right_foot.csv: covers only .* of the 20.0 s of right_shank"
    session_id = import_folder(folder, tmp_path / "L")
    warnings = Logbook(tmp_path / "L").session(session_id).warnings
    assert len(warnings) == 1
    assert re.search(says, warnings[0]), warnings


def test_a_clip_with_no_time_in_common_is_taken_for_another_clock(good: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(good, tmp_path / "folder")
    t, acc, gyr = (np.asarray(part) for part in turning_clip(seed=2))
    write_csv(folder / "right_shank.csv", t + 700.0, acc, gyr)
    session_id = import_folder(folder, tmp_path / "L")
    (warning,) = Logbook(tmp_path / "L").session(session_id).warnings
    assert re.match("right_shank.csv: runs from 700 to 7.* on clocks of their own", warning)


def test_a_phase_in_a_gap_is_warned_of(tmp_path: Path) -> None:
    t, acc, gyr = (np.asarray(part) for part in turning_clip())
    keep = (t < 8) | (t > 12)
    phases = [{"name": "still", "start_s": 9, "end_s": 11}, {"name": "playing", "start_s": 1, "end_s": 19}]
    folder = small_folder(tmp_path / "f", clips={"right_foot": (t[keep], acc[keep], gyr[keep])}, phases=phases)
    session_id = import_folder(folder, tmp_path / "L")
    warnings = Logbook(tmp_path / "L").session(session_id).warnings
    assert warnings == ["import.toml, line 19: the phase still falls into a gap."]


def test_playing_on_two_sides_may_overlap(tmp_path: Path) -> None:
    phases = [
        {"name": "playing", "start_s": 1, "end_s": 10, "side": "right"},
        {"name": "playing", "start_s": 5, "end_s": 15, "side": "left"},
    ]
    clips = {"right_foot": turning_clip(), "left_foot": turning_clip(seed=2)}
    folder = small_folder(tmp_path / "f", clips=clips, phases=phases)
    assert import_folder(folder, tmp_path / "L") == "p01-2026-11-20"


# Again, and again


def test_the_same_folder_twice_is_refused_with_its_id(good: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "L"
    session_id = import_folder(good, logbook)
    copy = shutil.copytree(good, tmp_path / "copy")
    before = snapshot(logbook)
    for folder in (good, copy):
        with pytest.raises(AlreadyInLogbook, match=f"imported before: it is session {session_id}") as refused:
            import_folder(folder, logbook)
        assert refused.value.session_id == session_id
        assert refused.value.exit_status == 2
    assert snapshot(logbook) == before
    Logbook(logbook).delete_session(session_id)
    assert import_folder(good, logbook) == session_id


def test_a_second_session_of_the_day_gets_a_number_and_lengths_are_merged(good: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "L"
    first = shutil.copytree(good, tmp_path / "first")
    toml('id = "p01"', 'id = "p01"\nstature_cm = 170\nhip_width_cm = 17')(first)
    second = shutil.copytree(good, tmp_path / "second")
    toml('id = "p01"', 'id = "p01"\nstature_cm = 172')(second)
    assert import_folder(first, logbook) == "p01-2026-11-20"
    assert import_folder(second, logbook) == "p01-2026-11-20-2"
    assert import_folder(good, logbook) == "p01-2026-11-20-3"
    book = Logbook(logbook)
    known = book.participant("p01")
    assert (known.stature_cm, known.hip_width_cm) == (172, 17)
    assert book.session("p01-2026-11-20").participant.stature_cm == 170
    assert book.session("p01-2026-11-20-2").participant.hip_width_cm == 17
    assert (
        "the same samples are in the logbook already, as session p01-2026-11-20."
        in book.session("p01-2026-11-20-3").warnings
    )


# Cut off in the middle


def _interrupt_at(monkeypatch: pytest.MonkeyPatch, nth: int, error: BaseException) -> list[int]:
    """Let the nth of all calls that touch the disk raise `error`; returns a counter of the calls."""
    calls = [0]

    def counted(function: Callable[..., object], after: bool) -> Callable[..., object]:
        def wrapped(*args: object, **kwargs: object) -> object:
            calls[0] += 1
            due = calls[0] == nth
            if due and not after:
                raise error
            result = function(*args, **kwargs)
            if due:
                raise error
            return result

        return wrapped

    monkeypatch.setattr(files.os, "replace", counted(os.replace, after=False))
    monkeypatch.setattr(files.os, "fsync", counted(os.fsync, after=True))
    monkeypatch.setattr(Path, "write_bytes", counted(Path.write_bytes, after=True))
    monkeypatch.setattr("footroom.logger.recording.pa.ipc.new_file", counted(_new_file, after=False))
    return calls


def _new_file(*args: object, **kwargs: object) -> object:
    from pyarrow import ipc

    return ipc.RecordBatchFileWriter(*args, **kwargs)  # type: ignore[arg-type]


@pytest.mark.parametrize("error", [KeyboardInterrupt(), OSError(28, "No space left on device")], ids=["Ctrl-C", "full"])
@pytest.mark.parametrize("new", [True, False], ids=["new logbook", "existing logbook"])
def test_an_import_cut_off_anywhere_leaves_the_logbook_as_it_was(
    good: Path, tmp_path: Path, error: BaseException, new: bool
) -> None:
    root = tmp_path / "deep" / "er"
    logbook = root / "L"
    if not new:
        other = shutil.copytree(good, tmp_path / "other")
        toml('"p01"', '"p01"\nstature_cm = 170')(other)
        import_folder(other, logbook)
    before = snapshot(tmp_path)
    finished = 0
    for nth in range(1, 100):
        with pytest.MonkeyPatch.context() as patch:
            calls = _interrupt_at(patch, nth, error)
            try:
                session_id = import_folder(good, logbook)
            except KeyboardInterrupt:
                session_id = None
            except FootroomError as refused:
                session_id = None
                assert "(No space left on device); " in str(refused)
        if session_id is not None:  # nothing went wrong, or only the flushing of a folder, which may be impossible
            book = Logbook(logbook)
            assert session_id in book.session_ids() and book.problems() == []
            for name in ("right_foot", "right_shank"):
                assert len(book.read_clip(session_id, name).time_s) == 2000
            finished += 1
            if calls[0] < nth:
                break
            book.delete_session(session_id)
            if new:
                shutil.rmtree(tmp_path / "deep")
        assert snapshot(tmp_path) == before, f"something was left at step {nth}"
    else:
        pytest.fail("the import never came to its end")
    assert nth > 15
    assert finished == 1 or isinstance(error, OSError)


KILLED = """
import os, sys
from footroom.logger import files
from footroom.logger.csv_import import import_folder
left = int(sys.argv[3])
def dying(function):
    def call(*args):
        global left
        left -= 1
        if left == 0:
            os._exit(9)
        return function(*args)
    return call
files.os.replace, files.os.fsync = dying(os.replace), dying(os.fsync)
import_folder(sys.argv[1], sys.argv[2])
"""


@pytest.mark.parametrize("step", [2, 5, 8, 11, 14, 16])
def test_a_process_killed_in_the_middle_leaves_a_logbook_that_works(good: Path, tmp_path: Path, step: int) -> None:
    logbook = tmp_path / "L"
    done = subprocess.run([sys.executable, "-c", KILLED, str(good), str(logbook), str(step)], capture_output=True)
    assert done.returncode == 9, done.stderr.decode()
    book = Logbook.open(logbook, create=True)
    assert book.problems() == []
    for session_id in book.session_ids():  # killed after the session was in place: then it is whole
        assert step > 11 and len(book.read_clip(session_id, "right_shank").time_s) == 2000
        book.delete_session(session_id)
    assert import_folder(good, logbook) == "p01-2026-11-20"
    assert not [path for path in logbook.rglob("*") if files.is_leftover(path)]


def test_what_a_power_cut_left_is_invisible_and_goes_with_the_next_import(good: Path, tmp_path: Path) -> None:
    logbook = Logbook.create(tmp_path / "L")
    half = logbook.path / "sessions" / f"{files.NEW}0123"
    (half / "clips").mkdir(parents=True)
    (half / "session.json").write_text("{", encoding="utf-8")
    (logbook.path / "participants").mkdir()
    (logbook.path / "participants" / f"{files.NEW}0456").write_text("{", encoding="utf-8")
    assert logbook.session_ids() == [] and logbook.problems() == [] and logbook.participant_ids() == []
    session_id = import_folder(good, logbook)
    assert sorted(path.name for path in (logbook.path / "sessions").iterdir()) == [session_id]
    assert sorted(path.name for path in (logbook.path / "participants").iterdir()) == ["p01.json"]


def test_two_imports_at_once_leave_one_session(good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other import finishes between this one's first look and its turn to write."""
    logbook = Logbook.create(tmp_path / "L")
    session_id = import_folder(good, logbook)
    monkeypatch.setattr("footroom.logger.csv_import._refuse_known", lambda *_: None)
    with pytest.raises(AlreadyInLogbook, match=f"already, as session {session_id}"):
        import_folder(good, logbook)
    assert logbook.session_ids() == [session_id]


# The command and a real recording


def test_the_command_prints_the_id_alone_on_the_last_line_of_stdout(good: Path, tmp_path: Path) -> None:
    import typer
    from footroom.logger.command import import_command
    from typer.testing import CliRunner

    app = typer.Typer()
    app.command()(import_command)
    result = CliRunner().invoke(app, [str(good), "--logbook", str(tmp_path / "L")])
    assert result.exit_code == 0
    assert result.stdout == "p01-2026-11-20\n"
    assert "Imported 2 clips, 1 set-up, 17 s of playing." in result.stderr
    again = CliRunner().invoke(app, [str(good)], env={"FOOTROOM_LOGBOOK": str(tmp_path / "L")})
    assert isinstance(again.exception, AlreadyInLogbook)


def test_a_real_ankle_is_imported(tmp_path: Path) -> None:
    """A foot and a shank sensor on a walking person; source and changes in the recording's own README."""
    folder = reference_folder("ankle_encoder")
    session_id = import_folder(folder, tmp_path / "L")
    logbook = Logbook(tmp_path / "L")
    session = logbook.session(session_id)
    assert session_id.startswith("ankle-encoder-")
    assert session.typed_range_deg == {"right": {"ankle_dorsiflexion": 15.0}}
    assert [clip.right_axis for clip in session.clips] == ["+z", "+z"]
    assert session.warnings == []
    samples = logbook.read_clip(session_id, "right_foot")
    rows = np.loadtxt(folder / FOOT, delimiter=",", skiprows=1)
    np.testing.assert_array_equal(samples.time_s, rows[:, 0])
    np.testing.assert_array_equal(samples.acc, rows[:, 1:4])
    np.testing.assert_array_equal(samples.gyr, rows[:, 4:7])
    text = (logbook.session_folder(session_id) / "session.json").read_text(encoding="utf-8")
    assert json.loads(text)["schema_version"] == 1 and text.count("\n") > 30


@pytest.mark.parametrize(("old", "new"), [('"rad/s"', '"deg/s"'), ('"m/s^2"', '"g"')])
def test_wrong_units_of_a_real_ankle_are_noticed(tmp_path: Path, old: str, new: str) -> None:
    folder = shutil.copytree(reference_folder("ankle_encoder"), tmp_path / "f", copy_function=shutil.copyfile)
    toml(old, new)(folder)
    with pytest.raises(InputError, match=f"looks like {re.escape(old.strip(chr(34)))}; write"):
        import_folder(folder, tmp_path / "L")
    assert not (tmp_path / "L").exists()
