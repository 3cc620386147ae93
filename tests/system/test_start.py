"""The program starts at once, and its packages hold what it needs."""

import json
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = (
    "cv2",
    "scipy",
    "skimage",
    "matplotlib",
    "sqlalchemy",
    "reportlab",
    "PIL",
    "pint",
)
PROBE = """
import json, sys
from vision.cli.app import main
sys.argv = ["freestand", *sys.argv[1:]]
try:
    main()
except SystemExit as ended:
    code = ended.code
sys.stderr.write(json.dumps([code, sorted(sys.modules)]))
"""
BUILD = """
import sys
from setuptools import build_meta
source, wheel = sys.argv[1:]  # building changes sys.argv
build_meta.build_sdist(source)
build_meta.build_wheel(wheel)
"""


@pytest.mark.parametrize(
    "words", [("--help",), ("measure", "--help"), ("add", "--help")]
)
def test_help_waits_for_nothing_heavy(words: tuple[str, ...]) -> None:
    """Libraries of pictures, numbers and databases are loaded when a command runs."""
    ran = subprocess.run(
        [sys.executable, "-c", PROBE, *words],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )

    code, modules = json.loads(ran.stderr)
    assert code == 0
    assert [name for name in HEAVY if name in modules] == []
    assert "Example" in ran.stdout or "Start with" in ran.stdout


def test_wheel_and_sdist_hold_the_templates(tmp_path: Path) -> None:
    """An installed program can write its sheet."""
    tree = tmp_path / "tree"
    for name in ("calib", "vision"):
        ignore = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / name, tree / name, ignore=ignore)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, tree / name)

    subprocess.run(
        [
            sys.executable,
            "-c",
            BUILD,
            str(tmp_path / "source"),
            str(tmp_path / "wheel"),
        ],
        cwd=tree,
        check=True,
        capture_output=True,
    )

    (wheel,) = (tmp_path / "wheel").glob("*.whl")
    (sdist,) = (tmp_path / "source").glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as packed, tarfile.open(sdist) as source:
        held = (
            set(packed.namelist()),
            {name.partition("/")[2] for name in source.getnames()},
        )
    wanted = {
        path.relative_to(ROOT).as_posix()
        for folder in ("calib", "vision")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and path.suffix != ".pyc"
    }
    for names in held:
        assert wanted - names == set()
