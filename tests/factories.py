"""Plausible records of an invented inspection, for tests of output and archive.

The names below stay stable: make_calibration, make_measurement, make_row,
make_specification, make_inspection, make_photo, make_picture. Every figure is made
up. Of eight springs one is not measured and each outcome occurs.
"""

from datetime import UTC, datetime
from math import hypot, radians, tan

import numpy as np

from calib.quantity import Influence, Quantity
from calib.records import Calibration, Camera, Reference, TrySquare, Variant
from tests import scene
from tests.judgement import (
    make_findings,
    make_pairs,
    make_places,
    make_readings,
    make_sets,
    make_verdicts,
)
from tests.scene import PHOTO_NAME, Floats, Shape, make_photo, make_picture
from vision.records.judged import (
    Limit,
    Load,
    Requirements,
    Specification,
)
from vision.records.kept import Inspection, Job
from vision.records.measured import (
    Characteristic,
    Drawing,
    Reason,
    Row,
    SpringMeasurement,
    Unmeasured,
)

__all__ = [
    "make_calibration",
    "make_inspection",
    "make_measurement",
    "make_photo",
    "make_picture",
    "make_row",
    "make_specification",
]

UNMEASURED_POSITION = 5
PROGRAM_VERSION = "0.1.0"
STARTED_AT = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)
SCALE_RELATIVE_U = 0.0006


def make_calibration(count: int = 8) -> Calibration:
    """What a photo of the invented try square would have taught."""
    camera = scene.make_camera(count)
    scale = Influence(source="scale", label="reference length", u=0.003)
    edge = Influence(source="edge", label="where edges are located", u=0.002)
    outline = scene.square_corners_mm()
    return Calibration(
        photo_name=PHOTO_NAME,
        photo_sha256=make_photo(count).sha256,
        exif=scene.make_exif(),
        reference=make_reference(),
        camera=camera,
        px_per_mm=Quantity(
            value=scene.PX_PER_MM, unit="px/mm", influences=(scale, edge)
        ),
        edge_offset_px=0.04,
        blur_px=0.85,
        target_box_mm=(-scene.STOCK_MM, 0.0, 0.0, scene.BLADE_MM),
        target_outline_px=scene.on_plane(camera, outline, -scene.FACE_OFFSET_MM),
        variants=(
            Variant(source="scale", label="reference length", camera=camera),
            Variant(source="edge", label="edges", camera=camera, edge_shift_px=0.03),
        ),
        residual_px=0.11,
        thumbnail=_frozen(np.arange(48, dtype=np.uint8).reshape(6, 8)),
    )


def make_reference() -> Reference:
    """A try square with a certificate of 0.01 mm."""
    return Reference(
        shape=TrySquare(
            blade_mm=scene.BLADE_MM,
            stock_mm=scene.STOCK_MM,
            blade_width_mm=scene.BREADTH_MM,
            stock_width_mm=scene.BREADTH_MM,
        ),
        expanded_uncertainty_mm=0.01,
        face_offset_mm=scene.FACE_OFFSET_MM,
        face_offset_uncertainty_mm=0.5,
    )


def make_measurement(
    position: int, *, height_mm: float | None = None, count: int = 8
) -> SpringMeasurement:
    """One measured spring; its height can be chosen."""
    spring = scene.shape(position)
    if height_mm is not None:
        spring = Shape(position=position, height_mm=height_mm, lean_deg=spring.lean_deg)
    gap = spring.height_mm * tan(radians(abs(spring.lean_deg)))
    lean = hypot(spring.lean_deg, 0.2)
    return SpringMeasurement(
        position=position,
        values={
            kind: _quantity(value, kind.unit, f"{kind.key} {position}", u)
            for kind, value, u in (
                (Characteristic.FREE_HEIGHT, spring.height_mm, 0.015),
                (Characteristic.LEAN, lean, 0.04),
                (Characteristic.SQUARENESS, gap, 0.04),
                (Characteristic.OUTSIDE_DIAMETER, 27.6, 0.02),
                (Characteristic.BOTTOM_DIAMETER, 27.7, 0.03),
                (Characteristic.TOP_DIAMETER, 27.5, 0.03),
                (Characteristic.WIRE_DIAMETER, 3.8, 0.03),
                (Characteristic.TOTAL_COILS, 6.5, 0.1),
            )
        },
        views=2,
        lean_parts_deg=(
            _quantity(spring.lean_deg, "deg", f"lean {position}", 0.04),
            _quantity(0.2, "deg", f"lean away {position}", 0.06),
        ),
        drawings=(_drawing(spring, scene.make_camera(count)),),
        colour=(0.068, 0.065, 0.062),
        remarks=("glare on the top coil",) if position == 1 else (),
    )


