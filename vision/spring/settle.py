"""A calibration and the row's feet in; the calibration settled on the whole row out.

A target of 50 mm fixes the plate's level and the row's direction at the end of a 300 mm
row only roughly. Every spring stands on the same plate: where its foot's near edge is
seen, the row itself tells, over its whole length. The calibration's variants are the
unknowns (each with mean 0 and u 1); the feet are observations of them (JCGM 100:2008,
F.1.2.4: correlated estimates from common data; here solved as linear least squares
with prior). Feet that cast no clear edge are left out.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from calib.camera import project
from calib.edge import EdgeSettings, fit_edges
from calib.photo import linear_grey
from calib.records import Calibration, Camera, Floats, Photo, Variant
from vision.records.measured import Outline
from vision.spring.axis import Stance, solve_axis
from vision.spring.budget import U_DEPTH_MM, base_stance
from vision.spring.flank import find_coils

ACROSS = 0.75  # share of the foot's radius within which its near edge is read
COLUMNS = 61
SEEK_MM, SEEK_PX = 1.2, (4.0, 16.0)
LEAST_SEEN = 0.6  # share of the columns that must show an edge
LEAST_CONTRAST = 0.06  # linear light; a foot on a dark plate shows no edge of its own
LEVEL_BAND_PX = 0.6  # columns this close to the lowest edge stand on the plate
LEAST_LEVEL = 0.2  # share of the columns that must do so
U_FOOT_PX = 0.5  # one foot's edge against the plate
U_COMMON_PX = 1.5  # contact shadow, the same at every foot
LEAST_FEET = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foot:
    """Where a spring stands: its axis, and how much lower than predicted it is seen."""

    stance: Stance
    x_mm: float
    radius_mm: float
    lower_px: float


def settle(
    photo: Photo, calibration: Calibration, outlines: tuple[Outline, ...]
) -> Calibration:
    """Settle the calibration on the feet of the row; unchanged where they are not seen."""
    feet = [
        foot
        for outline in outlines
        if (foot := read_foot(photo, calibration, outline)) is not None
    ]
    if len(feet) < LEAST_FEET:
        return calibration
    kept = _without_strays(calibration, feet)
    if len(kept) < LEAST_FEET:
        return calibration
    mean, covariance = _posterior(calibration, kept)
    return _moved(calibration, mean, covariance)


def read_foot(photo: Photo, calibration: Calibration, outline: Outline) -> Foot | None:
    """Read the near edge of a foot; None where it gives no clear level."""
    stance = base_stance(calibration, 0.0, 0.0)
    try:
        axis = solve_axis(
            stance,
            find_coils(outline.left, outline.axis_px, -1),
            find_coils(outline.right, outline.axis_px, 1),
        )
    except ValueError:
        return None
    foot = Foot(
        stance=stance,
        x_mm=axis.foot_x_mm,
        radius_mm=axis.radius_at(0.0),
        lower_px=0.0,
    )
    expected = near_edge(foot, stance.camera, 0.0)
    above = near_edge(foot, stance.camera, 0.0, lift_mm=1.0)
    scale = float(np.linalg.norm(above - expected, axis=1).mean())
    down = (expected - above) / np.linalg.norm(above - expected, axis=1, keepdims=True)
    seek = float(np.clip(SEEK_MM * scale, *SEEK_PX))
    corner = np.floor(expected.min(axis=0) - seek - 8).astype(int)
    corner = np.maximum(corner, 0)
    end = np.ceil(expected.max(axis=0) + seek + 8).astype(int)
    end = np.minimum(end, photo.size_px)
    if (end - corner < 8).any():  # noqa: PLR2004 - the foot lies outside the photo
        return None
    grey = linear_grey(photo, (*map(int, corner), *map(int, end)))
    settings = EdgeSettings(
        polarity=1, least_contrast=LEAST_CONTRAST, most_residual=0.3
    )
    edges, seen = fit_edges(grey, expected - corner, down, seek, settings)
    if seen.mean() < LEAST_SEEN:
        return None
    lower = ((edges.points_px + corner - expected[seen]) * down[seen]).sum(axis=1)
    level = float(np.quantile(lower, 0.9))
    near = lower[np.abs(lower - level) < LEVEL_BAND_PX]
    if len(near) < LEAST_LEVEL * COLUMNS:
        return None
    return replace(foot, lower_px=float(np.median(near)))


def near_edge(
    foot: Foot, camera: Camera, shift_mm: float, lift_mm: float = 0.0
) -> Floats:
    """Picture (n, 2) of the foot's near edge, the axis moved by ``shift_mm`` in depth."""
    across = np.linspace(-ACROSS, ACROSS, COLUMNS)
    points = np.column_stack(
        [
            foot.x_mm + foot.radius_mm * across,
            foot.stance.depth_mm + shift_mm - foot.radius_mm * np.sqrt(1 - across**2),
            np.full_like(across, lift_mm),
        ]
    )
    return project(camera, points)


