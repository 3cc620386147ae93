"""The try square: an L standing on its stock, its blade upright."""

import numpy as np

from calib.pose.model import SideModel, TargetModel
from calib.records import Reference, TargetKind, TrySquare

SIZE_NAMES = ("blade length", "stock length", "blade width", "stock width")
COVERAGE_FACTOR = 2.0
THICKNESS_MM, THICKNESS_U_MM = 1.5, 1.5  # of the blade, and of a one-piece stock
FLUSH_MM = (0.0, 0.3)  # the stock's front against the blade's face: one piece
THICK_MM = (5.0, 2.5)  # or a thick stock into which the blade is let
SIDE_U_PX, SIDE_TILT_U_PX = 0.08, 0.08  # bevel, burr, shading
FOOT_U_PX, FOOT_TILT_U_PX = 0.25, 0.2  # the same with the shadow at the plate


def try_square_models(reference: Reference) -> tuple[TargetModel, ...]:
    """Lay out both hands."""
    return try_square_model(reference, 1), try_square_model(reference, -1)


def try_square_model(reference: Reference, direction: int) -> TargetModel:
    """Lay out the L's edges; the stock runs towards x = ``direction`` times infinity.

    The blade's outer edge counts from the stock's upper edge on: below it the stock
    may stand out from the blade.
    """
    shape = reference.shape
    if not isinstance(shape, TrySquare):
        raise TypeError(f"no try square: {shape}")
    sizes = (shape.blade_mm, shape.stock_mm, shape.blade_width_mm, shape.stock_width_mm)
    u_mm = reference.expanded_uncertainty_mm / COVERAGE_FACTOR
    blade, stock, width, height = sizes
    side = 0.3 * width * direction
    turn = np.array([float(direction), 1.0])
    return TargetModel(
        kind=TargetKind.TRY_SQUARE,
        size_names=SIZE_NAMES,
        sizes_mm=np.array(sizes),
        sizes_u_mm=np.full(4, u_mm),
        sides=_sides(direction),
        face_y_mm=-reference.face_offset_mm,
        direction=direction,
        standouts_mm=(FLUSH_MM, THICK_MM),
        inner_mm=(
            (side, 0.3 * height, width * direction - side, 0.95 * blade),
            (side, 0.3 * height, 0.95 * stock * direction, 0.7 * height),
        ),
        brighter_outside=0,
        spare_sides=1,
        joint=SideModel(
            name="joint",
            start=turn[:, None] * _corner(0, "h"),
            end=turn[:, None] * _corner("w", "h"),
            outward=np.array([0.0, 1.0]),
        ),
        outline=(
            ("stock_bottom", 0),
            ("blade_outer", 1),
            ("blade_inner", 1),
            ("blade_inner", 0),
            ("stock_top", 1),
            ("stock_end", 0),
        ),
    )


def _sides(direction: int) -> tuple[SideModel, ...]:
    """Name the edges; corners by whether x and z count a length, a width or nothing."""
    corner, tip, inner_tip = (0, 0), (0, "L"), ("w", "L")
    outer_root, inner_root = (0, "h"), ("w", "h")
    stock_end, stock_foot = ("S", "h"), ("S", 0)
    back, front, up, down = (-1.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, -1.0)
    plan = (
        ("blade_outer", outer_root, tip, back, 0.0),
        ("tip", tip, inner_tip, up, 0.0),
        ("blade_inner", inner_root, inner_tip, front, 0.0),
        ("stock_top", inner_root, stock_end, up, 1.0),
        ("stock_end", stock_foot, stock_end, front, 1.0),
        ("stock_bottom", corner, stock_foot, down, 1.0),
    )
    turn = np.array([float(direction), 1.0])
    return tuple(
        SideModel(
            name=name,
            start=turn[:, None] * _corner(*start),
            end=turn[:, None] * _corner(*end),
            outward=turn * np.array(outward),
            forward=forward,
            depth_mm=0.0 if name == "stock_bottom" else THICKNESS_MM,
            depth_u_mm=0.0 if name == "stock_bottom" else THICKNESS_U_MM,
            own_u_px=FOOT_U_PX if name == "stock_bottom" else SIDE_U_PX,
            tilt_u_px=FOOT_TILT_U_PX if name == "stock_bottom" else SIDE_TILT_U_PX,
        )
        for name, start, end, outward, forward in plan
    )


def _corner(x: str | int, z: str | int) -> np.ndarray:
    """Give the (2, 4) matrix that takes (blade, stock, widths) to a corner."""
    place = {"L": 0, "S": 1, "w": 2, "h": 3}
    matrix = np.zeros((2, 4))
    for row, letter in enumerate((x, z)):
        if isinstance(letter, str):
            matrix[row, place[letter]] = 1.0
    return matrix
