"""The PDF sheet: right paper, embedded type, same content, any text as text."""

from dataclasses import replace
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.factories import make_inspection
from tests.vision.output.hostile import HEBREW, OVERRIDE, make_hostile_inspection
from vision.output.sheet.words import HEADINGS, PAIRS
from vision.output.sheet_pdf import Paper, render_pdf

PT_PER_MM = 72 / 25.4


def make_jpeg() -> bytes:
    """A picture of 300 by 200 px."""
    file = BytesIO()
    Image.new("RGB", (300, 200), "grey").save(file, "JPEG")
    return file.getvalue()


@pytest.fixture(scope="module")
def reader() -> PdfReader:
    return PdfReader(BytesIO(render_pdf(make_inspection(), overlay_jpeg=make_jpeg())))


def all_text(reader: PdfReader) -> str:
    return "\n".join(page.extract_text() for page in reader.pages)


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    [
        ("A4", 210.0, 297.0),  # ISO 216
        ("Letter", 215.9, 279.4),  # 8.5 in x 11 in, ANSI/ASME Y14.1
    ],
)
def test_paper_has_its_size(paper: Paper, width_mm: float, height_mm: float) -> None:
    """Each page is as large as the paper that was asked for."""
    pdf = render_pdf(make_inspection(2), overlay_jpeg=None, paper=paper)

    for page in PdfReader(BytesIO(pdf)).pages:
        assert float(page.mediabox.width) / PT_PER_MM == pytest.approx(
            width_mm, abs=0.1
        )
        assert float(page.mediabox.height) / PT_PER_MM == pytest.approx(
            height_mm, abs=0.1
        )


def test_says_what_the_html_says(reader: PdfReader) -> None:
    """Every section, verdict and identity is there."""
    text = all_text(reader)
    inspection = make_inspection()

    assert all(heading in text for heading in HEADINGS.values())
    assert "Do not refit springs 2 and 6." in text
    assert "the wire looks redder than the set" in " ".join(text.split())
    assert "against the median of the others" in text
    assert PAIRS in text
    assert "48.12 ±\xa00.07" in text or "48.12 ± 0.07" in text
    assert inspection.row.photo_sha256[0] in text
    assert "by hand" in text
    assert "5.000 ± 0.008 px/mm" in text


def test_type_is_embedded(reader: PdfReader) -> None:
    """Every typeface that draws a letter travels in the file."""
    fonts = {
        reference.get_object()["/BaseFont"]: reference.get_object()
        for page in reader.pages
        for reference in page["/Resources"]["/Font"].values()
    }
    used = {name for name in fonts if "DejaVu" in name}

    assert used
    for name in used:
        assert "/FontFile2" in fonts[name]["/FontDescriptor"].get_object()


def test_outline_leads_to_each_section(reader: PdfReader) -> None:
    """The file's outline has the sections, springs below them."""
    titles = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    parts = [entry for entry in reader.outline if isinstance(entry, list)]

    assert titles == [text for key, text in HEADINGS.items() if key != "cautions"]
    assert any(part.title == "Spring 3 · 3I" for group in parts for part in group)


def test_names_its_language_and_title(reader: PdfReader) -> None:
    """A reading machine finds language and title."""
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == "Valve spring inspection: head 12 (invented)"


def test_numbers_its_pages(reader: PdfReader) -> None:
    """The foot of each page tells its number, the number of pages and the job."""
    count = len(reader.pages)

    for number, page in enumerate(reader.pages, start=1):
        assert f"page {number} of {count}" in page.extract_text()
        assert "head 12 (invented)" in page.extract_text()


def test_each_spring_stands_on_one_page(reader: PdfReader) -> None:
    """A spring's heading and its last line share a page."""
    pages = [page.extract_text() for page in reader.pages]

    for position in range(1, 9):
        start = next(
            n for n, text in enumerate(pages) if f"Spring {position} · " in text
        )
        part = pages[start].split(f"Spring {position} · ")[1]
        assert "looked over by hand" in part.split("Spring ")[0]


def test_shows_hostile_text_as_text() -> None:
    """Markup is drawn as letters; right-to-left words are drawn in reading order."""
    pdf = render_pdf(make_hostile_inspection(), overlay_jpeg=None)

    first = PdfReader(BytesIO(pdf)).pages[0].extract_text()
    drawn = HEBREW[::-1]  # drawing order of a run that is read from the right

    assert "<script>alert('x')</script>" in first
    assert drawn in first or HEBREW in first
    assert OVERRIDE not in first
    assert first.count("W") >= 100


def test_text_of_any_length_fits_on_pages() -> None:
    """Notes longer than a page go on on the next one."""
    inspection = make_inspection(2)
    findings = {
        position: replace(found, note="burnt " * 2000)
        for position, found in inspection.findings.items()
    }
    job = replace(inspection.job, name="N" * 5000)

    pdf = render_pdf(replace(inspection, job=job, findings=findings), overlay_jpeg=None)

    assert all_text(PdfReader(BytesIO(pdf))).count("burnt") >= 4000


def test_same_inspection_gives_the_same_bytes() -> None:
    """Nothing in the file depends on when or how often it is written."""
    first, second = (render_pdf(make_inspection(2), overlay_jpeg=None) for _ in "ab")

    assert first == second


def test_empty_row_is_said_to_be_empty() -> None:
    """A row without springs gives a sheet that does not praise them."""
    inspection = make_inspection(1)
    row = replace(inspection.row, springs=())
    bare = replace(inspection, row=row, verdicts=(), sets=(), readings={})

    text = all_text(PdfReader(BytesIO(render_pdf(bare, overlay_jpeg=None))))

    assert "No spring was found on the photo." in text
    assert "meets every requirement" not in text
