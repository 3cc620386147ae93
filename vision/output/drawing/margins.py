"""Above and below the drawing: what it is of, what it came to, what the lines mean."""

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from PIL import ImageDraw

from vision.output.drawing.box import Box
from vision.output.drawing.facts import GAP_SIGN, HEIGHT_SIGN, gather, tally
from vision.output.drawing.lettering import (
    Type,
    cut_to,
    one_line,
    text_width,
    wrap,
    write_text,
)
from vision.output.drawing.strokes import (
    CHAIN,
    DASHED,
    Canvas,
    Floats,
    Stroke,
    draw_dimension,
    draw_loop,
    draw_outside_dimension,
    draw_path,
)
from vision.output.palette import DATUM, FAINT, INK, MEASURE, PLAIN, coat
from vision.output.show import Units, show_quantity
from vision.records.kept import Inspection

if TYPE_CHECKING:
    from collections.abc import Callable

MARGIN_PX = 40
HEADER_PX = 176
FOOTER_PX = 216
TITLE_TYPE = Type(size_px=54, bold=True)
SECOND_TYPE = Type(size_px=30, colour=FAINT)
TALLY_TYPE = Type(size_px=42, bold=True)
KEY_TYPE = Type(size_px=27)
NOTE_TYPE = Type(size_px=25, colour=FAINT)
SAMPLE_PX = 96.0  # a line's sample in the key
TITLE_SHARE = 0.5
KEY_WORDS = (
    "outline",
    "axis",
    "square to the plate",
    "plate",
    f"{HEIGHT_SIGN} free height",
    f"{GAP_SIGN} gap at the square",
)


def write_header(
    draw: ImageDraw.ImageDraw, inspection: Inspection, width: float
) -> None:
    """Name the job at the left, count the outcomes at the right."""
    job = inspection.job
    title = one_line(job.name) or "Valve springs"
    room = TITLE_SHARE * width - MARGIN_PX
    write_text(draw, (MARGIN_PX, 34), cut_to(title, TITLE_TYPE, room), TITLE_TYPE)
    parts = (one_line(job.engine), _day(job.started_at), *inspection.row.photo_names)
    second = " · ".join(one_line(part) for part in parts if part)
    write_text(draw, (MARGIN_PX, 110), cut_to(second, SECOND_TYPE, room), SECOND_TYPE)
    _write_tally(draw, inspection, width)


def _day(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _write_tally(
    draw: ImageDraw.ImageDraw, inspection: Inspection, width: float
) -> None:
    """Set a coloured field for each outcome that occurs."""
    counts = tally(gather(inspection))
    x = width - MARGIN_PX
    if not counts:
        at = (x, HEADER_PX / 2)
        write_text(draw, at, "measured, not judged", TALLY_TYPE, "rm")
    for outcome, count in reversed(counts):
        colours = coat(outcome)
        text = f"{outcome.sign} {count} {outcome.text}"
        style = Type(size_px=TALLY_TYPE.size_px, bold=True, colour=colours.text)
        left = x - text_width(text, style) - 44
        draw.rectangle(
            (left, 46, x, 130), fill=colours.fill, outline=colours.line, width=4
        )
        write_text(draw, ((left + x) / 2, 88), text, style, "mm")
        x = left - 18


def key_places(footer: Box) -> tuple[float, ...]:
    """Choose where each sample of the key begins."""
    places, x = [], footer.left
    for word in (*KEY_WORDS, "target"):
        places.append(x)
        x += SAMPLE_PX + 16 + text_width(word, KEY_TYPE) + 44
    return tuple(places)


def draw_key(canvas: Canvas, footer: Box, *, target: bool) -> None:
    """Draw a sample of each kind of line."""
    y = footer.top + 26
    samples: list[Callable[[Floats], None]] = [
        lambda ends: draw_path(canvas, ends, Stroke(width_px=4, colour=PLAIN.line)),
        lambda ends: draw_path(canvas, ends, Stroke(width_px=3, pattern=CHAIN)),
        lambda ends: draw_path(
            canvas, ends, Stroke(width_px=3, colour=DATUM, pattern=DASHED)
        ),
        lambda ends: draw_path(canvas, ends, Stroke(width_px=4, colour=DATUM)),
        lambda ends: draw_dimension(canvas, ends, Stroke(width_px=3, colour=MEASURE)),
        lambda ends: draw_outside_dimension(
            canvas,
            ends.mean(axis=0) + np.array([[-6.0, 0], [6.0, 0]]),
            SAMPLE_PX / 2 - 6,
            Stroke(width_px=3, colour=MEASURE),
        ),
    ]
    places = key_places(footer)
    for sample, x in zip(samples, places, strict=False):
        sample(np.array([[x, y], [x + SAMPLE_PX, y]]))
    if target:
        x = places[-1]
        corners = np.array(
            [[x, y - 16], [x + 60, y - 16], [x + 60, y + 16], [x, y + 16]]
        )
        draw_loop(canvas, corners, Stroke(width_px=3, colour=DATUM))


def write_footer(
    draw: ImageDraw.ImageDraw, footer: Box, inspection: Inspection, units: Units
) -> None:
    """Name the lines and say what the figures rest on."""
    shows_target = inspection.row.calibration.photo_sha256 in (
        inspection.row.photo_sha256
    )
    words = (*KEY_WORDS, "target") if shows_target else KEY_WORDS
    for word, x in zip(words, key_places(footer), strict=False):
        at = (x + SAMPLE_PX + 16, footer.top + 26)
        write_text(draw, at, word, Type(size_px=KEY_TYPE.size_px, colour=INK), "lm")
    y = footer.top + 74
    for line in wrap(footnote(inspection, units), NOTE_TYPE, footer.width, 4):
        write_text(draw, (footer.left, y), line, NOTE_TYPE)
        y += NOTE_TYPE.line_px


def footnote(inspection: Inspection, units: Units) -> str:
    """Say what U is, how large the scale, and what no photo tells."""
    scale = show_quantity(inspection.row.calibration.px_per_mm, units).text
    views = {getattr(spring, "views", 0) for spring in inspection.row.springs}
    seen = (
        "One view: the gap and the lean are only their parts in the picture; it can "
        "reject a spring for squareness and never accept it. "
        if 1 in views
        else "e₁ is the whole gap from both views; the arrows show its part in each. "
    )
    return (
        "± is the expanded uncertainty U, k = 2 (about 95 %). Lean is drawn 10 times "
        "as large as it is, + to the right as drawn; the bar at its top is U, the "
        f"ticks are the limit. Scale {scale} in the plane of the springs' axes. {seen}"
        "A photo does not show load, cracks or the far side: no photo alone accepts "
        "a spring. "
        f"freestand {inspection.program_version}"
    )
