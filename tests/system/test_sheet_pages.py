"""Printed pages as another program draws them: true size, nothing off the page."""

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.factories import make_inspection
from tests.vision.output.hostile import make_hostile_inspection
from vision.output.card import Card, draw_card
from vision.output.sheet_pdf import render_pdf
from vision.records.kept import Inspection

DPI = 300
MARGIN_PT = 25.0  # what the pages keep free; printers need about 5 mm

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        shutil.which("pdftoppm") is None, reason="no PDF renderer on this machine"
    ),
]


def test_rastered_card_has_its_size(tmp_path: Path) -> None:
    """At 300 dots per inch the 50 mm square is 590.6 dots, within one dot."""
    pdf = tmp_path / "card.pdf"
    pdf.write_bytes(draw_card(Card()))

    subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-gray", "-singlefile", pdf, tmp_path / "card"],
        check=True,
    )

    dark = np.asarray(Image.open(tmp_path / "card.pgm")) < 128
    true = 50 / 25.4 * DPI
    across = [longest_run(row) for row in dark]
    upright = [longest_run(column) for column in dark.T]
    assert sum(abs(run - true) <= 1 for run in across) == pytest.approx(true, abs=1.0)
    assert sum(abs(run - true) <= 1 for run in upright) == pytest.approx(true, abs=1.0)


def longest_run(dark: np.ndarray) -> int:
    """Count the dots of the longest dark run of a line."""
    steps = np.flatnonzero(np.diff(np.pad(dark.astype(np.int8), 1)))
    return int(max(steps[1::2] - steps[::2], default=0))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    "inspection",
    [make_inspection(), make_inspection(24), make_hostile_inspection()],
    ids=["plain", "long row", "hostile"],
)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_no_word_leaves_the_page(
    inspection: Inspection, paper: str, units: str, tmp_path: Path
) -> None:
    """Every word's box lies inside the page's margins."""
    pdf = tmp_path / "sheet.pdf"
    content = render_pdf(
        inspection,
        overlay_jpeg=None,
        units="in" if units == "in" else "mm",
        paper="A4" if paper == "A4" else "Letter",
    )
    pdf.write_bytes(content)

    boxes = subprocess.run(
        ["pdftotext", "-bbox", pdf, "-"], check=True, capture_output=True
    ).stdout.decode()

    width, height = map(
        float, re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', boxes)[0]
    )
    number = r'"(-?[\d.]+)"'
    word = rf"<word xMin={number} yMin={number} xMax={number} yMax={number}>(.*)</word>"
    words = re.findall(word, boxes)
    assert len(words) > 400
    for left, top, right, bottom, text in words:
        assert float(left) >= MARGIN_PT, text
        assert float(right) <= width - MARGIN_PT, text
        assert float(top) >= MARGIN_PT, text
        assert float(bottom) <= height - MARGIN_PT, text
