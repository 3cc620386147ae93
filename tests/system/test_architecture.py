"""The tree keeps the shape that DEVELOPERS.md describes."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

import calib
import vision

ROOT = Path(__file__).resolve().parents[2]
MOST_LINES = 300  # of a module
MOST_BODY_LINES = 40  # of a function, without its docstring
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "vision",
    "calib",
    "tests",
    "sample_images",
    "scripts",
}
MADE_BY_TOOLS = {"build", "dist", "freestand.egg-info"}
Function = ast.FunctionDef | ast.AsyncFunctionDef


def _modules(*folders: str) -> list[Path]:
    return [path for each in folders for path in sorted((ROOT / each).rglob("*.py"))]


def _functions(path: Path) -> Iterator[Function]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, Function):
            yield node


def _body_lines(function: Function) -> int:
    """Count from the first statement after the docstring to the end."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    if not body or function.end_lineno is None:
        return 0
    return function.end_lineno - body[0].lineno + 1


def test_modules_stay_short() -> None:
    """A module that grows past the limit holds two concepts."""
    long = {
        str(path.relative_to(ROOT)): lines
        for path in _modules("calib", "vision", "scripts")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }

    assert long == {}


def test_function_bodies_stay_short() -> None:
    """A body that fits on a screen can be read at once."""
    long = {
        f"{path.relative_to(ROOT)}: {function.name}": _body_lines(function)
        for path in _modules("calib", "vision", "scripts")
        for function in _functions(path)
        if _body_lines(function) > MOST_BODY_LINES
    }

    assert long == {}


def test_the_map_names_every_module() -> None:
    """DEVELOPERS.md has a line for each module of the program."""
    described = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [
        name
        for path in _modules("calib", "vision")
        if path.name != "__init__.py"
        and f"`{(name := path.relative_to(ROOT).as_posix())}`" not in described
    ]

    assert missing == []


def test_the_map_names_no_module_that_is_gone() -> None:
    """What DEVELOPERS.md calls a file of the program is one."""
    described = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    quoted = described.split("`")[1::2]
    gone = [
        name
        for name in quoted
        if name.startswith(("calib/", "vision/", "tests/", "scripts/"))
        and "<" not in name
        and not list(ROOT.glob(name.partition(" ")[0].rstrip("/")))
    ]

    assert gone == []


def test_imports_keep_their_direction() -> None:
    """Every contract in pyproject.toml is kept."""
    lint_imports = Path(sys.executable).with_name("lint-imports")

    ran = subprocess.run(
        [lint_imports, "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert ran.returncode == 0, ran.stdout
    assert "0 broken" in ran.stdout


def test_the_visible_top_level_is_fixed() -> None:
    """Everything else begins with a dot or is made by packaging tools."""
    visible = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith(".") and path.name not in MADE_BY_TOOLS
    }

    assert visible == TOP_LEVEL


@pytest.mark.parametrize("package", [calib, vision])
def test_packages_say_what_comes_in_and_out(package: object) -> None:
    """The first line of a top package is a sentence."""
    assert package.__doc__ is not None
    assert package.__doc__.strip().endswith(".")


def test_templates_travel_with_the_package() -> None:
    """Patterns of package data cover every file that is no module."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = told["tool"]["setuptools"]["package-data"]
    covered = {
        path
        for package, own in patterns.items()
        for each in own
        for path in (ROOT / package).glob(each)
    }
    present = {
        path
        for package in ("calib", "vision")
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.suffix not in {".py", ".pyc"}
    }

    assert present <= covered
