"""Pages of a PDF sheet that carry the job's name and 'page 2 of 6' at their foot."""

from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from vision.output.lettering import REGULAR, one_line
from vision.output.sheet.ink import Ink

FOOTER_PT = 7.0
EDGE = 15 * mm + 6.0  # where the text stands: margin and the frame's padding
FOOT = 10 * mm
NUMBER_ROOM = 30 * mm


class NumberedPages(Canvas):  # type: ignore[misc]
    """Pages that wait until their number is known for 'page 2 of 6'."""

    def __init__(self, *args: Any, footer: str, **kinds: Any) -> None:
        super().__init__(*args, **kinds)
        self._footer = footer
        self._waiting: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802
        """Keep the page for later."""
        self._waiting.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write the pages with their numbers."""
        for state in self._waiting:
            self.__dict__.update(state)
            self._draw_footer(len(self._waiting))
            super().showPage()
        super().save()

    def _draw_footer(self, pages: int) -> None:
        width, _ = self._pagesize
        number = f"page {self.getPageNumber()} of {pages}"
        room = width - 2 * EDGE - NUMBER_ROOM
        self.setFont(REGULAR, FOOTER_PT)
        self.setFillColor(HexColor(Ink.QUIET.light))
        self.drawString(EDGE, FOOT, one_line(self._footer, REGULAR, FOOTER_PT, room))
        self.drawRightString(width - EDGE, FOOT, number)