def _effects(calibration: Calibration, feet: list[Foot]) -> tuple[Floats, Floats]:
    """How much lower (n, variants) each variant puts each foot; and a mm of depth (n,)."""
    rows, depth = [], []
    for foot in feet:
        base = near_edge(foot, calibration.camera, 0.0)
        above = near_edge(foot, calibration.camera, 0.0, lift_mm=1.0)
        down = (base - above) / np.linalg.norm(above - base, axis=1, keepdims=True)

        def lower(camera: Camera, shift: float) -> float:
            moved = near_edge(foot, camera, shift) - base  # noqa: B023
            return float((moved * down).sum(axis=1).mean())  # noqa: B023

        rows.append(
            [
                lower(each.camera, each.axis_plane_shift_mm)
                for each in calibration.variants
            ]
        )
        depth.append(lower(calibration.camera, 1.0))
    return np.array(rows), np.array(depth)


def _posterior(calibration: Calibration, feet: list[Foot]) -> tuple[Floats, Floats]:
    """Mean and covariance of the variants' coefficients, given the feet."""
    effects, depth = _effects(calibration, feet)
    seen = np.array([foot.lower_px for foot in feet])
    noise = np.diag(U_FOOT_PX**2 + (U_DEPTH_MM * depth) ** 2) + U_COMMON_PX**2
    gain = effects.T @ np.linalg.inv(effects @ effects.T + noise)
    covariance = np.eye(effects.shape[1]) - gain @ effects
    return gain @ seen, (covariance + covariance.T) / 2


def _without_strays(calibration: Calibration, feet: list[Foot]) -> list[Foot]:
    """Leave out feet that the others contradict (one at a time, worst first)."""
    kept = list(feet)
    while len(kept) > LEAST_FEET:
        mean, _ = _posterior(calibration, kept)
        effects, depth = _effects(calibration, kept)
        rest = np.array([foot.lower_px for foot in kept]) - effects @ mean
        rest = np.abs(rest - np.median(rest))
        limit = 3.0 * np.hypot(U_FOOT_PX, U_DEPTH_MM * depth)
        worst = int(np.argmax(rest / limit))
        if rest[worst] <= limit[worst]:
            break
        kept.pop(worst)
    return kept


def _moved(calibration: Calibration, mean: Floats, covariance: Floats) -> Calibration:
    """Move the camera to the mean; turn its variants into those of the covariance.

    The symmetric root keeps each new variant as close as can be to the influence that
    it is named by.
    """
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    base, variants = calibration.camera, calibration.variants
    left, low, right, high = calibration.target_box_mm
    pivot = np.array([(left + right) / 2, 0.0, (low + high) / 2])
    steps = np.array([_step(base, each.camera, pivot) for each in variants])
    shifts = np.array([each.axis_plane_shift_mm for each in variants])
    edges = np.array([each.edge_shift_px for each in variants])
    settled = [
        Variant(
            source=each.source,
            label=each.label,
            camera=_stepped(base, (mean + column) @ steps, pivot),
            axis_plane_shift_mm=float(column @ shifts),
            edge_shift_px=float(column @ edges),
        )
        for each, column in zip(variants, root.T, strict=True)
    ]
    return replace(
        calibration,
        camera=_stepped(base, mean @ steps, pivot),
        edge_offset_px=calibration.edge_offset_px - float(mean @ edges),
        axis_plane_mm=calibration.axis_plane_mm + float(mean @ shifts),
        variants=tuple(settled),
    )


def _step(base: Camera, other: Camera, pivot: Floats) -> Floats:
    """What turns one camera into another, in terms that barely act on each other.

    The turn, the logs of focal length and of the pivot's depth, the pivot's place in
    the picture, centre and distortion: a change of pitch then leaves the row where it
    is seen, whatever the focal length.
    """
    turn = Rotation.from_matrix(other.rotation @ base.rotation.T).as_rotvec()
    return np.concatenate([turn, _terms(other, pivot) - _terms(base, pivot)])


def _terms(camera: Camera, pivot: Floats) -> Floats:
    x, y, depth = camera.rotation @ (pivot - camera.position_mm)
    seen = camera.focal_px * np.array([x, y]) / depth + np.asarray(camera.centre_px)
    return np.concatenate(
        [
            [np.log(depth), np.log(camera.focal_px)],
            seen,
            np.asarray(camera.centre_px),
            [camera.k1, camera.k2],
        ]
    )


def _stepped(base: Camera, step: Floats, pivot: Floats) -> Camera:
    log_depth, log_focal, *rest = _terms(base, pivot) + step[3:]
    seen, centre, (k1, k2) = np.array(rest[:2]), np.array(rest[2:4]), rest[4:]
    rotation = Rotation.from_rotvec(step[:3]).as_matrix() @ base.rotation
    focal, depth = float(np.exp(log_focal)), float(np.exp(log_depth))
    ray = np.append((seen - centre) / focal, 1.0)
    return replace(
        base,
        rotation=rotation,
        position_mm=pivot - rotation.T @ (depth * ray),
        focal_px=focal,
        centre_px=centre,
        k1=float(k1),
        k2=float(k2),
    )
