"""The two reference clips of firmware_notes/, driven by a script: one start of each for any number of lines."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import filelock
import platformdirs
import pytest
from reference_data import REPOSITORY

NOTES = REPOSITORY / "firmware_notes"
WARNINGS = ("-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic")
PACKAGE = Path("node_modules", "@micropython", "micropython-webassembly-pyscript")
HERE = Path(__file__).resolve().parent / "micropython"


def tool(name: str, what_for: str) -> str:
    """The path of a program; skips the test without it."""
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is absent: {what_for}")
    return found


def run(command: list[str | Path], script: list[str]) -> list[str]:
    """The answers to a script, line by line."""
    done = subprocess.run(
        command, input="".join(f"{line}\n" for line in script), capture_output=True, text=True, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def build_c(folder: Path) -> Path:
    """The clip in C on its stub board, as a program. A warning of the compiler is an error."""
    gcc = tool("gcc", "the reference clip in C is not built")
    program = folder / "stub_board"
    sources = [NOTES / "c99" / name for name in ("footroom_wire.c", "footroom_clip.c", "stub_board.c")]
    done = subprocess.run(
        [gcc, *WARNINGS, "-O2", "-o", program, *sources], capture_output=True, text=True, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    return program


def micropython_package() -> Path:
    """MicroPython as WebAssembly, installed once into the user's cache; skips the test where that cannot be done."""
    npm = tool("npm", "MicroPython cannot be installed, so its reference clip is not run")
    wanted = (HERE / "package-lock.json").read_bytes()
    folder = Path(platformdirs.user_cache_dir("footroom-tests", appauthor=False)) / "micropython"
    folder.mkdir(parents=True, exist_ok=True)
    with filelock.FileLock(folder / "install.lock"):
        done_before = folder / "installed.json"
        if not done_before.is_file() or done_before.read_bytes() != wanted:
            for name in ("package.json", "package-lock.json"):
                shutil.copy(HERE / name, folder / name)
            done = subprocess.run(
                [npm, "ci", "--no-audit", "--no-fund"], cwd=folder, capture_output=True, text=True, encoding="utf-8",
                env={**os.environ, "NPM_CONFIG_UPDATE_NOTIFIER": "false"},
            )  # fmt: skip
            if done.returncode != 0:
                pytest.skip(f"MicroPython could not be installed by npm: {done.stderr.strip()[-200:]}")
            done_before.write_bytes(wanted)
    return folder / PACKAGE


def run_micropython(script: list[str]) -> list[str]:
    """The clip in MicroPython on its stub board."""
    node = tool("node", "the reference clip in MicroPython is not run")
    answers = run([node, HERE / "run.mjs", micropython_package(), NOTES / "micropython"], script)
    assert answers[0] == "micropython"
    return answers[1:]
