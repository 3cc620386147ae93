"""The annotated photo: plate, target, and on each spring what was measured."""

import numpy as np
from numpy.typing import NDArray
from PIL import ImageDraw

from calib.camera import on_plane, project
from calib.records import Camera
from vision.output.drawing.box import Box
from vision.output.drawing.cards import PlacedCard, draw_card
from vision.output.drawing.facts import GAP_SIGN, HEIGHT_SIGN, Facts
from vision.output.drawing.lettering import Type, text_width, write_with_halo
from vision.output.drawing.plan import TITLE_PX, Plan
from vision.output.drawing.strokes import (
    CHAIN,
    DASHED,
    Canvas,
    Stroke,
    draw_dimension,
    draw_loop,
    draw_outside_dimension,
    draw_path,
    fill_shape,
)
from vision.output.palette import DATUM, INK, MEASURE, coat
from vision.records.judged import Outcome
from vision.records.measured import Drawing

Floats = NDArray[np.float64]

LINE_SHARE = 1 / 170  # line width over a spring's height on the canvas
THINNEST_PX, THICKEST_PX = 2.0, 4.5
HALO_PX = 2.5
TAG_SHARE = 0.075  # type of the tags over a spring's height
SMALLEST_TAG_PX, LARGEST_TAG_PX = 26.0, 44.0
GAP_RISE = 0.09  # of a spring's height, from its top to the gap's arrows
POINTER_PX = 16.0
TITLE_TYPE = Type(size_px=34, bold=True)
TITLE_LEFT_PX = 40.0


def line_px(plan: Plan) -> float:
    """Choose the usual line width for the springs' size."""
    return float(np.clip(plan.spring_px * LINE_SHARE, THINNEST_PX, THICKEST_PX))


def draw_lines(canvas: Canvas, plan: Plan, camera: Camera | None) -> None:
    """Draw all lines on the photo, the datum first and the dimensions last.

    Without the photo's own camera the plate's line joins the springs' feet.
    """
    width = line_px(plan)
    _draw_datum(canvas, plan, camera, width)
    for card in plan.cards:
        _draw_pointer(canvas, plan, card, width)
    springs = zip(plan.sight.springs, plan.sight.drawings, strict=True)
    for (facts, drawing), edges in zip(springs, plan.sight.edges, strict=True):
        if drawing is None:
            _draw_frame(canvas, plan, edges, facts.outcome)
        else:
            _draw_spring(canvas, plan, facts, drawing)


def draw_words(draw: ImageDraw.ImageDraw, plan: Plan) -> None:
    """Write the cards and the tags at the dimensions."""
    if plan.sight.title:
        at = (TITLE_LEFT_PX, plan.panel.top + TITLE_PX / 2 + 6)
        write_with_halo(draw, at, plan.sight.title, TITLE_TYPE, "lm")
    for card in plan.cards:
        draw_card(draw, card)
    style = tag_type(plan)
    for text, box in tags(plan):
        middle = (box.left + box.right) / 2, (box.top + box.bottom) / 2
        write_with_halo(draw, middle, text, style)


def tag_type(plan: Plan) -> Type:
    """Choose the type of the tags for the springs' size."""
    size = np.clip(TAG_SHARE * plan.spring_px, SMALLEST_TAG_PX, LARGEST_TAG_PX)
    return Type(size_px=float(size), bold=True, colour=MEASURE)


def tags(plan: Plan) -> tuple[tuple[str, Box], ...]:
    """Name the dimensions as the cards do, the height's in its middle."""
    style = tag_type(plan)
    placed = []
    for drawing in plan.sight.drawings:
        if drawing is None:
            continue
        height = plan.window.place(drawing.height_px)
        placed.append((HEIGHT_SIGN, _box(height.mean(axis=0), HEIGHT_SIGN, style)))
        right = plan.window.place(drawing.gap_px)[:, 0].max()
        y = gap_level(plan, drawing)
        reach = tail_px(plan) + text_width(GAP_SIGN, style) * 0.75
        placed.append((GAP_SIGN, _box(np.array([right + reach, y]), GAP_SIGN, style)))
    return tuple(placed)


