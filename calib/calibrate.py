"""A reference photo in, a Calibration out: camera, scale, plate and how sure."""

from dataclasses import replace

import numpy as np

from calib.camera import (
    UNKNOWN,
    Intrinsics,
    expected_intrinsics,
    pixels_per_mm,
)
from calib.pose.model import Observed, TargetModel
from calib.pose.solve import PoseFit, Problem, solve_pose
from calib.pose.unknowns import (
    CORRELATED_POINTS,
    EDGE_OFFSET_U,
    LEAST_EDGE_OFFSET_U_PX,
    POINT_U_PX,
    UNLIKELY_COST,
    make_priors,
    seen_depths,
    similar_pose,
    standing_ways,
)
from calib.quantity import COVERAGE_FACTOR, Influence, Quantity
from calib.records import (
    Calibration,
    Floats,
    Lens,
    Photo,
    Reference,
    Sighting,
    SquareCard,
    Variant,
)
from calib.steady import check_same_camera, still_picture
from calib.target import find_target, target_model
from calib.variants import Doubts, Names, camera_variants

BLOWN_LEVEL = 0.97  # of linear light beside the target
BLOWN_OFFSET_U_PX = 0.6  # a blown backdrop eats 0.5 to 1 px of a dark edge
LARGE_OFFSET_PX = 0.5
LARGE_RESIDUAL_PX = 0.35
__all__ = ["calibrate", "check_same_camera", "solve_sighting"]

EDGE_MODEL_U = 0.1  # per px of blur: round bright wire against the target's flat edges
CARD_MARGIN_MM = 12.0  # of the card beside its square, where it is not known


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
    sighting = find_target(photo, reference, inner)
    model = target_model(reference, sighting.direction)
    fit = solve_sighting(sighting, model, inner)
    names = Names(photo=photo.sha256[:12], target=_target_name(reference))
    offset_u_mm = reference.face_offset_uncertainty_mm / COVERAGE_FACTOR
    edge_u_px = EDGE_MODEL_U * max(sighting.blur_px, 1.0)
    variants = camera_variants(
        fit, Doubts(face_offset_u_mm=offset_u_mm, edge_u_px=edge_u_px), names
    )
    return Calibration(
        photo_name=photo.name,
        photo_sha256=photo.sha256,
        exif=photo.exif,
        reference=reference,
        camera=fit.camera,
        px_per_mm=_scale(fit, variants),
        edge_offset_px=fit.edge_offset_px,
        blur_px=sighting.blur_px,
        target_box_mm=_box(reference, model),
        target_outline_px=sighting.corners_px,
        variants=variants,
        residual_px=_spread(fit),
        remarks=_remarks(photo, sighting, fit, inner),
        thumbnail=still_picture(photo),
    )


def solve_sighting(
    sighting: Sighting, model: TargetModel, inner: Intrinsics
) -> PoseFit:
    """Solve the camera from a sighting's points."""
    priors = make_priors(model, inner, _offset_u_px(sighting))
    corners_mm = _corners_mm(model)
    known = np.column_stack([corners_mm, np.ones(len(corners_mm))])
    linear: Floats = np.linalg.pinv(known) @ sighting.corners_px
    pivot_px = np.array([*priors.pivot_mm[[0, 2]], 1.0]) @ linear
    across = linear[0]
    scale = float(np.sqrt(abs(np.linalg.det(linear[:2]))))
    start = similar_pose(
        priors, pivot_px, scale, float(np.arctan2(across[1], across[0]))
    )
    observed = _observed(sighting, model, linear)
    rough = solve_pose(Problem(observed=observed, model=model, priors=priors), start)
    ways = standing_ways(seen_depths(priors, rough.theta, model), model)
    fits = [solve_pose(replace(rough.problem, priors=way), rough.theta) for way in ways]
    costs = [fit.cost + UNLIKELY_COST * number for number, fit in enumerate(fits)]
    return fits[int(np.argmin(costs))]


def _offset_u_px(sighting: Sighting) -> float:
    u_px = max(EDGE_OFFSET_U * sighting.blur_px, LEAST_EDGE_OFFSET_U_PX)
    return max(u_px, BLOWN_OFFSET_U_PX) if _is_blown(sighting) else u_px


def _corners_mm(model: TargetModel) -> Floats:
    first = np.array([side.start @ model.sizes_mm for side in model.sides])
    last = np.array([side.end @ model.sizes_mm for side in model.sides])
    return model.corners(first, last)


def _observed(sighting: Sighting, model: TargetModel, linear: Floats) -> Observed:
    """Lay the sighting's points out; ``linear`` (3, 2) takes (x, z, 1) to the photo."""
    sides, along = [], []
    for side in sighting.sides:
        k = model.names.index(side.name)
        ends = [end @ model.sizes_mm for end in model.sides[k].ends]
        first, last = (np.append(end, 1.0) @ linear for end in ends)
        whole = last - first
        share = (side.points.points_px - first) @ whole / (whole @ whole)
        along.append(2.0 * share - 1.0)
        sides.append(np.full(len(share), k))
    noise = np.concatenate([side.points.u_px for side in sighting.sides])
    return Observed(
        points_px=np.vstack([side.points.points_px for side in sighting.sides]),
        side=np.concatenate(sides),
        along=np.concatenate(along),
        u_px=np.hypot(noise, POINT_U_PX) * np.sqrt(CORRELATED_POINTS),
    )


def _is_blown(sighting: Sighting) -> bool:
    outside = np.concatenate([side.points.outside for side in sighting.sides])
    inside = np.concatenate([side.points.inside for side in sighting.sides])
    return float(np.median(np.maximum(outside, inside))) > BLOWN_LEVEL


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


def _box(reference: Reference, model: TargetModel) -> tuple[float, float, float, float]:
    """Give what the target covers of its face plane; of a card, its paper too."""
    corners = _corners_mm(model)
    x0, x1 = float(corners[:, 0].min()), float(corners[:, 0].max())
    top = float(corners[:, 1].max())
    if isinstance(reference.shape, SquareCard):
        margin = max(reference.shape.bottom_margin_mm, CARD_MARGIN_MM)
        return x0 - margin, 0.0, x1 + margin, top + margin
    return x0, 0.0, x1, top


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
    if inner.focal_source == UNKNOWN and inner.distance_mm is None:
        remarks.append(
            f"{photo.name}: neither a lens file, the camera's record nor a distance "
            "gives the focal length: heights are far less certain"
        )
    if _is_blown(sighting):
        remarks.append(f"{photo.name}: the backdrop is blown white beside the target")
    missing = set(fit.problem.model.names) - {side.name for side in sighting.sides}
    if missing:
        names = ", ".join(sorted(name.replace("_", " ") for name in missing))
        remarks.append(f"{photo.name}: the target's {names} cannot be seen")
    offset_px, residual_px = fit.edge_offset_px, _spread(fit)
    if abs(offset_px) > LARGE_OFFSET_PX:
        remarks.append(f"{photo.name}: edges appear {offset_px:+.2f} px outward")
    if residual_px > LARGE_RESIDUAL_PX:
        remarks.append(
            f"{photo.name}: the target's edges scatter by {residual_px:.2f} px"
        )
    return tuple(remarks)
