"""Paint pictures of springs fast, for tests: tubes of flat facets, no ray is traced.

Springs, plate, backdrop and target are drawn back to front at several times the
picture's size, then reduced, blurred, given noise and encoded as sRGB. Edges lie where
the exact geometry puts them, to about a tenth of a pixel; light is only made up.
"""

from functools import lru_cache
from hashlib import sha256

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.records import Camera, Exif, Floats, Grey, Photo
from tests.vision.scenery import Card, Colour, Scene, Square
from tests.vision.spring.helix import Helix, centre_line
from tests.vision.spring.places import seen

FINER = 6  # painted at so many times the picture's size
MOST_FINE_PX = 150_000  # larger bodies have no thin parts: twice the size will do
SHIFT = 16  # parts of a pixel in which corners are given
STEPS_PER_TURN, AROUND = 36, 16
LIGHT = np.array([-0.35, -0.75, 0.56])  # from the left, the front and above
DIAGONAL_35MM = 43.27  # of the 24 mm x 36 mm frame
BACK_EDGE_MM = 160.0
SHADOW, PENUMBRA_PX = 0.4, 6.0  # share of the light in it, width of its edge

Facet = tuple[float, Floats, Colour]  # distance in mm, corners in px


@lru_cache(maxsize=4)
def paint(scene: Scene, camera: Camera, name: str = "painted.png") -> Photo:
    """Paint a scene as a camera sees it."""
    width, height = camera.size_px
    canvas = np.empty((height, width, 3), dtype=np.float32)
    canvas[:] = scene.backdrop
    _paint_body(canvas, [_plate(scene, camera)])
    canvas *= _shade(scene, camera)
    bodies = [_facets(_tube(helix), camera, scene.wire) for helix in scene.springs]
    bodies += [_facets(_fallen(x), camera, scene.wire) for x in scene.fallen]
    bodies += [[_plane_facet(each, camera)] for each in _boxes(scene)]
    for body in sorted(bodies, key=lambda each: -min(facet[0] for facet in each)):
        _paint_body(canvas, sorted(body, key=lambda facet: -facet[0]))
    rgb = _develop(canvas, scene)
    film_mm = float(camera.focal_px * DIAGONAL_35MM / np.hypot(*camera.size_px))
    return Photo(
        name=name,
        sha256=sha256(rgb.tobytes()).hexdigest(),
        rgb=rgb,
        exif=Exif(make="Invented", model="Box 7", focal_length_35mm=round(film_mm)),
    )


def _plate(scene: Scene, camera: Camera) -> Facet:
    """The plate, up to its back edge, behind everything."""
    x = np.array([-3000.0, 3000.0])
    edge = seen(camera, np.column_stack([x, np.full(2, BACK_EDGE_MM), np.zeros(2)]))
    below = edge[::-1] + np.array([0.0, 4.0 * camera.size_px[1]])
    return np.inf, np.vstack([edge, below]), scene.plate


def _shade(scene: Scene, camera: Camera) -> Grey:
    """Light (h, w, 1) on plate and backdrop, left of a slanted edge a shadow's."""
    width, height = camera.size_px
    if scene.shadow_to_mm is None:
        return np.ones((height, width, 1), dtype=np.float32)
    x = scene.shadow_to_mm
    foot, high = seen(camera, np.array([[x, 0.0, 0.0], [x + 25.0, 0.0, 100.0]]))
    rows, columns = np.mgrid[:height, :width]
    edge = foot[0] + (foot[1] - rows) / (foot[1] - high[1]) * (high[0] - foot[0])
    dark = np.clip((edge - columns) / PENUMBRA_PX + 0.5, 0.0, 1.0)
    return np.asarray(1.0 - (1.0 - SHADOW) * dark[..., None], dtype=np.float32)


def _paint_body(canvas: Grey, facets: list[Facet]) -> None:
    """Paint facets at several times the size and lay them over what is behind."""
    height, width = canvas.shape[:2]
    corners = np.array([facet[1] for facet in facets])
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    x0, y0 = np.clip(np.floor(low).astype(int) - 1, 0, (width, height))
    x1, y1 = np.clip(np.ceil(high).astype(int) + 2, 0, (width, height))
    if x1 <= x0 or y1 <= y0:
        return
    finer = FINER if (x1 - x0) * (y1 - y0) < MOST_FINE_PX else 2
    fine = np.zeros(((y1 - y0) * finer, (x1 - x0) * finer, 4), dtype=np.float32)
    inner = _shrunk((corners - [x0, y0] + 0.5) * finer - 0.5)
    points = np.rint(np.clip(inner, -1e5, 1e5) * SHIFT).astype(np.int32)
    for each, (_, _, colour) in zip(points, facets, strict=True):
        cv2.fillConvexPoly(fine, each, (*colour, 1.0), cv2.LINE_8, 4)
    size = (int(x1 - x0), int(y1 - y0))
    body = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    part = canvas[y0:y1, x0:x1]
    part *= 1.0 - body[..., 3:]
    part += body[..., :3]


def _shrunk(corners: Floats) -> Floats:
    """Draw corners (n, 4, 2) in by the half pixel that OpenCV fills beyond a border."""
    away = corners - corners.mean(axis=1, keepdims=True)
    return np.asarray(corners - np.sign(away) * np.minimum(0.5, np.abs(away)))


