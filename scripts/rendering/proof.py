"""Known points in, their distance from rendered edges in px out.

Proves the half pixel and the distortion: corners of the target and tops of springs
are projected by ``camera.project``, which shares no code with the tracer's rays,
and compared with the edges of what was rendered.
"""

from dataclasses import replace

import cv2
import numpy as np

from scripts.rendering.camera import project
from scripts.rendering.compose import expose_scene
from scripts.rendering.draw import draw_scene
from scripts.rendering.families import POOR, WELL
from scripts.rendering.records import (
    Camera,
    Floats,
    Integers,
    PlacedTarget,
    Scene,
    TrySquare,
)
from scripts.rendering.solid import place_spring
from scripts.rendering.target import build_target, corner_points
from scripts.rendering.trace import load_scene, trace

LIMIT_PX = 0.05
SAMPLES = 64
REACH_PX = 5.0


def prove() -> int:
    """Print the distances for two scenes; return 1 when one passes the limit."""
    worst = 0.0
    for family in (WELL, POOR):
        scene = without_thickness(draw_scene(np.random.default_rng(7), family, 4))
        found = [*edge_errors(scene), *top_errors(scene), *light_errors(scene)]
        for name, mean_px, spread_px in found:
            print(f"{family.name}  {name:34s} {mean_px:+.4f} px  (sd {spread_px:.3f})")
            worst = max(worst, abs(mean_px))
    print(f"largest mean distance {worst:.4f} px, limit {LIMIT_PX} px")
    return int(worst > LIMIT_PX)


def without_thickness(scene: Scene) -> Scene:
    """Return a scene on a lit panel, its target so thin that no side is seen."""
    assert scene.target is not None
    if isinstance(scene.target.actual, TrySquare):
        thin = replace(scene.target.actual, thickness_mm=0.01, stock_projection_mm=0.0)
        scene = replace(scene, target=replace(scene.target, actual=thin))
    stage = replace(scene.stage, backdrop="lit-panel", light="back-lit")
    return replace(scene, stage=stage)


def front_edges(placed: PlacedTarget) -> list[tuple[str, Floats]]:
    """Return the front face's edges above the plate, each as 200 points."""
    corners = corner_points(placed)
    names = list(corners)
    edges: list[tuple[str, Floats]] = []
    for one, other in zip(names, [*names[1:], names[0]], strict=True):
        if max(corners[one][2], corners[other][2]) > 1.0:
            share = np.linspace(0.12, 0.88, 200)[:, None]
            line = corners[one] + share * (corners[other] - corners[one])
            edges.append((f"{one} - {other}", line))
    return edges


def edge_errors(scene: Scene) -> list[tuple[str, float, float]]:
    """Compare the covered area's border with the target's projected edges."""
    assert scene.target is not None
    placed = scene.target
    loaded = load_scene(scene.stage, [], build_target(placed))
    corners = np.vstack(list(corner_points(placed).values()))
    image, origin = cover_about(loaded, scene.camera, project(scene.camera, corners))
    return [
        (f"cover {name}", *distances(image, project(scene.camera, line) - origin))
        for name, line in front_edges(placed)
    ]


def light_errors(scene: Scene) -> list[tuple[str, float, float]]:
    """Compare the half level of the composed, blurred light with the same edges."""
    scene = replace(scene, springs=())
    placed = scene.target
    assert placed is not None
    light, _ = expose_scene(scene)
    image = cv2.GaussianBlur(light.mean(axis=2), (0, 0), 1.0)
    wanted = [e for e in front_edges(placed) if "blade" in e[0] or "_" in e[0]]
    return [
        (f"light {name}", *distances(image, project(scene.camera, line)))
        for name, line in wanted
        if line[:, 2].min() > 30.0
    ]


def cover_about(
    loaded: object, camera: Camera, pixels: Floats
) -> tuple[Floats, Floats]:
    """Trace the cover about some pixels; return it and its top-left pixel."""
    low = np.floor(pixels.min(axis=0)).astype(int) - 12
    high = np.ceil(pixels.max(axis=0)).astype(int) + 12
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    corners = np.column_stack((x.ravel(), y.ravel())).astype(np.float64)
    cover = trace(loaded, camera, corners, 1, SAMPLES)[:, 0].reshape(x.shape)
    return cover, low.astype(np.float64)


def distances(image: Floats, points: Floats) -> tuple[float, float]:
    """Return mean and spread of the half level's distance along the normals."""
    along = np.gradient(points, axis=0)
    normal = np.column_stack((-along[:, 1], along[:, 0]))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    steps = np.arange(-REACH_PX, REACH_PX + 0.05, 0.1)
    at = points[:, None, :] + steps[None, :, None] * normal[:, None, :]
    values = cv2.remap(
        image.astype(np.float32),
        at[:, :, 0].astype(np.float32),
        at[:, :, 1].astype(np.float32),
        cv2.INTER_LINEAR,
    )
    first, last = values[:, :12].mean(axis=1), values[:, -12:].mean(axis=1)
    # The area under the step gives its place without looking for a crossing.
    share = (values - last[:, None]) / (first - last)[:, None]
    place = share.mean(axis=1) * (steps[-1] - steps[0] + 0.1) - REACH_PX - 0.05
    return float(place.mean()), float(place.std())


def top_errors(scene: Scene) -> list[tuple[str, float, float]]:
    """Compare the upper border of each spring with its projected triangles."""
    meshes = [place_spring(spring)[0] for spring in scene.springs[:4]]
    found = []
    for number, mesh in enumerate(meshes):
        loaded = load_scene(scene.stage, [mesh], {})
        pixels = project(scene.camera, mesh.vertices)
        image, origin = cover_about(loaded, scene.camera, pixels)
        columns = np.arange(
            int(np.percentile(pixels[:, 0], 15)), int(np.percentile(pixels[:, 0], 85))
        )
        border = upper_border(pixels, mesh.faces, columns)
        found.append(
            (
                f"top of spring {number + 1}",
                *top_distance(image, origin, columns, border),
            )
        )
    return found


def upper_border(pixels: Floats, faces: Integers, columns: Integers) -> Floats:
    """Return the least y of all triangles' sides at each column."""
    border = np.full(len(columns), np.inf)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        start, stop = pixels[faces[:, one]], pixels[faces[:, other]]
        for k, column in enumerate(columns):
            left = (start[:, 0] - column) * (stop[:, 0] - column) < 0.0
            share = (column - start[left, 0]) / (stop[left, 0] - start[left, 0])
            y = start[left, 1] + share * (stop[left, 1] - start[left, 1])
            border[k] = min(border[k], y.min(initial=np.inf))
    return border


def top_distance(
    image: Floats, origin: Floats, columns: Integers, border: Floats
) -> tuple[float, float]:
    """Compare the border with the cover summed down each column."""
    errors = []
    for column, y in zip(columns, border, strict=True):
        profile = image[:, column - int(origin[0])]
        last = round(y - origin[1]) + 4
        edge = last + 0.5 - profile[: last + 1].sum() + origin[1]
        errors.append(edge - y)
    return float(np.mean(errors)), float(np.std(errors))
