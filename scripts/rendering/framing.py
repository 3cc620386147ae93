"""Row and family in, a camera that has the whole row in its picture out."""

import math
from dataclasses import replace

import numpy as np

from scripts.rendering.camera import project
from scripts.rendering.families import Family
from scripts.rendering.records import Camera, Floats, PlacedSpring, PlacedTarget
from scripts.rendering.target import corner_points

LONGEST_35MM = 100.0
SHORTEST_35MM = 24.0
EDGE_PX = 12.0


def outline_points(
    springs: tuple[PlacedSpring, ...], target: PlacedTarget | None
) -> Floats:
    """Return points (n, 3) in mm that surround the row."""
    points = []
    for spring in springs:
        shape = spring.shape
        radius = (max(shape.mean_bottom_mm, shape.mean_top_mm) + shape.wire_mm) / 2
        reach = radius + math.hypot(shape.lean_x_mm, shape.lean_y_mm)
        points += [
            (spring.x_mm + side, spring.y_mm - radius, z_mm)
            for side in (-reach, reach)
            for z_mm in (0.0, shape.free_height_mm)
        ]
    if target is not None:
        points += [tuple(p) for p in corner_points(target).values()]
    return np.array(points)


def aim_camera(
    rng: np.random.Generator,
    family: Family,
    springs: tuple[PlacedSpring, ...],
    target: PlacedTarget,
) -> Camera:
    """Draw a camera and correct its pitch, yaw and focal length to fit the row."""
    width, height = family.sizes_px[int(rng.integers(0, len(family.sizes_px)))]
    tops = max(spring.shape.free_height_mm for spring in springs)
    distance = rng.uniform(*family.distance_mm)
    above = rng.uniform(*family.above_tops_mm)
    aside = rng.uniform(-0.04, 0.04) * distance
    natural = math.degrees(math.atan2(tops + above - 0.6 * tops, distance))
    pitch = natural * rng.uniform(0.5, 1.0) + rng.normal(0.0, 0.7)
    limit = family.pitch_max_deg
    camera = Camera(
        x_mm=aside,
        y_mm=-distance,
        z_mm=tops + above,
        pitch_deg=float(np.clip(pitch, -limit, limit)),
        roll_deg=rng.uniform(-family.roll_max_deg, family.roll_max_deg),
        yaw_deg=math.degrees(math.atan2(-aside, distance)) + rng.normal(0.0, 0.4),
        focal_px=1.2 * width,
        width_px=width,
        height_px=height,
        cx_px=(width - 1) / 2 + rng.normal(0.0, 0.003 * width),
        cy_px=(height - 1) / 2 + rng.normal(0.0, 0.003 * width),
        k1=rng.uniform(-family.k1_max, family.k1_max),
    )
    fill = rng.uniform(*family.fill)
    return fit_frame(camera, outline_points(springs, target), fill)


def fit_frame(camera: Camera, points: Floats, fill: float) -> Camera:
    """Zoom so that the row fills a share of the width, then until all is inside."""
    diagonal = math.hypot(camera.width_px, camera.height_px)
    unit_px = diagonal / 43.2666
    for _ in range(20):
        span = np.ptp(project(camera, points)[:, 0])
        focal = camera.focal_px * fill * camera.width_px / float(span)
        focal = min(max(focal, SHORTEST_35MM * unit_px), LONGEST_35MM * unit_px)
        camera = replace(camera, focal_px=focal)
    for _ in range(40):
        pixels = project(camera, points)
        size = np.array([camera.width_px, camera.height_px])
        if (pixels > EDGE_PX).all() and (pixels < size - 1 - EDGE_PX).all():
            return camera
        camera = replace(camera, focal_px=camera.focal_px * 0.97)
    return camera
