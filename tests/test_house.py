"""The repository as a newcomer meets it: the two commands, the cautions, one version, no trace of one machine.

These look at a checkout, so they are not among the tests that run against an installed wheel.
"""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import footroom
import pytest
from footroom.analysis.motions import MOTION
from footroom.dashboard.command import app
from footroom.dashboard.wording import CAUTION
from footroom.logger.models import PHASE_NAMES, Clip, Participant, Phase, Setup
from reference_data import REPOSITORY
from typer.main import get_command

TEXT_SUFFIXES = {
    ".md", ".py", ".toml", ".cff", ".lock", ".css", ".svg", ".txt", ".cfg", ".yml", ".yaml", ".json", "",
}  # fmt: skip
FOLDERS = (
    "logger", "analysis", "dashboard", "sample_sessions", "tests", "docs", "firmware_notes", "benchmarks", ".ci",
)  # fmt: skip


def read(name: str) -> str:
    return (REPOSITORY / name).read_text(encoding="utf-8")


def plain(text: str) -> str:
    """Words only: no line breaks, list marks or emphasis."""
    return re.sub(r"\s+", " ", re.sub(r"[*_`>]|^[-#] ", "", text, flags=re.MULTILINE))


def text_files() -> list[Path]:
    """Everything a person may read, without what is built or fetched."""
    top = [path for path in REPOSITORY.iterdir() if path.is_file()]
    inner = [path for folder in FOLDERS for path in (REPOSITORY / folder).rglob("*") if path.is_file()]
    return [path for path in top + inner if path.suffix in TEXT_SUFFIXES and "__pycache__" not in path.parts]


@pytest.mark.parametrize(
    "name",
    [
        "README.md", "DEVELOPERS.md", "LICENSE", "CHANGELOG.md", "CITATION.cff", "CONTRIBUTING.md", "SECURITY.md",
        "Makefile", "requirements.lock", "requirements-dev.lock", "docs/import.md", "docs/measures/measures.md",
        "docs/decisions/0001-record-decisions.md", "firmware_notes/README.md", ".ci/run", ".gitignore",
    ],
)  # fmt: skip
def test_what_a_repository_needs_is_there_and_says_something(name):
    assert len(read(name).strip()) > 40


def test_the_commands_of_the_readme_are_targets_of_the_makefile():
    shown = set(re.findall(r"^\s+make (\w+)", read("README.md"), flags=re.MULTILINE))
    targets = set(re.findall(r"^(\w+):", read("Makefile"), flags=re.MULTILINE))
    assert {"demo", "test"} <= shown
    assert shown <= targets


def test_every_command_that_the_texts_show_exists_with_its_options():
    commands = get_command(app).commands  # type: ignore[attr-defined]
    shown = 0
    for name in ("README.md", "DEVELOPERS.md", "docs/import.md", "sample_sessions/README.md"):
        for line in re.findall(r"^(?: {4}|\$ )\s*footroom (.+)$", read(name), flags=re.MULTILINE):
            words = line.split("  ")[0].split()
            assert words[0] in commands, f"{name}: footroom {line}"
            known = {option for parameter in commands[words[0]].params for option in parameter.opts}
            assert {word for word in words if word.startswith("--")} <= known, f"{name}: footroom {line}"
            shown += 1
    assert shown >= 5


def test_one_version_everywhere():
    version = tomllib.loads(read("pyproject.toml"))["project"]["version"]
    assert re.search(rf"^version: {re.escape(version)}$", read("CITATION.cff"), flags=re.MULTILINE)
    assert footroom.__version__ == version, "install the checkout again (make test does)"


def test_the_cautions_stand_in_the_readme_before_anything_is_run():
    text = plain(read("README.md"))
    assert CAUTION in text
    assert text.index(CAUTION) < text.index("make demo")
    for words in (
        "not after recent surgery or injury without a clinician",
        "guardian",
        "pseudonym",
        "licensed practice",
    ):
        assert words in text.lower(), words


def test_the_tree_for_developers_names_every_module_of_the_three_layers():
    tree = read("DEVELOPERS.md")
    for layer in ("logger", "analysis", "dashboard"):
        for path in (REPOSITORY / layer).glob("*.py"):
            assert path.name == "__init__.py" or re.search(rf"\b{path.name}\b", tree), f"{layer}/{path.name}"


