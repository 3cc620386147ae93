"""The plain recipe on the same picture: threshold, boxes, one scale, OpenCV alone.

It is helped where that costs it nothing: it is told where the target is, and a box
counts only where it holds one spring. It knows nothing of lens, plate or roundness.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scripts.benching.match import in_middle_third, match_places
from scripts.benching.records import Comparison, TrueScene
from scripts.benching.truth import half_widths_px

CLOSE_SHARE = 1 / 300  # of the picture's longer side: highlights cut the wire in two
LEAST_SHARE = 1 / 60  # a smaller box is no spring
TARGET_LIKENESS = 0.7  # intersection over union of the boxes
ONE_SPRING = (0.7, 1.5)  # box width per true width
FREE_HEIGHT, LEAN, WIDTH = "free_height", "lean", "outside_diameter"

Contour = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright box and the lean of the rectangle of least area, px and degrees."""

    x_px: float
    y_px: float
    width_px: float
    height_px: float
    lean_deg: float


def apply_plain_recipe(
    name: str, scene: TrueScene, bgr: NDArray[np.uint8]
) -> tuple[Comparison, ...]:
    """Measure by bounding boxes and one scale; nothing where the target is lost."""
    boxes = find_boxes(bgr)
    px_per_mm = _scale(scene, boxes)
    if px_per_mm is None:
        return ()
    matched = match_places(scene, [box.x_px + box.width_px / 2 for box in boxes])
    halves = half_widths_px(scene)
    compared = []
    for box, index in zip(boxes, matched, strict=True):
        if index is None:
            continue
        share = box.width_px / (2 * halves[index])
        if ONE_SPRING[0] < share < ONE_SPRING[1]:
            compared += _compare(name, scene, index, box, px_per_mm)
    return tuple(compared)


def _compare(
    name: str, scene: TrueScene, index: int, box: Box, px_per_mm: float
) -> list[Comparison]:
    true = scene.springs[index]
    errors = {
        FREE_HEIGHT: box.height_px / px_per_mm - true.free_height_mm,
        LEAN: box.lean_deg - true.lean_x_deg,
        WIDTH: box.width_px / px_per_mm - true.outside_mm,
    }
    return [
        Comparison(
            scene=name,
            staging=scene.staging,
            spring=true.number,
            quantity=quantity,
            error=error,
            expanded=0.0,
            middle=in_middle_third(scene, index),
        )
        for quantity, error in errors.items()
    ]


def find_boxes(bgr: NDArray[np.uint8]) -> list[Box]:
    """Box everything that Otsu's threshold parts from what the border shows."""
    grey = cv2.GaussianBlur(cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY), (5, 5), 0)
    _, mask = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    border = np.concatenate([mask[0], mask[:, 0], mask[:, -1]])
    if border.mean() > 127:
        mask = cv2.bitwise_not(mask)
    size = int(max(mask.shape) * CLOSE_SHARE) | 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, kernel)
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    least = max(mask.shape) * LEAST_SHARE
    boxes = [_box(np.asarray(each, dtype=np.int32)) for each in contours]
    return [box for box in boxes if min(box.width_px, box.height_px) > least]


def _box(contour: Contour) -> Box:
    x, y, width, height = cv2.boundingRect(contour)
    _, _, angle = cv2.minAreaRect(contour)
    turned = (float(angle) + 45.0) % 90.0 - 45.0  # of the side that is nearly upright
    return Box(x_px=x, y_px=y, width_px=width, height_px=height, lean_deg=turned)


def _scale(scene: TrueScene, boxes: list[Box]) -> float | None:
    """Pixels per mm by the height of the target's box, where it has one of its own."""
    if scene.target_height_mm is None or not boxes:
        return None
    low, high = scene.target_px.min(axis=0), scene.target_px.max(axis=0)
    target = Box(
        x_px=float(low[0]),
        y_px=float(low[1]),
        width_px=float(high[0] - low[0]),
        height_px=float(high[1] - low[1]),
        lean_deg=0.0,
    )
    best = max(boxes, key=lambda box: _likeness(box, target))
    if _likeness(best, target) < TARGET_LIKENESS:
        return None
    return best.height_px / scene.target_height_mm


def _likeness(one: Box, two: Box) -> float:
    """Intersection over union."""
    across = min(one.x_px + one.width_px, two.x_px + two.width_px)
    across -= max(one.x_px, two.x_px)
    along = min(one.y_px + one.height_px, two.y_px + two.height_px)
    along -= max(one.y_px, two.y_px)
    shared = max(across, 0.0) * max(along, 0.0)
    areas = one.width_px * one.height_px + two.width_px * two.height_px
    return shared / (areas - shared)