def _box(middle: Floats, text: str, style: Type) -> Box:
    half_width = text_width(text, style) / 2 + HALO_PX
    half_height = style.size_px * 0.6
    return Box(
        left=float(middle[0]) - half_width,
        top=float(middle[1]) - half_height,
        right=float(middle[0]) + half_width,
        bottom=float(middle[1]) + half_height,
    )


def gap_level(plan: Plan, drawing: Drawing) -> float:
    """Choose the height of the gap's arrows, above the spring's top."""
    crown = plan.window.place(drawing.outline_px)[:, 1].min()
    return float(crown - GAP_RISE * plan.spring_px)


def tail_px(plan: Plan) -> float:
    """Choose the length of the arrows that point at a gap from outside."""
    return 11 * line_px(plan)


def _draw_datum(
    canvas: Canvas, plan: Plan, camera: Camera | None, width: float
) -> None:
    """Draw the plate's line in the plane of the axes, and the target's outline."""
    line = Stroke(width_px=width, colour=DATUM, halo_px=HALO_PX)
    plate = _plate(plan, camera)
    if plate is not None:
        draw_path(canvas, plate, line)
    if plan.sight.target_px is not None:
        draw_loop(canvas, plan.window.place(plan.sight.target_px), line)


def _plate(plan: Plan, camera: Camera | None) -> Floats | None:
    """Follow the plate from side to side of the window."""
    window = plan.window
    placed = _plate_by_feet(plan) if camera is None else _plate_by_camera(plan, camera)
    inside = (placed[:, 1] < window.box.bottom) & (placed[:, 1] > window.box.top)
    return placed[inside] if inside.sum() > 1 else None


def _plate_by_camera(plan: Plan, camera: Camera) -> Floats:
    """Project the line where the axes' plane meets the plate, distortion and all."""
    window = plan.window
    feet = [edges[3] for edges in plan.sight.edges] or [window.top_px]
    level = float(np.median(feet))
    sides = np.array(
        [[window.left_px, level], [window.left_px + window.width_px - 1, level]]
    )
    x = on_plane(camera, sides)[:, 0]
    if not np.isfinite(x).all():
        return np.zeros((0, 2))
    along = np.linspace(x[0], x[1], 60)
    points = np.stack([along, np.zeros(60), np.zeros(60)], axis=1)
    return window.place(project(camera, points))


def _plate_by_feet(plan: Plan) -> Floats:
    """Join the feet of the height dimensions, which stand on the plate."""
    known = [drawing for drawing in plan.sight.drawings if drawing is not None]
    if not known:
        return np.zeros((0, 2))
    feet = plan.window.place(np.array([drawing.height_px[0] for drawing in known]))
    feet = feet[np.argsort(feet[:, 0])]
    slope, level = (
        np.polyfit(feet[:, 0], feet[:, 1], 1) if len(feet) > 1 else (0.0, feet[0, 1])
    )
    ends = np.array([plan.window.box.left, plan.window.box.right - 1])
    sides = np.stack([ends, slope * ends + level], axis=1)
    return np.vstack([sides[:1], feet, sides[1:]])


def _draw_pointer(canvas: Canvas, plan: Plan, placed: PlacedCard, width: float) -> None:
    """Tie a card to its spring: a small pointer, and a line where it stands off."""
    box, x = placed.box, placed.card.anchor_x
    lowest = max(card.box.bottom for card in plan.cards)
    root = float(np.clip(x, box.left + POINTER_PX, box.right - POINTER_PX))
    colour = coat(placed.card.outcome).line
    if box.bottom < lowest or abs(root - x) > 1:
        index = [each.card.position for each in plan.cards].index(placed.card.position)
        crown = plan.window.place(np.array([[0.0, plan.sight.edges[index][1]]]))[0, 1]
        ends = np.array(
            [[root, box.bottom], [x, crown - GAP_RISE * plan.spring_px / 2]]
        )
        draw_path(canvas, ends, Stroke(width_px=width, colour=colour, halo_px=HALO_PX))
    tip = np.array([root, box.bottom + POINTER_PX])
    base = np.array([[root - POINTER_PX, box.bottom], [root + POINTER_PX, box.bottom]])
    fill_shape(canvas, np.vstack([tip, base]), Stroke(width_px=1, colour=colour))


