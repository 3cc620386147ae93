"""The plot command: files in, a picture out, contradictions refused."""

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from calib.errors import MeasureError
from tests.factories import make_inspection
from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.cli.plot import app
from vision.output.data import save_json


def run(*words: object) -> tuple[int, str]:
    """Run the command; an unusable input is raised as it is to the table."""
    result = CliRunner().invoke(app, [str(word) for word in words])
    if isinstance(result.exception, MeasureError):
        raise result.exception
    return result.exit_code, result.output


@pytest.fixture
def result(tmp_path: Path) -> Path:
    path = tmp_path / "result.json"
    save_json(path, make_inspection())
    return path


@pytest.mark.parametrize(
    ("kind", "more"),
    [
        ("heights", []),
        ("groups", ["--units", "in"]),
        ("loads", []),
        ("history", ["--place", "2I"]),
    ],
)
def test_a_result_becomes_a_picture(
    result: Path, tmp_path: Path, kind: str, more: list[str]
) -> None:
    """Each kind writes the named file and says so."""
    out = tmp_path / f"{kind}.svg"

    code, said = run(kind, result, *more, "--out", out)

    assert code == 0
    assert said.strip() == f"Wrote {out}."
    assert out.read_text().lstrip().startswith("<?xml")


def test_photo_and_caliper_agree_over_several_results(
    result: Path, tmp_path: Path
) -> None:
    """Two results with two caliper readings each make four pairs."""
    out = tmp_path / "agreement.svg"

    code, _ = run("agreement", result, result, "--out", out)

    assert code == 0
    assert out.exists()


def test_an_archive_serves_as_well(tmp_path: Path) -> None:
    """A kept inspection, a place's history and all hand readings can be plotted."""
    archive = new_archive(tmp_path / "shelf")
    for day in (0, 40):
        version = make_version(8, day=day)
        shelf.add(archive, version, added_at=NOON)

    for words in (
        ["heights", "1"],
        ["groups", "2.1", "--units", "in"],
        ["history", "--place", "2I"],
        ["agreement"],
        ["agreement", "--of", "squareness"],
    ):
        out = tmp_path / "a.svg"
        out.unlink(missing_ok=True)
        code, _ = run(*words, "--archive", tmp_path / "shelf", "--out", out)
        assert (code, out.exists()) == (0, True), words
    with pytest.raises(MeasureError, match="no measured spring"):
        run("history", "--place", "9X", "--archive", tmp_path / "shelf")


def test_quiet_prints_nothing(result: Path, tmp_path: Path) -> None:
    """--quiet leaves the file and no word."""
    code, said = run("heights", result, "--out", tmp_path / "a.svg", "--quiet")

    assert (code, said) == (0, "")


@pytest.mark.parametrize(
    "words",
    [
        ["heights"],
        ["heights", "a.json", "b.json"],
        ["loads", "--archive", "shelf"],
        ["history", "a.json"],
        ["heights", "a.json", "--out", "a.pdf"],
        ["weights", "a.json"],
    ],
)
def test_wrong_usage_is_told(words: list[str]) -> None:
    """Options that contradict each other end with code 2."""
    code, _ = run(*words)

    assert code == 2


def test_what_is_not_there_is_said(result: Path, tmp_path: Path) -> None:
    """Nothing to plot is an unusable input with a remedy; no file is written."""
    bare = tmp_path / "bare.json"
    save_json(bare, replace(make_inspection(2), readings={}))
    out = tmp_path / "a.svg"

    with pytest.raises(MeasureError, match="no loads read by hand"):
        run("loads", bare, "--out", out)
    with pytest.raises(MeasureError, match='no measured spring at the place "9X"'):
        run("history", result, "--place", "9X", "--out", out)
    with pytest.raises(MeasureError, match="0 springs with both"):
        run("agreement", bare, "--out", out)
    assert not out.exists()
