"""Scene in, the light of its whole picture and its truth out."""

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from scripts.rendering.camera import project
from scripts.rendering.records import Camera, Floats, Scene, SpringTruth
from scripts.rendering.solid import place_spring
from scripts.rendering.stage import HALF_WIDTH_MM
from scripts.rendering.target import BOX_POINTS, build_target
from scripts.rendering.trace import load_scene, trace

CELL_PX = 6
CELL_SAMPLES = 36
MARGIN_PX = 22
SMOOTH_CELLS = 1.8  # about objects, where their shadows end sharply
SMOOTH_FAR_CELLS = 7.0
FAR_CELLS = 14
SMOOTH_PX = 4.0
SMOOTH_OBJECT_PX = 0.9

Mask = npt.NDArray[np.bool_]


def expose_scene(scene: Scene) -> tuple[Floats, list[SpringTruth]]:
    """Trace a scene: linear light (height, width, 3), and the springs' truths."""
    built = [place_spring(spring) for spring in scene.springs]
    springs = [mesh for mesh, _ in built]
    target = build_target(scene.target) if scene.target else {}
    loaded = load_scene(scene.stage, springs, target)
    parts = [mesh.vertices for mesh in springs]
    for mesh in target.values():
        parts += list(mesh.vertices.reshape(-1, BOX_POINTS, 3))
    mask = mask_objects(scene.camera, parts)
    plate, wall = trace_ground(loaded, scene)
    light = trace_objects(loaded, scene, mask, (plate, wall))
    return light, [truth for _, truth in built]


def mask_objects(camera: Camera, parts: list[Floats]) -> Mask:
    """Mark the pixels about parts, given by their points: boxes with a margin."""
    mask = np.zeros((camera.height_px, camera.width_px), dtype=bool)
    for points in parts:
        pixels = project(camera, points)
        left, top = np.floor(pixels.min(axis=0)).astype(int) - MARGIN_PX
        right, bottom = np.ceil(pixels.max(axis=0)).astype(int) + MARGIN_PX + 1
        mask[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)] = True
    return mask


