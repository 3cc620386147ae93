"""A reference photo in, a Calibration out: camera, scale, plate and how sure."""

from dataclasses import replace

import numpy as np

from calib.camera import (
    UNKNOWN,
    Intrinsics,
    expected_intrinsics,
    pixels_per_mm,
)
from calib.pose.by_focal import solve_by_focal
from calib.pose.solve import PoseFit
from calib.pose.stand import Rival
from calib.quantity import COVERAGE_FACTOR, Influence, Quantity
from calib.records import (
    Calibration,
    FocalCase,
    Lens,
    Photo,
    Reference,
    Sighting,
    SquareCard,
    Variant,
)
from calib.steady import check_same_camera, still_picture
from calib.target import EDGE_OFFSET_U, glares, is_blown, sight_target
from calib.variants import Doubts, Names, camera_variants

LARGE_OFFSET_PX = 0.5
LARGE_RESIDUAL_PX = 0.35
LARGE_STRAIN = 9.0  # sound photos stay below
__all__ = ["calibrate", "check_same_camera"]

EDGE_MODEL_U = 0.05  # per px of blur: sharpening, and a tone curve not quite undone


def calibrate(
    photo: Photo,
    reference: Reference,
    *,
    lens: Lens | None = None,
    distance_mm: float | None = None,
) -> Calibration:
    """Find the target in a photo and solve the camera that saw it.

    Parameters
    ----------
    lens
        The camera's inner geometry from chessboard photos, if known.
    distance_mm
        From the lens to the target's face, taken with a tape.

    Raises
    ------
    TargetError
        The target is not found, or contradicts its stated sizes.
    """
    inner = expected_intrinsics(photo, lens, distance_mm)
    sight = sight_target(photo, reference, inner)
    sighting, fit = sight.sighting, sight.fit
    names = Names(photo=photo.sha256[:12], target=_target_name(reference))
    doubts = _doubts(reference, sighting, sight.rivals)
    variants = camera_variants(fit, doubts, names)
    return Calibration(
        photo_name=photo.name,
        photo_sha256=photo.sha256,
        exif=photo.exif,
        reference=reference,
        camera=fit.camera,
        px_per_mm=_scale(fit, variants),
        edge_offset_px=doubts.springs_edge_offset_px(fit),
        blur_px=sighting.blur_px,
        target_box_mm=sight.box_mm,
        target_outline_px=sighting.corners_px,
        variants=variants,
        residual_px=_spread(fit),
        focal_known=inner.knows_focal,
        focal_cases=() if inner.knows_focal else _focal_cases(fit, doubts, names),
        remarks=_remarks(photo, sighting, fit, inner),
        thumbnail=still_picture(photo),
    )


def _doubts(
    reference: Reference, sighting: Sighting, rivals: tuple[Rival, ...]
) -> Doubts:
    """Give the doubts that no fit knows of.

    Beside a target that glares nothing tells how a tone curve moves springs' edges.
    """
    edges_alike = not glares(sighting)
    unknown = 0.0 if edges_alike else EDGE_OFFSET_U
    per_blur = float(np.hypot(EDGE_MODEL_U, unknown))
    return Doubts(
        face_offset_u_mm=reference.face_offset_uncertainty_mm / COVERAGE_FACTOR,
        edge_u_px=per_blur * max(sighting.blur_px, 1.0),
        edges_alike=edges_alike,
        rivals=rivals,
    )


def _focal_cases(fit: PoseFit, doubts: Doubts, names: Names) -> tuple[FocalCase, ...]:
    return tuple(
        FocalCase(
            log_share=each.log_share,
            cut=each.cut,
            camera=each.pose.camera,
            edge_offset_px=doubts.springs_edge_offset_px(each.pose),
            variants=camera_variants(
                each.pose, replace(doubts, rivals=each.rivals), names
            ),
        )
        for each in solve_by_focal(fit)
    )


def _spread(fit: PoseFit) -> float:
    """Give the robust spread of the points about the solved target."""
    return float(1.4826 * np.median(np.abs(fit.residual_px)))


def _scale(fit: PoseFit, variants: tuple[Variant, ...]) -> Quantity:
    """Give the scale in the axis plane at the target's middle."""
    x, _, z = fit.problem.priors.pivot_mm
    value = pixels_per_mm(fit.camera, (x, 0.0, z))
    influences = tuple(
        Influence(
            source=variant.source,
            label=variant.label,
            u=pixels_per_mm(variant.camera, (x, variant.axis_plane_shift_mm, z))
            - value,
        )
        for variant in variants
    )
    return Quantity(value=value, unit="px/mm", influences=influences)


def _target_name(reference: Reference) -> str:
    shape = reference.shape
    if isinstance(shape, SquareCard):
        return f"square card {shape.side_mm:g} mm"
    return f"try square {shape.blade_mm:g} x {shape.stock_mm:g} mm"


def _remarks(
    photo: Photo, sighting: Sighting, fit: PoseFit, inner: Intrinsics
) -> tuple[str, ...]:
    """Say what the photo lacks and what the target itself shows."""
    remarks = []
    if inner.seems_cut:
        remarks.append(
            f"{photo.name}: seems cut out of a larger picture, so where the lens's "
            "axis lies is less certain: measure pictures as they were taken"
        )
    if inner.focal_source == UNKNOWN and inner.distance_mm is None:
        remarks.append(
            f"{photo.name}: neither a lens file, the camera's record nor a distance "
            "gives the focal length: heights are less certain"
        )
    if is_blown(side.points for side in sighting.sides):
        remarks.append(f"{photo.name}: the backdrop is blown white beside the target")
    missing = set(fit.problem.model.names) - {side.name for side in sighting.sides}
    if missing:
        names = ", ".join(sorted(name.replace("_", " ") for name in missing))
        remarks.append(f"{photo.name}: the target's {names} cannot be seen")
    offset_px, residual_px = fit.edge_offset_px, _spread(fit)
    if abs(offset_px) > LARGE_OFFSET_PX:
        remarks.append(f"{photo.name}: edges appear {offset_px:+.2f} px outward")
    if fit.strain > LARGE_STRAIN:
        remarks.append(
            f"{photo.name}: the target's sides miss its stated sizes and right angles "
            f"by {np.sqrt(fit.strain):.1f} times their uncertainty"
        )
    if residual_px > LARGE_RESIDUAL_PX:
        remarks.append(
            f"{photo.name}: the target's edges scatter by {residual_px:.2f} px"
        )
    return tuple(remarks)
