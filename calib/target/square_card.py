"""The card: a solid dark square printed on it, its lower edge on the plate."""

import numpy as np

from calib.pose.model import SideModel, TargetModel
from calib.records import Reference, SquareCard, TargetKind

SIZE_NAMES = ("square width", "square height", "bottom margin")
COVERAGE_FACTOR = 2.0

# Columns: width, height, bottom margin. Rows: x, z.
LOWER_LEFT = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
LOWER_RIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
UPPER_LEFT = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 1.0]])
UPPER_RIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]])


def square_card_models(reference: Reference) -> tuple[TargetModel, ...]:
    """Lay out the only one there is."""
    return (square_card_model(reference),)


def square_card_model(reference: Reference) -> TargetModel:
    """Lay out the square's edges; width and height are uncertain apart (printers)."""
    shape = reference.shape
    if not isinstance(shape, SquareCard):
        raise TypeError(f"no square card: {shape}")
    u_mm = reference.expanded_uncertainty_mm / COVERAGE_FACTOR
    plan = (
        ("left", LOWER_LEFT, UPPER_LEFT, (-1.0, 0.0)),
        ("right", LOWER_RIGHT, UPPER_RIGHT, (1.0, 0.0)),
        ("top", UPPER_LEFT, UPPER_RIGHT, (0.0, 1.0)),
        ("bottom", LOWER_LEFT, LOWER_RIGHT, (0.0, -1.0)),
    )
    side, low = shape.side_mm, shape.bottom_margin_mm
    return TargetModel(
        kind=TargetKind.SQUARE_CARD,
        size_names=SIZE_NAMES,
        sizes_mm=np.array([shape.side_mm, shape.side_mm, shape.bottom_margin_mm]),
        sizes_u_mm=np.full(3, u_mm),
        sides=tuple(
            SideModel(name=name, start=start, end=end, outward=np.array(outward))
            for name, start, end, outward in plan
        ),
        face_y_mm=-reference.face_offset_mm,
        direction=1,
        standouts_mm=((0.0, 0.0),),
        inner_mm=((0.1 * side, low + 0.1 * side, 0.9 * side, low + 0.9 * side),),
        brighter_outside=1,
        spare_sides=0,
        outline=(("bottom", 0), ("bottom", 1), ("top", 1), ("top", 0)),
    )
