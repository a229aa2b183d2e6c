"""Where the shared reference recordings are: outside the project, and not everybody has them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parent.parent


def reference_folder(name: str) -> Path:
    """The folder of a reference recording; skips the test without it (fails when FOOTROOM_REQUIRE_ALL=1)."""
    root = os.environ.get("FOOTROOM_REFERENCE_DATA")
    folder = (Path(root) if root else REPOSITORY.parent / "shared" / "data") / name
    if folder.is_dir():
        return folder
    reason = f"reference recording {name} is absent (looked in ../shared/data; FOOTROOM_REFERENCE_DATA moves it)"
    if os.environ.get("FOOTROOM_REQUIRE_ALL") == "1":
        pytest.fail(reason)
    pytest.skip(reason)
