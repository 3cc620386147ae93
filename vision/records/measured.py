"""What the pictures gave: outlines and measured springs, in the order they flow.

record             made by      read by
Outline            outline      spring
Unmeasured         outline,     pipeline, output, archive
                   spring
SpringMeasurement  spring       inspection, output, archive
Row                pipeline     inspection, output, archive, cli
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from calib.quantity import Quantity
from calib.records import Calibration, EdgePoints

Floats = NDArray[np.float64]

# A remark on a spring whose wire ends in the open.
OPEN_END = "its upper end is no closed and ground coil: L0 is its highest point"


class Characteristic(Enum):
    """What is measured: key, plain name, unit of the value."""

    FREE_HEIGHT = ("free_height", "free height L0", "mm")
    LEAN = ("lean", "lean off square", "deg")
    SQUARENESS = ("squareness", "squareness e1", "mm")
    OUTSIDE_DIAMETER = ("outside_diameter", "outside diameter De", "mm")
    BOTTOM_DIAMETER = ("bottom_diameter", "outside diameter at the bottom end", "mm")
    TOP_DIAMETER = ("top_diameter", "outside diameter at the top end", "mm")
    WIRE_DIAMETER = ("wire_diameter", "wire diameter d", "mm")
    TOTAL_COILS = ("total_coils", "total coils nt", "coils")

    def __init__(self, key: str, text: str, unit: str) -> None:
        self.key = key
        self.text = text
        self.unit = unit


class Reason(Enum):
    """Why a spring stays unmeasured; the text completes 'spring 3 ...'."""

    TOUCHES = "touches its neighbour"
    CUT_OFF = "is cut off by the edge of the picture"
    FALLEN = "lies on its side"
    HIDDEN = "is hidden by the target or another thing"
    TOO_SMALL = "has too few pixels"
    BLURRED = "is blurred"
    GLARE = "melts into the backdrop"
    TOP_COILS = "melts into the backdrop just below its top"
    TWO_SPRINGS = "shows the coils of two springs"
    BEFORE_OTHERS = "may have another spring behind it"
    CONTRADICTS = "does not look like a standing spring"
    MOVED = "is not the same spring in the second photo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmeasured:
    """A spring that was seen but not measured, and why (``detail`` has the figures)."""

    position: int
    reason: Reason
    detail: str
    box_px: tuple[float, float, float, float]  # x_min, y_min, x_max, y_max

    @property
    def why(self) -> str:
        """The reason in one phrase, the neighbour named where one is touched."""
        named = self.reason is Reason.TOUCHES and self.detail.startswith("spring")
        return f"touches {self.detail}" if named else self.reason.value


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """One spring's edge points, sorted by where they lie; normals point outward.

    ``box_px`` is (x_min, y_min, x_max, y_max); ``axis_px`` (2, 2) foot and top, rough;
    ``crown`` the uppermost edge in every column, rough, however far below the top;
    ``blown`` the share of the light beside the flanks that comes from clipped channels.
    """

    position: int
    box_px: tuple[float, float, float, float]
    axis_px: Floats
    top: EdgePoints
    crown: EdgePoints
    left: EdgePoints
    right: EdgePoints
    foot: EdgePoints
    contour_px: Floats
    colour: tuple[float, float, float]  # median linear r, g, b of the wire
    blown: float = 0.0
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Where to draw what, in px of photo ``view`` (0 first, 1 second); arrays (n, 2).

    ``axis_px`` and ``square_px`` run foot to top; ``square_px`` is the plate's normal
    through the foot; ``height_px`` (2, 2) the ends of the free height on the axis
    plane beside the spring; ``gap_px`` (2, 2) the gap between square line and top.
    """

    view: int
    outline_px: Floats
    axis_px: Floats
    square_px: Floats
    foot_px: Floats
    top_px: Floats
    height_px: Floats
    gap_px: Floats
    box_px: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpringMeasurement:
    """One spring's values by characteristic; one not read is absent from ``values``.

    ``lean_parts_deg`` is (to the right, away from the camera) in the first photo's
    placement; the second is None with one view. With one view LEAN is the signed part
    in the picture plane and SQUARENESS the gap in that plane; with two, the whole.
    """

    position: int
    values: dict[Characteristic, Quantity]
    views: int
    lean_parts_deg: tuple[Quantity, Quantity | None]
    drawings: tuple[Drawing, ...]
    colour: tuple[float, float, float]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Row:
    """One measured row: springs left to right, what they rest on, what to do better."""

    springs: tuple[SpringMeasurement | Unmeasured, ...]
    calibration: Calibration
    photo_names: tuple[str, ...]
    photo_sha256: tuple[str, ...]
    warnings: tuple[str, ...]
    advice: tuple[str, ...]
