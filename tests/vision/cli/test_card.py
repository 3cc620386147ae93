"""The command: a printed target out, and the reference file beside it."""

import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from calib.errors import OutputError
from tests.vision.output.printed_boxes import page_size_mm, read_boxes
from vision.cli.card import app


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def test_card_and_reference_file_are_written(tmp_path: Path) -> None:
    """Exit code 0; the file beside the card has the chosen sizes."""
    out = tmp_path / "card.pdf"

    result = run(
        str(out), "--side-mm", "60", "--bottom-margin-mm", "12", "--paper", "Letter"
    )

    assert result.exit_code == 0
    reference = tomllib.loads((tmp_path / "card.reference.toml").read_text())
    assert (reference["side_mm"], reference["bottom_margin_mm"]) == (60.0, 12.0)
    assert page_size_mm(out.read_bytes()) == pytest.approx((215.9, 279.4), abs=0.05)
    assert any(
        box.width_mm == pytest.approx(60.0, abs=0.001)
        for box in read_boxes(out.read_bytes())
    )
    assert "enter what was measured" in result.output


def test_measured_values_are_never_overwritten(tmp_path: Path) -> None:
    """A reference file that stands there already is kept, and the user is told."""
    reference = tmp_path / "card.reference.toml"
    reference.write_text("side_mm = 49.87\n")

    result = run(str(tmp_path / "card.pdf"))

    assert result.exit_code == 0
    assert reference.read_text() == "side_mm = 49.87\n"
    assert "kept as it is" in " ".join(result.output.split())


def test_chessboard_names_what_the_lens_command_wants(tmp_path: Path) -> None:
    """Inner corners go to both commands; no reference file is written."""
    out = tmp_path / "board.pdf"

    result = run(str(out), "--chessboard", "--columns", "8", "--rows", "5")

    assert result.exit_code == 0
    assert "--columns 8 --rows 5" in result.output
    assert [path.name for path in tmp_path.iterdir()] == ["board.pdf"]


@pytest.mark.parametrize(
    "options",
    [
        ["--side-mm", "200"],
        ["--side-mm", "nan"],
        ["--side-mm", "inf"],
        ["--bottom-margin-mm", "300"],
        ["--chessboard", "--pitch-mm", "60"],
        ["--paper", "A3"],
    ],
)
def test_what_does_not_fit_is_wrong_usage(tmp_path: Path, options: list[str]) -> None:
    """Exit code 2, and no file is written."""
    result = run(str(tmp_path / "card.pdf"), *options)

    assert result.exit_code == 2
    assert not list(tmp_path.iterdir())


def test_no_other_file_is_written_over(tmp_path: Path) -> None:
    """A card is a PDF file; a photo named by mistake stays what it was."""
    photo = tmp_path / "row.jpg"
    photo.write_bytes(b"a photo")

    result = run(str(photo))

    assert result.exit_code == 2
    assert "must end in .pdf" in " ".join(result.output.split())
    assert photo.read_bytes() == b"a photo"


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    """The error names the file and what to do."""
    result = run(str(tmp_path / "none" / "card.pdf"))

    assert isinstance(result.exception, OutputError)
    assert "card.pdf: cannot be written" in str(result.exception)


def test_quiet_prints_nothing(tmp_path: Path) -> None:
    """With --quiet the files are written without a word."""
    result = run(str(tmp_path / "card.pdf"), "--quiet")

    assert result.exit_code == 0
    assert result.output == ""
    assert (tmp_path / "card.pdf").is_file()
