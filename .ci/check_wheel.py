"""Every file of the package that is in git must be in the wheel, too.

python .ci/check_wheel.py CHECKOUT WHEEL
"""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

FOLDERS = {
    "dashboard/root/": "footroom/",
    "logger/": "footroom/logger/",
    "analysis/": "footroom/analysis/",
    "dashboard/": "footroom/dashboard/",
    "sample_sessions/": "footroom/sample_sessions/",
}


def place_in_wheel(path: str) -> str | None:
    """Where a file of the checkout belongs in the wheel; None if it is not part of the package."""
    for folder, package in FOLDERS.items():
        if path.startswith(folder):
            return package + path.removeprefix(folder)
    return None


def main(checkout: Path, wheel: Path) -> int:
    """Print what is missing; 1 if anything is."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=checkout, capture_output=True, text=True, check=True
    ).stdout.split("\0")
    wanted = {place for path in listed if (place := place_in_wheel(path))}
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    missing = sorted(wanted - held)
    for name in missing:
        print(f"{wheel.name} lacks {name}: see packages and package-data in pyproject.toml")
    print(f"{wheel.name}: {len(wanted) - len(missing)} of {len(wanted)} files of the package")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
