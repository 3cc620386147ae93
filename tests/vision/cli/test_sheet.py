"""The command: a kept inspection in, a sheet as HTML or PDF out."""

from base64 import b64encode
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from calib.errors import ArchiveError, OutputError
from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.cli.sheet import app
from vision.records.kept import Picture, Role


def make_overlay() -> bytes:
    file = BytesIO()
    Image.new("RGB", (64, 40), "navy").save(file, "JPEG")
    return file.getvalue()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive that holds one inspection with photo and overlay."""
    folder = tmp_path_factory.mktemp("kept") / "archive"
    archive = new_archive(folder)
    version = make_version()
    photo = next(one for one in version.pictures if one.role is Role.ROW)
    overlay = Picture(role=Role.OVERLAY, name="overlay.jpg", content=make_overlay())
    shelf.add(archive, replace(version, pictures=(photo, overlay)), added_at=NOON)
    return folder


def run(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(app, [*arguments, "--archive", str(folder)])


def test_html_sheet_carries_the_kept_overlay(folder: Path, tmp_path: Path) -> None:
    """The file names the job and holds the overlay's own bytes."""
    out = tmp_path / "sheet.html"

    result = run(folder, "1", "--out", str(out))

    assert result.exit_code == 0
    page = out.read_text(encoding="utf-8")
    assert "<bdi>head 12</bdi>" in page
    assert b64encode(make_overlay()).decode() in page
    assert "Wrote" in result.output


def test_pdf_sheet_has_the_paper_that_was_asked(folder: Path, tmp_path: Path) -> None:
    """The ending chooses the format, the option the paper."""
    out = tmp_path / "sheet.pdf"

    result = run(folder, "1.1", "--out", str(out), "--paper", "Letter", "--quiet")

    assert result.exit_code == 0
    assert result.output == ""
    assert float(PdfReader(out).pages[0].mediabox.width) == pytest.approx(612.0)


def test_other_units_draw_the_overlay_anew(folder: Path, tmp_path: Path) -> None:
    """A sheet in inches never shows an overlay in mm."""
    out = tmp_path / "sheet.html"

    result = run(folder, "1", "--out", str(out), "--units", "in")

    assert result.exit_code == 0
    page = out.read_text(encoding="utf-8")
    assert b64encode(make_overlay()).decode() not in page
    assert "data:image/jpeg;base64," in page
    assert "L0, in" in page


def test_without_a_name_the_file_is_called_by_its_inspection(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The default name tells number and version."""
    monkeypatch.chdir(tmp_path)

    result = run(folder, "1")

    assert result.exit_code == 0
    assert [path.name for path in tmp_path.iterdir()] == ["sheet-1.1.html"]


@pytest.mark.parametrize("name", ["sheet.docx", "sheet", "sheet.html.txt"])
def test_other_formats_are_wrong_usage(folder: Path, tmp_path: Path, name: str) -> None:
    """Exit code 2, nothing written."""
    result = run(folder, "1", "--out", str(tmp_path / name))

    assert result.exit_code == 2
    assert not list(tmp_path.iterdir())


def test_an_unknown_inspection_is_told(folder: Path, tmp_path: Path) -> None:
    """The archive's own error comes through."""
    result = run(folder, "7", "--out", str(tmp_path / "sheet.html"))

    assert isinstance(result.exception, ArchiveError)


def test_an_unwritable_place_leaves_nothing_behind(
    folder: Path, tmp_path: Path
) -> None:
    """The error names the file; what stood there stays."""
    blocked = tmp_path / "sheet.html"
    blocked.mkdir()

    result = run(folder, "1", "--out", str(blocked))

    assert isinstance(result.exception, OutputError)
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.html"]