def make_row(count: int = 8) -> Row:
    """A row of springs; the fifth (or the last of fewer) is not measured."""
    photo = make_photo(count)
    return Row(
        springs=tuple(
            _unmeasured(position, count)
            if position == _unmeasured_position(count)
            else make_measurement(position, count=count)
            for position in range(1, count + 1)
        ),
        calibration=make_calibration(count),
        photo_names=(PHOTO_NAME,),
        photo_sha256=(photo.sha256,),
        warnings=("one view can reject squareness and never accept it",),
        advice=("stand the springs 15 mm apart",),
    )


def make_specification() -> Specification:
    """An invented maker's line."""
    intake = Requirements(
        kind="intake",
        free_height=Limit(unit="mm", minimum=47.1, nominal=48.0, as_given="47.1 mm"),
        squareness=Limit(unit="mm", maximum=1.6, as_given="1.6 mm"),
        closed=Load(
            height_mm=38.9, force=Limit(unit="N", minimum=258.0, nominal=296.0)
        ),
        open=Load(height_mm=30.0, force=Limit(unit="N", minimum=560.0, maximum=620.0)),
        pair_closed=Load(height_mm=38.9, force=Limit(unit="N", minimum=258.0)),
        pair_open=Load(height_mm=30.0, force=Limit(unit="N", minimum=560.0)),
        solid_height_mm=26.0,
        coil_bind_clearance_min_mm=1.5,
        outside_diameter=Limit(unit="mm", minimum=27.3, maximum=27.9),
    )
    return Specification(
        name="invented service line",
        kinds=(intake,),
        spread_max_mm=1.0,
        group_width_mm=0.2,
        doubts=("free height and the two loads disagree by 3 %",),
        sha256="5" * 64,
    )


def make_inspection(
    count: int = 8,
    *,
    job: str = "head 12 (invented)",
    engine: str = "Brook 1600 (invented)",
    started_at: datetime = STARTED_AT,
) -> Inspection:
    """A judged row with places, findings, hand readings and a set."""
    row = make_row(count)
    places = make_places(count)
    return Inspection(
        job=Job(name=job, engine=engine, started_at=started_at, note="invented"),
        row=row,
        specification=make_specification(),
        places=places,
        findings=make_findings(count),
        readings=make_readings(count),
        verdicts=make_verdicts(row, places),
        sets=(make_sets(row),),
        program_version=PROGRAM_VERSION,
        hints={3: "the wire looks redder than the set"} if count >= 3 else {},
        pairs=make_pairs() if count >= 7 else (),
    )


def _unmeasured_position(count: int) -> int | None:
    return min(UNMEASURED_POSITION, count) if count > 1 else None


def _unmeasured(position: int, count: int) -> Unmeasured:
    box = _box(_outline(scene.shape(position), scene.make_camera(count)))
    return Unmeasured(
        position=position,
        reason=Reason.TOUCHES,
        detail="0.2 mm of backdrop to spring 6, at least 2 mm are needed",
        box_px=box,
    )


def _quantity(value: float, unit: str, source: str, own_u: float) -> Quantity:
    """Share one part of the uncertainty with the whole photo, keep one part apart."""
    shared = Influence(
        source="scale", label="reference length", u=value * SCALE_RELATIVE_U
    )
    own = Influence(source=source, label="fit of the edges", u=own_u)
    return Quantity(value=value, unit=unit, influences=(shared, own))


def _drawing(spring: Shape, camera: Camera) -> Drawing:
    """Where the overlay draws: outline, axis, square line, foot, top, height, gap."""
    foot, height, half = spring.foot_mm, spring.height_mm, spring.outside_mm / 2
    top = spring.axis_mm(height)
    side = foot + half + 4.0
    outline = _outline(spring, camera)
    plane = {
        "axis_px": [[foot, 0.0], [top, height]],
        "square_px": [[foot, 0.0], [foot, height]],
        "foot_px": [[foot - half, 0.0], [foot + half, 0.0]],
        "top_px": [[top - half, height], [top + half, height]],
        "height_px": [[side, 0.0], [side, height]],
        "gap_px": [[foot, height], [top, height]],
    }
    lines = {name: scene.on_plane(camera, np.array(at)) for name, at in plane.items()}
    return Drawing(view=0, outline_px=outline, box_px=_box(outline), **lines)


def _outline(spring: Shape, camera: Camera) -> Floats:
    """The silhouette as a closed slanted box with 40 points a side."""
    half, top = spring.outside_mm / 2, spring.axis_mm(spring.height_mm)
    corners = np.array(
        [
            [spring.foot_mm - half, 0.0],
            [top - half, spring.height_mm],
            [top + half, spring.height_mm],
            [spring.foot_mm + half, 0.0],
        ]
    )
    share = np.linspace(0.0, 1.0, 40, endpoint=False)[:, None]
    sides = zip(corners, np.roll(corners, -1, axis=0), strict=True)
    points = [first + share * (last - first) for first, last in sides]
    return scene.on_plane(camera, np.concatenate(points))


def _box(points_px: Floats) -> tuple[float, float, float, float]:
    (left, top), (right, bottom) = points_px.min(axis=0), points_px.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def _frozen(array: np.ndarray) -> np.ndarray:
    array.setflags(write=False)
    return array