def trace_ground(loaded: Any, scene: Scene) -> tuple[Floats, Floats]:
    """Trace plate and backdrop coarsely, each as if it alone filled the picture."""
    camera = scene.camera
    rows = -(-camera.height_px // CELL_PX)
    columns = -(-camera.width_px // CELL_PX)
    y, x = np.mgrid[0:rows, 0:columns]
    corners = np.column_stack((x.ravel(), y.ravel())).astype(np.float64) * CELL_PX
    layers = trace(loaded, camera, corners, CELL_PX, CELL_SAMPLES)
    grid = layers.reshape(rows, columns, 3, 4).astype(np.float32)
    near = nearness(grid)
    if scene.stage.backdrop == "sweep":
        both = fill_layer(grid[:, :, 1] + grid[:, :, 2], near, camera)
        return both, both
    # No shadow ends sharply on the backdrop, so all of it is smoothed widely.
    return (
        fill_layer(grid[:, :, 1], np.maximum(near, edge_nearness(grid)), camera),
        fill_layer(grid[:, :, 2], np.zeros_like(near), camera),
    )


def nearness(grid: Floats) -> Floats:
    """Return how near (1..0) each cell of the plate is to objects on it."""
    size = 2 * FAR_CELLS + 1
    covered = (grid[:, :, 0, 0] > 0.0).astype(np.float32)
    about = cv2.dilate(covered, np.ones((size, size))).astype(np.float32)
    about = spread(about, FAR_CELLS / 3)
    plate = fill_gaps(grid[:, :, 1, :1], 1.0 - grid[:, :, 0, 0], SMOOTH_FAR_CELLS)
    return np.asarray(about[:, :, None] * np.atleast_3d(plate))


def edge_nearness(grid: Floats) -> Floats:
    """Return how near (1..0) each cell is to the plate's back edge.

    There the plate mirrors the backdrop more with every millimetre.
    """
    size = 2 * FAR_CELLS + 1
    both = np.minimum(grid[:, :, 1, 0], grid[:, :, 2, 0]) > 0.0
    about = cv2.dilate(both.astype(np.float32), np.ones((size, size)))
    return spread(about.astype(np.float32), FAR_CELLS / 3)[:, :, None]


def fill_layer(layer: Floats, near: Floats, camera: Camera) -> Floats:
    """Smooth a layer of cells, little near objects, and enlarge it."""
    sharp = fill_gaps(layer[:, :, 1:], layer[:, :, 0], SMOOTH_CELLS)
    soft = fill_gaps(layer[:, :, 1:], layer[:, :, 0], SMOOTH_FAR_CELLS)
    return draw_out(near * sharp + (1.0 - near) * soft, camera)


def share_of_plate(scene: Scene) -> Floats:
    """Return how much of each pixel (h, w, 1) lies before the plate's back edge."""
    camera = scene.camera
    if scene.stage.backdrop == "sweep":
        return np.ones((camera.height_px, camera.width_px, 1), dtype=np.float32)
    along = np.linspace(-HALF_WIDTH_MM, HALF_WIDTH_MM, 3001)
    back = np.full_like(along, scene.stage.back_edge_mm)
    edge = project(camera, np.column_stack((along, back, np.zeros_like(along))))
    level = np.interp(np.arange(camera.width_px), edge[:, 0], edge[:, 1])
    below = np.arange(camera.height_px)[:, None] - level[None, :] + 0.5
    return np.clip(below, 0.0, 1.0).astype(np.float32)[:, :, None]


def fill_gaps(light: Floats, seen: Floats, sigma: float) -> Floats:
    """Smooth a layer's light over its gaps, the more widely the less is seen."""
    filled, left = np.zeros_like(light), np.ones_like(light[:, :, :1])
    for wider in (1.0, 4.0, 16.0, 64.0):
        weight = spread(seen, wider * sigma)
        total = np.atleast_3d(spread(light, wider * sigma))
        enough = np.clip(weight / 0.1, 0.0, 1.0)[:, :, None]
        filled += left * enough * total / np.maximum(weight, 1e-6)[:, :, None]
        left = left * (1.0 - enough)
    return filled


def draw_out(grid: Floats, camera: Camera) -> Floats:
    """Enlarge a grid of cells to the picture; cells are centred between pixels."""
    across = ((np.arange(camera.width_px) + 0.5) / CELL_PX - 0.5).astype(np.float32)
    down = ((np.arange(camera.height_px) + 0.5) / CELL_PX - 0.5).astype(np.float32)
    x, y = np.meshgrid(across, down)
    return np.asarray(
        cv2.remap(grid, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    )


def trace_objects(
    loaded: Any, scene: Scene, mask: Mask, ground: tuple[Floats, Floats]
) -> Floats:
    """Trace the masked pixels one by one and lay them over plate and backdrop."""
    plate, wall = ground
    y, x = np.nonzero(mask)
    corners = np.column_stack((x, y)).astype(np.float64)
    layers = np.zeros((*mask.shape, 12), dtype=np.float32)
    layers[y, x] = trace(loaded, scene.camera, corners, 1, scene.samples)
    cover = layers[:, :, :1]
    objects, _ = smooth_layer(layers[:, :, 1:4], cover, SMOOTH_OBJECT_PX)
    mean, known = smooth_layer(layers[:, :, 5:8], layers[:, :, 4:5], SMOOTH_PX)
    inner = cv2.erode(mask.astype(np.float32), np.ones((17, 17))).astype(np.float32)
    known *= spread(inner, 3.0)[:, :, None]
    plate = known * mean + (1.0 - known) * plate
    share = share_of_plate(scene)
    behind = share * plate + (1.0 - share) * wall
    return np.asarray(cover * objects + (1.0 - cover) * behind)


def spread(values: Floats, sigma: float) -> Floats:
    """Spread values by a Gaussian over their neighbours."""
    plain = np.ascontiguousarray(values)
    return np.asarray(cv2.GaussianBlur(plain, (0, 0), sigma))


def smooth_layer(light: Floats, seen: Floats, sigma_px: float) -> tuple[Floats, Floats]:
    """Return a layer's smoothed light, and how far (0..1) it is known at all."""
    weight, total = spread(seen, sigma_px), spread(light, sigma_px)
    mean = total / np.maximum(weight, 1e-6)[:, :, None]
    return mean, np.clip(weight / 0.1, 0.0, 1.0)[:, :, None]