def _boxes(scene: Scene) -> list[tuple[Floats, Colour]]:
    """Flat things as rectangles (4, 3) in mm with their colours."""
    found = [
        (_rectangle(each.x_mm, each.z_mm, 0.0), each.colour) for each in scene.things
    ]
    target = scene.target
    if isinstance(target, Card):
        side, low, face = target.side_mm, target.bottom_margin_mm, target.face_offset_mm
        wide = (-target.margin_mm, side + target.margin_mm)
        tall = (0.0, low + side + target.margin_mm)
        found.append((_rectangle(wide, tall, -face), (0.78, 0.78, 0.76)))
        square = _rectangle((0.0, side), (low, low + side), -face - 0.01)
        found.append((square, (0.02, 0.02, 0.02)))
    if isinstance(target, Square):
        face = -target.face_offset_mm
        blade = (0.0, target.blade_width_mm), (0.0, target.blade_mm)
        stock = (0.0, target.stock_mm), (0.0, target.stock_width_mm)
        found.append((_rectangle(*blade, face), (0.16, 0.16, 0.17)))
        found.append((_rectangle(*stock, face - 0.01), (0.16, 0.16, 0.17)))
    return found


def _rectangle(x: tuple[float, float], z: tuple[float, float], y: float) -> Floats:
    return np.array(
        [[x[0], y, z[0]], [x[1], y, z[0]], [x[1], y, z[1]], [x[0], y, z[1]]]
    )


def _plane_facet(box: tuple[Floats, Colour], camera: Camera) -> Facet:
    corners, colour = box
    return float(corners[0, 1] - camera.position_mm[1]), seen(camera, corners), colour


def _fallen(x_mm: float) -> Floats:
    """Surface of a spring on its side, its axis along the row."""
    helix = Helix(outside_mm=26.0, top_outside_mm=26.0, wire_mm=3.4, turns=6.5)
    x, y, z = np.moveaxis(_tube(helix), -1, 0)
    return np.stack([x_mm - 24.0 + z, y, 13.0 + x], axis=-1)


def _tube(helix: Helix) -> Floats:
    """Vertices (n, AROUND, 3) of the wire's surface, cut flat at plate and top."""
    turns = np.linspace(0.0, helix.turns, int(helix.turns * STEPS_PER_TURN) + 1)
    line, radius = centre_line(helix, turns), helix.wire_mm / 2
    ahead = centre_line(helix, turns + 1e-3) - centre_line(helix, turns - 1e-3)
    tangent = ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
    outward = np.cross(tangent, [0.0, 0.0, 1.0])
    outward *= helix.hand / np.linalg.norm(outward, axis=1, keepdims=True)
    upward = helix.hand * np.cross(outward, tangent)
    turn = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    fuller = radius / np.cos(np.pi / AROUND / 2)  # half the facets' loss, each way
    across, along = fuller * np.cos(turn), fuller * np.sin(turn)
    tube = line[:, None] + across[None, :, None] * outward[:, None]
    tube = tube + along[None, :, None] * upward[:, None]
    for plane, sign in ((helix.height_mm, 1.0), (0.0, -1.0)):
        over = sign * (tube[..., 2] - plane) > 0
        depth = np.clip(np.abs(plane - line[:, 2]), 0.0, radius)
        half = np.sqrt(radius**2 - depth**2)[:, None]
        flat = np.clip(across[None], -half, half)
        moved = line[:, None] + flat[..., None] * outward[:, None]
        moved[..., 2] = plane
        tube = np.where(over[..., None], moved, tube)
    return np.asarray(tube)


def _facets(tube: Floats, camera: Camera, colour: Colour) -> list[Facet]:
    """Facets turned to the camera: distance, corners in px, shade."""
    ahead, around = np.roll(tube, -1, axis=0), np.roll(tube, -1, axis=1)
    both = np.roll(ahead, -1, axis=1)
    quads = np.stack([tube, around, both, ahead], axis=2)[:-1].reshape(-1, 4, 3)
    normal = np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1])
    size = np.linalg.norm(normal, axis=1)
    middle = quads.mean(axis=1)
    view = camera.position_mm - middle
    distance = np.linalg.norm(view, axis=1)
    unit = normal / np.maximum(size, 1e-9)[:, None]
    unit = unit * np.sign((unit * view).sum(axis=1))[:, None]
    px = seen(camera, quads.reshape(-1, 3)).reshape(-1, 4, 2)
    light = 0.35 + 0.65 * np.maximum(unit @ (LIGHT / np.linalg.norm(LIGHT)), 0.0)
    shade = np.array(colour)[None] * light[:, None]
    return [
        (float(distance[k]), px[k], (shade[k, 0], shade[k, 1], shade[k, 2]))
        for k in np.flatnonzero(size > 1e-9)
    ]


def _develop(canvas: Grey, scene: Scene) -> NDArray[np.uint8]:
    """Shade, blur, add noise and encode (IEC 61966-2-1)."""
    height, width = canvas.shape[:2]
    light = canvas * np.linspace(1.0, 1.0 - scene.uneven, width)[None, :, None]
    light = cv2.GaussianBlur(light, (0, 0), scene.blur_px).astype(np.float32)
    rng = np.random.default_rng(scene.seed)
    noise = rng.standard_normal((height, width, 1), dtype=np.float32)
    light = np.clip(light + scene.noise * noise, 0.0, 1.0)
    encoded = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )
    return np.asarray(np.rint(255 * encoded), dtype=np.uint8)
