"""Placed target in, its solid parts and its corner points out."""

import numpy as np

from scripts.rendering.records import (
    Floats,
    Integers,
    Mesh,
    PlacedTarget,
    SquareCard,
    TrySquare,
)
from scripts.rendering.solid import rotate_about_z

BOX_POINTS = 24  # four to a face, so that each face has its own normal
CARD_THICKNESS_MM = 1.2
TEXTURE_MM = 120.0
INK_MM = 0.01  # the print lies in front of the card by this, so that it is seen


def corner_points(placed: PlacedTarget) -> dict[str, Floats]:
    """Return the front face's corner points in the world, by name.

    A try square has six: outer, blade_outer_tip, blade_inner_tip, inner,
    stock_inner_end, stock_outer_end. A card has the four of its printed square,
    from the lower left one round by the right.
    """
    target = placed.actual
    if isinstance(target, TrySquare):
        flat = try_square_outline(target)
    else:
        half, low = target.side_mm / 2, target.bottom_margin_mm
        high = low + target.side_mm
        flat = {
            "lower_left": (-half, low),
            "lower_right": (half, low),
            "upper_right": (half, high),
            "upper_left": (-half, high),
        }
    local = np.array([[x, 0.0, z] for x, z in flat.values()])
    return dict(zip(flat, stand(placed, local), strict=True))


def try_square_outline(target: TrySquare) -> dict[str, tuple[float, float]]:
    """Corners of the front face as (x, z), the outer corner at (0, 0)."""
    sense = 1.0 if target.hand == "right" else -1.0
    blade_w, stock_w = sense * target.blade_width_mm, target.stock_width_mm
    return {
        "outer": (0.0, 0.0),
        "blade_outer_tip": (0.0, target.blade_mm),
        "blade_inner_tip": (blade_w, target.blade_mm),
        "inner": (blade_w, stock_w),
        "stock_inner_end": (sense * target.stock_mm, stock_w),
        "stock_outer_end": (sense * target.stock_mm, 0.0),
    }


def span_of(target: TrySquare | SquareCard) -> tuple[float, float]:
    """Return how far the target reaches left and right of its own x, in mm."""
    if isinstance(target, TrySquare):
        right = target.hand == "right"
        return (0.0, target.stock_mm) if right else (-target.stock_mm, 0.0)
    half = target.side_mm / 2 + target.margin_mm
    return -half, half


def stand(placed: PlacedTarget, local: Floats) -> Floats:
    """Move points of the target (n, 3) to where it stands."""
    turned = rotate_about_z(local, placed.yaw_deg)
    moved: Floats = turned + np.array([placed.x_mm, -placed.face_offset_mm, 0.0])
    return moved


def build_target(placed: PlacedTarget) -> dict[str, Mesh]:
    """Build the target's parts: ``steel``, or ``card`` and ``ink``."""
    target = placed.actual
    if isinstance(target, TrySquare):
        return {"steel": merge([box(placed, *b) for b in try_square_boxes(target)])}
    half = target.side_mm / 2
    low, high = target.bottom_margin_mm, target.bottom_margin_mm + target.side_mm
    wide = half + target.margin_mm
    card = box(
        placed, (-wide, INK_MM, 0.0), (wide, CARD_THICKNESS_MM, high + target.margin_mm)
    )
    return {"card": card, "ink": box(placed, (-half, 0.0, low), (half, INK_MM, high))}


Corner = tuple[float, float, float]


def try_square_boxes(target: TrySquare) -> list[tuple[Corner, Corner]]:
    """Return blade and stock as pairs of opposite corners."""
    sense = 1.0 if target.hand == "right" else -1.0
    thick, ahead = target.thickness_mm, target.stock_projection_mm
    blade_foot = target.stock_width_mm if ahead > 0.0 else 0.0
    blade = (
        (0.0, 0.0, blade_foot),
        (sense * target.blade_width_mm, thick, target.blade_mm),
    )
    start = 0.0 if ahead > 0.0 else sense * target.blade_width_mm
    stock = (
        (start, -ahead, 0.0),
        (sense * target.stock_mm, thick + ahead, target.stock_width_mm),
    )
    return [blade, stock]


def box(placed: PlacedTarget, one: Corner, other: Corner) -> Mesh:
    """Build a box between opposite corners with sharp, flat-shaded edges."""
    low, high = np.minimum(one, other), np.maximum(one, other)
    points: list[Floats] = []
    normals: list[Floats] = []
    faces: list[Integers] = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            quad = np.zeros((4, 3))
            quad[:, axis] = high[axis] if sign > 0 else low[axis]
            quad[:, u] = [low[u], high[u], high[u], low[u]]
            quad[:, v] = [low[v], low[v], high[v], high[v]]
            normal = np.zeros(3)
            normal[axis] = sign
            order = [[0, 1, 2], [0, 2, 3]] if sign > 0 else [[0, 2, 1], [0, 3, 2]]
            faces.append(np.array(order) + 4 * len(points))
            points.append(quad)
            normals.append(np.tile(normal, (4, 1)))
    local = np.vstack(points)
    return Mesh(
        vertices=stand(placed, local),
        faces=np.vstack(faces),
        normals=rotate_about_z(np.vstack(normals), placed.yaw_deg),
        texture=local[:, [0, 2]] / TEXTURE_MM,
    )


def merge(meshes: list[Mesh]) -> Mesh:
    """Join meshes into one."""
    textures = [m.texture for m in meshes if m.texture is not None]
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    return Mesh(
        vertices=np.vstack([m.vertices for m in meshes]),
        faces=np.vstack([m.faces + s for m, s in zip(meshes, starts, strict=True)]),
        normals=np.vstack([m.normals for m in meshes]),
        texture=np.vstack(textures),
    )
