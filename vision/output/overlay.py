"""The overlay: the photo of the row as an instrument drawing, for screen and print.

From top to bottom: what was inspected and what it came to; the photo with outline,
axis, square line, plate, height and gap, a card above each spring; the second photo;
each spring close up with its lean ten times enlarged; what the lines mean.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from calib.records import Photo
from vision.output.drawing.box import Box
from vision.output.drawing.facts import gather
from vision.output.drawing.margins import (
    FOOTER_PX,
    HEADER_PX,
    MARGIN_PX,
    draw_key,
    write_footer,
    write_header,
)
from vision.output.drawing.plan import Plan, first_sight, plan_view, second_sight
from vision.output.drawing.row import draw_lines, draw_words
from vision.output.drawing.strip import Cell, draw_strip, plan_strip, write_strip
from vision.output.drawing.window import show_window
from vision.output.leading import lead_inspection
from vision.output.palette import PAPER, SHADE
from vision.output.picture import save_picture
from vision.output.show import Units
from vision.records.kept import Inspection

WIDTH_PX = 3200  # 275 dots per inch across A4 on its side
SPACE_PX = 28


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Where everything goes on a canvas of that height."""

    height_px: int
    plans: tuple[Plan, ...]
    cells: tuple[Cell, ...]
    footer: Box


def draw_overlay(
    photo: Photo,
    inspection: Inspection,
    units: Units = "mm",
    second: Photo | None = None,
) -> NDArray[np.uint8]:
    """Draw the overlay on the row's photo, and on the second one when it is given.

    Returns
    -------
    (h, 3200, 3) uint8, sRGB.
    """
    inspection = lead_inspection(inspection, units)
    photos = [photo] if second is None else [photo, second]
    layout = lay_out(photos, inspection, units)
    canvas = np.full((layout.height_px, WIDTH_PX, 3), PAPER, np.uint8)
    cameras = (inspection.row.calibration.camera, None)
    for plan, shown, camera in zip(layout.plans, photos, cameras, strict=False):
        _ground(canvas, plan)
        show_window(canvas, shown.rgb, plan.window)
        draw_lines(canvas, plan, camera)
    draw_strip(canvas, photo.rgb, layout.cells)
    draw_key(canvas, layout.footer, target=_target(photo, inspection) is not None)
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    write_header(draw, inspection, float(WIDTH_PX))
    for plan in layout.plans:
        draw_words(draw, plan)
    write_strip(draw, layout.cells)
    write_footer(draw, layout.footer, inspection, units)
    return np.asarray(image, dtype=np.uint8)


def save_overlay(
    path: Path,
    photo: Photo,
    inspection: Inspection,
    units: Units = "mm",
    second: Photo | None = None,
) -> None:
    """Draw the overlay and write it as PNG or JPEG, the values in its XMP.

    Raises
    ------
    OutputError
        When the name is not that of a picture or the file cannot be written.
    """
    save_picture(path, draw_overlay(photo, inspection, units, second), inspection)


def lay_out(
    photos: Sequence[Photo], inspection: Inspection, units: Units = "mm"
) -> Layout:
    """Find the place of every part before anything is drawn."""
    springs = gather(inspection)
    target = _target(photos[0], inspection)
    sights = [first_sight(photos[0].size_px, springs, target, units)]
    sights += [second_sight(photo.size_px, springs) for photo in photos[1:]]
    plans: list[Plan] = []
    top = float(HEADER_PX)
    for sight in sights:
        plans.append(plan_view(sight, float(WIDTH_PX), top))
        top = plans[-1].panel.bottom + SPACE_PX
    strip = Box(left=MARGIN_PX, top=top, right=WIDTH_PX - MARGIN_PX, bottom=top)
    cells = plan_strip(springs, photos[0].size_px, strip, units)
    top = max((cell.box.bottom for cell in cells), default=top) + SPACE_PX
    footer = Box(
        left=MARGIN_PX, top=top, right=WIDTH_PX - MARGIN_PX, bottom=top + FOOTER_PX
    )
    return Layout(
        height_px=int(np.ceil(footer.bottom)),
        plans=tuple(plans),
        cells=cells,
        footer=footer,
    )


def _target(photo: Photo, inspection: Inspection) -> NDArray[np.float64] | None:
    """Give the target's outline where this very photo shows it."""
    calibration = inspection.row.calibration
    outline = calibration.target_outline_px
    shows = photo.sha256 == calibration.photo_sha256 and len(outline) > 0
    return outline if shows else None


def _ground(canvas: NDArray[np.uint8], plan: Plan) -> None:
    rows = slice(round(plan.panel.top), round(plan.panel.bottom))
    canvas[rows] = SHADE
