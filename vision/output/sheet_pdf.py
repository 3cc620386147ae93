"""The inspection sheet as a PDF file, with the same content as the HTML sheet."""

from io import BytesIO
from typing import Literal

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, SimpleDocTemplate

from vision.output.lettering import load_fonts
from vision.output.plaintext import clean
from vision.output.sheet import pdf_details, pdf_front
from vision.output.sheet.content import compose_sheet
from vision.output.sheet.parts import Sheet
from vision.output.sheet.pdf_pages import NumberedPages
from vision.output.show import Units
from vision.records.kept import Inspection

Paper = Literal["A4", "Letter"]
SIZES = {"A4": A4, "Letter": LETTER}
MARGIN = 15 * mm
FOOT = 18 * mm
FRAME_PADDING_PT = 6.0


def render_pdf(
    inspection: Inspection,
    *,
    overlay_jpeg: bytes | None,
    units: Units = "mm",
    paper: Paper = "A4",
) -> bytes:
    """Write the sheet; the same inspection gives the same bytes."""
    load_fonts()
    sheet = compose_sheet(inspection, units)
    file = BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=SIZES[paper],
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=FOOT,
        title=clean(sheet.title),
        author=f"Freestand {clean(inspection.program_version)}",
        subject="Valve spring inspection",
        lang="en",
        invariant=1,
    )
    footer = f"{inspection.job.name} · Freestand {inspection.program_version}"
    document.build(
        _story(sheet, overlay_jpeg, document.width - 2 * FRAME_PADDING_PT),
        canvasmaker=lambda *args, **kinds: NumberedPages(*args, footer=footer, **kinds),
    )
    return file.getvalue()


def _story(sheet: Sheet, overlay_jpeg: bytes | None, width: float) -> list[Flowable]:
    return [
        *pdf_front.title_block(sheet, width),
        *pdf_front.result(sheet, width),
        pdf_front.cautions(width),
        *pdf_front.row(sheet, overlay_jpeg, width),
        *pdf_front.places(sheet, width),
        *pdf_details.set_blocks(sheet.sets, width),
        *pdf_details.lean_blocks(sheet.leans, width),
        *pdf_details.load_blocks(sheet, width),
        *pdf_details.spring_blocks(sheet.springs, width),
        *pdf_details.origin_blocks(sheet, width),
        pdf_front.signatures(width),
    ]