def test_links_between_the_texts_lead_somewhere():
    pages = [REPOSITORY / n for n in ("README.md", "DEVELOPERS.md", "CONTRIBUTING.md", "SECURITY.md")]
    pages += [*(REPOSITORY / "docs").rglob("*.md"), *(REPOSITORY / "firmware_notes").rglob("*.md")]
    links = 0
    for page in pages:
        for target in re.findall(r"(?<!!)\[[^\]]+\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            if "://" not in target:
                links += 1
                assert (page.parent / target).exists(), f"{page.relative_to(REPOSITORY)} -> {target}"
    assert links > 10


def test_the_import_page_explains_every_phase_and_every_key():
    page = read("docs/import.md")
    for phase in PHASE_NAMES:
        assert f"`{phase}`" in page, f"phase {phase}"
    for model in (Participant, Setup, Clip, Phase):
        for key in model.model_fields:
            assert f"`{key}`" in page, f"{model.__name__}.{key}"


def test_the_measures_page_explains_every_motion():
    """Its figures: test_measure_registry."""
    page = read("docs/measures/measures.md")
    for name in MOTION:
        assert f"`{name}`" in page, name


def test_decisions_are_numbered_without_a_gap_and_say_when_and_why():
    records = sorted((REPOSITORY / "docs" / "decisions").glob("[0-9]*.md"))
    assert [int(path.name[:4]) for path in records] == list(range(1, len(records) + 1))
    for path in records:
        text = path.read_text(encoding="utf-8")
        for heading in ("Date:", "Status:", "## Context", "## Decision", "## Consequences"):
            assert heading in text, f"{path.name}: {heading}"
        assert len(text.splitlines()) <= 45, f"{path.name} is no short record any more"


def test_nothing_names_one_machine_or_one_registry():
    """Paths and hosts of the place where this was written mean nothing elsewhere."""
    # Written in pieces, so that this file does not find itself.
    hosts = ("files.python" + "hosted", "pypi" + r"\.org", "npm" + r"js\.", "index" + r"-url[ =]+\S*//")
    trace = re.compile("|".join((r"(?<![\w./~-])/(?:wo" + "rk|root|home)/", *hosts)))
    for path in text_files():
        found = trace.search(path.read_text(encoding="utf-8", errors="replace"))
        assert found is None, f"{path.relative_to(REPOSITORY)} names {found.group() if found else ''}"


SKIPPING = """
import pytest
def test_here():
    assert 1 + 1 == 2
def test_with_a_tool():
    pytest.skip("the tool is absent")
@pytest.mark.xfail(reason="known")
def test_known():
    assert 1 + 1 == 3
"""


@pytest.mark.parametrize(
    ("required", "status", "said"), [("0", 0, "1 x the tool is absent"), ("1", 1, "must run here")]
)
def test_a_skip_is_named_and_fails_where_all_are_required(tmp_path, required, status, said):
    (tmp_path / "conftest.py").write_text(read("tests/conftest.py"), encoding="utf-8")
    (tmp_path / "test_parts.py").write_text(SKIPPING, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:dash", "-p", "no:cacheprovider", "--rootdir", tmp_path, tmp_path],
        env={**os.environ, "FOOTROOM_REQUIRE_ALL": required, "PYTEST_ADDOPTS": ""},
        capture_output=True, text=True, encoding="utf-8", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == status, done.stdout
    assert said in done.stdout
    assert "the tool is absent" in done.stdout
    assert "1 xfailed" in done.stdout


def test_a_file_that_skips_itself_fails_too_where_all_are_required(tmp_path):
    (tmp_path / "conftest.py").write_text(read("tests/conftest.py"), encoding="utf-8")
    (tmp_path / "test_absent.py").write_text(
        "import pytest\npytest.importorskip('footroom_has_no_such_part')\n", encoding="utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:dash", "-p", "no:cacheprovider", "--rootdir", tmp_path, tmp_path],
        env={**os.environ, "FOOTROOM_REQUIRE_ALL": "1", "PYTEST_ADDOPTS": ""},
        capture_output=True, text=True, encoding="utf-8", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode not in (0, 5), done.stdout
    assert "footroom_has_no_such_part" in done.stdout