def _draw_frame(
    canvas: Canvas,
    plan: Plan,
    edges: tuple[float, float, float, float],
    outcome: Outcome | None,
) -> None:
    """Frame a spring that was seen and not measured."""
    x0, y0, x1, y1 = edges
    corners = plan.window.place(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    stroke = Stroke(
        width_px=1.3 * line_px(plan),
        colour=coat(outcome).line,
        pattern=DASHED,
        halo_px=HALO_PX,
    )
    draw_loop(canvas, corners, stroke)


def _draw_spring(canvas: Canvas, plan: Plan, facts: Facts, drawing: Drawing) -> None:
    """Draw outline, axis and square line, then height and gap."""
    width, place = line_px(plan), plan.window.place
    bold = 1.7 if facts.outcome is Outcome.REJECT else 1.1
    outline = Stroke(
        width_px=bold * width, colour=coat(facts.outcome).line, halo_px=HALO_PX
    )
    draw_loop(canvas, place(drawing.outline_px), outline)
    square = place(drawing.square_px)
    risen = np.vstack([square, [square[-1][0], gap_level(plan, drawing)]])
    axis = place(drawing.axis_px)
    for path in (risen, axis):
        draw_path(canvas, path, Stroke(width_px=0.8 * width, halo_px=HALO_PX))
    for path, colour, pattern in ((risen, DATUM, DASHED), (axis, INK, CHAIN)):
        bare = Stroke(width_px=0.8 * width, colour=(255, 255, 255))
        draw_path(canvas, path, bare)
        draw_path(
            canvas, path, Stroke(width_px=0.8 * width, colour=colour, pattern=pattern)
        )
    _draw_height(canvas, plan, drawing)
    _draw_gap(canvas, plan, drawing)


def _draw_height(canvas: Canvas, plan: Plan, drawing: Drawing) -> None:
    """Draw the free height beside the spring, from the plate to the top."""
    width, place = line_px(plan), plan.window.place
    ends, top = place(drawing.height_px), place(drawing.top_px)
    thin = Stroke(width_px=0.6 * width, colour=MEASURE, halo_px=HALO_PX)
    nearest = top[np.argmin(np.abs(top[:, 0] - ends[1, 0]))]
    beyond = np.sign(ends[1, 0] - nearest[0]) * 2.5 * width
    over = np.array([ends[1, 0] + beyond, ends[1, 1]])
    draw_path(canvas, np.stack([nearest, over]), thin)
    stroke = Stroke(width_px=0.8 * width, colour=MEASURE, halo_px=HALO_PX)
    draw_dimension(canvas, ends, stroke)


def _draw_gap(canvas: Canvas, plan: Plan, drawing: Drawing) -> None:
    """Draw the gap above the top: arrows from outside, for it is a hair's breadth."""
    width, place = line_px(plan), plan.window.place
    gap = place(drawing.gap_px)
    level = gap_level(plan, drawing)
    thin = Stroke(width_px=0.6 * width, colour=MEASURE, halo_px=HALO_PX)
    end = gap[1]
    draw_path(canvas, np.array([[end[0], end[1]], [end[0], level - 2 * width]]), thin)
    ends = np.array([[gap[:, 0].min(), level], [gap[:, 0].max(), level]])
    stroke = Stroke(width_px=0.8 * width, colour=MEASURE, halo_px=HALO_PX)
    draw_outside_dimension(canvas, ends, tail_px(plan), stroke)
