"""The layers keep apart: what imports what, read from the source without running it.

    logger (knows nothing above it)  <-  analysis  <-  dashboard;   sample_sessions serves the demo only

These look at a checkout, so they are not among the tests that run against an installed wheel.
"""

import ast
import tomllib
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from reference_data import REPOSITORY

LAYERS = ("logger", "analysis", "dashboard", "sample_sessions")
# For each folder, the other folders of ours that it may import from.
ALLOWED = {
    "logger": set(),
    "analysis": {"logger", "root"},
    "dashboard": {"logger", "analysis", "sample_sessions", "root"},
    "sample_sessions": {"logger"},
}
PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))
SOURCES = sorted(
    path.relative_to(REPOSITORY).as_posix() for layer in LAYERS for path in (REPOSITORY / layer).rglob("*.py")
)


def module_name(path: str) -> str:
    """`footroom.analysis.tape` for `analysis/tape.py`, as the package maps its folders."""
    parts = list(Path(path).with_suffix("").parts)
    parts = parts[2:] if parts[:2] == ["dashboard", "root"] else parts
    return ".".join(["footroom", *(part for part in parts if part != "__init__")])


MODULES = {module_name(path): path for path in SOURCES}


def without_type_checking(tree: ast.Module) -> ast.Module:
    """The tree without what only a type checker imports."""
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            node.body = [ast.Pass()]
    return tree


def imports_of(path: str, source: str | None = None, *, for_types: bool = True) -> set[str]:
    """Full names of all that a file imports, also inside functions; relative ones resolved.

    for_types: with those that only a type checker reads.
    """
    text = (REPOSITORY / path).read_text(encoding="utf-8") if source is None else source
    tree = ast.parse(text) if for_types else without_type_checking(ast.parse(text))
    here = module_name(path).split(".")
    package = here if path.endswith("__init__.py") else here[:-1]
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            found |= {f"{module}.{alias.name}" for alias in node.names}
    return found


def our_module(name: str) -> str | None:
    """The module of ours that an imported name is or lies in; None for other people's."""
    parts = name.split(".")
    if parts[0] != "footroom":
        return None
    return next((n for k in range(len(parts), 0, -1) if (n := ".".join(parts[:k])) in MODULES), None)


def layer_of(module: str) -> str:
    """The top-level folder a module lives in; "root" for the package's own two files."""
    path = MODULES[module]
    return "root" if path.startswith("dashboard/root/") else path.split("/")[0]


def test_relative_imports_are_resolved_as_python_does():
    source = "from ..logger.errors import InputError\nfrom . import files\ndef f():\n    from .. import a\nimport numpy"
    assert imports_of("analysis/x.py", source) == {
        "footroom.logger.errors.InputError", "footroom.analysis.files", "numpy", "footroom.a",
    }  # fmt: skip
    assert imports_of("dashboard/pages/__init__.py", "from .shell import Page") == {
        "footroom.dashboard.pages.shell.Page"
    }
    assert our_module("footroom.logger.errors.InputError") == "footroom.logger.errors"
    assert our_module("numpy.typing") is None


@pytest.mark.parametrize("path", SOURCES)
def test_a_layer_imports_only_what_lies_below_it(path):
    here = layer_of(module_name(path))
    if here == "root":
        assert path.endswith(("__init__.py", "__main__.py"))
        return
    used = {layer_of(module) for name in imports_of(path) if (module := our_module(name)) is not None}
    assert used - {here} <= ALLOWED[here], f"{path} reaches up"


@pytest.mark.parametrize("path", SOURCES)
def test_nothing_is_imported_by_the_folders_bare_name(path):
    """`import logger` from the checkout would be a second copy of the package, and not exist once installed."""
    tree = ast.parse((REPOSITORY / path).read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and not node.level}
    assert not {name.split(".")[0] for name in names} & {*LAYERS, "footroom"}, "use relative imports"


def test_the_seated_leg_stands_alone():
    """One home for the leg's kinematics, pure: nothing of ours below it."""
    assert {name for name in imports_of("logger/virtual_leg.py") if name.startswith("footroom")} == set()


def test_only_the_demo_uses_the_sample_sessions():
    users = {
        path
        for path in SOURCES
        if not path.startswith("sample_sessions/")
        and any((our_module(name) or "").startswith("footroom.sample_sessions") for name in imports_of(path))
    }
    assert users == {"dashboard/demo.py"}


def test_screens_and_ports_stay_out_of_the_lower_layers():
    """No page library in analysis or logger, no hardware library in analysis."""
    screens, ports = {"dash", "plotly", "dash_mantine_components", "flask"}, {"serial", "bleak"}
    for path in SOURCES:
        tops = {name.split(".")[0] for name in imports_of(path)}
        if path.startswith(("logger/", "analysis/", "sample_sessions/")):
            assert not tops & screens, path
        if path.startswith("analysis/"):
            assert not tops & ports, path


def test_no_two_modules_import_each_other_round_a_corner():
    graph = {
        name: {module for used in imports_of(path, for_types=False) if (module := our_module(used)) is not None}
        - {name, "footroom"}
        for name, path in MODULES.items()
    }
    try:
        order = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(f"imports run in a circle: {' -> '.join(error.args[1])}")
    assert order.index("footroom.logger.errors") < order.index("footroom.analysis.pipeline")


def test_every_package_is_listed_for_the_wheel():
    """A folder missing from `packages` works from a checkout and is absent for everybody else."""
    setuptools = PROJECT["tool"]["setuptools"]
    tops = {folder: name for name, folder in setuptools["package-dir"].items()}
    folders = {
        path.parent.relative_to(REPOSITORY).as_posix()
        for layer in LAYERS
        for path in (REPOSITORY / layer).rglob("*")
        if path.suffix == ".py" and "__pycache__" not in path.parts
    }
    names = {tops.get(folder, f"footroom.{folder.replace('/', '.')}") for folder in folders}
    assert names == set(setuptools["packages"])
    for folder in folders:
        assert (REPOSITORY / folder / "__init__.py").is_file(), f"{folder} has no __init__.py"


def test_other_files_of_the_package_are_named_for_the_wheel():
    """Style sheets, example recordings and the like: each matches a pattern in package-data."""
    setuptools = PROJECT["tool"]["setuptools"]
    tops = {name: folder for name, folder in setuptools["package-dir"].items()}
    covered: set[Path] = set()
    for package, patterns in setuptools["package-data"].items():
        folder = REPOSITORY / tops.get(package, package.removeprefix("footroom.").replace(".", "/"))
        for pattern in patterns:
            matches = set(folder.glob(pattern))
            assert matches, f"package-data {package}: {pattern!r} matches nothing"
            covered |= matches
    others = {
        path
        for layer in LAYERS
        for path in (REPOSITORY / layer).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc")
    }
    assert others <= covered, sorted(map(str, others - covered))
